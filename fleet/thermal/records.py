"""What is kept of every step: waters, stands and cooling at the ends of the steps, from the closed form between."""

from __future__ import annotations

from enum import Enum, auto

import numpy as np

from fleet.thermal.motion import LEAST, Motion, OfTank, Reached
from fleet.thermal.ranges import Array
from fleet.thermal.state import State
from fleet.thermal.switching import TOGETHER_S, Stretch
from fleet.thermal.tanks import IntArray


class Keep(Enum):
    """What may be kept of every step: water and stands [°C] at its end, cooling [W] as the mean over it."""

    WATER = auto()
    STAND = auto()
    COOLING = auto()


def cubic(share: Array) -> Array:
    """Weights of the change over a stretch and of its first and last slope in the rise at shares of it; [share, 3].

    Of the cubic through both ends with both slopes (Hermite).
    """
    rest = share - 1.0
    return np.stack((share * share * (3.0 - 2.0 * share), share * rest * rest, share * share * rest), axis=-1)


class Recorder:
    """Takes down what is to be kept; arrays [step, tank, case], with the start as step 0 for waters and stands."""

    def __init__(self, record: dict[Keep, Array], step_s: int) -> None:
        self.step_s = float(step_s)
        self.rows = {each: values.reshape(values.shape[0], -1) for each, values in record.items()}
        self.stretches: list[Stretch] = []
        self.taken_j = np.zeros((0, 0))

    def begin(self, state: State) -> None:
        """Takes down the start."""
        for each, values in ((Keep.WATER, state.water_c), (Keep.STAND, state.stand_c)):
            if each in self.rows:
                self.rows[each][0] = values

    def interval(self, step: int, steps: int, motion: Motion, reached: Reached) -> None:
        """Everything through the interval of so many steps that begins with `step`, as if nothing switched in it."""
        seconds = self.step_s * np.arange(1.0, steps + 1.0)[:, None]
        weights = cubic(np.arange(1, steps + 1) / steps)
        later, water = slice(step + 1, step + 1 + steps), motion.water_c
        if Keep.WATER in self.rows:
            rise = weights @ water_course(motion, reached)
            if motion.has.heaters:
                rise += heated(motion, slice(None), water + rise, seconds)
            np.add(rise, water, out=self.rows[Keep.WATER][later], casting="same_kind")
        if Keep.STAND in self.rows:
            self.rows[Keep.STAND][later] = stands(motion, reached, slice(None), seconds)
        if Keep.COOLING in self.rows:
            self.taken_j = weights @ cooling_course(motion, reached)

    def stretch(self, one: Stretch) -> None:
        """Notes what some tanks did between two switches."""
        self.stretches.append(one)

    def finish(self, step: int, steps: int) -> None:
        """Writes the stretches between switches over what was written as if nothing switched."""
        ends = self.step_s * np.arange(1, steps + 1)[:, None]
        for one in self.stretches:
            motion, reached, length = one.motion, one.reached, one.reached.seconds
            since = ends - one.begin_s
            row, place = np.nonzero((since > 0.0) & (since <= length + TOGETHER_S))
            if not row.size:
                continue
            seconds, tank = since[row, place], one.tanks[place]
            share = seconds / np.broadcast_to(length, one.tanks.shape)[place]
            weights = cubic(np.minimum(share, 1.0)).T
            if Keep.WATER in self.rows:
                water = motion.water_c[place] + (weights * water_course(motion, reached)[:, place]).sum(axis=0)
                if motion.has.heaters:
                    water += heated(motion, place, water, seconds)
                self.rows[Keep.WATER][step + 1 + row, tank] = water
            if Keep.STAND in self.rows:
                self.rows[Keep.STAND][step + 1 + row, tank] = stands(motion, reached, place, seconds)
            if Keep.COOLING in self.rows:
                joules = (weights * cooling_course(motion, reached)[:, place]).sum(axis=0)
                self.taken_j[row, tank] = one.cooled_j[place] + joules
        self.stretches.clear()
        if Keep.COOLING in self.rows:
            self.rows[Keep.COOLING][step : step + steps] = np.diff(self.taken_j, axis=0, prepend=0.0) / self.step_s


def water_course(motion: Motion, reached: Reached) -> Array:
    """Change of the waters without their heaters over a stretch, and first and last slope times its length; [3, tank]
    in K."""
    last, _stands = motion.end_rates(reached)
    seconds = reached.seconds
    return np.stack((reached.free_c - motion.water_c, motion.rate_k_s * seconds, last * seconds))


def cooling_course(motion: Motion, reached: Reached) -> Array:
    """Heat taken out over a stretch, and the first and last rate times its length; [3, tank] in J."""
    seconds = reached.seconds
    last = motion.taken_w.copy()
    if motion.has.machines:
        last += motion.growth_w_s * seconds
        if motion.has.closed_stands and motion.ties.breathing.size:
            last += motion.by_breathing(reached.stand_shift_k)
    return np.stack((reached.cooling_w * seconds, motion.taken_w * seconds, last * seconds))


def heated(motion: Motion, place: IntArray | slice, water_c: Array, seconds: Array) -> Array:
    """By how much heaters have warmed waters that would have come to `water_c` after a time without them. [K]"""
    tanks = motion.tanks[:, place]
    slope = tanks[OfTank.SLOPE]
    reach = -np.expm1(-slope * seconds / tanks[OfTank.CAPACITY]) / slope
    found: Array = np.clip(tanks[OfTank.HEATER_C] - water_c, 0.0, tanks[OfTank.HEATER] * reach)
    return found


def stands(motion: Motion, reached: Reached, place: IntArray | slice, seconds: Array) -> Array:
    """Air of the stands after a time. [°C]"""
    now = motion.stand_c[place]
    if not motion.has.closed_stands:
        return now
    whole = np.broadcast_to(reached.seconds, motion.stand_c.shape)[place]
    pace = (motion.stand_answer / motion.tanks[OfTank.STAND_CAPACITY])[place]
    gone = np.expm1(-pace * seconds) / np.minimum(np.expm1(-pace * whole), -LEAST)
    found: Array = now + np.asarray(reached.stand_shift_k)[place] * gone
    return found
