"""A site beside a weather file: both sides in the client's units, what lies oddly, and the margins that move."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fleet.outputs.weather_text import season_words, weather_record, weather_text
from fleet.values.climate import DesignClimate, NoSeason, SiteWeather, WeatherStation
from fleet.values.register import YearSpan
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState

World = Any
SUMMER = YearSpan(5, 20, 9, 14)


@pytest.fixture
def near(world: World) -> SiteWeather:
    """A file of the next hill, by which one margin moves."""
    reef = [row for row in world.assessments if row.tank == "REEF-1"]
    site = world.fleet.site_by_code[world.fleet.site_of("REEF-1")]
    return SiteWeather(
        station=WeatherStation("EPW", "Hill", 10.0, 20.0, 60.0, -8.0),
        climate=DesignClimate(31.4, 9.0, 8, 28.0, 12.0, (SUMMER,), None),
        on_record=site,
        by_file=replace(site, outdoor_design_peak_c=31.4, outdoor_daily_range_k=9.0, hot_seasons=(SUMMER,)),
        apart_km=12.0,
        higher_m=40.0,
        clock_apart_h=0.0,
        fleet=world.fleet,
        before=tuple(reef),
        after=(replace(reef[0], margin=Spread(-0.6, -0.2, 0.1)), *reef[1:]),
        written=False,
    )


def test_it_tells_both_sides_in_the_clients_units_and_the_margin_that_moves(near: SiteWeather) -> None:
    text = weather_text(near, apply=False)
    assert "88.5 °F" in text
    assert "20 May to 14 Sep" in text
    assert "mean of Aug, the hottest month" in text
    assert "-40 % (-4 % likely)" in text
    assert "-60 % (-20 % likely)" in text
    assert "Nothing is written; with --apply the first three are." in text
    assert "right file" not in text


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"apart_km": 160.9344}, "lies 100 miles from the site: is it the right file?"),
        ({"higher_m": 304.8}, "It lies 1,000 ft higher than the site, where air is about 3.6 °F cooler."),
        ({"higher_m": -304.8}, "It lies 1,000 ft lower than the site, where air is about 3.6 °F warmer."),
        ({"clock_apart_h": -3.0}, "differs from the site's by 3 hours"),
    ],
)
def test_what_lies_oddly_is_asked_about(near: SiteWeather, facts: Any, told: str) -> None:
    """Standard lapse of 6.5 K a kilometre: ICAO Doc 7488; 1000 ft are 304.8 m, so 1.98 K or 3.6 °F."""
    assert told in weather_text(replace(near, **facts), apply=False)


@pytest.mark.parametrize(
    ("reason", "told"),
    [(NoSeason.LITTLE_SWING, "moves by 28.8 °F only"), (NoSeason.COOL, "have highs of 82.4 °F in the mean")],
)
def test_without_a_season_it_says_why(near: SiteWeather, reason: NoSeason, told: str) -> None:
    climate = replace(near.climate, hot_seasons=(), no_season=reason)
    weather = replace(near, climate=climate, by_file=replace(near.by_file, hot_seasons=()))
    assert told in weather_text(weather, apply=False)


def test_what_the_files_head_states_is_told_beside(near: SiteWeather) -> None:
    station = replace(near.station, stated_peak_c=33.0, stated_range_k=10.0, stated_by="Own Handbook")
    text = weather_text(replace(near, station=station), apply=False)
    assert "The head of the file states: design peak 91.4 °F, daily range 18.0 °F (Own Handbook)." in text


def test_it_ends_with_what_became_of_it(near: SiteWeather) -> None:
    assert weather_text(replace(near, written=True), apply=True).endswith("The rest stays as it was.")
    assert weather_text(replace(near, on_record=near.by_file), apply=True).endswith("The register says so already.")
    assert "No tank stands there." in weather_text(replace(near, before=(), after=()), apply=False)
    assert "No margin moves by it." in weather_text(replace(near, after=near.before), apply=False)


def test_the_record_is_in_si_and_says_whether_anything_differs(near: SiteWeather) -> None:
    record = weather_record(near)
    assert record["by_file"]["hot_seasons"] == [{"start": "05-20", "end": "09-14"}]
    assert record["by_file"]["outdoor_design_peak_c"] == 31.4
    assert (record["differs"], record["written"]) == (True, False)
    moved = [row for row in record["after"] if row["margin"] and row["margin"]["low"] == -0.6]
    assert [(row["tank"], row["state"]) for row in moved] == [("REEF-1", MarginState.SHORT)]


def test_seasons_in_words() -> None:
    assert season_words(()) == "none"
    assert season_words((YearSpan(3, 1, 5, 9), YearSpan(12, 1, 1, 8))) == "1 Mar to 9 May and 1 Dec to 8 Jan"
