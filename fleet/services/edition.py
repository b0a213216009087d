"""The edition that people hold: the published plan less what was done since, or the saved plan where none was
published."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fleet.db.repository import DroppedVisit, Register
from fleet.planning.editions import as_of, edition_changes, without_closed
from fleet.values.plan import Plan, PlanChanges, Revision, Task, Visit
from fleet.values.vocabulary import Finding, TaskState

AROUND_PUBLICATION = timedelta(days=1)
"""Work recorded while an edition was being worked out is not in it yet."""

SHORT_NOTICE = timedelta(days=7)
"""A visit that is taken back later than this before its day has been counted on: it is shown as cancelled."""

CLOSED = (TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE)


@dataclass(frozen=True, slots=True)
class Edition:
    """What calendars and sheets show. `published_at` is None where nothing was ever published.

    `cancelled` are visits of the coming days that were taken back at short notice; `revisions` has theirs too.
    """

    plan: Plan
    revisions: Mapping[str, Revision]
    published_at: datetime | None
    cancelled: tuple[Visit, ...] = ()


def edition_in_force(register: Register, plan: Plan) -> Edition:
    """The edition as it stands beside `plan`, the plan of today that the register holds as saved."""
    found = still_published(register, plan)
    if found is None:
        return _with_cancelled(register, Edition(plan, register.revisions(), None), plan)
    edition, revisions = as_of(found.plan, found.revisions, plan.today)
    return _with_cancelled(register, Edition(edition, revisions, found.published_at), plan)


def _with_cancelled(register: Register, edition: Edition, plan: Plan) -> Edition:
    """The edition with the visits, not past yet, that left it within SHORT_NOTICE of their day and were not made."""
    first, last = plan.today, plan.today + SHORT_NOTICE
    dropped = register.dropped_visits(first, last, published=edition.published_at is not None)
    late = [item for item in dropped if item.visit.day - item.dropped_at.date() <= SHORT_NOTICE]
    made = _made(register, late)
    left = [item for item in late if item.visit.key not in made and item.visit.key not in edition.plan.visit_by_key]
    return replace(
        edition,
        cancelled=tuple(item.visit for item in left),
        revisions={**edition.revisions, **{item.visit.key: item.revision for item in left}},
    )


def _made(register: Register, dropped: Iterable[DroppedVisit]) -> set[str]:
    """Those of the visits that left because work of theirs was done."""
    items = list(dropped)
    if not items:
        return set()
    since = min(item.dropped_at for item in items) - SHORT_NOTICE
    last_done: dict[tuple[str, str], date] = {}
    for entry in register.recorded_since(since):
        record = entry.record
        if record.finding is not Finding.NOT_INSPECTED:
            work = record.subject, record.task
            last_done[work] = max(record.done_on, last_done.get(work, record.done_on))
    return {
        item.visit.key
        for item in items
        if any(
            last_done.get((task.subject, task.rule), date.min) >= task.earliest
            or register.record_of_task(task.key) is not None
            for task in item.tasks
        )
    }


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
