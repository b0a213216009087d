"""How figures are put into words."""

from __future__ import annotations

from datetime import date

import pytest

from fleet.outputs.names import file_names
from fleet.outputs.words import (
    duration_words,
    hours_words,
    how_often,
    in_display_units,
    long_day,
    margin_words,
    minutes_words,
    monday_of,
    near_day,
    percent,
    soonest_words,
    spare_words,
    usual_interval,
)
from fleet.units import Display
from fleet.values.assessment import HoursToLimit
from fleet.values.catalogue import Interval, Span
from fleet.values.spread import Spread
from fleet.values.vocabulary import Reaches


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.0, "0 h"),
        (0.004, "1 min"),
        (0.66, "40 min"),
        (2.44, "2.4 h"),
        (30.2, "30 h"),
        (108.0, "4.5 days"),
        (480.0, "20 days"),
    ],
)
def test_a_time_is_told_no_finer_than_an_estimate_bears(hours: float, words: str) -> None:
    assert duration_words(hours) == words


@pytest.mark.parametrize(
    ("hours", "long", "short"),
    [
        (HoursToLimit(2.0, 3.0, 4.0, Reaches.YES), "about 3.0 h (2.0 h to 4.0 h)", "2.0 h"),
        (HoursToLimit(2.0, None, None, Reaches.YES), "2.0 h at the soonest, perhaps never", "2.0 h"),
        (HoursToLimit(2.0, 3.0, None, Reaches.YES), "about 3.0 h (2.0 h at the soonest, perhaps never)", "2.0 h"),
        (HoursToLimit(0.0, 0.0, 0.0, Reaches.YES), "already at or past the limit", "past"),
        (HoursToLimit(None, None, None, Reaches.NO), "does not reach the limit", "never"),
        (HoursToLimit(None, None, None, Reaches.UNKNOWN), "not known", "not known"),
        (None, "does not apply", "-"),
    ],
)
def test_hours_to_a_limit(hours: HoursToLimit | None, long: str, short: str) -> None:
    assert hours_words(hours) == long
    assert soonest_words(hours) == short


def test_margins_keep_their_spread_and_a_true_minus() -> None:
    assert margin_words(Spread(-0.4, -0.04, 0.3)) == "−40 % (−4 % likely)"
    assert margin_words(Spread(-1.0, -1.0, -1.0)) == "−100 %"
    assert margin_words(None) == "-"
    assert percent(10.0) == "over 999 %"
    assert margin_words(Spread(0.5, 2.0, 10.0)) == "50 % (200 % likely)"
    assert spare_words(-1.0) == "nothing left"
    assert spare_words(-0.14) == "−14 %"


def test_days_do_not_depend_on_the_locale_of_the_machine() -> None:
    assert long_day(date(2026, 5, 20)) == "Wednesday 20 May 2026"
    assert near_day(date(2026, 6, 1), date(2026, 5, 20)) == "Mon 1 Jun"
    assert near_day(date(2027, 6, 1), date(2026, 5, 20)) == "Tue 1 Jun 2027"
    assert monday_of(date(2026, 5, 20)) == date(2026, 5, 18)


def test_intervals_and_minutes() -> None:
    weeks = Interval(Span(1, "week"), Span(4, "week"), Span(8, "week"))
    assert how_often(weeks) == "every 4 weeks (1 to 8 weeks)"
    assert usual_interval(Interval(Span(1, "day"), Span(1, "week"), Span(2, "week"))) == "every week"
    assert how_often(None) == ""
    assert [minutes_words(minutes) for minutes in (45, 120, 133)] == ["45 min", "2 h", "2 h 13 min"]


def test_file_names_are_safe_and_told_apart_without_regard_to_case() -> None:
    names = file_names("tank", ["A1", "a1", "B/2"], "html")
    assert names == {"A1": "tank-A1.html", "a1": "tank-a1~2.html", "B/2": "tank-B_2.html"}


def test_the_models_celsius_is_told_in_the_clients_unit() -> None:
    told = "Water of 21.5 °C lies outside 8 to 30 °C, by 2 K."
    assert in_display_units(told, Display("us")) == "Water of 70.7 °F lies outside 46.4 °F to 86.0 °F, by 2 K."
    assert in_display_units(told, Display("metric")) == "Water of 21.5 °C lies outside 8.0 °C to 30.0 °C, by 2 K."


def test_next_to_nothing_still_shows_its_side() -> None:
    assert percent(-0.003) == "−0.3 %"
    assert percent(0.0) == "0 %"
    assert percent(0.012) == "1 %"
