"""Small fleets for the heat balance: one room, one tank, what heats it and what cools it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from fleet.thermal.assess import assess
from fleet.values.assessment import Assessment
from fleet.values.fleet import Fleet, snapshot
from fleet.values.register import Client, Device, Duty, Load, Placement, RegisterRows, Room, Site, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Scenario, Stand, TankKind, Wall, Where

DAY = date(2026, 5, 4)
GALLON_M3 = 0.003785411784

Assess = Callable[..., Assessment]


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


@pytest.fixture
def room() -> Room:
    return Room(
        "room",
        "site",
        "Gallery",
        hot_day_mean_c=celsius(80.0),
        air_conditioned=True,
        hot_day_rise_k=0.0,
        relative_humidity=0.5,
        ac_off_mean_c=33.0,
        ac_off_rise_k=2.0,
        volume_m3=200.0,
        ua_w_per_k=200.0,
    )


@pytest.fixture
def tank() -> Tank:
    """A 75 gal glass reef with an open top on an open stand; 284 L of water."""
    return Tank(
        "tank",
        "room",
        "Reef",
        TankKind.REEF,
        length_m=1.22,
        width_m=0.46,
        height_m=0.506,
        target_c=celsius(78.0),
        wall=Wall.GLASS,
        wall_thickness_m=0.010,
        net_volume_m3=75 * GALLON_M3,
        salinity_g_per_kg=35.0,
        lid=Lid.OPEN,
        stand=Stand.OPEN,
        watch_high_c=28.0,
        act_high_c=29.5,
    )


@pytest.fixture
def loads() -> tuple[Load, ...]:
    return (
        Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, 105.0, date.min),
        Load("tank", "light", LoadKind.LIGHT, 250.0, date.min, hours_per_day=9.0, mounting=Mounting.RIM),
    )


@pytest.fixture
def chiller() -> Device:
    return Device(
        "chiller",
        DeviceKind.CHILLER,
        "Chiller",
        rated_cooling_w=600.0,
        rated_power_w=200.0,
        installed=DAY,
    )


def beside(device: str = "chiller", **facts: Any) -> Placement:
    return replace(Placement(device, Where.BESIDE_TANK, date.min, room="room", clearance_m=0.5), **facts)


def one_room(
    room: Room,
    tanks: Sequence[Tank],
    loads: Sequence[Load] = (),
    devices: Sequence[Device] = (),
    placements: Sequence[Placement] = (),
    duties: Sequence[Duty] | None = None,
    site: Site | None = None,
    **more: Any,
) -> Fleet:
    """A fleet of one room; each device serves every tank where no duties are given."""
    if duties is None:
        duties = [Duty(device.code, tank.code, date.min) for device in devices for tank in tanks]
    return snapshot(
        RegisterRows(
            clients=(Client("client", "The Tidewater Rooms"),),
            sites=(site or Site("site", "client", "Harbour house", "Europe/London", elevation_m=0.0),),
            rooms=(room,),
            tanks=tuple(tanks),
            loads=tuple(loads),
            devices=tuple(devices),
            placements=tuple(placements),
            duties=tuple(duties),
            **more,
        ),
        DAY,
    )


def on_hot_day(fleet: Fleet, tank: str = "tank") -> Assessment:
    return assess(fleet, {}, scenarios=(Scenario.HOT_DAY,), tanks=[tank])[0]


def with_ac_off(fleet: Fleet, tank: str = "tank") -> Assessment:
    return assess(fleet, {}, scenarios=(Scenario.AC_OFF,), tanks=[tank])[0]
