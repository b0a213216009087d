"""Whole registers that nobody wrote: from one number, sites, tanks, devices and people as odd as a register may hold.

Everything of one site has codes that begin with the site's own, so that a test can say which facts are whose. The same
number gives the same register on every machine.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from fleet.values.bounds import READING_BOUNDS
from fleet.values.catalogue import Catalogue, Interval, Span
from fleet.values.catalogue_names import REGISTER_CONDITIONS
from fleet.values.overrides import RuleOverride
from fleet.values.register import (
    ALWAYS,
    Absence,
    Animals,
    Client,
    Closure,
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
    YearSpan,
)
from fleet.values.vocabulary import (
    ClientKind,
    DeviceKind,
    EquipmentKind,
    EventKind,
    Finding,
    Health,
    Lid,
    LoadKind,
    ReadingQuantity,
    Role,
    Skill,
    Stand,
    SubjectKind,
    TankKind,
    Tolerance,
    Where,
)

NORTHERN_SUMMER, SOUTHERN_SUMMER = YearSpan(6, 1, 9, 15), YearSpan(12, 1, 2, 28)
PLACES = (
    ("America/New_York", "US-NY", (40.7, -74.0), NORTHERN_SUMMER),
    ("America/St_Johns", "CA-NL", (47.6, -52.7), YearSpan(7, 1, 8, 31)),
    ("Europe/Lisbon", "PT", (38.7, -9.1), YearSpan(5, 31, 9, 30)),
    ("Asia/Kolkata", "IN", (13.1, 80.3), None),
    ("Australia/Lord_Howe", "AU-NSW", (-31.6, 159.1), SOUTHERN_SUMMER),
    ("Pacific/Auckland", "NZ", (-36.8, 174.8), SOUTHERN_SUMMER),
    ("Pacific/Chatham", None, (-44.0, -176.5), YearSpan(1, 1, 2, 28)),
    ("America/Santiago", "CL", (-33.4, -70.7), YearSpan(11, 15, 3, 15)),
    ("Pacific/Kiritimati", None, (1.9, -157.4), None),
)
"""Time zone, region of public holidays, latitude and longitude, usual hot season: offsets of half and three quarters
of an hour, clocks that move by half an hour, both sides of the date line, both hemispheres."""
TWO_SEASONS = (YearSpan(3, 1, 4, 30), YearSpan(9, 1, 10, 31))
DAYS_OF_THE_STORY = (
    date(2026, 5, 20), date(2028, 2, 29), date(2027, 12, 31), date(2026, 1, 31), date(2027, 3, 1), date(2026, 10, 4),
)  # fmt: skip
"""Among them a leap day, the ends of a year and of months, and the first day of a southern summer time."""
VISIT_DAYS = ((), (), (0, 1, 2, 3, 4, 5, 6), (2,), (1, 3), (5, 6), (0, 1, 2, 3, 4), (4,))
HOURS = (
    (None, None), (None, None), (time(8), time(16, 30)), (time(18), time(21)), (time(6), None), (None, time(12)),
    (time(9), time(10)), (time(22), time(23, 30)),
)  # fmt: skip
REFRIGERANTS = (None, "R-134a", "R290", "R600a", "R404A", "R-32", "unknown gas")
METALS = (None, "titanium", "copper", "brass", "aluminium")
OLDEST_WORK_DAYS = 900


@dataclass(frozen=True, slots=True)
class Strange:
    """A register, the intervals and switches that people set themselves, and the day on which one looks at it."""

    seed: int
    rows: RegisterRows
    overrides: tuple[RuleOverride, ...]
    today: date


def site_of_code(code: str) -> str:
    """The site that a code of the register belongs to, or the code itself where it stands for none."""
    return code.split("-", 1)[0]


def strange_register(seed: int, catalogue: Catalogue, *, sites: int = 3, tanks: int = 3) -> Strange:
    """A register with at most so many sites and at most so many tanks in a room."""
    return _Maker(random.Random(seed), catalogue, tanks).register(seed, sites)


def shuffled(rows: RegisterRows, seed: int) -> RegisterRows:
    """The same rows in another order in every file."""
    dice = random.Random(seed)

    def mixed(some: Sequence[Any]) -> tuple[Any, ...]:
        return tuple(dice.sample(some, len(some)))

    return RegisterRows(**{name: mixed(getattr(rows, name)) for name in RegisterRows.__dataclass_fields__})


@dataclass(slots=True)
class _Maker:
    dice: random.Random
    catalogue: Catalogue
    tanks_in_a_room: int
    today: date = DAYS_OF_THE_STORY[0]
    rows: dict[str, list[Any]] = field(default_factory=dict)
    subjects: list[tuple[str, SubjectKind]] = field(default_factory=list)

    def register(self, seed: int, most_sites: int) -> Strange:
        self.today = self.dice.choice(DAYS_OF_THE_STORY) + timedelta(days=self.dice.choice((0, 0, 0, 1, 17, 100)))
        self.rows = {name: [] for name in RegisterRows.__dataclass_fields__}
        for number in range(1, self.dice.randint(1, 2) + 1):
            kind = self.dice.choice((None, *ClientKind))
            self.rows["clients"].append(Client(f"CLIENT{number}", f"Client {number}", kind))
        for number in range(1, self.dice.randint(1, most_sites) + 1):
            self._site(f"S{number}")
        for number in range(1, self.dice.choice((0, 1, 3, 6)) + 1):
            self._technician(f"W{number}")
        for code, kind in self.subjects:
            self._past(code, kind)
        rows = RegisterRows(**{name: tuple(some) for name, some in self.rows.items()})
        return Strange(seed, rows, self._overrides(), self.today)

    def _overrides(self) -> tuple[RuleOverride, ...]:
        """A few that the planner has to follow: never longer, and never off, for life-safety work."""
        scopes = ["", *(row.code for row in self.rows["clients"]), *(code for code, _ in self.subjects)]
        made = {}
        for _ in range(self.dice.choice((0, 0, 2, 6))):
            rule, scope = self.dice.choice(self.catalogue.rules), self.dice.choice(scopes)
            safety = rule.tolerance is Tolerance.A0
            interval = rule.interval
            if interval is not None:
                factor = self.dice.choice((1, 2) if not safety else (1,))
                interval = Interval(
                    interval.minimum,
                    self.dice.choice((interval.minimum, interval.typical)),
                    Span(interval.maximum.count * factor, interval.maximum.unit),
                )
            made[rule.id, scope] = RuleOverride(
                rule.id,
                scope,
                active=safety or self._maybe(0.7),
                interval=interval if self._maybe(0.7) else None,
                minutes=self.dice.choice((None, 5, 90)),
                set_by="Owner",
                reason="asked for",
            )
        return tuple(made.values())

    def _maybe(self, share: float) -> bool:
        return self.dice.random() < share

    def _some(self, words: Sequence[str], most: int) -> tuple[str, ...]:
        return tuple(sorted(self.dice.sample(words, self.dice.randint(0, most))))

    def _day(self, back: int, ahead: int = 0) -> date:
        return self.today + timedelta(days=self.dice.randint(-back, ahead))

    def _since(self, back: int = 1500) -> date:
        return ALWAYS if self._maybe(0.4) else self._day(back)

    def _began(self) -> date:
        """For rows whose first day has to be stated."""
        return self._day(1500) if self._maybe(0.6) else self.today - timedelta(days=4000)

    def _on_record(self, code: str, kind: SubjectKind) -> None:
        self.subjects.append((code, kind))

    def _site(self, code: str) -> None:
        zone, region, (latitude, longitude), summer = self.dice.choice(PLACES)
        seasons: tuple[YearSpan, ...] = () if summer is None else (summer,)
        if self._maybe(0.2):
            seasons = self.dice.choice(((), TWO_SEASONS, (YearSpan(2, 28, 5, 31),), (YearSpan(10, 1, 9, 1),)))
        visit_from, visit_to = self.dice.choice(HOURS)
        placed = self._maybe(0.6)
        self.rows["sites"].append(
            Site(
                code,
                self.dice.choice(self.rows["clients"]).code,
                f"Site {code}",
                zone,
                latitude=latitude if placed else None,
                longitude=longitude if placed else None,
                hot_seasons=seasons,
                visit_days=self.dice.choice(VISIT_DAYS),
                visit_from=visit_from,
                visit_to=visit_to,
                holiday_region=region if self._maybe(0.5) else None,
            )
        )
        self._on_record(code, SubjectKind.SITE)
        self._closures(code)
        for number in range(1, self.dice.randint(1, 2) + 1):
            self._room(f"{code}-R{number}", code)
        for number in range(1, self.dice.randint(0, 2) + 1):
            self._equipment(f"{code}-E{number}", site=code)

    def _closures(self, site: str) -> None:
        days = self.dice.sample(range(-60, 200), self.dice.choice((0, 0, 1, 2, 3)))
        for start in days:
            length = self.dice.choice((1, 2, 4, 10, 45, None))
            since = self.today + timedelta(days=start)
            if length is None and not self._maybe(0.2):
                length = 3
            until = None if length is None else since + timedelta(days=length)
            self.rows["closures"].append(Closure(site, since, until, "closed"))

    def _room(self, code: str, site: str) -> None:
        room = Room(
            code,
            site,
            f"Room {code}",
            self.dice.choice((22.0, 26.0, 31.0)),
            air_conditioned=self.dice.choice((None, True, False)),
            conditions=self._some(list(REGISTER_CONDITIONS), 4),
            since=self._since(),
        )
        self.rows["rooms"].append(room)
        if self._maybe(0.2):
            later = self._day(300, 30)
            if later > room.since:
                self.rows["rooms"].append(replace(room, hot_day_mean_c=28.5, since=later))
        self._on_record(code, SubjectKind.ROOM)
        for number in range(1, self.dice.randint(0, self.tanks_in_a_room) + 1):
            self._tank(f"{code}T{number}", code)

    def _tank(self, code: str, room: str) -> None:
        target = self.dice.choice((11.0, 16.0, 24.0, 25.5, 27.0))
        banded = self._maybe(0.4)
        tank = Tank(
            code,
            room,
            f"Tank {code}",
            self.dice.choice(list(TankKind)),
            1.2,
            0.5,
            0.5,
            target,
            lid=self.dice.choice((None, *Lid)),
            stand=self.dice.choice((None, *Stand)),
            watch_high_c=target + 1.0 if banded else None,
            act_high_c=target + 2.0 if banded else None,
            health=self.dice.choice((None, None, *Health)),
            conditions=self._some(list(REGISTER_CONDITIONS), 3),
            since=self._since(),
        )
        self.rows["tanks"].append(tank)
        if self._maybe(0.25):
            later = self._day(200, 20)
            if later > tank.since:
                self.rows["tanks"].append(replace(tank, target_c=target + 0.5, lid=Lid.SEALED, since=later))
        self._on_record(code, SubjectKind.TANK)
        self._loads(code)
        self._animals(code)
        for number in range(1, self.dice.choice((0, 1, 1, 2, 3)) + 1):
            self._device(f"{code}D{number}", code, room)
        for number in range(1, self.dice.choice((0, 1, 2, 4)) + 1):
            self._equipment(f"{code}E{number}", tank=code)

    def _loads(self, tank: str) -> None:
        for kind in self.dice.sample(list(LoadKind), self.dice.randint(0, 3)):
            first = self._began()
            power = self.dice.choice((5.0, 40.0, 250.0))
            changed = self._day(60, 20)
            if self._maybe(0.3) and changed > first:
                self.rows["loads"].append(Load(tank, str(kind), kind, power, first, until=changed))
                self.rows["loads"].append(Load(tank, str(kind), kind, power * 1.3, changed))
            else:
                self.rows["loads"].append(Load(tank, str(kind), kind, power, first))

    def _animals(self, tank: str) -> None:
        classes = [one.code for one in self.catalogue.animal_classes]
        for group in ("first group", "second group")[: self.dice.randint(0, 2)]:
            animal_class = self.dice.choice([None, *classes])
            self.rows["animals"].append(Animals(tank, group, self._began(), animal_class, self.dice.randint(1, 30)))

    def _device(self, code: str, tank: str, room: str) -> None:
        kind = self.dice.choice(list(DeviceKind))
        installed = self.dice.choice((None, self._day(5000), self._day(40), date(2016, 2, 29)))
        device = Device(
            code,
            kind,
            f"Device {code}",
            rated_cooling_w=self.dice.choice((None, 300.0)),
            refrigerant=self.dice.choice(REFRIGERANTS),
            charge_g=self.dice.choice((None, 120.0, 6000.0)),
            exchanger_metal=self.dice.choice(METALS),
            installed=installed,
            since=self._since(),
        )
        self.rows["devices"].append(device)
        self._on_record(code, SubjectKind.DEVICE)
        if self._maybe(0.85):
            since = self._began()
            until = self._day(30, 90) if self._maybe(0.1) else None
            if until is None or until > since:
                self.rows["duties"].append(Duty(code, tank, since, self.dice.choice((None, *Role)), until=until))
        if self._maybe(0.7):
            self._placement(code, tank, room)

    def _placement(self, device: str, tank: str, room: str) -> None:
        where, since = self.dice.choice(list(Where)), self._began()
        in_stand = where in (Where.IN_STAND, Where.IN_STAND_VENTED)
        place = Placement(
            device,
            where,
            since,
            room=None if in_stand or self._maybe(0.1) else room,
            stand_of=tank if in_stand else None,
        )
        moved = self._day(60, 20)
        if self._maybe(0.25) and moved > since:
            self.rows["placements"].append(replace(place, until=moved))
            self.rows["placements"].append(Placement(device, Where.BESIDE_TANK, moved, room=room))
        else:
            self.rows["placements"].append(place)

    def _equipment(self, code: str, tank: str | None = None, site: str | None = None) -> None:
        devices = [one.code for one in self.rows["devices"] if tank is not None and one.code.startswith(f"{tank}D")]
        serves = tuple(sorted(self.dice.sample(devices, self.dice.randint(0, len(devices)))))
        kind = self.dice.choice(list(EquipmentKind))
        self.rows["equipment"].append(
            Equipment(
                code,
                kind,
                self.dice.choice((f"Thing {code}", f"Standby thing {code}")),
                tank,
                site,
                serves,
                self.dice.choice((None, self._day(3000), self._day(20))),
            )
        )
        self._on_record(code, SubjectKind.EQUIPMENT)

    def _technician(self, code: str) -> None:
        licensed = self._maybe(0.6)
        work_from, work_to = self.dice.choice(((None, None), (time(7), time(18)), (time(12), time(22))))
        near = self.dice.choice(self.rows["sites"])
        nearby = None if near.latitude is None else near.latitude + self.dice.choice((0.0, 0.3, 5.0))
        self.rows["technicians"].append(
            Technician(
                code,
                f"Worker {code}",
                self.dice.choice((tuple(Skill), (Skill.TECHNICIAN,), (Skill.KEEPER,), (Skill.REFRIGERATION,), ())),
                licence="L1" if licensed else None,
                licence_until=self._day(30, 200) if licensed else None,
                base_latitude=nearby,
                base_longitude=None if nearby is None else near.longitude,
                work_days=self.dice.choice(((), (0, 1, 2, 3, 4, 5, 6), (1, 2, 5, 6))),
                work_from=work_from,
                work_to=work_to,
                lunch_minutes=self.dice.choice((None, 30, 60)),
            )
        )
        for start in self.dice.sample(range(-30, 150), self.dice.choice((0, 1, 2))):
            since = self.today + timedelta(days=start)
            until = since + timedelta(days=self.dice.choice((1, 5, 21)))
            self.rows["absences"].append(Absence(code, since, until, "away"))

    def _past(self, code: str, kind: SubjectKind) -> None:
        self._history(code, kind)
        if self._maybe(0.15):
            event = self.dice.choice(list(EventKind))
            self.rows["events"].append(Event(code, event, self._day(50, 5)))
        if kind in (SubjectKind.TANK, SubjectKind.DEVICE) and self._maybe(0.4):
            self._readings(code, kind)

    def _history(self, code: str, kind: SubjectKind) -> None:
        """Nothing, a regular life, or records that contradict each other or belong to no such subject."""
        suiting = [rule.id for rule in self.catalogue.rules if rule.selector.subject is kind]
        any_rule = [rule.id for rule in self.catalogue.rules]
        for task in self.dice.sample(suiting, self.dice.randint(0, min(8, len(suiting)))):
            for back in self._days_back(task):
                self._record(code, task, self.today - timedelta(days=back))
        if self._maybe(0.1):
            self._record(code, self.dice.choice(any_rule), self._day(100, 10))

    def _days_back(self, task: str) -> list[int]:
        interval = self.catalogue.rule_by_id[task].interval
        every = 60.0 if interval is None else max(1.0, interval.typical.days)
        last = self.dice.choice((0, 1, self.dice.randint(0, round(every) + 1), self.dice.randint(0, OLDEST_WORK_DAYS)))
        back = [last]
        for _ in range(self.dice.choice((0, 0, 1, 2, 4))):
            back.append(back[-1] + max(1, round(every * self.dice.uniform(0.2, 1.9))))
        return back

    def _record(self, code: str, task: str, day: date) -> None:
        if any((row.subject, row.task, row.done_on) == (code, task, day) for row in self.rows["history"]):
            return
        finding = self.dice.choice((None, *Finding))
        self.rows["history"].append(ServiceRecord(code, task, day, finding=finding))

    def _readings(self, code: str, kind: SubjectKind) -> None:
        if kind is SubjectKind.TANK:
            quantities = [ReadingQuantity.WATER_TEMP, ReadingQuantity.COPPER_UG_PER_L]
        else:
            quantities = [
                ReadingQuantity.RUNNING_HOURS, ReadingQuantity.RUN_SHARE_PERCENT, ReadingQuantity.INTAKE_AIR_TEMP,
                ReadingQuantity.EXHAUST_AIR_TEMP, ReadingQuantity.POWER, ReadingQuantity.WATER_IN_TEMP,
            ]  # fmt: skip
        for quantity in quantities:
            bound, value = READING_BOUNDS[quantity], self.dice.uniform(10.0, 40.0)
            for back in sorted(self.dice.sample(range(200), self.dice.choice((1, 2, 6))), reverse=True):
                value = min(bound.high, max(bound.low, round(value + self.dice.uniform(-4.0, 8.0), 1)))
                at = datetime.combine(self.today, time(9, 30), UTC) - timedelta(days=back)
                self.rows["readings"].append(Reading(code, quantity, value, at))
