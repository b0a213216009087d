"""Cards and lists of what is on record, as a terminal shows them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from fleet.outputs.columns import FAINT, Cell, Row, in_columns, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.people import contact_rows
from fleet.outputs.readings import quantity_name, value_words
from fleet.outputs.tank_view import CardMaker, TankCard
from fleet.outputs.words import (
    CLOSED,
    basis_words,
    clock,
    count_words,
    minutes_words,
    near_day,
    plain,
    short_day,
    since_words,
)
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue, TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task
from fleet.values.vocabulary import SubjectKind

LISTED_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "clients": ("code", "name", "kind", "units", "contact"),
    "sites": ("code", "name", "client", "time_zone", "visit_days", "visit_from", "visit_to"),
    "contacts": ("site", "role", "name", "phone"),
    "rooms": ("code", "name", "site", "air_conditioned", "hot_day_mean", "conditions"),
    "tanks": ("code", "name", "room", "kind", "net_volume", "target", "health"),
    "loads": ("tank", "name", "kind", "power", "hours_per_day", "mounting", "since"),
    "animals": ("tank", "group", "class", "count", "since"),
    "devices": ("code", "kind", "name", "plate", "refrigerant", "installed"),
    "placements": ("device", "where", "room", "stand_of", "clearance", "since"),
    "duties": ("device", "tank", "role", "since"),
    "equipment": ("code", "kind", "name", "tank", "site", "installed"),
    "technicians": ("code", "name", "skills", "licence", "licence_until"),
    "absences": ("technician", "since", "until", "reason"),
    "closures": ("site", "since", "until", "reason"),
    "events": ("subject", "event", "on", "by", "note"),
    "history": ("done_on", "subject", "task", "finding", "by", "note"),
    "readings": ("taken_at", "subject", "quantity", "value", "by"),
}
"""What a list shows of each file; a card and an export show every column."""

MOST_LINES = 12
LONGEST = 200
"""Characters of a cell on a card, where whole sentences stand."""


def list_text(file: str, rows: Sequence[Mapping[str, str]]) -> str:
    """One line for each row, given as its cells by column name; columns that are empty throughout are left out."""
    columns = [name for name in LISTED_COLUMNS[file] if any(row.get(name) for row in rows)]
    lines: list[Row] = [[Cell(name.replace("_", " "), FAINT) for name in columns]]
    lines += [[row.get(name, "") for name in columns] for row in rows]
    return "\n".join(in_columns(lines))


def rules_text(catalogue: Catalogue) -> str:
    """One line for each service task of the catalogue."""
    lines: list[Row] = [[Cell(name, FAINT) for name in ("task", "title", "usual interval", "class", "skill", "by")]]
    for rule in catalogue.rules:
        interval = str(rule.interval.typical) if rule.interval else "on an event or a season"
        lines.append([rule.id, rule.title, interval, rule.tolerance, rule.skill, plain(rule.performed_by)])
    return "\n".join(in_columns(lines))


def rule_text(rule: TaskRule, catalogue: Catalogue) -> str:
    """One service task whole: when, how, what to bring, what to expect, its cautions and its source."""
    facts: list[Row] = [["class", rule.tolerance], ["work", f"{minutes_words(rule.minutes)}, skill {rule.skill}"]]
    if rule.interval is not None:
        spans = rule.interval
        facts.append(["interval", f"{spans.minimum} / {spans.typical} / {spans.maximum} (shortest, usual, longest)"])
    facts += [["bring", ", ".join(rule.tools)]] if rule.tools else []
    facts += [["used up", f"{item.name}, {item.quantity:g} {item.unit}"] for item in rule.consumables]
    lines = [f"{rule.id}  {rule.title}", "", *in_columns(facts, indent=2), ""]
    lines += [f"  {number}. {step}" for number, step in enumerate(rule.steps, start=1)]
    lines += ["", f"Sound when: {rule.acceptance}"]
    for code in rule.hazards:
        hazard = catalogue.hazard_by_code[code]
        lines += ["", f"{hazard.title}. {hazard.text}"]
    lines += ["", f"Basis: {basis_words(rule.basis, rule.source)}"]
    return "\n".join(lines)


def card_text(
    code: str,
    cells: Mapping[str, str],
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    assessments: Sequence[Assessment],
) -> str:
    """Everything known, assumed, planned and done of one subject, for staff. `cells` are its register row by column.
    Raises KeyError for an unknown code."""
    lookup = Lookup(fleet, catalogue)
    kind = fleet.kind_by_code[code]
    site = fleet.site_of(code)
    display = lookup.display(site)
    lines = [typed(f"{lookup.label(code)}, {kind}", LONGEST)]
    if site is not None and site != code:
        lines.append(f"at {typed(lookup.label(site), LONGEST)}")
    lines += ["", *_facts(cells)]
    if kind is SubjectKind.TANK:
        lines += _tank_lines(CardMaker(plan, lookup, assessments).card(fleet.tank_by_code[code]))
    lines += _relations(code, kind, lookup, display)
    if kind is SubjectKind.SITE:
        lines += _section("Not planned, as nothing of the kind is on record", _not_on_record(code, plan, lookup))
        lines += _section("Whom to call", [[x.role, x.name, x.phone, x.tested] for x in contact_rows(code, lookup)])
    lines += _section("Visits", _visits(code, plan, lookup))
    lines += _section("To do", _to_do(code, kind, plan, lookup))
    lines += _section("Last readings", _readings(code, lookup, display))
    lines += _section("Done", _done(code, lookup))
    return "\n".join(lines)


def _facts(cells: Mapping[str, str]) -> list[str]:
    """The columns on record, then the names of those that are empty."""
    named = {column.replace("_", " "): value for column, value in cells.items() if column not in ("code", "name")}
    lines = in_columns([[name, value] for name, value in named.items() if value], indent=2, longest=LONGEST)
    empty = [name for name, value in named.items() if not value and name not in ("since", "until")]
    return [*lines, f"  Not on record: {', '.join(empty)}"] if empty else lines


def _section(title: str, rows: Sequence[Row]) -> list[str]:
    if not rows:
        return []
    more = [f"  and {len(rows) - MOST_LINES} more"] if len(rows) > MOST_LINES else []
    return ["", title, *in_columns(rows[:MOST_LINES], indent=2, longest=LONGEST), *more]


def _tank_lines(made: TankCard) -> list[str]:
    lines = _section("Limits", [[fact.name, *fact.values] for fact in made.limits])
    lines += _section("What heats it and lives in it", [[line] for line in made.contents])
    devices: list[Row] = [[row.device, row.role, row.place, row.capacity] for row in made.devices]
    lines += _section("What cools it", devices)
    lines += [
        "  " + typed(f"{row.device}: {text}", LONGEST)
        for row in made.devices
        for text in (row.condition, *row.notes)
        if text
    ]
    if made.balance:
        heading: Row = ["", *made.scenarios]
        lines += _section("Heat balance, estimated", [heading, *([x.name, *x.values] for x in made.balance)])
        lines += _section("Time to the limit, estimated", [heading, *([x.name, *x.values] for x in made.hours)])
    lines += _section("Take note", [[note] for note in made.notes])
    lines += _section("Assumed, as it is not on record", [[phrase] for phrase in made.assumed])
    return [*lines, "", made.estimate]


def _not_on_record(site: str, plan: Plan, lookup: Lookup) -> list[Row]:
    return [[lookup.title(rule)] for rule in plan.not_on_record.get(site, ())]


def _relations(code: str, kind: SubjectKind, lookup: Lookup, display: Display) -> list[str]:
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
        return _section("Where and what for", rows)
    if kind is SubjectKind.CLIENT:
        sites = [site.code for site in fleet.sites if site.client == code]
        return _section("Sites", [[lookup.label(site)] for site in sites])
    if kind in (SubjectKind.SITE, SubjectKind.ROOM):
        return _section("Tanks", [[lookup.label(tank)] for tank in fleet.tanks_of(code)])
    return []


def _visits(code: str, plan: Plan, lookup: Lookup) -> list[Row]:
    """The visits at a site or of a technician."""
    rows: list[Row] = []
    for visit in sorted(plan.visits, key=lambda visit: (visit.start, visit.key)):
        if code in (visit.site, visit.technician, visit.second_technician):
            zone = lookup.zone(visit.site)
            who = lookup.people(visit)
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
