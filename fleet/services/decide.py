"""Decisions of people about planned tasks: put off, put back, withdrawn. Each is on the trail with who and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from fleet.db.repository import LogEntry, Register
from fleet.errors import BadInput, NotAllowed, StaleWrite
from fleet.planning.own_rules import OwnRules
from fleet.planning.putting_off import put_off
from fleet.planning.subjects import Subjects
from fleet.services.outlook import Outlook, look_ahead, plan_again
from fleet.services.reasons import require_reason
from fleet.services.record import find_task
from fleet.values.catalogue import TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task
from fleet.values.vocabulary import TaskState, Tolerance

DECISIONS = "task"
"""What the trail calls a decision about a planned task."""


@dataclass(frozen=True, slots=True)
class Decided:
    """A task before and after a decision, the fleet, and the plan that was saved with it."""

    fleet: Fleet
    plan: Plan
    before: Task
    after: Task


def put_task_off(
    url: str, key: str, *, to: date, reason: str, approver: str | None, who: str, today: date, now: datetime
) -> Decided:
    """Puts a task off to the day given, and saves the plan that follows.

    Raises NotFound for a key that the plan does not hold, NotAllowed where the trade forbids it, BadInput where reason,
    approver or day are wanting.
    """
    require_reason(reason)

    def decide(task: Task, outlook: Outlook, log: tuple[LogEntry, ...]) -> Task:
        earlier = next(((entry.at.date(), entry.who) for entry in log if _puts_off(entry)), None)
        return put_off(task, _rule_of(task, outlook), to, today, approver=approver, earlier=earlier)

    return _decide(url, key, decide, reason, {"approver": approver}, who, today, now)


def put_task_back(url: str, key: str, *, reason: str, who: str, today: date, now: datetime) -> Decided:
    """Takes back that a task was put off: its own window holds again. For class A it still counts as the one time."""

    def decide(task: Task, outlook: Outlook, log: tuple[LogEntry, ...]) -> Task:
        if task.state is not TaskState.PUT_OFF:
            raise BadInput(f"{task.key}, {task.title!r} on {task.subject} is not put off")
        was = next(entry.before for entry in log if entry.before and entry.before["state"] != TaskState.PUT_OFF)
        due, earliest, latest = (date.fromisoformat(was[name]) for name in ("due", "earliest", "latest"))
        return replace(task, state=TaskState.OPEN, due=due, earliest=earliest, latest=latest)

    return _decide(url, key, decide, reason, {}, who, today, now)


def withdraw_task(url: str, key: str, *, reason: str, who: str, today: date, now: datetime) -> Decided:
    """Marks a planned task as one that nobody is to do; the next occurrence of its rule is planned as before.

    Raises NotAllowed for life-safety work.
    """
    require_reason(reason)

    def decide(task: Task, outlook: Outlook, log: tuple[LogEntry, ...]) -> Task:
        what = f"{task.key}, {task.title!r} on {task.subject}"
        if task.state is TaskState.WITHDRAWN:
            raise BadInput(f"{what} is withdrawn already")
        if task.tolerance is Tolerance.A0:
            raise NotAllowed(
                f"{what} is not withdrawn: law or life safety asks for it (class A0); if what caused it was entered by "
                "mistake, withdraw that row"
            )
        return replace(task, state=TaskState.WITHDRAWN)

    return _decide(url, key, decide, reason, {}, who, today, now)


def _puts_off(entry: LogEntry) -> bool:
    return entry.after is not None and entry.after.get("state") == TaskState.PUT_OFF


def _rule_of(task: Task, outlook: Outlook) -> TaskRule:
    """The rule as it holds for the task's subject, with what people have set for it."""
    rule = outlook.catalogue.rule_by_id[task.rule]
    subject = Subjects(outlook.fleet).by_code[task.subject]
    return OwnRules(outlook.overrides, outlook.catalogue).of(rule, subject).rule


def _decide(
    url: str,
    key: str,
    decide: Callable[[Task, Outlook, tuple[LogEntry, ...]], Task],
    reason: str,
    more: Mapping[str, Any],
    who: str,
    today: date,
    now: datetime,
) -> Decided:
    with Register.open(url, read_only=True) as register:
        outlook, read_at = look_ahead(register, today), register.saved_at()
        before = find_task(register, outlook.plan, key)
        log = register.change_log(subject=before.key, file=DECISIONS)
        after = decide(before, outlook, log)
        tasks = tuple(after if task.key == before.key else task for task in outlook.plan.tasks)
        plan = plan_again(register, outlook, previous=replace(outlook.plan, tasks=tasks))
    with Register.open(url) as register:
        if register.saved_at() != read_at or register.change_log(subject=before.key, file=DECISIONS) != log:
            raise StaleWrite("somebody saved another plan in between: try again")
        register.save_plan(plan, now=now)
        register.log_decision(
            DECISIONS, (before.key,), _told(before), {**_told(after), **more}, who=who, now=now, reason=reason
        )
    return Decided(outlook.fleet, plan, before, plan.task_by_key.get(before.key, after))


def _told(task: Task) -> dict[str, Any]:
    return {
        "rule": task.rule,
        "subject": task.subject,
        "state": str(task.state),
        "due": task.due.isoformat(),
        "earliest": task.earliest.isoformat(),
        "latest": task.latest.isoformat(),
    }
