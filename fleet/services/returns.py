"""Takes back a whole sheet of work: all rows of it or none, and the same sheet only once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from fleet.db.repository import Register
from fleet.errors import BadInput, CellError, NotFound, StaleWrite
from fleet.files.register_files import bad_input
from fleet.files.returns import Returned, ReturnedRow, read_returns
from fleet.planning.keys import normal_key
from fleet.services.context import context_of
from fleet.services.outlook import Outlook, look_ahead, plan_again
from fleet.services.record import WorkDone, find_task, following, readings_of
from fleet.values.plan import Task
from fleet.values.register import Reading, RegisterRows, ServiceRecord

Job = tuple[str, str, date]
"""Subject, catalogue id and day of a piece of work: what a row of history is told by."""


@dataclass(frozen=True, slots=True)
class SheetTaken:
    """What a sheet brought: the tasks closed and the next of each, rows known before, rows of work not done."""

    closed: tuple[Task, ...]
    following: tuple[Task | None, ...]
    readings: int
    known_before: int
    not_done: int


def record_returns(url: str, path: Path, *, by: str, today: date, now: datetime) -> SheetTaken:
    """Writes a service record and the readings of every row of work done, all of them or none.

    A row that is on record with the same words is left alone. Raises BadInput with every cell at fault: an unknown key,
    a day to come, a reading that cannot be taken, work on record with other words.
    """
    sheet = read_returns(path)
    with Register.open(url, read_only=True) as register:
        outlook, rows = look_ahead(register, today), register.rows()
        versions = register.versions("history")
        checked = _Checked(register, outlook, rows, sheet, by, today)
    if checked.errors:
        raise bad_input(checked.errors, [sheet.label])
    with Register.open(url) as register:
        # Somebody else may have recorded some of it since the sheet was checked.
        if register.versions("history") != versions:
            raise StaleWrite("somebody recorded work in between: take the sheet in again")
        keys = {job: task.key for job, task in checked.tasks.items()}
        register.add_service_records(
            list(checked.records.values()), checked.readings, task_keys=keys, who=by, now=now,
            reason=f"return sheet {path.name}",
        )  # fmt: skip
    with Register.open(url, read_only=True) as register:
        plan = plan_again(register, outlook)
    tasks = tuple(checked.tasks.values())
    return SheetTaken(
        tasks, following(plan, tasks), len(checked.readings), checked.known_before, sheet.not_done
    )  # fmt: skip


class _Checked:
    """The rows of a sheet against the plan and what is on record."""

    def __init__(
        self, register: Register, outlook: Outlook, rows: RegisterRows, sheet: Returned, by: str, today: date
    ) -> None:
        self.label, self.by, self.today = sheet.label, by, today
        self.errors: list[CellError] = list(sheet.errors)
        self.tasks: dict[Job, Task] = {}
        self.records: dict[Job, ServiceRecord] = {}
        self.readings: list[Reading] = []
        self.known_before = 0
        self._register, self._outlook, self._rows = register, outlook, rows
        self._context = context_of(rows)
        self._on_record = {(row.subject, row.task, row.done_on): row for row in rows.history}
        self._first_row: dict[Job, int] = {}
        for row in sheet.rows:
            self._check(row)

    def _refuse(self, row: ReturnedRow, column: str, value: str, expected: str) -> None:
        self.errors.append(CellError(self.label, row.row, column, value, expected))

    def _check(self, row: ReturnedRow) -> None:
        if row.done_on > self.today:
            self._refuse(row, "done_on", row.done_on.isoformat(), f"a day up to today, {self.today}")
            return
        closing = self._register.record_of_task(normal_key(row.key))
        if closing is not None:
            self._compare(row, self._record(row, closing.subject, closing.task), closing)
            return
        try:
            task = find_task(self._register, self._outlook.plan, row.key, on_paper=True)
        except NotFound as unknown:
            self._refuse(row, "key", row.key, f"the key of a task: {unknown}")
            return
        record = self._record(row, task.subject, task.rule)
        job = (task.subject, task.rule, row.done_on)
        if job in self._on_record:
            self._compare(row, record, self._on_record[job])
        elif job in self.records:
            self._again(row, record, self.records[job], self._first_row[job])
        else:
            self._first_row[job] = row.row
            self.tasks[job], self.records[job] = task, record
            self._take_readings(row, task)

    def _record(self, row: ReturnedRow, subject: str, rule: str) -> ServiceRecord:
        return ServiceRecord(subject, rule, row.done_on, row.by or self.by, row.finding, row.minutes, row.note)

    def _compare(self, row: ReturnedRow, record: ServiceRecord, standing: ServiceRecord) -> None:
        # Whoever takes a sheet in again need not be the one who took it in first.
        if (record if row.by else replace(record, by=standing.by)) == standing:
            self.known_before += 1
            return
        found = f" ({standing.finding})" if standing.finding else ""
        self._refuse(
            row, "key", row.key,
            f"work not on record yet; it is, as done on {standing.done_on} by {standing.by or 'somebody'}{found}; "
            "`fleet correct` changes what it says",
        )  # fmt: skip

    def _again(self, row: ReturnedRow, record: ServiceRecord, other: ServiceRecord, first: int) -> None:
        if record != other:
            self._refuse(row, "key", row.key, f"one row for the same work on one day; row {first} tells of it too")

    def _take_readings(self, row: ReturnedRow, task: Task) -> None:
        for text in row.readings:
            work = WorkDone((row.key,), None, row.done_on, row.by or self.by, readings=(text,))
            try:
                self.readings += readings_of(self._rows, self._context, [task], work, self.readings)
            except BadInput as refused:
                self._refuse(row, "reading", text, _expected(refused))


def _expected(refused: BadInput) -> str:
    """What was expected of a reading, without the place at which a reading of its own would stand."""
    if refused.errors:
        return f"{refused.errors[0].column}: {refused.errors[0].expected}"
    return str(refused).partition("expected ")[2] or str(refused)
