"""The temperature of many tanks over time, all at once.

Each step is exponential in the time constant of that moment (Rosenbrock-Euler): exact for constant coefficients, first
order otherwise. Lamps enter with the share of the step that they are lit. Cooling and heating are held as thermostats
would on average: as much as brings the water to target, at most what there is. The air of the stands follows
within a step from the heat of the step before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.balance import (
    Cases,
    air_at,
    fan_cooling,
    heat_into_stands,
    losses,
    machine_output,
    stand_state,
)
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.properties import latent_heat
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

FINE, COARSE, COARSEST = 1, 3, 6
"""Steps of 10 and 30 minutes and of an hour, in bins of the day."""
FINE_HOURS, COARSE_HOURS = 24.0, 48.0
CLOSES_WITHIN_K = 0.01
LONGEST_PASSES = 14


def exponential_step(temp_c: Array, rate_k_s: Array, decay_per_s: Array, seconds: float) -> Array:
    """Temperature after a step of a first-order system. [°C]

    rate_k_s: net rate of change at `temp_c` [K/s]; decay_per_s: minus its slope against temperature [1/s], above 0.
    Exact where both are those of a linear system.
    """
    result: Array = temp_c + rate_k_s * -np.expm1(-decay_per_s * seconds) / decay_per_s
    return result


@dataclass(frozen=True)
class Controls:
    """What may run in each case: links and fans [link or fan, case], and each link's share of its machine [link]."""

    links_on: BoolArray
    fans_on: BoolArray
    share: Array


@dataclass(frozen=True)
class Course:
    """What a run gives, [tank, case]: last and highest water [°C], hours until `limit_c` was passed (inf: not within
    the run), mean evaporation [kg/s] and mean share of the cooling used.

    `temps_c` and `stands_c` [tank, case, step] and `hours` [step] only where they were asked for.
    """

    end_c: Array
    peak_c: Array
    passed_after_h: Array
    evaporation_kg_s: Array
    duty: Array
    temps_c: Array | None = None
    stands_c: Array | None = None
    hours: Array | None = None


def _steps(hours: float, shortest: int) -> list[int]:
    """Lengths of the steps in bins: fine on the first day, coarse on the second, an hour after that."""
    plan: list[int] = []
    done = 0
    while done < round(hours * BINS_PER_HOUR):
        wanted = FINE if done < FINE_HOURS * BINS_PER_HOUR else COARSE
        if done >= COARSE_HOURS * BINS_PER_HOUR:
            wanted = COARSEST
        plan.append(max(wanted, shortest))
        done += plan[-1]
    return plan


class _HeatTables:
    """Heat released in water and stands by time of day, averaged over steps of a given length."""

    def __init__(self, cases: Cases) -> None:
        self.cases = cases
        self.made: dict[int, tuple[Array, Array]] = {}

    def at(self, bin_of_day: IntArray, length: int) -> tuple[Array, Array]:
        if length not in self.made:
            tanks = self.cases.model.tanks
            water, stand = (
                table.reshape(*table.shape[:2], BINS // length, length).mean(axis=-1)
                for table in (tanks.gain_w, tanks.stand_gain_w)
            )
            self.made[length] = (water, stand)
        water, stand = self.made[length]
        place = (bin_of_day % BINS) // length
        return water[:, self.cases.side, place], stand[:, self.cases.side, place]


def simulate(
    cases: Cases,
    controls: Controls,
    *,
    start_c: Array,
    start_hour: IntArray,
    hours: float,
    limit_c: Array | None = None,
    shortest_step: int = FINE,
    keep: bool = False,
) -> Course:
    """Follows every tank in every case from `start_c` [tank, case] at a full hour of the day [case].

    hours: length of the run; limit_c [tank]: the upper limit to watch for, and the run ends early once every tank has
    passed it or repeats itself from day to day; shortest_step: in bins of ten minutes (1, 3 or 6); keep: whether to
    keep the whole course. A machine that trips stays off to the end of the run.
    """
    model = cases.model
    tanks, machines, links, fans = (
        model.tanks, model.devices.machines, model.devices.links, model.devices.fans
    )  # fmt: skip
    shape = cases.open_m2.shape
    tables = _HeatTables(cases)
    target = tanks.target_c[:, None]
    heater = tanks.heater_w[:, None]
    capacity = cases.heat_capacity_j_k
    limit = np.full(shape, np.inf) if limit_c is None else np.broadcast_to(limit_c[:, None], shape)

    temp = np.array(start_c, dtype=float)
    peak = temp.copy()
    passed = np.where(temp >= limit, 0.0, np.inf)
    air = air_at(cases, start_hour.astype(float))
    stand_c, stand_vapour = air.room_c.copy(), air.vapour_pa.copy()
    ratio = np.ones((len(machines.codes), shape[1]))
    machine_heat = np.zeros_like(ratio)
    in_range = (machines.set_point_c >= CHILLER_WATER_C.low) & (machines.set_point_c <= CHILLER_WATER_C.high)
    out_of_use = np.broadcast_to((~machines.usable | (machines.is_chiller & ~in_range))[:, None], ratio.shape).copy()
    evaporated, used_share = np.zeros(shape), np.zeros(shape)
    kept_temps: list[Array] = []
    kept_stands: list[Array] = []
    kept_hours: list[float] = []
    elapsed = 0
    day_before = temp.copy()
    for length in _steps(hours, shortest_step):
        seconds = length * 3600.0 / BINS_PER_HOUR
        bins = start_hour * BINS_PER_HOUR + elapsed
        gain, stand_gain = tables.at(bins, length)
        air = air_at(cases, (bins + length / 2.0) / BINS_PER_HOUR % 24.0)
        stand_heat = heat_into_stands(cases, machine_heat, stand_gain)
        stand_c, stand_vapour = stand_state(cases, temp, air, stand_heat, stand_c, stand_vapour)
        leaving = losses(cases, temp, air, stand_c, stand_vapour)

        machine_water = np.zeros_like(ratio)
        np.add.at(machine_water, links.machine, temp[links.tank] * controls.share[:, None])
        output = machine_output(cases, machine_water, air, stand_c, ratio)
        link_w = output.cooling_w[links.machine] * controls.share[:, None] * controls.links_on
        link_w = np.where(out_of_use[links.machine], 0.0, link_w)
        available = np.zeros(shape)
        np.add.at(available, links.tank, link_w)
        if fans.tank.size:
            fan_w, fan_vapour_w = fan_cooling(cases, temp, air, leaving)
            useful = controls.fans_on & (fan_w > 0.0)
            np.add.at(available, fans.tank, fan_w * useful)

        decay = leaving.slope_w_per_k / capacity
        free = exponential_step(temp, (gain - leaving.watts) / capacity, decay, seconds)
        reach_s = -np.expm1(-decay * seconds) / decay
        wanted = (free - target) * capacity / reach_s
        used = np.clip(wanted, 0.0, available)
        heating = np.clip(-wanted, 0.0, heater)
        after = np.clip(free + (heating - used) * reach_s / capacity, WATER_C.low, WATER_C.high)

        share_used = used / np.maximum(available, 1e-9)
        drawn = np.zeros_like(ratio)
        np.add.at(drawn, links.machine, link_w * share_used[links.tank])
        running = drawn / np.maximum(output.cooling_w, 1e-9)
        machine_heat = drawn + running * output.power_w
        ratio = np.where(running > 0.0, output.load_ratio, 1.0)
        stops = (output.inlet_c > CONDENSER_INLET_C.high) | (
            machines.is_chiller[:, None] & ((output.condensing_c > CUT_OUT_C) | (machine_water < CHILLER_WATER_C.low))
        )
        out_of_use |= stops & (running > 0.0)

        hour = elapsed / BINS_PER_HOUR
        crossing = (after >= limit) & np.isinf(passed)
        part = (limit - temp) / np.where(crossing, after - temp, 1.0)
        passed = np.where(crossing, hour + np.clip(part, 0.0, 1.0) * seconds / 3600.0, passed)
        evaporated += leaving.evaporation_kg_s * length
        if fans.tank.size:
            blown_kg_s = fan_vapour_w * useful * share_used[fans.tank] / latent_heat.on_arrays(temp[fans.tank])
            np.add.at(evaporated, fans.tank, blown_kg_s * length)
        used_share += share_used * length
        temp = after
        peak = np.maximum(peak, temp)
        elapsed += length
        if keep:
            kept_temps.append(temp)
            kept_stands.append(stand_c)
            kept_hours.append(elapsed / BINS_PER_HOUR)
        if limit_c is not None and elapsed % BINS == 0:
            open_cases = np.isinf(passed)
            if not open_cases.any() or np.max(np.where(open_cases, temp - day_before, 0.0)) < CLOSES_WITHIN_K / 2.0:
                break
            day_before = temp.copy()
    return Course(
        end_c=temp,
        peak_c=peak,
        passed_after_h=passed,
        evaporation_kg_s=evaporated / elapsed,
        duty=used_share / elapsed,
        temps_c=np.stack(kept_temps, axis=-1) if keep else None,
        stands_c=np.stack(kept_stands, axis=-1) if keep else None,
        hours=np.array(kept_hours) if keep else None,
    )


def periodic_day(cases: Cases, controls: Controls, *, guess_c: Array, time_constant_s: Array) -> Course:
    """The day that repeats itself: run again until it closes to 0.01 K, faster where the time constant is long.

    guess_c and time_constant_s [tank, case].
    """
    start_hour = np.zeros(cases.side.shape, dtype=np.intp)
    start = np.clip(guess_c, WATER_C.low, WATER_C.high)
    stretch = 1.0 / -np.expm1(-86_400.0 / time_constant_s)
    for attempt in range(LONGEST_PASSES):
        course = simulate(cases, controls, start_c=start, start_hour=start_hour, hours=24.0, shortest_step=COARSE)
        error = course.end_c - start
        if np.max(np.abs(error), initial=0.0) < CLOSES_WITHIN_K:
            break
        forward = error * (stretch if attempt % 3 < 2 else 1.0)
        start = np.clip(start + forward, WATER_C.low, WATER_C.high)
    return simulate(cases, controls, start_c=course.end_c, start_hour=start_hour, hours=24.0)
