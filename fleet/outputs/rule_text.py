"""What people have set for service tasks in place of the catalogue's own interval, minutes or switch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fleet.outputs.columns import FAINT, Cell, Row, in_columns, typed
from fleet.outputs.words import minutes_words
from fleet.values.overrides import RuleOverride, told

LONGEST = 120
"""Characters of a cell, where a reason may stand."""


def _said(override: RuleOverride) -> list[str]:
    if not override.active:
        return ["switched off"]
    said = [f"every {told(override.interval)}"] if override.interval is not None else []
    said += [minutes_words(override.minutes)] if override.minutes is not None else []
    return said or ["switched on"]


def own_rule_text(override: RuleOverride, *, ended: bool) -> str:
    """What was set, or is no longer in force."""
    where = typed(override.scope) if override.scope else "all"
    what = f"{override.rule} for {where}: {', '.join(_said(override))}"
    if ended:
        return f"No longer in force: {what}.\nA wider scope or the catalogue holds again from the next `fleet plan` on."
    return f"Set: {what}.\nThe next `fleet plan` goes by it; `fleet show rule-overrides` lists all that is set."


def own_rules_text(overrides: Sequence[RuleOverride]) -> str:
    """One line for each, by rule and scope; an empty text where nothing is set."""
    if not overrides:
        return ""
    rows: list[Row] = [[Cell(name, FAINT) for name in ("task", "for", "set to", "by", "reason")]]
    rows += [[one.rule, one.scope or "all", ", ".join(_said(one)), one.set_by, one.reason] for one in overrides]
    return "\n".join(in_columns(rows, longest=LONGEST))


def own_rule_record(override: RuleOverride) -> dict[str, Any]:
    """The same for machines; spans as people say them ("30 days"), null where the catalogue's own holds."""
    interval = override.interval
    return {
        "task": override.rule,
        "scope": override.scope or None,
        "active": override.active,
        "interval": None
        if interval is None
        else {
            "minimum": str(interval.minimum),
            "typical": str(interval.typical),
            "maximum": str(interval.maximum),
        },
        "minutes": override.minutes,
        "set_by": override.set_by,
        "reason": override.reason,
    }
