"""Small fleets for the heat balance: one room, one tank, what heats it and what cools it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fleet.thermal.assess import assess, build
from fleet.thermal.balance import equilibrium
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.day import Controls, periodic_day, simulate
from fleet.thermal.tanks import MID
from fleet.values.assessment import Assessment
from fleet.values.fleet import Fleet, snapshot
from fleet.values.register import Client, Device, Duty, Load, Placement, RegisterRows, Room, Site, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Scenario, Stand, TankKind, Wall, Where

DAY = date(2026, 5, 4)
GALLON_M3 = 0.003785411784


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


def mean_over_a_day(fleet: Fleet, *, running: bool = False, side: int = MID) -> float:
    """Mean water temperature of the first tank's repeating hot day, on the middle estimate. [°C]

    running: whether its devices run all the time; a thermostat far below lets them.
    """
    model = build(fleet, {}, [tank.code for tank in fleet.tanks])
    model = replace(model, tanks=replace(model.tanks, target_c=model.tanks.target_c * 0.0 + 0.5))
    cases = spread_over_cases(model, np.array([side]), np.array([0]))
    links, fans = model.devices.links, model.devices.fans
    controls = Controls(
        np.full((links.tank.size, 1), running), np.full((fans.tank.size, 1), running), np.ones(links.tank.size)
    )
    gain, stand_gain = (table.mean(axis=-1)[:, cases.side] for table in (model.tanks.gain_w, model.tanks.stand_gain_w))
    rest, tau = equilibrium(cases, gain, stand_gain)
    settled = periodic_day(cases, controls, guess_c=rest, time_constant_s=tau).end_c
    course = simulate(cases, controls, start_c=settled, start_hour=np.zeros(1, dtype=int), hours=24.0, keep=True)
    assert course.temps_c is not None
    return float(course.temps_c[0, 0].mean())


@pytest.fixture
def bench() -> SimpleNamespace:
    """The helpers above, since test modules cannot import this file."""
    return SimpleNamespace(
        day=DAY,
        gallon_m3=GALLON_M3,
        beside=beside,
        celsius=celsius,
        mean_over_a_day=mean_over_a_day,
        on_hot_day=on_hot_day,
        one_room=one_room,
        with_ac_off=with_ac_off,
    )
