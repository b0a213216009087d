"""The temperature of many tanks over time, all at once, with thermostats averaged over a step.

Each step is exponential in the time constant of that moment (Rosenbrock-Euler): exact for constant coefficients, first
order otherwise. Lamps enter with the share of the step that they are lit. Cooling and heating are held as thermostats
would on average: as much as brings the water to target, at most what there is. The air of the stands follows
within a step from the heat of the step before.

This is for what days and weeks amount to: peaks, days that repeat, hours to a limit, over many cases of a tank.
traces.py follows the same balance minute by minute with thermostats that switch.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from fleet.thermal.balance import (
    Air,
    Losses,
    Places,
    Water,
    air_at,
    fan_cooling,
    heat_into_stands,
    losses,
    machine_output,
    stand_state,
    water_at,
)
from fleet.thermal.cases import Cases
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.parts import Part, groups, part_of
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

FINE, COARSE, COARSEST = 1, 3, 6
"""Steps of 10 and 30 minutes and of an hour, in bins of the day."""
FINE_HOURS, COARSE_HOURS = 24.0, 48.0
CLOSES_WITHIN_K = 0.01
LONGEST_PASSES = 14
LOOK_EVERY = 12
"""Bins after which a run with a limit looks for tanks that it is done with."""
NARROW_BELOW = 0.8
"""A run with a limit goes on with the tanks that need it once they are fewer than this share."""


def exponential_step(temp_c: Array, rate_k_s: Array, decay_per_s: Array, seconds: float | Array) -> Array:
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
    """Heat released in water and stands by side and time of day, averaged over steps of a given length."""

    def __init__(self, cases: Cases) -> None:
        self.cases = cases
        self.made: dict[int, tuple[Array, Array]] = {}

    def at(self, bin_of_day: IntArray, length: int) -> tuple[Array, Array]:
        if length not in self.made:
            tanks = self.cases.model.tanks
            water, stand = (
                table.reshape(*table.shape[:2], BINS // length, length).mean(axis=-1).reshape(table.shape[0], -1)
                for table in (tanks.gain_w, tanks.stand_gain_w)
            )
            self.made[length] = (water, stand)
        water, stand = self.made[length]
        column = self.cases.side * (BINS // length) + (bin_of_day % BINS) // length
        return np.take(water, column, axis=1), np.take(stand, column, axis=1)


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
        if limit_c is not None and elapsed % LOOK_EVERY == 0:
            follow = run.to_be_followed() if elapsed % BINS == 0 else run.not_passed()
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


def controls_of(controls: Controls, part: Part) -> Controls:
    """The controls of the devices in a part."""
    return Controls(controls.links_on[part.links], controls.fans_on[part.fans], controls.share[part.links])


_OF_TANKS = (
    "rows", "temp", "peak", "day_before", "limit", "passed", "stand_c", "stand_vapour", "evaporated", "used_share",
)  # fmt: skip


def _water_weights(controls: Controls, machine: Places, shape: tuple[int, int]) -> Array:
    """Weight of each tank's water in what its machine cools, [link, case]; those of one machine add up to one.

    Of the links that run, by their shares; of all of them where none runs. A standby's link, whose share counts
    everybody on the machine, adds nothing while it stands by.
    """
    share = np.repeat(controls.share[:, None], shape[1], axis=1)
    running = share * controls.links_on
    total, everybody = machine.pick(machine.total(running)), machine.pick(machine.total(share))
    weights: Array = np.where(total > 0.0, running / np.maximum(total, 1e-12), share / np.maximum(everybody, 1e-12))
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
        self.has_heaters = bool(self.heater.any())
        devices = cases.model.devices
        self.link_machine = Places(devices.links.machine, len(devices.machines.codes))
        self.link_tank, self.fan_tank = (
            Places(each.tank, len(cases.model.tanks.codes)) for each in (devices.links, devices.fans)
        )
        self.water_weight = _water_weights(controls, self.link_machine, self.ratio.shape)

    def not_passed(self) -> BoolArray:
        """Tanks that have not passed their limit in every case; [tank]."""
        follow: BoolArray = np.any(np.isinf(self.passed), axis=1)
        return follow

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
        self.take(part.cases, controls_of(self.controls, part))

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
        cases, temp, limit = self.cases, self.temp, self.limit
        devices = cases.model.devices
        seconds = length * 3600.0 / BINS_PER_HOUR
        bins = self.start_hour * BINS_PER_HOUR + elapsed
        gain, stand_gain = self.tables.at(bins, length)
        air = air_at(cases, (bins + length / 2.0) / BINS_PER_HOUR % 24.0)
        stand_heat = heat_into_stands(cases, self.machine_heat, stand_gain)
        water = water_at(cases, temp)
        self.stand_c, self.stand_vapour = stand_state(
            cases, temp, air, stand_heat, self.stand_c, self.stand_vapour, water
        )
        leaving = losses(cases, temp, air, self.stand_c, self.stand_vapour, water)

        decay = leaving.slope_w_per_k / cases.heat_capacity_j_k
        rise_k_per_w = np.expm1(-decay * seconds) / -leaving.slope_w_per_k
        after = temp + (gain - leaving.watts) * rise_k_per_w
        wanted = (after - self.target) / rise_k_per_w
        if devices.links.tank.size or devices.fans.tank.size:
            used = self.cool(air, water, leaving, wanted, length)
            after -= used * rise_k_per_w
        if self.has_heaters:
            after += np.clip(-wanted, 0.0, self.heater) * rise_k_per_w
        np.clip(after, WATER_C.low, WATER_C.high, out=after)

        crosses = after >= limit
        if crosses.any():
            crossing = np.nonzero(crosses & np.isinf(self.passed))
            part = (limit[crossing] - temp[crossing]) / (after[crossing] - temp[crossing])
            self.passed[crossing] = elapsed / BINS_PER_HOUR + np.clip(part, 0.0, 1.0) * seconds / 3600.0
        self.evaporated += leaving.evaporation_kg_s * length
        self.temp = after
        np.maximum(self.peak, after, out=self.peak)

    def cool(self, air: Air, water: Water, leaving: Losses, wanted: Array, length: int) -> Array:
        """Runs the devices for a step of `length` bins as far as each tank wants it [W], and gives what that takes
        out of the water [W]; [tank, case]."""
        cases, controls, temp = self.cases, self.controls, self.temp
        machines, links, fans = cases.model.devices.machines, cases.model.devices.links, cases.model.devices.fans
        of_machine, of_tank, of_fan_tank = self.link_machine, self.link_tank, self.fan_tank
        available = np.zeros_like(temp)
        if links.tank.size:
            machine_water = of_machine.total(of_tank.pick(temp) * self.water_weight)
            output = machine_output(cases, machine_water, air, self.stand_c, self.ratio)
            can = controls.links_on & ~self.out_of_use[links.machine]
            link_w = of_machine.pick(output.cooling_w) * (controls.share[:, None] * can)
            available += of_tank.total(link_w)
        if fans.tank.size:
            fan_w, fan_vapour_w = fan_cooling(cases, temp, air, leaving)
            useful = controls.fans_on & (fan_w > 0.0)
            available += of_fan_tank.total(fan_w * useful)
        used = np.clip(wanted, 0.0, available)
        share_used = used / np.maximum(available, 1e-9)
        self.used_share += share_used * length
        if links.tank.size:
            drawn = of_machine.total(link_w * of_tank.pick(share_used))
            running = drawn / np.maximum(output.cooling_w, 1e-9)
            runs = running > 0.0
            self.machine_heat = drawn + running * output.power_w
            self.ratio = np.where(runs, output.load_ratio, 1.0)
            stops = (output.condensing_c > CUT_OUT_C) | (machine_water < CHILLER_WATER_C.low)
            stops &= machines.is_chiller[:, None]
            stops |= output.inlet_c > CONDENSER_INLET_C.high
            self.out_of_use |= stops & runs
        if fans.tank.size:
            blown_w = fan_vapour_w * useful * of_fan_tank.pick(share_used)
            self.evaporated += of_fan_tank.total(blown_w / of_fan_tank.pick(water.latent_heat_j_kg)) * length
        return used


def periodic_day(
    cases: Cases, controls: Controls, *, guess_c: Array, time_constant_s: Array, keep: bool = False
) -> Course:
    """The day that repeats itself: run again until it closes to 0.01 K, faster where the time constant is long.

    guess_c and time_constant_s [tank, case]; keep: whether to keep the whole course of it. Steps are long until the
    day closes, then short until it does. A tank is run again only while it, or one that a machine or a stand ties to
    it, is still open: its day does not depend on which other tanks are looked at with it.
    """
    stretch = 1.0 / -np.expm1(-86_400.0 / time_constant_s)
    start_c = np.clip(guess_c, WATER_C.low, WATER_C.high)
    rough = _closed_day(cases, controls, start_c, stretch, COARSE, keep=False)
    return _closed_day(cases, controls, rough.end_c, stretch, FINE, keep=keep)


def _closed_day(
    cases: Cases, controls: Controls, start_c: Array, stretch: Array, shortest_step: int, *, keep: bool
) -> Course:
    """The last of the days run one after the other until each tank's closes, at most LONGEST_PASSES of them."""
    start_hour = np.zeros(cases.side.shape, dtype=np.intp)
    start, label = start_c.copy(), groups(cases.model)
    again = np.arange(label.size)
    course: Course | None = None
    for attempt in range(LONGEST_PASSES):
        part = part_of(cases, again) if again.size < label.size else None
        day = simulate(
            cases if part is None else part.cases,
            controls if part is None else controls_of(controls, part),
            start_c=start[again],
            start_hour=start_hour,
            hours=24.0,
            shortest_step=shortest_step,
            keep=keep,
        )
        course = day if course is None else _with_rows(course, again, day)
        error = day.end_c - start[again]
        is_open = (np.abs(error) >= CLOSES_WITHIN_K).any(axis=1)
        if not is_open.any():
            break
        forward = error * (stretch[again] if attempt % 3 < 2 else 1.0)
        start[again] = np.clip(start[again] + forward, WATER_C.low, WATER_C.high)
        again = np.flatnonzero(np.isin(label, label[again[is_open]]))
    assert course is not None
    return course


def _with_rows(course: Course, tanks: IntArray, some: Course) -> Course:
    """The course with that of these tanks in the place of what it had for them."""
    for each in fields(Course):
        values, new = getattr(course, each.name), getattr(some, each.name)
        if each.name != "hours" and values is not None:
            values[tanks] = new
    return course
