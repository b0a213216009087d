"""Margins by random draws, for terminals and machines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isinf
from textwrap import fill
from typing import Any

from fleet.outputs.columns import FAINT, Cell, Row, in_columns
from fleet.outputs.lookup import Lookup
from fleet.outputs.records import spread_record
from fleet.outputs.words import NOT_A_CERTIFICATE, SCENARIO_WORDS, capital, percent
from fleet.units import Display
from fleet.values.assessment import DrawnMargin
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.spread import Spread
from fleet.values.vocabulary import Scenario

LINE_WIDTH = 100


def drawn_records(drawn: Iterable[DrawnMargin]) -> list[dict[str, Any]]:
    """One record for each tank and scenario: 5, 50 and 95 % points as low, mid and high."""
    return [
        {
            "tank": row.tank,
            "scenario": str(row.scenario),
            "draws": row.draws,
            "required_w": spread_record(row.required_w),
            "available_w": spread_record(row.available_w),
            "margin": spread_record(row.margin),
        }
        for row in drawn
    ]


def drawn_table(drawn: Sequence[DrawnMargin], fleet: Fleet, *, colour: bool = False) -> str:
    """A table for each scenario, the smallest margin first."""
    lookup = Lookup(fleet, Catalogue((), (), (), ()))
    lines: list[str] = []
    for scenario in Scenario:
        rows = sorted(
            (row for row in drawn if row.scenario is scenario), key=lambda row: (round(row.margin.low, 2), row.tank)
        )
        if rows:
            lines += [f"{capital(SCENARIO_WORDS[scenario])}, {rows[0].draws} draws", ""]
            heading: Row = [Cell(text, FAINT) for text in ("tank", "margin", "needs", "has")]
            lines += in_columns([heading, *(_row(row, lookup) for row in rows)], indent=2, colour=colour)
            lines.append("")
    if not lines:
        return "No tank on record."
    notes = (
        "Each figure in the middle of the draws, and between which ends nine in ten of them lie: what is not known of "
        "water surface, walls, lamps, pumps, humidity, plates, dirt and fans, drawn at random. Tanks are judged "
        "without draws, with everything on the safe side at once (fleet margin).",
        NOT_A_CERTIFICATE,
    )
    return "\n".join([*lines, *(fill(note, LINE_WIDTH) for note in notes)])


def _row(row: DrawnMargin, lookup: Lookup) -> Row:
    display = lookup.display(lookup.fleet.site_of(row.tank))
    return [row.tank, _share(row.margin), _watts(row.required_w, display), _watts(row.available_w, display)]


def _share(spread: Spread) -> str:
    if isinf(spread.low):
        return "nothing needed"
    ends = [percent(value) if not isinf(value) else "no need" for value in (spread.low, spread.mid, spread.high)]
    return f"{ends[1]} ({ends[0]} to {ends[2]})"


def _watts(spread: Spread, display: Display) -> str:
    low, mid, high = (display.power(value) for value in (spread.low, spread.mid, spread.high))
    return f"{mid} ({low} to {high})"
