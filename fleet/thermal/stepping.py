"""One part of a fleet, stepped: water, stands, thermostats and machines between one reading of the films and the next.

traces.py tells what is followed and why. Everything here works on arrays [tank, case], [machine, case] and [link, case]
that are changed in place; machinery.py holds what belongs to the machines.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum, auto

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.balance import HOTTEST_AIR_C, air_at, fan_cooling, losses, sump_films
from fleet.thermal.day import Controls
from fleet.thermal.machinery import Machinery, Stands, Thermostat
from fleet.thermal.parts import Part
from fleet.thermal.properties import latent_heat, saturation_pressure
from fleet.thermal.ranges import WATER_C, Array
from fleet.thermal.stand import mixed_vapour
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

BIN_S = 3600 // BINS_PER_HOUR
RENEWED_EVERY_S, MOST_STEPS_BETWEEN = 300, 5
"""Films and curves are read anew after so long, and after so many steps, whichever comes first."""
SLOPES_RENEWED_EVERY = 6
"""The slopes of the machines' curves are read at every so many of those readings."""


class Keep(Enum):
    """What may be kept of every step: water and stands [°C] at its end, cooling [W] as the mean over it."""

    WATER = auto()
    STAND = auto()
    COOLING = auto()


class Stepper:
    """The state of a part of the fleet, and one step of it after the other.

    Sums over the steps carry the names of the fields of Trace that they become.
    """

    def __init__(
        self,
        part: Part,
        controls: Controls,
        thermostat: Thermostat,
        start_c: Array,
        start_hour: IntArray,
        step_s: int,
    ) -> None:
        self.cases, self.controls, self.step_s = part.cases, controls, float(step_s)
        model = part.cases.model
        self.tanks, self.links, self.fans = model.tanks, model.devices.links, model.devices.fans
        self.start_hour = start_hour
        self.steps_in_bin = BIN_S // step_s
        self.steps_between = max(min(MOST_STEPS_BETWEEN, RENEWED_EVERY_S // step_s), 1)
        self.shape = shape = part.cases.open_m2.shape
        self.machinery = Machinery(part.cases, controls, thermostat, float(step_s))
        target = np.broadcast_to(self.tanks.target_c[:, None], shape)
        self.high, self.low = target + thermostat.band_k, target - thermostat.band_k

        self.water_c = np.clip(np.array(start_c, dtype=float), WATER_C.low, WATER_C.high)
        air = air_at(self.cases, start_hour.astype(float))
        self.stand_c, self.stand_vapour_pa = air.room_c.copy(), air.vapour_pa.copy()
        self.calling: BoolArray = np.zeros(shape, dtype=bool)
        self.is_closed = self.tanks.stand_closed[:, None]
        self.closed = bool(self.is_closed.any())
        self.stand_j_k = defaults.STAND_HEAT_CAPACITY_J_K_PER_M * self.tanks.length_m[:, None]
        self.has_links, self.has_fans = self.links.tank.size > 0, self.fans.tank.size > 0
        cools = np.zeros(shape, dtype=bool)
        np.logical_or.at(cools, self.links.tank, controls.links_on)
        np.logical_or.at(cools, self.fans.tank, controls.fans_on)
        self.heater_w = self.tanks.heater_w[:, None]
        self.heated = bool(self.heater_w.any())
        self.heater_c = np.where(cools, self.low, target)

        self.fan_w, self.fan_vapour_kg_s = np.zeros(shape), np.zeros(shape)
        self.called, self.cooling = np.zeros(shape), np.zeros(shape)
        self.free, self.after, self.middle = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        self.stand_middle, self.scratch = np.zeros(shape), np.zeros(shape)
        self.flags: BoolArray = np.zeros(shape, dtype=bool)
        self.last_rise_k, self.stand_rise_k = np.zeros(shape), np.zeros(shape)
        self.peak_c, self.lowest_c = self.water_c.copy(), self.water_c.copy()
        self.mean_c = self.water_c / 2.0
        self.duty, self.cooling_w, self.heating_w, self.evaporation_kg_s = (np.zeros(shape) for _ in range(4))

    @property
    def end_c(self) -> Array:
        """Water now. [°C]"""
        return np.asarray(self.water_c)

    def go(self, steps: int, record: dict[Keep, Array]) -> None:
        """Runs the steps; `record` [step, tank, case] takes what is to be kept."""
        keeping: list[tuple[Array, int, Callable[[], Array]]] = []
        for each, rows, first in (
            (Keep.WATER, lambda: self.water_c, 1),
            (Keep.STAND, lambda: self.stand_c, 1),
            (Keep.COOLING, lambda: self.cooling, 0),
        ):
            if each in record:
                keeping.append((record[each], first, rows))
                record[each][0] = rows()
        for k in range(steps):
            new_heat = k % self.steps_in_bin == 0
            if new_heat:
                self.take_heat(k)
            new_films = k % self.steps_between == 0
            if new_films:
                self.read_films(k, min(self.steps_between, steps - k))
            if new_heat or new_films or self.switching:
                self.put_heat(k)
            self.step(k)
            for values, first, rows in keeping:
                values[k + first] = rows()
        self.mean_c -= self.water_c / 2.0

    def take_heat(self, k: int) -> None:
        """Heat of the loads in the ten minutes that begin with step k, and what switches in the midst of them."""
        cases, off_grid = self.cases, self.tanks.switchings
        bins = (self.start_hour * BINS_PER_HOUR + k // self.steps_in_bin) % BINS
        self.gain_w = self.tanks.gain_w[:, cases.side, bins]
        self.stand_gain_w = self.tanks.stand_gain_w[:, cases.side, bins]
        self.switching: list[tuple[IntArray, int, Array, Array, Array]] = []
        for case, place in enumerate(bins):
            begin, end = np.searchsorted(off_grid.second, (place * BIN_S, (place + 1) * BIN_S))
            if begin < end:
                some, side = slice(begin, end), cases.side[case]
                second = off_grid.second[some] - place * BIN_S
                self.switching.append(
                    (off_grid.tank[some], case, second, off_grid.water_w[some, side], off_grid.stand_w[some, side])
                )

    def put_heat(self, k: int) -> None:
        """Heat over step k: the mean of its ten minutes, put right where loads switch in them, and what is constant."""
        gain, stand_gain = self.gain_w, self.stand_gain_w
        if self.switching:
            gain, stand_gain = gain.copy(), stand_gain.copy()
            end = (k % self.steps_in_bin + 1) * self.step_s
            for tank, case, second, water_w, stand_w in self.switching:
                share = np.clip((end - second) / self.step_s, 0.0, 1.0) - (BIN_S - second) / BIN_S
                np.add.at(gain[:, case], tank, water_w * share)
                np.add.at(stand_gain[:, case], tank, stand_w * share)
        self.constant_w = gain + self.film_w
        if self.closed:
            self.stand_constant_w = stand_gain + self.stand_room_w

    def read_films(self, k: int, steps: int) -> None:
        """Reads films, rooms and devices anew, for the middle of the time until the next reading.

        The water is taken as it will be then if it goes on as in the last step: films that always trailed the water
        would hasten both its cooling and its warming.
        """
        cases = self.cases
        np.clip(self.water_c, WATER_C.low, WATER_C.high, out=self.water_c)
        middle_h = (self.start_hour + (k + steps / 2.0) * self.step_s / 3600.0) % 24.0
        self.air = air = air_at(cases, np.asarray(middle_h, dtype=np.float64))
        self.stand_c = np.where(self.is_closed, self.stand_c, air.room_c) if self.closed else air.room_c
        water = np.clip(self.water_c + self.last_rise_k * (steps / 2.0), WATER_C.low, WATER_C.high)
        if cases.sump_m2.any():
            self.read_stand_vapour(water)
        leaving = losses(cases, water, air, self.stand_c, self.stand_vapour_pa)
        self.slope, self.to_stand = leaving.slope_w_per_k, leaving.stand_w_per_k
        self.film_w = self.slope * water - leaving.watts
        if self.closed:
            self.film_w -= self.to_stand * self.stand_c
        self.reach = -np.expm1(-self.slope * self.step_s / cases.heat_capacity_j_k) / self.slope
        if self.closed:
            exchange = cases.stand_w_per_k + self.to_stand
            self.stand_share = -np.expm1(-exchange * self.step_s / self.stand_j_k) * self.is_closed
            self.stand_reach, self.stand_room_w = self.stand_share / exchange, cases.stand_w_per_k * air.room_c
        self.evaporation_kg_s += leaving.evaporation_kg_s * steps
        if self.has_fans:
            fan_w, vapour_w = fan_cooling(cases, water, air, leaving)
            useful = self.controls.fans_on & (fan_w > 0.0)
            vapour = vapour_w * useful / latent_heat.on_arrays(water[self.fans.tank])
            self.fan_w, self.fan_vapour_kg_s = np.zeros(self.shape), np.zeros(self.shape)
            np.add.at(self.fan_w, self.fans.tank, fan_w * useful)
            np.add.at(self.fan_vapour_kg_s, self.fans.tank, vapour)
        if self.has_links:
            slopes_too = k // self.steps_between % SLOPES_RENEWED_EVERY == 0
            self.machinery.read(self.water_c, air, self.stand_c, slopes_too)

    def read_stand_vapour(self, water_c: Array) -> None:
        """Vapour in the air of the stands, between that of the room and that which sumps give."""
        cases, tanks, air = self.cases, self.tanks, self.air
        water_pa = tanks.activity[:, None] * saturation_pressure.on_arrays(water_c)
        latent, _dry = sump_films(cases, water_c, water_pa, self.stand_c, self.stand_vapour_pa)
        vapour = mixed_vapour(
            air.vapour_pa,
            water_pa,
            cases.stand_kg_s,
            cases.sump_m2 * latent / latent_heat.on_arrays(water_c),
            tanks.pressure_pa[:, None],
        )
        self.stand_vapour_pa = np.minimum(vapour, saturation_pressure.on_arrays(self.stand_c))

    def step(self, k: int) -> None:
        """One step."""
        water, after, free, cooling, called = self.water_c, self.after, self.free, self.cooling, self.called
        reach, scratch = self.reach, self.scratch
        middle = np.multiply(self.last_rise_k, 0.5, out=self.middle)
        middle += water
        np.multiply(self.slope, water, out=free)
        np.subtract(self.constant_w, free, out=free)
        if self.closed:
            stand = np.multiply(self.stand_rise_k, 0.5, out=self.stand_middle)
            stand += self.stand_c
            free += np.multiply(self.to_stand, stand, out=scratch)
        else:
            stand = self.stand_c
        free *= reach
        np.add(water, free, out=after)
        self.begin_calls()

        np.multiply(self.fan_w, called, out=cooling)
        if self.has_links:
            on, given = self.machinery.run(k, called, middle, Stands(self.stand_c, stand, self.stand_rise_k))
            self.machinery.places.add_to_tanks(cooling, given)
        else:
            on = given = called[:0]
        after -= np.multiply(cooling, reach, out=scratch)
        stopped = self.end_calls(on, given)
        if self.heated:
            heating = np.clip((self.heater_c - after) / reach, 0.0, self.heater_w)
            after += heating * reach
            self.heating_w += heating
        machine_heat = None
        if self.has_links:
            power_w = self.machinery.count(k, on, self.calling, stopped)
            machine_heat = self.machinery.heat_to_stands(given, power_w)
        if self.closed:
            heat = np.multiply(self.to_stand, middle, out=scratch)
            heat += self.stand_constant_w
            if machine_heat is not None:
                heat += machine_heat
            heat *= self.stand_reach
            heat -= np.multiply(self.stand_share, self.stand_c, out=self.stand_rise_k)
            self.stand_rise_k, self.scratch = heat, self.stand_rise_k
            self.stand_c += heat
            np.minimum(self.stand_c, HOTTEST_AIR_C, out=self.stand_c)

        np.subtract(after, water, out=self.last_rise_k)
        self.water_c, self.after = after, water
        self.mean_c += after
        np.maximum(self.peak_c, after, out=self.peak_c)
        np.minimum(self.lowest_c, after, out=self.lowest_c)
        self.duty += called
        self.cooling_w += cooling
        if self.has_fans:
            self.evaporation_kg_s += self.fan_vapour_kg_s * called

    def begin_calls(self) -> None:
        """Which thermostats call for cooling, and for what share of the step where they begin within it."""
        np.copyto(self.called, self.calling)
        np.greater_equal(self.after, self.high, out=self.flags)
        np.greater(self.flags, self.calling, out=self.flags)
        begin = np.flatnonzero(self.flags)
        if begin.size:
            past = self.after.ravel()[begin] - self.high.ravel()[begin]
            rise = np.maximum(self.free.ravel()[begin], 1e-12)
            self.called.reshape(-1)[begin] = np.minimum(past / rise, 1.0)
            self.calling.reshape(-1)[begin] = True

    def end_calls(self, on: Array, given: Array) -> tuple[IntArray, Array] | None:
        """Ends the calls of tanks that reach the lower end within the step, and takes back what came after it.

        Gives the links that were closed (flat places) and the share of the step after that, if there are any.
        """
        np.less_equal(self.after, self.low, out=self.flags)
        self.flags &= self.calling
        end = np.flatnonzero(self.flags)
        if not end.size:
            return None
        machinery, cases = self.machinery, self.shape[1]
        places = machinery.places
        edge = places.plain * cases
        plain = end[: np.searchsorted(end, edge)]
        link, tank = plain, np.arange(plain.size)
        if places.tank.size:
            row, case = np.nonzero(self.flags[places.tank])
            link = np.concatenate((plain, (row + places.plain) * cases + case))
            tank = np.concatenate((tank, np.searchsorted(end, places.tank[row] * cases + case)))
        after, called, reach = self.after.reshape(-1), self.called.reshape(-1), self.reach.ravel()[end]
        fan = self.fan_w.ravel()[end]
        link_on, link_w = on.reshape(-1)[link], machinery.link_end_w.ravel()[link] if link.size else np.zeros(0)
        full = fan.copy()
        np.add.at(full, tank, link_w * (link_on > 0.0))
        falling = full * reach - self.free.ravel()[end]
        under = self.low.ravel()[end] - after[end]
        cut = np.where(falling > 0.0, np.minimum(under / np.maximum(falling, 1e-12), 1.0), 0.0)
        less = np.minimum(cut[tank], link_on)
        spared = fan * np.minimum(cut, called[end])
        np.add.at(spared, tank, less * link_w)
        after[end] += spared * reach
        self.cooling.reshape(-1)[end] -= spared
        called[end] = np.maximum(called[end] - cut, 0.0)
        self.calling.reshape(-1)[end] = False
        if link.size:
            on.reshape(-1)[link] = link_on - less
            given.reshape(-1)[link] -= less * link_w
            passed_on = machinery.pass_on(link, less * link_w, self.calling, given) if machinery.shared.size else None
            if passed_on is not None:
                at, more_w = passed_on
                np.add.at(self.cooling, at, more_w)
                np.add.at(self.after, at, -more_w * self.reach[at])
        return link, cut[tank]
