"""Energy of coolers over a year and the heat that they put into a room: everything that goes in comes out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from fleet.thermal.assess import build
from fleet.thermal.balance import equilibrium
from fleet.thermal.capacity import at_peak
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.day import Controls, periodic_day
from fleet.thermal.energy import (
    DAYS_OF_YEAR,
    animals_heat,
    held_day,
    hot_days,
    rest_of_year,
    stand_fans_power,
    year_kwh,
    yearly_cost,
)
from fleet.thermal.properties import latent_heat
from fleet.thermal.rooms import HOT
from fleet.thermal.tanks import MID
from fleet.values.register import Animals, Device, Load, Placement, YearSpan
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Stand, Where

CLOSES = 1e-6
"""Relative to the electric power that goes in."""


@pytest.fixture
def tight(tank):
    """The reef on a closed stand with a sump in it."""
    return replace(tank, stand=Stand.CLOSED, sump_area_m2=0.30, sump_volume_m3=0.075)


@pytest.fixture
def kit(loads):
    return (*loads, Load("tank", "driver", LoadKind.OTHER, 40.0, date.min, mounting=Mounting.REMOTE))


def held(fleet):
    model = build(fleet, {}, [tank.code for tank in fleet.tanks])
    return model, held_day(model, animals_heat(fleet, model.tanks.codes))


PLACES_IN_THE_ROOM = [Where.BESIDE_TANK, Where.THROUGH_PANEL, Where.IN_STAND, Where.IN_STAND_VENTED]


@pytest.mark.parametrize("where", PLACES_IN_THE_ROOM)
def test_with_its_chiller_indoors_a_room_gets_exactly_the_electric_power_of_tank_and_chiller(
    bench, room, tight, kit, chiller, where
):
    """First law, steady state: the heat taken from the water comes back to the room."""
    stand_of = "tank" if where in (Where.IN_STAND, Where.IN_STAND_VENTED) else None
    fleet = bench.one_room(
        room,
        [replace(tight, stand_vent_flow_m3_h=150.0)],
        kit,
        [chiller],
        [bench.beside(where=where, stand_of=stand_of)],
        animals=(Animals("tank", "fish", date.min, mass_kg=2.0),),
    )
    model, day = held(fleet)
    goes_in = model.tanks.electric_mean_w[0] + animals_heat(fleet, ["tank"])[0] + day.cooler_power_w[0]
    assert 0.0 < day.duty[0] < 1.0
    assert day.to_room_w[0] == pytest.approx(goes_in, rel=CLOSES)
    assert day.elsewhere_w[0] == 0.0


def test_with_its_chiller_outdoors_a_room_gets_that_less_what_leaves_through_the_condenser(
    bench, room, tight, kit, chiller
):
    fleet = bench.one_room(room, [tight], kit, [chiller], [bench.beside(where=Where.OUTDOORS, room=None)])
    model, day = held(fleet)
    goes_in = model.tanks.electric_mean_w[0] + day.cooler_power_w[0]
    assert day.elsewhere_w[0] > 100.0
    assert day.to_room_w[0] + day.elsewhere_w[0] == pytest.approx(goes_in, rel=CLOSES)


def test_a_cold_tank_with_its_condenser_outdoors_cools_its_room(bench, room, tank, chiller):
    cold = replace(tank, target_c=12.0, watch_high_c=14.0, act_high_c=18.0)
    big = replace(chiller, rated_cooling_w=3000.0, rated_power_w=1000.0)
    _model, day = held(bench.one_room(room, [cold], (), [big], [bench.beside(where=Where.OUTDOORS, room=None)]))
    assert day.to_room_w[0] < -100.0


def test_a_fan_puts_its_own_power_and_all_that_it_takes_into_the_room(bench, room, tight, kit):
    fan = Device("fan", DeviceKind.SURFACE_FAN, "Fan", air_flow_m3_h=300.0, fan_diameter_m=0.2, rated_power_w=9.0)
    model, day = held(bench.one_room(replace(room, hot_day_mean_c=23.0), [tight], kit, [fan]))
    assert 0.0 < day.duty[0] <= 1.0
    assert 0.0 < day.cooler_power_w[0] < 9.0
    assert day.to_room_w[0] == pytest.approx(model.tanks.electric_mean_w[0] + day.cooler_power_w[0], rel=CLOSES)


def test_a_heater_is_electric_power_too(bench, room, tank, loads):
    heated = (Load("tank", "pump", LoadKind.SUBMERGED_PUMP, 20.0, date.min),)
    heater = Load("tank", "heater", LoadKind.HEATER, 500.0, date.min)
    model, day = held(bench.one_room(replace(room, hot_day_mean_c=20.0), [tank], (*heated, heater)))
    assert day.heating_w[0] > 50.0
    assert day.to_room_w[0] == pytest.approx(model.tanks.electric_mean_w[0] + day.heating_w[0], rel=CLOSES)


def test_the_vapour_is_28_w_for_each_litre_a_day(bench, room, tank, loads):
    """Latent heat at 25 °C: 2441.7 kJ/kg (IAPWS-95, saturation table), so 28.3 W for 1 kg a day."""
    assert latent_heat(25.0) / 86_400.0 == pytest.approx(2441.7e3 / 86_400.0, rel=1e-3)
    fleet = bench.one_room(room, [tank], loads)
    _model, day = held(fleet)
    open_water = held(bench.one_room(room, [replace(tank, lid=Lid.SEALED)], loads))[1]
    assert day.vapour_w[0] > 5.0 * open_water.vapour_w[0] > 0.0


def test_the_power_of_a_day_agrees_with_the_day_followed_by_its_thermostat(bench, room, tight, kit, chiller):
    """Steady hours against the simulation over time, at constant room air; lamps are on all day in both."""
    steady = [replace(load, hours_per_day=24.0) for load in kit]
    fleet = bench.one_room(room, [tight], steady, [chiller], [bench.beside()])
    model, day = held(fleet)
    cases = spread_over_cases(model, np.array([MID]), np.array([HOT]))
    gain, stand_gain = (table.mean(axis=-1)[:, cases.side] for table in (model.tanks.gain_w, model.tanks.stand_gain_w))
    _rest, tau = equilibrium(cases, gain, stand_gain)
    links, fans = model.devices.links, model.devices.fans
    controls = Controls(
        np.ones((links.tank.size, 1), dtype=bool),
        np.ones((fans.tank.size, 1), dtype=bool),
        at_peak(model, HOT).share,
    )
    target = model.tanks.target_c[:, None] + np.zeros((1, 1))
    course = periodic_day(cases, controls, guess_c=target, time_constant_s=tau)
    assert course.duty[0, 0] == pytest.approx(day.duty[0], rel=0.03)


@pytest.mark.parametrize("warmer_k", [1.0, 3.0, 6.0])
def test_a_warmer_room_never_asks_for_less_energy(bench, room, tight, kit, chiller, warmer_k):
    def power(mean_c):
        fleet = bench.one_room(replace(room, hot_day_mean_c=mean_c), [tight], kit, [chiller], [bench.beside()])
        return held(fleet)[1].cooler_power_w[0]

    assert power(room.hot_day_mean_c + warmer_k) > power(room.hot_day_mean_c)


def test_the_rest_of_the_year_is_milder_and_changes_nothing_but_the_air(bench, room, tight, kit, chiller):
    fleet = bench.one_room(room, [tight], kit, [chiller], [bench.beside()])
    model = build(fleet, {}, ["tank"])
    milder = rest_of_year(model)
    assert milder.rooms.mean_c[0, HOT] == 21.0
    assert milder.tanks is model.tanks
    assert milder.devices is model.devices
    none = np.zeros(1)
    assert held_day(milder, none).cooler_power_w[0] < held_day(model, none).cooler_power_w[0]


def test_a_room_that_is_cold_all_year_has_no_rest_of_the_year(bench, room, tight, kit, chiller):
    fleet = bench.one_room(replace(room, hot_day_mean_c=18.0), [tight], kit, [chiller], [bench.beside()])
    model = build(fleet, {}, ["tank"])
    assert rest_of_year(model).rooms.mean_c[0, HOT] == 18.0


def test_days_of_the_hot_season():
    assert hot_days([YearSpan(6, 1, 9, 30)]) == 30 + 31 + 31 + 30
    assert hot_days([YearSpan(12, 1, 3, 15)]) == 31 + 31 + 28 + 15
    assert hot_days([YearSpan(5, 1, 6, 15), YearSpan(6, 1, 6, 30)]) == 31 + 30
    assert hot_days([YearSpan(2, 29, 2, 29)]) == 1
    assert hot_days([]) == DAYS_OF_YEAR


def test_a_year_is_hot_days_and_the_rest():
    assert year_kwh(100.0, 0.0, 100) == pytest.approx(240.0)
    assert year_kwh(100.0, 50.0, 100) == pytest.approx(240.0 + 265 * 24 * 0.05)
    assert year_kwh(100.0, 100.0, 17) == pytest.approx(876.0)


def test_money_is_decimal_to_the_cent_and_unknown_without_a_tariff():
    assert yearly_cost(876.0, Decimal("0.29")) == Decimal("254.04")
    assert yearly_cost(0.0, Decimal("0.29")) == Decimal("0.00")
    assert yearly_cost(876.0, None) is None


def test_a_stand_fan_runs_all_the_time(bench, room, tight, kit, chiller):
    fan = Device("stand-fan", DeviceKind.STAND_FAN, "Fan", air_flow_m3_h=100.0, rated_power_w=5.0)
    fleet = bench.one_room(
        room,
        [tight],
        kit,
        [chiller, fan],
        [bench.beside(), Placement("stand-fan", Where.IN_STAND_VENTED, date.min, stand_of="tank")],
    )
    model = build(fleet, {}, ["tank"])
    assert stand_fans_power(fleet, model)[0] == 5.0
