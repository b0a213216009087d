"""Margins on the hot day as the reason of work: what dated changes did to them, and how they stand before a season."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from fleet.values.assessment import Assessment, MarginChange
from fleet.values.vocabulary import MarginState, Scenario

LEAST_FALL = 0.05
"""A margin that falls by less is not looked at again unless its state changes: a third of the narrowest state (thin, 0
to 15 %), and no more than a repeated measurement of a device's output may differ by (common practice)."""
NOTHING_TO_LOSE = (MarginState.SHORT, MarginState.TRIPS, MarginState.UNKNOWN)
Numbers = Mapping[str, float | str | None]


class Margins:
    """The margins of tanks around dated changes, and as they stand."""

    def __init__(self, changes: Iterable[MarginChange], standing: Iterable[Assessment] = ()) -> None:
        self._by_tank_and_day = {(one.tank, one.day): one for one in changes}
        self._standing = {one.tank: one for one in standing if one.scenario is Scenario.HOT_DAY}

    def moved(self, tank: str, day: date) -> bool:
        """Whether the changes of a day left the tank's margin in another state or at least 5 points lower, or, where
        there is none to lose, its need at least 5 % higher. True where that is not known, to the safe side."""
        change = self._by_tank_and_day.get((tank, day))
        if change is None or change.before is None or change.after is None:
            return True
        before, after = change.before, change.after
        if before.state is not after.state:
            return True
        if after.state in NOTHING_TO_LOSE:
            return after.required_w >= before.required_w * (1 + LEAST_FALL)
        return (
            before.margin is not None
            and after.margin is not None
            and round(before.margin.low - after.margin.low, 6) >= LEAST_FALL
        )

    def over(self, tank: str, days: Sequence[date], kept: Numbers) -> tuple[str, dict[str, float | str | None]]:
        """The words and the numbers from before the first to after the last of the days; empty where unknown. What lies
        too far back to be worked out again is taken from `kept`, the numbers of the same work in the plan before."""
        numbers = dict.fromkeys(BEFORE) | dict.fromkeys(AFTER)
        known = [self._by_tank_and_day.get((tank, day)) for day in sorted(set(days))]
        if not known:
            return "", {}
        told = False
        for names, change, side in ((BEFORE, known[0], "before"), (AFTER, known[-1], "after")):
            if change is not None:
                numbers |= zip(names, _figures(getattr(change, side)), strict=True)
                told = True
            elif names[0] in kept:
                numbers |= {name: kept.get(name) for name in names}
                told = True
        return (_words(numbers), numbers) if told else ("", {})

    def standing(self, tank: str, kept: Numbers) -> tuple[str, dict[str, float | str | None]]:
        """How the margin stands, in words and numbers; empty where unknown. While the state is the one that `kept`
        tells, its figures stand: dirt moves them a little every day."""
        now = self._standing.get(tank)
        if now is None:
            return "", {}
        margin, _, state = _figures(now)
        has = now.available_w.low if now.available_w is not None else None
        numbers: dict[str, float | str | None] = {
            "state": state, "margin": margin, "required_w": now.required_w, "available_w": has,
        }  # fmt: skip
        if kept.get("state") == state:
            numbers = {name: kept.get(name) for name in numbers}
        words = f"on the hot day {numbers['state']}"
        if isinstance(numbers["margin"], float):
            words = f"margin on the hot day {percent(numbers['margin'])} ({numbers['state']})"
        needs, to_be_had = numbers["required_w"], numbers["available_w"]
        if isinstance(needs, float) and isinstance(to_be_had, float) and math.isfinite(to_be_had):
            words += f", {needs:.0f} W needed and {to_be_had:.0f} W to be had"
        return words, numbers


BEFORE = ("margin_before", "required_before_w", "state_before")
AFTER = ("margin_after", "required_after_w", "state_after")


def _figures(assessment: Assessment | None) -> tuple[float | None, float | None, str | None]:
    """Margin on its low end, need in W and state."""
    if assessment is None:
        return None, None, None
    margin = None if assessment.margin is None else assessment.margin.low
    return margin, assessment.required_w, str(assessment.state).replace("-", " ")


def _words(numbers: Numbers) -> str:
    before, after = numbers["margin_before"], numbers["margin_after"]
    if before is None and after is None:
        states = [numbers["state_before"] or "unknown", numbers["state_after"] or "unknown"]
        return f"on the hot day {states[0]} → {states[1]}" if states[0] != states[1] else ""
    first, last = (percent(margin) if isinstance(margin, float) else "unknown" for margin in (before, after))
    return f"margin on the hot day {first} → {last}"


def percent(share: float) -> str:
    """ "12 %", "−4 %", "endless" where next to nothing is needed."""
    if math.isinf(share):
        return "endless"
    whole = round(share * 100)
    return f"{'−' if whole < 0 else ''}{abs(whole)} %"
