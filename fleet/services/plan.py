"""Plans, saves plans and explains tasks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from fleet.db.repository import LogEntry, Register
from fleet.errors import NotFound
from fleet.planning.backlog import backlog
from fleet.planning.why import placement
from fleet.services.decide import DECISIONS
from fleet.services.edition import since_published
from fleet.services.margins_changed import keep_margins
from fleet.services.outlook import Outlook, look_ahead
from fleet.services.record import find_task
from fleet.values.catalogue import TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Backlog, Placement, Plan, PlanChanges, Task
from fleet.values.register import ServiceRecord


@dataclass(frozen=True, slots=True)
class Reason:
    """Everything that explains one task: its rule, the work already recorded and what people decided, latest first; and
    why it is done on its day and by whom."""

    task: Task
    rule: TaskRule
    history: tuple[ServiceRecord, ...]
    decisions: tuple[LogEntry, ...]
    placement: Placement


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan that was saved, and whether it was published.

    `edition_of` is the day of the edition published before it, and `since_published` how the plan differs from what was
    left of that; both None where there was none.
    """

    outlook: Outlook
    published: bool
    edition_of: date | None
    since_published: PlanChanges | None


def plan_ahead(url: str, *, today: date, through: date | None, frozen_before: date | None = None) -> Outlook:
    """The plan as it stands, without saving it."""
    with Register.open(url, read_only=True) as register:
        return look_ahead(register, today, through, frozen_before=frozen_before)


def plan_and_save(
    url: str,
    *,
    today: date,
    through: date | None,
    now: datetime,
    publish: bool = False,
    frozen_before: date | None = None,
) -> Planned:
    """Plans and saves the plan, which the next plan starts from; with `publish` it also becomes what calendars show.

    Visits before `frozen_before` stay as they are. Nobody is locked out while it is worked out.
    """
    outlook = plan_ahead(url, today=today, through=through, frozen_before=frozen_before)
    with Register.open(url) as register:
        register.save_plan(outlook.plan, now=now)
        keep_margins(register, outlook.margin_changes, now)
        since = since_published(register, outlook.plan)
        if publish:
            register.publish(outlook.plan, now=now)
    return Planned(outlook, publish, *(since or (None, None)))


@dataclass(frozen=True, slots=True)
class WorkDue:
    """The part of a plan that was asked for, and the backlog of the same people and places."""

    plan: Plan
    fleet: Fleet
    backlog: Backlog


def work_due(url: str, *, today: date, by: date, site: str | None, technician: str | None) -> WorkDue:
    """What is due by a day, at one site and in one technician's visits where they are named. Raises NotFound."""
    outlook = plan_ahead(url, today=today, through=None)
    fleet = outlook.fleet
    if site is not None and site not in fleet.site_by_code:
        raise NotFound(f"no site {site!r} on record; `fleet show sites` lists them")
    if technician is not None and technician not in fleet.technician_by_code:
        raise NotFound(f"no technician {technician!r} on record; `fleet show technicians` lists them")
    theirs = _of(outlook.plan, site, technician)
    due = tuple(task for task in theirs.tasks if task.due <= by)
    keys, held = {task.key for task in due}, {task.visit for task in due}
    part = replace(
        theirs,
        tasks=due,
        visits=tuple(visit for visit in theirs.visits if visit.key in held),
        unplaced=tuple(item for item in theirs.unplaced if item.key in keys),
    )
    return WorkDue(part, fleet, backlog(theirs))


def _of(plan: Plan, site: str | None, technician: str | None) -> Plan:
    visits = {visit.key for visit in plan.visits if technician in (None, visit.technician, visit.second_technician)}
    tasks = tuple(
        task
        for task in plan.tasks
        if site in (None, task.site) and (technician is None or (task.visit is not None and task.visit in visits))
    )
    return replace(plan, tasks=tasks)


def explain(url: str, key: str, *, today: date) -> tuple[Outlook, Reason]:
    """Why the task with this key exists and why on that day. Raises NotFound."""
    with Register.open(url, read_only=True) as register:
        outlook = look_ahead(register, today)
        task = find_task(register, outlook.plan, key)
        decisions = register.change_log(subject=task.key, file=DECISIONS)
    records = outlook.fleet.history_by_subject.get(task.subject, ())
    history = tuple(record for record in reversed(records) if record.task == task.rule)
    rule = outlook.catalogue.rule_by_id[task.rule]
    placed = placement(task, outlook.plan, outlook.fleet, outlook.catalogue)
    return outlook, Reason(task, rule, history, decisions, placed)
