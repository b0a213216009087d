"""The margins that led to decisions, as the trail keeps them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, Protocol

from fleet.outputs.columns import FAINT, Cell, Row, in_columns
from fleet.outputs.lookup import Lookup
from fleet.outputs.records import number, spread_record
from fleet.outputs.words import SCENARIO_WORDS, margin_words, plain, short_day
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Scenario

NO_CATALOGUE = Catalogue((), (), (), ())
LONGEST = 120
"""Characters of a cause, which names what changed."""


class Kept(Protocol):
    """A margin on the trail: of which tank, worked out for which day, and what it was worked out for."""

    @property
    def tank(self) -> str: ...
    @property
    def scenario(self) -> Scenario: ...
    @property
    def day(self) -> date: ...
    @property
    def cause(self) -> str: ...
    @property
    def required_w(self) -> float: ...
    @property
    def available_w(self) -> Spread | None: ...
    @property
    def margin(self) -> Spread | None: ...
    @property
    def state(self) -> MarginState: ...
    @property
    def inputs_digest(self) -> str: ...
    @property
    def at(self) -> datetime: ...


def margin_trail_text(checks: Sequence[Kept], fleet: Fleet) -> str:
    """One line for each, in the order given; an empty text where none was kept. Power in the units of the client."""
    if not checks:
        return ""
    lookup = Lookup(fleet, NO_CATALOGUE)
    headings = ("tank", "day", "", "margin", "state", "needs", "has", "worked out")
    rows: list[Row] = [[Cell(name, FAINT) for name in headings]]
    for check in checks:
        display = lookup.display(fleet.site_of(check.tank))
        rows.append(
            [
                check.tank,
                short_day(check.day),
                SCENARIO_WORDS[check.scenario],
                margin_words(check.margin),
                plain(check.state),
                Cell(display.power(check.required_w) if check.required_w > 0 else "none", right=True),
                Cell("-" if check.available_w is None else display.power(check.available_w.low), right=True),
                check.cause,
            ]
        )
    return "\n".join(in_columns(rows, longest=LONGEST))


def margin_trail_records(checks: Sequence[Kept]) -> list[dict[str, Any]]:
    """The same for machines, in SI units."""
    return [
        {
            "tank": check.tank,
            "scenario": str(check.scenario),
            "day": check.day.isoformat(),
            "cause": check.cause,
            "required_w": number(check.required_w),
            "available_w": spread_record(check.available_w),
            "margin": spread_record(check.margin),
            "state": str(check.state),
            "inputs_digest": check.inputs_digest,
            "at": check.at.isoformat(),
        }
        for check in checks
    ]
