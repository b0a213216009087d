"""Temperatures over time: the day that repeats itself, and the hours to the limit when something fails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.balance import equilibrium
from fleet.thermal.capacity import AtPeak, Loss
from fleet.thermal.cases import Cases, Model, spread_over_cases
from fleet.thermal.day import Controls, Course, periodic_day, simulate
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import AC_OFF, HOT
from fleet.thermal.tanks import SIDES, BoolArray, IntArray

START_HOURS = (0, 4, 8, 12, 16, 20)
"""Hours of the day at which a failure is let begin; the worst counts."""
SHORTEST_RUN_H, LONGEST_RUN_H = 168.0, 720.0
TIME_CONSTANTS = 3.0
ALL_LOST, LARGEST_LOST, AC_LOST, AC_AND_ALL_LOST, AC_OFF_LARGEST_LOST = range(5)
FAILURES = 5


@dataclass(frozen=True)
class Days:
    """The repeating day of each scenario: [tank, scenario, side], water °C, litres a day."""

    peak_c: Array
    equilibrium_c: Array
    evaporation_l_per_day: Array
    time_constant_s: Array


@dataclass(frozen=True)
class RepeatingDay:
    """The repeating day of each scenario and side as a run, over cases that hold the scenarios one after the other."""

    cases: Cases
    course: Course
    rest_c: Array
    time_constant_s: Array


def repeating_day(model: Model, share: Array, *, keep: bool = False) -> RepeatingDay:
    """Runs the hot day and the day with the A/C off, with the devices on duty, on each side of the estimate.

    keep: whether to keep the whole course. Case `scenario * SIDES + side`.
    """
    scenario = np.repeat(np.array([HOT, AC_OFF]), SIDES)
    side = np.tile(np.arange(SIDES), 2)
    cases = spread_over_cases(model, side, scenario)
    tanks, devices = model.tanks, model.devices
    mean_gain, mean_stand = (table.mean(axis=-1)[:, side] for table in (tanks.gain_w, tanks.stand_gain_w))
    rest_c, time_constant_s = equilibrium(cases, mean_gain, mean_stand)
    cooled = np.zeros(len(tanks.codes), dtype=bool)
    cooled[devices.links.tank[devices.links.duty]] = True
    target = tanks.target_c[:, None]
    held = (cooled[:, None] & (rest_c > target)) | ((tanks.heater_w > 0.0)[:, None] & (rest_c < target))
    guess = np.where(held, target, rest_c)
    controls = _controls(model, share, cases.side.size)
    course = periodic_day(cases, controls, guess_c=guess, time_constant_s=time_constant_s, keep=keep)
    return RepeatingDay(cases, course, rest_c, time_constant_s)


def repeating_days(model: Model, share: Array) -> Days:
    """What the repeating day of each scenario and side amounts to."""
    found = repeating_day(model, share)

    def by_scenario(values: Array) -> Array:
        return values.reshape(len(model.tanks.codes), 2, SIDES)

    return Days(
        peak_c=by_scenario(found.course.peak_c),
        equilibrium_c=by_scenario(found.rest_c),
        evaporation_l_per_day=by_scenario(found.course.evaporation_kg_s * 86_400.0),
        time_constant_s=by_scenario(found.time_constant_s),
    )


def _controls(model: Model, share: Array, cases: int) -> Controls:
    """Everything on duty in every case."""
    links, fans = model.devices.links, model.devices.fans
    return Controls(
        np.broadcast_to(links.duty[:, None], (links.duty.size, cases)),
        np.broadcast_to(fans.duty[:, None], (fans.duty.size, cases)),
        share,
    )


def hours_by_failure(model: Model, peak: AtPeak, losses: tuple[Loss, Loss], days: Days) -> Array:
    """Hours from a failure to the upper act limit, from the worst hour of the day; inf: never. [tank, failure, side]

    losses: the largest loss on the hot day and with the A/C off.
    """
    tanks, links, fans = model.tanks, model.devices.links, model.devices.fans
    scenario_of = np.array([HOT, HOT, AC_OFF, AC_OFF, AC_OFF])
    none_link, none_fan = np.zeros_like(links.duty), np.zeros_like(fans.duty)
    links_of = np.stack([none_link, losses[0].links_left, links.duty, none_link, losses[1].links_left], axis=1)
    fans_of = np.stack([none_fan, losses[0].fans_left, fans.duty, none_fan, losses[1].fans_left], axis=1)
    starts = len(START_HOURS)
    failure = np.repeat(np.arange(FAILURES), SIDES * starts)
    side = np.tile(np.repeat(np.arange(SIDES), starts), FAILURES)
    start_hour = np.tile(np.array(START_HOURS, dtype=np.intp), FAILURES * SIDES)
    cases = spread_over_cases(model, side, scenario_of[failure])
    controls = Controls(_spread(links_of, failure), _spread(fans_of, failure), peak.share)
    longest_s = float(days.time_constant_s.max(initial=0.0))
    hours = min(max(TIME_CONSTANTS * longest_s / 3600.0, SHORTEST_RUN_H), LONGEST_RUN_H)
    limit = np.array([limits.act_high_c for limits in tanks.limits])
    course = simulate(
        cases,
        controls,
        start_c=np.repeat(tanks.start_c[:, None], failure.size, axis=1),
        start_hour=start_hour,
        hours=hours,
        limit_c=limit,
    )
    passed = course.passed_after_h.reshape(len(tanks.codes), FAILURES, SIDES, starts)
    result: Array = passed.min(axis=-1)
    return result


def _spread(values: BoolArray, failure: IntArray) -> BoolArray:
    result: BoolArray = values[:, failure]
    return result
