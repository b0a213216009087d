"""Runs of a failed model: when each tank crosses its upper or its lower limit, and how far its water goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleet.thermal.balance import equilibrium
from fleet.thermal.cases import Cases, Model, spread_over_cases
from fleet.thermal.day import Controls, simulate
from fleet.thermal.endurance import LONGEST_RUN_H
from fleet.thermal.ranges import WATER_C, Array
from fleet.thermal.rooms import AC_OFF
from fleet.thermal.tanks import KIND, MID, SAFE, SIDES, BoolArray, IntArray

SHORTEST_RUN_H, TIME_CONSTANTS = 168.0, 3.0
"""A run goes on for three time constants of the slowest water, at least a week and at most LONGEST_RUN_H."""
SMALLEST_FIRST = (SAFE, MID, KIND)
COLDEST_FIRST = (KIND, MID, SAFE)
NEVER_C = 1e6
"""A limit that no water reaches stands for none at all."""
STILL_AGITATION = 1.0
"""A surface that nothing stirs cools at least as Shah's still water does."""


@dataclass(frozen=True)
class Crossing:
    """hours [tank, estimate], from the soonest start of the day on, low first (inf: not within the run); start_hour
    [tank], the hour of the day at which the failure hits soonest; farthest_c [tank], the water farthest on the way to
    the limit on the low estimate."""

    hours: Array
    start_hour: IntArray
    farthest_c: Array


def first_crossing(temps_c: Array, hours: Array, limit_c: Array, *, falling: bool) -> Array:
    """Hours at which each course first reaches its limit, by a line between two steps; inf where it never does.

    temps_c [..., step] with the start as first step, hours [step], limit_c broadcast against [...].
    """
    sign = -1.0 if falling else 1.0
    finite_limit = np.clip(np.broadcast_to(limit_c, temps_c.shape[:-1]), -NEVER_C, NEVER_C)
    over = sign * (temps_c - finite_limit[..., None])
    reached = over >= 0.0
    first = np.argmax(reached, axis=-1)
    before = np.maximum(first - 1, 0)

    def at(values: Array, step: IntArray) -> Array:
        result: Array = np.take_along_axis(values, step[..., None], axis=-1)[..., 0]
        return result

    above, below = at(over, first), at(over, before)
    rise = np.where(above > below, above - below, 1.0)
    share = np.where(first > 0, -below / rise, 0.0)
    crossed = hours[before] + np.clip(share, 0.0, 1.0) * (hours[first] - hours[before])
    result: Array = np.where(reached.any(axis=-1), crossed, np.inf)
    return result


def rising(model: Model, share: Array, limit_c: Array, starts: Sequence[int]) -> Crossing:
    """Runs the failure up to the upper limits [tank], every device on duty under its thermostat."""
    side, start_hour = _cases(SMALLEST_FIRST, starts)
    cases = spread_over_cases(model, side, np.full(side.shape, AC_OFF))
    links, fans = model.devices.links, model.devices.fans
    return _run(cases, model, links.duty, fans.duty, share, model.tanks.start_c, limit_c, start_hour, falling=False)


def falling(
    model: Model,
    share: Array,
    limit_c: Array,
    starts: Sequence[int],
    *,
    start_c: Array,
    links_on: BoolArray,
    no_heating: BoolArray,
) -> Crossing:
    """Runs the failure down to the lower limits [tank] (minus infinity: none), with these links on [link].

    no_heating [tank]: whether the tank's coolers run whatever its temperature, which no heater is counted against. The
    low estimate has the least heat, the most cooling and the least water.
    """
    side, start_hour = _cases(COLDEST_FIRST, starts)
    water_side, _ = _cases(SMALLEST_FIRST, starts)
    tanks = model.tanks
    wild = replace(
        model,
        tanks=replace(
            tanks,
            target_c=np.where(no_heating, WATER_C.low, tanks.target_c),
            heater_w=np.where(no_heating, 0.0, tanks.heater_w),
        ),
    )
    cases = spread_over_cases(wild, side, np.full(side.shape, AC_OFF))
    cases = replace(
        cases,
        heat_capacity_j_k=tanks.heat_capacity_j_k[:, water_side],
        agitation=np.maximum(cases.agitation, STILL_AGITATION),
    )
    return _run(cases, wild, links_on, model.devices.fans.duty, share, start_c, limit_c, start_hour, falling=True)


def _cases(sides: Sequence[int], starts: Sequence[int]) -> tuple[IntArray, IntArray]:
    return (
        np.repeat(np.array(sides, dtype=np.intp), len(starts)),
        np.tile(np.array(starts, dtype=np.intp), SIDES),
    )


def _run(
    cases: Cases,
    model: Model,
    links_on: BoolArray,
    fans_on: BoolArray,
    share: Array,
    start_c: Array,
    limit_c: Array,
    start_hour: IntArray,
    *,
    falling: bool,
) -> Crossing:
    tanks, count = model.tanks, start_hour.size
    gain, stand_gain = (table.mean(axis=-1)[:, cases.side] for table in (tanks.gain_w, tanks.stand_gain_w))
    _rest_c, time_constant_s = equilibrium(cases, gain, stand_gain)
    longest_h = TIME_CONSTANTS * float(time_constant_s.max(initial=0.0)) / 3600.0
    start = np.repeat(start_c[:, None], count, axis=1)
    course = simulate(
        cases,
        Controls(
            np.broadcast_to(links_on[:, None], (links_on.size, count)),
            np.broadcast_to(fans_on[:, None], (fans_on.size, count)),
            share,
        ),
        start_c=start,
        start_hour=start_hour,
        hours=min(max(longest_h, SHORTEST_RUN_H), LONGEST_RUN_H),
        keep=True,
    )
    assert course.temps_c is not None
    assert course.hours is not None
    temps = np.concatenate([start[..., None], course.temps_c], axis=-1)
    hours = np.concatenate([[0.0], course.hours])
    crossed = first_crossing(temps, hours, limit_c[:, None], falling=falling)
    by_side = crossed.reshape(len(tanks.codes), SIDES, -1)
    low_temps = temps.reshape(len(tanks.codes), SIDES, -1, hours.size)[:, 0]
    farthest = low_temps.min(axis=(1, 2)) if falling else low_temps.max(axis=(1, 2))
    return Crossing(
        hours=np.sort(by_side.min(axis=-1), axis=1),
        start_hour=start_hour[: by_side.shape[-1]][np.argmin(by_side[:, 0], axis=-1)],
        farthest_c=farthest,
    )
