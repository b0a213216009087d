"""The machine-readable forms of what the commands list and compute, with keys that do not change.

SI units and °C, days as ISO 8601, instants with the offset of the site's zone. A number that has no value is null, and
the word beside it says why (`state`, `reaches_limit`); NaN and the infinities are never written.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleet.values.assessment import Assessment, DeviceCapacity, HoursToLimit
from fleet.values.catalogue import (
    ConditionTrigger,
    EventTrigger,
    Interval,
    RunningHours,
    SeasonWindow,
    TaskRule,
)
from fleet.values.fleet import Fleet
from fleet.values.plan import Placement, Plan, PlanChange, PlanChanges, Task, Visit
from fleet.values.register import ServiceRecord
from fleet.values.spread import Spread
from fleet.values.vocabulary import Reaches


def dumps(record: Any) -> str:
    """The record as JSON text. Raises ValueError for NaN and infinities."""
    return json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False)


def margin_records(assessments: Iterable[Assessment]) -> list[dict[str, Any]]:
    """One record for each tank and scenario, in the order given."""
    return [
        {
            "tank": row.tank,
            "scenario": str(row.scenario),
            "target_c": number(row.target_c),
            "required_w": number(row.required_w),
            "available_w": spread_record(row.available_w),
            "margin": spread_record(row.margin),
            "state": str(row.state),
            "duty": number(row.duty),
            "n_minus_1_margin": number(row.n_minus_1_margin),
            "hours": {
                "all_cooling_lost": hours_record(row.hours.all_cooling_lost),
                "ac_lost": hours_record(row.hours.ac_lost),
                "ac_and_cooling_lost": hours_record(row.hours.ac_and_cooling_lost),
                "largest_lost": hours_record(row.hours.largest_lost),
            },
            "peak_c": number(row.peak_c),
            "limit_c": number(row.limit_c),
            "assumed": list(row.assumed),
            "devices": [_device(device) for device in row.devices],
        }
        for row in assessments
    ]


def plan_record(plan: Plan, fleet: Fleet) -> dict[str, Any]:
    """Tasks, visits, what no visit holds, and the changes from the plan before."""
    return {
        "tasks": [task_record(task, fleet) for task in plan.tasks],
        "visits": [_visit(visit, fleet) for visit in plan.visits],
        "unplaced": [{"key": item.key, "reason": item.reason, "text": item.text} for item in plan.unplaced],
        "changes": changes_record(plan.changes),
    }


def changes_record(changes: PlanChanges) -> dict[str, list[dict[str, str]]]:
    """What was added, moved and dropped, each with its key, what it is, and why."""
    return {
        "added": _changes(changes.added),
        "moved": _changes(changes.moved),
        "dropped": _changes(changes.dropped),
    }


def task_record(task: Task, fleet: Fleet | None) -> dict[str, Any]:
    """One task. Its hour is in the zone of its site, or in UTC where no fleet is given."""
    return {
        "key": task.key,
        "task": task.rule,
        "subject": task.subject,
        "site": task.site,
        "tank": task.tank,
        "device": task.device,
        "due": task.due.isoformat(),
        "due_at": None if task.due_at is None else _instant(task.due_at, task.site, fleet),
        "earliest": task.earliest.isoformat(),
        "latest": task.latest.isoformat(),
        "minutes": task.minutes,
        "persons": task.persons,
        "skill": str(task.skill),
        "performed_by": str(task.performed_by),
        "tolerance": str(task.tolerance),
        "state": str(task.state),
        "cause": {
            "kind": str(task.cause.kind),
            "text": task.cause.text,
            "numbers": {
                name: number(value) if isinstance(value, float) else value for name, value in task.cause.numbers.items()
            },
        },
        "visit": task.visit,
    }


def why_record(
    task: Task,
    rule: TaskRule,
    history: Sequence[ServiceRecord],
    fleet: Fleet | None = None,
    placement: Placement | None = None,
) -> dict[str, Any]:
    """A task with the rule it comes from, when it was last done, what moved its interval, and its records; where its
    placement is given, why it is done on its day and by whom, and what it needs first."""
    return {
        **task_record(task, fleet),
        "rule": {
            "id": rule.id,
            "title": rule.title,
            "interval": _interval(rule.interval),
            "running_hours": _running_hours(rule.running_hours),
            "seasons": [_season(window) for window in rule.seasons],
            "events": [_event(trigger) for trigger in rule.events],
            "conditions": [_condition(trigger) for trigger in rule.conditions],
            "basis": rule.basis,
            "source": rule.source,
        },
        "last_done": None if task.follows is None else task.follows.isoformat(),
        "factors": [
            {"name": factor.name, "multiplier": factor.multiplier, "reason": factor.reason} for factor in task.factors
        ],
        "history": [
            {
                "done_on": record.done_on.isoformat(),
                "by": record.by,
                "finding": None if record.finding is None else str(record.finding),
                "minutes": record.minutes,
                "note": record.note,
            }
            for record in history
        ],
        **({} if placement is None else _placement(placement)),
    }


def _placement(placement: Placement) -> dict[str, Any]:
    return {
        "planned_on": _day(placement.day),
        "why_day": list(placement.why_day),
        "who": list(placement.who),
        "needs": [
            {
                "task": one.rule,
                "subject": one.subject,
                "how": one.how,
                "key": one.key,
                "visit": one.visit,
                "day": _day(one.day),
                "last_done": _day(one.done_on),
                "in_date_until": _day(one.until),
            }
            for one in placement.needs
        ],
        "unplaced": None
        if placement.unplaced is None
        else {"reason": placement.unplaced.reason, "text": placement.unplaced.text},
    }


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def number(value: float | None) -> float | None:
    """The number, None where it has no finite value."""
    return value if value is not None and math.isfinite(value) else None


def spread_record(spread: Spread | None) -> dict[str, float | None] | None:
    """Low, mid and high."""
    if spread is None:
        return None
    return {"low": number(spread.low), "mid": number(spread.mid), "high": number(spread.high)}


def hours_record(hours: HoursToLimit | None) -> dict[str, float | str | None]:
    """Where there is nothing to lose, losing it brings no tank to its limit."""
    if hours is None:
        return {"low": None, "mid": None, "high": None, "reaches_limit": str(Reaches.NO)}
    return {
        "low": number(hours.low),
        "mid": number(hours.mid),
        "high": number(hours.high),
        "reaches_limit": str(hours.reaches_limit),
    }


def _device(device: DeviceCapacity) -> dict[str, Any]:
    return {
        "device": device.device,
        "role": device.role,
        "capacity_w": spread_record(device.capacity_w),
        "electric_power_w": number(device.electric_power_w),
        "condenser_inlet_c": number(device.condenser_inlet_c),
        "condensing_c": number(device.condensing_c),
        "screen_airflow": number(device.screen_airflow),
        "fouling_m2k_w": number(device.fouling_m2k_w),
        "trips": device.trips,
        "plate_basis": device.plate_basis,
        "notes": list(device.notes),
    }


def _visit(visit: Visit, fleet: Fleet) -> dict[str, Any]:
    """One visit; of one that takes two people, how many and who the second is."""
    return {
        "key": visit.key,
        "site": visit.site,
        "technician": visit.technician,
        "start": _instant(visit.start, visit.site, fleet),
        "end": _instant(visit.end, visit.site, fleet),
        "minutes": visit.minutes,
        "tasks": list(visit.tasks),
        **({} if visit.persons < 2 else {"persons": visit.persons, "second_technician": visit.second_technician}),
    }


def _instant(moment: datetime, site: str | None, fleet: Fleet | None) -> str:
    row = None if fleet is None else fleet.site_by_code.get(site or "")
    return moment.astimezone(UTC if row is None else ZoneInfo(row.time_zone)).isoformat()


def _changes(changes: Sequence[PlanChange]) -> list[dict[str, str]]:
    return [{"key": change.key, "what": change.what, "reason": change.reason} for change in changes]


def _interval(interval: Interval | None) -> dict[str, str] | None:
    if interval is None:
        return None
    return {
        "minimum": str(interval.minimum),
        "typical": str(interval.typical),
        "maximum": str(interval.maximum),
    }


def _running_hours(hours: RunningHours | None) -> dict[str, int] | None:
    if hours is None:
        return None
    return {"minimum": hours.minimum, "typical": hours.typical, "maximum": hours.maximum}


def _season(window: SeasonWindow) -> dict[str, str | int]:
    return {
        "season": window.season,
        "edge": window.edge,
        "weeks_open": window.weeks_open,
        "weeks_aim": window.weeks_aim,
        "weeks_last": window.weeks_last,
    }


def _event(trigger: EventTrigger) -> dict[str, str | list[str]]:
    return {
        "event": trigger.event,
        "within": str(trigger.within),
        "then_after": [str(span) for span in trigger.then_after],
    }


def _condition(trigger: ConditionTrigger) -> dict[str, str | bool | float]:
    return {
        "quantity": str(trigger.quantity),
        "above": trigger.above,
        "limit": trigger.limit,
        "within": str(trigger.within),
        "words": trigger.words,
    }
