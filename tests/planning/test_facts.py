"""What the register says of a subject: needs of rules and conditions that move intervals."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from fleet.planning.conditions import DERIVED_TESTS, WORDS_FOR, condition_reason
from fleet.planning.facts import NEED_TESTS, Facts
from fleet.planning.subjects import Subjects
from fleet.values.catalogue import AnimalClass
from fleet.values.catalogue_names import DERIVED_CONDITIONS, NEEDS, REGISTER_CONDITIONS
from fleet.values.fleet import snapshot
from fleet.values.register import (
    Animals,
    Client,
    Duty,
    Equipment,
    Load,
    Placement,
    Reading,
    RegisterRows,
    YearSpan,
)
from fleet.values.vocabulary import (
    ClientKind,
    DeviceKind,
    EquipmentKind,
    Health,
    LoadKind,
    ReadingQuantity,
    Role,
    Stand,
    TankKind,
    Where,
)

LONG_AGO = date(2020, 1, 1)
CRAB = AnimalClass("crab", "Crab", (), 10, 15, None, 17.0, None, 19.0, None, None, True, "invented")


def facts_of(rows: RegisterRows, today: date = date(2026, 5, 20)) -> Facts:
    fleet = snapshot(rows, today)
    return Facts(fleet, Subjects(fleet), {"crab": CRAB}, (), today)


def tank(rows: RegisterRows, **changes: Any) -> RegisterRows:
    return replace(rows, tanks=(replace(rows.tanks[0], **changes), *rows.tanks[1:]))


def device(rows: RegisterRows, **changes: Any) -> RegisterRows:
    return replace(rows, devices=(replace(rows.devices[0], **changes), *rows.devices[1:]))


def placed(rows: RegisterRows, where: Where, **changes: Any) -> RegisterRows:
    return replace(rows, placements=(Placement("C1", where, LONG_AGO, **changes),))


def with_item(rows: RegisterRows, kind: EquipmentKind, name: str = "Thing", **changes: Any) -> RegisterRows:
    return replace(rows, equipment=(*rows.equipment, Equipment("E", kind, name, **{"tank": "T1", **changes})))


def fan_duty(rows: RegisterRows) -> RegisterRows:
    fan = replace(rows.devices[0], code="F", kind=DeviceKind.SURFACE_FAN)
    return replace(rows, devices=(*rows.devices, fan), duties=(*rows.duties, Duty("F", "T1", LONG_AGO)))


def in_season(rows: RegisterRows, first_month: int) -> RegisterRows:
    """A hot season from the first of that month to 1 September; today is 20 May."""
    return replace(rows, sites=(replace(rows.sites[0], hot_seasons=(YearSpan(first_month, 1, 9, 1),)),))


def with_standby(rows: RegisterRows) -> RegisterRows:
    return replace(rows, duties=(*rows.duties, Duty("C2", "T1", LONG_AGO, Role.STANDBY)))


def home(rows: RegisterRows, kind: ClientKind | None) -> RegisterRows:
    return replace(rows, clients=(Client("CL", "Client", kind),))


def test_every_name_of_the_catalogue_is_answered_and_no_other() -> None:
    assert NEED_TESTS.keys() == NEEDS.keys()
    assert DERIVED_TESTS.keys() == DERIVED_CONDITIONS.keys()
    assert WORDS_FOR.keys() == REGISTER_CONDITIONS.keys()


NEED_CASES: list[tuple[str, str, Any, bool]] = [
    ("marine", "T1", lambda rows: tank(rows, kind=TankKind.REEF), True),
    ("marine", "C1", lambda rows: tank(rows, salinity_g_per_kg=10.0), True),
    ("marine", "T1", lambda rows: tank(rows, salinity_g_per_kg=9.9), False),
    ("cold-water-tank", "C1", lambda rows: tank(rows, target_c=17.9), True),
    ("cold-water-tank", "C1", lambda rows: tank(rows, target_c=18.0), False),
    ("cold-water-tank", "T1", lambda rows: tank(rows, kind=TankKind.COLD_MARINE), True),
    ("warm-water-only", "C1", lambda rows: rows, True),
    ("warm-water-only", "C1", lambda rows: replace(rows, duties=()), False),
    ("invertebrates", "T1", lambda rows: tank(rows, kind=TankKind.REEF), True),
    ("invertebrates", "C1", lambda rows: replace(rows, animals=(Animals("T1", "crabs", LONG_AGO, "crab"),)), True),
    ("invertebrates", "T1", lambda rows: rows, False),
    ("surface-fan", "T1", fan_duty, True),
    ("fan-cooled", "T1", fan_duty, False),
    ("fan-cooled", "T1", lambda rows: replace(fan_duty(rows), duties=(Duty("F", "T1", LONG_AGO),)), True),
    ("has-heater", "T1", lambda rows: with_item(rows, EquipmentKind.HEATER), True),
    (
        "has-heater",
        "T1",
        lambda rows: replace(rows, loads=(Load("T1", "heater", LoadKind.HEATER, 100.0, LONG_AGO),)),
        True,
    ),
    ("has-heater", "T1", lambda rows: rows, False),
    ("has-cooler", "T1", lambda rows: rows, True),
    ("has-cooler", "T1", lambda rows: replace(rows, duties=()), False),
    ("has-top-off", "T1", lambda rows: with_item(rows, EquipmentKind.TOP_OFF), True),
    ("closed-stand", "T1", lambda rows: tank(rows, stand=Stand.CLOSED), True),
    ("closed-stand", "C1", lambda rows: placed(tank(rows, stand=Stand.CLOSED), Where.IN_STAND, stand_of="T1"), True),
    ("closed-stand", "C1", lambda rows: placed(tank(rows, stand=Stand.CLOSED), Where.BESIDE_TANK), False),
    ("cold-pipes", "C1", lambda rows: placed(rows, Where.OUTDOORS), True),
    ("cold-pipes", "C1", lambda rows: rows, False),
    (
        "external-pump",
        "T1",
        lambda rows: replace(rows, loads=(Load("T1", "pump", LoadKind.EXTERNAL_PUMP, 60.0, LONG_AGO),)),
        True,
    ),
    ("feeds-cooler", "E", lambda rows: with_item(rows, EquipmentKind.PUMP), True),
    ("feeds-cooler", "E", lambda rows: with_item(rows, EquipmentKind.PUMP, tank=None, serves=("C1",)), True),
    ("feeds-cooler", "E", lambda rows: replace(with_item(rows, EquipmentKind.PUMP), duties=()), False),
    ("standby-pump", "E", lambda rows: with_item(rows, EquipmentKind.PUMP, "Return pump, stand-by"), True),
    ("standby-pump", "E", lambda rows: with_item(rows, EquipmentKind.PUMP, "Return pump"), False),
    ("exchanger-takes-acid", "C1", lambda rows: device(rows, exchanger_metal="Titanium"), True),
    ("exchanger-takes-acid", "C1", lambda rows: device(rows, exchanger_metal="Aluminium alloy"), False),
    ("flammable-or-unknown-refrigerant", "C1", lambda rows: rows, True),
    ("flammable-or-unknown-refrigerant", "C1", lambda rows: device(rows, refrigerant="R134a"), False),
    ("regulated-charge", "C1", lambda rows: device(rows, refrigerant="R404A", charge_g=2000.0), True),
    ("regulated-charge", "C1", lambda rows: device(rows, refrigerant="R290", charge_g=150.0), False),
    ("in-store", "C1", lambda rows: placed(rows, Where.STORE), True),
    ("idle", "C1", lambda rows: replace(rows, duties=(Duty("C1", "T1", LONG_AGO, Role.STANDBY),)), True),
    ("idle", "C1", lambda rows: rows, False),
    ("air-conditioned", "R", lambda rows: replace(rows, rooms=(replace(rows.rooms[0], air_conditioned=True),)), True),
    ("air-conditioned", "R", lambda rows: rows, False),
    ("workplace", "T1", lambda rows: home(rows, ClientKind.SCHOOL), True),
    ("workplace", "T1", lambda rows: home(rows, ClientKind.HOME), False),
    ("workplace", "T1", lambda rows: home(rows, None), False),
]


@pytest.mark.parametrize(("need", "code", "change", "holds"), NEED_CASES)
def test_a_need_holds_by_what_is_on_record(trade: Any, need: str, code: str, change: Any, holds: bool) -> None:
    facts = facts_of(change(trade.rows()))
    assert NEED_TESTS[need](facts, facts.subjects.by_code[code]) is holds


def with_new_fish(rows: RegisterRows, day: date) -> RegisterRows:
    return replace(rows, animals=(Animals("T1", "old fish", LONG_AGO), Animals("T1", "new fish", day)))


CONDITION_CASES: list[tuple[str, str, Any, str | None]] = [
    (
        "dust",
        "C1",
        lambda rows: replace(rows, rooms=(replace(rows.rooms[0], conditions=("dust",)),)),
        "room R is dusty",
    ),
    ("algae", "C1", lambda rows: tank(rows, conditions=("algae",)), "tank T1 has algae"),
    ("hot", "T1", lambda rows: replace(rows, rooms=(replace(rows.rooms[0], conditions=("hot",)),)), "room R is hot"),
    ("pets", "T1", lambda rows: replace(rows, rooms=(replace(rows.rooms[0], conditions=("pets",)),)), "R has pets"),
    ("hard-water", "C1", lambda rows: tank(rows, conditions=("hard-water",)), "tank T1 has hard water"),
    ("tide", "C1", lambda rows: tank(rows, conditions=("tide",)), "tank T1 is on record with tide"),
    ("dust", "S", lambda rows: replace(rows, rooms=(replace(rows.rooms[0], conditions=("dust",)),)), "room R"),
    ("dust", "C1", lambda rows: rows, None),
    ("outdoor", "C1", lambda rows: placed(rows, Where.OUTDOORS), "outdoors"),
    ("in-stand", "C1", lambda rows: placed(rows, Where.IN_STAND_VENTED, stand_of="T1"), "inside a stand"),
    ("no-standby", "C1", lambda rows: rows, "stands by"),
    ("no-standby", "C1", with_standby, None),
    (
        "age-over-8",
        "C1",
        lambda rows: device(rows, installed=date(2018, 5, 19)),
        "is over 8 years old (installed on 19 May 2018)",
    ),
    ("age-over-8", "C1", lambda rows: device(rows, installed=date(2018, 5, 20)), None),
    ("age-over-8", "C1", lambda rows: rows, None),
    ("single-probe", "T1", lambda rows: with_item(rows, EquipmentKind.PROBE), "one probe"),
    ("two-probes", "T1", lambda rows: with_item(rows, EquipmentKind.PROBE), None),
    ("alarm-on-record", "T1", lambda rows: with_item(rows, EquipmentKind.ALARM, tank=None, site="S"), "alarm"),
    ("alarm-on-record", "T1", lambda rows: rows, None),
    ("no-top-off", "T1", lambda rows: rows, "no top-off"),
    ("no-top-off", "T1", lambda rows: with_item(rows, EquipmentKind.TOP_OFF), None),
    ("new-animals", "T1", lambda rows: with_new_fish(rows, date(2026, 3, 21)), "were changed on 21 March 2026"),
    ("new-animals", "T1", lambda rows: with_new_fish(rows, date(2026, 3, 20)), None),
    ("new-animals", "T1", lambda rows: with_new_fish(rows, date(2026, 5, 21)), None),
    ("hot-season", "T1", lambda rows: in_season(rows, 5), "hot season"),
    ("hot-season", "T1", lambda rows: rows, None),
    ("fan-running", "T1", fan_duty, "running"),
    ("fan-running", "T1", lambda rows: in_season(fan_duty(rows), 7), None),
    ("public-place", "T1", lambda rows: home(rows, ClientKind.AQUARIUM), "aquarium"),
    ("public-place", "T1", lambda rows: home(rows, ClientKind.COMPANY), None),
    ("not-clean", "T1", lambda rows: tank(rows, health=Health.QUARANTINE), "quarantine"),
    ("not-clean", "G", lambda rows: tank(rows, health=Health.SICK), "sick"),
    ("exchanger-unknown", "C1", lambda rows: rows, "not on record"),
    ("exchanger-titanium", "C1", lambda rows: device(rows, exchanger_metal="Titanium"), "Titanium"),
    ("charge-over-50-t", "C1", lambda rows: device(rows, refrigerant="R404A", charge_g=13_000.0), "51 t"),
    ("charge-over-50-t", "C1", lambda rows: device(rows, refrigerant="R404A", charge_g=12_000.0), None),
]


@pytest.mark.parametrize(("condition", "code", "change", "says"), CONDITION_CASES)
def test_a_condition_says_how_it_is_known(trade: Any, condition: str, code: str, change: Any, says: str | None) -> None:
    rows = trade.rows(tanks=2)
    rows = replace(rows, duties=rows.duties[:1])
    facts = facts_of(change(rows))
    reason = condition_reason(facts, facts.subjects.by_code[code], condition)
    assert (reason is None) if says is None else (reason is not None and says in reason)


@pytest.mark.parametrize(("share", "holds"), [(75.0, False), (76.0, True)])
def test_continuous_duty_is_read_from_the_last_run_share(trade: Any, share: float, holds: bool) -> None:
    readings = tuple(
        Reading("C1", ReadingQuantity.RUN_SHARE_PERCENT, value, datetime(2026, 5, day, tzinfo=UTC))
        for day, value in ((1, 90.0), (10, share))
    )
    facts = facts_of(trade.rows(readings=readings))
    assert (condition_reason(facts, facts.subjects.by_code["C1"], "continuous-duty") is not None) is holds


@pytest.mark.parametrize(
    ("condition", "task", "days", "holds"),
    [
        ("acid-cleaned", "descale-exchanger-inside", [date(2025, 6, 1)], True),
        ("acid-cleaned", "descale-exchanger-inside", [date(2025, 5, 1)], False),
        ("repaired-twice", "call-licensed-for-circuit", [date(2022, 1, 1), date(2024, 1, 1)], True),
        ("repaired-twice", "call-licensed-for-circuit", [date(2024, 1, 1)], False),
    ],
)
def test_history_is_a_condition_too(trade: Any, condition: str, task: str, days: list[date], holds: bool) -> None:
    facts = facts_of(trade.rows(history=tuple(trade.done(day, task) for day in days)))
    assert (condition_reason(facts, facts.subjects.by_code["C1"], condition) is not None) is holds
