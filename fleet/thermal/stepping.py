"""One part of a fleet, followed from one reading of films and curves to the next.

At each reading the balance is made linear (motion.py). All tanks go through the interval at once; the few in which
something switches before its end are taken back and go from switch to switch (switching.py).
"""

from __future__ import annotations

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.balance import HOTTEST_AIR_C, Air, Losses, air_at, air_of, fan_cooling, losses, rooms_at
from fleet.thermal.day import Controls
from fleet.thermal.film_slopes import fan_slope, further_slopes
from fleet.thermal.loads import LoadTimes
from fleet.thermal.machinery import LEAST_SHARE, AirMoves, Machinery, Thermostat
from fleet.thermal.motion import Features, Motion, OfTank, Reached
from fleet.thermal.parts import Part
from fleet.thermal.properties import latent_heat, saturation_pressure
from fleet.thermal.ranges import WATER_C, Array
from fleet.thermal.records import Recorder
from fleet.thermal.stand import mixed_vapour
from fleet.thermal.state import State, Sums
from fleet.thermal.switching import Interval, Switching
from fleet.thermal.tanks import BoolArray, IntArray
from fleet.thermal.ties import AllTies

FIRST_READINGS = 4
"""At the start what is read from the reading before is read so often."""
SLOPES_RENEWED_EVERY_S = 3600
"""The slopes of the machines' curves are read at the readings after so long."""


class Stepper:
    """A part of the fleet and where it has come."""

    def __init__(
        self, part: Part, controls: Controls, thermostat: Thermostat, start_c: Array, start_hour: IntArray
    ) -> None:
        cases = self.cases = part.cases
        self.controls, self.start_hour = controls, start_hour
        tanks, fans = cases.model.tanks, cases.model.devices.fans
        self.shape, count = cases.open_m2.shape, cases.open_m2.shape[1]
        self.ties = AllTies(cases, controls.links_on, controls.share)
        whole = self.ties.whole
        self.has = Features(
            closed_stands=bool(tanks.stand_closed.any()),
            fans=bool(controls.fans_on.any()),
            heaters=bool(tanks.heater_w.any()),
            machines=whole.links > 0,
        )
        self.is_open: BoolArray = np.repeat(~tanks.stand_closed, count)
        self.fan_tank = (fans.tank[:, None] * count + np.arange(count)).ravel()
        self.load_times = LoadTimes(cases, start_hour)
        self.machinery = Machinery(cases, self.ties)
        air = air_at(cases, start_hour.astype(float))
        self.edge_c = air.rooms_c, air.outdoor_c
        start = np.clip(np.array(start_c, dtype=float), WATER_C.low, WATER_C.high)
        self.stand_vapour_pa = air.vapour_pa
        for _ in range(FIRST_READINGS):
            leaving = losses(cases, start, air, air.room_c, self.stand_vapour_pa)
            self.read_stand_vapour(start, air.room_c, air.vapour_pa, leaving)
        water = start.ravel()
        size, machines = water.size, whole.machines
        on, ran, waiting = np.zeros((3, machines), dtype=bool)
        self.state = State(
            water_c=water,
            stand_c=air.room_c.flatten(),
            calling=np.zeros(size, dtype=bool),
            peak_c=water.copy(),
            lowest_c=water.copy(),
            rise_k_s=np.zeros(size),
            part=np.zeros(whole.links),
            link_on=controls.links_on.ravel(),
            share=np.repeat(np.maximum(controls.share, LEAST_SHARE), count),
            on=on,
            ran=ran,
            waiting=waiting,
            out_of_use=self.machinery.lost(),
            ready_s=np.zeros(machines),
            rest_s=np.where(self.machinery.is_chiller, thermostat.least_off_s, 0.0),
            starts=np.zeros(machines),
        )
        self.sums, self.of_interval = Sums.zeros(size, machines), Sums.zeros(size, machines)
        self.evaporated_kg, self.vapour_kg_s, self.stand_rise_k = np.zeros((3, size))
        self.table = np.zeros((len(OfTank), size))
        self.set_table(thermostat)
        if self.has.machines:
            for _ in range(FIRST_READINGS):
                self.machinery.read(water, air, air.room_c, AirMoves(self.edge_c, self.edge_c), 0.0, True)

    def set_table(self, thermostat: Thermostat) -> None:
        """What holds for the whole run."""
        cases, table, count = self.cases, self.table, self.shape[1]
        tanks, devices = cases.model.tanks, cases.model.devices
        target = np.repeat(tanks.target_c, count)
        table[OfTank.CAPACITY] = cases.heat_capacity_j_k.ravel()
        table[OfTank.HIGH], table[OfTank.LOW] = target + thermostat.band_k, target - thermostat.band_k
        table[OfTank.STAND_CAPACITY] = np.repeat(defaults.STAND_HEAT_CAPACITY_J_K_PER_M * tanks.length_m, count)
        table[OfTank.STAND_CAPACITY, self.is_open] = np.inf
        cools = np.zeros(self.shape, dtype=bool)
        np.logical_or.at(cools, devices.links.tank, self.controls.links_on)
        np.logical_or.at(cools, devices.fans.tank, self.controls.fans_on)
        table[OfTank.HEATER] = np.repeat(tanks.heater_w, count)
        table[OfTank.HEATER_C] = np.where(cools.ravel(), table[OfTank.LOW], target)

    def go(self, steps: int, step_s: int, between: int, recorder: Recorder | None) -> None:
        """Runs the steps, with a reading after so many; the recorder takes down what is to be kept."""
        if recorder is not None:
            recorder.begin(self.state)
        every = max(SLOPES_RENEWED_EVERY_S // (between * step_s), 1)
        for reading, step in enumerate(range(0, steps, between)):
            count = min(between, steps - step)
            interval = self.read(step * step_s, float(count * step_s), reading % every == 0)
            self.pass_through(interval, recorder, step, count)

    def read(self, begin_s: int, seconds: float, slopes_too: bool) -> Interval:
        """Reads loads, films, rooms and devices anew, for the middle of the interval that begins.

        Water and stands are taken as they will be then if they go on as last, up to the end of the band.
        """
        cases, shape, table, state = self.cases, self.shape, self.table, self.state
        np.clip(state.water_c, WATER_C.low, WATER_C.high, out=state.water_c)
        air, moves = self.air(begin_s, seconds)
        room, room_rate = air.room_c.ravel(), moves.rate_k_s[0][cases.model.tanks.room].ravel()
        if self.has.closed_stands:
            np.copyto(state.stand_c, room, where=self.is_open)
            self.stand_rise_k *= 0.5
            self.stand_rise_k += state.stand_c
            np.minimum(self.stand_rise_k, HOTTEST_AIR_C, out=self.stand_rise_k)
            stand = np.where(self.is_open, room, self.stand_rise_k).reshape(shape)
        else:
            state.stand_c[:] = room
            stand = air.room_c
        water = state.rise_k_s * (seconds / 2.0)
        water += state.water_c
        np.maximum(water, np.where(state.calling, table[OfTank.LOW], WATER_C.low), out=water)
        np.minimum(water, np.where(state.calling, WATER_C.high, table[OfTank.HIGH]), out=water)
        water = water.reshape(shape)
        leaving = losses(cases, water, air, stand, self.stand_vapour_pa)
        if cases.sumps.tank.size:
            self.read_stand_vapour(water, stand, air.vapour_pa, leaving)
        more_slope, by_air_w_k, surface_slope = further_slopes(cases, water, air, stand, self.stand_vapour_pa, leaving)
        np.maximum(more_slope, -0.5 * leaving.slope_w_per_k, out=more_slope)
        gain, stand_gain, loads = self.load_times.at(begin_s, seconds)
        slope = table[OfTank.SLOPE].reshape(shape)
        np.add(leaving.slope_w_per_k, more_slope, out=slope)
        constant = table[OfTank.CONSTANT].reshape(shape)
        np.multiply(slope, water, out=constant)
        constant -= leaving.watts
        drift = np.multiply(by_air_w_k.ravel(), room_rate, out=table[OfTank.DRIFT])
        table[OfTank.CONSTANT] += gain
        table[OfTank.CONSTANT] -= drift * (seconds / 2.0)
        if self.has.closed_stands:
            constant -= leaving.stand_w_per_k * stand
            table[OfTank.TO_STAND] = leaving.stand_w_per_k.ravel()
            room_w_k = cases.stand_w_per_k.ravel()
            np.add(room_w_k, table[OfTank.TO_STAND], out=table[OfTank.STAND_SLOPE])
            np.copyto(room_rate, 0.0, where=self.is_open)
            drift = np.multiply(room_w_k, room_rate, out=table[OfTank.STAND_DRIFT])
            stand_constant = np.multiply(room_w_k, room, out=table[OfTank.STAND_CONSTANT])
            stand_constant += stand_gain
            stand_constant -= drift * (seconds / 2.0)
        self.evaporated_kg += leaving.evaporation_kg_s.ravel() * seconds
        if self.has.fans:
            self.read_fans(water, air, leaving, surface_slope)
        if self.has.machines:
            self.machinery.read(water.ravel(), air, stand, moves, seconds, slopes_too)
        return Interval(float(begin_s), seconds, table, self.machinery.table, loads)

    def hour(self, seconds: float) -> Array:
        """Hour of the day in each case, so long after the start."""
        return np.asarray((self.start_hour + seconds / 3600.0) % 24.0, dtype=np.float64)

    def air(self, begin_s: float, seconds: float) -> tuple[Air, AirMoves]:
        """Mean of the air over an interval, by Simpson's rule, and how that of the rooms and outdoors moves."""
        cases, begin = self.cases, self.edge_c
        middle, end = (rooms_at(cases, self.hour(begin_s + share * seconds)) for share in (0.5, 1.0))
        self.edge_c = end
        mean_c, rate_k_s, bend_k_s2 = [], [], []
        for first, mid, last in zip(begin, middle, end, strict=True):
            mean_c.append((first + 4.0 * mid + last) / 6.0)
            rate_k_s.append((last - first) / seconds)
            bend_k_s2.append((first + last - 2.0 * mid) * (2.0 / seconds**2))
        return air_of(cases, *mean_c), AirMoves((rate_k_s[0], rate_k_s[1]), (bend_k_s2[0], bend_k_s2[1]))

    def read_fans(self, water_c: Array, air: Air, leaving: Losses, surface_slope: Array) -> None:
        """Cooling by the fans over each tank that are of use, with its slope, and what they blow away."""
        fans, table = self.cases.model.devices.fans, self.table
        fan_w, vapour_w = fan_cooling(self.cases, water_c, air, leaving)
        useful = self.controls.fans_on & (fan_w > 0.0)
        water = water_c[fans.tank]
        vapour_kg_s = vapour_w * useful / latent_heat.on_arrays(water)
        slope = fan_slope(self.cases, water_c, leaving, surface_slope) * useful
        fan_w *= useful
        fan_w -= slope * water
        size = table.shape[1]
        for row, values in ((OfTank.FAN, fan_w), (OfTank.FAN_SLOPE, slope)):
            table[row] = np.bincount(self.fan_tank, values.ravel(), size)
        self.vapour_kg_s = np.bincount(self.fan_tank, vapour_kg_s.ravel(), size)

    def read_stand_vapour(self, water_c: Array, stand_c: Array, room_vapour_pa: Array, leaving: Losses) -> None:
        """Vapour in the air of the stands, between that of the room and that which sumps give, by the films in
        `leaving`, which is put right for it."""
        sumps, some, before = self.cases.sumps, self.cases.sumps.tank, self.stand_vapour_pa
        latent_j_kg = latent_heat.on_arrays(water_c[some])
        by_vapour = sumps.m2 * leaving.sump_latent_w_m2_pa
        moist = mixed_vapour(
            room_vapour_pa[some],
            leaving.vapour_pa[some],
            sumps.stand_kg_s,
            by_vapour / latent_j_kg,
            sumps.pressure_pa,
        )
        self.stand_vapour_pa = room_vapour_pa.copy()
        self.stand_vapour_pa[some] = np.minimum(moist, saturation_pressure.on_arrays(stand_c[some]))
        less = by_vapour * (self.stand_vapour_pa[some] - before[some])
        leaving.watts[some] -= less
        leaving.evaporation_kg_s[some] -= less / latent_j_kg

    def pass_through(self, interval: Interval, recorder: Recorder | None, step: int, steps: int) -> None:
        """All tanks through an interval at once, then those again in which something switches."""
        has, state, seconds = self.has, self.state, interval.seconds
        whole, total = self.ties.whole, self.sums
        motion = Motion(has, whole, interval.tanks, interval.machines, state)
        reached = motion.at(seconds)
        if recorder is not None:
            recorder.interval(steps, motion, reached)
        switches = self.switching(interval, motion, reached)
        some = np.flatnonzero(switches)
        sums = self.of_interval
        sums.of_tanks[0] = motion.mean_water(reached)
        sums.of_tanks[1] = state.calling
        sums.of_tanks[2] = reached.cooling_w
        sums.of_tanks[3] = reached.heating_w
        if has.machines:
            sums.of_machines[0], sums.of_machines[1] = state.on, motion.mean_power(reached)
        for values in (sums.of_tanks, sums.of_machines):
            values *= seconds
        stand_before = state.stand_c
        rise = reached.water_c - state.water_c
        rise *= 2.0 / seconds
        rise -= motion.rate_k_s
        turns = np.flatnonzero((rise * motion.rate_k_s < 0.0) & (reached.heating_w == 0.0))
        if some.size:
            sums.of_tanks[:, some] = 0.0
            if has.machines:
                sums.of_machines[:, self.ties.some(some).machines] = 0.0
            reached.water_c[some] = state.water_c[some]
            if has.closed_stands:
                reached.stand_c[some] = stand_before[some]
        state.water_c, state.stand_c, state.rise_k_s = reached.water_c, reached.stand_c, rise
        np.maximum(state.peak_c, state.water_c, out=state.peak_c)
        np.minimum(state.lowest_c, state.water_c, out=state.lowest_c)
        if turns.size:
            self.mark_turns(turns[~switches[turns]], motion, seconds)
        if some.size:
            told = None if recorder is None else recorder.stretch
            Switching(has, self.ties, interval, state, sums, told).run(some)
        if recorder is not None:
            recorder.finish(step, steps)
        if has.closed_stands:
            self.stand_rise_k = state.stand_c - stand_before
        total.of_tanks += sums.of_tanks
        total.of_machines += sums.of_machines
        if has.fans:
            self.evaporated_kg += self.vapour_kg_s * sums.of_tanks[1]

    def mark_turns(self, some: IntArray, motion: Motion, seconds: float) -> None:
        """Lets extremes be those at the turn of waters that turn inside an interval, by the parabola through it."""
        state, first = self.state, motion.rate_k_s[some] * seconds
        bend = state.rise_k_s[some] * seconds
        bend -= first
        turn = motion.water_c[some] - first * first / (2.0 * bend)
        state.peak_c[some] = np.maximum(state.peak_c[some], turn)
        state.lowest_c[some] = np.minimum(state.lowest_c[some], turn)

    def switching(self, interval: Interval, motion: Motion, reached: Reached) -> BoolArray:
        """Tanks in whose groups something switches inside the interval, and some more in which it nearly does."""
        state, table = self.state, interval.tanks
        straight = motion.rate_k_s * interval.seconds
        straight += state.water_c
        highest = np.maximum(straight, reached.water_c)
        np.minimum(straight, reached.water_c, out=straight)
        if interval.begin_s == 0.0:
            np.maximum(highest, state.water_c, out=highest)
        switches: BoolArray = highest >= table[OfTank.HIGH]
        switches &= ~state.calling
        switches |= (straight <= table[OfTank.LOW]) & state.calling
        switches[interval.loads.tank] = True
        if self.has.machines:
            soon = state.waiting & (state.ready_s < interval.begin_s + interval.seconds)
            soon |= state.on & (np.maximum(motion.over_k, motion.over_at(reached)) > 0.0)
            if soon.any():
                self.ties.whole.mark_tanks(switches, soon)
        self.ties.whole.mark_groups(switches)
        return switches
