"""What is left of a published edition as days pass and work is done, and how a newer plan differs from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from fleet.planning.recurrence import Window, state_on
from fleet.planning.words import day_words
from fleet.values.plan import Plan, PlanChange, PlanChanges, Revision, Task, Visit
from fleet.values.vocabulary import PerformedBy, TaskState

RUNNING = (TaskState.UPCOMING, TaskState.OPEN, TaskState.DUE, TaskState.LATE, TaskState.PAST_LIMIT)
"""States that only the passing of days tells apart."""


def without_closed(
    edition: Plan, revisions: Mapping[str, Revision], closed: Mapping[str, datetime]
) -> tuple[Plan, dict[str, Revision]]:
    """The edition without the tasks that were closed since, and its revisions.

    `closed` holds keys of tasks with the instant at which each was closed. A visit keeps its hours and loses the work;
    without any work left it is gone. What tells of the rest (the visit, the site's checklist) is stamped with the
    closing, so that its reader sees that it has changed.
    """
    gone = [task for task in edition.tasks if task.key in closed]
    if not gone:
        return edition, dict(revisions)
    minutes_gone: dict[str, int] = {}
    changed_at: dict[str, datetime] = {}
    for task in gone:
        if task.visit is not None:
            minutes_gone[task.visit] = minutes_gone.get(task.visit, 0) + task.minutes
        place = task.visit or f"site {task.site}"
        changed_at[place] = max(closed[task.key], changed_at.get(place, closed[task.key]))
    tasks = tuple(task for task in edition.tasks if task.key not in closed)
    visits = tuple(_remaining(edition, closed, minutes_gone))
    left = replace(
        edition,
        tasks=tasks,
        visits=visits,
        unplaced=tuple(item for item in edition.unplaced if item.key not in closed),
    )
    stamped = {key: changed_at.get(key) for key in (visit.key for visit in visits)}
    stamped |= {task.key: changed_at.get(f"site {task.site}") for task in tasks if task.visit is None}
    return left, _stamped(revisions, stamped)


def _remaining(edition: Plan, closed: Mapping[str, datetime], minutes_gone: Mapping[str, int]) -> Iterator[Visit]:
    for visit in edition.visits:
        if visit.key not in minutes_gone:
            yield visit
        elif keys := tuple(key for key in visit.tasks if key not in closed):
            persons = max(edition.task_by_key[key].persons for key in keys)
            minutes = max(0, visit.minutes - minutes_gone[visit.key])
            yield replace(visit, tasks=keys, minutes=minutes, persons=persons)


def _stamped(revisions: Mapping[str, Revision], at: Mapping[str, datetime | None]) -> dict[str, Revision]:
    """The revisions, none of them modified before the instant given for it."""
    return {
        key: replace(revision, modified_at=moment) if (moment := at.get(key)) and moment > revision.modified_at
        else revision
        for key, revision in revisions.items()
    }  # fmt: skip


def as_of(edition: Plan, revisions: Mapping[str, Revision], today: date) -> tuple[Plan, dict[str, Revision]]:
    """The edition with the states that its windows have on `today`; a task whose state has turned since it was
    published is stamped with the first instant of the day on which it turned."""
    tasks, turned = [], {}
    for task in edition.tasks:
        state = _state(task, today)
        tasks.append(task if state is task.state else replace(task, state=state))
        if state is not task.state:
            turned[task.key] = datetime.combine(_turned_on(task, state), time(), UTC)
    return replace(edition, tasks=tuple(tasks)), _stamped(revisions, turned)


def _state(task: Task, today: date) -> TaskState:
    if task.state not in RUNNING:
        return task.state
    return state_on(today, Window(task.earliest, task.due, task.latest))


def _turned_on(task: Task, state: TaskState) -> date:
    return {
        TaskState.OPEN: task.earliest,
        TaskState.DUE: task.due,
        TaskState.LATE: task.due + timedelta(days=1),
        TaskState.PAST_LIMIT: task.latest + timedelta(days=1),
    }.get(state, task.earliest)


def edition_changes(edition: Plan, plan: Plan) -> PlanChanges:
    """What would change for people if `plan` were published in the place of `edition`, within the edition's days.

    Tells of visits, and of visitors' tasks that come or go. What site staff do is on their checklist, whose frequent
    items move from day to day without being news.
    """
    last = edition.through
    visits_before = edition.visit_by_key
    visits_now = {visit.key: visit for visit in plan.visits if visit.day <= last}
    tasks_before, tasks_now = _visitors_tasks(edition, last), _visitors_tasks(plan, last)
    added = [
        *(PlanChange(key, f"visit at {v.site}", _when(v)) for key, v in visits_now.items() if key not in visits_before),
        *(PlanChange(k, _what(t), t.cause.text) for k, t in tasks_now.items() if k not in edition.task_by_key),
    ]
    moved = [
        PlanChange(key, f"visit at {visit.site}", _why_moved(visits_before[key], visit))
        for key, visit in visits_now.items()
        if key in visits_before and _place(visit) != _place(visits_before[key])
    ]
    dropped = [
        *(
            PlanChange(key, f"visit at {visit.site}", _why_gone(visit, plan))
            for key, visit in visits_before.items()
            if key not in plan.visit_by_key and visit.day >= plan.today
        ),
        *(
            PlanChange(key, _what(task), "no longer called for")
            for key, task in tasks_before.items()
            if key not in plan.task_by_key
        ),
    ]
    return PlanChanges(tuple(added), tuple(moved), tuple(dropped))


def _visitors_tasks(plan: Plan, last: date) -> dict[str, Task]:
    return {
        task.key: task for task in plan.tasks if task.performed_by is PerformedBy.VISITOR and task.due <= last
    }  # fmt: skip


def _what(task: Task) -> str:
    return f"{task.title} on {task.subject}"


def _place(visit: Visit) -> tuple[datetime, str | None]:
    return visit.start, visit.technician


def _when(visit: Visit) -> str:
    return f"{day_words(visit.day)}, {visit.technician or 'nobody yet'}"


def _why_moved(before: Visit, visit: Visit) -> str:
    if _when(before) == _when(visit):
        return f"another hour on {_when(visit)}"
    return f"from {_when(before)} to {_when(visit)}"


def _why_gone(visit: Visit, plan: Plan) -> str:
    """Where the work of a visit that is no more has gone."""
    new_homes = {task.visit for key in visit.tasks if (task := plan.task_by_key.get(key)) is not None}
    days = sorted(plan.visit_by_key[key].day for key in new_homes if key in plan.visit_by_key)
    if not days:
        return f"was on {day_words(visit.day)}; none of its work is left"
    return f"was on {day_words(visit.day)}; its work is now done on {' and '.join(map(day_words, dict.fromkeys(days)))}"
