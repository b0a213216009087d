"""Writes a dated change, and says what it does to the margins and which tasks it causes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from hashlib import blake2b
from typing import Any

from fleet.db.repository import MarginCheck, Register
from fleet.errors import BadInput, NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import cells_of, row_from_cells
from fleet.planning.plan import make_plan
from fleet.services.context import context_of
from fleet.services.margins_changed import margin_changes
from fleet.services.outlook import PLAN_DAYS
from fleet.thermal.assess import assess
from fleet.thermal.output_share import output_shares
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet, holds_on, snapshot
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Plan, Task
from fleet.values.register import NATURAL_KEYS, RegisterRows
from fleet.values.vocabulary import CauseKind


@dataclass(frozen=True, slots=True)
class Changeable:
    """A kind of fact that can be changed: its file, the columns that name it, and whether rows have an end."""

    file: str
    key_columns: tuple[str, ...]
    spanned: bool


CHANGEABLE: dict[str, Changeable] = {
    "load": Changeable("loads", ("tank", "name"), spanned=True),
    "animals": Changeable("animals", ("tank", "group"), spanned=True),
    "place": Changeable("placements", ("device",), spanned=True),
    "duty": Changeable("duties", ("device", "tank"), spanned=True),
    "room": Changeable("rooms", ("code",), spanned=False),
    "tank": Changeable("tanks", ("code",), spanned=False),
    "health": Changeable("tanks", ("code",), spanned=False),
    "plate": Changeable("devices", ("code",), spanned=False),
}


@dataclass(frozen=True, slots=True)
class ChangeResult:
    """The margins of the tanks concerned without and with the change, and the tasks that the change causes."""

    fleet: Fleet
    before: tuple[Assessment, ...]
    after: tuple[Assessment, ...]
    tasks: tuple[Task, ...]
    altered: bool


def change_fact(
    url: str,
    what: str,
    key: Sequence[str],
    cells: Mapping[str, str],
    *,
    since: date,
    end: bool,
    who: str,
    now: datetime,
    today: date,
) -> ChangeResult:
    """Makes the fact named by `what` and `key` hold with the new `cells` from `since` on (or end there).

    A fact that already began on `since` is corrected in place. Raises NotFound for unknown codes and BadInput
    for cells that cannot be taken; then nothing is written.
    """
    kind = CHANGEABLE[what]
    if len(key) != len(kind.key_columns):
        raise BadInput(f"`fleet change {what}` needs {', then '.join(column.upper() for column in kind.key_columns)}")
    named = dict(zip(kind.key_columns, key, strict=True))
    with Register.open(url, read_only=True) as register:
        rows, saved, versions = register.rows(), register.saved_plan(), register.versions(kind.file)
        overrides = register.rule_overrides()
    edits = _edits(rows, kind, named, cells, since, end)
    part = replace(RegisterRows(), **{kind.file: tuple(edits)})
    with Register.open(url) as register:
        expected = {kind.file: versions}
        count = register.save_rows(part, who=who, now=now, reason=f"change of {what}", expected=expected)
    changed = _overlaid(rows, kind.file, edits)
    day = max(since, today)
    result = _compare(rows, changed, read_catalogue(), key, saved, overrides, day, today)
    cause = f"change of {what} {' '.join(key)} from {since}"
    with Register.open(url) as register:
        checks = margin_checks(snapshot(rows, day), result.before, f"before {cause}", now)
        register.save_margin_checks([*checks, *margin_checks(result.fleet, result.after, f"after {cause}", now)])
    return replace(result, altered=bool(count.added or count.changed))


def margin_checks(fleet: Fleet, assessments: Sequence[Assessment], cause: str, now: datetime) -> list[MarginCheck]:
    """The margins as the trail keeps them, each with the cause it was worked out for."""
    return [
        MarginCheck.of(row, day=fleet.day, cause=cause, inputs_digest=_inputs_digest(fleet, row.tank), at=now)
        for row in assessments
    ]


def _inputs_digest(fleet: Fleet, tank: str) -> str:
    """Tells the figures behind one tank's margin from others: the same facts, the same digest."""
    row = fleet.tank_by_code[tank]
    duties = fleet.duties_by_tank.get(tank, ())
    inputs = (
        fleet.day,
        row,
        fleet.room_by_code[row.room],
        fleet.loads_by_tank.get(tank, ()),
        fleet.animals_by_tank.get(tank, ()),
        duties,
        [(fleet.device_by_code[duty.device], fleet.placement_by_device.get(duty.device)) for duty in duties],
    )
    return blake2b(repr(inputs).encode(), digest_size=16).hexdigest()


def _edits(
    rows: RegisterRows,
    kind: Changeable,
    named: Mapping[str, str],
    cells: Mapping[str, str],
    since: date,
    end: bool,
) -> list[Any]:
    own = [
        row for row in getattr(rows, kind.file) if all(getattr(row, column) == code for column, code in named.items())
    ]
    if kind.spanned:
        standing = next((row for row in own if holds_on(row.since, row.until, since)), None)
    else:
        begun = sorted((row for row in own if row.since <= since), key=lambda row: row.since)
        standing = begun[-1] if begun else None
    if end:
        if not kind.spanned or standing is None:
            raise NotFound(f"nothing on record to end: {' '.join(named.values())} on {since}")
        return [replace(standing, until=since)]
    if standing is None and not kind.spanned:
        raise NotFound(f"no {' '.join(named.values())!r} on record on {since}")
    stated = cells_of(kind.file, standing) if standing is not None else dict(named)
    stated = {**stated, **cells, "since": since.isoformat()}
    context = context_of(rows)
    row = row_from_cells(kind.file, stated, context.known, context.time_zones, context.words)
    if kind.spanned and standing is not None and standing.since < since:
        return [replace(standing, until=since), row]
    return [row]


def _overlaid(rows: RegisterRows, file: str, edits: Sequence[Any]) -> RegisterRows:
    fields = NATURAL_KEYS[file]
    by_key = {tuple(getattr(row, field) for field in fields): row for row in getattr(rows, file)}
    by_key.update((tuple(getattr(row, field) for field in fields), row) for row in edits)
    return replace(rows, **{file: tuple(by_key.values())})


def _compare(
    rows: RegisterRows,
    changed: RegisterRows,
    catalogue: Catalogue,
    key: Sequence[str],
    saved: Plan | None,
    overrides: Sequence[RuleOverride],
    day: date,
    today: date,
) -> ChangeResult:
    """Both registers assessed on the same day, so that only the change makes the difference.

    The tanks that the change does not concern are assessed once, for both plans.
    """
    fleet_before, fleet_after = snapshot(rows, day), snapshot(changed, day)
    tanks = {tank for code in key for fleet in (fleet_before, fleet_after) for tank in fleet.tanks_of(code)}
    before, after = (
        assess(fleet, catalogue.class_by_code, tanks=tanks & fleet.tank_by_code.keys())
        for fleet in (fleet_before, fleet_after)
    )
    others = fleet_before.tank_by_code.keys() - tanks
    rest = assess(fleet_before, catalogue.class_by_code, tanks=others) if others else ()
    plan_before = plan_of(rows, catalogue, (*rest, *before), saved, overrides, today)
    plan_after = plan_of(changed, catalogue, (*rest, *after), saved, overrides, today)
    caused = newly_caused(plan_before, plan_after)
    return ChangeResult(fleet_after, before, after, caused, altered=False)


def newly_caused(before: Plan, after: Plan) -> tuple[Task, ...]:
    """The tasks that a change or an event brought into the plan."""
    return tuple(
        task
        for task in after.tasks
        if task.key not in before.task_by_key and task.cause.kind in (CauseKind.CHANGE, CauseKind.EVENT)
    )


def plan_of(
    rows: RegisterRows,
    catalogue: Catalogue,
    assessments: Sequence[Assessment],
    saved: Plan | None,
    overrides: Sequence[RuleOverride],
    today: date,
) -> Plan:
    """The plan that these rows would have, starting from the plan saved last."""
    fleet = snapshot(rows, today)
    through = today + timedelta(days=PLAN_DAYS)
    return make_plan(
        fleet,
        catalogue,
        assessments=assessments,
        margin_changes=margin_changes(rows, fleet, catalogue, through),
        previous=saved,
        today=today,
        through=through,
        overrides=overrides,
        output_shares=output_shares(fleet),
    )
