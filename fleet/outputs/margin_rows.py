"""Margins of several tanks as rows of a table, each with its strip, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf

from markupsafe import Markup

from fleet.outputs.charts_margin import margin_axis, margin_strip
from fleet.outputs.lookup import Lookup
from fleet.outputs.words import SCENARIO_WORDS, STATE_MEANING, STATE_ORDER, capital, margin_words, plain
from fleet.values.assessment import Assessment
from fleet.values.vocabulary import MarginState, Scenario


@dataclass(frozen=True, slots=True)
class MarginRow:
    """One tank under one scenario. `strip` is empty where it has no margin."""

    tank: str
    card: str
    site: str
    scenario: str
    state: str
    margin: str
    strip: Markup


@dataclass(frozen=True, slots=True)
class MarginTable:
    rows: tuple[MarginRow, ...]
    axis: Markup
    meanings: tuple[str, ...]


def urgency(row: Assessment) -> tuple[int, float, str]:
    """What assessments are put in order by: the most urgent state, then the smallest margin."""
    return STATE_ORDER.index(row.state), row.margin.low if row.margin else inf, row.tank


def margin_table(name: str, assessments: Iterable[Assessment], lookup: Lookup, cards: Mapping[str, str]) -> MarginTable:
    """Hot day and A/C off of each tank beneath each other, tanks in the order of their hot day.

    `name` makes the drawings' names unique on the page; `cards` holds the page of each tank by its code.
    """
    rows = list(assessments)
    hot = {row.tank: urgency(row) for row in rows if row.scenario is Scenario.HOT_DAY}
    last = (len(STATE_ORDER), inf, "")
    order = list(SCENARIO_WORDS)
    rows.sort(key=lambda row: (hot.get(row.tank, last), row.tank, order.index(row.scenario)))
    return MarginTable(
        rows=tuple(_row(f"{name}-{i}", row, lookup, cards) for i, row in enumerate(rows)),
        axis=margin_axis(f"{name}-axis"),
        meanings=meanings({row.state for row in rows}),
    )


def meanings(states: set[MarginState]) -> tuple[str, ...]:
    """A sentence for each of the states."""
    return tuple(f"{capital(plain(state))}: {STATE_MEANING[state]}." for state in STATE_ORDER if state in states)


def _row(name: str, row: Assessment, lookup: Lookup, cards: Mapping[str, str]) -> MarginRow:
    site = lookup.fleet.site_of(row.tank)
    words = SCENARIO_WORDS[row.scenario]
    return MarginRow(
        tank=lookup.label(row.tank),
        card=cards.get(row.tank, ""),
        site=lookup.name(site) if site else "",
        scenario=words,
        state=plain(row.state),
        margin=margin_words(row.margin),
        strip=margin_strip(name, f"{lookup.label(row.tank)}, {words}", row.margin) if row.margin else Markup(""),
    )
