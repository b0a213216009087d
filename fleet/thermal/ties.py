"""Which tank, machine and stand belongs to which, for all of a part of a fleet or for some groups of it.

Everything is flat: one place for each tank, link or machine in each case. Places come in this order: tanks that have
one machine to themselves, for which tank, link and machine have the same place, so that nothing is gathered or
scattered; tanks without a machine; and the few that a machine or a stand ties to one another, which go through index
arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from fleet.thermal.cases import Cases
from fleet.thermal.devices import FROM_STAND
from fleet.thermal.parts import NO_MACHINE, TIED, groups, kinds
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BoolArray, IntArray

NOWHERE = np.zeros(0, dtype=np.intp)


@dataclass(frozen=True)
class Ties:
    """Places of tanks, links and machines among each other.

    plain: how many places tanks, links and machines share; tank, machine [further link]: of the links after those;
    mixing [further link]: weight of the tank's water in what the machine cools; leader [further machine]: a tank on
    each machine after the plain ones. breathing, breathed: machines that breathe the air of a stand, and of which
    tank's; heating, heated: machines that warm one. group [tied tank]: the same number for tanks that are tied
    together; they are the last ones.
    """

    plain: int
    tanks: int
    machines: int
    tank: IntArray
    machine: IntArray
    mixing: Array
    leader: IntArray
    breathing: IntArray
    breathed: IntArray
    heating: IntArray
    heated: IntArray
    group: IntArray
    groups: int

    @property
    def links(self) -> int:
        return self.plain + self.tank.size

    @property
    def first_tied(self) -> int:
        return self.tanks - self.group.size

    def _of(self, values: Any, rest: IntArray) -> Any:
        if not rest.size:
            return values[: self.plain]
        return np.concatenate((values[: self.plain], values[rest]))

    def of_tanks(self, values: Any) -> Any:
        """The value of each link's tank; a view where it can be."""
        return self._of(values, self.tank)

    def of_machines(self, values: Any) -> Any:
        """The value of each link's machine; a view where it can be."""
        return self._of(values, self.machine)

    def at_machines(self, values: Any) -> Any:
        """The value of one of each machine's tanks, for what all of them have in common."""
        return self._of(values, self.leader)

    def mixed(self, values: Array) -> Array:
        """The mean over each machine's tanks, by what each adds to the water that runs through it."""
        if not self.leader.size:
            return values[: self.plain]
        rest = np.bincount(self.machine - self.plain, self.mixing * values[self.tank], self.leader.size)
        return np.concatenate((values[: self.plain], rest))

    def add_to_tanks(self, target: Array, values: Array) -> None:
        """Adds the value of each link to its tank."""
        target[: self.plain] += values[: self.plain]
        if self.tank.size:
            first = self.first_tied
            target[first:] += np.bincount(self.tank - first, values[self.plain :], self.group.size)

    def on_machines(self, values: Any) -> Array:
        """The sum over the links of each machine."""
        if not self.leader.size:
            return np.asarray(values[: self.plain], dtype=float)
        rest = np.bincount(self.machine - self.plain, values[self.plain :], self.leader.size)
        return np.concatenate((values[: self.plain], rest))

    def any_on_machines(self, values: BoolArray) -> BoolArray:
        """Whether it holds for any link of each machine."""
        if not self.leader.size:
            return values[: self.plain]
        rest = np.bincount(self.machine[values[self.plain :]] - self.plain, minlength=self.leader.size) > 0
        return np.concatenate((values[: self.plain], rest))

    def earliest(self, times: Array) -> None:
        """Lets tanks that are tied together have the earliest time of theirs."""
        if self.group.size:
            tied = times[self.first_tied :]
            found = np.full(self.groups, np.inf)
            np.minimum.at(found, self.group, tied)
            tied[:] = found[self.group]

    def earliest_of_links(self, times: Array, of_links: Array) -> None:
        """Lets tanks have the earliest time of their links, if that is earlier."""
        np.minimum(times[: self.plain], of_links[: self.plain], out=times[: self.plain])
        if self.tank.size:
            np.minimum.at(times, self.tank, of_links[self.plain :])

    def mark_tanks(self, some: BoolArray, machines: BoolArray) -> None:
        """Adds to some of the tanks those of some machines."""
        some[: self.plain] |= machines[: self.plain]
        some[self.tank[machines[self.machine]]] = True

    def mark_groups(self, some: BoolArray) -> None:
        """Adds to some of the tanks those that are tied to them."""
        if self.group.size:
            tied = some[self.first_tied :]
            if tied.any():
                tied[:] = (np.bincount(self.group[tied], minlength=self.groups) > 0)[self.group]


@dataclass(frozen=True)
class Some:
    """Some tanks, in rising order and in whole groups, with the places of their links and machines in the whole."""

    ties: Ties
    tanks: IntArray
    links: IntArray
    machines: IntArray


class AllTies:
    """The ties of a part of a fleet, and those of some of its tanks."""

    def __init__(self, cases: Cases, links_on: BoolArray, share: Array) -> None:
        """links_on [link, case]: what may run; share [link]: of its machine."""
        model = cases.model
        count = cases.open_m2.shape[1]
        machines, links = model.devices.machines, model.devices.links
        sort = kinds(model)
        self.plain, first_tied = (int(np.searchsorted(sort, kind)) * count for kind in (NO_MACHINE, TIED))
        size, machine_count = len(model.tanks.codes) * count, len(machines.codes) * count

        def flat(index: IntArray) -> IntArray:
            places: IntArray = (index[:, None] * count + np.arange(count)).ravel()
            return places

        tank, machine = flat(links.tank), flat(links.machine)
        weights = (share[:, None] * links_on).ravel()
        total = np.bincount(machine, weights, machine_count)
        self.idle: BoolArray = total <= 0.0
        mixing = weights / np.where(self.idle, 1.0, total)[machine]
        self.leader = np.zeros(machine_count, dtype=np.intp)
        self.leader[machine] = tank
        breathing = np.flatnonzero((machines.intake == FROM_STAND) & (machines.stand >= 0))
        heating = np.flatnonzero(machines.heats_stand & (machines.stand >= 0))
        label = groups(model)[first_tied // count :]
        _, group = np.unique(label, return_inverse=True)
        self.whole = Ties(
            plain=self.plain,
            tanks=size,
            machines=machine_count,
            tank=tank[self.plain :],
            machine=machine[self.plain :],
            mixing=mixing[self.plain :],
            leader=self.leader[self.plain :],
            breathing=flat(breathing),
            breathed=flat(machines.stand[breathing]),
            heating=flat(heating),
            heated=flat(machines.stand[heating]),
            group=flat(group),
            groups=int(group.max(initial=-1) + 1) * count,
        )
        self.place, self.machine_place, self.group_place = (
            np.zeros(count, dtype=np.intp) for count in (size, machine_count, self.whole.groups)
        )
        self.breathed, self.heated = (np.full(machine_count, -1) for _ in range(2))
        self.breathed[self.whole.breathing] = self.whole.breathed
        self.heated[self.whole.heating] = self.whole.heated

    @staticmethod
    def numbered(values: IntArray, place: IntArray) -> tuple[IntArray, IntArray]:
        """The values that occur, in rising order, and the number of each in them; `place` is scratch space."""
        found = np.flatnonzero(np.bincount(values, minlength=place.size))
        place[found] = np.arange(found.size)
        return found, place[values]

    @cached_property
    def in_stands(self) -> bool:
        return bool(self.whole.breathing.size or self.whole.heating.size)

    def some(self, tanks: IntArray) -> Some:
        """The ties of some tanks, in rising order and in whole groups."""
        whole = self.whole
        plain, first = np.searchsorted(tanks, (self.plain, whole.first_tied)).tolist()
        own = tanks[:plain]
        tank = machine = leader = group = NOWHERE
        links, machines, mixing, count = own, own, whole.mixing[:0], 0
        self.place[tanks] = np.arange(tanks.size)
        if first < tanks.size:
            chosen = np.zeros(whole.group.size, dtype=bool)
            chosen[tanks[first:] - whole.first_tied] = True
            further = np.flatnonzero(chosen[whole.tank - whole.first_tied])
            tank = self.place[whole.tank[further]]
            places, machine = self.numbered(whole.machine[further], self.machine_place)
            machine = machine + plain
            links, machines = np.concatenate((own, self.plain + further)), np.concatenate((own, places))
            mixing, leader = whole.mixing[further], self.place[self.leader[places]]
            numbers, group = self.numbered(whole.group[tanks[first:] - whole.first_tied], self.group_place)
            count = numbers.size
        breathing = breathed = heating = heated = NOWHERE
        if self.in_stands:
            stand = self.breathed[machines]
            breathing = np.flatnonzero(stand >= 0)
            breathed = self.place[stand[breathing]]
            stand = self.heated[machines]
            heating = np.flatnonzero(stand >= 0)
            heated = self.place[stand[heating]]
        ties = Ties(
            plain, tanks.size, machines.size, tank, machine, mixing, leader, breathing, breathed, heating, heated,
            group, count,
        )  # fmt: skip
        return Some(ties, tanks, links, machines)
