"""Where the tanks and machines of a part of a fleet are at a moment, and what they have done so far."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BoolArray
from fleet.thermal.ties import Some

OF_TANKS = ("water_c", "stand_c", "calling", "peak_c", "lowest_c", "rise_k_s")
OF_LINKS = ("part", "link_on", "share")
OF_MACHINES = ("on", "ran", "waiting", "out_of_use", "ready_s", "rest_s", "starts")


@dataclass
class State:
    """Flat arrays, as in ties.py.

    Of tanks: water and stand [°C], whether the thermostat calls, extremes of the water [°C], and how fast it moved last
    [K/s]. Of links: the part of its machine's output that each takes now, whether it may run, and its share. Of
    machines: whether they run, did so before, wait for the end of their rest, have tripped or cannot be used; when
    they have rested enough and how long that takes [s]; their starts.
    """

    water_c: Array
    stand_c: Array
    calling: BoolArray
    peak_c: Array
    lowest_c: Array
    rise_k_s: Array
    part: Array
    link_on: BoolArray
    share: Array
    on: BoolArray
    ran: BoolArray
    waiting: BoolArray
    out_of_use: BoolArray
    ready_s: Array
    rest_s: Array
    starts: Array

    def take(self, some: Some) -> State:
        """A copy for some tanks."""
        picked = {}
        for names, places in ((OF_TANKS, some.tanks), (OF_LINKS, some.links), (OF_MACHINES, some.machines)):
            picked.update({name: getattr(self, name).take(places) for name in names})
        return State(**picked)

    def put(self, some: Some, state: State) -> None:
        """Takes over the state of some tanks."""
        for names, places in ((OF_TANKS, some.tanks), (OF_LINKS, some.links), (OF_MACHINES, some.machines)):
            for name in names:
                getattr(self, name)[places] = getattr(state, name)


@dataclass
class Sums:
    """What is summed up, times seconds: [row, tank] water, thermostat calling, cooling and heating [W]; [row, machine]
    running and power [W]."""

    of_tanks: Array
    of_machines: Array

    @classmethod
    def zeros(cls, tanks: int, machines: int) -> Sums:
        """Nothing yet."""
        return cls(np.zeros((4, tanks)), np.zeros((2, machines)))
