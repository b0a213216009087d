"""How waters, stands and machines go on from a moment while nothing switches, in closed form.

Between two readings of films and curves the balance is linear:

    C dT/dt = constant + drift t - slope T + to_stand S - cooling       water T, stand S
    Cs dS/dt = constant + drift t + to_stand T - stand_slope S + what machines give off
    cooling = level + drift t + slope T' + slope S'                     T' mixed water, S' the stand that is breathed

The stand answers in minutes, exactly, with its water on a straight line. The water answers in
hours: by its own exponential, with the mean of what drives it, the stand's exponential and the line on which its
machine's output follows the water included. What is left out is the part of that line's bend that the time constant
of hours leaves in minutes.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, auto

import numpy as np

from fleet.thermal.balance import HOTTEST_AIR_C
from fleet.thermal.ranges import Array
from fleet.thermal.state import State
from fleet.thermal.ties import Ties

LEAST = 1e-12
LEAST_DECAY = 1e-6
"""Of a stand within a time; below it nothing moves that could be told from rounding."""
Seconds = Array | float
"""One time for all tanks, or one for each, the same for those that are tied."""


class OfTank(IntEnum):
    """Rows of the table of tanks: W, W/s, W/K, J/K and °C; all hold from one reading to the next."""

    CONSTANT = 0
    DRIFT = auto()
    SLOPE = auto()
    CAPACITY = auto()
    TO_STAND = auto()
    FAN = auto()
    FAN_SLOPE = auto()
    HIGH = auto()
    LOW = auto()
    STAND_CONSTANT = auto()
    STAND_DRIFT = auto()
    STAND_SLOPE = auto()
    STAND_CAPACITY = auto()
    HEATER = auto()
    HEATER_C = auto()


class OfMachine(IntEnum):
    """Rows of the table of machines: cooling and power [W] and how far they are past what they stand [K], each at 0 °C
    with its slopes against the mixed water and the air of a stand that is breathed, and its drift [W/s, K/s]; the last
    with its bend [K/s2] too, since a limit that is neared slowly is passed early or late by minutes for little."""

    COOLING = 0
    POWER = auto()
    OVER = auto()
    COOLING_SLOPE = auto()
    POWER_SLOPE = auto()
    OVER_SLOPE = auto()
    COOLING_IN_STAND = auto()
    POWER_IN_STAND = auto()
    OVER_IN_STAND = auto()
    COOLING_DRIFT = auto()
    POWER_DRIFT = auto()
    OVER_DRIFT = auto()
    OVER_BEND = auto()


@dataclass(frozen=True)
class Features:
    """What occurs in a part of a fleet at all."""

    closed_stands: bool
    fans: bool
    heaters: bool
    machines: bool


@dataclass
class Reached:
    """Waters and stands after a time [°C], the waters also without heaters; how far stands moved, and by how much in
    the mean over the time [K]; mean cooling and heating [W]."""

    seconds: Seconds
    free_c: Array
    water_c: Array
    stand_c: Array
    stand_shift_k: Seconds
    stand_mean_shift_k: Seconds
    cooling_w: Array
    heating_w: Array | float


class Motion:
    """The motion from a state on. Temperatures in °C, times in s since the state."""

    def __init__(
        self, has: Features, ties: Ties, tanks: Array, machines: Array, state: State, since_s: Seconds = 0.0
    ) -> None:
        """tanks, machines: the columns of the tables, which hold `since_s` before the state."""
        self.has, self.ties, self.tanks, self.machines, self.since_s = has, ties, tanks, machines, since_s
        self.water_c, self.stand_c = state.water_c, state.stand_c
        self.calling, self.part, self.on = state.calling, state.part, state.on
        water, stand, slope = self.water_c, self.stand_c, tanks[OfTank.SLOPE]
        net = slope * water
        np.subtract(tanks[OfTank.CONSTANT], net, out=net)
        late = not isinstance(since_s, float)
        if late:
            net += tanks[OfTank.DRIFT] * since_s
        if has.closed_stands:
            net += tanks[OfTank.TO_STAND] * stand
        taken = np.zeros(ties.tanks)
        if has.fans:
            np.multiply(tanks[OfTank.FAN_SLOPE], water, out=taken)
            taken += tanks[OfTank.FAN]
            taken *= self.calling
        if has.machines:
            mixed = self.mixed_c = ties.mixed(water)
            self.output = machines[OfMachine.COOLING_SLOPE : OfMachine.OVER_SLOPE + 1] * mixed
            self.output += machines[OfMachine.COOLING : OfMachine.OVER + 1]
            if late:
                since = ties.at_machines(since_s)
                self.output += machines[OfMachine.COOLING_DRIFT : OfMachine.OVER_BEND] * since
                self.output[2] += machines[OfMachine.OVER_BEND] * (since * since)
            some = ties.breathing
            if some.size:
                in_stand = machines[OfMachine.COOLING_IN_STAND : OfMachine.OVER_IN_STAND + 1]
                self.in_stand = in_stand.take(some, axis=1)
                self.output[:, some] += self.in_stand * stand[ties.breathed]
            self.cooling_w, self.power_w, self.over_k = self.output
            np.maximum(self.cooling_w, 0.0, out=self.cooling_w)
            ties.add_to_tanks(taken, self.part * ties.of_machines(self.cooling_w))
        net -= taken
        self.taken_w, self.net_w = taken, net
        self.rate_k_s = net / tanks[OfTank.CAPACITY]
        self.bend_w_s = tanks[OfTank.DRIFT]
        if has.machines or has.fans:
            self.growth_w_s = np.zeros(ties.tanks)
        if has.fans:
            np.multiply(tanks[OfTank.FAN_SLOPE], self.rate_k_s, out=self.growth_w_s)
            self.growth_w_s *= self.calling
        if has.machines:
            self.mixed_rate_k_s = ties.mixed(self.rate_k_s)
            growth = machines[OfMachine.COOLING_SLOPE] * self.mixed_rate_k_s
            growth += machines[OfMachine.COOLING_DRIFT]
            ties.add_to_tanks(self.growth_w_s, self.part * ties.of_machines(growth))
        if has.machines or has.fans:
            self.bend_w_s = self.bend_w_s - self.growth_w_s
        self.pace = slope / tanks[OfTank.CAPACITY]
        np.negative(self.pace, out=self.pace)
        if has.closed_stands:
            self.drive_stands(late)

    def drive_stands(self, late: bool) -> None:
        """What drives the stands [W], how that grows [W/s], and how strongly they answer [W/K]."""
        tanks, machines, ties = self.tanks, self.machines, self.ties
        to_stand, answer = tanks[OfTank.TO_STAND], tanks[OfTank.STAND_SLOPE]
        drive = to_stand * self.water_c
        drive += tanks[OfTank.STAND_CONSTANT]
        drive -= answer * self.stand_c
        if late:
            drive += tanks[OfTank.STAND_DRIFT] * self.since_s
        growth = to_stand * self.rate_k_s
        growth += tanks[OfTank.STAND_DRIFT]
        some, stands = ties.heating, ties.heated
        if some.size:
            on, answer = self.on[some], answer.copy()
            its = machines.take(some, axis=1)
            slope = its[OfMachine.COOLING_SLOPE] + its[OfMachine.POWER_SLOPE]
            own = its[OfMachine.COOLING_IN_STAND] + its[OfMachine.POWER_IN_STAND]
            np.add.at(drive, stands, (self.cooling_w[some] + self.power_w[some]) * on)
            np.add.at(growth, stands, slope * on * self.mixed_rate_k_s[some])
            np.subtract.at(answer, stands, own * on)
        self.stand_drive_w, self.stand_growth_w_s, self.stand_answer = drive, growth, answer
        self.stand_pace = answer / tanks[OfTank.STAND_CAPACITY]

    def at(self, seconds: Seconds) -> Reached:
        """Where it has come after a time."""
        has, tanks, ties = self.has, self.tanks, self.ties
        half = seconds * 0.5
        reach = self.pace * seconds
        np.expm1(reach, out=reach)
        reach /= tanks[OfTank.SLOPE]
        mean = self.bend_w_s * half
        mean += self.net_w
        cooling = self.taken_w
        if has.machines or has.fans:
            cooling = self.growth_w_s * half
            cooling += self.taken_w
        shift: Seconds = 0.0
        mean_shift: Seconds = 0.0
        stand = self.stand_c
        if has.closed_stands:
            shift, mean_shift = self.stand_shifts(seconds)
            stand = self.stand_c + shift
            np.minimum(stand, HOTTEST_AIR_C, out=stand)
            mean += tanks[OfTank.TO_STAND] * mean_shift
            if ties.breathing.size:
                more = self.by_breathing(mean_shift)
                cooling += more
                mean -= more
        mean *= reach
        free = np.subtract(self.water_c, mean, out=mean)
        if not has.heaters:
            return Reached(seconds, free, free, stand, shift, mean_shift, cooling, 0.0)
        np.negative(reach, out=reach)
        wanted = tanks[OfTank.HEATER_C] - free
        wanted /= np.maximum(reach, LEAST)
        heating = np.minimum(np.maximum(wanted, 0.0), tanks[OfTank.HEATER])
        return Reached(seconds, free, free + heating * reach, stand, shift, mean_shift, cooling, heating)

    def stand_shifts(self, seconds: Seconds) -> tuple[Array, Array]:
        """How far the stands move within a time [K], and the mean of that over the time."""
        decay = self.stand_pace * seconds
        np.maximum(decay, LEAST_DECAY, out=decay)
        gone = np.expm1(-decay)
        np.negative(gone, out=gone)
        lag = gone / decay
        np.subtract(1.0, lag, out=lag)
        growth = self.stand_growth_w_s * seconds
        shift = self.stand_drive_w * gone
        shift += growth * lag
        shift /= self.stand_answer
        np.divide(lag, decay, out=decay)
        np.subtract(0.5, decay, out=decay)
        growth *= decay
        lag *= self.stand_drive_w
        lag += growth
        lag /= self.stand_answer
        return shift, lag

    def by_breathing(self, shift_k: Seconds) -> Array:
        """What tanks lose more because the air that their machines breathe in stands moved. [W]"""
        ties = self.ties
        more, found = np.zeros(ties.machines), np.zeros(ties.tanks)
        more[ties.breathing] = self.in_stand[0] * (
            shift_k[ties.breathed] if isinstance(shift_k, np.ndarray) else shift_k
        )
        ties.add_to_tanks(found, self.part * ties.of_machines(more))
        return found

    def end_rates(self, reached: Reached) -> tuple[Array, Array]:
        """How fast waters and stands move when they have come there, heaters left out. [K/s]"""
        tanks = self.tanks
        net = tanks[OfTank.SLOPE] * (self.water_c - reached.free_c)
        net += self.net_w
        net += self.bend_w_s * reached.seconds
        if not self.has.closed_stands:
            return net / tanks[OfTank.CAPACITY], np.zeros(self.ties.tanks)
        shift = reached.stand_shift_k
        net += tanks[OfTank.TO_STAND] * shift
        if self.ties.breathing.size:
            net -= self.by_breathing(shift)
        drive = self.stand_growth_w_s * reached.seconds
        drive += self.stand_drive_w
        drive -= self.stand_answer * shift
        return net / tanks[OfTank.CAPACITY], drive / tanks[OfTank.STAND_CAPACITY]

    def over_at(self, reached: Reached) -> Array:
        """How far machines are past what they stand where it has come [K]; above 0 they trip."""
        machines, ties = self.machines, self.ties
        over: Array = ties.mixed(reached.water_c) - self.mixed_c
        over *= machines[OfMachine.OVER_SLOPE]
        since, later = self.machine_times(reached.seconds)
        moved = machines[OfMachine.OVER_BEND] * (since + later)
        moved += machines[OfMachine.OVER_DRIFT]
        moved *= later - since
        over += moved
        over += self.over_k
        if ties.breathing.size and isinstance(reached.stand_shift_k, np.ndarray):
            over[ties.breathing] += self.in_stand[2] * reached.stand_shift_k[ties.breathed]
        return over

    def machine_times(self, seconds: Seconds) -> tuple[Seconds, Seconds]:
        """When the state was and when a time after it is, since the tables hold; for machines. [s]"""
        at = self.ties.at_machines
        since = at(self.since_s) if isinstance(self.since_s, np.ndarray) else self.since_s
        return since, since + (at(seconds) if isinstance(seconds, np.ndarray) else seconds)

    def over_rates(self, reached: Reached, rate_k_s: Array, stand_rate_k_s: Array) -> Array:
        """How fast machines go on past what they stand where it has come, with waters and stands that move so
        there. [K/s]"""
        machines, some = self.machines, self.ties.breathing
        rates: Array = machines[OfMachine.OVER_SLOPE] * self.ties.mixed(rate_k_s)
        rates += machines[OfMachine.OVER_DRIFT]
        rates += machines[OfMachine.OVER_BEND] * (2.0 * self.machine_times(reached.seconds)[1])
        if some.size:
            rates[some] += self.in_stand[2] * stand_rate_k_s[self.ties.breathed]
        return rates

    def mean_power(self, reached: Reached) -> Array:
        """Mean electric power of the machines on the way there, where they are on. [W]"""
        ties, machines, seconds = self.ties, self.machines, reached.seconds
        power: Array = machines[OfMachine.POWER_SLOPE] * self.mixed_rate_k_s
        power += machines[OfMachine.POWER_DRIFT]
        power *= 0.5 * (ties.at_machines(seconds) if isinstance(seconds, np.ndarray) else seconds)
        power += self.power_w
        some = ties.breathing
        if some.size and isinstance(reached.stand_mean_shift_k, np.ndarray):
            power[some] += self.in_stand[1] * reached.stand_mean_shift_k[ties.breathed]
        power *= self.on
        return power

    def mean_water(self, reached: Reached) -> Array:
        """Mean of the water on the way there [°C], by the parabola through both ends and the first slope."""
        mean: Array = self.rate_k_s * reached.seconds
        mean *= 0.5
        mean += reached.water_c
        mean -= self.water_c
        mean *= 1.0 / 3.0
        mean += self.water_c
        return mean
