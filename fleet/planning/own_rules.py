"""The rules of the catalogue as a client, a site, a tank or any other subject has them: own intervals, minutes, switch.

For each of the three the most specific scope that says something about it wins: the subject itself, then the tanks and
devices it belongs to, its room, its site, its client, then what is set for all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fleet.planning.subjects import Subject
from fleet.values.catalogue import Catalogue, Interval, TaskRule
from fleet.values.overrides import RuleOverride, check_overrides
from fleet.values.plan import AppliedFactor

OWN_INTERVAL = "own-interval"
"""Name, among a task's factors, of an interval that somebody set in place of the catalogue's."""
FOR_ALL = ""


@dataclass(frozen=True, slots=True)
class OwnRule:
    """A rule as it holds for one subject. `off` says who switched it off, None while it is on; `told` are sentences for
    the cause of its tasks; `factors` say how an own interval stands to the catalogue's."""

    rule: TaskRule
    off: str | None = None
    told: tuple[str, ...] = ()
    factors: tuple[AppliedFactor, ...] = ()


class OwnRules:
    """Answers how a rule holds for a subject. Raises BadInput or NotAllowed for overrides that nobody may set."""

    def __init__(self, overrides: Iterable[RuleOverride], catalogue: Catalogue) -> None:
        self.overrides = tuple(sorted(overrides, key=lambda one: (one.rule, one.scope)))
        check_overrides(self.overrides, catalogue)
        self._by_rule: dict[str, dict[str, RuleOverride]] = defaultdict(dict)
        for one in self.overrides:
            self._by_rule[one.rule][one.scope] = one

    def of(self, rule: TaskRule, subject: Subject) -> OwnRule:
        """The rule with whatever is set for the subject or for what it belongs to."""
        by_scope = self._by_rule.get(rule.id)
        if by_scope is None:
            return OwnRule(rule)
        said = _said_of(by_scope, (subject.code, *subject.belongs_to, FOR_ALL))
        if not said:
            return OwnRule(rule)
        if not said[0].active:
            return OwnRule(rule, off=f"switched off{_by(said[0])}")
        return _applied(rule, said)


def _said_of(by_scope: dict[str, RuleOverride], scopes: Iterable[str]) -> Sequence[RuleOverride]:
    """What is set for any of the scopes, in their order."""
    return [by_scope[scope] for scope in dict.fromkeys(scopes) if scope in by_scope]


def _applied(rule: TaskRule, said: Sequence[RuleOverride]) -> OwnRule:
    own, told = rule, []
    factors: tuple[AppliedFactor, ...] = ()
    by_interval = next((one for one in said if one.interval is not None), None)
    if by_interval is not None and by_interval.interval is not None and rule.interval is not None:
        clause = f"{_interval_words(by_interval.interval, rule.interval)}{_by(by_interval)}"
        share = round(by_interval.interval.typical.days / rule.interval.typical.days, 2)
        own = replace(own, interval=by_interval.interval)
        factors = (AppliedFactor(OWN_INTERVAL, share, clause),)
        told.append(clause)
    by_minutes = next((one for one in said if one.minutes is not None), None)
    if by_minutes is not None and by_minutes.minutes is not None:
        own = replace(own, minutes=by_minutes.minutes, minutes_by_device_kind={})
        told.append(f"{by_minutes.minutes} minutes instead of {rule.minutes}{_by(by_minutes)}")
    return OwnRule(own, None, tuple(told), factors)


def _interval_words(own: Interval, usual: Interval) -> str:
    if own.typical == usual.typical:
        return f"interval of {own.minimum} to {own.maximum} instead of {usual.minimum} to {usual.maximum}"
    return f"interval {typical_words(own, usual)}"


def typical_words(one: Interval, instead_of: Interval) -> str:
    """ "30 days instead of 60", "30 days instead of 2 months"."""
    other = instead_of.typical
    return f"{one.typical} instead of {other.count if one.typical.unit == other.unit else other}"


def _by(override: RuleOverride) -> str:
    """ ", set by Ida Lund for S1: salt on the coils"."""
    who = f" by {override.set_by}" if override.set_by else ""
    scope = f" for {override.scope}" if override.scope else ""
    why = f": {override.reason}" if override.reason else ""
    return f", set{who}{scope}{why}"
