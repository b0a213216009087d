"""The advice for a tank: its machine-readable form, and the table and sentences that a terminal shows."""

from __future__ import annotations

from collections import defaultdict
from textwrap import fill
from typing import Any

from fleet.outputs.advice_words import measure_words, note_of, particulars, why_words
from fleet.outputs.columns import BOLD, FAINT, RED, Cell, Row, in_columns, painted, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.records import number, spread_record
from fleet.outputs.text import LINE_WIDTH, NO_CATALOGUE
from fleet.outputs.words import NOT_A_CERTIFICATE, margin_words
from fleet.units import Display
from fleet.values.advice import Advice, Option
from fleet.values.fleet import Fleet

JUDGED = {True: "holds", False: "no", None: "not known"}


def advice_record(advice: Advice, fleet: Fleet) -> dict[str, Any]:
    """The keys that machines read; `choice` is the `option` of one of the options, or null."""
    currency = _currency(advice, fleet)
    metric = Display(None)
    return {
        "tank": advice.tank,
        "options": [
            {
                "option": option.key,
                "holds_hot_day": option.hot_day.holds,
                "holds_ac_off": option.ac_off.holds,
                "margin": spread_record(option.hot_day.margin),
                "yearly_kwh": number(round(option.energy.kwh, 1)),
                "yearly_cost": None if option.energy.cost is None else float(option.energy.cost),
                "topoff_l_per_day": number(round(option.topoff_l_per_day, 2)),
                "noise_change_db": None if option.noise_change_db is None else round(option.noise_change_db, 1),
                "note": note_of(option, advice, metric),
            }
            for option in advice.options
        ],
        "choice": None if advice.choice is None else advice.choice.key,
        "why": why_words(advice, metric, currency),
    }


def _currency(advice: Advice, fleet: Fleet) -> str | None:
    site = fleet.site_by_code.get(fleet.site_of(advice.tank) or "")
    return None if site is None else site.currency


def advice_text(advice: Advice, fleet: Fleet, *, colour: bool = False) -> str:
    """Every measure in the trade's order, then the choice and why, then what the figures rest on."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    display = lookup.display(fleet.site_of(advice.tank))
    currency = _currency(advice, fleet)
    target = display.temperature(advice.target_c)
    lines = [painted(f"{typed(lookup.label(advice.tank))}, to be held at {target}", BOLD if colour else ""), ""]
    heading: Row = [
        Cell(text, FAINT)
        for text in ("what", "hot day", "A/C off", "margin", "kWh a year", currency or "cost", "top-off", "noise")
    ]
    rows = [_row(option, advice, display) for option in advice.options]
    lines += [*in_columns([heading, *rows], indent=2, colour=colour), ""]
    lines += [fill(typed(why_words(advice, display, currency), 2000), LINE_WIDTH), ""]
    minded: dict[str, list[str]] = defaultdict(list)
    for option in advice.options:
        for sentence in particulars(option, advice, display):
            minded[sentence].append(measure_words(option, advice, display))
    for sentence, whats in minded.items():
        told = typed(f"{', '.join(whats)}: {sentence}", 600)
        lines.append(fill(told, LINE_WIDTH, initial_indent="  ", subsequent_indent="    "))
    heat = advice.choice or advice.as_it_is
    lines += (
        ["", fill(_room_heat(heat, advice, display), LINE_WIDTH)]
        if minded
        else [fill(_room_heat(heat, advice, display), LINE_WIDTH)]
    )
    lines.append(
        fill(
            "Holds: on the safe side at its target (a tank without a cooler, and every tank with the A/C off: inside "
            "its watch band). Year: middle estimate of what coolers, added heating and a colder room draw; buying is "
            "not in it. Noise: in dB against one fan of the usual size.",
            LINE_WIDTH,
        )
    )
    if advice.assumed:
        lines.append(fill(typed(f"Assumed: {'; '.join(advice.assumed)}.", 2000), LINE_WIDTH))
    lines.append(fill(NOT_A_CERTIFICATE, LINE_WIDTH))
    return "\n".join(lines).replace("\N{MINUS SIGN}", "-")


def _room_heat(option: Option, advice: Advice, display: Display) -> str:
    watts, vapour_w = option.energy.room_heat_w, option.energy.vapour_w
    said = f"As chosen, tank and coolers put {display.power(watts)} into the room on the mean of a hot day"
    if watts < 0.0:
        said = f"As chosen, tank and coolers take {display.power(-watts)} out of the room on the mean of a hot day"
    elif vapour_w > 0.0:
        said += f", {display.power(vapour_w)} of it as vapour"
    if not advice.air_conditioned:
        return f"{said}."
    return f"{said}. What the room's air conditioning takes for that is not in the year."


def _row(option: Option, advice: Advice, display: Display) -> Row:
    hot = option.hot_day.holds
    chosen = option is advice.choice
    noise = option.noise_change_db
    return [
        Cell(measure_words(option, advice, display), BOLD if chosen else ""),
        Cell(JUDGED[hot], "" if hot else RED if hot is False else ""),
        JUDGED[option.ac_off.holds],
        margin_words(option.hot_day.margin),
        Cell(f"{option.energy.kwh:.0f}", right=True),
        Cell("-" if option.energy.cost is None else str(option.energy.cost), right=True),
        Cell(display.volume_per_day(option.topoff_l_per_day), right=True),
        Cell("-" if noise is None else f"{noise:+.0f} dB" if round(noise) else "0 dB", right=True),
    ]
