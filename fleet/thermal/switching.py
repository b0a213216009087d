"""Groups of tanks in which something switches between two readings: from one switch to the next.

A thermostat at the end of its band, a load that goes on or off, a compressor that has rested enough, a machine that
trips: each pass takes every group that is not at the end of the interval to the first of these, together, and lets
the next pass go on with what is left.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleet.thermal.loads import TOGETHER_S, Loads
from fleet.thermal.machinery import settle
from fleet.thermal.motion import LEAST, Features, Motion, OfTank, Reached
from fleet.thermal.ranges import Array
from fleet.thermal.state import State, Sums
from fleet.thermal.tanks import BoolArray, IntArray
from fleet.thermal.ties import AllTies

CLOSE_ENOUGH_S = 0.5
"""Instants of switches are sought until a step of the search is shorter; the next would be shorter by a hundred."""
MOST_TRIES = 8
GATHER_AGAIN_BELOW = 0.5
"""Groups at the end of the interval are let go of once fewer than this share are left."""


@dataclass(frozen=True)
class Stretch:
    """What some tanks did from `begin_s` [tank] since the begin of the interval; `cooled_j` in the interval before."""

    tanks: IntArray
    begin_s: Array
    motion: Motion
    reached: Reached
    cooled_j: Array


@dataclass(frozen=True)
class Interval:
    """When an interval begins since the start of the run and how long it is [s], the tables of tanks and machines for
    it, and the loads that switch inside it."""

    begin_s: float
    seconds: float
    tanks: Array
    machines: Array
    loads: Loads


class Switching:
    """Some tanks, in rising order and in whole groups, followed through one interval from its begin."""

    def __init__(
        self,
        has: Features,
        ties: AllTies,
        interval: Interval,
        state: State,
        sums: Sums,
        told: Callable[[Stretch], None] | None,
    ) -> None:
        """Changes state and sums, which for these tanks must still be those of the begin. `told` is told of the
        stretches but for the first, in which a tank does what it would do if nothing switched."""
        self.has, self.all_ties, self.interval = has, ties, interval
        self.whole_state, self.whole_sums, self.told = state, sums, told
        self.switched = False

    def run(self, tanks: IntArray) -> None:
        """To the end of the interval."""
        self.gather(tanks, np.zeros(tanks.size))
        while True:
            self.one_pass()
            left = self.now < self.interval.seconds - TOGETHER_S
            count = np.count_nonzero(left)
            if count < GATHER_AGAIN_BELOW * left.size:
                some = self.some
                self.whole_state.put(some, self.state)
                self.whole_sums.of_tanks[:, some.tanks] = self.sums.of_tanks
                if self.has.machines:
                    self.whole_sums.of_machines[:, some.machines] = self.sums.of_machines
                if not count:
                    return
                self.gather(some.tanks[left], self.now[left])

    def gather(self, tanks: IntArray, now: Array) -> None:
        """Takes these tanks as those that are followed."""
        self.some = some = self.all_ties.some(tanks)
        self.ties, self.now = some.ties, now
        self.tanks = self.interval.tanks.take(tanks, axis=1)
        self.machines = self.interval.machines.take(some.machines, axis=1)
        self.state = self.whole_state.take(some)
        of_machines = self.whole_sums.of_machines.take(some.machines, axis=1) if self.has.machines else np.zeros((2, 0))
        self.sums = Sums(self.whole_sums.of_tanks.take(tanks, axis=1), of_machines)
        loads = self.interval.loads
        self.load_at = np.searchsorted(tanks, loads.tank)
        self.load_at[self.load_at == tanks.size] = 0
        mine = tanks[self.load_at] == loads.tank
        later = loads.seconds > now[self.load_at] + TOGETHER_S
        self.pending: BoolArray = mine & later
        self.add_loads(mine & ~later)

    def add_loads(self, which: BoolArray) -> None:
        """Adds what these loads give from their switching on."""
        if which.any():
            loads, place = self.interval.loads, self.load_at[which]
            np.add.at(self.tanks[OfTank.CONSTANT], place, loads.water_w[which])
            np.add.at(self.tanks[OfTank.STAND_CONSTANT], place, loads.stand_w[which])

    def one_pass(self) -> None:
        """From now to the next switch of each group."""
        has, ties, state, sums = self.has, self.ties, self.state, self.sums
        motion = Motion(has, ties, self.tanks, self.machines, state, self.now)
        tripped = False
        if has.machines:
            trips = state.on & (motion.over_k > 0.0)
            tripped = bool(trips.any())
            if tripped:
                state.out_of_use |= trips
                settle(ties, state, ties.at_machines(self.now) + self.interval.begin_s)
                motion = Motion(has, ties, self.tanks, self.machines, state, self.now)
            state.starts += state.on > state.ran
            state.ran = state.on
        reached, switches, trips = self.first_switch(motion, self.next_known() - self.now)
        seconds = reached.seconds
        assert isinstance(seconds, np.ndarray)
        if self.told is not None and (self.switched or tripped):
            self.told(Stretch(self.some.tanks, self.now, motion, reached, sums.of_tanks[2].copy()))
        self.switched = True
        sums.of_tanks[0] += motion.mean_water(reached) * seconds
        sums.of_tanks[1] += state.calling * seconds
        sums.of_tanks[2] += reached.cooling_w * seconds
        if has.heaters:
            sums.of_tanks[3] += reached.heating_w * seconds
        state.water_c, state.stand_c = reached.water_c, reached.stand_c
        np.copyto(state.rise_k_s, motion.rate_k_s, where=seconds > 0.0)
        np.maximum(state.peak_c, reached.water_c, out=state.peak_c)
        np.minimum(state.lowest_c, reached.water_c, out=state.lowest_c)
        state.calling = state.calling ^ switches
        self.now = self.now + seconds
        if has.machines:
            of_machines = ties.at_machines(seconds)
            sums.of_machines[0] += state.on * of_machines
            sums.of_machines[1] += motion.mean_power(reached) * of_machines
            state.out_of_use |= trips
            settle(ties, state, ties.at_machines(self.now) + self.interval.begin_s)
        if self.pending.any():
            due = self.pending & (self.interval.loads.seconds <= self.now[self.load_at] + TOGETHER_S)
            self.add_loads(due)
            self.pending &= ~due

    def next_known(self) -> Array:
        """When the next switch comes whose time is known, the end of the interval if none."""
        until = np.full(self.now.size, self.interval.seconds)
        if self.pending.any():
            np.minimum.at(until, self.load_at[self.pending], self.interval.loads.seconds[self.pending])
        if self.has.machines and self.state.waiting.any():
            ready = np.where(self.state.waiting, self.state.ready_s - self.interval.begin_s, np.inf)
            self.ties.earliest_of_links(until, self.ties.of_machines(ready))
        self.ties.earliest(until)
        np.maximum(until, self.now, out=until)
        return until

    def first_switch(self, motion: Motion, most: Array) -> tuple[Reached, BoolArray, BoolArray]:
        """Where each group is at its first switch by itself within a time; which thermostats and machines do it."""
        ties, water = motion.ties, motion.water_c
        level = np.where(motion.calling, motion.tanks[OfTank.LOW], motion.tanks[OfTank.HIGH])
        sign: Array = np.where(motion.calling, -1.0, 1.0)
        lacking = level - water
        gap = sign * lacking
        begun = gap <= 0.0
        reached = motion.at(most)
        crosses = sign * (reached.water_c - level) >= 0.0
        crosses |= begun
        first = motion.rate_k_s * most
        turns = (sign * first > gap) > crosses
        if turns.any():
            reached, most = self.to_the_turn(motion, most, turns, sign, lacking, reached)
            crosses = sign * (reached.water_c - level) >= 0.0
            crosses |= begun
            first = motion.rate_k_s * most
        over = motion.over_at(reached) if self.has.machines else np.zeros(0)
        trips = motion.on & (over > 0.0)
        tripping = bool(trips.any())
        if not tripping and not crosses.any():
            return reached, crosses, trips

        bend = reached.free_c - water
        bend -= first
        root = np.sqrt(np.maximum(first * first + 4.0 * bend * lacking, 0.0))
        share = 2.0 * lacking / (first + sign * (root + LEAST))
        share = np.minimum(np.maximum(share, 0.0), 1.0)
        wanted = np.where(crosses, share * most, most)
        wanted[begun] = 0.0
        trip_s = np.full(ties.machines, np.inf)
        if tripping:
            before = np.minimum(motion.over_k, 0.0)
            trip_s[trips] = (ties.at_machines(most) * before / np.minimum(before - over, -LEAST))[trips]
            ties.earliest_of_links(wanted, ties.of_machines(trip_s))
        seconds = wanted
        ties.earliest(seconds)
        pace = 2.0 * bend / np.maximum(most, LEAST)
        for _ in range(MOST_TRIES):
            reached = motion.at(seconds)
            rate = (first + pace * seconds) / np.maximum(most, LEAST)
            miss = (level - reached.water_c) / np.where(np.abs(rate) > LEAST, rate, np.inf)
            cross_s = np.where(crosses, np.minimum(np.maximum(seconds + miss, 0.0), most), most)
            cross_s[begun] = 0.0
            time = cross_s.copy()
            if tripping:
                trip_s = trip_times(motion, reached, trips)
                ties.earliest_of_links(time, ties.of_machines(trip_s))
            ties.earliest(time)
            off = time - seconds
            far = np.abs(off) >= CLOSE_ENOUGH_S
            if not far.any():
                break
            seconds = np.where(far, time, seconds)
        reached.seconds = time
        reached.water_c = reached.water_c + rate * off
        if tripping:
            trips &= trip_s <= ties.at_machines(time) + TOGETHER_S
        switches = crosses & (cross_s <= time + TOGETHER_S)
        np.copyto(reached.water_c, level, where=switches & ~begun)
        return reached, switches, trips

    @staticmethod
    def to_the_turn(
        motion: Motion, most: Array, turns: BoolArray, sign: Array, lacking: Array, reached: Reached
    ) -> tuple[Reached, Array]:
        """Ends the time at the turn of waters that would pass their level and come back within it."""
        first = motion.rate_k_s * most
        bend = reached.free_c - motion.water_c - first
        share = sign * first / np.maximum(-2.0 * sign * bend, LEAST)
        turn = np.where(turns & (share < 1.0), share * most, most)
        motion.ties.earliest(turn)
        found = motion.at(turn)
        passes = turns & (sign * (found.water_c - motion.water_c - lacking) >= 0.0)
        if not passes.any():
            return reached, most
        shorter = np.where(passes, turn, most)
        motion.ties.earliest(shorter)
        return motion.at(shorter), shorter


def trip_times(motion: Motion, reached: Reached, trips: BoolArray) -> Array:
    """When machines that trip do so, by the slope where they have come; [machine], inf for others. [s]"""
    slope = motion.over_rates(reached, *motion.end_rates(reached))
    time = motion.ties.at_machines(reached.seconds) - motion.over_at(reached) / np.where(
        np.abs(slope) > LEAST, slope, np.inf
    )
    return np.where(trips, np.maximum(time, 0.0), np.inf)
