"""Where values that creep towards a limit are expected to pass it, and how sure that is.

A straight line by weighted least squares; the spread is that of the day on which the line meets the limit (Fieller's
interval, J. R. Stat. Soc. B 16:175, 1954; from memory), at 80 %: at most one time in ten it is passed sooner. Dirt on a
condenser acts mildly at first and faster later, so a line looks no further ahead than readings bear.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

FEWEST_POINTS = 3
"""Two points always make a line, whatever they are worth."""
SHORTEST_DAYS = 14
"""Readings of one week say how well one reads, not what has changed."""
FURTHEST_SHARE = 2.0
"""How far behind the last reading the limit may lie, as a share of the time that the readings span."""
SIGMAS = 1.2816
"""Both sides of 80 % of a normal distribution."""

LATEST_DAYS = 3650.0
"""Where the slope is barely beyond chance the far end of the spread lies years ahead; ten say as much."""


@dataclass(frozen=True, slots=True)
class Point:
    """A value on a day, with one standard deviation of what repeating the reading would change."""

    on: date
    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Crossing:
    """The day on which a limit is expected to be passed, and the days between which that lies four times in five."""

    early: date
    likely: date
    late: date


def expected_crossing(
    points: Sequence[Point], limit: float, *, above: bool, limit_error: float = 0.0
) -> Crossing | None:
    """When values that rise (`above`) or fall are expected to pass `limit`, which itself is known to `limit_error`.

    `points` one for each day, oldest first. None where that cannot be told: fewer than three, all within two weeks,
    moving the other way or not beyond chance, already past the limit, or passing it further ahead than twice the time
    that they span. Where they scatter more than their errors account for, the scatter counts.
    """
    if len(points) < FEWEST_POINTS or (points[-1].on - points[0].on).days < SHORTEST_DAYS:
        return None
    import numpy as np

    days = np.array([(one.on - points[0].on).days for one in points], dtype=float)
    values = np.array([one.value for one in points])
    weights = 1.0 / np.array([one.error for one in points])
    (slope, start), covariance = np.polyfit(days, values, 1, w=weights, cov="unscaled")
    scatter = float(np.sum((weights * (values - start - slope * days)) ** 2)) / (len(points) - 2)
    covariance = covariance * max(1.0, scatter)
    if bool(slope > 0) is not above or abs(slope) <= SIGMAS * math.sqrt(covariance[0, 0]):
        return None
    gap = start - limit
    likely = -gap / slope
    span = float(days[-1])
    if not span < likely <= span * (1.0 + FURTHEST_SHARE):
        return None
    square = SIGMAS**2
    leading = slope**2 - square * covariance[0, 0]
    middle = gap * slope - square * covariance[0, 1]
    last = gap**2 - square * (covariance[1, 1] + limit_error**2)
    root = math.sqrt(max(middle**2 - leading * last, 0.0))
    early, late = (float((-middle + sign * root) / leading) for sign in (-1.0, 1.0))
    begun = points[0].on
    return Crossing(
        begun + timedelta(days=math.floor(early)),
        begun + timedelta(days=round(likely)),
        begun + timedelta(days=math.ceil(min(late, LATEST_DAYS))),
    )
