"""The machines of one part of a fleet: their curves between two readings, and when they start, rest and trip.

Everything is flat, [machine], [link] or [tank] in each case; ties.py tells which belongs to which.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleet.thermal.balance import Air, Output, machine_output
from fleet.thermal.cases import Cases
from fleet.thermal.coolers import CONDENSER_AIR_RISE_K, CUT_OUT_C
from fleet.thermal.motion import OfMachine
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, Array
from fleet.thermal.state import State
from fleet.thermal.tanks import BoolArray
from fleet.thermal.ties import AllTies, Ties

PROBE_K = 0.25
"""Warming of water and air by which slopes are read."""
LEAST_SHARE = 1e-6
SOON_S = 1e-6
LEAST_OPEN_LOOP = 0.5
"""Recirculated air is taken to do no more than double what warmer air does."""
PAST_ALL_K = 1e3
"""How far a chiller is taken to be past its limits on water colder than its curve holds for."""


@dataclass(frozen=True)
class Thermostat:
    """Cooling begins `band_k` above target and ends as far below; a compressor that stopped rests `least_off_s`.

    Half a kelvin from on to off and three minutes of rest are usual: from memory.
    """

    band_k: float = 0.25
    least_off_s: float = 180.0


@dataclass(frozen=True)
class AirMoves:
    """How the air of the rooms and outdoors moves over an interval, [room, case] each: the mean rate [K/s], and half
    the change of the rate in a second [K/s2]."""

    rate_k_s: tuple[Array, Array]
    bend_k_s2: tuple[Array, Array]


class Machinery:
    """Reads the machines' curves into `table` [row, machine], whose rows OfMachine names."""

    def __init__(self, cases: Cases, ties: AllTies) -> None:
        self.cases, self.ties = cases, ties
        machines = self.machines = cases.model.devices.machines
        count = cases.open_m2.shape[1]
        self.shape, size = (len(machines.codes), count), ties.whole.machines
        back = machines.recirculation / (1.0 - machines.recirculation)
        self.back_k = (back[:, None] * CONDENSER_AIR_RISE_K / machines.airflow[:, cases.side]).ravel()
        self.set_point_c = np.repeat(machines.set_point_c, count)
        self.is_chiller: BoolArray = np.repeat(machines.is_chiller, count)
        self.in_stand: BoolArray = np.zeros(size, dtype=bool)
        self.in_stand[ties.whole.breathing] = True
        self.load_ratio = np.ones(self.shape)
        self.table = np.zeros((len(OfMachine), size))
        self.in_air = np.zeros((3, size))

    def lost(self) -> BoolArray:
        """Machines that cannot be used at all."""
        low, high = CHILLER_WATER_C.low, CHILLER_WATER_C.high
        out_of_range = (self.set_point_c < low) | (self.set_point_c > high)
        unusable: BoolArray = np.repeat(~self.machines.usable, self.shape[1])
        return unusable | (self.is_chiller & out_of_range)

    def read(self, water_c: Array, air: Air, stand_c: Array, moves: AirMoves, seconds: float, slopes_too: bool) -> None:
        """Reads the curves as straight lines for an interval, by its mean air and water.

        water_c [tank], flat; stand_c [tank, case]. The load that warms recirculated air is that of the reading before;
        what has changed since is put right along the slope.
        """
        whole, table = self.ties.whole, self.table
        water = np.where(self.ties.idle, self.set_point_c, whole.mixed(water_c))
        before = self.load_ratio
        read = self.output(water, air, stand_c, before)
        level = self.levels(read, out=table[: OfMachine.COOLING_SLOPE])
        if slopes_too:
            self.read_slopes(water, air, stand_c, level, read.load_ratio)
        level += self.in_air * (self.back_k * (read.load_ratio - before).ravel())
        self.load_ratio = read.load_ratio
        level -= table[OfMachine.COOLING_SLOPE : OfMachine.COOLING_IN_STAND] * water
        some = whole.breathing
        if some.size:
            level[:, some] -= self.in_air.take(some, axis=1) * stand_c.ravel()[whole.breathed]
        drift = table[OfMachine.COOLING_DRIFT : OfMachine.OVER_BEND]
        np.multiply(self.in_air, self.around(*moves.rate_k_s), out=drift)
        level -= drift * (seconds / 2.0)
        bend = np.multiply(self.in_air[2], self.around(*moves.bend_k_s2), out=table[OfMachine.OVER_BEND])
        level[2] += bend * (seconds * seconds / 6.0)
        drift[2] -= bend * seconds
        too_cold = self.is_chiller & (water < CHILLER_WATER_C.low)
        if too_cold.any():
            level[2, too_cold] = PAST_ALL_K

    def read_slopes(self, water_c: Array, air: Air, stand_c: Array, level: Array, load_ratio: Array) -> None:
        """Reads the slopes of the curves against the water and the air around, with what recirculated air makes of
        them."""
        table, before = self.table, self.load_ratio
        slopes = table[OfMachine.COOLING_SLOPE : OfMachine.COOLING_IN_STAND]
        warmer_water = self.output(water_c + PROBE_K, air, stand_c, before)
        self.levels(warmer_water, out=slopes)
        slopes -= level
        slopes /= PROBE_K
        warmer = replace(air, rooms_c=air.rooms_c + PROBE_K, outdoor_c=air.outdoor_c + PROBE_K)
        warmer_air = self.output(water_c, warmer, stand_c + PROBE_K, before)
        self.levels(warmer_air, out=self.in_air)
        self.in_air -= level
        in_water, in_air = ((each.load_ratio - load_ratio).ravel() / PROBE_K for each in (warmer_water, warmer_air))
        self.in_air /= PROBE_K * np.maximum(1.0 - self.back_k * in_air, LEAST_OPEN_LOOP)
        slopes += self.in_air * (self.back_k * in_water)
        np.maximum(self.in_air[2], 0.0, out=self.in_air[2])
        np.multiply(self.in_air, self.in_stand, out=table[OfMachine.COOLING_IN_STAND : OfMachine.COOLING_DRIFT])

    def around(self, rooms: Array, outdoors: Array) -> Array:
        """What is about the machines, of rooms and outdoors [room, case]; 0 for those that breathe a stand."""
        around = rooms[self.machines.room]
        facts = self.cases.machine_facts
        around[facts.from_outdoors] = outdoors[self.machines.room[facts.from_outdoors]]
        around[facts.from_stand] = 0.0
        found: Array = around.ravel()
        return found

    def output(self, water_c: Array, air: Air, stand_c: Array, load_ratio: Array) -> Output:
        """Output of the machines on water that is given flat."""
        return machine_output(self.cases, water_c.reshape(self.shape), air, stand_c, load_ratio)

    def levels(self, output: Output, out: Array) -> Array:
        """Cooling and power [W], and how far machines are past what they stand, inlet air or cut-out [K]; flat."""
        found = out.reshape(3, *self.shape)
        found[0], found[1] = output.cooling_w, output.power_w
        np.subtract(output.condensing_c, CUT_OUT_C, out=found[2])
        past = output.inlet_c - CONDENSER_INLET_C.high
        np.maximum(found[2], past, out=found[2])
        some = self.cases.machine_facts.thermoelectric
        found[2, some] = past[some]
        return out


def settle(ties: Ties, state: State, now_s: Array) -> None:
    """Which machines run and for whom, from now on; now_s [machine], on the clock of `ready_s`."""
    calls = ties.of_tanks(state.calling) & state.link_on
    calls &= ties.of_machines(~state.out_of_use)
    wanted = ties.any_on_machines(calls)
    on = wanted & (state.ready_s <= now_s + SOON_S)
    stops = state.on > on
    if stops.any():
        state.ready_s = np.where(stops, now_s + state.rest_s, state.ready_s)
    state.on, state.waiting = on, wanted > on
    part = (calls & ties.of_machines(on)).astype(float)
    if ties.tank.size:
        rest = part[ties.plain :]
        rest *= state.share[ties.plain :]
        rest /= np.maximum(ties.on_machines(part)[ties.machine], LEAST_SHARE / 2.0)
    state.part = part
