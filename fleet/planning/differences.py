"""What a plan has that the one before had not, what moved, what is gone, and why."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from fleet.planning.situations import is_frequent_look
from fleet.planning.visit_news import VisitNews
from fleet.planning.words import day_words
from fleet.values.plan import Plan, PlanChange, PlanChanges, Task
from fleet.values.vocabulary import CauseKind

CALLED_FOR = (CauseKind.EVENT, CauseKind.CONDITION, CauseKind.CHANGE, CauseKind.SEASON)


def plan_changes(
    previous: Plan | None,
    tasks: Sequence[Task],
    through: date,
    done: Mapping[tuple[str, str], Sequence[date]],
    rules: Collection[str],
    subjects: Collection[str],
    joined: Mapping[str, str],
    news: VisitNews,
) -> PlanChanges:
    """Tasks, and then visits, that were added, moved and dropped. `done` holds the completions by (subject, rule),
    `joined` the keys of tasks of the plan before and those of the tasks that stand for them now."""
    before = {} if previous is None else previous.task_by_key
    keys = {task.key for task in tasks}
    added = [PlanChange(task.key, _what(task), _why_added(task, previous)) for task in tasks if task.key not in before]
    moved = [
        PlanChange(task.key, _what(task), _why_moved(task, before[task.key]))
        for task in tasks
        if task.key in before and before[task.key].due != task.due and not _always_today(task)
    ]
    dropped = [
        PlanChange(task.key, _what(task), _why_dropped(task, through, done, rules, subjects, joined))
        for task in sorted(before.values(), key=lambda task: (task.due, task.site or "", task.key))
        if task.key not in keys
    ]
    of_visits = news.changes({change.key: change.reason for change in dropped})
    return PlanChanges((*added, *of_visits.added), (*moved, *of_visits.moved), (*dropped, *of_visits.dropped))


def _what(task: Task) -> str:
    return f"{task.title} on {task.subject}"


def _always_today(task: Task) -> bool:
    """Site staff's frequent work that was never recorded is due on whichever day one looks: that is no news."""
    frequent = is_frequent_look(task.performed_by, task.interval_days)
    return frequent and task.cause.kind is CauseKind.NEVER_RECORDED


def _why_added(task: Task, previous: Plan | None) -> str:
    if previous is None:
        return "first planned"
    if task.cause.kind in CALLED_FOR:
        return task.cause.text
    if task.due > previous.through:
        return "comes within the days planned"
    return f"first planned. {task.cause.text}"


def _why_moved(task: Task, before: Task) -> str:
    words = f"due moved from {day_words(before.due)} to {day_words(task.due)}"
    if task.follows != before.follows and task.follows is not None:
        return f"{words} because last done on {day_words(task.follows)}"
    if task.cause.kind in CALLED_FOR and task.cause != before.cause:
        return f"{words}: {task.cause.text}"
    if task.interval_days != before.interval_days:
        return f"{words} because the interval that applies has changed. {task.cause.text}"
    return f"{words} with the work before it"


def _why_dropped(
    task: Task,
    through: date,
    done: Mapping[tuple[str, str], Sequence[date]],
    rules: Collection[str],
    subjects: Collection[str],
    joined: Mapping[str, str],
) -> str:
    if task.subject not in subjects:
        return "subject no longer on record"
    if task.rule not in rules:
        return "no longer in the catalogue"
    if task.key in joined:
        return f"one piece of work with {joined[task.key]} now"
    days = done.get((task.subject, task.rule), ())
    counted = task.interval_days is not None
    later = [
        day
        for day in days
        if (counted and (task.follows is None or day > task.follows)) or (not counted and day >= task.earliest)
    ]
    if later:
        return f"done on {day_words(later[-1])}"
    if task.due > through:
        return "beyond the days planned"
    return "no longer called for"
