"""What must hold whatever the figures: energy, and the direction in which each fact moves the result."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from fleet.thermal.assess import build
from fleet.thermal.balance import Air, air_at, equilibrium, fan_cooling, losses
from fleet.thermal.capacity import at_peak
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.coolers import (
    chiller_capacity_factor,
    chiller_power_factor,
    condensing_temp,
    screen_capacity_factor,
    screen_power_factor,
)
from fleet.thermal.day import Controls, exponential_step, simulate
from fleet.thermal.exchange import (
    lewis_gamma,
    still_evaporation,
    surface_coefficients,
    wall_u_value,
)
from fleet.thermal.full_duty import at_full_duty
from fleet.thermal.margin import hours_to_limit
from fleet.thermal.properties import latent_heat, saturation_pressure, wet_bulb
from fleet.thermal.rooms import HOT, room_vapour
from fleet.thermal.tanks import SAFE
from fleet.values.fleet import snapshot
from fleet.values.register import Animals, Client, Device, Duty, Load, RegisterRows, Room, ServiceRecord, Site, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Stand, TankKind, Wall, Where

FEW = settings(max_examples=25, deadline=None)


def test_one_exponential_step_is_the_analytic_solution():
    """C 1.3e6 J/K, UA 25 W/K, 150 W into water in a 26 °C room for 24 h: 30.8609199 °C, analytic."""
    heat_capacity, conductance, start = 1.3e6, 25.0, np.array(26.0)
    rate = (150.0 - conductance * (start - 26.0)) / heat_capacity
    one = exponential_step(start, rate, np.array(conductance / heat_capacity), 86_400.0)
    assert float(one) == pytest.approx(30.8609199, abs=1e-7)
    many = start
    for _ in range(144):
        rate = (150.0 - conductance * (many - 26.0)) / heat_capacity
        many = exponential_step(many, rate, np.array(conductance / heat_capacity), 600.0)
    assert float(many) == pytest.approx(float(one), abs=1e-9)


@pytest.fixture
def steady(bench, room, tank):
    """A tank with constant heat in a room of constant temperature, on the middle estimate."""
    pump = Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, 120.0, date.min)
    model = build(bench.one_room(room, [tank], [pump]), {}, ["tank"])
    return spread_over_cases(model, np.array([1]), np.array([0]))


def _air(cases):
    room_c = np.full((1, 1), cases.model.rooms.mean_c[0, 0])
    return Air(room_c, room_c, room_c, np.full((1, 1), cases.model.rooms.vapour_pa[0, 0]))


def test_at_equilibrium_what_goes_in_goes_out(steady):
    gain, stand_gain = np.full((1, 1), 120.0), np.zeros((1, 1))
    rest, _tau = equilibrium(steady, gain, stand_gain)
    air = _air(steady)
    assert losses(steady, rest, air, air.room_c, air.vapour_pa).watts == pytest.approx(gain, abs=1e-6)


def test_the_losses_are_the_sum_of_walls_bottom_surface_and_vapour(steady):
    """Hand sum at 29 °C from the public coefficients, on an open tank on an open stand."""
    water_c = np.full((1, 1), 29.0)
    air = _air(steady)
    room_c = float(air.room_c[0, 0])
    humidity = float(air.vapour_pa[0, 0]) / saturation_pressure(room_c)
    latent, convective, radiative = surface_coefficients(29.0, room_c, humidity, 0.0, 35.0)
    vapour_pa = (1 - 5.37e-4 * 35.0) * saturation_pressure(29.0) - humidity * saturation_pressure(room_c)
    surface = 1.22 * 0.46
    by_hand = (
        surface * ((convective + radiative) * (29.0 - room_c) + latent * vapour_pa)
        + float(steady.wall_ua[0, 0]) * (29.0 - room_c)
        + 2.0 * surface * (29.0 - room_c)
    )
    found = losses(steady, water_c, air, air.room_c, air.vapour_pa)
    assert found.watts[0, 0] == pytest.approx(by_hand, rel=1e-3)
    vapour_w = still_evaporation(29.0, room_c, humidity, 35.0) * latent_heat(29.0) * surface
    assert found.evaporation_kg_s[0, 0] * latent_heat(29.0) == pytest.approx(vapour_w, rel=1e-3)


def test_a_long_run_ends_where_the_balance_says(steady):
    gain, stand_gain = np.full((1, 1), 120.0), np.zeros((1, 1))
    rest, _tau = equilibrium(steady, gain, stand_gain)
    nothing = np.zeros((0, 1), dtype=bool)
    course = simulate(
        steady,
        Controls(nothing, nothing, np.zeros(0)),
        start_c=np.full((1, 1), 22.0),
        start_hour=np.zeros(1, dtype=int),
        hours=24.0 * 20,
    )
    assert course.end_c == pytest.approx(rest, abs=0.01)


def test_hours_of_the_run_agree_with_the_first_order_solution(steady):
    """The closed form with the secant time constant, heat capacity by distance over the net flow at the start."""
    gain, stand_gain = np.full((1, 1), 120.0), np.zeros((1, 1))
    rest, _tangent = equilibrium(steady, gain, stand_gain)
    start, limit = float(rest[0, 0]) - 1.0, float(rest[0, 0]) - 0.4
    nothing = np.zeros((0, 1), dtype=bool)
    course = simulate(
        steady,
        Controls(nothing, nothing, np.zeros(0)),
        start_c=np.full((1, 1), start),
        start_hour=np.zeros(1, dtype=int),
        hours=168.0,
        limit_c=np.array([limit]),
    )
    air = _air(steady)
    net_w = 120.0 - float(losses(steady, np.full((1, 1), start), air, air.room_c, air.vapour_pa).watts[0, 0])
    secant_s = float(steady.heat_capacity_j_k[0, 0]) * 1.0 / net_w
    closed_form = hours_to_limit(start, limit, float(rest[0, 0]), secant_s)
    assert course.passed_after_h[0, 0] == pytest.approx(closed_form, rel=0.05)


@FEW
@given(st.floats(0.004, 0.05), st.floats(0.005, 0.05), st.floats(26.0, 35.0))
def test_a_thicker_wall_never_conducts_more(thickness, extra, water_c):
    thin = wall_u_value(water_c, 24.0, 0.5, thickness, 0.19)
    assert wall_u_value(water_c, 24.0, 0.5, thickness + extra, 0.19) < thin


@FEW
@given(st.floats(5.0, 30.0), st.floats(10.0, 35.0), st.floats(0.1, 1.0))
def test_a_fan_moves_water_toward_the_wet_bulb(water_c, air_c, humidity):
    """Evaporation and convection by moving air together change sign at the wet bulb (Lewis factor one)."""
    limit = wet_bulb(air_c, humidity)
    latent, convective, _ = surface_coefficients(water_c, air_c, humidity, 1.0)
    still_latent, still_convective, _ = surface_coefficients(water_c, air_c, humidity, 0.0)
    vapour = saturation_pressure(water_c) - humidity * saturation_pressure(air_c)
    leaving = (convective - still_convective) * (water_c - air_c) + (latent - still_latent) * vapour
    if abs(water_c - limit) > 0.2:
        assert math.copysign(1.0, leaving) == math.copysign(1.0, water_c - limit)


def required(bench, room, tank, loads, **more):
    fleet = bench.one_room(room, [tank], loads, **more)
    return float(at_peak(build(fleet, {}, ["tank"]), HOT).required_w[0, SAFE])


def test_insulation_lowers_the_load_of_a_tank_colder_than_its_room(bench, room, tank, loads):
    cold = replace(tank, target_c=18.0)
    loads_w = [
        required(bench, room, replace(cold, wall_thickness_m=thickness), loads) for thickness in (0.006, 0.012, 0.05)
    ]
    assert loads_w == sorted(loads_w, reverse=True)


def test_each_watt_in_the_water_is_a_watt_to_remove(bench, room, tank, loads):
    more = (*loads, Load("tank", "return pump", LoadKind.SUBMERGED_PUMP, 40.0, date.min))
    assert required(bench, room, tank, more) - required(bench, room, tank, loads) == pytest.approx(40.0, abs=1e-6)


def test_a_heater_is_no_load_on_a_hot_day(bench, room, tank, loads):
    more = (*loads, Load("tank", "heater", LoadKind.HEATER, 300.0, date.min))
    assert required(bench, room, tank, more) == pytest.approx(required(bench, room, tank, loads))


def test_stock_of_known_mass_adds_its_heat(bench, room, tank, loads):
    """1 W/kg fed on the safe side; at rest 66 mg O2/(kg h), 13.6 kJ/g, 0.25 W/kg (J. Fish Biol. 2002, turbot)."""
    assert pytest.approx(0.249, abs=0.01) == 66e-3 / 3600.0 * 13.6e3
    stock = (Animals("tank", "fish", date.min, mass_kg=20.0),)
    added = required(bench, room, tank, loads, animals=stock) - required(bench, room, tank, loads)
    assert added == pytest.approx(20.0, abs=1e-6)


def test_a_warmer_room_and_more_moisture_raise_the_load(bench, room, tank, loads):
    by_room = [required(bench, replace(room, hot_day_mean_c=t), tank, loads) for t in (22.0, 26.0, 30.0, 34.0)]
    by_moisture = [required(bench, replace(room, relative_humidity=h), tank, loads) for h in (0.3, 0.5, 0.7)]
    assert by_room == sorted(by_room)
    assert by_moisture == sorted(by_moisture)


def test_closing_the_lid_raises_the_load_of_a_warm_tank(bench, room, tank, loads):
    by_lid = [required(bench, room, replace(tank, lid=lid), loads) for lid in (Lid.OPEN, Lid.LOOSE, Lid.SEALED)]
    assert by_lid == sorted(by_lid)


def test_a_light_counts_only_while_it_is_lit(bench, room, tank):
    """A lamp lit at night does not meet the hot afternoon, but its own hours then count."""
    lamp = Load("tank", "lamp", LoadKind.LIGHT, 200.0, date.min, hours_per_day=6.0)
    day = bench.on_hot_day(bench.one_room(replace(room, hot_day_rise_k=4.0), [tank], [lamp]))
    all_day = bench.on_hot_day(
        bench.one_room(replace(room, hot_day_rise_k=4.0), [tank], [replace(lamp, hours_per_day=None)])
    )
    assert all_day.required_w == pytest.approx(day.required_w)
    assert all_day.peak_c > day.peak_c


def test_a_stand_with_more_air_through_it_is_cooler(bench, room, tank, loads, chiller):
    inlets = []
    for flow in (20.0, 60.0, 200.0):
        closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=flow)
        fleet = bench.one_room(room, [closed], loads, [chiller], [bench.beside(where=Where.IN_STAND)])
        inlets.append(bench.on_hot_day(fleet).devices[0].condenser_inlet_c)
    assert inlets == sorted(inlets, reverse=True)


def test_the_stand_carries_away_the_heat_released_in_it(bench, room, tank, loads, chiller):
    """Energy balance of the stand at full duty: heat in = ventilation, walls and what passes into the tank."""
    closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=400.0)
    fleet = bench.one_room(room, [closed], loads, [chiller], [bench.beside(where=Where.IN_STAND)])
    model = build(fleet, {}, ["tank"])
    cases = spread_over_cases(model, np.array([1]), np.array([0]))
    full = at_full_duty(cases, np.array([15.0]), np.zeros((1, 1)), np.zeros((1, 1)))
    heat = float(full.output.cooling_w[0, 0] + full.output.power_w[0, 0])
    stand_c, room_c = float(full.stand_c[0, 0]), float(model.rooms.mean_c[0, 0])
    carried = (400.0 * 1.17 * 1007.0 / 3600.0 + 5.0 * 1.22) * (stand_c - room_c)
    into_tank = 2.0 * 1.22 * 0.46 * (stand_c - tank.target_c)
    assert carried + into_tank == pytest.approx(heat, rel=1e-3)


def test_moisture_of_a_closed_room_rises_with_its_tanks_and_never_past_saturation(bench, room, tank):
    def vapour(count, volume_m3):
        tanks = [replace(tank, code=f"tank-{i}") for i in range(count)]
        model = build(bench.one_room(room, tanks), {}, [one.code for one in tanks])
        return float(
            room_vapour(
                model.tanks, np.array([30.0]), np.array([1700.0]), np.array([volume_m3]), np.array([101_325.0])
            )[0]
        )

    rising = [vapour(1, 1e6), vapour(1, 200.0), vapour(4, 200.0), vapour(12, 60.0)]
    assert rising == sorted(rising)
    assert rising[0] == pytest.approx(1700.0, rel=0.01)
    assert rising[-1] <= saturation_pressure(30.0)


def test_at_elevation_less_heat_goes_by_convection_for_the_same_vapour():
    """The psychrometer constant is proportional to air pressure (FAO irrigation paper Y7223E)."""
    water_c, vapour_pa = np.array(26.0), np.array(1500.0)
    high, low = (float(lewis_gamma(water_c, vapour_pa, pressure)) for pressure in (80_000.0, 101_325.0))
    assert high / low == pytest.approx(80_000.0 / 101_325.0, rel=0.01)


@FEW
@given(
    st.floats(8.0, 30.0),
    st.floats(15.0, 34.0),
    st.floats(0.1, 5.0),
    st.floats(0.2, 0.9),
    st.sampled_from(Lid),
    st.sampled_from([Stand.OPEN, Stand.CLOSED]),
)
def test_a_warmer_room_never_means_less_need(target_c, room_c, warmer_k, humidity, lid, stand):
    """Same tank, same humidity as a share; on every side of the estimate and at every hour that counts."""
    tank = Tank(
        "tank", "room", "Tank", TankKind.OTHER, 1.2, 0.5, 0.5, target_c, lid=lid, stand=stand, sump_area_m2=0.2,
        wall=Wall.GLASS,
    )  # fmt: skip
    pump = Load("tank", "pump", LoadKind.SUBMERGED_PUMP, 60.0, date.min)

    def need(mean_c):
        room = Room("room", "site", "Room", mean_c, True, 1.0, humidity, volume_m3=100.0)
        rows = RegisterRows(
            clients=(Client("client", "Client"),),
            sites=(Site("site", "client", "Site", "UTC", elevation_m=0.0),),
            rooms=(room,),
            tanks=(tank,),
            loads=(pump,),
        )
        model = build(snapshot(rows, date(2026, 5, 4)), {}, ["tank"])
        side = np.arange(3)
        cases = spread_over_cases(model, side, np.zeros(3, dtype=np.intp))
        return at_full_duty(cases, np.full(3, 15.0), np.full((1, 3), 60.0), np.zeros((1, 3))).required_w[0]

    assert np.all(need(room_c + warmer_k) >= need(room_c) - 0.01)


@FEW
@given(st.floats(8.0, 30.0), st.floats(15.0, 45.0), st.floats(0.2, 1.0), st.floats(0.0, 0.8))
def test_a_dirtier_screen_never_means_more_capacity_nor_less_power(water_c, air_c, cleaner, dirtier_by):
    dirtier = max(cleaner - dirtier_by, 0.2)
    assert screen_capacity_factor(dirtier) <= screen_capacity_factor(cleaner)
    assert screen_power_factor(dirtier) >= screen_power_factor(cleaner)
    load = (3.0 * chiller_capacity_factor(water_c, air_c) + chiller_power_factor(water_c, air_c)) / 4.0
    assert condensing_temp(air_c, load, dirtier) >= condensing_temp(air_c, load, cleaner)


@pytest.mark.parametrize("where", [Where.BESIDE_TANK, Where.IN_STAND, Where.IN_STAND_VENTED, Where.OUTDOORS])
def test_the_longer_a_screen_is_left_the_less_its_chiller_delivers(bench, room, tank, loads, chiller, where):
    """Recirculation, stand and cut-out included: once it trips it stays tripped."""
    old = replace(chiller, installed=None)
    capacities = []
    for days in range(0, 500, 50):
        cleaned = ServiceRecord("chiller", "clean-intake-screen", bench.day - timedelta(days=days))
        closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=400.0)
        fleet = bench.one_room(room, [closed], loads, [old], [bench.beside(where=where)], history=(cleaned,))
        peak = at_peak(build(fleet, {}, ["tank"]), HOT)
        capacities.append(float(peak.link_w[0, SAFE]))
    assert capacities[0] > 0.0
    assert capacities == sorted(capacities, reverse=True)


@FEW
@given(st.floats(5.0, 34.0), st.floats(12.0, 34.0), st.floats(0.2, 1.0), st.floats(0.0, 400.0))
def test_more_air_over_the_water_moves_a_tank_toward_the_fans_equilibrium(target_c, room_c, humidity, pump_w):
    """Down where the tank stands above the wet bulb of its room, up where it stands below, and never across it by
    itself. The tank settles where gains, losses and fan balance; its speed goes from none to 3 m/s."""
    room = Room("room", "site", "Room", room_c, True, 0.0, humidity, volume_m3=100.0)
    tank = Tank(
        "tank", "room", "Tank", TankKind.TROPICAL_FRESH, 1.2, 0.5, 0.5, target_c, lid=Lid.OPEN, stand=Stand.OPEN,
        wall=Wall.GLASS,
    )  # fmt: skip
    fan = Device("fan", DeviceKind.SURFACE_FAN, "Fan", air_flow_m3_h=200.0, fan_diameter_m=0.2)
    rows = RegisterRows(
        clients=(Client("client", "Client"),),
        sites=(Site("site", "client", "Site", "UTC", elevation_m=0.0),),
        rooms=(room,),
        tanks=(tank,),
        devices=(fan,),
        duties=(Duty("fan", "tank", date.min),),
    )
    model = build(snapshot(rows, date(2026, 5, 4)), {}, ["tank"])
    one = np.zeros(1, dtype=np.intp)

    def rest_at(speed_m_s):
        fans = replace(model.devices.fans, speed_m_s=np.full((1, 3), speed_m_s), cover=np.ones(1))
        cases = spread_over_cases(replace(model, devices=replace(model.devices, fans=fans)), one, one)
        air = air_at(cases, np.zeros(1))

        def left_over(water_c):
            water = np.full((1, 1), water_c)
            leaving = losses(cases, water, air, air.room_c, air.vapour_pa)
            fan_w, _vapour = fan_cooling(cases, water, air, leaving)
            return pump_w - float(leaving.watts[0, 0]) - float(fan_w[0, 0])

        return brentq(left_over, -40.0, 120.0, xtol=1e-6)

    limit = wet_bulb(room_c, humidity)
    rests = [rest_at(speed) for speed in (0.0, 0.5, 1.0, 2.0, 3.0)]
    distances = [abs(rest - limit) for rest in rests]
    if distances[0] > 0.3:
        assert distances == sorted(distances, reverse=True)
        assert all(math.copysign(1.0, rest - limit) == math.copysign(1.0, rests[0] - limit) for rest in rests[:2])
        downward = rests[0] > limit
        assert rests == sorted(rests, reverse=downward)


def test_what_has_no_surface_and_no_walls_loses_nothing(steady):
    nothing = np.zeros((1, 1))
    sealed = replace(
        steady, open_m2=nothing, lid_ua=nothing, wall_ua=nothing, pane_gain_w=nothing, stand_side_ua=nothing,
        sump_m2=nothing,
    )  # fmt: skip
    air = _air(steady)
    found = losses(sealed, np.full((1, 1), 33.0), air, air.room_c, air.vapour_pa)
    assert (found.watts[0, 0], found.slope_w_per_k[0, 0], found.evaporation_kg_s[0, 0]) == (0.0, 0.0, 0.0)
