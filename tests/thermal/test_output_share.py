"""Outputs as shares of the clean device's, under like conditions."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.thermal.coolers import chiller_capacity_factor, plate_to_watts
from fleet.thermal.output_share import output_shares
from fleet.thermal.properties import volumetric_heat_capacity
from fleet.values.fleet import snapshot
from fleet.values.register import Client, Device, Duty, Reading, RegisterRows, Room, ServiceRecord, Site, Tank
from fleet.values.vocabulary import DeviceKind, Finding, ReadingQuantity, TankKind

DAY = date(2026, 5, 20)
CLEANED = date(2026, 3, 1)
FLOW, IN, OUT = ReadingQuantity.FLOW, ReadingQuantity.WATER_IN_TEMP, ReadingQuantity.WATER_OUT_TEMP
INTAKE, ROOM = ReadingQuantity.INTAKE_AIR_TEMP, ReadingQuantity.ROOM_TEMP


def reading(quantity, value, day, subject="C"):
    return Reading(subject, quantity, value, datetime.combine(day, datetime.min.time(), UTC) + timedelta(hours=12))


def measured(day, drop_k, water_c=25.0, air_c=30.0, flow_m3_h=1.8):
    return [
        reading(IN, water_c, day),
        reading(OUT, water_c - drop_k, day),
        reading(FLOW, flow_m3_h, day),
        reading(INTAKE, air_c, day),
    ]


def cleaned(day=CLEANED, task="clean-condenser-fins", **more):
    return ServiceRecord("C", task, day, **more)


def shares(*readings, history=(), kind=TankKind.TROPICAL_FRESH, **device):
    rows = RegisterRows(
        clients=(Client("CL", "Fog Bell Ponds"),),
        sites=(Site("S", "CL", "Fog Bell", "Europe/Lisbon"),),
        rooms=(Room("R", "S", "Room", 26.0),),
        tanks=(Tank("T", "R", "Tank", kind, 1.2, 0.5, 0.5, 25.0),),
        devices=(Device("C", device.pop("device_kind", DeviceKind.CHILLER), "Chiller", **device),),
        duties=(Duty("C", "T", date(2020, 1, 1)),),
        history=tuple(history),
        readings=tuple(one for some in readings for one in some),
    )
    return output_shares(snapshot(rows, DAY))


@pytest.mark.parametrize(("kind", "per_litre"), [(TankKind.TROPICAL_FRESH, 4186.0), (TankKind.REEF, 4090.0)])
def test_the_output_is_flow_times_difference_as_it_is_reckoned_by_hand(kind, per_litre):
    """W = 4,186 x L/s x K, sea water about 4,090: common practice. Ours knows how they move with temperature."""
    (one,) = shares(measured(CLEANED, 0.5), history=[cleaned()], kind=kind)
    assert one.watts == pytest.approx(per_litre * 0.5 * 0.5, rel=0.01)


@given(
    then=st.tuples(st.floats(10.0, 28.0), st.floats(16.0, 40.0)),
    now=st.tuples(st.floats(10.0, 28.0), st.floats(16.0, 40.0)),
    left=st.floats(0.3, 1.0),
)
@settings(max_examples=60, deadline=None)
def test_warm_rooms_and_cold_water_are_no_dirt(then, now, left):
    """A chiller that follows its curve, and has lost a share of its output to dirt, is told to have that share left,
    whatever the room and the water were on both days."""

    def drop(share, water_c, air_c):
        return share * 4e6 * chiller_capacity_factor(water_c, air_c) / volumetric_heat_capacity(water_c)

    first, later = measured(CLEANED, drop(1.0, *then), *then), measured(DAY, drop(left, *now), *now)
    clean, dirty = shares(first, later, history=[cleaned()])
    assert clean.share == 1.0
    assert dirty.share == pytest.approx(left)


def test_the_measure_is_the_first_output_after_a_cleaning():
    days = [CLEANED - timedelta(days=40), CLEANED + timedelta(days=3), CLEANED + timedelta(days=10), DAY]
    drops = [0.6, 1.0, 0.9, 0.8]
    found = shares(*(measured(day, drop) for day, drop in zip(days, drops, strict=True)), history=[cleaned()])
    assert [round(one.share, 3) for one in found] == [0.6, 1.0, 0.9, 0.8]
    assert {one.basis for one in found} == {"the clean unit on 2026-03-04"}


@pytest.mark.parametrize(
    ("history", "device", "basis"),
    [
        ([], {}, None),
        ([], {"rated_cooling_w": 1000.0}, "watts of cooling on the plate"),
        ([], {"rated_horsepower_w": 75.0}, None),
        ([], {"installed": CLEANED}, "the clean unit on 2026-03-01"),
        ([cleaned(finding=Finding.NOT_INSPECTED)], {}, None),
        ([cleaned(DAY - timedelta(days=15))], {}, None),
        ([cleaned(task="descale-exchanger-inside")], {"rated_cooling_w": 1000.0}, "the clean unit on 2026-03-01"),
    ],
    ids=["nothing", "plate", "a motor's size says too little", "new", "not cleaned", "too long after", "descaled"],
)
def test_what_the_share_is_of(history, device, basis):
    found = shares(measured(CLEANED, 1.0), measured(DAY, 0.8), history=history, **device)
    assert {one.basis for one in found} == ({basis} if basis else set())


def test_a_plate_is_carried_to_the_conditions_of_the_measurement():
    """1,000 W at 25 °C water and 30 °C air; of colder water in a cooler room the curve asks for less."""
    factor = chiller_capacity_factor(20.0, 25.0)
    (one,) = shares(measured(DAY, 0.5, 20.0, 25.0), rated_cooling_w=1000.0)
    assert one.share == pytest.approx(one.watts / factor / plate_to_watts("watts", 1000.0).mid)
    assert one.basis_error == 0.0


def test_a_device_put_up_elsewhere_is_measured_anew():
    moved = CLEANED + timedelta(days=30)
    history = [cleaned(), cleaned(moved, "recommission-after-move")]
    found = shares(measured(CLEANED, 1.0), measured(moved, 0.8), measured(DAY, 0.72), history=history)
    assert [(one.on, round(one.share, 2)) for one in found] == [(moved, 1.0), (DAY, 0.9)]


@pytest.mark.parametrize(
    "spoiled",
    [
        {"drop_k": 0.0},
        {"drop_k": -0.4},
        {"drop_k": 1.0, "water_c": 31.0},
        {"drop_k": 1.0, "air_c": 12.0},
        {"drop_k": 1.0, "flow_m3_h": 0.0},
    ],
)
def test_what_cannot_be_is_left_out(spoiled):
    assert [one.on for one in shares(measured(CLEANED, 1.0), measured(DAY, **spoiled), history=[cleaned()])] == [
        CLEANED
    ]


def test_air_of_the_room_stands_in_for_intake_air():
    no_air = [one for one in measured(CLEANED, 1.0) if one.quantity is not INTAKE]
    assert not shares(no_air, history=[cleaned()])
    assert shares(no_air, [reading(ROOM, 30.0, CLEANED)], history=[cleaned()])
    assert shares(no_air, [reading(ROOM, 30.0, CLEANED, "R")], history=[cleaned()])


def test_a_small_difference_is_told_with_a_large_error():
    """At 0.3 K in and out an error of 0.1 K is a third of the answer: common practice. Read three times with one
    thermometer, a tenth is left."""
    small, large = shares(measured(CLEANED, 0.3), measured(DAY, 3.0), history=[cleaned()])
    assert small.error == pytest.approx(math.hypot(0.1, 0.03), rel=0.01)
    assert large.error / large.share == pytest.approx(math.hypot(0.01, 0.03), rel=0.01)


def test_thermoelectric_coolers_are_measured_against_the_difference_they_work_over():
    """Linear in the difference between air and water (Mechanical Engineers' Handbook vol. 4, eq. 112-117): with none it
    moves 27.5 / 22.5 of what it moves over 5 K, for a largest difference of 27.5 K."""
    first, later = measured(CLEANED, 0.9), measured(DAY, 1.1, 25.0, 25.0)
    found = shares(first, later, history=[cleaned(task="clean-heatsink")], device_kind=DeviceKind.THERMOELECTRIC)
    assert [round(one.share, 3) for one in found] == [1.0, 1.0]


def test_fans_have_no_output():
    assert not shares(measured(CLEANED, 1.0), history=[cleaned()], device_kind=DeviceKind.SURFACE_FAN)
