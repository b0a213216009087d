"""Dated rows: what holds on a day."""

from datetime import date

import pytest

from fleet.values.fleet import holds_on, snapshot
from fleet.values.register import (
    Client,
    Device,
    Duty,
    Equipment,
    Load,
    Placement,
    RegisterRows,
    Room,
    Site,
    Tank,
)
from fleet.values.vocabulary import ClientKind, DeviceKind, EquipmentKind, LoadKind, SubjectKind, TankKind, Where


def a_tank(code: str = "T1", room: str = "R1", target_c: float = 25.0, since: date = date.min) -> Tank:
    return Tank(code, room, code, TankKind.REEF, 1.2, 0.5, 0.5, target_c, since=since)


@pytest.fixture
def rows() -> RegisterRows:
    return RegisterRows(
        clients=(Client("C1", "Client", ClientKind.COMPANY),),
        sites=(Site("S1", "C1", "Site", "Europe/Lisbon"),),
        rooms=(Room("R1", "S1", "Hall", 26.0), Room("R2", "S1", "Plant room", 30.0)),
        tanks=(a_tank("T1"), a_tank("T2", "R2")),
        devices=(
            Device("CH1", DeviceKind.CHILLER, "Chiller"),
            Device("F1", DeviceKind.SURFACE_FAN, "Fan"),
            Device("X1", DeviceKind.CHILLER, "Nowhere"),
        ),
        placements=(
            Placement("CH1", Where.OTHER_ROOM, date(2024, 1, 1), room="R2", until=date(2025, 6, 1)),
            Placement("CH1", Where.IN_STAND, date(2025, 6, 1), stand_of="T1"),
        ),
        duties=(Duty("CH1", "T1", date(2024, 1, 1)), Duty("CH1", "T2", date(2024, 1, 1)), Duty("F1", "T2", date.min)),
        equipment=(
            Equipment("G1", EquipmentKind.GFCI, "GFCI", site="S1", serves=("CH1", "T2")),
            Equipment("H1", EquipmentKind.HEATER, "Heater", tank="T1"),
        ),
    )


@pytest.mark.parametrize(
    ("since", "until", "day", "holds"),
    [
        (date(2026, 5, 3), None, date(2026, 5, 2), False),
        (date(2026, 5, 3), None, date(2026, 5, 3), True),
        (date(2026, 5, 3), date(2026, 6, 1), date(2026, 5, 31), True),
        (date(2026, 5, 3), date(2026, 6, 1), date(2026, 6, 1), False),
        (date.min, None, date(1900, 1, 1), True),
    ],
)
def test_a_dated_fact_holds_from_since_up_to_but_not_on_until(since, until, day, holds):
    assert holds_on(since, until, day) is holds


def test_the_later_row_of_a_tank_counts_from_its_own_day(rows):
    both = RegisterRows(tanks=(a_tank(target_c=25.0), a_tank(target_c=24.0, since=date(2026, 5, 3))))
    assert snapshot(both, date(2026, 5, 2)).tank_by_code["T1"].target_c == 25.0
    assert snapshot(both, date(2026, 5, 3)).tank_by_code["T1"].target_c == 24.0


def test_a_tank_that_begins_later_is_not_there_before():
    rows = RegisterRows(tanks=(a_tank(since=date(2026, 5, 3)),))
    assert snapshot(rows, date(2026, 5, 2)).tanks == ()


def test_of_two_lights_one_after_the_other_only_the_standing_one_shines(rows):
    lights = RegisterRows(
        loads=(
            Load("T1", "light", LoadKind.LIGHT, 250.0, date(2024, 1, 1), until=date(2026, 5, 3)),
            Load("T1", "light", LoadKind.LIGHT, 310.0, date(2026, 5, 3)),
        )
    )
    assert [load.power_w for load in snapshot(lights, date(2026, 5, 3)).loads] == [310.0]


def test_a_device_is_where_it_stood_on_that_day(rows):
    assert snapshot(rows, date(2025, 5, 31)).room_of("CH1") == "R2"
    assert snapshot(rows, date(2025, 6, 1)).room_of("CH1") == "R1"


def test_a_device_without_a_place_is_in_the_room_of_the_tank_it_cools(rows):
    assert snapshot(rows, date(2026, 1, 1)).room_of("F1") == "R2"


def test_a_device_that_nothing_ties_to_a_room_has_no_site(rows):
    fleet = snapshot(rows, date(2026, 1, 1))
    assert fleet.room_of("X1") is None
    assert fleet.site_of("X1") is None


@pytest.mark.parametrize("code", ["S1", "R1", "T1", "CH1", "G1", "H1"])
def test_every_thing_that_is_tied_to_a_site_finds_it(rows, code):
    assert snapshot(rows, date(2026, 1, 1)).site_of(code) == "S1"


@pytest.mark.parametrize(
    ("code", "tanks"),
    [
        ("T1", ("T1",)),
        ("CH1", ("T1", "T2")),
        ("F1", ("T2",)),
        ("R2", ("T2",)),
        ("S1", ("T1", "T2")),
        ("G1", ("T2",)),
        ("H1", ("T1",)),
        ("C1", ()),
    ],
)
def test_the_tanks_that_a_subject_concerns(rows, code, tanks):
    assert snapshot(rows, date(2026, 1, 1)).tanks_of(code) == tanks


def test_the_order_of_the_rows_does_not_matter(rows):
    turned = RegisterRows(**{name: getattr(rows, name)[::-1] for name in RegisterRows.__dataclass_fields__})
    assert snapshot(turned, date(2026, 1, 1)) == snapshot(rows, date(2026, 1, 1))


def test_a_code_says_what_it_stands_for(rows):
    kinds = snapshot(rows, date(2026, 1, 1)).kind_by_code
    assert kinds["CH1"] is SubjectKind.DEVICE
    assert kinds["T1"] is SubjectKind.TANK
    assert kinds["G1"] is SubjectKind.EQUIPMENT
