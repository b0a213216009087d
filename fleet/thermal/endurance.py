"""Temperatures over time: the day that repeats itself, and the hours to the limit when something fails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.balance import equilibrium
from fleet.thermal.capacity import AtPeak, Loss
from fleet.thermal.cases import Cases, Model, spread_over_cases, without_devices
from fleet.thermal.day import Controls, Course, periodic_day, simulate
from fleet.thermal.parts import groups, part_of
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import AC_OFF, HOT
from fleet.thermal.tanks import KIND, MID, SAFE, SIDES, BoolArray

START_HOURS = (0, 4, 8, 12, 16, 20)
"""Hours of the day at which a failure is let begin; the worst counts."""
LONGEST_RUN_H = 720.0
ALL_LOST, LARGEST_LOST, AC_LOST, AC_AND_ALL_LOST, AC_OFF_LARGEST_LOST = range(5)
FAILURES = 5
NOTHING_RUNS = Controls(np.zeros((0, 1), dtype=bool), np.zeros((0, 1), dtype=bool), np.zeros(0))


@dataclass(frozen=True)
class Days:
    """The repeating day of each scenario: peak on the safe side [°C], evaporation in the middle [l/day], both
    [tank, scenario]; where the water settles without cooling [°C; tank, scenario, side]."""

    peak_c: Array
    evaporation_l_per_day: Array
    equilibrium_c: Array


@dataclass(frozen=True)
class RepeatingDay:
    """The repeating day of each scenario, on the safe side and in the middle, as a run; rest_c [tank, scenario, side].

    `case` tells the place of a scenario and a side in the run.
    """

    cases: Cases
    course: Course
    rest_c: Array

    def case(self, scenario: int, side: int) -> int:
        """Which case of the run is that of this scenario and side, SAFE or MID."""
        return int(np.flatnonzero((self.cases.scenario == scenario) & (self.cases.side == side))[0])


def repeating_day(model: Model, share: Array, *, keep: bool = False) -> RepeatingDay:
    """Runs the hot day and the day with the A/C off, with the devices on duty.

    keep: whether to keep the whole course.
    """
    scenario, side = np.repeat(np.array([HOT, AC_OFF]), SIDES), np.tile(np.arange(SIDES), 2)
    tanks, devices = model.tanks, model.devices
    mean_gain, mean_stand = (table.mean(axis=-1)[:, side] for table in (tanks.gain_w, tanks.stand_gain_w))
    rest_c, time_constant_s = equilibrium(spread_over_cases(model, side, scenario), mean_gain, mean_stand)
    followed = np.flatnonzero(side != KIND)
    cases = spread_over_cases(model, side[followed], scenario[followed])
    settled_c = rest_c[:, followed]
    cooled = np.zeros(len(tanks.codes), dtype=bool)
    cooled[devices.links.tank[devices.links.duty]] = True
    target = tanks.target_c[:, None]
    held = (cooled[:, None] & (settled_c > target)) | ((tanks.heater_w > 0.0)[:, None] & (settled_c < target))
    guess = np.where(held, target, settled_c)
    controls = _controls(devices.links.duty, devices.fans.duty, share, followed.size)
    course = periodic_day(cases, controls, guess_c=guess, time_constant_s=time_constant_s[:, followed], keep=keep)
    return RepeatingDay(cases, course, rest_c.reshape(len(tanks.codes), 2, SIDES))


def repeating_days(model: Model, share: Array) -> Days:
    """What the repeating day of each scenario amounts to."""
    found = repeating_day(model, share)

    def of_side(values: Array, side: int) -> Array:
        return values[:, [found.case(scenario, side) for scenario in (HOT, AC_OFF)]]

    return Days(
        peak_c=of_side(found.course.peak_c, SAFE),
        evaporation_l_per_day=of_side(found.course.evaporation_kg_s, MID) * 86_400.0,
        equilibrium_c=found.rest_c,
    )


def _controls(links_on: BoolArray, fans_on: BoolArray, share: Array, cases: int) -> Controls:
    """The same devices in every case."""
    return Controls(
        np.broadcast_to(links_on[:, None], (links_on.size, cases)),
        np.broadcast_to(fans_on[:, None], (fans_on.size, cases)),
        share,
    )


def hours_by_failure(model: Model, peak: AtPeak, losses: tuple[Loss, Loss]) -> Array:
    """Hours from a failure to the upper act limit, from the worst hour of the day; inf: never. [tank, failure, side]

    losses: the largest loss on the hot day and with the A/C off.
    """
    links, fans = model.devices.links, model.devices.fans
    result = np.full((len(model.tanks.codes), FAILURES, SIDES), np.inf)
    bare = without_devices(model)
    for scenario, everything, others in (
        (HOT, ALL_LOST, ((LARGEST_LOST, losses[HOT].links_left, losses[HOT].fans_left),)),
        (
            AC_OFF,
            AC_AND_ALL_LOST,
            (
                (AC_LOST, links.duty, fans.duty),
                (AC_OFF_LARGEST_LOST, losses[AC_OFF].links_left, losses[AC_OFF].fans_left),
            ),
        ),
    ):
        lost = result[:, everything] = _soonest(_failing(bare, scenario), NOTHING_RUNS)
        whole = _failing(model, scenario)
        for failure, links_on, fans_on in others:
            result[:, failure] = lost
            running = np.flatnonzero(_where_something_runs(model, links_on, fans_on))
            if running.size:
                part = part_of(whole, running)
                controls = _controls(links_on[part.links], fans_on[part.fans], peak.share[part.links], whole.side.size)
                result[running, failure] = _soonest(part.cases, controls)
    return result


def _failing(model: Model, scenario: int) -> Cases:
    """One case for each side of the estimate and each hour at which the failure may begin, in this order."""
    side = np.repeat(np.arange(SIDES), len(START_HOURS))
    return spread_over_cases(model, side, np.full(side.size, scenario))


def _where_something_runs(model: Model, links_on: BoolArray, fans_on: BoolArray) -> BoolArray:
    """Tanks that a device still cools, and those that a machine or a stand ties to one; [tank]."""
    links, fans, label = model.devices.links, model.devices.fans, groups(model)
    touched = np.zeros(label.size, dtype=bool)
    touched[label[links.tank[links_on]]] = True
    touched[label[fans.tank[fans_on]]] = True
    found: BoolArray = touched[label]
    return found


def _soonest(cases: Cases, controls: Controls) -> Array:
    """Hours to the upper act limit from the worst of the hours at which the failure may begin; [tank, side]."""
    tanks = cases.model.tanks
    course = simulate(
        cases,
        controls,
        start_c=np.repeat(tanks.start_c[:, None], cases.side.size, axis=1),
        start_hour=np.tile(np.array(START_HOURS, dtype=np.intp), SIDES),
        hours=LONGEST_RUN_H,
        limit_c=np.array([limits.act_high_c for limits in tanks.limits]),
    )
    soonest: Array = course.passed_after_h.reshape(len(tanks.codes), SIDES, -1).min(axis=-1)
    return soonest
