"""Copies of one part of a fleet side by side, so that one run of the heat balance tells of many changes to it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from fleet.thermal.groups import batches
from fleet.values.fleet import Fleet


def part_of(fleet: Fleet, tanks: Collection[str], rooms: Collection[str] = ()) -> Fleet:
    """Everything that the heat balance of these tanks looks at: their groups, with rooms, devices and records.

    rooms: further rooms that are to be in it, with their own groups.
    """
    wanted = {*tanks, *(row.code for row in fleet.tanks if row.room in rooms)}
    codes = {code for batch in batches(fleet, wanted, 1) for code in batch}
    rooms = {*rooms, *(fleet.tank_by_code[code].room for code in codes)}
    devices = {row.device for row in fleet.duties if row.tank in codes}
    devices.update(row.device for row in fleet.placements if row.stand_of in codes or row.room in rooms)
    rooms.update(room for code in devices if (room := fleet.room_of(code)) is not None)
    subjects = codes | rooms | devices
    return Fleet(
        day=fleet.day,
        clients=fleet.clients,
        sites=fleet.sites,
        rooms=tuple(row for row in fleet.rooms if row.code in rooms),
        tanks=tuple(row for row in fleet.tanks if row.code in codes),
        loads=tuple(row for row in fleet.loads if row.tank in codes),
        animals=tuple(row for row in fleet.animals if row.tank in codes),
        devices=tuple(row for row in fleet.devices if row.code in devices),
        placements=tuple(row for row in fleet.placements if row.device in devices),
        duties=tuple(row for row in fleet.duties if row.tank in codes),
        equipment=tuple(row for row in fleet.equipment if row.tank in codes or subjects.intersection(row.serves)),
        history=tuple(row for row in fleet.history if row.subject in subjects),
        readings=tuple(row for row in fleet.readings if row.subject in subjects),
    )


def copy_code(code: str, number: int) -> str:
    """The code that a thing has in the copy of this number; its own in the first. No code on record holds a blank."""
    return f"{code} {number}" if number else code


def side_by_side(parts: Sequence[Fleet]) -> Fleet:
    """One fleet that holds every part under codes of its own; the sites are shared, since no heat passes by them."""
    copies = [_numbered(part, number) if number else part for number, part in enumerate(parts)]
    first = parts[0]
    return Fleet(
        day=first.day,
        clients=first.clients,
        sites=first.sites,
        rooms=tuple(row for copy in copies for row in copy.rooms),
        tanks=tuple(row for copy in copies for row in copy.tanks),
        loads=tuple(row for copy in copies for row in copy.loads),
        animals=tuple(row for copy in copies for row in copy.animals),
        devices=tuple(row for copy in copies for row in copy.devices),
        placements=tuple(row for copy in copies for row in copy.placements),
        duties=tuple(row for copy in copies for row in copy.duties),
        equipment=tuple(row for copy in copies for row in copy.equipment),
        history=tuple(row for copy in copies for row in copy.history),
        readings=tuple(row for copy in copies for row in copy.readings),
    )


def _numbered(part: Fleet, number: int) -> Fleet:
    def new(code: str) -> str:
        return copy_code(code, number)

    def maybe(code: str | None) -> str | None:
        return None if code is None else new(code)

    return replace(
        part,
        rooms=tuple(replace(row, code=new(row.code)) for row in part.rooms),
        tanks=tuple(replace(row, code=new(row.code), room=new(row.room)) for row in part.tanks),
        loads=tuple(replace(row, tank=new(row.tank)) for row in part.loads),
        animals=tuple(replace(row, tank=new(row.tank)) for row in part.animals),
        devices=tuple(replace(row, code=new(row.code)) for row in part.devices),
        placements=tuple(
            replace(row, device=new(row.device), room=maybe(row.room), stand_of=maybe(row.stand_of))
            for row in part.placements
        ),
        duties=tuple(replace(row, device=new(row.device), tank=new(row.tank)) for row in part.duties),
        equipment=tuple(
            replace(row, code=new(row.code), tank=maybe(row.tank), serves=tuple(new(code) for code in row.serves))
            for row in part.equipment
        ),
        history=tuple(replace(row, subject=new(row.subject)) for row in part.history),
        readings=tuple(replace(row, subject=new(row.subject)) for row in part.readings),
    )
