"""What stands under a table of margins: of one tank its hours, notes and assumptions, of several what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from textwrap import fill

from fleet.outputs.columns import FAINT, Cell, Row, in_columns, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.tank_view import hours_facts
from fleet.outputs.words import SCENARIO_WORDS, capital, count_words, in_display_units
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.fleet import Fleet

LONGEST = 200
"""Characters of a note, which is a whole sentence."""
MOST_PHRASES = 6
"""Assumptions that a table of several tanks names before it only counts the rest."""


def what_it_rests_on(assessments: Sequence[Assessment], lookup: Lookup, width: int) -> list[str]:
    """Lines that end with an empty one; none where there is nothing to tell."""
    tanks = {row.tank for row in assessments}
    if len(tanks) == 1:
        return _of_one(assessments, lookup.display(lookup.fleet.site_of(tanks.pop())))
    return _of_several(assessments, lookup.fleet, width)


def _of_one(assessments: Sequence[Assessment], display: Display) -> list[str]:
    rows = sorted(assessments, key=lambda row: list(SCENARIO_WORDS).index(row.scenario))
    heading: Row = [Cell("", FAINT), *(Cell(capital(SCENARIO_WORDS[row.scenario]), FAINT) for row in rows)]
    hours: list[Row] = [heading, *([fact.name, *fact.values] for fact in hours_facts(rows))]
    lines = ["Time to the limit, when that is lost:", *in_columns(hours, indent=2), ""]
    notes = [note for row in rows for note in row.notes]
    notes += [f"{device.device}: {note}" for row in rows for device in row.devices for note in device.notes]
    assumed = [phrase for row in rows for phrase in row.assumed]
    for title, told in (("Take note:", notes), ("Assumed, as it is not on record:", assumed)):
        if told:
            shown = (typed(in_display_units(text, display), LONGEST) for text in dict.fromkeys(told))
            lines += [title, *(f"  {text}" for text in shown), ""]
    return lines


def _of_several(assessments: Sequence[Assessment], fleet: Fleet, width: int) -> list[str]:
    """Each assumption with the number of tanks it was made for, the commonest first; those on a device without its
    code."""
    phrases = {(row.tank, _without_code(phrase, fleet)) for row in assessments for phrase in row.assumed}
    if not phrases:
        return []
    counts = Counter(phrase for _, phrase in phrases)
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    told = [f"{typed(phrase)} ({count_words(count, 'tank')})" for phrase, count in ordered[:MOST_PHRASES]]
    if len(ordered) > MOST_PHRASES:
        told.append(f"{len(ordered) - MOST_PHRASES} more")
    text = f"Assumed, as it is not on record: {'; '.join(told)}. `fleet margin TANK` tells it of one tank."
    return [*fill(text, width).splitlines(), ""]


def _without_code(phrase: str, fleet: Fleet) -> str:
    code, colon, rest = phrase.partition(": ")
    return rest if colon and code in fleet.device_by_code else phrase
