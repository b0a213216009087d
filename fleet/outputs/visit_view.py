"""The service sheet of one visit, as flat rows of finished text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from fleet.outputs.lookup import Lookup
from fleet.outputs.people import ContactRow, StopRow, contact_rows, stop_rows
from fleet.outputs.readings import expected_words, last_words
from fleet.outputs.words import (
    LATE,
    capital,
    clock,
    count_words,
    how_often,
    in_display_units,
    long_day,
    minutes_words,
    plain,
    short_day,
)
from fleet.values.catalogue import Hazard, TaskRule
from fleet.values.plan import Plan, Task, Visit
from fleet.values.vocabulary import Finding, Health

FINDINGS = tuple(plain(finding) for finding in Finding)
HEALTH_ADVICE = {
    Health.UNKNOWN: "Health status unknown: after the clean systems, with disinfected kit.",
    Health.QUARANTINE: "Quarantine: own kit, and nothing goes back to other tanks undisinfected.",
    Health.SICK: "Sick system: last of all, own kit, and nothing goes back to other tanks undisinfected.",
}


@dataclass(frozen=True, slots=True)
class ReadingRow:
    label: str
    last: str
    expected: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard text. `code` is what later tasks refer to."""

    code: str
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class TaskBlock:
    """One task. `cautions` are printed in full here for the first time on the sheet, `again` names those above."""

    key: str
    title: str
    subject: str
    plate: str
    facts: str
    due: str
    late: bool
    why: str
    last_time: str
    cautions: tuple[Caution, ...]
    again: str
    steps: tuple[str, ...]
    readings: tuple[ReadingRow, ...]
    acceptance: str


@dataclass(frozen=True, slots=True)
class TankBlock:
    """Tasks that follow each other on one tank, or on the site as a whole."""

    heading: str
    card: str
    advice: str
    notes: str
    tasks: tuple[TaskBlock, ...]


@dataclass(frozen=True, slots=True)
class VisitSheet:
    key: str
    site: str
    client: str
    address: str
    day: str
    times: str
    technician: str
    work: str
    two_people: bool
    access_notes: str
    contacts: tuple[ContactRow, ...]
    tools: tuple[str, ...]
    consumables: tuple[str, ...]
    stops: tuple[StopRow, ...]
    blocks: tuple[TankBlock, ...]
    findings: tuple[str, ...]
    closing: str


class SheetMaker:
    """Makes the sheets of a plan's visits. `cards` holds the file name of each tank's card."""

    def __init__(self, plan: Plan, lookup: Lookup, cards: dict[str, str], closing: str) -> None:
        self.plan, self.lookup, self.cards, self.closing = plan, lookup, cards, closing

    def sheet(self, visit: Visit) -> VisitSheet:
        """Everything the person who makes the visit needs on paper."""
        lookup, fleet = self.lookup, self.lookup.fleet
        tasks = [self.plan.task_by_key[key] for key in visit.tasks if key in self.plan.task_by_key]
        rules = [lookup.catalogue.rule_by_id[task.rule] for task in tasks if task.rule in lookup.catalogue.rule_by_id]
        hazards = [hazard for task in tasks for hazard in self._hazards(task)]
        site = fleet.site_by_code.get(visit.site)
        zone = lookup.zone(visit.site)
        return VisitSheet(
            key=visit.key,
            site=lookup.name(visit.site),
            client=lookup.name(site.client) if site else "",
            address=(site.address or "") if site else "",
            day=long_day(visit.day),
            times=f"{clock(visit.start, zone)} to {clock(visit.end, zone)}",
            technician=lookup.people(visit) if visit.technician else "",
            work=f"{count_words(len(tasks), 'task')}, {minutes_words(visit.minutes)}",
            two_people=any(task.persons > 1 for task in tasks),
            access_notes=(site.access_notes or "") if site else "",
            contacts=contact_rows(visit.site, lookup),
            tools=tuple(sorted({tool for rule in rules for tool in rule.tools}, key=str.casefold)),
            consumables=summed_consumables(rules),
            stops=stop_rows(rules, hazards, visit.site, lookup),
            blocks=self._blocks(tasks),
            findings=FINDINGS,
            closing=self.closing,
        )

    def _blocks(self, tasks: Sequence[Task]) -> tuple[TankBlock, ...]:
        """Tasks in the order given: a tank comes again where other work belongs between its tasks."""
        blocks, printed, seen = [], set[str](), set[str]()
        for code, group in groupby(tasks, key=lambda task: task.tank or ""):
            tank = self.lookup.fleet.tank_by_code.get(code)
            heading = self.lookup.label(code) if code else "The site as a whole"
            rows = tuple(self._task(task, printed) for task in group)
            blocks.append(
                TankBlock(
                    heading=f"{heading}, once more" if code in seen else heading,
                    card=self.cards.get(code, ""),
                    advice=HEALTH_ADVICE.get(tank.health, "") if tank and tank.health else "",
                    notes=(tank.notes or "") if tank and code not in seen else "",
                    tasks=rows,
                )
            )
            seen.add(code)
        return tuple(blocks)

    def _hazards(self, task: Task) -> tuple[Hazard, ...]:
        rule = self.lookup.catalogue.rule_by_id.get(task.rule)
        if rule is None:
            return ()
        device = self.lookup.fleet.device_by_code.get(task.device or "")
        return self.lookup.catalogue.hazards_for(rule, device)

    def _task(self, task: Task, printed: set[str]) -> TaskBlock:
        rule = self.lookup.catalogue.rule_by_id.get(task.rule)
        device = self.lookup.fleet.device_by_code.get(task.subject)
        hazards = self._hazards(task)
        new = [hazard for hazard in hazards if hazard.code not in printed]
        old = [hazard for hazard in hazards if hazard.code in printed]
        printed.update(hazard.code for hazard in new)
        people = "" if task.persons == 1 else f", {task.persons} people"
        return TaskBlock(
            key=task.key,
            title=task.title,
            subject=self.lookup.label(task.subject),
            plate=f"Plate: {device.plate}" if device and device.plate else "",
            facts=f"{minutes_words(task.minutes)}{people}, skill: {plain(task.skill)}",
            due=f"{capital(plain(task.state))}; due {short_day(task.due)}, "
            f"from {short_day(task.earliest)} to {short_day(task.latest)}",
            late=task.state in LATE,
            why=capital(in_display_units(task.cause.text, self.lookup.display(task.site))),
            last_time=self._last_time(task),
            cautions=tuple(Caution(hazard.code, hazard.title, hazard.text) for hazard in new),
            again=", ".join(f"{hazard.code} {hazard.title}" for hazard in old),
            steps=rule.steps if rule else (),
            readings=reading_rows(task, rule, self.lookup),
            acceptance=capital(rule.acceptance) if rule else "",
        )

    def _last_time(self, task: Task) -> str:
        """What was found and noted when the task was last done, by whom."""
        records = self.lookup.records(task.subject, task.rule)
        if not records:
            return ""
        record = records[0]
        parts = [short_day(record.done_on)]
        parts += [plain(record.finding)] if record.finding else []
        parts += [self.lookup.name(record.by)] if record.by else []
        parts += [record.note] if record.note else []
        return ", ".join(parts)


def reading_rows(task: Task, rule: TaskRule | None, lookup: Lookup) -> tuple[ReadingRow, ...]:
    """The readings of a task beside the last ones and the band expected."""
    if rule is None:
        return ()
    return tuple(
        ReadingRow(spec.label, last_words(task, spec, lookup), expected_words(task, spec, lookup))
        for spec in rule.readings
    )


def summed_consumables(rules: Sequence[TaskRule]) -> tuple[str, ...]:
    """What gets used up, each with the sum over all tasks, one line for each name and unit."""
    sums: dict[tuple[str, str], float] = {}
    for rule in rules:
        for item in rule.consumables:
            sums[item.name, item.unit] = sums.get((item.name, item.unit), 0.0) + item.quantity
    ordered = sorted(sums.items(), key=lambda entry: (entry[0][0].casefold(), entry[0][1]))
    return tuple(f"{name}, {quantity:g} {unit}" for (name, unit), quantity in ordered)


def rule_frequency(rule: TaskRule) -> str:
    """How often, or on which occasion, a rule asks for its work."""
    return how_often(rule.interval) or rule.occasion
