"""Minutes of work by day: what was done, and what is planned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from fleet.outputs.lookup import Lookup
from fleet.values.plan import Plan, Task
from fleet.values.register import ServiceRecord
from fleet.values.vocabulary import Finding, PerformedBy


def done_minutes(records: Iterable[ServiceRecord], lookup: Lookup, today: date) -> dict[date, int]:
    """Minutes of visitors' work done by day; the catalogue's minutes where a record states none."""
    minutes: dict[date, int] = defaultdict(int)
    for record in records:
        rule = lookup.catalogue.rule_by_id.get(record.task)
        if record.done_on > today or record.finding is Finding.NOT_INSPECTED:
            continue
        if rule is None or rule.performed_by is PerformedBy.VISITOR:
            minutes[record.done_on] += record.minutes if record.minutes is not None else rule.minutes if rule else 0
    return minutes


def planned_minutes(tasks: Iterable[Task], plan: Plan, today: date) -> dict[date, int]:
    """Minutes of planned work by the day of its visit, or by its due day where no visit holds it; late work counts
    today."""
    minutes: dict[date, int] = defaultdict(int)
    for task in tasks:
        visit = plan.visit_by_key.get(task.visit or "")
        minutes[max(visit.day if visit else task.due, today)] += task.minutes
    return minutes
