"""Seasons on both sides of the equator, windows beside them, and opening days."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.seasons import OpenDays, Season, cold_seasons, hot_seasons, window_beside
from fleet.values.catalogue import SeasonWindow
from fleet.values.register import Closure, Site, YearSpan

NORTHERN_SUMMER = YearSpan(6, 1, 8, 31)
SOUTHERN_SUMMER = YearSpan(12, 1, 2, 28)
BEFORE_HOT = SeasonWindow("hot", "before", 10, 8, 3)
AFTER_HOT = SeasonWindow("hot", "after", 0, 2, 4)
METEOROLOGICAL = "meteorological seasons: quarters from 1 March, June, September, December (WMO use, from memory)"


def site(*spans: YearSpan, days: tuple[int, ...] = ()) -> Site:
    return Site("S", "CL", "Site", "Etc/UTC", hot_seasons=spans, visit_days=days)


def test_a_southern_hot_season_wraps_the_year_and_is_one_season() -> None:
    found = hot_seasons(site(SOUTHERN_SUMMER), date(2026, 1, 1), date(2026, 12, 31))
    assert found == (Season(date(2025, 12, 1), date(2026, 2, 28)), Season(date(2026, 12, 1), date(2027, 2, 28)))


@pytest.mark.parametrize(
    ("hot", "cold"),
    [
        (NORTHERN_SUMMER, Season(date(2026, 12, 1), date(2027, 2, 28))),
        (SOUTHERN_SUMMER, Season(date(2026, 6, 1), date(2026, 8, 28))),
    ],
)
def test_the_cold_season_lies_half_a_year_from_the_hot_one(hot: YearSpan, cold: Season) -> None:
    """The southern winter ends on 31 August by the quarters; half a year from 28 February is 28 August."""
    assert cold in cold_seasons(site(hot), date(2026, 1, 1), date(2027, 2, 1)), METEOROLOGICAL


def test_a_site_with_no_hot_season_or_with_two_has_no_cold_one() -> None:
    two = site(YearSpan(3, 1, 4, 30), YearSpan(9, 1, 10, 31))
    year = date(2026, 1, 1), date(2026, 12, 31)
    assert len(hot_seasons(two, *year)) == 2
    assert cold_seasons(two, *year) == cold_seasons(site(), *year) == hot_seasons(site(), *year) == ()


@given(first=st.dates(date(2026, 1, 1), date(2026, 12, 31)), length=st.integers(1, 330))
@settings(max_examples=80, deadline=None)
def test_no_day_is_in_both_the_hot_and_the_cold_season(first: date, length: int) -> None:
    last = first + timedelta(days=length)
    place = site(YearSpan(first.month, first.day, last.month, last.day))
    hot = hot_seasons(place, date(2026, 1, 1), date(2029, 1, 1))
    for cold in cold_seasons(place, date(2027, 1, 1), date(2028, 1, 1)):
        assert not any(one.first <= cold.last and cold.first <= one.last for one in hot)


@pytest.mark.parametrize(
    ("season", "window", "earliest", "due", "latest"),
    [
        (Season(date(2026, 6, 1), date(2026, 8, 31)), BEFORE_HOT, (2026, 3, 23), (2026, 4, 6), (2026, 5, 11)),
        (Season(date(2026, 12, 1), date(2027, 2, 28)), BEFORE_HOT, (2026, 9, 22), (2026, 10, 6), (2026, 11, 10)),
        (Season(date(2026, 12, 1), date(2027, 2, 28)), AFTER_HOT, (2027, 2, 28), (2027, 3, 14), (2027, 3, 28)),
    ],
)
def test_preparation_opens_ten_weeks_before_and_closes_three_weeks_before(
    season: Season, window: SeasonWindow, earliest: tuple[int, int, int], due: tuple[int, int, int],
    latest: tuple[int, int, int],
) -> None:  # fmt: skip
    """Weeks: common practice. Days counted on a printed calendar."""
    found = window_beside(season, window)
    assert (found.earliest, found.due, found.latest) == (date(*earliest), date(*due), date(*latest))


def test_a_site_that_states_no_days_is_open_from_monday_to_friday() -> None:
    week = OpenDays(site(), (), date(2026, 5, 18), date(2026, 5, 24))
    assert [day.isoformat() for day in week.days] == [f"2026-05-{day}" for day in range(18, 23)]


def test_the_last_day_of_a_closure_is_the_first_day_it_no_longer_holds() -> None:
    closure = Closure("S", date(2026, 5, 18), date(2026, 5, 20))
    assert OpenDays(site(), (closure,), date(2026, 5, 18), date(2026, 5, 21)).days == [
        date(2026, 5, 20),
        date(2026, 5, 21),
    ]


def test_a_closure_without_an_end_closes_for_good() -> None:
    days = OpenDays(site(), (Closure("S", date(2026, 5, 20)),), date(2026, 5, 18), date(2027, 5, 18))
    assert days.days == [date(2026, 5, 18), date(2026, 5, 19)]
    assert days.first_from(date(2026, 5, 20)) is None


def test_ten_years_of_a_working_week() -> None:
    """1 January 2026 is a Thursday: 521 whole weeks of five days, and Thursday, Friday and Monday."""
    days = OpenDays(site(), (), date(2026, 1, 1), date(2035, 12, 31))
    assert len(days.days) == 521 * 5 + 3


@pytest.mark.parametrize(
    ("region", "day", "name", "source"),
    [
        ("US", date(2026, 7, 3), "Independence Day (observed)", "5 U.S.C. 6103: on a Saturday, the Friday before"),
        ("US", date(2026, 11, 26), "Thanksgiving Day", "5 U.S.C. 6103: fourth Thursday of November"),
        ("GB", date(2026, 4, 3), "Good Friday", "two days before Easter, 5 April 2026"),
        ("DE", date(2026, 10, 3), "German Unity Day", "Unification Treaty of 1990, article 2"),
        ("DE-BY", date(2026, 11, 1), "All Saints' Day", "Bavarian holidays act (from memory)"),
        ("AU-VIC", date(2026, 11, 3), "Melbourne Cup Day", "Victoria: first Tuesday of November (from memory)"),
    ],
)
def test_a_site_is_shut_on_the_public_holidays_of_its_region(region: str, day: date, name: str, source: str) -> None:
    weekdays = tuple(range(7))
    stated = Site("S", "CL", "Site", "Etc/UTC", visit_days=weekdays, holiday_region=region)
    days = OpenDays(stated, (), day - timedelta(days=1), day + timedelta(days=1))
    assert day not in days, source
    assert days.why_closed(day, day) == [name], source
    unstated = OpenDays(site(days=weekdays), (), day, day)
    assert day in unstated, "without a region no holiday counts"


def test_a_holiday_of_one_region_is_a_working_day_in_the_next() -> None:
    """All Saints' Day is a holiday in Bavaria and not in Berlin (holidays acts of the states; from memory)."""
    day = date(2027, 11, 1)
    open_in = {
        region: day in OpenDays(Site("S", "CL", "Site", "Etc/UTC", holiday_region=region), (), day, day)
        for region in ("DE-BY", "DE-BE", "DE")
    }
    assert open_in == {"DE-BY": False, "DE-BE": True, "DE": True}


def test_a_closure_is_named_before_the_holiday_in_it_and_a_free_weekday_not_at_all() -> None:
    site_in_us = Site("S", "CL", "Site", "Etc/UTC", holiday_region="US")
    closure = Closure("S", date(2026, 12, 24), date(2026, 12, 31), "winter break")
    days = OpenDays(site_in_us, (closure,), date(2026, 12, 1), date(2027, 1, 4))
    assert days.why_closed(date(2026, 12, 24), date(2027, 1, 1)) == ["winter break", "New Year's Day"]
    assert days.why_closed(date(2026, 12, 19), date(2026, 12, 20)) == [], "a weekend"
