"""The fleet as it stands on one day, and how it comes out of the dated rows of a register."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Protocol, TypeVar

from fleet.values.changes import Change, find_changes
from fleet.values.register import (
    Absence,
    Animals,
    Client,
    Closure,
    Contact,
    Device,
    Duty,
    Equipment,
    Event,
    Load,
    Placement,
    Reading,
    RegisterRows,
    Room,
    ServiceRecord,
    Site,
    Tank,
    Technician,
)
from fleet.values.vocabulary import SubjectKind


@dataclass(frozen=True)
class Fleet:
    """Everything that holds on `day`: one row for each room, tank and device, and the facts in force.

    Absences, closures, events, history and readings are whole, past and future; `changes` is every change
    that `find_changes` finds in the rows, oldest first. Rows are sorted by their natural key.
    """

    day: date
    clients: tuple[Client, ...] = ()
    sites: tuple[Site, ...] = ()
    contacts: tuple[Contact, ...] = ()
    rooms: tuple[Room, ...] = ()
    tanks: tuple[Tank, ...] = ()
    loads: tuple[Load, ...] = ()
    animals: tuple[Animals, ...] = ()
    devices: tuple[Device, ...] = ()
    placements: tuple[Placement, ...] = ()
    duties: tuple[Duty, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    technicians: tuple[Technician, ...] = ()
    absences: tuple[Absence, ...] = ()
    closures: tuple[Closure, ...] = ()
    events: tuple[Event, ...] = ()
    history: tuple[ServiceRecord, ...] = ()
    readings: tuple[Reading, ...] = ()
    changes: tuple[Change, ...] = ()

    @cached_property
    def client_by_code(self) -> dict[str, Client]:
        return {row.code: row for row in self.clients}

    @cached_property
    def site_by_code(self) -> dict[str, Site]:
        return {row.code: row for row in self.sites}

    @cached_property
    def room_by_code(self) -> dict[str, Room]:
        return {row.code: row for row in self.rooms}

    @cached_property
    def tank_by_code(self) -> dict[str, Tank]:
        return {row.code: row for row in self.tanks}

    @cached_property
    def device_by_code(self) -> dict[str, Device]:
        return {row.code: row for row in self.devices}

    @cached_property
    def equipment_by_code(self) -> dict[str, Equipment]:
        return {row.code: row for row in self.equipment}

    @cached_property
    def technician_by_code(self) -> dict[str, Technician]:
        return {row.code: row for row in self.technicians}

    @cached_property
    def placement_by_device(self) -> dict[str, Placement]:
        return {row.device: row for row in self.placements}

    @cached_property
    def loads_by_tank(self) -> dict[str, tuple[Load, ...]]:
        return _grouped(self.loads, [row.tank for row in self.loads])

    @cached_property
    def animals_by_tank(self) -> dict[str, tuple[Animals, ...]]:
        return _grouped(self.animals, [row.tank for row in self.animals])

    @cached_property
    def duties_by_tank(self) -> dict[str, tuple[Duty, ...]]:
        return _grouped(self.duties, [row.tank for row in self.duties])

    @cached_property
    def duties_by_device(self) -> dict[str, tuple[Duty, ...]]:
        return _grouped(self.duties, [row.device for row in self.duties])

    @cached_property
    def history_by_subject(self) -> dict[str, tuple[ServiceRecord, ...]]:
        """Oldest first."""
        rows = sorted(self.history, key=lambda row: (row.done_on, row.task))
        return _grouped(rows, [row.subject for row in rows])

    @cached_property
    def readings_by_subject(self) -> dict[str, tuple[Reading, ...]]:
        """Oldest first."""
        rows = sorted(self.readings, key=lambda row: (row.taken_at, row.quantity))
        return _grouped(rows, [row.subject for row in rows])

    @cached_property
    def kind_by_code(self) -> dict[str, SubjectKind]:
        """What each code on record on this day stands for."""
        kinds: dict[str, SubjectKind] = {}
        for kind, rows in (
            (SubjectKind.CLIENT, self.clients),
            (SubjectKind.SITE, self.sites),
            (SubjectKind.ROOM, self.rooms),
            (SubjectKind.TANK, self.tanks),
            (SubjectKind.DEVICE, self.devices),
            (SubjectKind.EQUIPMENT, self.equipment),
            (SubjectKind.TECHNICIAN, self.technicians),
        ):
            kinds.update((row.code, kind) for row in rows)
        return kinds

    def room_of(self, device: str) -> str | None:
        """Code of the room in which a device stands: its placement's own, else that of the stand's tank, else
        that of the first tank it has a duty on. None where nothing tells."""
        placement = self.placement_by_device.get(device)
        if placement is not None and placement.room is not None:
            return placement.room
        if placement is not None and placement.stand_of in self.tank_by_code:
            return self.tank_by_code[placement.stand_of].room
        for duty in self.duties_by_device.get(device, ()):
            if duty.tank in self.tank_by_code:
                return self.tank_by_code[duty.tank].room
        return None

    def site_of(self, code: str) -> str | None:
        """Code of the site to which a site, room, tank, device or piece of equipment belongs. None: to none."""
        kind = self.kind_by_code.get(code)
        if kind is SubjectKind.SITE:
            return code
        if kind is SubjectKind.ROOM:
            return self.room_by_code[code].site
        if kind is SubjectKind.TANK:
            return self.site_of(self.tank_by_code[code].room)
        if kind is SubjectKind.DEVICE:
            room = self.room_of(code)
            return None if room is None else self.site_of(room)
        if kind is SubjectKind.EQUIPMENT:
            item = self.equipment_by_code[code]
            return item.site if item.site is not None else (self.site_of(item.tank) if item.tank else None)
        return None

    def tanks_of(self, code: str) -> tuple[str, ...]:
        """Codes of the tanks that a subject concerns, sorted: its own, those it cools, those of its room or site."""
        kind = self.kind_by_code.get(code)
        if kind is SubjectKind.TANK:
            return (code,)
        if kind is SubjectKind.DEVICE:
            return tuple(sorted({duty.tank for duty in self.duties_by_device.get(code, ())}))
        if kind is SubjectKind.EQUIPMENT:
            item = self.equipment_by_code[code]
            own = {item.tank} if item.tank else set()
            own.update(served for served in item.serves if served in self.tank_by_code)
            return tuple(sorted(own))
        if kind is SubjectKind.ROOM:
            return tuple(sorted(tank.code for tank in self.tanks if tank.room == code))
        if kind is SubjectKind.SITE:
            return tuple(sorted(tank.code for tank in self.tanks if self.site_of(tank.code) == code))
        return ()


Row = TypeVar("Row")


def _grouped(rows: Sequence[Row], keys: Sequence[str]) -> dict[str, tuple[Row, ...]]:
    groups: dict[str, list[Row]] = defaultdict(list)
    for row, key in zip(rows, keys, strict=True):
        groups[key].append(row)
    return {key: tuple(group) for key, group in groups.items()}


class _Dated(Protocol):
    @property
    def since(self) -> date: ...


class _Versioned(_Dated, Protocol):
    @property
    def code(self) -> str: ...


class _Spanned(_Dated, Protocol):
    @property
    def until(self) -> date | None: ...


V = TypeVar("V", bound=_Versioned)
S = TypeVar("S", bound=_Spanned)


def _versions(rows: Iterable[V]) -> dict[str, list[V]]:
    """The rows of each code, oldest first."""
    versions: dict[str, list[V]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row.code, row.since)):
        versions[row.code].append(row)
    return versions


def _standing(rows: Iterable[V], day: date) -> tuple[V, ...]:
    """For each code the latest row whose `since` is on or before `day`; codes that begin later are left out."""
    standing = []
    for versions in _versions(rows).values():
        begun = [row for row in versions if row.since <= day]
        if begun:
            standing.append(begun[-1])
    return tuple(standing)


def holds_on(since: date, until: date | None, day: date) -> bool:
    """Whether a half-open span [since, until) contains `day`."""
    return since <= day and (until is None or day < until)


def _in_force(rows: Iterable[S], day: date) -> tuple[S, ...]:
    return tuple(row for row in rows if holds_on(row.since, row.until, day))


def snapshot(rows: RegisterRows, day: date) -> Fleet:
    """The fleet on `day`. Of two placements of one device that both hold, the later counts."""
    placements = {
        row.device: row for row in sorted(_in_force(rows.placements, day), key=lambda row: (row.device, row.since))
    }
    return Fleet(
        day=day,
        clients=tuple(sorted(rows.clients, key=lambda row: row.code)),
        sites=tuple(sorted(rows.sites, key=lambda row: row.code)),
        contacts=tuple(sorted(rows.contacts, key=lambda row: (row.site, row.order or 99, row.role, row.name))),
        rooms=_standing(rows.rooms, day),
        tanks=_standing(rows.tanks, day),
        loads=tuple(sorted(_in_force(rows.loads, day), key=lambda row: (row.tank, row.name, row.since))),
        animals=tuple(sorted(_in_force(rows.animals, day), key=lambda row: (row.tank, row.group, row.since))),
        devices=_standing(rows.devices, day),
        placements=tuple(placements.values()),
        duties=tuple(sorted(_in_force(rows.duties, day), key=lambda row: (row.device, row.tank, row.since))),
        equipment=tuple(sorted(rows.equipment, key=lambda row: row.code)),
        technicians=tuple(sorted(rows.technicians, key=lambda row: row.code)),
        absences=tuple(sorted(rows.absences, key=lambda row: (row.technician, row.since))),
        closures=tuple(sorted(rows.closures, key=lambda row: (row.site, row.since))),
        events=tuple(sorted(rows.events, key=lambda row: (row.on, row.subject, row.event))),
        history=tuple(sorted(rows.history, key=lambda row: (row.done_on, row.subject, row.task))),
        readings=tuple(sorted(rows.readings, key=lambda row: (row.taken_at, row.subject, row.quantity))),
        changes=find_changes(rows),
    )
