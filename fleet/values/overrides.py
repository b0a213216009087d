"""A person's own interval, minutes or switch for a task of the catalogue, and what nobody may set."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.errors import BadInput, NotAllowed
from fleet.values.catalogue import Catalogue, Interval, TaskRule
from fleet.values.vocabulary import Tolerance

LONGEST_MINUTES = 480
"""Of one piece of work, as in the catalogue."""


@dataclass(frozen=True, slots=True)
class RuleOverride:
    """A catalogue task with an interval, minutes or a switch of somebody's own.

    `rule` is the catalogue id; `scope` the code of a client, site, room, tank, device or any other subject that it
    holds for, empty for all. The three spans of `interval` have one unit. None leaves in force what a wider scope, or
    the catalogue, says.
    """

    rule: str
    scope: str = ""
    active: bool = True
    interval: Interval | None = None
    minutes: int | None = None
    set_by: str = ""
    reason: str = ""


def check_overrides(overrides: Iterable[RuleOverride], catalogue: Catalogue) -> None:
    """Raises BadInput for what makes no sense and NotAllowed for what would switch off or lengthen life-safety work.

    An override of a task that the catalogue no longer has is nobody's fault, and is passed over.
    """
    for override in overrides:
        rule = catalogue.rule_by_id.get(override.rule)
        if rule is not None:
            _check(override, rule)


def _check(override: RuleOverride, rule: TaskRule) -> None:
    what = f"{rule.id} for {override.scope or 'all'}"
    if override.minutes is not None and not 1 <= override.minutes <= LONGEST_MINUTES:
        raise BadInput(f"{what}, minutes: {override.minutes}: expected 1 to {LONGEST_MINUTES}")
    if rule.tolerance is Tolerance.A0 and not override.active:
        raise NotAllowed(f"{what}: life-safety work (class A0) cannot be switched off")
    own = override.interval
    if own is None:
        return
    if rule.interval is None:
        raise BadInput(f"{what}, interval: {told(own)}: expected none, for this task does not come back by an interval")
    if not 0 < own.minimum.days <= own.typical.days <= own.maximum.days:
        raise BadInput(f"{what}, interval: {told(own)}: expected the shortest first, then the usual, then the longest")
    if rule.tolerance is Tolerance.A0 and (
        own.typical.days > rule.interval.typical.days or own.maximum.days > rule.interval.maximum.days
    ):
        raise NotAllowed(
            f"{what}, interval: {told(own)}: expected none longer than {told(rule.interval)}, "
            "for life-safety work (class A0) is never lengthened"
        )


def told(interval: Interval) -> str:
    """ "1/4/8 weeks", as the catalogue writes it; each span by itself where their units differ."""
    spans = (interval.minimum, interval.typical, interval.maximum)
    if len({span.unit for span in spans}) > 1:
        return " / ".join(map(str, spans))
    return f"{'/'.join(str(span.count) for span in spans)} {spans[0].unit}s"
