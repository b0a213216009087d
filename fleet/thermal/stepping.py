"""One part of a fleet, stepped: water, stands, thermostats and machines between one reading of the films and the next.

traces.py tells what is followed and why. Everything here works on arrays [tank, case], [machine, case] and [link, case]
that are changed in place. Tanks with one machine of their own come first, so that for them tank, link and machine have
the same place and nothing is gathered or scattered; the few others go through index arrays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.balance import HOTTEST_AIR_C, Output, air_at, fan_cooling, losses, machine_output, sump_films
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.day import Controls
from fleet.thermal.devices import FROM_STAND
from fleet.thermal.parts import Part, has_a_machine_of_its_own
from fleet.thermal.properties import latent_heat, saturation_pressure
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.stand import mixed_vapour
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

BIN_S = 3600 // BINS_PER_HOUR
RENEWED_EVERY_S, MOST_STEPS_BETWEEN = 300, 5
"""Films and curves are read anew after so long, and after so many steps, whichever comes first."""
SLOPES_RENEWED_EVERY = 6
"""The slopes of the machines' curves are read at every so many of those readings."""
PROBE_K = 0.25
"""Warming by which the slopes of the machines' curves are read."""
LEAST_SHARE = 1e-6
SLOTS = 60
"""Parts of a step in which the valves of a machine on several tanks are told apart."""


@dataclass(frozen=True)
class Thermostat:
    """Cooling begins `band_k` above target and ends as far below; a compressor that stopped rests `least_off_s`.

    Half a kelvin from on to off and three minutes of rest are usual: from memory.
    """

    band_k: float = 0.25
    least_off_s: float = 180.0


class Keep(Enum):
    """What may be kept of every step: water and stands [°C] at its end, cooling [W] as the mean over it."""

    WATER = auto()
    STAND = auto()
    COOLING = auto()


def _summed(values: Array, rows: IntArray, size: int) -> Array:
    """Rows of values [row, case] summed into `size` rows."""
    count = values.shape[1]
    flat = rows if count == 1 else (rows[:, None] * count + np.arange(count)).ravel()
    found: Array = np.bincount(flat, weights=values.ravel(), minlength=size * count).astype(float, copy=False)
    return found.reshape(size, count)


class _Places:
    """From tanks to links and back to tanks and machines: the first `plain` of each have the same place."""

    def __init__(self, plain: int, tank: IntArray, machine: IntArray, tanks: int, machines: int, cases: int) -> None:
        self.plain, self.tanks, self.machines, self.cases = plain, tanks, machines, cases
        self.tank, self.machine = tank[plain:], machine[plain:]
        in_order = np.argsort(self.machine, kind="stable")
        self.order = plain + in_order
        self.first = np.flatnonzero(np.diff(self.machine[in_order], prepend=-1))
        self.rows = self.machine[in_order][self.first]

    def _to_links(self, values: Any, rest: IntArray) -> Any:
        if not rest.size:
            return values[: self.plain]
        return np.concatenate((values[: self.plain], values[rest]))

    def of_tanks(self, values: Any) -> Any:
        """The value of each link's tank; a view where it can be."""
        return self._to_links(values, self.tank)

    def of_machines(self, values: Any) -> Any:
        """The value of each link's machine; a view where it can be."""
        return self._to_links(values, self.machine)

    def add_to_tanks(self, target: Array, values: Array) -> None:
        target[: self.plain] += values[: self.plain]
        if self.tank.size:
            target[self.plain :] += _summed(values[self.plain :], self.tank - self.plain, self.tanks - self.plain)

    def on_machines(self, values: Any, by: np.ufunc = np.add) -> Any:
        """Sums, or largest values, of the links of each machine; a view where it can be."""
        if self.plain == self.machines:
            return values
        found = np.zeros((self.machines, self.cases))
        found[: self.plain] = values[: self.plain]
        if by is np.add:
            found[self.plain :] = _summed(values[self.plain :], self.machine - self.plain, self.machines - self.plain)
        elif self.first.size:
            ordered = values[self.order]
            found[self.rows] = by.reduceat(ordered, self.first, axis=0)
        return found


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
        self.tanks, self.machines = model.tanks, model.devices.machines
        self.links, self.fans = model.devices.links, model.devices.fans
        self.start_hour = start_hour
        self.steps_in_bin = BIN_S // step_s
        self.steps_between = max(min(MOST_STEPS_BETWEEN, RENEWED_EVERY_S // step_s), 1)
        self.shape = shape = part.cases.open_m2.shape
        of_machines = (len(self.machines.codes), shape[1])
        alone = has_a_machine_of_its_own(model)
        plain = int(alone.size if alone.all() else np.argmin(alone))
        self.places = _Places(plain, self.links.tank, self.links.machine, shape[0], *of_machines)
        target = np.broadcast_to(self.tanks.target_c[:, None], shape)
        self.high, self.low = target + thermostat.band_k, target - thermostat.band_k

        self.water_c = np.clip(np.array(start_c, dtype=float), WATER_C.low, WATER_C.high)
        air = air_at(self.cases, start_hour.astype(float))
        self.stand_c, self.stand_vapour_pa = air.room_c.copy(), air.vapour_pa.copy()
        self.calling: BoolArray = np.zeros(shape, dtype=bool)
        self.on: BoolArray = np.zeros(of_machines, dtype=bool)
        self.ready_k = np.zeros(of_machines)
        self.rest_k = np.where(self.machines.is_chiller, thermostat.least_off_s, 0.0) / step_s
        self.load_ratio = np.ones(of_machines)
        in_range = (self.machines.set_point_c >= CHILLER_WATER_C.low) & (
            self.machines.set_point_c <= CHILLER_WATER_C.high
        )
        lost = ~self.machines.usable | (self.machines.is_chiller & ~in_range)
        self.out_of_use: BoolArray = np.repeat(lost[:, None], shape[1], axis=1)
        self.turn_off_lost()

        self.share = np.maximum(controls.share, LEAST_SHARE)[:, None]
        heads = np.bincount(self.links.machine, weights=controls.links_on.any(axis=1), minlength=of_machines[0])
        self.shared = np.flatnonzero((heads > 1)[self.links.machine] & controls.links_on.any(axis=1))
        self.shared_place = np.full(self.links.tank.size, -1)
        self.shared_place[self.shared] = np.arange(self.shared.size)
        linked, self.shared_machine = np.unique(self.links.machine[self.shared], return_inverse=True)
        self.shared_count = linked.size
        weights = self.share * controls.links_on
        total = self.places.on_machines(weights)
        self.idle_machine = total <= 0.0
        self.mixing = weights / self.places.of_machines(np.where(self.idle_machine, 1.0, total))
        self.in_stand = np.flatnonzero((self.machines.intake == FROM_STAND) & (self.machines.stand >= 0))
        self.stand_of = self.machines.stand[self.in_stand]
        self.heating_stand = np.flatnonzero(self.machines.heats_stand & (self.machines.stand >= 0))
        self.heated_stand = self.machines.stand[self.heating_stand]
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
        self.running, self.starts, self.power_w = (np.zeros(of_machines) for _ in range(3))

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
            self.read_machines(k // self.steps_between % SLOPES_RENEWED_EVERY == 0)

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

    def read_machines(self, slopes_too: bool) -> None:
        """Output of the machines now, and how it moves with the water and with the air of a stand that they breathe."""
        self.read_water_c = self.water_c.copy()
        mixed = self.places.on_machines(self.mixing * self.places.of_tanks(self.water_c))
        water = np.where(self.idle_machine, self.machines.set_point_c[:, None], mixed)
        before = self.load_ratio
        read = self.read = machine_output(self.cases, water, self.air, self.stand_c, before)
        self.load_ratio = read.load_ratio
        self.over_k = self.read_over_k = self.over(read, water)
        some = self.in_stand
        if some.size:
            self.read_stand_c = self.stand_c[self.stand_of]
        if not slopes_too:
            return
        warmer = machine_output(self.cases, water + PROBE_K, self.air, self.stand_c, before)
        self.cooling_slope = (warmer.cooling_w - read.cooling_w) / PROBE_K
        self.power_slope = (warmer.power_w - read.power_w) / PROBE_K
        if some.size:
            warmer = machine_output(self.cases, water, self.air, self.stand_c + PROBE_K, before)
            self.cooling_in_stand = (warmer.cooling_w - read.cooling_w)[some] / PROBE_K
            self.power_in_stand = (warmer.power_w - read.power_w)[some] / PROBE_K
            then = np.where(np.isfinite(self.over_k), self.over_k, 0.0)
            self.over_in_stand = np.maximum((self.over(warmer, water) - then)[some] / PROBE_K, 0.0)

    def over(self, output: Output, water_c: Array) -> Array:
        """By how much machines are past what they stand, inlet air or cut-out [K]; above 0 they trip."""
        chiller = self.machines.is_chiller[:, None]
        condensing = np.where(chiller, output.condensing_c - CUT_OUT_C, -np.inf)
        past = np.maximum(output.inlet_c - CONDENSER_INLET_C.high, condensing)
        result: Array = np.where(chiller & (water_c < CHILLER_WATER_C.low), 1e3, past)
        return result

    def turn_off_lost(self) -> None:
        """Which links can cool at all: switched on, and their machine in use."""
        self.link_use: BoolArray = self.controls.links_on & ~self.out_of_use[self.links.machine]
        self.link_on = self.link_use.astype(float)

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
        free *= reach
        np.add(water, free, out=after)
        self.begin_calls()

        np.multiply(self.fan_w, called, out=cooling)
        if self.has_links:
            on, given = self.run_machines(k)
            self.places.add_to_tanks(cooling, given)
        else:
            on = given = called[:0]
        after -= np.multiply(cooling, reach, out=scratch)
        stopped = self.end_calls(on, given)
        if self.heated:
            heating = np.clip((self.heater_c - after) / reach, 0.0, self.heater_w)
            after += heating * reach
            self.heating_w += heating
        if self.has_links:
            power = self.count_machines(k, on, stopped)
        if self.closed:
            heat = np.multiply(self.to_stand, middle, out=scratch)
            heat += self.stand_constant_w
            if self.heating_stand.size:
                machine_w = (self.places.on_machines(given) + power)[self.heating_stand]
                heat += _summed(machine_w, self.heated_stand, heat.shape[0])
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

    def run_machines(self, k: int) -> tuple[Array, Array]:
        """Share of the step that each link is on, and what it gives [W], before thermostats end their calls."""
        places = self.places
        change = places.of_tanks(self.middle - self.read_water_c)
        if places.tank.size:
            change = places.on_machines(self.mixing * change)
        full = self.cooling_slope * change
        full += self.read.cooling_w
        power = self.power_slope * change
        power += self.read.power_w
        some = self.in_stand
        if some.size:
            moved = self.stand_middle[self.stand_of] - self.read_stand_c if self.closed else 0.0
            full[some] += self.cooling_in_stand * moved
            power[some] += self.power_in_stand * moved
        np.maximum(full, 0.0, out=full)
        self.power_full_w, self.link_full_w = power, places.of_machines(full)
        ready = np.subtract(k + 1.0, self.ready_k)
        np.minimum(ready, 1.0, out=ready)
        np.maximum(ready, 0.0, out=ready)
        on = np.minimum(places.of_tanks(self.called), places.of_machines(ready))
        on *= self.link_on
        on = self.trip(on)
        given = on * self.link_full_w
        self.link_end_w = self.link_full_w
        if self.shared.size:
            self.divide(on, given)
        return on, given

    def trip(self, on: Array) -> Array:
        """Takes out of use what would run and pass its limit within the step; gives the shares of time that are left.

        How the limit comes nearer is taken from how the stand warmed in the step before.
        """
        over, some = self.read_over_k, self.in_stand
        rise: Array | float = 0.0
        if some.size and self.closed:
            over, rise = over.copy(), np.zeros_like(over)
            over[some] += self.over_in_stand * (self.stand_c[self.stand_of] - self.read_stand_c)
            rise[some] = self.over_in_stand * np.maximum(self.stand_rise_k[self.stand_of], 0.0)
        stops = over + rise > 0.0
        if not stops.any():
            return on
        stops &= self.places.on_machines(on, np.maximum) > 0.0
        if not stops.any():
            return on
        self.out_of_use |= stops
        left = np.clip(-over / np.maximum(rise, 1e-12), 0.0, 1.0)
        self.turn_off_lost()
        shares: Array = on * self.places.of_machines(np.where(stops, left, 1.0))
        return shares

    def divide(self, on: Array, given: Array) -> None:
        """Divides machines on several tanks at each moment among the links that are on, by their shares of it.

        A link is on for the last share `on` of the step. Links that are on for part of it are told apart in SLOTS.
        """
        some, machine, cases = self.shared, self.shared_machine, self.shape[1]
        time_on = on[some]
        weights = self.share[some] * (time_on > 0.0)
        among = _summed(weights, machine, self.shared_count)
        part = np.divide(weights, among[machine], out=np.zeros_like(weights), where=weights > 0.0)
        full = self.link_full_w[some]
        self.link_end_w = self.link_full_w.copy()
        self.link_end_w[some] = full * part
        given[some] = full * part * time_on
        partly = np.zeros((self.shared_count, cases), dtype=bool)
        row, case = np.nonzero((time_on > 0.0) & (time_on < 1.0))
        partly[machine[row], case] = True
        row, case = np.nonzero(partly[machine])
        if row.size:
            slots = np.clip(np.arange(1, SLOTS + 1) - SLOTS * (1.0 - time_on[row, case][:, None]), 0.0, 1.0)
            _group, group = np.unique(machine[row] * cases + case, return_inverse=True)
            slot_weights = self.share[some[row]] * slots
            slot_among, busiest = np.zeros((_group.size, SLOTS)), np.zeros((_group.size, SLOTS))
            np.add.at(slot_among, group, slot_weights)
            np.maximum.at(busiest, group, slots)
            slot_part = np.divide(slot_weights, slot_among[group], out=np.zeros_like(slots), where=slots > 0.0)
            given[some[row], case] = full[row, case] * (slot_part * busiest[group]).mean(axis=-1)

    def end_calls(self, on: Array, given: Array) -> tuple[IntArray, Array] | None:
        """Ends the calls of tanks that reach the lower end within the step, and takes back what came after it.

        Gives the links that were closed (flat places) and the share of the step after that, if there are any.
        """
        np.less_equal(self.after, self.low, out=self.flags)
        self.flags &= self.calling
        end = np.flatnonzero(self.flags)
        if not end.size:
            return None
        places, cases = self.places, self.shape[1]
        edge = places.plain * cases
        plain = end[: np.searchsorted(end, edge)]
        link, tank = plain, np.arange(plain.size)
        if places.tank.size:
            row, case = np.nonzero(self.flags[places.tank])
            link = np.concatenate((plain, (row + places.plain) * cases + case))
            tank = np.concatenate((tank, np.searchsorted(end, places.tank[row] * cases + case)))
        after, called, reach = self.after.reshape(-1), self.called.reshape(-1), self.reach.ravel()[end]
        fan = self.fan_w.ravel()[end]
        link_on, link_w = on.reshape(-1)[link], self.link_end_w.ravel()[link] if link.size else np.zeros(0)
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
            if self.shared.size:
                self.pass_on(link, less * link_w, given)
        return link, cut[tank]

    def pass_on(self, link: IntArray, spared_w: Array, given: Array) -> None:
        """Gives what closed links leave of a machine to the others that still call on it [W]."""
        row, case = np.divmod(link, self.shape[1])
        place = self.shared_place[row]
        if not (place >= 0).any():
            return
        row, case, spared_w, place = row[place >= 0], case[place >= 0], spared_w[place >= 0], place[place >= 0]
        some, machine = self.shared, self.shared_machine
        left = np.zeros((self.shared_count, self.shape[1]))
        np.add.at(left, (machine[place], case), spared_w)
        tank = self.links.tank[some]
        calls = self.share[some] * self.link_on[some] * self.calling[tank]
        among = _summed(calls, machine, self.shared_count)
        more = calls * np.divide(left, among, out=np.zeros_like(left), where=among > 0.0)[machine]
        given[some] += more
        row, case = np.nonzero(more)
        np.add.at(self.cooling, (tank[row], case), more[row, case])
        np.add.at(self.after, (tank[row], case), -more[row, case] * self.reach[tank[row], case])

    def count_machines(self, k: int, on: Array, stopped: tuple[IntArray, Array] | None) -> Array:
        """Starts, run time, power and rests; gives each machine's mean power over the step [W]."""
        places = self.places
        machine_on = places.on_machines(on, np.maximum)
        active = machine_on > 0.0
        calls: BoolArray = places.of_tanks(self.calling) & self.link_use
        still = places.on_machines(calls, np.logical_or).astype(bool, copy=False)
        begun = np.flatnonzero(active > self.on)
        self.starts.reshape(-1)[begun] += 1.0
        if stopped is not None and stopped[0].size:
            row, case = np.divmod(stopped[0], self.shape[1])
            machine = self.links.machine[row]
            rests = (active | self.on)[machine, case] & ~still[machine, case]
            machine, case, cut = machine[rests], case[rests], stopped[1][rests]
            np.maximum.at(self.ready_k, (machine, case), k + 1.0 - cut + self.rest_k[machine])
        self.on = active & still
        power: Array = machine_on * self.power_full_w
        self.running += machine_on
        self.power_w += power
        return power
