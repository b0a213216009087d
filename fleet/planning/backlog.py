"""How much work is late, and what becomes of the rest if nobody comes for a while."""

from __future__ import annotations

from datetime import timedelta

from fleet.planning.recurrence import Window, state_on
from fleet.values.plan import Backlog, Plan, Task
from fleet.values.vocabulary import PerformedBy, TaskState, Tolerance

TWO_WEEKS = timedelta(days=14)
LATE = (TaskState.LATE, TaskState.PAST_LIMIT)
WAITING = (TaskState.UPCOMING, TaskState.OPEN, TaskState.DUE, TaskState.PUT_OFF)
GRAVITY = tuple(Tolerance)


def backlog(plan: Plan, away: timedelta = TWO_WEEKS) -> Backlog:
    """The late work of visitors on the plan's day, and what becomes late if no visitor comes for the time given.

    Nobody comes on the last day either, so what is due on it is not late yet.
    """
    until = plan.today + away
    visitors = [task for task in plan.tasks if task.performed_by is PerformedBy.VISITOR]
    late = [task for task in visitors if task.state in LATE]
    waiting = sorted((task for task in visitors if task.state in WAITING), key=_gravest_first)
    then = {
        task.key: state_on(until, Window(task.earliest, task.due, task.latest)) for task in (*late, *waiting)
    }  # fmt: skip
    becoming = tuple(task for task in waiting if then[task.key] in LATE)
    passing = (*becoming, *(task for task in late if task.state is not TaskState.PAST_LIMIT))
    return Backlog(
        until,
        sum(task.minutes for task in late),
        becoming,
        tuple(task for task in passing if then[task.key] is TaskState.PAST_LIMIT),
    )


def _gravest_first(task: Task) -> tuple[int, object, str]:
    return GRAVITY.index(task.tolerance), task.due, task.key
