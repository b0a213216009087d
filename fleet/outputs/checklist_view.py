"""The checklist of one site's own people: one line for each kind of work, a box for each tank or device."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.outputs.lookup import Lookup
from fleet.outputs.people import ContactRow, StopRow, contact_rows, stop_rows
from fleet.outputs.visit_view import Caution
from fleet.outputs.words import CLOSED, LATE, capital, near_day, short_day, usual_interval
from fleet.values.catalogue import Catalogue, Hazard, TaskRule
from fleet.values.plan import Plan, Task
from fleet.values.vocabulary import PerformedBy, ReadingQuantity

OFTEN_LAST = 1e9
"""Days that stand for work without an interval, so that it is listed after all that has one."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One box to tick: where, by when, the key to report it with, and the band that a reading belongs in."""

    subject: str
    key: str
    due: str
    late: bool
    expected: str


@dataclass(frozen=True, slots=True)
class How:
    """How a kind of work is done, for the back of the list."""

    title: str
    steps: tuple[str, ...]
    acceptance: str
    cautions: str


@dataclass(frozen=True, slots=True)
class CheckRow:
    title: str
    how_often: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Checklist:
    site: str
    span: str
    rows: tuple[CheckRow, ...]
    hows: tuple[How, ...]
    standing: tuple[str, ...]
    cautions: tuple[Caution, ...]
    stops: tuple[StopRow, ...]
    contacts: tuple[ContactRow, ...]
    closing: str


def tasks_by_site(plan: Plan, last: date) -> dict[str, list[Task]]:
    """The open tasks of each site's own people that are due up to `last`."""
    groups: dict[str, list[Task]] = defaultdict(list)
    for task in plan.tasks:
        mine = task.performed_by is PerformedBy.SITE_STAFF and task.state not in CLOSED
        if mine and task.site is not None and task.due <= last:
            groups[task.site].append(task)
    return groups


def checklist(site: str, tasks: Sequence[Task], lookup: Lookup, today: date, days: int, closing: str) -> Checklist:
    """The checklist of `site` for the `days` from today: the most frequent work first, within it the soonest due."""
    by_rule: dict[str, list[Task]] = defaultdict(list)
    for task in sorted(tasks, key=lambda task: (task.due, task.subject, task.key)):
        by_rule[task.rule].append(task)
    known = lookup.catalogue.rule_by_id
    ordered = sorted(by_rule, key=lambda rule: (_days_between(known.get(rule)), rule))
    hazards = _hazards(tasks, lookup)
    rules = [known[rule] for rule in ordered if rule in known]
    return Checklist(
        site=lookup.name(site),
        span=f"{short_day(today)} to {short_day(today + timedelta(days=days))}",
        rows=tuple(_row(by_rule[rule], known.get(rule), lookup, today) for rule in ordered),
        hows=tuple(_how(by_rule[rule], known[rule], lookup) for rule in ordered if rule in known),
        standing=standing_rules(lookup.catalogue, PerformedBy.SITE_STAFF) if tasks else (),
        cautions=tuple(Caution(hazard.code, hazard.title, hazard.text) for hazard in hazards),
        stops=stop_rows(rules, hazards, site, lookup),
        contacts=contact_rows(site, lookup),
        closing=closing,
    )


def standing_rules(catalogue: Catalogue, performed_by: PerformedBy) -> tuple[str, ...]:
    """Work whose moment no record tells, each with its occasion."""
    return tuple(
        f"{rule.title}: {rule.occasion}."
        for rule in catalogue.rules
        if rule.performed_by is performed_by
        and rule.occasion
        and not (rule.interval or rule.seasons or rule.events or rule.conditions)
    )


def _days_between(rule: TaskRule | None) -> float:
    return rule.interval.typical.days if rule is not None and rule.interval is not None else OFTEN_LAST


def _hazards(tasks: Sequence[Task], lookup: Lookup) -> tuple[Hazard, ...]:
    codes: set[str] = set()
    for task in tasks:
        rule = lookup.catalogue.rule_by_id.get(task.rule)
        if rule is not None:
            device = lookup.fleet.device_by_code.get(task.device or "")
            codes.update(hazard.code for hazard in lookup.catalogue.hazards_for(rule, device))
    return tuple(hazard for hazard in lookup.catalogue.hazards if hazard.code in codes)


def _how(tasks: Sequence[Task], rule: TaskRule, lookup: Lookup) -> How:
    codes = ", ".join(hazard.code for hazard in _hazards(tasks, lookup))
    return How(rule.title, rule.steps, capital(rule.acceptance), codes)


def _row(tasks: Sequence[Task], rule: TaskRule | None, lookup: Lookup, today: date) -> CheckRow:
    return CheckRow(
        title=tasks[0].title,
        how_often=usual_interval(rule.interval) if rule else "",
        marks=tuple(
            Mark(
                subject=lookup.label(task.subject),
                key=task.key,
                due=near_day(task.due, today),
                late=task.state in LATE,
                expected=_expected(task, rule, lookup),
            )
            for task in tasks
        ),
    )


def _expected(task: Task, rule: TaskRule | None, lookup: Lookup) -> str:
    """The band of the water where the task reads it; the rest stands on the back."""
    tank = lookup.fleet.tank_by_code.get(task.tank or "")
    reads_water = rule is not None and any(spec.quantity is ReadingQuantity.WATER_TEMP for spec in rule.readings)
    if tank is None or not reads_water:
        return ""
    band, write = lookup.band(tank), lookup.display(task.site).temperature
    if band.watch_low_c is not None and band.watch_high_c is not None:
        return f"{write(band.watch_low_c)} to {write(band.watch_high_c)}"
    return f"target {write(tank.target_c)}" if band.watch_high_c is None else f"at most {write(band.watch_high_c)}"
