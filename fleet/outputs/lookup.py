"""Answers the questions that every page asks of a fleet: names, units, people to call, last readings, limits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol
from zoneinfo import ZoneInfo

from fleet.units import Display
from fleet.values.catalogue import AnimalClass, Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Task, Visit
from fleet.values.register import Contact, Reading, ServiceRecord, Tank
from fleet.values.vocabulary import ReadingQuantity


class _Named(Protocol):
    @property
    def name(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Band:
    """Temperature limits of a tank, °C, None where that side has none; `source` says whose they are."""

    watch_low_c: float | None
    watch_high_c: float | None
    act_low_c: float | None
    act_high_c: float | None
    source: str


@dataclass(frozen=True)
class Lookup:
    """A fleet and a catalogue with what is derived from both, worked out once."""

    fleet: Fleet
    catalogue: Catalogue

    def people(self, visit: Visit) -> str:
        """Who makes a visit: one, two, one with a second yet to be found, or nobody yet."""
        if visit.technician is None:
            return "nobody yet"
        if visit.second_technician is not None:
            return f"{self.name(visit.technician)} and {self.name(visit.second_technician)}"
        return self.name(visit.technician) + (", second to be found" if self.lacks_second(visit) else "")

    @staticmethod
    def lacks_second(visit: Visit) -> bool:
        """Whether it takes two people and has one."""
        return visit.persons > 1 and visit.technician is not None and visit.second_technician is None

    def name(self, code: str) -> str:
        """The name of whatever has this code, else the code itself."""
        fleet = self.fleet
        rows: Mapping[str, _Named]
        for rows in (
            fleet.tank_by_code,
            fleet.device_by_code,
            fleet.equipment_by_code,
            fleet.room_by_code,
            fleet.site_by_code,
            fleet.client_by_code,
            fleet.technician_by_code,
        ):
            if code in rows:
                return rows[code].name or code
        return code

    def label(self, code: str) -> str:
        """Name and code: Lobby reef (T-01). Only the code where they are the same or nothing is on record."""
        name = self.name(code)
        return code if name == code else f"{name} ({code})"

    def note(self, text: str | None) -> str:
        """Free text that somebody typed, as the reader of the page may have it."""
        return text or ""

    def zone(self, site: str | None) -> ZoneInfo:
        """The time zone of a site; UTC where no site is known."""
        row = self.fleet.site_by_code.get(site or "")
        return ZoneInfo(row.time_zone if row else "UTC")

    def display(self, site: str | None) -> Display:
        """The units of the client to whom the site belongs."""
        return self._display_by_site.get(site or "", Display(None))

    @cached_property
    def _display_by_site(self) -> dict[str, Display]:
        clients = self.fleet.client_by_code
        return {
            site.code: Display(clients[site.client].units if site.client in clients else None)
            for site in self.fleet.sites
        }

    @cached_property
    def contacts_by_site(self) -> dict[str, tuple[Contact, ...]]:
        """The people to call at each site, in their order."""
        groups: dict[str, list[Contact]] = defaultdict(list)
        for contact in self.fleet.contacts:
            groups[contact.site].append(contact)
        return {site: tuple(contacts) for site, contacts in groups.items()}

    @cached_property
    def _last_reading(self) -> dict[tuple[str, ReadingQuantity], Reading]:
        return {
            (reading.subject, reading.quantity): reading
            for readings in self.fleet.readings_by_subject.values()
            for reading in readings
        }

    def last_reading(self, subject: str, quantity: ReadingQuantity) -> Reading | None:
        """The latest reading of one quantity on a subject, None where there is none."""
        return self._last_reading.get((subject, quantity))

    def last_readings_of(self, subject: str) -> tuple[Reading, ...]:
        """The latest reading of each quantity on a subject, in the order of ReadingQuantity."""
        found = (self.last_reading(subject, quantity) for quantity in ReadingQuantity)
        return tuple(reading for reading in found if reading is not None)

    def reading_before(self, task: Task, quantity: ReadingQuantity) -> Reading | None:
        """The last reading to hold a new one against: of the task's subject, else of its device, tank or room."""
        for code in self.around(task):
            reading = self.last_reading(code, quantity)
            if reading is not None:
                return reading
        return None

    def around(self, task: Task) -> tuple[str, ...]:
        """The codes a task's readings may stand under, the nearest first."""
        tank = self.fleet.tank_by_code.get(task.tank or "")
        nearby = (task.subject, task.device, task.tank, tank.room if tank else None)
        return tuple(dict.fromkeys(code for code in nearby if code))

    @cached_property
    def _records(self) -> dict[tuple[str, str], list[ServiceRecord]]:
        groups: dict[tuple[str, str], list[ServiceRecord]] = defaultdict(list)
        for records in self.fleet.history_by_subject.values():
            for record in records:
                groups[record.subject, record.task].append(record)
        return groups

    def records(self, subject: str, rule: str) -> tuple[ServiceRecord, ...]:
        """The work of one kind done on a subject, latest first."""
        return tuple(reversed(self._records.get((subject, rule), [])))

    def title(self, rule: str) -> str:
        """The title of a catalogue task, or its id where the catalogue no longer has it."""
        row = self.catalogue.rule_by_id.get(rule)
        return rule if row is None else row.title

    @cached_property
    def tanks_by_site(self) -> dict[str, tuple[str, ...]]:
        """Codes of the tanks at each site, sorted."""
        groups: dict[str, list[str]] = defaultdict(list)
        for tank in self.fleet.tanks:
            site = self.fleet.site_of(tank.code)
            if site is not None:
                groups[site].append(tank.code)
        return {site: tuple(sorted(tanks)) for site, tanks in groups.items()}

    @cached_property
    def equipment_by_tank(self) -> dict[str, tuple[str, ...]]:
        """Codes of the equipment that belongs to or serves each tank, sorted."""
        groups: dict[str, set[str]] = defaultdict(set)
        for item in self.fleet.equipment:
            for tank in self.fleet.tanks_of(item.code):
                groups[tank].add(item.code)
        return {tank: tuple(sorted(items)) for tank, items in groups.items()}

    def band(self, tank: Tank) -> Band:
        """The tank's own limits; where it states none, the strictest of the classes of its animals."""
        classes = [
            self.catalogue.class_by_code[animals.animal_class]
            for animals in self.fleet.animals_by_tank.get(tank.code, ())
            if animals.animal_class in self.catalogue.class_by_code
        ]
        own = (tank.watch_low_c, tank.watch_high_c, tank.act_low_c, tank.act_high_c)
        of_animals = _strictest(classes)
        watch_low, watch_high, act_low, act_high = (
            mine if mine is not None else theirs for mine, theirs in zip(own, of_animals, strict=True)
        )
        return Band(watch_low, watch_high, act_low, act_high, _source(own, of_animals, classes))


def _strictest(classes: Iterable[AnimalClass]) -> tuple[float | None, float | None, float | None, float | None]:
    rows = tuple(classes)

    def highest(values: Iterable[float | None]) -> float | None:
        return max((value for value in values if value is not None), default=None)

    def lowest(values: Iterable[float | None]) -> float | None:
        return min((value for value in values if value is not None), default=None)

    return (
        highest(row.watch_low_c for row in rows),
        lowest(row.watch_high_c for row in rows),
        highest(row.act_low_c for row in rows),
        lowest(row.act_high_c for row in rows),
    )


def _source(own: tuple[float | None, ...], of_animals: tuple[float | None, ...], classes: Iterable[AnimalClass]) -> str:
    names = " and ".join(sorted({row.name for row in classes}))
    from_animals = any(mine is None and theirs is not None for mine, theirs in zip(own, of_animals, strict=True))
    if any(value is not None for value in own):
        return f"set for this tank, the rest from {names}" if from_animals else "set for this tank"
    return f"default for {names}" if from_animals else "not set"
