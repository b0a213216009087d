"""Design peak, daily range and hot season from a year of hours, against counts, closed forms and handbook values."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput
from fleet.thermal.climate import design_climate
from fleet.values.climate import NoSeason
from fleet.values.register import YearSpan

pvlib = pytest.importorskip("pvlib")
DATA = Path(pvlib.__file__).parent / "data"
MONTH_LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
DAY = np.arange(365)


def tmy3(name: str) -> np.ndarray:
    with (DATA / name).open(encoding="ascii", newline="") as lines:
        next(lines)
        return np.array([float(row["Dry-bulb (C)"]) for row in csv.DictReader(lines)])


def tmy2(name: str) -> np.ndarray:
    return np.array([int(line[67:71]) / 10.0 for line in (DATA / name).read_text().splitlines()[1:]])


FILES = {
    "Greensboro": tmy3("723170TYA.CSV"),
    "Sand Point": tmy3("703165TY.csv"),
    "Miami": tmy2("12839.tm2"),
}


def even_year(
    mean_c: float = 18.0, swing_k: float = 20.0, range_k: float = 8.0, warmest: int = 200, noise: int | None = None
) -> np.ndarray:
    """A cosine over the year on a cosine over the day; `swing_k` is warmest less coolest."""
    season = swing_k / 2.0 * np.cos(2.0 * np.pi * (DAY - warmest) / 365.0)
    course = range_k / 2.0 * np.cos(2.0 * np.pi * (np.arange(24) - 15.0) / 24.0)
    year = mean_c + season[:, None] + course[None, :]
    if noise is not None:
        year = year + np.random.default_rng(noise).normal(0.0, 2.0, (365, 1))
    return np.asarray(year)


@pytest.mark.parametrize("place", FILES)
def test_the_peak_is_the_996th_thousandth_and_35_hours_at_most_are_warmer(place: str) -> None:
    hours = FILES[place]
    peak = design_climate(hours.reshape(365, 24)).outdoor_design_peak_c
    assert peak == pytest.approx(np.percentile(hours, 99.6), abs=1e-9)
    assert np.count_nonzero(hours > peak + 1e-9) <= 35 <= np.count_nonzero(hours >= peak - 1e-9)


@pytest.mark.parametrize("place", FILES)
def test_the_range_is_that_of_the_month_with_the_highest_mean(place: str) -> None:
    days = FILES[place].reshape(365, 24)
    months = np.split(days, np.cumsum(MONTH_LENGTHS)[:-1])
    hottest = max(range(12), key=lambda month: months[month].mean())
    climate = design_climate(days)
    assert climate.hottest_month == hottest + 1
    assert climate.outdoor_daily_range_k == pytest.approx(np.ptp(months[hottest], axis=1).mean(), abs=1e-9)


@pytest.mark.parametrize(
    ("place", "printed_peak_c", "printed_range_k", "tolerance_k", "source"),
    [
        ("Miami", 33.2, 6.7, 1.6, "ASHRAE Handbook of Fundamentals, Miami Intl AP, annual 0.4 %: second-hand, from the "
         "design day in a building simulation's tests; the 1961-1990 typical year lies 1.5 K and 0.8 K lower"),
        ("Greensboro", 33.7, 10.0, 1.0, "ASHRAE Handbook of Fundamentals, Greensboro, annual 0.4 %: from memory"),
    ],
)  # fmt: skip
def test_a_typical_year_comes_near_the_handbook_and_not_above_it(
    place: str, printed_peak_c: float, printed_range_k: float, tolerance_k: float, source: str
) -> None:
    climate = design_climate(FILES[place].reshape(365, 24))
    assert printed_peak_c - tolerance_k <= climate.outdoor_design_peak_c <= printed_peak_c + 0.3, source
    assert climate.outdoor_daily_range_k == pytest.approx(printed_range_k, abs=1.0), source


@pytest.mark.parametrize(
    ("place", "seasons", "without"),
    [
        ("Greensboro", (YearSpan(5, 15, 9, 18),), None),
        ("Miami", (YearSpan(5, 18, 10, 2),), None),
        ("Sand Point", (), NoSeason.COOL),
    ],
)
def test_the_hot_season_of_known_places(place: str, seasons: tuple[YearSpan, ...], without: NoSeason | None) -> None:
    """Regression values; they hold the warm half of the year that the places are known for (common practice)."""
    climate = design_climate(FILES[place].reshape(365, 24))
    assert (climate.hot_seasons, climate.no_season) == (seasons, without)


def test_of_an_even_wave_the_hot_season_is_the_four_months_about_its_top() -> None:
    """Upper quarter of the swing: cos > 1/2, a third of the year on either side of the top."""
    (span,) = design_climate(even_year(warmest=200)).hot_seasons
    first, last = day_number(span.first_month, span.first_day), day_number(span.last_month, span.last_day)
    assert first == pytest.approx(200 - 365 / 6, abs=1.0)
    assert last == pytest.approx(200 + 365 / 6, abs=1.0)


@settings(max_examples=25, deadline=None)
@given(shift=st.floats(-15.0, 15.0), seed=st.integers(0, 1000))
def test_warmer_air_throughout_shifts_the_peak_alike_and_leaves_range_and_season(shift: float, seed: int) -> None:
    year = even_year(mean_c=22.0, noise=seed)
    cool, warm = design_climate(year), design_climate(year + shift)
    assert warm.outdoor_design_peak_c == pytest.approx(cool.outdoor_design_peak_c + shift, abs=1e-9)
    assert warm.outdoor_daily_range_k == pytest.approx(cool.outdoor_daily_range_k, abs=1e-9)
    assert warm.hottest_month == cool.hottest_month
    if warm.no_season is None and cool.no_season is None:
        assert warm.hot_seasons == cool.hot_seasons


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 1000), turn=st.integers(1, 364))
def test_half_a_year_on_the_season_comes_half_a_year_later_on_any_hemisphere(seed: int, turn: int) -> None:
    year = even_year(noise=seed)
    north, south = design_climate(year), design_climate(np.roll(year, turn, axis=0))
    assert south.outdoor_design_peak_c == north.outdoor_design_peak_c

    def days_of(seasons: tuple[YearSpan, ...], later: int) -> set[int]:
        days: set[int] = set()
        for span in seasons:
            first, last = day_number(span.first_month, span.first_day), day_number(span.last_month, span.last_day)
            days |= {(first + day + later) % 365 for day in range((last - first) % 365 + 1)}
        return days

    assert days_of(south.hot_seasons, 0) == days_of(north.hot_seasons, turn)
    assert days_of(south.hot_seasons, 0)


def test_greensboro_turned_to_the_south_has_its_season_across_the_new_year() -> None:
    turned = np.roll(FILES["Greensboro"].reshape(365, 24), 182, axis=0)
    (span,) = design_climate(turned).hot_seasons
    assert (span.first_month, span.last_month) == (11, 3)


def test_a_place_hot_before_and_after_its_rains_has_two_seasons() -> None:
    year = even_year(swing_k=4.0) + 6.0 * np.cos(4.0 * np.pi * (DAY - 110) / 365.0)[:, None]
    spans = design_climate(year).hot_seasons
    assert len(spans) == 2
    assert [span.first_month for span in spans] == sorted(span.first_month for span in spans)


def test_where_the_year_hardly_swings_there_is_no_season() -> None:
    climate = design_climate(even_year(mean_c=28.0, swing_k=3.0))
    assert (climate.hot_seasons, climate.no_season) == ((), NoSeason.LITTLE_SWING)


def test_where_the_warmest_month_is_cool_there_is_no_season() -> None:
    climate = design_climate(even_year(mean_c=0.0, swing_k=20.0))
    assert (climate.hot_seasons, climate.no_season) == ((), NoSeason.COOL)


@pytest.mark.parametrize("year", [np.zeros((364, 24)), np.zeros(8760), np.full((365, 24), np.nan)])
def test_other_than_a_whole_year_of_numbers_is_refused(year: np.ndarray) -> None:
    with pytest.raises(BadInput, match="365 days"):
        design_climate(year)


def day_number(month: int, day: int) -> int:
    """Days since 1 January of a common year."""
    return sum(MONTH_LENGTHS[: month - 1]) + day - 1
