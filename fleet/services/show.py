"""Lists and cards of what is on record, as text for people and as plain records for machines."""

from __future__ import annotations

import difflib
from dataclasses import asdict, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from fleet.db.repository import Register
from fleet.errors import NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import cells_of
from fleet.outputs.card_text import card_text, list_text, rule_text, rules_text
from fleet.outputs.records import margin_records, plan_record, task_record
from fleet.outputs.text import visits_table
from fleet.services.outlook import look_ahead
from fleet.values.fleet import Fleet
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


def rules_list(rule: str | None) -> tuple[str, list[dict[str, Any]]]:
    """The catalogue, or one service task of it. Raises NotFound for an unknown id."""
    catalogue = read_catalogue()
    if rule is None:
        return rules_text(catalogue), [plain_record(row) for row in catalogue.rules]
    if rule not in catalogue.rule_by_id:
        near = difflib.get_close_matches(rule, list(catalogue.rule_by_id), n=1)
        raise NotFound(f"no service task {rule!r} in the catalogue" + (f"; is it {near[0]}?" if near else ""))
    found = catalogue.rule_by_id[rule]
    return rule_text(found, catalogue), [plain_record(found)]


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
