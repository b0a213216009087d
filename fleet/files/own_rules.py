"""Reads what somebody sets for a service task: an interval, minutes, whether it is done at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleet.errors import BadInput, CellError
from fleet.files.amounts import Whole
from fleet.files.catalogue_fields import interval as three_spans
from fleet.files.catalogue_fields import span
from fleet.files.cells import YesNo, nearest
from fleet.files.register_files import bad_input
from fleet.values.catalogue import Interval, Span, TaskRule
from fleet.values.overrides import RuleOverride

CELLS = ("interval", "minutes", "active")
INTERVAL_EXPECTED = "the usual interval, such as 30 days, or shortest/usual/longest, such as 1/4/8 weeks"


def read_own_rule(cells: Mapping[str, str], standing: RuleOverride, rule: TaskRule) -> RuleOverride:
    """`standing` with what the cells say; an empty interval or minutes gives the catalogue's own back.

    An interval of one span takes its shortest and longest from the rule's own interval, which is widened where it would
    not hold the usual one. Raises BadInput with every cell at fault.
    """
    errors: list[CellError] = []
    made = standing
    for name, text in cells.items():
        try:
            made = _with(made, name, text.strip(), rule)
        except ValueError as error:
            errors.append(CellError(rule.id, 0, name, text, str(error)))
    if errors:
        raise bad_input(errors)
    return made


def _with(made: RuleOverride, name: str, text: str, rule: TaskRule) -> RuleOverride:
    if name == "interval":
        return replace(made, interval=_interval(text, rule) if text else None)
    if name == "minutes":
        return replace(made, minutes=Whole().read(text) if text else None)
    if name == "active":
        return replace(made, active=YesNo().read(text))
    raise ValueError(f"one of {', '.join(CELLS)}{nearest(name, CELLS)}")


def _interval(text: str, rule: TaskRule) -> Interval:
    try:
        if "/" in text:
            return three_spans(text)
        return _around(span(text), rule.interval)
    except (BadInput, ValueError):
        raise ValueError(INTERVAL_EXPECTED) from None


def _around(usual: Span, own: Interval | None) -> Interval:
    """The three spans in the unit of the usual one, rounded inwards so that neither end is further out than before."""
    if usual.count < 1:
        raise ValueError(INTERVAL_EXPECTED)
    if own is None:
        return Interval(usual, usual, usual)
    unit_days = Span(1, usual.unit).days
    shortest = -int(-own.minimum.days // unit_days)
    longest = int(own.maximum.days / unit_days + 1e-9)
    return Interval(
        Span(max(1, min(shortest, usual.count)), usual.unit), usual, Span(max(longest, usual.count), usual.unit)
    )
