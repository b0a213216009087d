"""Capacity against need, and how long a tank lasts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fleet.thermal.ranges import WATER_C, Array, FloatOrArray, Range, formula, kind_of, positive

HEAT_W = Range("heat", 0.0, 1e12, "W")
NEED_W = Range("required cooling", -1e12, 1e12, "W")


@formula(available_w=HEAT_W, required_w=NEED_W)
def capacity_margin(available_w: Array, required_w: Array) -> Array:
    """Available over required cooling, less one; infinite where nothing is required. [-]

    available_w: at or above 0; required_w: any, at or below 0 means that no cooling is needed.
    """
    needed = np.asarray(required_w) > 0.0
    result: Array = np.where(needed, available_w / np.where(needed, required_w, 1.0) - 1.0, math.inf)
    return result


@formula(available_w=HEAT_W, required_w=NEED_W)
def duty(available_w: Array, required_w: Array) -> Array:
    """Share of the time that the cooling runs to keep up, 0 to 1. [-]

    available_w: at or above 0; required_w: any. 1 where something is required and nothing available.
    """
    can = np.asarray(available_w) > 0.0
    share = np.clip(required_w / np.where(can, available_w, 1.0), 0.0, 1.0)
    result: Array = np.where(can, share, np.where(np.asarray(required_w) > 0.0, 1.0, 0.0))
    return result


def n_minus_one_margin(capacities_w: Sequence[float] | Array, required_w: FloatOrArray) -> FloatOrArray:
    """Margin that is left when the largest of several devices fails; infinite where nothing is required. [-]

    capacities_w: one for each device along the first axis, at or above 0 (none at all leaves -1); required_w: any.
    """
    capacities = np.asarray(capacities_w, dtype=float)
    HEAT_W.check(capacities)
    NEED_W.check(required_w)
    left = capacities.sum(axis=0) - capacities.max(axis=0, initial=0.0)
    margin = capacity_margin.on_arrays(np.maximum(left, 0.0), np.asarray(required_w, dtype=float))
    return kind_of(margin, required_w, *([] if capacities.ndim <= 1 else [capacities]))


def hours_to_limit(
    start_c: FloatOrArray, limit_c: FloatOrArray, equilibrium_c: FloatOrArray, time_constant_s: FloatOrArray
) -> FloatOrArray:
    """Hours until water on its way from `start_c` to `equilibrium_c` passes `limit_c`. [h]

    Temperatures 0 to 45 °C (the equilibrium up to 500 °C, since it may lie far beyond the limit); time constant above
    0 s. Raises OutOfRange beyond. Infinite where the equilibrium stays inside the limit, 0 where the water is already
    past it. A limit above the start is an upper limit. A limit below the start is a lower one when the water is
    cooling, and an upper one already passed when it is not.
    Source: solution of the first-order balance, t = -tau ln((limit - equilibrium)/(start - equilibrium)).
    """
    WATER_C.check(start_c)
    WATER_C.check(limit_c)
    EQUILIBRIUM_C.check(equilibrium_c)
    TIME_CONSTANT_S.check(time_constant_s)
    start, limit, rest = (np.asarray(value, dtype=float) for value in (start_c, limit_c, equilibrium_c))
    upward = (limit > start) & (rest > limit)
    downward = (limit < start) & (rest < limit)
    past = (limit == start) | ((limit < start) & (rest >= start))
    crossing = upward | downward
    share = np.where(crossing, (limit - rest) / np.where(crossing, start - rest, 1.0), 1.0)
    hours = -np.asarray(time_constant_s, dtype=float) * np.log(share) / 3600.0
    result = np.where(past, 0.0, np.where(crossing, hours, math.inf))
    return kind_of(result, start_c, limit_c, equilibrium_c, time_constant_s)


EQUILIBRIUM_C = Range("equilibrium temperature", -50.0, 500.0, "°C")
TIME_CONSTANT_S = positive("time constant", "s")
