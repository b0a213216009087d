"""Lists and cards of what is on record, as text for people and as plain records for machines."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from fleet.db.repository import Register
from fleet.errors import NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import cells_of
from fleet.outputs.card_text import card_text, list_text, rule_text, rules_text
from fleet.outputs.margin_trail import margin_trail_records, margin_trail_text
from fleet.outputs.records import margin_records, plan_record, task_record
from fleet.outputs.rule_text import own_rule_record, own_rules_text
from fleet.outputs.text import visits_table
from fleet.services.outlook import look_ahead
from fleet.services.rules import own_rules
from fleet.values.catalogue import TaskRule
from fleet.values.fleet import Fleet
from fleet.values.overrides import RuleOverride
from fleet.values.register import ALWAYS
from fleet.values.vocabulary import SubjectKind, UnitSystem

FILE_OF_KIND = {
    SubjectKind.CLIENT: "clients",
    SubjectKind.SITE: "sites",
    SubjectKind.ROOM: "rooms",
    SubjectKind.TANK: "tanks",
    SubjectKind.DEVICE: "devices",
    SubjectKind.EQUIPMENT: "equipment",
    SubjectKind.TECHNICIAN: "technicians",
}


def list_of(url: str, file: str, *, today: date) -> tuple[str, list[dict[str, Any]]]:
    """Every row of a file that holds on `today`: as a table (empty where there is none) and as records."""
    with Register.open(url, read_only=True) as register:
        fleet = register.snapshot(today)
    rows = getattr(fleet, file)
    if not rows:
        return "", []
    cells = [cells_of(file, row, _units(fleet, _code(row))) for row in rows]
    return list_text(file, cells), [plain_record(row) for row in rows]


def card_of(url: str, code: str, *, today: date) -> tuple[str, dict[str, Any]]:
    """Everything known, assumed, planned and done of the subject with this code. Raises NotFound."""
    with Register.open(url, read_only=True) as register:
        outlook = look_ahead(register, today)
    fleet = outlook.fleet
    if code not in fleet.kind_by_code:
        near = difflib.get_close_matches(code, list(fleet.kind_by_code), n=1)
        raise NotFound(f"nothing has the code {code!r} on {today}" + (f"; is it {near[0]}?" if near else ""))
    kind = fleet.kind_by_code[code]
    file = FILE_OF_KIND[kind]
    row = next(row for row in getattr(fleet, file) if row.code == code)
    cells = cells_of(file, row, _units(fleet, code))
    text = card_text(code, cells, outlook.plan, fleet, outlook.catalogue, outlook.assessments)
    record = {
        "code": code,
        "kind": str(kind),
        "facts": plain_record(row),
        "assessments": margin_records(result for result in outlook.assessments if result.tank == code),
        "tasks": [task_record(task, fleet) for task in outlook.plan.tasks if task.subject == code],
        "history": [plain_record(done) for done in fleet.history_by_subject.get(code, ())],
        "readings": [plain_record(reading) for reading in fleet.readings_by_subject.get(code, ())],
    }
    return text, record


def rounds_list(url: str, *, today: date, technician: str | None, on: date | None) -> tuple[str, list[dict[str, Any]]]:
    """The visits planned from `today` on, of one technician and on one day where they are named. Raises NotFound."""
    with Register.open(url, read_only=True) as register:
        outlook = look_ahead(register, today)
    if technician is not None and technician not in outlook.fleet.technician_by_code:
        raise NotFound(f"no technician {technician!r} on record; `fleet show technicians` lists them")
    visits = tuple(
        visit for visit in outlook.plan.visits if technician in (None, visit.technician) and on in (None, visit.day)
    )
    plan = replace(outlook.plan, tasks=(), visits=visits, unplaced=())
    return visits_table(plan, outlook.fleet), plan_record(plan, outlook.fleet)["visits"]


def rules_list(url: str, rule: str | None) -> tuple[str, list[dict[str, Any]]]:
    """The catalogue, or one service task of it, with what people have set in its place. Raises NotFound for an unknown
    id."""
    catalogue = read_catalogue()
    own = own_rules(url)
    if rule is None:
        text = rules_text(catalogue)
        if own:
            text += f"\n\nSet by people, in the place of the above:\n{own_rules_text(own)}"
        return text, [_rule_record(row, own) for row in catalogue.rules]
    if rule not in catalogue.rule_by_id:
        near = difflib.get_close_matches(rule, list(catalogue.rule_by_id), n=1)
        raise NotFound(f"no service task {rule!r} in the catalogue" + (f"; is it {near[0]}?" if near else ""))
    found = catalogue.rule_by_id[rule]
    text, theirs = rule_text(found, catalogue), [one for one in own if one.rule == rule]
    if theirs:
        text += f"\n\nSet by people, in the place of the above:\n{own_rules_text(theirs)}"
    return text, [_rule_record(found, own)]


def _rule_record(rule: TaskRule, own: Sequence[RuleOverride]) -> dict[str, Any]:
    return {**plain_record(rule), "own": [own_rule_record(one) for one in own if one.rule == rule.id]}


def overrides_list(url: str) -> tuple[str, list[dict[str, Any]]]:
    """What people have set for service tasks, by task and scope."""
    own = own_rules(url)
    return own_rules_text(own), [own_rule_record(one) for one in own]


def margins_list(url: str, tank: str | None, *, today: date) -> tuple[str, list[dict[str, Any]]]:
    """The margins on the trail, of one tank or of all, oldest first. Raises NotFound for a tank not on record."""
    with Register.open(url, read_only=True) as register:
        fleet, checks = register.snapshot(today), register.margin_checks(tank)
    if tank is not None and not checks and tank not in fleet.tank_by_code:
        raise NotFound(f"no tank {tank!r} on record on {today}")
    return margin_trail_text(checks, fleet), margin_trail_records(checks)


def plain_record(row: Any) -> dict[str, Any]:
    """A frozen row as plain JSON values: SI numbers, ISO days, exact decimals as text."""
    return {name: _plain(value) for name, value in asdict(row).items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if value == ALWAYS and isinstance(value, date):
        return None
    if isinstance(value, (date, datetime, time)):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def _code(row: Any) -> str:
    """The code that a row's own units follow: its own, or that of what it belongs to."""
    for field in ("code", "tank", "device", "subject", "site", "technician"):
        if hasattr(row, field) and getattr(row, field):
            return str(getattr(row, field))
    return ""


def _units(fleet: Fleet, code: str) -> UnitSystem | None:
    site = fleet.site_of(code)
    client = fleet.client_by_code.get(fleet.site_by_code[site].client) if site in fleet.site_by_code else None
    return client.units if client else None
