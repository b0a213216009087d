"""When devices and parts may have to be replaced, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.outputs.lookup import Lookup
from fleet.outputs.words import capital, percent, short_day
from fleet.values.replacement import Forecast

SEVERAL = 0.10
"""A yearly chance of failing from which a spare at hand is worth a word (common practice)."""


@dataclass(frozen=True, slots=True)
class AgeingRow:
    subject: str
    part: str
    likely: str
    chance: str


@dataclass(frozen=True, slots=True)
class ReplacementWords:
    """`verdict` is the sentence that counts; `grounds` say what it rests on."""

    verdict: str
    grounds: tuple[str, ...]


def likely_words(forecast: Forecast) -> str:
    """The years between which it is likely to end."""
    first, last = forecast.earliest.year, forecast.latest.year
    return f"in {first}" if first == last else f"between {first} and {last}"


def ageing_rows(forecasts: Iterable[Forecast], lookup: Lookup) -> tuple[AgeingRow, ...]:
    """A row for each, the one that is likely to end soonest first."""
    ordered = sorted(forecasts, key=lambda row: (row.earliest, row.middle, row.subject))
    return tuple(
        AgeingRow(lookup.label(row.subject), row.part, likely_words(row), percent(row.chance_in_a_year))
        for row in ordered
    )


def replacement_words(forecast: Forecast) -> ReplacementWords:
    """The forecast of one subject in sentences."""
    median = f"{forecast.median_years:.1f}".removesuffix(".0")
    verdict = (
        f"It is likely to need replacing {likely_words(forecast)}, as likely as not by {forecast.middle.year}. "
        f"Within the next twelve months the chance is {percent(forecast.chance_in_a_year)}."
    )
    if not forecast.by_age:
        verdict += " Its age tells little: keep a spare rather than replace it by age."
    elif forecast.chance_in_a_year >= SEVERAL:
        verdict += " A spare or a replacement belongs at hand before the next hot season."
    begun = "In use since" if forecast.begun_known else "On record, with no installation day, since"
    grounds = [
        f"{begun} {short_day(forecast.begun)}"
        + ("" if forecast.begun_known else ": it may be older, and its end nearer")
        + f". Half of its kind last {median} years where it stands; {forecast.part} decides.",
        *(f"{capital(line)}." for line in forecast.influences),
        f"Source: {forecast.basis}. “Likely” means two chances in three, by a Weibull life of shape "
        f"{forecast.shape:g} given that it works today.",
    ]
    return ReplacementWords(verdict, tuple(grounds))
