"""The edition that people hold: the published plan less what was done since, or the saved plan where none was
published."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleet.db.repository import Register
from fleet.planning.editions import as_of, edition_changes, without_closed
from fleet.values.plan import Plan, PlanChanges, Revision, Task
from fleet.values.vocabulary import Finding, TaskState

AROUND_PUBLICATION = timedelta(days=1)
"""Work recorded while an edition was being worked out is not in it yet."""

CLOSED = (TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE)


@dataclass(frozen=True, slots=True)
class Edition:
    """What calendars and sheets show. `published_at` is None where nothing was ever published."""

    plan: Plan
    revisions: Mapping[str, Revision]
    published_at: datetime | None


def edition_in_force(register: Register, plan: Plan) -> Edition:
    """The edition as it stands beside `plan`, the plan of today that the register holds as saved."""
    found = still_published(register, plan)
    if found is None:
        return Edition(plan, register.revisions(), None)
    edition, revisions = as_of(found.plan, found.revisions, plan.today)
    return Edition(edition, revisions, found.published_at)


def still_published(register: Register, plan: Plan) -> Edition | None:
    """The published edition without the tasks that are done or withdrawn by now; None where there is none.

    `plan` is today's plan: it tells which tasks have been withdrawn, and which work entered without the key of a task
    stands for one of the edition.
    """
    edition, published_at = register.published_plan(), register.published_at()
    if edition is None or published_at is None:
        return None
    closed = _closed(register, edition, published_at, plan)
    left, revisions = without_closed(edition, register.published_revisions(), closed)
    return Edition(left, revisions, published_at)


def _closed(register: Register, edition: Plan, published_at: datetime, plan: Plan) -> dict[str, datetime]:
    stamps = register.revisions()
    closed = {
        task.key: stamps[task.key].modified_at if task.key in stamps else published_at
        for task in plan.tasks
        if task.state in CLOSED and task.key in edition.task_by_key
    }
    gone: dict[tuple[str, str], list[Task]] = {}
    for task in edition.tasks:
        if task.key not in plan.task_by_key:
            gone.setdefault((task.subject, task.rule), []).append(task)
    for entry in register.recorded_since(published_at - AROUND_PUBLICATION):
        record = entry.record
        if record.finding is Finding.NOT_INSPECTED:
            continue
        if entry.task_key in edition.task_by_key:
            closed.setdefault(str(entry.task_key), entry.at)
        for task in gone.get((record.subject, record.task), ()):
            if record.done_on >= task.earliest:
                closed.setdefault(task.key, entry.at)
    return closed


def since_published(register: Register, plan: Plan) -> tuple[date, PlanChanges] | None:
    """The day that the published edition was made for, and how `plan` differs from what is left of it."""
    found = still_published(register, plan)
    return None if found is None else (found.plan.today, edition_changes(found.plan, plan))
