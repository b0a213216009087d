"""Cards and lists of what is on record, as a terminal shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fleet.outputs.columns import FAINT, Cell, Row, in_columns
from fleet.outputs.lookup import Lookup
from fleet.outputs.readings import quantity_name, value_words
from fleet.outputs.tank_view import CardMaker, Fact, TankCard
from fleet.outputs.words import day_words, minutes_words, plain, short_day
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue, TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan
from fleet.values.vocabulary import PerformedBy, SubjectKind

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

MOST_RECORDS = 12


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
    lines += ["", f"Basis: {rule.basis}" + (f"; {rule.source}" if rule.source else "")]
    return "\n".join(lines)


def card_text(
    code: str,
    cells: Mapping[str, str],
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    assessments: Sequence[Assessment],
) -> str:
    """Everything known, assumed, planned and done of one subject. `cells` are its register row by column."""
    lookup = Lookup(fleet, catalogue)
    lines = [lookup.label(code), "", *_facts(cells)]
    if fleet.kind_by_code[code] is SubjectKind.TANK:
        lines += _tank_lines(CardMaker(plan, lookup, assessments).card(fleet.tank_by_code[code]))
    elif fleet.kind_by_code[code] is SubjectKind.DEVICE:
        lines += _device_lines(code, fleet)
    lines += _due_lines(code, plan)
    lines += _done_lines(code, lookup)
    return "\n".join(lines)


def _facts(cells: Mapping[str, str]) -> list[str]:
    return in_columns([[name.replace("_", " "), value] for name, value in cells.items() if value], indent=2)


def _headed(title: str, lines: Sequence[str]) -> list[str]:
    return ["", title, *lines] if lines else []


def _tank_lines(card: TankCard) -> list[str]:
    def table(facts: Sequence[Fact]) -> list[str]:
        return in_columns([[fact.name, *fact.values] for fact in facts], indent=2)

    devices: list[Row] = [[row.device, row.role, row.place, row.capacity] for row in card.devices]
    conditions = [f"  {row.device}: {text}" for row in card.devices for text in (row.condition, *row.notes) if text]
    scenarios = [["", *card.scenarios]] if card.scenarios else []
    heads = in_columns([*scenarios, *([fact.name, *fact.values] for fact in (*card.balance, *card.hours))], indent=2)
    return [
        *_headed("Limits", table(card.limits)),
        *_headed("What heats it and lives in it", [f"  {line}" for line in card.contents]),
        *_headed("What cools it", [*in_columns(devices, indent=2), *conditions]),
        *_headed("Heat balance", heads if card.scenarios else []),
        *_headed("Take note", [f"  {note}" for note in card.notes]),
        *_headed("Assumed, because not on record", [f"  {phrase}" for phrase in card.assumed]),
        "",
        card.estimate,
    ]


def _device_lines(code: str, fleet: Fleet) -> list[str]:
    duties = [
        f"  {duty.role or 'duty'} on {duty.tank} since {day_words(duty.since)}"
        for duty in fleet.duties_by_device.get(code, ())
    ]
    placement = fleet.placement_by_device.get(code)
    place = []
    if placement is not None:
        words = [plain(placement.where), placement.room or "", f"of {placement.stand_of}" if placement.stand_of else ""]
        place = ["  " + " ".join(word for word in words if word)]
    return [*_headed("Stands", place), *_headed("Cools", duties)]


def _due_lines(code: str, plan: Plan) -> list[str]:
    rows: list[Row] = []
    for task in plan.tasks:
        if task.subject == code and task.performed_by is PerformedBy.VISITOR:
            visit = plan.visit_by_key.get(task.visit or "")
            rows.append(
                [task.key, plain(task.state), day_words(task.due), task.title, day_words(visit.day) if visit else "-"]
            )
    return _headed("To be done (key, state, due, task, visit)", in_columns(rows[:MOST_RECORDS], indent=2))


def _done_lines(code: str, lookup: Lookup) -> list[str]:
    records = lookup.fleet.history_by_subject.get(code, ())[-MOST_RECORDS:]
    rows: list[Row] = [
        [short_day(record.done_on), record.task, record.finding or "", record.by or "", record.note or ""]
        for record in reversed(records)
    ]
    site = lookup.fleet.site_of(code)
    readings: list[Row] = [
        [
            quantity_name(reading.quantity),
            value_words(reading, lookup.display(site)),
            short_day(reading.taken_at.astimezone(lookup.zone(site)).date()),
        ]
        for reading in lookup.last_readings_of(code)
    ]
    return [
        *_headed("Last done", in_columns(rows, indent=2)),
        *_headed("Last readings", in_columns(readings, indent=2)),
    ]
