"""Plans, saves plans and explains tasks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fleet.db.repository import Register
from fleet.services.edition import since_published
from fleet.services.outlook import Outlook, look_ahead
from fleet.services.record import find_task
from fleet.values.catalogue import TaskRule
from fleet.values.plan import PlanChanges, Task
from fleet.values.register import ServiceRecord


@dataclass(frozen=True, slots=True)
class Reason:
    """Everything that explains one task: its rule and the work already recorded, latest first."""

    task: Task
    rule: TaskRule
    history: tuple[ServiceRecord, ...]


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


def plan_ahead(url: str, *, today: date, through: date | None) -> Outlook:
    """The plan as it stands, without saving it."""
    with Register.open(url, read_only=True) as register:
        return look_ahead(register, today, through)


def plan_and_save(url: str, *, today: date, through: date | None, now: datetime, publish: bool = False) -> Planned:
    """Plans and saves the plan, which the next plan starts from; with `publish` it also becomes what calendars show.

    Nobody is locked out while it is worked out.
    """
    outlook = plan_ahead(url, today=today, through=through)
    with Register.open(url) as register:
        register.save_plan(outlook.plan, now=now)
        since = since_published(register, outlook.plan)
        if publish:
            register.publish(outlook.plan, now=now)
    return Planned(outlook, publish, *(since or (None, None)))


def explain(url: str, key: str, *, today: date) -> tuple[Outlook, Reason]:
    """Why the task with this key exists and why on that day. Raises NotFound."""
    with Register.open(url, read_only=True) as register:
        outlook = look_ahead(register, today)
        task = find_task(register, outlook.plan, key)
    records = outlook.fleet.history_by_subject.get(task.subject, ())
    history = tuple(record for record in reversed(records) if record.task == task.rule)
    return outlook, Reason(task, outlook.catalogue.rule_by_id[task.rule], history)
