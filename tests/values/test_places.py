"""Where a subject stood on a day that has passed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleet.values.places import Places
from fleet.values.register import Client, Device, Duty, Equipment, Placement, RegisterRows, Room, Site, Tank
from fleet.values.vocabulary import DeviceKind, EquipmentKind, TankKind, Where

MOVED = date(2025, 9, 1)
BEFORE, AFTER = MOVED - timedelta(days=1), MOVED


def a_tank(code: str, room: str, since: date = date.min) -> Tank:
    return Tank(code, room, code, TankKind.REEF, 1.0, 0.5, 0.5, 25.0, since=since)


@pytest.fixture
def places() -> Places:
    return Places(
        RegisterRows(
            clients=(Client("ONE", "One"), Client("TWO", "Two")),
            sites=(Site("S1", "ONE", "First", "UTC"), Site("S2", "TWO", "Second", "UTC")),
            rooms=(Room("R1", "S1", "Room", 24.0), Room("R2", "S2", "Room", 24.0)),
            tanks=(a_tank("T1", "R1"), a_tank("T2", "R2"), a_tank("T3", "R1"), a_tank("T3", "R2", MOVED)),
            devices=(Device("SPARE", DeviceKind.CHILLER, "Spare"), Device("FAN", DeviceKind.SURFACE_FAN, "Fan")),
            placements=(
                Placement("SPARE", Where.IN_STAND, date(2024, 1, 1), stand_of="T1", until=MOVED),
                Placement("SPARE", Where.BESIDE_TANK, MOVED, room="R2", until=date(2026, 1, 1)),
            ),
            duties=(Duty("FAN", "T1", date(2024, 1, 1), until=MOVED), Duty("FAN", "T2", MOVED)),
            equipment=(
                Equipment("KIT", EquipmentKind.FIELD_KIT, "Kit", site="S2"),
                Equipment("HEATER", EquipmentKind.HEATER, "Heater", tank="T3"),
                Equipment("LOOSE", EquipmentKind.HEATER, "In no place"),
            ),
        )
    )


@pytest.mark.parametrize(
    ("code", "before", "after"),
    [
        ("S1", "S1", "S1"),
        ("R2", "S2", "S2"),
        ("T3", "S1", "S2"),
        ("SPARE", "S1", "S2"),
        ("FAN", "S1", "S2"),
        ("KIT", "S2", "S2"),
        ("HEATER", "S1", "S2"),
        ("LOOSE", None, None),
        ("UNHEARD-OF", None, None),
    ],
)
def test_a_subject_belongs_to_the_site_where_it_stood_that_day(places, code, before, after):
    assert (places.site_on(code, BEFORE), places.site_on(code, AFTER)) == (before, after)


def test_a_device_that_left_belongs_to_no_site(places):
    assert places.site_on("SPARE", date(2026, 1, 1)) is None
    assert places.client_on("SPARE", date(2026, 1, 1)) is None


def test_days_before_the_first_row_count_as_its_own(places):
    assert places.site_on("SPARE", date(2020, 1, 1)) == "S1"


def test_the_client_is_the_one_of_the_site(places):
    assert (places.client_on("T3", BEFORE), places.client_on("T3", AFTER)) == ("ONE", "TWO")
