"""The card of one subject on the terminal: what is on record and what is not, computed, to do, done and measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from datetime import date, time
from enum import StrEnum
from typing import Any

from fleet.outputs.cleaning import clean
from fleet.outputs.columns import BOLD, Row, in_columns, painted, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.people import contact_rows
from fleet.outputs.readings import quantity_name, value_words
from fleet.outputs.tank_view import CardMaker, TankCard
from fleet.outputs.words import CLOSED, WEEKDAYS, clock, count_words, near_day, plain, short_day, since_words
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task
from fleet.values.register import ALWAYS, YearSpan
from fleet.values.vocabulary import SubjectKind

MOST_LINES = 12
LONGEST = 200
"""Characters of a cell on a card, where whole sentences stand."""

SKIPPED = ("code", "name")


def card(
    code: str,
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    assessments: Sequence[Assessment] = (),
    *,
    colour: bool = False,
) -> str:
    """Everything that is known of the subject with this code, for staff. Raises KeyError for an unknown code."""
    lookup = Lookup(fleet, catalogue)
    kind = fleet.kind_by_code[code]
    site = fleet.site_of(code)
    display = lookup.display(site)
    row = _row_of(code, kind, fleet)
    known, unknown = _facts(row, display)
    lines = [painted(typed(f"{lookup.label(code)}, {kind}", LONGEST), BOLD if colour else "")]
    if site is not None and site != code:
        lines.append(f"at {typed(lookup.label(site), LONGEST)}")
    lines += ["", *in_columns(known, indent=2, longest=LONGEST)]
    if unknown:
        lines.append(f"  Not on record: {', '.join(unknown)}")
    if kind is SubjectKind.TANK:
        lines += _tank_lines(CardMaker(plan, lookup, assessments).card(fleet.tank_by_code[code]), colour)
    lines += _relations(code, kind, lookup, display, colour)
    if kind is SubjectKind.SITE:
        contacts: list[Row] = [[row.role, row.name, row.phone, row.tested] for row in contact_rows(code, lookup)]
        lines += _section("Whom to call", contacts, colour)
    lines += _section("Visits", _visits(code, plan, lookup), colour)
    lines += _section("To do", _to_do(code, kind, plan, lookup), colour)
    lines += _section("Last readings", _readings(code, lookup, display), colour)
    lines += _section("Done", _done(code, lookup), colour)
    return "\n".join(lines)


def _row_of(code: str, kind: SubjectKind, fleet: Fleet) -> Any:
    rows: dict[SubjectKind, dict[str, Any]] = {
        SubjectKind.CLIENT: dict(fleet.client_by_code),
        SubjectKind.SITE: dict(fleet.site_by_code),
        SubjectKind.ROOM: dict(fleet.room_by_code),
        SubjectKind.TANK: dict(fleet.tank_by_code),
        SubjectKind.DEVICE: dict(fleet.device_by_code),
        SubjectKind.EQUIPMENT: dict(fleet.equipment_by_code),
        SubjectKind.TECHNICIAN: dict(fleet.technician_by_code),
    }
    return rows[kind][code]


def _facts(row: Any, display: Display) -> tuple[list[Row], list[str]]:
    """The fields on record as rows, and the names of those that are not."""
    known: list[Row] = []
    unknown: list[str] = []
    for field in fields(row):
        if field.name in SKIPPED:
            continue
        value = getattr(row, field.name)
        name, words = _named(field.name, value, display)
        if value is None or value == ():
            unknown.append(name)
        elif value != ALWAYS:
            known.append([name, words])
    return known, unknown


def _named(field: str, value: Any, display: Display) -> tuple[str, str]:
    """A field's name without its unit, and its value with the unit."""
    for ending, write in (
        ("_m3_h", display.flow),
        ("_m3", display.volume),
        ("_c", display.temperature),
        ("_k", display.difference),
        ("_kg", display.mass),
        ("_w", display.power),
        ("_m", display.length),
    ):
        if field.endswith(ending) and "_per_" not in field:
            name = field.removesuffix(ending).replace("_", " ")
            return name, write(value) if value is not None else ""
    name = field.replace("_", " ")
    if field == "relative_humidity" and value is not None:
        return name, f"{value * 100:.0f} %"
    if field in ("visit_days", "work_days") and value is not None:
        return name, ", ".join(WEEKDAYS[day] for day in value)
    return name, _words(value)


def _words(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, StrEnum):
        return plain(value)
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, date):
        return short_day(value)
    if isinstance(value, YearSpan):
        return f"{value.first_month:02d}-{value.first_day:02d} to {value.last_month:02d}-{value.last_day:02d}"
    if isinstance(value, tuple):
        return ", ".join(_words(item) for item in value)
    return "" if value is None else str(value)


def _section(title: str, rows: Sequence[Row], colour: bool) -> list[str]:
    if not rows:
        return []
    more = [f"  and {len(rows) - MOST_LINES} more"] if len(rows) > MOST_LINES else []
    heading = painted(title, BOLD if colour else "")
    return ["", heading, *in_columns(rows[:MOST_LINES], indent=2, colour=colour, longest=LONGEST), *more]


def _tank_lines(made: TankCard, colour: bool) -> list[str]:
    lines = _section("Limits", [[fact.name, *fact.values] for fact in made.limits], colour)
    lines += _section("Loads and animals", [[line] for line in made.contents], colour)
    if made.balance:
        heading: Row = ["", *made.scenarios]
        lines += _section("Heat balance, estimated", [heading, *([f.name, *f.values] for f in made.balance)], colour)
        lines += _section("Time to the limit", [heading, *([f.name, *f.values] for f in made.hours)], colour)
    lines += [f"  {clean(note)}" for note in made.notes]
    if made.assumed:
        lines.append(f"  Assumed: {'; '.join(map(clean, made.assumed))}")
    devices: list[Row] = [[row.device, row.role, row.place, row.capacity, row.condition] for row in made.devices]
    lines += _section("Cooling devices", devices, colour)
    return lines


def _relations(code: str, kind: SubjectKind, lookup: Lookup, display: Display, colour: bool) -> list[str]:
    fleet = lookup.fleet
    if kind is SubjectKind.DEVICE:
        rows: list[Row] = [
            [f"cools {lookup.label(duty.tank)}", plain(duty.role or "duty"), f"since {since_words(duty.since)}"]
            for duty in fleet.duties_by_device.get(code, ())
        ]
        placement = fleet.placement_by_device.get(code)
        if placement is not None:
            clear = f"{display.length(placement.clearance_m)} clear" if placement.clearance_m is not None else ""
            where = plain(placement.where) + (f" of {placement.stand_of}" if placement.stand_of else "")
            rows.append([f"stands {where}", clear, f"since {since_words(placement.since)}"])
        return _section("Where and what for", rows, colour)
    if kind is SubjectKind.CLIENT:
        sites = [site.code for site in fleet.sites if site.client == code]
        return _section("Sites", [[lookup.label(site)] for site in sites], colour)
    if kind in (SubjectKind.SITE, SubjectKind.ROOM):
        return _section("Tanks", [[lookup.label(tank)] for tank in fleet.tanks_of(code)], colour)
    return []


def _visits(code: str, plan: Plan, lookup: Lookup) -> list[Row]:
    """The visits at a site or of a technician."""
    rows: list[Row] = []
    for visit in sorted(plan.visits, key=lambda visit: (visit.start, visit.key)):
        if code in (visit.site, visit.technician):
            zone = lookup.zone(visit.site)
            who = lookup.name(visit.technician) if visit.technician else "nobody yet"
            times = f"{clock(visit.start, zone)} to {clock(visit.end, zone)}"
            tasks = count_words(len(visit.tasks), "task")
            rows.append([visit.key, near_day(visit.day, plan.today), times, lookup.name(visit.site), who, tasks])
    return rows


def _to_do(code: str, kind: SubjectKind, plan: Plan, lookup: Lookup) -> list[Row]:
    """The open tasks on a subject; for a tank also those on its devices and equipment, for a site all of its own."""
    tasks = sorted(_tasks_of(code, kind, plan), key=lambda task: (task.due, task.key))
    return [
        [task.key, near_day(task.due, plan.today), plain(task.state), task.title, lookup.label(task.subject)]
        for task in tasks
    ]


def _tasks_of(code: str, kind: SubjectKind, plan: Plan) -> Iterable[Task]:
    for task in plan.tasks:
        concerned = (
            task.subject == code
            or (kind is SubjectKind.TANK and task.tank == code)
            or (kind is SubjectKind.SITE and task.site == code)
        )
        if concerned and task.state not in CLOSED:
            yield task


def _readings(code: str, lookup: Lookup, display: Display) -> list[Row]:
    zone = lookup.zone(lookup.fleet.site_of(code))
    return [
        [
            quantity_name(reading.quantity),
            value_words(reading, display),
            short_day(reading.taken_at.astimezone(zone).date()),
        ]
        for reading in lookup.last_readings_of(code)
    ]


def _done(code: str, lookup: Lookup) -> list[Row]:
    return [
        [
            short_day(record.done_on),
            lookup.title(record.task),
            plain(record.finding) if record.finding else "",
            record.by or "",
            record.note or "",
        ]
        for record in reversed(lookup.fleet.history_by_subject.get(code, ()))
    ]
