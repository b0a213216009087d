"""The service sheet of one visit, as flat rows of finished text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from fleet.outputs.expected import Expectations
from fleet.outputs.lookup import Lookup
from fleet.outputs.people import ContactRow, StopRow, contact_rows, stop_rows
from fleet.outputs.printing import qr_code
from fleet.outputs.readings import last_words
from fleet.outputs.visit_order import Stretch, stretches
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
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Hazard, TaskRule
from fleet.values.plan import Plan, Task, Visit
from fleet.values.vocabulary import DeviceKind, Finding, Health, Where

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
class SubjectRow:
    """One task: the work of its group on one subject, with room for what is found."""

    key: str
    subject: str
    plate: str
    due: str
    late: bool
    why: str
    last_time: str
    readings: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True)
class TaskGroup:
    """One kind of work on one or more subjects. `cautions` are printed in full here for the first time on the sheet,
    `again` names those above; `steps` are empty where `steps_at` names the task above that has them."""

    title: str
    facts: str
    cautions: tuple[Caution, ...]
    again: str
    steps: tuple[str, ...]
    steps_at: str
    acceptance: str
    rows: tuple[SubjectRow, ...]

    @property
    def measured(self) -> bool:
        """Whether any reading is to be taken."""
        return any(row.readings for row in self.rows)


@dataclass(frozen=True, slots=True)
class TankHead:
    """The name of a tank's card and what is noted of the tank."""

    name: str
    card: str
    notes: str


@dataclass(frozen=True, slots=True)
class TankBlock:
    """Work that follows on one tank, on several of the same health that share it, or on the site as a whole."""

    heading: str
    advice: str
    tanks: tuple[TankHead, ...]
    groups: tuple[TaskGroup, ...]


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
    spares: tuple[str, ...]
    stops: tuple[StopRow, ...]
    blocks: tuple[TankBlock, ...]
    findings: tuple[str, ...]
    returns: str
    example: str
    qr: Markup | None
    closing: str


class SheetMaker:
    """Makes the sheets of a plan's visits. `cards` holds the file name of each tank's card, `returns` that of each
    visit's return sheet, `addresses` where each visit's sheet is to be found, as far as known."""

    def __init__(
        self,
        plan: Plan,
        lookup: Lookup,
        cards: Mapping[str, str],
        closing: str,
        *,
        assessments: Sequence[Assessment] = (),
        returns: Mapping[str, str] | None = None,
        addresses: Mapping[str, str] | None = None,
    ) -> None:
        self.plan, self.lookup, self.cards, self.closing = plan, lookup, cards, closing
        self.expectations = Expectations(lookup, assessments)
        self.returns, self.addresses = returns or {}, addresses or {}

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
            spares=spare_units(tasks, self.expectations, lookup),
            stops=stop_rows(rules, hazards, visit.site, lookup),
            blocks=self._blocks(tasks),
            findings=FINDINGS,
            returns=self.returns.get(visit.key, ""),
            example=tasks[0].key if tasks else "KEY",
            qr=qr_code(self.addresses.get(visit.key)),
            closing=self.closing,
        )

    def _blocks(self, tasks: Sequence[Task]) -> tuple[TankBlock, ...]:
        """Tasks in the order given: a tank comes again where other work belongs between its tasks."""
        printed, seen, steps_at = set[str](), set[str](), dict[str, str]()
        blocks = []
        for stretch in stretches(tasks, self._health):
            health = self._health(stretch.tanks[0])
            blocks.append(
                TankBlock(
                    heading=self._heading(stretch, seen),
                    advice=HEALTH_ADVICE.get(health, "") if health else "",
                    tanks=tuple(self._head(code) for code in stretch.tanks if code and code not in seen),
                    groups=tuple(self._group(group, printed, steps_at) for group in stretch.groups),
                )
            )
            seen.update(stretch.tanks)
        return tuple(blocks)

    def _health(self, code: str) -> Health | None:
        tank = self.lookup.fleet.tank_by_code.get(code)
        return tank.health if tank else None

    def _heading(self, stretch: Stretch, seen: set[str]) -> str:
        names = [self.lookup.label(code) if code else "The site as a whole" for code in stretch.tanks]
        words = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        return f"{words}, once more" if seen.issuperset(stretch.tanks) else words

    def _head(self, code: str) -> TankHead:
        tank = self.lookup.fleet.tank_by_code.get(code)
        return TankHead(self.lookup.label(code), self.cards.get(code, ""), (tank.notes or "") if tank else "")

    def _hazards(self, task: Task) -> tuple[Hazard, ...]:
        rule = self.lookup.catalogue.rule_by_id.get(task.rule)
        if rule is None:
            return ()
        device = self.lookup.fleet.device_by_code.get(task.device or "")
        return self.lookup.catalogue.hazards_for(rule, device)

    def _group(self, tasks: Sequence[Task], printed: set[str], steps_at: dict[str, str]) -> TaskGroup:
        first = tasks[0]
        rule = self.lookup.catalogue.rule_by_id.get(first.rule)
        hazards = tuple(dict.fromkeys(hazard for task in tasks for hazard in self._hazards(task)))
        new = [hazard for hazard in hazards if hazard.code not in printed]
        old = [hazard for hazard in hazards if hazard.code in printed]
        printed.update(hazard.code for hazard in new)
        above = steps_at.setdefault(first.rule, first.key)
        known = rule is not None and above == first.key
        minutes = minutes_words(sum(task.minutes for task in tasks))
        together = f"{count_words(len(tasks), 'subject')}, {minutes} together" if len(tasks) > 1 else minutes
        persons = max(task.persons for task in tasks)
        people = "" if persons == 1 else f", {persons} people"
        return TaskGroup(
            title=first.title,
            facts=f"{together}{people}, skill: {plain(first.skill)}",
            cautions=tuple(Caution(hazard.code, hazard.title, hazard.text) for hazard in new),
            again=", ".join(f"{hazard.code} {hazard.title}" for hazard in old),
            steps=rule.steps if rule is not None and known else (),
            steps_at="" if above == first.key else above,
            acceptance=capital(rule.acceptance) if rule is not None and known else "",
            rows=tuple(self._row(task, rule) for task in tasks),
        )

    def _row(self, task: Task, rule: TaskRule | None) -> SubjectRow:
        device = self.lookup.fleet.device_by_code.get(task.subject)
        specs = rule.readings if rule else ()
        return SubjectRow(
            key=task.key,
            subject=self.lookup.label(task.subject),
            plate=f"Plate: {device.plate}" if device and device.plate else "",
            due=f"{capital(plain(task.state))}; due {short_day(task.due)}, "
            f"from {short_day(task.earliest)} to {short_day(task.latest)}",
            late=task.state in LATE,
            why=capital(in_display_units(task.cause.text, self.lookup.display(task.site))),
            last_time=self._last_time(task),
            readings=tuple(
                ReadingRow(spec.label, last_words(task, spec, self.lookup), self.expectations.words(task, spec))
                for spec in specs
            ),
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


def spare_units(tasks: Sequence[Task], expectations: Expectations, lookup: Lookup) -> tuple[str, ...]:
    """Units in store of the same kind as a device that is worked on here and was last found wanting, or would trip."""
    kinds: dict[DeviceKind, list[str]] = {}
    for task in tasks:
        device = lookup.fleet.device_by_code.get(task.device or task.subject)
        if device is None:
            continue
        found = lookup.fleet.history_by_subject.get(device.code, ())
        capacity = expectations.capacity(task)
        wanting = bool(found) and found[-1].finding in (Finding.DEGRADED, Finding.FAULT)
        names = kinds.setdefault(device.kind, [])
        if (wanting or (capacity is not None and capacity.trips)) and lookup.label(device.code) not in names:
            names.append(lookup.label(device.code))
    rows = []
    for spare in lookup.fleet.devices:
        served, place = kinds.get(spare.kind, []), lookup.fleet.placement_by_device.get(spare.code)
        if served and place is not None and place.where is Where.STORE:
            rows.append(
                f"spare {plain(spare.kind)}, 1 piece: {lookup.label(spare.code)}, from the store, "
                f"for {' or '.join(served)}"
            )
    return tuple(rows)


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
