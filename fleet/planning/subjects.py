"""What can be worked on, what each thing belongs to, and for which of them a rule is meant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from fleet.values.catalogue import Selector, TaskRule
from fleet.values.fleet import Fleet
from fleet.values.register import ALWAYS
from fleet.values.vocabulary import ChangeKind, DeviceKind, EquipmentKind, SubjectKind, Where

NEEDS_THAT_ADMIT_STORED = frozenset({"in-store", "idle"})
"""A device in store gets only the tasks of rules that ask for one of these."""


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing on record, with what it belongs to.

    `tanks` are the tanks that it is, cools or serves, sorted; `serves` the codes that hang on a piece of equipment.
    `begun` is the first day on record, `in_use_since` the first day at work where it is; None where not known.
    `where` is None for a device of no known place.
    """

    code: str
    kind: SubjectKind
    client: str | None = None
    site: str | None = None
    room: str | None = None
    tanks: tuple[str, ...] = ()
    serves: tuple[str, ...] = ()
    device_kind: DeviceKind | None = None
    equipment_kind: EquipmentKind | None = None
    where: Where | None = None
    begun: date | None = None
    in_use_since: date | None = None

    @property
    def tank(self) -> str | None:
        return self.tanks[0] if self.tanks else None

    @property
    def device(self) -> str | None:
        return self.code if self.kind is SubjectKind.DEVICE else None

    @property
    def in_store(self) -> bool:
        return self.where is Where.STORE

    @property
    def out_of_use(self) -> bool:
        """Whether it is a device that stands nowhere and cools nothing."""
        return self.kind is SubjectKind.DEVICE and self.where is None

    @property
    def belongs_to(self) -> tuple[str, ...]:
        """Codes of the tanks, the room, the site and the client that it is part of, without itself."""
        above = (*self.tanks, *self.serves, self.room, self.site, self.client)
        return tuple(dict.fromkeys(code for code in above if code is not None and code != self.code))


VERSIONS = (ChangeKind.ROOM, ChangeKind.TANK, ChangeKind.PLATE)
"""Changes that are told by a later row for the same room, tank or device."""


def _known(day: date | None) -> date | None:
    return None if day is None or day == ALWAYS else day


class _Beginnings:
    """Since when things are on record. The first day of a later row for the same thing is no beginning."""

    def __init__(self, fleet: Fleet) -> None:
        self._fleet = fleet
        self._later_rows = {(change.subject, change.on) for change in fleet.changes if change.kind in VERSIONS}

    def of(self, code: str, since: date) -> date | None:
        return None if (code, since) in self._later_rows else _known(since)

    def in_use(self, device: str, begun: date | None) -> date | None:
        """The first day of its duties and its place; what is moved while its duty stays is not new there."""
        began = [duty.since for duty in self._fleet.duties_by_device.get(device, ())]
        placement = self._fleet.placement_by_device.get(device)
        if placement is not None and placement.where is not Where.STORE:
            began.append(placement.since)
        known = [day for day in (begun, _known(min(began, default=None))) if day is not None]
        return max(known, default=None)


class Subjects:
    """Every subject of a fleet, by code, by kind and by what it belongs to."""

    def __init__(self, fleet: Fleet) -> None:
        self.by_code: dict[str, Subject] = {one.code: one for one in _all_subjects(fleet)}
        self._by_kind: dict[SubjectKind, list[Subject]] = defaultdict(list)
        self._below: dict[str, list[Subject]] = defaultdict(list)
        for one in self.by_code.values():
            self._by_kind[one.kind].append(one)
            for code in one.belongs_to:
                self._below[code].append(one)

    def of_kind(self, kind: SubjectKind) -> Iterable[Subject]:
        return self._by_kind[kind]

    def below(self, code: str) -> Iterable[Subject]:
        """What belongs to the tank, room, site or client with this code."""
        return self._below.get(code, ())

    def might_suit(self, selector: Selector) -> Iterator[Subject]:
        """Subjects of the right kind and place; whether they meet the selector's needs is not asked."""
        admits_stored = not NEEDS_THAT_ADMIT_STORED.isdisjoint(selector.needs)
        for one in self._by_kind[selector.subject]:
            if selector.device_kinds and one.device_kind not in selector.device_kinds:
                continue
            if selector.equipment_kinds and one.equipment_kind not in selector.equipment_kinds:
                continue
            if selector.placed and one.where not in selector.placed:
                continue
            if one.out_of_use or (one.in_store and not admits_stored):
                continue
            yield one


def _all_subjects(fleet: Fleet) -> Iterator[Subject]:
    """Sorted within each kind, as the fleet is."""
    beginnings = _Beginnings(fleet)
    client_of = {site.code: site.client for site in fleet.sites}
    site_of_room = {room.code: room.site for room in fleet.rooms}
    for client in fleet.clients:
        yield Subject(client.code, SubjectKind.CLIENT, client.code)
    for site in fleet.sites:
        yield Subject(site.code, SubjectKind.SITE, site.client, site.code)
    for room in fleet.rooms:
        begun = beginnings.of(room.code, room.since)
        yield Subject(
            room.code, SubjectKind.ROOM, client_of.get(room.site), room.site, room.code,
            begun=begun, in_use_since=begun,
        )  # fmt: skip
    for tank in fleet.tanks:
        site_code = site_of_room.get(tank.room)
        client_code = client_of.get(site_code or "")
        begun = beginnings.of(tank.code, tank.since)
        yield Subject(
            tank.code, SubjectKind.TANK, client_code, site_code, tank.room, (tank.code,),
            begun=begun, in_use_since=begun,
        )  # fmt: skip
    for device in fleet.devices:
        yield _device_subject(fleet, device.code, client_of, beginnings)
    for item in fleet.equipment:
        site_code = fleet.site_of(item.code)
        served = set(fleet.tanks_of(item.code))
        for code in item.serves:
            served.update(duty.tank for duty in fleet.duties_by_device.get(code, ()))
        tank_row = fleet.tank_by_code.get(item.tank or "")
        yield Subject(
            item.code,
            SubjectKind.EQUIPMENT,
            client_of.get(site_code or ""),
            site_code,
            None if tank_row is None else tank_row.room,
            tuple(sorted(served & fleet.tank_by_code.keys())),
            tuple(sorted(item.serves)),
            equipment_kind=item.kind,
            begun=_known(item.installed),
            in_use_since=_known(item.installed),
        )
    for technician in fleet.technicians:
        yield Subject(technician.code, SubjectKind.TECHNICIAN)


def _device_subject(fleet: Fleet, code: str, client_of: dict[str, str], beginnings: _Beginnings) -> Subject:
    """A device without a placement stands beside the tank it has a duty on; without a duty it is out of use."""
    device = fleet.device_by_code[code]
    placement = fleet.placement_by_device.get(code)
    tanks = tuple(tank for tank in fleet.tanks_of(code) if tank in fleet.tank_by_code)
    if placement is not None:
        where: Where | None = placement.where
    else:
        where = Where.BESIDE_TANK if tanks else None
    site = fleet.site_of(code)
    begun = _known(device.installed) or beginnings.of(code, device.since)
    return Subject(
        code,
        SubjectKind.DEVICE,
        client_of.get(site or ""),
        site,
        fleet.room_of(code),
        tanks,
        device_kind=device.kind,
        where=where,
        begun=begun,
        in_use_since=beginnings.in_use(code, begun),
    )


def rules_not_on_record(rules: Iterable[TaskRule], subjects: Subjects) -> dict[str, tuple[str, ...]]:
    """For each site the ids of rules about a kind of device or equipment of which the site has none on record."""
    device_kinds: dict[str, set[DeviceKind]] = defaultdict(set)
    equipment_kinds: dict[str, set[EquipmentKind]] = defaultdict(set)
    for one in subjects.by_code.values():
        if one.site is not None and one.device_kind is not None:
            device_kinds[one.site].add(one.device_kind)
        if one.site is not None and one.equipment_kind is not None:
            equipment_kinds[one.site].add(one.equipment_kind)
    asked = sorted(
        (rule.id, rule.selector)
        for rule in rules
        if rule.selector.subject in (SubjectKind.DEVICE, SubjectKind.EQUIPMENT)
    )

    def absent(selector: Selector, site: str) -> bool:
        if selector.subject is SubjectKind.DEVICE:
            wanted_devices = set(selector.device_kinds or DeviceKind)
            return wanted_devices.isdisjoint(device_kinds[site])
        return set(selector.equipment_kinds or EquipmentKind).isdisjoint(equipment_kinds[site])

    return {
        site.code: tuple(rule_id for rule_id, selector in asked if absent(selector, site.code))
        for site in subjects.of_kind(SubjectKind.SITE)
    }
