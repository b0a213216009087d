"""Heat of the loads of a part of a fleet over a run, and which of them switch between two moments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.cases import Cases
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, SIDES, IntArray

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
        off = tanks.switchings
        bins = (off.second // BIN_S).astype(np.intp) % BINS
        rest = ((bins + 1) * BIN_S - off.second) / BIN_S
        tables, steps, added = [], [], []
        for means, watts in ((tanks.gain_w, off.water_w), (tanks.stand_gain_w, off.stand_w)):
            begins = np.moveaxis(means, -1, 0).copy()
            np.subtract.at(begins, (bins, off.tank), watts * rest[:, None])
            ends = begins.copy()
            np.add.at(ends, (bins, off.tank), watts)
            tables.append(begins.reshape(BINS, -1))
            steps.append(begins - np.roll(ends, 1, axis=0))
            added.append(watts)
        self.begins_w, self.stand_begins_w = tables
        bins, tank = np.nonzero((np.abs(steps[0]) + np.abs(steps[1])).max(axis=-1) > LEAST_W)
        second = np.concatenate((off.second, bins * float(BIN_S)))
        order = np.argsort(second, kind="stable")
        self.second, self.tank = second[order], np.concatenate((off.tank, tank))[order]
        self.water_w, self.stand_w = (
            np.concatenate((of_off, step[bins, tank]))[order] for of_off, step in zip(added, steps, strict=True)
        )
        self.place = (np.arange(size)[:, None] * SIDES + cases.side).ravel()

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
            gain, stand_gain = self.begins_w[bins, self.place], self.stand_begins_w[bins, self.place]
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
