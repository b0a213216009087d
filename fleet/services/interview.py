"""The questions with which a register begins, and the rows that the answers make.

Every answer is checked as the cell it becomes. The last tank's answers are the defaults of the next, and "like the one
before" takes all of them, so that many tanks take little time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any, Protocol

from fleet.errors import BadInput
from fleet.files.answers import check_answer, read_plate, read_size
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import row_from_cells
from fleet.services.context import words_of
from fleet.values.register import CODED, NATURAL_KEYS, RegisterRows
from fleet.values.vocabulary import ClientKind, DeviceKind, Lid, Skill, SubjectKind, TankKind, UnitSystem, Where

NONE = ("none", "0", "no", "")
"""Answers that mean that there is nothing of the kind."""
COOLING = ("none", DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC, DeviceKind.SURFACE_FAN)
STANDING = (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)
"""Devices with a plate that says what they cool, and a place of their own to stand in."""
STANDS = (Where.BESIDE_TANK, Where.IN_STAND, Where.IN_STAND_VENTED, Where.OTHER_ROOM, Where.OUTDOORS)
LONGEST_CODE = 24
LONGEST_NAME = 200
UNUSED_CODE = "_"
"""Stands for a code that is yet to be made; none is ever made like it."""
SOUTHERN = ("Australia/", "Pacific/Auckland", "America/Argentina", "America/Sao_Paulo", "Africa/Johannesburg")
"""Where the hot season that is offered as a default is that of the southern summer."""


class Asker(Protocol):
    """Whoever puts the questions to a person."""

    def ask(self, question: str, default: str, check: Callable[[str], object]) -> str:
        """The answer, without blanks at its ends; asked again as long as `check` raises ValueError."""

    def yes(self, question: str, default: bool) -> bool:
        """Yes or no."""

    def say(self, text: str) -> None:
        """Tells where in the questions one is."""


@dataclass
class _TankAnswers:
    """What was said of one tank, as it was typed."""

    kind: str
    size: str
    target: str
    lid: str
    lights: str
    hours: str
    pumps: str
    heater: bool
    cooling: str
    plate: str
    where: str


def _first_tank(units: UnitSystem) -> _TankAnswers:
    us = units is UnitSystem.US
    return _TankAnswers(
        kind=TankKind.TROPICAL_FRESH,
        size="36 x 18 x 16 in" if us else "90 x 45 x 40 cm",
        target="78 F" if us else "25.5 C",
        lid=Lid.LOOSE,
        lights="30 W",
        hours="9",
        pumps="10 W",
        heater=True,
        cooling="none",
        plate="",
        where=Where.BESIDE_TANK,
    )


TARGETS = {
    TankKind.TROPICAL_FRESH: ("78 F", "25.5 C"),
    TankKind.TROPICAL_MARINE: ("78 F", "25.5 C"),
    TankKind.REEF: ("78 F", "25.5 C"),
    TankKind.COLD_FRESH: ("66 F", "19 C"),
    TankKind.COLD_MARINE: ("56 F", "13 C"),
}
"""Offered as a default until somebody says otherwise: common practice, in both systems of units."""


class Interview:
    """Puts the questions of one beginning and keeps the answers. `today` is the first day of what changes with time."""

    def __init__(self, asker: Asker, time_zone: str, today: date) -> None:
        self.asker, self.time_zone, self.today = asker, time_zone, today.isoformat()
        self.units = UnitSystem.US if time_zone.startswith("America/") else UnitSystem.METRIC
        self.cells: list[tuple[str, dict[str, str]]] = []
        self.codes: dict[str, SubjectKind] = {}
        self.last: _TankAnswers | None = None

    def home(self) -> None:
        self.asker.say("Where the tanks are. Enter takes what stands in brackets.")
        name = self._ask("What shall the place be called?", "Home", "sites", "name")
        zone = self._ask("Time zone", self.time_zone, "sites", "time_zone")
        self._ask_units()
        client = self._add("clients", "", "OWNER", name=name, kind=ClientKind.HOME, units=self.units)
        place = {"client": client, "name": name, "time_zone": zone}
        cells = self._until_sound("sites", lambda: {**place, **self._hot_season(zone)})
        self._rooms(self._add("sites", name, "HOME", **cells))

    def company(self) -> None:
        zone = self.time_zone
        while True:
            self.asker.say("A client.")
            name = self._ask("Client's name", "", "clients", "name")
            kind = self._choose("Kind", ClientKind.COMPANY, ClientKind)
            self._ask_units()
            client = self._add("clients", name, "CLIENT", name=name, kind=kind, units=self.units)
            while True:
                self.asker.say(f"A site of {name}.")
                cells = self._until_sound("sites", partial(self._site, client, name, zone))
                zone, called = cells["time_zone"], cells["name"]
                self._rooms(self._add("sites", called if called != name else f"{called} 1", "SITE", **cells))
                if not self.asker.yes(f"Another site of {name}?", False):
                    break
            if not self.asker.yes("Another client?", False):
                break
        self._technicians()

    def _site(self, client: str, name: str, zone: str) -> dict[str, str]:
        called = self._ask("Site's name", name, "sites", "name")
        there = self._ask("Time zone", zone, "sites", "time_zone")
        return {
            "client": client,
            "name": called,
            "time_zone": there,
            "address": self._ask("Address (empty: not known)", "", "sites", "address"),
            "visit_days": self._ask("Days on which visits are welcome", "Mon-Fri", "sites", "visit_days"),
            "visit_from": self._ask("From", "08:00", "sites", "visit_from"),
            "visit_to": self._ask("To", "17:00", "sites", "visit_to"),
            **self._hot_season(there),
        }

    def _technician(self) -> dict[str, str]:
        skills = f"Skills ({', '.join(Skill)}; several with ;)"
        return {
            "name": self._ask("Name", "", "technicians", "name"),
            "skills": self._ask(skills, Skill.TECHNICIAN, "technicians", "skills"),
            "work_days": self._ask("Days of work", "Mon-Fri", "technicians", "work_days"),
            "work_from": self._ask("From", "08:00", "technicians", "work_from"),
            "work_to": self._ask("To", "17:00", "technicians", "work_to"),
        }

    def _until_sound(self, file: str, questions: Callable[[], dict[str, str]]) -> dict[str, str]:
        """The answers to some questions, all of them put again where the answers do not go together."""
        while True:
            cells = questions()
            try:
                row_from_cells(file, {"code": UNUSED_CODE, **cells}, self.codes)
            except BadInput as refused:
                for fault in refused.errors:
                    self.asker.say(f"{fault.column} {fault.value!r}: expected {fault.expected}. Once more.")
            else:
                return cells

    def _technicians(self) -> None:
        while True:
            self.asker.say("A technician.")
            cells = self._until_sound("technicians", self._technician)
            self._add("technicians", cells["name"], "TECH", **cells)
            if not self.asker.yes("Another technician?", False):
                return

    def _ask_units(self) -> None:
        self.units = UnitSystem(self._choose("Units on cards and sheets", self.units, UnitSystem))

    def _hot_season(self, zone: str) -> dict[str, str]:
        southern = zone.startswith(SOUTHERN)
        first = self._ask(
            "Hot season, first day (MM-DD; none where there is none)", "12-01" if southern else "06-01",
            "sites", "hot_season_start", may_be_none=True,
        )  # fmt: skip
        if not first:
            return {}
        last = self._ask("Hot season, last day", "03-15" if southern else "09-15", "sites", "hot_season_end")
        return {"hot_season_start": first, "hot_season_end": last}

    def _rooms(self, site: str) -> None:
        while True:
            self.asker.say("A room.")
            us = self.units is UnitSystem.US
            name = self._ask("Room's name", "Fish room", "rooms", "name")
            cooled = self.asker.yes("Is it air-conditioned?", True)
            mean = self._ask(
                "How warm is it on the hottest day, on average over day and night", "76 F" if us else "24.5 C",
                "rooms", "hot_day_mean",
            )  # fmt: skip
            off = ""
            if cooled:
                off = self._ask("And with the A/C out of order (empty: not known)", "", "rooms", "ac_off_mean")
            room = self._add(
                "rooms", name, "ROOM", site=site, name=name, air_conditioned="yes" if cooled else "no",
                hot_day_mean=mean, ac_off_mean=off,
            )  # fmt: skip
            tanks = self._tanks(room)
            if self.asker.yes("Are their outlets protected by a GFCI/RCD with a test button?", True):
                self._add(
                    "equipment", f"GFCI {name}", "GFCI", kind="gfci", site=site, serves=";".join(tanks),
                    name=_cut(f"Protected outlets, {name}"),
                )  # fmt: skip
            if not self.asker.yes("Another room here?", False):
                return

    def _tanks(self, room: str) -> list[str]:
        tanks: list[str] = []
        while True:
            number = 1 + sum(file == "tanks" for file, _ in self.cells)
            self.asker.say(f"Tank {number}.")
            name = self._ask("Name", f"Tank {number}", "tanks", "name")
            if self.last is None or not self.asker.yes(
                "Like the one before (same size, lights, pumps, cooling)?", True
            ):
                self.last = self._tank_answers(self.last or _first_tank(self.units))
            tanks.append(self._add_tank(room, name, self.last))
            if not self.asker.yes("Another tank in this room?", True):
                return tanks

    def _tank_answers(self, last: _TankAnswers) -> _TankAnswers:
        kind = self._choose("Kind", last.kind, TankKind)
        target = last.target
        if kind != last.kind and kind in TARGETS:
            target = TARGETS[TankKind(kind)][0 if self.units is UnitSystem.US else 1]
        size = self.asker.ask("Size of the water, length x width x height", last.size, read_size)
        target = self._ask("Temperature to hold", target, "tanks", "target")
        lid = self._choose("Lid", last.lid, Lid)
        lights = self._power("Lights, all together", last.lights)
        hours = last.hours
        if lights:
            hours = self._ask("Hours a day", last.hours, "loads", "hours_per_day")
        pumps = self._power("Pumps in or on the tank, all together", last.pumps)
        heater = self.asker.yes("A heater?", last.heater)
        cooling = self._choose("Cooling", last.cooling, COOLING)
        plate, where = last.plate, last.where
        if cooling in STANDING:
            plate = self.asker.ask("What its plate says, such as 1/10 hp or 300 W (none: not known)", plate, _plate)
            where = self._choose("Where it stands", where, STANDS)
        return _TankAnswers(kind, size, target, lid, lights, hours, pumps, heater, cooling, plate, where)

    def _add_tank(self, room: str, name: str, said: _TankAnswers) -> str:
        length, width, height = read_size(said.size)
        in_stand = said.cooling in STANDING and said.where in (Where.IN_STAND, Where.IN_STAND_VENTED)
        tank = self._add_numbered(
            "tanks", "T", room=room, name=name, kind=said.kind, length=length, width=width,
            height=height, target=said.target, lid=said.lid, stand="closed" if in_stand else "",
        )  # fmt: skip
        if said.lights:
            self._fact("loads", tank=tank, name="lights", kind="light", power=said.lights, hours_per_day=said.hours)
        if said.pumps:
            self._fact("loads", tank=tank, name="pumps", kind="submerged-pump", power=said.pumps)
        if said.heater:
            self._add_numbered("equipment", "H", kind="heater", name=_cut(f"Heater of {name}"), tank=tank)
        if said.cooling != "none":
            self._add_device(tank, name, said, in_stand)
        return tank

    def _add_device(self, tank: str, name: str, said: _TankAnswers, in_stand: bool) -> None:
        plate = read_plate(said.plate) if said.cooling in STANDING and said.plate not in NONE else {}
        words = said.cooling.replace("-", " ")
        device = self._add_numbered("devices", "D", kind=said.cooling, name=_cut(f"{name}: {words}"), **plate)
        where = said.where if said.cooling in STANDING else Where.BESIDE_TANK
        self._fact("placements", device=device, where=where, stand_of=tank if in_stand else "")
        self._fact("duties", device=device, tank=tank, role="duty")

    def _ask(self, question: str, default: str, file: str, column: str, *, may_be_none: bool = False) -> str:
        def check(text: str) -> None:
            if not (may_be_none and text in NONE):
                check_answer(file, column, text)

        answer = self.asker.ask(question, default, check)
        return "" if may_be_none and answer in NONE else answer

    def _power(self, question: str, default: str) -> str:
        def check(text: str) -> None:
            if text not in NONE:
                check_answer("loads", "power", text)

        answer = self.asker.ask(f"{question} (none: there are none)", default or "none", check)
        return "" if answer in NONE else answer

    def _choose(self, question: str, default: str, words: Iterable[str]) -> str:
        known = [str(word) for word in words]

        def check(text: str) -> None:
            if text.lower() not in known:
                raise ValueError(f"one of {', '.join(known)}")

        return self.asker.ask(f"{question} ({', '.join(known)})", str(default), check).lower()

    def _fact(self, file: str, **cells: str) -> None:
        self.cells.append((file, {**cells, "since": self.today}))

    def _add(self, file: str, words: str, prefix: str, **cells: str) -> str:
        """Adds a row with a code made of the words."""
        return self._put(file, self._code(words, prefix), cells)

    def _add_numbered(self, file: str, prefix: str, **cells: str) -> str:
        """Adds a row with the next code of the prefix: T1, T2 …"""
        number = 1
        while f"{prefix}{number}" in self.codes:
            number += 1
        return self._put(file, f"{prefix}{number}", cells)

    def _put(self, file: str, code: str, cells: Mapping[str, str]) -> str:
        self.codes[code] = SubjectKind(CODED[file])
        self.cells.append((file, {"code": code, **cells}))
        return code

    def _code(self, words: str, prefix: str) -> str:
        """The words as a code that nothing has yet, the prefix where no letter is left of them."""
        slug = re.sub(r"[^A-Z0-9]+", "-", words.upper()).strip("-")[: LONGEST_CODE - 4].strip("-")
        code = stem = slug or prefix
        number = 1
        while code in self.codes:
            number += 1
            code = f"{stem}-{number}"
        return code

    def rows(self) -> RegisterRows:
        """The rows that the answers make."""
        by_file: dict[str, list[Any]] = {file: [] for file in NATURAL_KEYS}
        words = words_of(read_catalogue())
        for file, cells in self.cells:
            by_file[file].append(row_from_cells(file, cells, self.codes, {}, words))
        return RegisterRows(**{file: tuple(rows) for file, rows in by_file.items()})


def _plate(text: str) -> None:
    if text not in NONE:
        read_plate(text)


def _cut(name: str) -> str:
    """A name made of another, no longer than a name may be."""
    return name[:LONGEST_NAME]
