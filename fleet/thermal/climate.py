"""Outdoor design conditions from one year of hourly temperatures: design peak, daily range, hot season."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from fleet.errors import BadInput
from fleet.thermal.ranges import Array
from fleet.values.climate import DesignClimate, NoSeason
from fleet.values.register import YearSpan

DAYS, HOURS = 365, 24
EXCEEDED_SHARE = 0.004
"""Share of the year's hours that are warmer than the design peak: about 35 h (the annual 0.4 % value of the ASHRAE
Handbook of Fundamentals, chapter on climatic design information)."""
MEAN_DAYS = 31
UPPER_SHARE = 0.25
"""The hot season is where the running mean of daily maxima lies in this upper share of its swing over the year. Of an
even wave that is four months."""
LEAST_SWING_K = 5.0
"""With less swing than this no part of the year is hotter than another to any purpose."""
COOL_HIGHS_C = 15.0
"""Where even the warmest 31 days have a mean maximum below this, no air outdoors is too warm for a tank."""
LEAST_DAYS = 15
"""Spans of the season that lie closer than this are one; a span that is shorter than this is none."""
_COMMON_YEAR = date(2001, 1, 1)
_DAYS_OF_MONTH = [
    np.array([(_COMMON_YEAR + timedelta(days=day)).month == month for day in range(DAYS)]) for month in range(1, 13)
]


def design_climate(dry_bulb_c: Array) -> DesignClimate:
    """Design peak, mean daily range of the hottest month and hot season.

    dry_bulb_c: air temperature [day, hour], 365 days from 1 January by 24 hours [°C]. The hottest month is the one with
    the highest mean temperature (convention of the ASHRAE Handbook of Fundamentals). The rule for the hot season is our
    own, see `hot_seasons`. Raises BadInput for another shape or for values that are no numbers.
    """
    if dry_bulb_c.shape != (DAYS, HOURS) or not np.isfinite(dry_bulb_c).all():
        raise BadInput(f"expected {DAYS} days of {HOURS} hourly temperatures")
    highs = dry_bulb_c.max(axis=1)
    ranges = highs - dry_bulb_c.min(axis=1)
    hottest = int(np.argmax([dry_bulb_c[days].mean() for days in _DAYS_OF_MONTH]))
    smooth = running_mean(highs)
    warmest, coolest = float(smooth.max()), float(smooth.min())
    without: NoSeason | None = None
    if warmest - coolest < LEAST_SWING_K:
        without = NoSeason.LITTLE_SWING
    elif warmest < COOL_HIGHS_C:
        without = NoSeason.COOL
    return DesignClimate(
        outdoor_design_peak_c=float(np.percentile(dry_bulb_c, 100.0 * (1.0 - EXCEEDED_SHARE))),
        outdoor_daily_range_k=float(ranges[_DAYS_OF_MONTH[hottest]].mean()),
        hottest_month=hottest + 1,
        warmest_highs_c=warmest,
        coolest_highs_c=coolest,
        hot_seasons=() if without else hot_seasons(smooth),
        no_season=without,
    )


def running_mean(daily: Array) -> Array:
    """The mean over the 31 days about each day, across the year's end too. Daily values of one year, the same out."""
    half = MEAN_DAYS // 2
    wrapped = np.concatenate([daily[-half:], daily, daily[:half]])
    return np.convolve(wrapped, np.full(MEAN_DAYS, 1.0 / MEAN_DAYS), mode="valid")


def hot_seasons(smooth_highs: Array) -> tuple[YearSpan, ...]:
    """The spans of the year in which the running mean of daily maxima lies in the upper quarter of its swing.

    They are in the order of the calendar and may wrap the year; there may be two, as about a rainy season.
    smooth_highs: one value for each of 365 days; it must have some swing.
    """
    coldest = int(np.argmin(smooth_highs))
    turned = np.roll(smooth_highs, -coldest)
    threshold = turned.max() - UPPER_SHARE * (turned.max() - turned.min())
    joined: list[tuple[int, int]] = []
    for first, end in _runs(turned >= threshold):
        if joined and first - joined[-1][1] < LEAST_DAYS:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((first, end))
    spans = [_span(first + coldest, end - 1 + coldest) for first, end in joined if end - first >= LEAST_DAYS]
    return tuple(sorted(spans, key=lambda span: (span.first_month, span.first_day)))


def _runs(hot: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First day and day after the last of every run of True."""
    edges = np.flatnonzero(np.diff(hot, prepend=False, append=False))
    return [(int(first), int(end)) for first, end in edges.reshape(-1, 2)]


def _span(first: int, last: int) -> YearSpan:
    begins, ends = (_COMMON_YEAR + timedelta(days=day % DAYS) for day in (first, last))
    return YearSpan(begins.month, begins.day, ends.month, ends.day)
