"""The machines of one part of a fleet from step to step: what they give, to whom, when they rest, start and trip.

Everything works on arrays [machine, case] and [link, case], some of them changed in place. Tanks with one machine of
their own come first, so that for them tank, link and machine have the same place and nothing is gathered or scattered;
the few others go through index arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fleet.thermal.balance import Air, Output, machine_output
from fleet.thermal.cases import Cases
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.day import Controls
from fleet.thermal.devices import FROM_STAND
from fleet.thermal.parts import has_a_machine_of_its_own
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, Array
from fleet.thermal.tanks import BoolArray, IntArray

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


@dataclass(frozen=True)
class Stands:
    """Air of the stands at the start and in the middle of a step [°C], and how it warmed in the step before [K]."""

    now_c: Array
    middle_c: Array
    rise_k: Array


def summed(values: Array, rows: IntArray, size: int) -> Array:
    """Rows of values [row, case] summed into `size` rows."""
    count = values.shape[1]
    flat = rows if count == 1 else (rows[:, None] * count + np.arange(count)).ravel()
    found: Array = np.bincount(flat, weights=values.ravel(), minlength=size * count).astype(float, copy=False)
    return found.reshape(size, count)


class Places:
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
            target[self.plain :] += summed(values[self.plain :], self.tank - self.plain, self.tanks - self.plain)

    def on_machines(self, values: Any, by: np.ufunc = np.add) -> Any:
        """Sums, or largest values, of the links of each machine; a view where it can be."""
        if self.plain == self.machines:
            return values
        found = np.zeros((self.machines, self.cases))
        found[: self.plain] = values[: self.plain]
        if by is np.add:
            found[self.plain :] = summed(values[self.plain :], self.machine - self.plain, self.machines - self.plain)
        elif self.first.size:
            ordered = values[self.order]
            found[self.rows] = by.reduceat(ordered, self.first, axis=0)
        return found


class Machinery:
    """The machines of a part of a fleet with their state. `running`, `starts` and `power_w` become those of Trace."""

    def __init__(self, cases: Cases, controls: Controls, thermostat: Thermostat, step_s: float) -> None:
        self.cases, self.controls = cases, controls
        model = cases.model
        self.machines, self.links = model.devices.machines, model.devices.links
        self.shape = shape = cases.open_m2.shape
        of_machines = (len(self.machines.codes), shape[1])
        alone = has_a_machine_of_its_own(model)
        plain = int(alone.size if alone.all() else np.argmin(alone))
        self.places = Places(plain, self.links.tank, self.links.machine, shape[0], *of_machines)
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
        self.running, self.starts, self.power_w = (np.zeros(of_machines) for _ in range(3))

    def read(self, water_c: Array, air: Air, stand_c: Array, slopes_too: bool) -> None:
        """Output of the machines now, and how it moves with the water and with the air of a stand that they breathe."""
        self.read_water_c = water_c.copy()
        mixed = self.places.on_machines(self.mixing * self.places.of_tanks(water_c))
        water = np.where(self.idle_machine, self.machines.set_point_c[:, None], mixed)
        before = self.load_ratio
        read = self.output = machine_output(self.cases, water, air, stand_c, before)
        self.load_ratio = read.load_ratio
        self.read_over_k = self.over(read, water)
        some = self.in_stand
        if some.size:
            self.read_stand_c = stand_c[self.stand_of]
        if not slopes_too:
            return
        warmer = machine_output(self.cases, water + PROBE_K, air, stand_c, before)
        self.cooling_slope = (warmer.cooling_w - read.cooling_w) / PROBE_K
        self.power_slope = (warmer.power_w - read.power_w) / PROBE_K
        if some.size:
            warmer = machine_output(self.cases, water, air, stand_c + PROBE_K, before)
            self.cooling_in_stand = (warmer.cooling_w - read.cooling_w)[some] / PROBE_K
            self.power_in_stand = (warmer.power_w - read.power_w)[some] / PROBE_K
            past = self.over(warmer, water) - self.read_over_k
            self.over_in_stand = np.maximum(past[some] / PROBE_K, 0.0)

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

    def run(self, k: int, called: Array, water_c: Array, stands: Stands) -> tuple[Array, Array]:
        """Share of the step that each link is on, and what it gives [W], before thermostats end their calls.

        called: share of the step that each tank calls for, at its end; water_c: in the middle of the step.
        """
        places = self.places
        change = places.of_tanks(water_c - self.read_water_c)
        if places.tank.size:
            change = places.on_machines(self.mixing * change)
        full = self.cooling_slope * change
        full += self.output.cooling_w
        power = self.power_slope * change
        power += self.output.power_w
        some = self.in_stand
        if some.size:
            moved = stands.middle_c[self.stand_of] - self.read_stand_c
            full[some] += self.cooling_in_stand * moved
            power[some] += self.power_in_stand * moved
        np.maximum(full, 0.0, out=full)
        self.power_full_w, self.link_full_w = power, places.of_machines(full)
        ready = np.subtract(k + 1.0, self.ready_k)
        np.minimum(ready, 1.0, out=ready)
        np.maximum(ready, 0.0, out=ready)
        on = np.minimum(places.of_tanks(called), places.of_machines(ready))
        on *= self.link_on
        on = self.trip(on, stands)
        given = on * self.link_full_w
        self.link_end_w = self.link_full_w
        if self.shared.size:
            self.divide(on, given)
        return on, given

    def trip(self, on: Array, stands: Stands) -> Array:
        """Takes out of use what would run and pass its limit within the step; gives the shares of time that are left.

        How the limit comes nearer is taken from how the stand warmed in the step before.
        """
        over, some = self.read_over_k, self.in_stand
        rise: Array | float = 0.0
        if some.size:
            over, rise = over.copy(), np.zeros_like(over)
            over[some] += self.over_in_stand * (stands.now_c[self.stand_of] - self.read_stand_c)
            rise[some] = self.over_in_stand * np.maximum(stands.rise_k[self.stand_of], 0.0)
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
        among = summed(weights, machine, self.shared_count)
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

    def pass_on(
        self, link: IntArray, spared_w: Array, calling: BoolArray, given: Array
    ) -> tuple[tuple[IntArray, IntArray], Array] | None:
        """Gives what closed links leave of a machine to the others that still call on it.

        link: flat places of the closed links; spared_w: what they leave. Answers with the tanks and cases that get
        more, and how much [W].
        """
        row, case = np.divmod(link, self.shape[1])
        place = self.shared_place[row]
        if not (place >= 0).any():
            return None
        row, case, spared_w, place = row[place >= 0], case[place >= 0], spared_w[place >= 0], place[place >= 0]
        some, machine = self.shared, self.shared_machine
        left = np.zeros((self.shared_count, self.shape[1]))
        np.add.at(left, (machine[place], case), spared_w)
        tank = self.links.tank[some]
        calls = self.share[some] * self.link_on[some] * calling[tank]
        among = summed(calls, machine, self.shared_count)
        more = calls * np.divide(left, among, out=np.zeros_like(left), where=among > 0.0)[machine]
        given[some] += more
        row, case = np.nonzero(more)
        return (tank[row], case), more[row, case]

    def count(self, k: int, on: Array, calling: BoolArray, stopped: tuple[IntArray, Array] | None) -> Array:
        """Starts, run time, power and rests; gives each machine's mean power over the step [W]."""
        places = self.places
        machine_on = places.on_machines(on, np.maximum)
        active = machine_on > 0.0
        calls: BoolArray = places.of_tanks(calling) & self.link_use
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

    def heat_to_stands(self, given: Array, power_w: Array) -> Array | None:
        """Heat that machines release in the stands over the step [W], [tank, case]; None where none stands in one."""
        if not self.heating_stand.size:
            return None
        released = (self.places.on_machines(given) + power_w)[self.heating_stand]
        return summed(released, self.heated_stand, self.shape[0])
