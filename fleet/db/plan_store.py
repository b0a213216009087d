"""Keeps the plan in force and the published edition: writes only what differs from what is stored, and counts every
row's revisions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Select, Table, bindparam, delete, func, insert, select, update

from fleet.db.plan_rows import (
    TASK_SCHEDULE,
    VISIT_SCHEDULE,
    fingerprint,
    schedule,
    task_of,
    task_rows,
    unplaced_of,
    visit_of,
    visit_rows,
)
from fleet.db.rows_out import CODES_AT_ONCE, chunks
from fleet.db.tables import METADATA
from fleet.values.plan import Plan, Revision, Task, Visit

_ROWS_AT_ONCE = 20_000


@dataclass(frozen=True)
class Shelf:
    """Where one plan is kept: its header, its tasks and its visits."""

    header: Table
    task: Table
    visit: Table


IN_FORCE = Shelf(*(METADATA.tables[name] for name in ("plan", "task", "visit")))
PUBLISHED = Shelf(*(METADATA.tables[f"published_{name}"] for name in ("plan", "task", "visit")))


@dataclass(frozen=True, slots=True)
class PlanCount:
    """How many tasks and visits were added, changed, dropped, brought back after being dropped, and the same."""

    added: int = 0
    changed: int = 0
    dropped: int = 0
    returned: int = 0
    same: int = 0

    def __add__(self, other: PlanCount) -> PlanCount:
        return PlanCount(
            self.added + other.added,
            self.changed + other.changed,
            self.dropped + other.dropped,
            self.returned + other.returned,
            self.same + other.same,
        )


@dataclass(frozen=True, slots=True)
class DroppedVisit:
    """A visit that left, as it last was with the tasks that left while it held them, its revision, and when it left."""

    visit: Visit
    tasks: tuple[Task, ...]
    revision: Revision
    dropped_at: datetime


@dataclass
class _Differences:
    """What is to be written to one table."""

    added: list[dict[str, Any]] = field(default_factory=list)
    changed: list[dict[str, Any]] = field(default_factory=list)
    returned: list[dict[str, Any]] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)
    same: int = 0


def save_plan(connection: Connection, plan: Plan, now: datetime, shelf: Shelf = IN_FORCE) -> PlanCount:
    """Makes `plan` the one that the shelf holds. Rows with the same content are not touched."""
    tasks = task_rows(plan)
    visits = visit_rows(plan)
    task_differences = _compare(connection, shelf.task, tasks, TASK_SCHEDULE, now)
    visit_differences = _compare(connection, shelf.visit, visits, VISIT_SCHEDULE, now)
    if shelf is PUBLISHED:
        first = read_saved_at(connection, PUBLISHED) is None
        _go_on_counting(connection, IN_FORCE.task, task_differences.added, unchanged=first)
        _go_on_counting(connection, IN_FORCE.visit, visit_differences.added, unchanged=first)
    # Visits first, because tasks point to them.
    count = _write(connection, shelf.visit, visit_differences, now) + _write(
        connection, shelf.task, task_differences, now
    )
    header = {
        "id": 1,
        "today": plan.today,
        "through": plan.through,
        "saved_at": now,
        "not_on_record": {site: list(rules) for site, rules in plan.not_on_record.items()},
    }
    if shelf is IN_FORCE:
        header["fingerprints"] = plan.fingerprints
    connection.execute(delete(shelf.header))
    connection.execute(insert(shelf.header), header)
    return count


def _go_on_counting(connection: Connection, table: Table, added: list[dict[str, Any]], *, unchanged: bool) -> None:
    """Gives rows that are published for the first time the count of the plan in force, which calendars may have seen
    before there was any edition; with `unchanged` also its stamp, because to them nothing is new."""
    columns = [table.c[name] for name in ("key", "sequence", "created_at", "modified_at")]
    for some in chunks(added, CODES_AT_ONCE):
        query = select(*columns).where(table.c.key.in_([cells["key"] for cells in some]))
        seen = {row["key"]: row for row in _cells(connection, query)}
        for cells in some:
            row = seen.get(cells["key"])
            if row is not None:
                cells["sequence"], cells["created_at"] = row["sequence"], row["created_at"]
                cells["modified_at"] = (
                    row["modified_at"] if unchanged else max(cells["modified_at"], row["modified_at"])
                )


def _compare(
    connection: Connection,
    table: Table,
    wanted: Mapping[str, dict[str, Any]],
    schedule_names: tuple[str, ...],
    now: datetime,
) -> _Differences:
    stored_open = select(table.c.key, table.c.fingerprint).where(table.c.dropped_at.is_(None))
    open_rows = {row[0]: row[1] for row in connection.execute(stored_open)}
    found = _Differences(dropped=sorted(open_rows.keys() - wanted.keys()))
    unlike: dict[str, dict[str, Any]] = {}
    for key, cells in wanted.items():
        digest = fingerprint(cells)
        if open_rows.get(key) == digest:
            found.same += 1
        else:
            unlike[key] = cells | {"fingerprint": digest}
    stored = _bookkeeping(connection, table, unlike, schedule_names)
    for key, cells in unlike.items():
        old = stored.get(key)
        if old is None:
            found.added.append(cells | {"sequence": 0, "created_at": now, "modified_at": now, "dropped_at": None})
            continue
        returns = old["dropped_at"] is not None
        moved = returns or schedule(old, schedule_names) != schedule(cells, schedule_names)
        cells |= {
            "row_key": key,
            "sequence": old["sequence"] + (1 if moved else 0),
            # A clock that was set back must not make a later revision look older.
            "modified_at": max(now, old["modified_at"]),
            "dropped_at": None,
        }
        (found.returned if returns else found.changed).append(cells)
    return found


def _bookkeeping(
    connection: Connection, table: Table, keys: Iterable[str], schedule_names: tuple[str, ...]
) -> dict[str, Mapping[str, Any]]:
    columns = [table.c[name] for name in ("key", "sequence", "modified_at", "dropped_at", *schedule_names)]
    stored: dict[str, Mapping[str, Any]] = {}
    for some in chunks(keys, CODES_AT_ONCE):
        stored.update((row["key"], row) for row in _cells(connection, select(*columns).where(table.c.key.in_(some))))
    return stored


def _cells(connection: Connection, query: Select[Any]) -> list[dict[str, Any]]:
    names = [str(column.key) for column in query.selected_columns]
    # Several times quicker than the result's own mappings, which counts when a plan holds some 100,000 tasks.
    return [dict(zip(names, row, strict=True)) for row in connection.execute(query)]


def _write(connection: Connection, table: Table, differences: _Differences, now: datetime) -> PlanCount:
    for some in chunks(differences.added, _ROWS_AT_ONCE):
        connection.execute(insert(table), some)
    for some in chunks(differences.changed + differences.returned, _ROWS_AT_ONCE):
        connection.execute(update(table).where(table.c.key == bindparam("row_key")), some)
    later = func.max if connection.dialect.name == "sqlite" else func.greatest
    for keys in chunks(differences.dropped, CODES_AT_ONCE):
        connection.execute(
            update(table)
            .where(table.c.key.in_(keys))
            .values(
                dropped_at=now,
                sequence=table.c.sequence + 1,
                modified_at=later(table.c.modified_at, bindparam("moment", now, table.c.modified_at.type)),
            )
        )
    return PlanCount(
        len(differences.added),
        len(differences.changed),
        len(differences.dropped),
        len(differences.returned),
        differences.same,
    )


def read_saved_at(connection: Connection, shelf: Shelf) -> datetime | None:
    """When the shelf's plan was put there. None where there never was one."""
    saved_at: datetime | None = connection.execute(select(shelf.header.c.saved_at)).scalar()
    return saved_at


def read_plan(connection: Connection, shelf: Shelf = IN_FORCE) -> Plan | None:
    """The shelf's plan, without the changes that led to it. None where none was ever saved."""
    header = connection.execute(select(shelf.header)).mappings().first()
    if header is None:
        return None
    task_cells = _cells(connection, select(shelf.task).where(shelf.task.c.dropped_at.is_(None)))
    visit_cells = _cells(connection, select(shelf.visit).where(shelf.visit.c.dropped_at.is_(None)))
    unplaced = [found for cells in task_cells if (found := unplaced_of(cells)) is not None]
    return Plan(
        today=header["today"],
        through=header["through"],
        tasks=tuple(sorted(map(task_of, task_cells), key=lambda task: (task.due, task.site or "", task.key))),
        visits=_visits(visit_cells, task_cells),
        unplaced=tuple(sorted(unplaced, key=lambda entry: entry.key)),
        not_on_record={site: tuple(rules) for site, rules in header["not_on_record"].items()},
        fingerprints=header.get("fingerprints") or {},
    )


def _visits(visit_cells: Iterable[Mapping[str, Any]], task_cells: Iterable[Mapping[str, Any]]) -> tuple[Visit, ...]:
    """Visits by day, site and key, as plans have them, each with its tasks in working order."""
    placed: dict[str, list[tuple[int, str]]] = defaultdict(list)
    persons: dict[str, int] = defaultdict(lambda: 1)
    for cells in task_cells:
        if cells["visit"] is not None:
            placed[cells["visit"]].append((cells["visit_position"], cells["key"]))
            persons[cells["visit"]] = max(persons[cells["visit"]], cells["persons"])
    visits = [
        visit_of(cells, (key for _, key in sorted(placed[cells["key"]])), persons[cells["key"]])
        for cells in visit_cells
    ]
    return tuple(sorted(visits, key=lambda visit: (visit.day, visit.site, visit.key)))


def read_revisions(connection: Connection, *, dropped: bool, shelf: Shelf = IN_FORCE) -> dict[str, Revision]:
    """The revision of every task and visit of the shelf's plan, by key; with `dropped` of those that left it too."""
    revisions: dict[str, Revision] = {}
    for table in (shelf.task, shelf.visit):
        query = select(table.c.key, table.c.sequence, table.c.created_at, table.c.modified_at)
        if not dropped:
            query = query.where(table.c.dropped_at.is_(None))
        revisions.update((row[0], Revision(*row)) for row in connection.execute(query))
    return revisions


def read_task_on_record(connection: Connection, key: str) -> Task | None:
    """The task with this key as it last was, in the plan or in an edition, whether it is still there or has left."""
    for shelf in (IN_FORCE, PUBLISHED):
        found = _cells(connection, select(shelf.task).where(shelf.task.c.key == key))
        if found:
            return task_of(found[0])
    return None


def read_visits_from(connection: Connection, day: date, shelf: Shelf) -> frozenset[str]:
    """Keys of the shelf's visits on `day` or later."""
    table = shelf.visit
    return frozenset(
        connection.execute(select(table.c.key).where(table.c.dropped_at.is_(None), table.c.day >= day)).scalars()
    )


def read_dropped(connection: Connection, since: datetime) -> tuple[tuple[Task, ...], tuple[Visit, ...]]:
    """Tasks and visits that left the plan at or after `since`, as they last were."""
    task_cells = _cells(connection, select(IN_FORCE.task).where(IN_FORCE.task.c.dropped_at >= since))
    visit_cells = _cells(connection, select(IN_FORCE.visit).where(IN_FORCE.visit.c.dropped_at >= since))
    tasks = sorted(map(task_of, task_cells), key=lambda task: (task.due, task.site or "", task.key))
    return tuple(tasks), _visits(visit_cells, task_cells)


def read_dropped_visits(connection: Connection, first: date, last: date, shelf: Shelf) -> tuple[DroppedVisit, ...]:
    """Visits of the days from `first` to `last`, both inside, that have left the shelf's plan."""
    table = shelf.visit
    cells = _cells(connection, select(table).where(table.c.dropped_at.is_not(None), table.c.day.between(first, last)))
    by_key = {row["key"]: row for row in cells}
    task_cells = [
        row
        for some in chunks(by_key, CODES_AT_ONCE)
        for row in _cells(connection, select(shelf.task).where(shelf.task.c.visit.in_(some)))
    ]
    tasks = {row["key"]: task_of(row) for row in task_cells}
    return tuple(
        DroppedVisit(
            visit,
            tuple(tasks[key] for key in visit.tasks),
            Revision(visit.key, *(by_key[visit.key][name] for name in ("sequence", "created_at", "modified_at"))),
            by_key[visit.key]["dropped_at"],
        )
        for visit in _visits(cells, task_cells)
    )
