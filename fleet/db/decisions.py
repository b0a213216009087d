"""What people decided about the rules, and the margins on which decisions rest."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, insert, select, update

from fleet.db.rows_in import Signature
from fleet.db.tables import METADATA
from fleet.db.trail import entry_dict, write_log
from fleet.errors import BadInput, NotFound
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Interval, Span
from fleet.values.overrides import RuleOverride as RuleOverride
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Scenario

_RULE = METADATA.tables["task_rule"]
_MARGIN = METADATA.tables["margin_check"]


def _override_cells(override: RuleOverride) -> dict[str, Any]:
    interval = override.interval
    spans = () if interval is None else (interval.minimum, interval.typical, interval.maximum)
    units = {span.unit for span in spans}
    if len(units) > 1:
        raise BadInput(f"{override.rule}: shortest, usual and longest interval must have one unit")
    counts: list[Any] = [span.count for span in spans] or [None, None, None]
    return {
        "rule": override.rule,
        "scope": override.scope,
        "active": override.active,
        "interval_unit": next(iter(units), None),
        "interval_minimum": counts[0],
        "interval_typical": counts[1],
        "interval_maximum": counts[2],
        "minutes": override.minutes,
        "set_by": override.set_by,
        "reason": override.reason,
    }


_OVERRIDE_COLUMNS = (
    "rule", "scope", "active", "interval_unit", "interval_minimum", "interval_typical", "interval_maximum",
    "minutes", "set_by", "reason",
)  # fmt: skip


def save_rule_override(connection: Connection, override: RuleOverride, signed: Signature) -> None:
    """Adds the override or puts it in the place of the one for the same rule and scope."""
    cells = _override_cells(override)
    key = (override.rule, override.scope)
    columns = [_RULE.c[name] for name in ("id", "version", "withdrawn_at", *_OVERRIDE_COLUMNS)]
    old = connection.execute(
        select(*columns).where(_RULE.c.rule == override.rule, _RULE.c.scope == override.scope)
    ).mappings().first()  # fmt: skip
    if old is None:
        before = None
        connection.execute(insert(_RULE), cells | {"version": 1, "withdrawn_at": None})
    else:
        before = None if old["withdrawn_at"] else {name: old[name] for name in _OVERRIDE_COLUMNS}
        if before == cells:
            return
        connection.execute(
            update(_RULE).where(_RULE.c.id == old["id"]).values(**cells, version=old["version"] + 1, withdrawn_at=None)
        )
    write_log(
        connection,
        [
            entry_dict(
                at=signed.at, who=signed.who, reason=signed.reason, file="task_rule", key=key,
                before=before, after=cells,
            )
        ],
    )  # fmt: skip


def end_rule_override(connection: Connection, rule: str, scope: str, signed: Signature) -> RuleOverride:
    """Takes the override out of force; it stays on the trail. Returns it as it was. Raises NotFound."""
    standing = next((one for one in read_rule_overrides(connection) if (one.rule, one.scope) == (rule, scope)), None)
    if standing is None:
        raise NotFound(f"nothing of its own is set for {rule}" + (f" at {scope}" if scope else ""))
    same = (_RULE.c.rule == rule, _RULE.c.scope == scope)
    connection.execute(update(_RULE).where(*same).values(withdrawn_at=signed.at, version=_RULE.c.version + 1))
    write_log(
        connection,
        [
            entry_dict(
                at=signed.at, who=signed.who, reason=signed.reason, file="task_rule", key=(rule, scope),
                before=_override_cells(standing), after=None,
            )
        ],
    )  # fmt: skip
    return standing


def read_rule_overrides(connection: Connection) -> tuple[RuleOverride, ...]:
    """Every override in force, by rule and scope."""
    found = connection.execute(select(_RULE).where(_RULE.c.withdrawn_at.is_(None))).mappings()
    overrides = []
    for row in found:
        unit = row["interval_unit"]
        interval = (
            None
            if unit is None
            else Interval(
                Span(row["interval_minimum"], unit),
                Span(row["interval_typical"], unit),
                Span(row["interval_maximum"], unit),
            )
        )
        overrides.append(
            RuleOverride(
                row["rule"], row["scope"], row["active"], interval, row["minutes"], row["set_by"], row["reason"]
            )
        )
    return tuple(sorted(overrides, key=lambda override: (override.rule, override.scope)))


@dataclass(frozen=True, slots=True)
class MarginCheck:
    """A margin that led to a decision. `cause` says which; `inputs_digest` tells the figures behind it from others.

    Power in W; `available_w` and `margin` are None where the assessment had none.
    """

    tank: str
    scenario: Scenario
    day: date
    cause: str
    required_w: float
    available_w: Spread | None
    margin: Spread | None
    state: MarginState
    inputs_digest: str
    at: datetime

    @classmethod
    def of(cls, assessment: Assessment, *, day: date, cause: str, inputs_digest: str, at: datetime) -> MarginCheck:
        """The check that an assessment made."""
        return cls(
            tank=assessment.tank,
            scenario=assessment.scenario,
            day=day,
            cause=cause,
            required_w=assessment.required_w,
            available_w=assessment.available_w,
            margin=assessment.margin,
            state=assessment.state,
            inputs_digest=inputs_digest,
            at=at,
        )


_MARGIN_KEY = ("tank", "scenario", "day", "cause", "inputs_digest")


def save_margin_checks(connection: Connection, checks: Iterable[MarginCheck]) -> int:
    """Adds the checks that are not on record yet (same tank, scenario, day, cause and inputs). Returns how many."""
    wanted = {tuple(getattr(check, name) for name in _MARGIN_KEY): check for check in checks}
    if not wanted:
        return 0
    days = [check.day for check in wanted.values()]
    found = connection.execute(
        select(*(_MARGIN.c[name] for name in _MARGIN_KEY)).where(_MARGIN.c.day.between(min(days), max(days)))
    )
    stored = {tuple(row) for row in found}
    fresh = [_margin_cells(check) for key, check in wanted.items() if key not in stored]
    if fresh:
        connection.execute(insert(_MARGIN), fresh)
    return len(fresh)


def _margin_cells(check: MarginCheck) -> dict[str, Any]:
    spread_fields = ("available_w", "margin")
    cells = {each.name: getattr(check, each.name) for each in fields(check) if each.name not in spread_fields}
    available = {} if check.available_w is None else asdict(check.available_w)
    margin = {} if check.margin is None else asdict(check.margin)
    for end in ("low", "mid", "high"):
        cells[f"available_{end}_w"] = available.get(end)
        # Endless where nothing is needed; the database keeps no infinity, and an empty end beside a low one tells it.
        cells[f"margin_{end}"] = None if margin.get(end) == math.inf else margin.get(end)
    return cells


def read_margin_checks(connection: Connection, tank: str | None) -> tuple[MarginCheck, ...]:
    """The checks of one tank, or of all, oldest first."""
    query = select(_MARGIN).order_by(_MARGIN.c.day, _MARGIN.c.id)
    if tank is not None:
        query = query.where(_MARGIN.c.tank == tank)
    checks = []
    for row in connection.execute(query).mappings():
        available, margin = (
            None if row[names[0]] is None else Spread(*(math.inf if row[name] is None else row[name] for name in names))
            for names in (
                ("available_low_w", "available_mid_w", "available_high_w"),
                ("margin_low", "margin_mid", "margin_high"),
            )
        )
        checks.append(
            MarginCheck(
                row["tank"], row["scenario"], row["day"], row["cause"], row["required_w"], available, margin,
                row["state"], row["inputs_digest"], row["at"],
            )
        )  # fmt: skip
    return tuple(checks)
