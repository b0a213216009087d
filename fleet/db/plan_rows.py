"""Turns tasks and visits into rows and back, with the digests by which two plans are compared."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any

from fleet.db.mapping import plain
from fleet.values.plan import AppliedFactor, Cause, Plan, Task, Unplaced, Visit
from fleet.values.vocabulary import TaskState

TASK_FIELDS = tuple(field.name for field in fields(Task) if field.name not in ("cause", "factors"))
VISIT_FIELDS = tuple(field.name for field in fields(Visit) if field.name not in ("tasks", "persons"))

TASK_SCHEDULE = ("due", "due_at", "earliest", "latest", "site", "state")
"""What a calendar shows of a task: another value here is a new revision, not a mere rewording."""

VISIT_SCHEDULE = ("site", "technician", "second_technician", "start", "end", "day")

_RUNNING = frozenset({TaskState.UPCOMING, TaskState.OPEN, TaskState.DUE, TaskState.LATE, TaskState.PAST_LIMIT})
"""States that only the passing of days tells apart; a calendar shows all of them as work still to be done."""


def fingerprint(cells: Mapping[str, Any]) -> str:
    """A digest of a row's content: equal rows have equal digests, on any machine and in any run."""
    text = json.dumps(list(cells.values()), default=plain, sort_keys=True, ensure_ascii=False)
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def schedule(cells: Mapping[str, Any], names: tuple[str, ...]) -> tuple[Any, ...]:
    """The scheduling fields of a row, with the states that a calendar does not tell apart made one."""
    return tuple("to do" if cells[name] in _RUNNING else cells[name] for name in names)


def task_rows(plan: Plan) -> dict[str, dict[str, Any]]:
    """The tasks of a plan as cells by key. Raises ValueError where tasks and visits contradict each other."""
    place = {key: (visit.key, position) for visit in plan.visits for position, key in enumerate(visit.tasks)}
    unplaced = {entry.key: entry for entry in plan.unplaced}
    rows: dict[str, dict[str, Any]] = {}
    for task in plan.tasks:
        visit, position = place.pop(task.key, (None, None))
        if visit != task.visit:
            raise ValueError(f"task {task.key} says visit {task.visit}, but is listed in visit {visit}")
        cells: dict[str, Any] = {name: getattr(task, name) for name in TASK_FIELDS}
        reason = unplaced.pop(task.key, None)
        cells.update(
            cause_kind=task.cause.kind,
            cause_text=task.cause.text,
            cause_numbers=dict(task.cause.numbers),
            factors=[[factor.name, factor.multiplier, factor.reason] for factor in task.factors],
            visit_position=position,
            unplaced_reason=None if reason is None else reason.reason,
            unplaced_text=None if reason is None else reason.text,
        )
        rows[task.key] = cells
    if len(rows) != len(plan.tasks):
        raise ValueError("two tasks of the plan have the same key")
    for what, left in (("a visit lists", place), ("not placed:", unplaced)):
        if left:
            raise ValueError(f"{what} task {min(left)}, which is not in the plan")
    return rows


def visit_rows(plan: Plan) -> dict[str, dict[str, Any]]:
    """The visits of a plan as cells by key. Their tasks point to them and say their position."""
    rows = {visit.key: {name: getattr(visit, name) for name in VISIT_FIELDS} for visit in plan.visits}
    if len(rows) != len(plan.visits):
        raise ValueError("two visits of the plan have the same key")
    return rows


def task_of(cells: Mapping[str, Any]) -> Task:
    """The task that a row holds."""
    return Task(
        **{name: cells[name] for name in TASK_FIELDS},
        cause=Cause(cells["cause_kind"], cells["cause_text"], cells["cause_numbers"]),
        factors=tuple(AppliedFactor(name, multiplier, reason) for name, multiplier, reason in cells["factors"]),
    )


def visit_of(cells: Mapping[str, Any], tasks: Iterable[str], persons: int) -> Visit:
    """The visit that a row holds, with the keys of its tasks in working order and the people that these take."""
    return Visit(**{name: cells[name] for name in VISIT_FIELDS}, tasks=tuple(tasks), persons=persons)


def unplaced_of(cells: Mapping[str, Any]) -> Unplaced | None:
    """Why no visit holds the task, None where nothing is said."""
    if cells["unplaced_reason"] is None:
        return None
    return Unplaced(cells["key"], cells["unplaced_reason"], cells["unplaced_text"])
