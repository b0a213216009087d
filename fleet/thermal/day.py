"""The temperature of many tanks over time, all at once, with thermostats averaged over a step.

Each step is exponential in the time constant of that moment (Rosenbrock-Euler): exact for constant coefficients, first
order otherwise. Lamps enter with the share of the step that they are lit. Cooling and heating are held as thermostats
would on average: as much as brings the water to target, at most what there is. The air of the stands follows
within a step from the heat of the step before.

This is for what days and weeks amount to: peaks, days that repeat, hours to a limit, over many cases of a tank.
traces.py follows the same balance minute by minute with thermostats that switch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleet.thermal.balance import add_rows, air_at, fan_cooling, heat_into_stands, losses, machine_output, stand_state
from fleet.thermal.cases import Cases
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.parts import groups, part_of
from fleet.thermal.properties import latent_heat
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

FINE, COARSE, COARSEST = 1, 3, 6
"""Steps of 10 and 30 minutes and of an hour, in bins of the day."""
FINE_HOURS, COARSE_HOURS = 24.0, 48.0
CLOSES_WITHIN_K = 0.01
LONGEST_PASSES = 14
NARROW_BELOW = 0.8
"""A run with a limit goes on with the tanks that need it once they are fewer than this share."""


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

    hours: length of the run; limit_c [tank]: the upper limit to watch for; a tank is followed no further once it has
    passed that in every case or repeats itself from day to day. shortest_step: in bins of ten minutes (1, 3 or 6);
    keep: whether to keep the whole course. A machine that trips stays off to the end of the run.
    """
    run = _Averaged(cases, controls, start_c, start_hour, limit_c)
    kept_temps: list[Array] = []
    kept_stands: list[Array] = []
    kept_hours: list[float] = []
    elapsed = 0
    for length in _steps(hours, shortest_step):
        run.step(elapsed, length)
        elapsed += length
        if keep:
            kept_temps.append(run.temp)
            kept_stands.append(run.stand_c)
            kept_hours.append(elapsed / BINS_PER_HOUR)
        if limit_c is not None and elapsed % BINS == 0:
            follow = run.to_be_followed()
            if not follow.any():
                break
            if not keep and follow.mean() < NARROW_BELOW:
                run.narrow(follow, elapsed)
    run.write(elapsed)
    return replace(
        run.course,
        temps_c=np.stack(kept_temps, axis=-1) if keep else None,
        stands_c=np.stack(kept_stands, axis=-1) if keep else None,
        hours=np.array(kept_hours) if keep else None,
    )


_OF_TANKS = (
    "rows", "temp", "peak", "day_before", "limit", "passed", "stand_c", "stand_vapour", "evaporated", "used_share",
)  # fmt: skip


def _water_weights(controls: Controls, machine: IntArray, shape: tuple[int, int]) -> Array:
    """Weight of each tank's water in what its machine cools, [link, case]; those of one machine add up to one.

    Of the links that run, by their shares; of all of them where none runs. A standby's link, whose share counts
    everybody on the machine, adds nothing while it stands by.
    """
    share = np.repeat(controls.share[:, None], shape[1], axis=1)
    running, total, everybody = share * controls.links_on, np.zeros(shape), np.zeros(shape)
    add_rows(total, machine, running)
    add_rows(everybody, machine, share)
    weights: Array = np.where(
        total[machine] > 0.0,
        running / np.maximum(total[machine], 1e-12),
        share / np.maximum(everybody[machine], 1e-12),
    )
    return weights


class _Averaged:
    """The state of the tanks that are still followed, and what became of all of them."""

    def __init__(
        self, cases: Cases, controls: Controls, start_c: Array, start_hour: IntArray, limit_c: Array | None
    ) -> None:
        shape = cases.open_m2.shape
        machines = cases.model.devices.machines
        self.rows = np.arange(shape[0])
        self.course = Course(*(np.zeros(shape) for _ in range(5)))
        self.start_hour = start_hour
        self.temp = np.array(start_c, dtype=float)
        self.peak, self.day_before = self.temp.copy(), self.temp.copy()
        self.limit = np.full(shape, np.inf) if limit_c is None else np.repeat(limit_c[:, None], shape[1], axis=1)
        self.passed = np.where(self.temp >= self.limit, 0.0, np.inf)
        air = air_at(cases, start_hour.astype(float))
        self.stand_c, self.stand_vapour = air.room_c.copy(), air.vapour_pa.copy()
        self.ratio = np.ones((len(machines.codes), shape[1]))
        self.machine_heat = np.zeros_like(self.ratio)
        in_range = (machines.set_point_c >= CHILLER_WATER_C.low) & (machines.set_point_c <= CHILLER_WATER_C.high)
        lost = ~machines.usable | (machines.is_chiller & ~in_range)
        self.out_of_use = np.repeat(lost[:, None], shape[1], axis=1)
        self.evaporated, self.used_share = np.zeros(shape), np.zeros(shape)
        self.take(cases, controls)

    def take(self, cases: Cases, controls: Controls) -> None:
        """Takes these cases as those that are followed from now on."""
        self.cases, self.controls = cases, controls
        self.tables = _HeatTables(cases)
        self.target = cases.model.tanks.target_c[:, None]
        self.heater = cases.model.tanks.heater_w[:, None]
        self.water_weight = _water_weights(controls, cases.model.devices.links.machine, self.ratio.shape)

    def to_be_followed(self) -> BoolArray:
        """Tanks that have not passed their limit in every case and still grow warmer from day to day; [tank]."""
        rising = np.isinf(self.passed) & (self.temp - self.day_before >= CLOSES_WITHIN_K / 2.0)
        self.day_before = self.temp
        follow: BoolArray = rising.any(axis=1)
        return follow

    def narrow(self, follow: BoolArray, elapsed: int) -> None:
        """Goes on with these tanks, and those that share a machine or a stand with them, only."""
        self.write(elapsed)
        label = groups(self.cases.model)
        tanks = np.flatnonzero(np.isin(label, label[follow]))
        part = part_of(self.cases, tanks)
        for name in _OF_TANKS:
            setattr(self, name, getattr(self, name)[tanks])
        for name in ("ratio", "machine_heat", "out_of_use"):
            setattr(self, name, getattr(self, name)[part.machines])
        controls = self.controls
        self.take(
            part.cases,
            Controls(controls.links_on[part.links], controls.fans_on[part.fans], controls.share[part.links]),
        )

    def write(self, elapsed: int) -> None:
        """Notes what has become of the tanks that are followed."""
        course = self.course
        for values, now in (
            (course.end_c, self.temp),
            (course.peak_c, self.peak),
            (course.passed_after_h, self.passed),
            (course.evaporation_kg_s, self.evaporated / elapsed),
            (course.duty, self.used_share / elapsed),
        ):
            values[self.rows] = now

    def step(self, elapsed: int, length: int) -> None:
        """One step of `length` bins of the day, begun `elapsed` bins after the start."""
        cases, controls, temp, limit = self.cases, self.controls, self.temp, self.limit
        devices, capacity = cases.model.devices, cases.heat_capacity_j_k
        machines, links, fans = devices.machines, devices.links, devices.fans
        seconds = length * 3600.0 / BINS_PER_HOUR
        bins = self.start_hour * BINS_PER_HOUR + elapsed
        gain, stand_gain = self.tables.at(bins, length)
        air = air_at(cases, (bins + length / 2.0) / BINS_PER_HOUR % 24.0)
        stand_heat = heat_into_stands(cases, self.machine_heat, stand_gain)
        self.stand_c, self.stand_vapour = stand_state(cases, temp, air, stand_heat, self.stand_c, self.stand_vapour)
        leaving = losses(cases, temp, air, self.stand_c, self.stand_vapour)

        machine_water = np.zeros_like(self.ratio)
        add_rows(machine_water, links.machine, temp[links.tank] * self.water_weight)
        output = machine_output(cases, machine_water, air, self.stand_c, self.ratio)
        can = controls.links_on & ~self.out_of_use[links.machine]
        link_w = output.cooling_w[links.machine] * controls.share[:, None] * can
        available = np.zeros_like(temp)
        add_rows(available, links.tank, link_w)
        if fans.tank.size:
            fan_w, fan_vapour_w = fan_cooling(cases, temp, air, leaving)
            useful = controls.fans_on & (fan_w > 0.0)
            add_rows(available, fans.tank, fan_w * useful)

        decay = leaving.slope_w_per_k / capacity
        reach_s = -np.expm1(-decay * seconds) / decay
        free = temp + (gain - leaving.watts) / capacity * reach_s
        wanted = (free - self.target) * capacity / reach_s
        used = np.clip(wanted, 0.0, available)
        moved = -used
        if self.heater.any():
            moved += np.clip(-wanted, 0.0, self.heater)
        after = np.clip(free + moved * reach_s / capacity, WATER_C.low, WATER_C.high)

        share_used = used / np.maximum(available, 1e-9)
        drawn = np.zeros_like(self.ratio)
        add_rows(drawn, links.machine, link_w * share_used[links.tank])
        running = drawn / np.maximum(output.cooling_w, 1e-9)
        self.machine_heat = drawn + running * output.power_w
        self.ratio = np.where(running > 0.0, output.load_ratio, 1.0)
        stops = (output.inlet_c > CONDENSER_INLET_C.high) | (
            machines.is_chiller[:, None] & ((output.condensing_c > CUT_OUT_C) | (machine_water < CHILLER_WATER_C.low))
        )
        self.out_of_use |= stops & (running > 0.0)

        crossing = np.nonzero((after >= limit) & np.isinf(self.passed))
        if crossing[0].size:
            part = (limit[crossing] - temp[crossing]) / (after[crossing] - temp[crossing])
            self.passed[crossing] = elapsed / BINS_PER_HOUR + np.clip(part, 0.0, 1.0) * seconds / 3600.0
        self.evaporated += leaving.evaporation_kg_s * length
        if fans.tank.size:
            blown_kg_s = fan_vapour_w * useful * share_used[fans.tank] / latent_heat.on_arrays(temp[fans.tank])
            add_rows(self.evaporated, fans.tank, blown_kg_s * length)
        self.used_share += share_used * length
        self.temp = after
        np.maximum(self.peak, after, out=self.peak)


def periodic_day(
    cases: Cases, controls: Controls, *, guess_c: Array, time_constant_s: Array, keep: bool = False
) -> Course:
    """The day that repeats itself: run again until it closes to 0.01 K, faster where the time constant is long.

    guess_c and time_constant_s [tank, case]; keep: whether to keep the whole course of it.
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
    return simulate(cases, controls, start_c=course.end_c, start_hour=start_hour, hours=24.0, keep=keep)
