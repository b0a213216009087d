"""What is kept of every step: waters, stands and cooling at the ends of the steps, from the closed form between."""

from __future__ import annotations

from enum import Enum, auto

import numpy as np

from fleet.thermal.loads import TOGETHER_S
from fleet.thermal.motion import LEAST, Motion, OfTank, Reached
from fleet.thermal.ranges import Array
from fleet.thermal.state import State
from fleet.thermal.switching import Stretch
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


def in_seconds(course: Array, length_s: Array) -> Array:
    """Coefficients of the same cubic in seconds, lowest power first; of the change over a stretch and its first and
    last slope times its length [3, stretch]."""
    change, first, last = course
    return np.stack(
        (
            first / length_s,
            (3.0 * change - 2.0 * first - last) / length_s**2,
            (first + last - 2.0 * change) / length_s**3,
        )
    )


class Recorder:
    """Takes down what is to be kept of some tanks: `kept` [step, tank, case] of the whole fleet, with the start as step
    0 for waters and stands."""

    def __init__(self, kept: dict[Keep, Array], tanks: IntArray, step_s: int, most_steps: int) -> None:
        """tanks: places of the tanks among those of `kept`; most_steps: of an interval."""
        self.kept, self.tanks, self.step_s = kept, tanks, float(step_s)
        count = next(iter(kept.values())).shape[2]
        self.rows = {each: np.empty((most_steps, tanks.size * count), values.dtype) for each, values in kept.items()}
        self.shape = (tanks.size, count)
        self.taken_j = np.zeros((0, 0))
        self.stretches: list[Stretch] = []

    def begin(self, state: State) -> None:
        """Takes down the start."""
        for each, values in ((Keep.WATER, state.water_c), (Keep.STAND, state.stand_c)):
            if each in self.kept:
                self.kept[each][0, self.tanks] = values.reshape(self.shape)

    def interval(self, steps: int, motion: Motion, reached: Reached) -> None:
        """Everything through an interval of so many steps, as if nothing switched in it."""
        share = np.arange(1.0, steps + 1.0) / steps
        seconds, weights = reached.seconds * share[:, None], cubic(share)
        if Keep.WATER in self.rows:
            rows = self.rows[Keep.WATER][:steps]
            np.matmul(weights.astype(rows.dtype), water_course(motion, reached).astype(rows.dtype), out=rows)
            if motion.has.heaters:
                rows += heated(motion.tanks, motion.water_c + rows, seconds)
            rows += motion.water_c.astype(rows.dtype)
        if Keep.STAND in self.rows:
            self.rows[Keep.STAND][:steps] = stands(stand_course(motion), seconds)
        if Keep.COOLING in self.rows:
            self.taken_j = weights @ cooling_course(motion, reached)

    def stretch(self, one: Stretch) -> None:
        """Notes what some tanks did between two switches."""
        self.stretches.append(one)

    def finish(self, step: int, steps: int) -> None:
        """Writes the stretches between switches over what was written as if nothing switched, and all of it away."""
        if self.stretches:
            self.write_stretches()
            self.stretches.clear()
        if Keep.COOLING in self.rows:
            np.divide(
                np.diff(self.taken_j, axis=0, prepend=0.0),
                self.step_s,
                out=self.rows[Keep.COOLING][:steps],
                casting="same_kind",
            )
        for each, values in self.kept.items():
            first = step + (each is not Keep.COOLING)
            of_tanks = np.dtype((np.void, values.itemsize * self.shape[1]))
            rows = self.rows[each][:steps].view(of_tanks)
            values[first : first + steps].view(of_tanks)[:, self.tanks, 0] = rows

    def write_stretches(self) -> None:
        """Writes the stretches into the rows of the interval, where they have ends of steps."""
        ends = np.concatenate(
            [np.stack((one.begin_s, one.begin_s + one.reached.seconds)) for one in self.stretches], axis=1
        )
        first, last = np.floor((ends + TOGETHER_S) / self.step_s).astype(np.intp)
        count = last - first
        place = np.repeat(np.arange(count.size), count)
        if not place.size:
            return
        row = np.arange(place.size)
        row -= np.repeat(np.cumsum(count) - count - first, count)
        seconds: Array = (row + 1).astype(float)
        seconds *= self.step_s
        seconds -= ends[0].take(place)
        at = row * self.tanks.size * self.shape[1]
        at += np.concatenate([one.tanks for one in self.stretches]).take(place)
        length = np.maximum(ends[1] - ends[0], LEAST)
        motions = [(one.motion, one.reached) for one in self.stretches]

        def along(courses: list[Array], begins: list[Array]) -> Array:
            coefficients = in_seconds(np.concatenate(courses, axis=1), length).take(place, axis=1)
            found: Array = coefficients[2] * seconds
            for coefficient in coefficients[1::-1]:
                found += coefficient
                found *= seconds
            found += np.concatenate(begins).take(place)
            return found

        if Keep.WATER in self.rows:
            water = along([water_course(*each) for each in motions], [motion.water_c for motion, _ in motions])
            if motions[0][0].has.heaters:
                tanks = np.concatenate([motion.tanks for motion, _ in motions], axis=1)
                water += heated(tanks[:, place], water, seconds)
            self.rows[Keep.WATER].reshape(-1)[at] = water
        if Keep.STAND in self.rows:
            courses = np.concatenate([stand_course(motion) for motion, _ in motions], axis=1)
            self.rows[Keep.STAND].reshape(-1)[at] = stands(courses[:, place], seconds)
        if Keep.COOLING in self.rows:
            cooled_j = [one.cooled_j for one in self.stretches]
            self.taken_j.reshape(-1)[at] = along([cooling_course(*each) for each in motions], cooled_j)


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
    if motion.has.machines or motion.has.fans:
        last += motion.growth_w_s * seconds
    if motion.has.machines and motion.has.closed_stands and motion.ties.breathing.size:
        last += motion.by_breathing(reached.stand_shift_k)
    return np.stack((reached.cooling_w * seconds, motion.taken_w * seconds, last * seconds))


def heated(tanks: Array, water_c: Array, seconds: Array) -> Array:
    """By how much heaters have warmed waters that would have come to `water_c` after a time without them [K]; tanks:
    columns of their table."""
    slope = tanks[OfTank.SLOPE]
    reach = -np.expm1(-slope * seconds / tanks[OfTank.CAPACITY]) / slope
    found: Array = np.clip(tanks[OfTank.HEATER_C] - water_c, 0.0, tanks[OfTank.HEATER] * reach)
    return found


def stand_course(motion: Motion) -> Array:
    """Air of the stands at the begin of a stretch [°C], how far it would go in the end but for the line on which what
    drives it goes on [K], that line [K/s], and the pace [1/s]; [4, tank]."""
    if not motion.has.closed_stands:
        return np.stack((motion.stand_c, *np.zeros((3, motion.stand_c.size))))
    line: Array = motion.stand_growth_w_s / motion.stand_answer
    goal = motion.stand_drive_w / motion.stand_answer - line / np.maximum(motion.stand_pace, LEAST)
    return np.stack((motion.stand_c, goal, line, motion.stand_pace))


def stands(course: Array, seconds: Array) -> Array:
    """Air of the stands after a time. [°C]"""
    found: Array = course[0] - course[1] * np.expm1(-course[3] * seconds)
    found += course[2] * seconds
    return found
