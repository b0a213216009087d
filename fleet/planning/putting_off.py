"""How far work may be put off: never past the longest interval since it was last done, life-safety work not at all."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from fleet.errors import BadInput, NotAllowed
from fleet.planning.recurrence import add_span
from fleet.planning.words import day_words
from fleet.values.catalogue import TaskRule
from fleet.values.plan import Task
from fleet.values.vocabulary import TaskState, Tolerance

ONE_DAY = timedelta(days=1)
WEEK = timedelta(days=6)
"""From the first to the last of seven days."""
NOT_OPEN = (TaskState.DONE, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.HALTED)


def last_day_for(task: Task, rule: TaskRule) -> date:
    """The last day to which a task may be put off (common practice): the longest interval after it was last done.

    Work beside a season, work after an event and work that was never recorded have no such interval: for them it is the
    last day of their own window. `rule` is the rule as it holds for the task's subject.
    """
    if task.tolerance is Tolerance.S or rule.interval is None or task.follows is None:
        return task.latest
    return max(task.latest, add_span(task.follows, rule.interval.maximum))


def put_off(
    task: Task, rule: TaskRule, to: date, today: date, *, approver: str | None, earlier: tuple[date, str] | None
) -> Task:
    """The task with the day agreed in the place of its window: to be done by `to`, in the week up to it and after the
    day it was due on, so that it is off the next visit's sheet and can still go with another.

    `earlier` is the day on which it was put off before, and by whom, None where it never was. Raises NotAllowed for
    life-safety work, for a second time with class A, for a day beyond the last; BadInput for a day that puts nothing
    off and where class A lacks an approver.
    """
    what = f"{task.key}, {task.title!r} on {task.subject}"
    if task.state in NOT_OPEN:
        raise BadInput(f"{what} is {task.state}: there is nothing to put off")
    if task.tolerance is Tolerance.A0:
        raise NotAllowed(
            f"{what} is never put off: law or life safety asks for it (class A0); do it, or take what it protects out "
            "of use until it is done"
        )
    if task.tolerance is Tolerance.A:
        if earlier is not None:
            on, who = earlier
            raise NotAllowed(
                f"{what} was put off on {day_words(on)} by {who}: "
                "what guards animals or people (class A) is put off once"
            )
        if not approver:
            raise BadInput(f"{what} guards animals or people (class A): name who agreed to it, with --approver")
    last = last_day_for(task, rule)
    if last <= max(today, task.due):
        raise NotAllowed(f"{what} has no day left to be put off to: its last day is {day_words(last)}")
    if to <= task.due or to <= today:
        raise BadInput(
            f"{what} is due on {day_words(task.due)}: expected a day after {day_words(max(task.due, today))}"
        )
    if to > last:
        raise NotAllowed(f"{what} may be put off to {day_words(last)} at the latest, not to {day_words(to)}")
    earliest = max(task.due + ONE_DAY, today + ONE_DAY, to - WEEK)
    return replace(task, due=to, earliest=earliest, latest=to, state=TaskState.PUT_OFF)
