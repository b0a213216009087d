"""Reads a sheet on which work comes back, and tells every cell of it that cannot be taken."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fleet.errors import BadInput, CellError
from fleet.files.amounts import Whole
from fleet.files.cells import Choice, Form, Text, nearest
from fleet.files.csv_files import read_csv
from fleet.files.moments import Day
from fleet.files.register_files import bad_input
from fleet.files.rows import cell_error
from fleet.files.sheets import Sheet
from fleet.values.bounds import BOUNDS
from fleet.values.returns import DESCRIPTIVE, REPORTED, RETURN_COLUMNS
from fleet.values.vocabulary import Finding

_FORMS: Mapping[str, Form] = {
    "key": Text(40),
    "done_on": Day(),
    "by": Text(200),
    "finding": Choice(Finding),
    "minutes": Whole(),
    "reading": Text(2000),
    "note": Text(10_000, lines=True),
}
_NEEDED = ("key", "done_on")
_OF_WORK = ("finding", "minutes", "reading")
"""Cells that are filled in only where something was done."""


@dataclass(frozen=True, slots=True)
class ReturnedRow:
    """One task that came back. `row` is its number in the file; `readings` are texts, [SUBJECT:]QUANTITY=VALUE."""

    row: int
    key: str
    done_on: date
    by: str | None
    finding: Finding | None
    minutes: int | None
    readings: tuple[str, ...]
    note: str | None


@dataclass(frozen=True, slots=True)
class Returned:
    """The rows of work done, how many rows say that nothing was done, and the faults of the others."""

    label: str
    rows: tuple[ReturnedRow, ...]
    not_done: int
    errors: tuple[CellError, ...]


def read_returns(path: Path) -> Returned:
    """The rows of a CSV file with the columns of `fleet.values.returns`, in any order.

    A row with no day and nothing found, measured or timed is work not done, and passed over. Faults of cells come back
    beside the rows, so that whoever checks the rows can tell all faults at once. Raises BadInput for a file that cannot
    be read and for a header that cannot be taken.
    """
    if path.suffix.lower() != ".csv":
        raise BadInput(f"{path}: expected a CSV file with the columns {', '.join(REPORTED)}")
    sheet = read_csv(path, "returns", RETURN_COLUMNS)
    faults = list(_header_errors(sheet))
    if faults:
        raise bad_input(faults, [sheet.label])
    rows: list[ReturnedRow] = []
    errors: list[CellError] = []
    not_done = 0
    for number, cells in sheet.rows:
        if any(cell.strip() for cell in cells[len(sheet.header) :]):
            expected = f"{len(sheet.header)} cells, as in the header, not {len(cells)}"
            errors.append(cell_error(sheet.label, number, "", cells[0], expected))
            continue
        named = {name: cell.strip() for name, cell in zip(sheet.header, cells, strict=False)}
        if not named.get("done_on") and not any(named.get(name) for name in _OF_WORK):
            not_done += 1
            continue
        values, wrong = _read(sheet.label, number, named)
        errors += wrong
        if not wrong:
            rows.append(ReturnedRow(number, **values))
    return Returned(sheet.label, tuple(rows), not_done, tuple(errors))


def _header_errors(sheet: Sheet) -> Iterator[CellError]:
    for name in sheet.header:
        if name not in RETURN_COLUMNS:
            expected = f"one of {', '.join((*REPORTED, *DESCRIPTIVE))}{nearest(name, RETURN_COLUMNS)}"
            yield CellError(sheet.label, sheet.header_row, "", name, expected)
        elif sheet.header.count(name) > 1:
            yield CellError(sheet.label, sheet.header_row, name, name, "each column only once")
    for name in _NEEDED:
        if name not in sheet.header:
            yield CellError(sheet.label, sheet.header_row, name, "", "this column, which every row needs")


def _read(label: str, number: int, named: Mapping[str, str]) -> tuple[dict[str, Any], list[CellError]]:
    values: dict[str, Any] = {}
    errors: list[CellError] = []
    for name, form in _FORMS.items():
        text = named.get(name, "")
        if not text:
            values[name] = None
            if name in _NEEDED:
                expected = "the day it was done, as YYYY-MM-DD" if name == "done_on" else "the key of the task"
                errors.append(cell_error(label, number, name, "", expected))
            continue
        try:
            values[name] = form.read(text)
        except ValueError as error:
            errors.append(cell_error(label, number, name, text, str(error)))
    bound = BOUNDS["history"]["minutes"]
    if values.get("minutes") is not None and not bound.holds(values["minutes"]):
        expected = f"between {bound.low:g} and {bound.high:g}"
        errors.append(cell_error(label, number, "minutes", named["minutes"], expected))
    readings = values.pop("reading", None) or ""
    values["readings"] = tuple(part.strip() for part in readings.split(";") if part.strip())
    return values, errors
