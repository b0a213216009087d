"""Parts of a fleet small enough for the processor's cache, none of which a machine or a stand ties to another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from fleet.thermal.cases import Cases, Model
from fleet.thermal.devices import DeviceArrays
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BoolArray, IntArray, Switchings

T = TypeVar("T")
OWN_MACHINE, NO_MACHINE, TIED = 0, 1, 2


@dataclass(frozen=True)
class Part:
    """Some tanks of `cases` as cases of their own; the index arrays tell their places in the whole."""

    cases: Cases
    tanks: IntArray
    machines: IntArray
    links: IntArray
    fans: IntArray


def split(cases: Cases, size: int) -> list[Part]:
    """The tanks in parts of about `size`; tanks that share a machine or a stand with one stay together."""
    return list(each_part(cases, size))


def each_part(cases: Cases, size: int) -> Iterator[Part]:
    """As `split`, one after the other, so that none needs to be held while the next is followed."""
    label = groups(cases.model)
    order = np.argsort(label, kind="stable")
    first_of_group = np.flatnonzero(np.diff(label[order], prepend=-1))
    cuts: list[int] = []
    for begin, end in zip(first_of_group, [*first_of_group[1:], order.size], strict=True):
        if not cuts or (end - cuts[-1] > size and begin > cuts[-1]):
            cuts.append(int(begin))
    kind = kinds(cases.model)
    for some in np.split(order, cuts[1:]):
        yield part_of(cases, some[np.lexsort((some, kind[some]))])


def kinds(model: Model) -> IntArray:
    """OWN_MACHINE for tanks with a single machine, tied to nobody; NO_MACHINE for those without; TIED for the rest."""
    label = groups(model)
    machines = np.bincount(model.devices.links.tank, minlength=label.size)
    found = np.where(machines == 0, NO_MACHINE, OWN_MACHINE)
    found[(machines > 1) | (np.bincount(label, minlength=label.size)[label] > 1)] = TIED
    return found


def groups(model: Model) -> IntArray:
    """A number for each tank, the same for tanks that a machine or a stand ties together."""
    machines, links = model.devices.machines, model.devices.links
    in_stand = np.flatnonzero(machines.stand >= 0)
    machine = np.concatenate([links.machine, in_stand])
    tank = np.concatenate([links.tank, machines.stand[in_stand]])
    label = np.arange(len(model.tanks.codes))
    while True:
        lowest = np.full(len(machines.codes), label.size)
        np.minimum.at(lowest, machine, label[tank])
        joined = label.copy()
        np.minimum.at(joined, tank, lowest[machine])
        if np.array_equal(joined, label):
            return label
        label = joined


def _taken(rows: T, index: IntArray, **changed: Any) -> T:
    """A dataclass of arrays and tuples over the same items, of these items only."""
    picked: dict[str, Any] = {}
    places = index.tolist()
    for each in fields(rows):  # type: ignore[arg-type]
        value = getattr(rows, each.name)
        if each.name not in changed:
            picked[each.name] = (
                tuple(value[i] for i in places) if isinstance(value, tuple) else np.ascontiguousarray(value[index])
            )
    return replace(rows, **picked, **changed)  # type: ignore[type-var]


def _places(index: IntArray, size: int) -> IntArray:
    """Where each item of the whole stands in the part, -1 where it is not in it; the last place answers for -1."""
    places = np.full(size + 1, -1, dtype=np.intp)
    places[index] = np.arange(index.size)
    return places


def part_of(cases: Cases, tanks: IntArray) -> Part:
    """These tanks alone, in this order, which must be whole groups, with their rooms and devices.

    Links and machines come in the order of their tanks, so that where each tank has one machine of its own, tank,
    link and machine have the same place.
    """
    model = cases.model
    devices = model.devices
    tank_at = _places(tanks, len(model.tanks.codes))
    links = np.flatnonzero(tank_at[devices.links.tank] >= 0)
    links = links[np.argsort(tank_at[devices.links.tank[links]], kind="stable")]
    fans = np.flatnonzero(tank_at[devices.fans.tank] >= 0)
    inside: BoolArray = tank_at[devices.machines.stand] >= 0
    linked, first = np.unique(devices.links.machine[links], return_index=True)
    inside[linked] = False
    machines = np.concatenate([linked[np.argsort(first)], np.flatnonzero(inside)])
    machine_at = _places(machines, len(devices.machines.codes))
    rooms = np.unique(np.concatenate([model.tanks.room[tanks], devices.machines.room[machines]]))
    room_at = _places(rooms, len(model.rooms.codes))
    off_grid = model.tanks.switchings
    kept = np.flatnonzero(tank_at[off_grid.tank] >= 0)
    switchings: Switchings = _taken(off_grid, kept, tank=tank_at[off_grid.tank[kept]])
    part_devices = DeviceArrays(
        machines=_taken(
            devices.machines,
            machines,
            stand=tank_at[devices.machines.stand[machines]],
            room=room_at[devices.machines.room[machines]],
        ),
        links=_taken(
            devices.links,
            links,
            tank=tank_at[devices.links.tank[links]],
            machine=machine_at[devices.links.machine[links]],
        ),
        fans=_taken(devices.fans, fans, tank=tank_at[devices.fans.tank[fans]]),
        stand_flow_m3_h=devices.stand_flow_m3_h[tanks],
        stand_fans=tuple(
            (code, int(tank_at[tank]), flow) for code, tank, flow in devices.stand_fans if tank_at[tank] >= 0
        ),
        assumed=tuple(devices.assumed[i] for i in tanks),
    )
    part_tanks = _taken(model.tanks, tanks, room=room_at[model.tanks.room[tanks]], switchings=switchings)
    part_rooms = _taken(model.rooms, rooms)
    part_model: Model = _taken(model, tanks, tanks=part_tanks, rooms=part_rooms, devices=part_devices)

    def of_fans(values: Array) -> Array:
        return values[fans]

    part_cases = _taken(
        cases,
        tanks,
        model=part_model,
        side=cases.side,
        scenario=cases.scenario,
        fan_speed=of_fans(cases.fan_speed),
        fan_blown_m2=of_fans(cases.fan_blown_m2),
        fan_opened_m2=of_fans(cases.fan_opened_m2),
    )
    return Part(part_cases, tanks, machines, links, fans)
