"""The sheet on which the work of a visit comes back: a CSV file to fill in and take in again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from fleet.outputs.lookup import Lookup
from fleet.outputs.names import file_names
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task, Visit
from fleet.values.returns import RETURN_COLUMNS

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def return_sheet(visit: Visit, plan: Plan, fleet: Fleet, catalogue: Catalogue) -> bytes:
    """One row for each task of the visit in working order, named for people; what was done is left to be filled in.

    `by` holds the technician. UTF-8 with CR LF at line ends (RFC 4180). A cell that a spreadsheet would run as a
    formula begins with an apostrophe.
    """
    lookup = Lookup(fleet, catalogue)
    tasks = [plan.task_by_key[key] for key in visit.tasks]
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(RETURN_COLUMNS)
    writer.writerows([_plain(cell) for cell in _cells(task, visit, lookup)] for task in tasks)
    return text.getvalue().encode("utf-8")


def _cells(task: Task, visit: Visit, lookup: Lookup) -> Sequence[str]:
    cells = {
        "key": task.key,
        "visit": visit.key,
        "day": visit.day.isoformat(),
        "site": lookup.label(visit.site),
        "tank": lookup.label(task.tank) if task.tank else "",
        "subject": lookup.label(task.subject),
        "task": task.title,
        "by": visit.technician or "",
    }
    return [cells.get(name, "") for name in RETURN_COLUMNS]


def _plain(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell


def return_names(visits: Iterable[Visit]) -> dict[str, str]:
    """The file name of each visit's return sheet, by the key of the visit."""
    return file_names("returns", (visit.key for visit in visits), "csv")
