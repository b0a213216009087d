"""The register of a service company of any size, for measuring plans, and facts that change in it.

Districts far apart with technicians of their own, so that a company twice as large is twice the same work; sites of one
to seven tanks, with what usually stands in and about them and work recorded on most of it.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from fleet.values.catalogue import Catalogue
from fleet.values.register import (
    ALWAYS,
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
    LoadKind,
    ReadingQuantity,
    Skill,
    Stand,
    SubjectKind,
    TankKind,
    Where,
)

DAY = date(2026, 5, 4)
TANKS_IN_A_DISTRICT, TECHNICIANS_IN_A_DISTRICT = 200, 4
SET_UP = date(2022, 3, 1)
EVERY_SKILL = tuple(Skill)
KINDS = (TankKind.REEF, TankKind.TROPICAL_FRESH, TankKind.TROPICAL_MARINE, TankKind.COLD_FRESH)
WORDS = ("dust", "pets", "salt", "hot", "humid", "public", "hard-water", "algae", "heavy-stocking")


def company(tanks: int, catalogue: Catalogue, seed: int = 1) -> RegisterRows:
    """About as many tanks as asked for, at sites of one to seven; the work of the catalogue is under way."""
    dice = random.Random(seed)
    rows: dict[str, list[Any]] = {name: [] for name in RegisterRows.__dataclass_fields__}
    districts = 0
    while len(rows["tanks"]) < tanks:
        if len(rows["tanks"]) >= districts * TANKS_IN_A_DISTRICT:
            _district(districts, rows)
            districts += 1
        _site(dice, districts - 1, rows)
    _work_under_way(dice, catalogue, rows)
    return RegisterRows(**{name: tuple(values) for name, values in rows.items()})


def _work_under_way(dice: random.Random, catalogue: Catalogue, rows: dict[str, list[Any]]) -> None:
    """Every task that comes back was done within its interval, and of those of a season nine in ten this spring."""
    subjects = [(SubjectKind.DEVICE, row.kind, row.code) for row in rows["devices"]]
    subjects += [(SubjectKind.EQUIPMENT, row.kind, row.code) for row in rows["equipment"]]
    subjects += [(SubjectKind.TANK, None, row.code) for row in rows["tanks"]]
    subjects += [(SubjectKind.SITE, None, row.code) for row in rows["sites"]]
    for kind, own_kind, code in subjects:
        for rule in catalogue.rules:
            wanted = (*rule.selector.device_kinds, *rule.selector.equipment_kinds)
            if rule.selector.subject is not kind or (wanted and own_kind not in wanted):
                continue
            if rule.interval is not None:
                ago = dice.randrange(1, max(2, int(rule.interval.typical.days * 0.7)))
            elif rule.seasons and dice.random() < 0.9:
                ago = dice.randrange(1, 28)
            else:
                continue
            rows["history"].append(ServiceRecord(code, rule.id, DAY - timedelta(days=ago)))


def _middle(district: int) -> tuple[float, float]:
    """Districts lie five degrees apart, over 400 km."""
    return -45.0 + 5.0 * (district % 19), -160.0 + 5.0 * (district // 19 % 64)


def _district(number: int, rows: dict[str, list[Any]]) -> None:
    latitude, longitude = _middle(number)
    for one in range(TECHNICIANS_IN_A_DISTRICT):
        rows["technicians"].append(
            Technician(
                f"W{number}-{one}",
                f"Worker {number}-{one}",
                EVERY_SKILL,
                base_latitude=latitude + 0.1 * one,
                base_longitude=longitude,
                work_from=time(7),
                work_to=time(17),
            )
        )


def _site(dice: random.Random, district: int, rows: dict[str, list[Any]]) -> None:
    number = len(rows["sites"])
    code, client = f"S{number}", f"CL{number // 5}"
    if number % 5 == 0:
        rows["clients"].append(Client(client, f"Client {number // 5}", dice.choice(tuple(ClientKind))))
    latitude, longitude = _middle(district)
    southern = latitude < 0
    rows["sites"].append(
        Site(
            code,
            client,
            f"Site {number}",
            "Europe/London",
            latitude=latitude + dice.uniform(-0.2, 0.2),
            longitude=longitude + dice.uniform(-0.2, 0.2),
            hot_seasons=(YearSpan(12, 1, 2, 20) if southern else YearSpan(6, 1, 9, 10),),
            visit_days=dice.choice(((), (), (0, 2, 4), (1, 3))),
            visit_from=dice.choice((None, time(8))),
        )
    )
    rows["rooms"].append(
        Room(f"R{number}", code, "Fish room", 26.0, air_conditioned=True, conditions=tuple(dice.sample(WORDS, 1)))
    )
    rows["equipment"].append(Equipment(f"G{number}", EquipmentKind.GFCI, "Switch", site=code))
    if dice.random() < 0.2:
        since = DAY + timedelta(days=dice.randrange(20, 300))
        rows["closures"].append(Closure(code, since, since + timedelta(days=dice.randrange(3, 16))))
    for _ in range(dice.randint(1, 7)):
        _tank(dice, f"R{number}", rows)


def _tank(dice: random.Random, room: str, rows: dict[str, list[Any]]) -> None:
    number = len(rows["tanks"])
    tank, device = f"T{number}", f"D{number}"
    stand = dice.choice((Stand.CLOSED, Stand.OPEN))
    rows["tanks"].append(
        Tank(
            tank, room, f"Tank {number}", dice.choice(KINDS), 1.2, 0.5, 0.5, 25.0, stand=stand,
            watch_high_c=27.0, act_high_c=28.5, health=Health.CLEAN, conditions=tuple(dice.sample(WORDS, 1)),
        )
    )  # fmt: skip
    rows["loads"] += [
        Load(tank, "lamps", LoadKind.LIGHT, 250.0, SET_UP, hours_per_day=10.0),
        Load(tank, "return", LoadKind.SUBMERGED_PUMP, 60.0, SET_UP),
    ]
    rows["animals"].append(Animals(tank, "fish", SET_UP, count=8))
    at = datetime(2026, 4, dice.randrange(1, 29), 9, tzinfo=UTC)
    rows["readings"].append(Reading(tank, ReadingQuantity.WATER_TEMP, dice.uniform(24.5, 26.5), at))
    if dice.random() < 0.3:
        rows["equipment"].append(Equipment(f"H{number}", EquipmentKind.HEATER, "Heater", tank=tank))
    kind = dice.choices((DeviceKind.CHILLER, DeviceKind.SURFACE_FAN, DeviceKind.THERMOELECTRIC, None), (5, 2, 1, 2))[0]
    if kind is None:
        return
    where = Where.IN_STAND if stand is Stand.CLOSED and dice.random() < 0.5 else Where.BESIDE_TANK
    rows["devices"].append(Device(device, kind, "Cooler", rated_cooling_w=400.0, installed=SET_UP))
    rows["placements"].append(
        Placement(device, where, SET_UP, room=room, stand_of=tank if where is Where.IN_STAND else None)
    )
    rows["duties"].append(Duty(device, tank, SET_UP))


Change = Callable[[random.Random, RegisterRows, Tank], dict[str, Any]]


def _stronger_light(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    load = Load(tank.code, "new lamps", LoadKind.LIGHT, dice.uniform(20.0, 90.0), DAY, hours_per_day=10.0)
    return {"loads": (load,)}


def _work_done(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    finding = dice.choice((Finding.SOUND, Finding.DEGRADED))
    return {"history": (ServiceRecord(tank.code, "read-temperature-daily", DAY, finding=finding),)}


def _too_warm(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    at = datetime.combine(DAY, time(6, dice.randrange(60)), UTC)
    return {"readings": (Reading(tank.code, ReadingQuantity.WATER_TEMP, 29.0, at),)}


def _outage(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    return {"events": (Event(tank.code, EventKind.OUTAGE, DAY - timedelta(days=dice.randrange(3))),)}


def _dearer_stock(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    return {"animals": (Animals(tank.code, "new fish", DAY, count=dice.randint(1, 9)),)}


def _sick(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    return {"tanks": (replace(tank, health=Health.QUARANTINE, since=DAY),)}


def _salt_creep(dice: random.Random, rows: RegisterRows, tank: Tank) -> dict[str, Any]:
    return {"tanks": (replace(tank, conditions=(*tank.conditions, "salt"), since=DAY),)}


CHANGES: tuple[Change, ...] = (
    _stronger_light, _work_done, _too_warm, _outage, _dearer_stock, _sick, _salt_creep,
)  # fmt: skip


def with_changes(rows: RegisterRows, tanks: list[Tank], seed: int = 2) -> RegisterRows:
    """The register with one new fact about each of the tanks."""
    dice = random.Random(seed)
    more: dict[str, list[Any]] = {}
    for tank in tanks:
        for name, new in dice.choice(CHANGES)(dice, rows, tank).items():
            more.setdefault(name, []).extend(new)
    return replace(rows, **{name: (*getattr(rows, name), *new) for name, new in more.items()})


def first_rows(tanks: tuple[Tank, ...]) -> list[Tank]:
    """One row for each tank, as it was set up."""
    return [tank for tank in tanks if tank.since == ALWAYS]
