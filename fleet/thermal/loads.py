"""Heat of the loads of a part of a fleet over a run, and which of them switch between two moments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.cases import Cases
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, SIDES, IntArray, Switchings

BIN_S = 3600 // BINS_PER_HOUR
DAY_S = 86_400
TOGETHER_S = 1e-6
"""What is no further apart happens at once."""
LEAST_W = 0.01
"""Smaller changes of the heat from one ten minutes to the next are rounding."""


@dataclass(frozen=True)
class Loads:
    """Loads that switch inside an interval: tank, seconds since its begin, and what is added from then on [W]."""

    tank: IntArray
    seconds: Array
    water_w: Array
    stand_w: Array


class LoadTimes:
    """Heat at every moment of the day, from its means over ten minutes and the switchings inside them."""

    def __init__(self, cases: Cases, start_hour: IntArray) -> None:
        """start_hour [case]: when the run begins."""
        tanks, (size, count) = cases.model.tanks, cases.open_m2.shape
        self.side, self.count, self.start_s = cases.side, count, start_hour * 3600
        self.begins_w, self.stand_begins_w = (
            np.moveaxis(each, -1, 0).copy() for each in (tanks.gain_w, tanks.stand_gain_w)
        )
        self.place = (np.arange(size)[:, None] * SIDES + cases.side).ravel()
        self.find_switchings(tanks.switchings)

    def find_switchings(self, inside: Switchings) -> None:
        """From means to what holds at the begin of each ten minutes, and a list of all that switches in a day: inside
        ten minutes as told, at their ends as what is not explained by that."""
        bins = (inside.second // BIN_S).astype(np.intp) % BINS
        rest = ((bins + 1) * BIN_S - inside.second)[:, None] / BIN_S
        np.subtract.at(self.begins_w, (bins, inside.tank), inside.water_w * rest)
        np.subtract.at(self.stand_begins_w, (bins, inside.tank), inside.stand_w * rest)
        found = [(inside.second, inside.tank, inside.water_w, inside.stand_w)]
        for place in range(BINS):
            step, stand_step = (table[place] - table[place - 1] for table in (self.begins_w, self.stand_begins_w))
            before = bins == (place - 1) % BINS
            np.subtract.at(step, inside.tank[before], inside.water_w[before])
            np.subtract.at(stand_step, inside.tank[before], inside.stand_w[before])
            some = np.flatnonzero((np.abs(step) + np.abs(stand_step)).max(axis=1) > LEAST_W)
            found.append((np.full(some.size, float(place * BIN_S)), some, step[some], stand_step[some]))
        second, tank, water_w, stand_w = (np.concatenate(each) for each in zip(*found, strict=True))
        order = np.argsort(second, kind="stable")
        self.second: Array = second[order]
        self.tank: IntArray = tank[order]
        self.water_w: Array = water_w[order]
        self.stand_w: Array = stand_w[order]

    def at(self, begin_s: int, seconds: float) -> tuple[Array, Array, Loads]:
        """Heat at the begin of an interval to waters and stands [W], flat, and what switches inside it.

        begin_s: since the start of the run; the interval lies within an hour of the clock.
        """
        clock_s = (self.start_s + begin_s) % DAY_S
        gain, stand_gain = (
            table[clock_s[0] // BIN_S].take(self.place) for table in (self.begins_w, self.stand_begins_w)
        )
        times = np.unique(clock_s)
        if times.size > 1:
            bins = np.tile(clock_s // BIN_S, self.place.size // self.count)
            gain, stand_gain = (
                table.reshape(BINS, -1)[bins, self.place] for table in (self.begins_w, self.stand_begins_w)
            )
        found = []
        for clock in times.tolist():
            cases = np.flatnonzero(clock_s == clock)
            edges = clock // BIN_S * BIN_S, clock + TOGETHER_S, clock + seconds - TOGETHER_S
            first, now, last = np.searchsorted(self.second, edges, side="right").tolist()
            if first < now:
                tank, _second, water_w, stand_w = self.some(slice(first, now), cases)
                np.add.at(gain, tank, water_w)
                np.add.at(stand_gain, tank, stand_w)
            if now < last:
                tank, second, water_w, stand_w = self.some(slice(now, last), cases)
                found.append((tank, second - clock, water_w, stand_w))
        if not found:
            return gain, stand_gain, Loads(np.zeros(0, dtype=np.intp), *np.zeros((3, 0)))
        return gain, stand_gain, Loads(*(np.concatenate(each) for each in zip(*found, strict=True)))

    def some(self, which: slice, cases: IntArray) -> tuple[IntArray, Array, Array, Array]:
        """Tank in its case, second of the day, and what is added to water and stand [W], of some switchings."""
        tank = (self.tank[which, None] * self.count + cases).ravel()
        side = self.side[cases]
        second = np.repeat(self.second[which], cases.size)
        return tank, second, self.water_w[which][:, side].ravel(), self.stand_w[which][:, side].ravel()
