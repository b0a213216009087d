"""Chillers, fans, plates and margins against printed rules and reference cycles; the source stands in each row."""

from __future__ import annotations

import math

import pytest

from fleet.thermal.coolers import (
    chiller_capacity_factor,
    chiller_power_factor,
    condensing_temp,
    fan_flow_ratio,
    fan_power_ratio,
    fan_sound_change_db,
    fouling_capacity_factor,
    plate_to_watts,
    screen_capacity_factor,
    screen_power_factor,
)
from fleet.thermal.margin import capacity_margin, duty, hours_to_limit, n_minus_one_margin
from fleet.thermal.stand import recirculated_inlet, ventilation_flow

CYCLE = "R134a cycle with eps-NTU exchangers, computed with CoolProp"
HORSEPOWER_W = 745.69987
GALLON_M3 = 0.003785411784


@pytest.mark.parametrize(
    ("water_c", "air_c", "printed"),
    [(25.0, 40.0, 0.907), (25.0, 50.0, 0.809), (25.0, 20.0, 1.089), (20.0, 30.0, 0.875), (10.0, 24.0, 0.692)],
)
def test_a_chiller_loses_capacity_in_hot_air_and_on_cold_water(water_c, air_c, printed):
    assert chiller_capacity_factor(water_c, air_c) == pytest.approx(printed, abs=0.005), CYCLE


@pytest.mark.parametrize(("water_c", "air_c", "printed"), [(15.0, 24.0, 0.797)])
def test_a_chiller_draws_more_power_in_hot_air(water_c, air_c, printed):
    assert chiller_power_factor(water_c, air_c) == pytest.approx(printed, abs=0.01), CYCLE


@pytest.mark.parametrize(("airflow", "printed"), [(0.8, 0.978), (0.3, 0.807)])
def test_a_dirty_screen_costs_little_capacity_until_it_costs_much(airflow, printed):
    assert screen_capacity_factor(airflow) == pytest.approx(printed, abs=0.012), CYCLE


@pytest.mark.parametrize(("airflow", "printed"), [(0.8, 1.072), (0.5, 1.264), (0.2, 1.816)])
def test_a_dirty_screen_costs_power_from_the_start(airflow, printed):
    assert screen_power_factor(airflow) == pytest.approx(printed, abs=0.03), CYCLE


@pytest.mark.parametrize(
    ("resistance", "printed", "source"),
    [
        (1.76e-4, 0.979, CYCLE),
        (8.8e-5, 0.99, "sea water below 52 °C, 0.0005 h ft2 F/Btu, TEMA-type table (second-hand); factor " + CYCLE),
        (5.28e-4, 0.938, "hard water below 52 °C, 0.003 h ft2 F/Btu, TEMA-type table (second-hand); factor " + CYCLE),
    ],
)
def test_scale_costs_a_few_per_cent(resistance, printed, source):
    assert fouling_capacity_factor(resistance) == pytest.approx(printed, abs=0.005), source


def test_a_dirty_screen_reaches_the_cut_out_before_the_capacity_shows_it():
    """Condensing 15 K over the intake when clean and at its reference load (usual design value, from memory)."""
    assert condensing_temp(30.0, 1.0) == pytest.approx(45.0)
    load_ratio = (3.0 * screen_capacity_factor(0.3) + screen_power_factor(0.3)) / 4.0
    assert condensing_temp(35.5, load_ratio, 0.3) > 62.0
    assert screen_capacity_factor(0.3) > 0.8


@pytest.mark.parametrize(
    ("kind", "value", "pull_down_k", "printed", "source"),
    [
        ("watts", 300.0, None, (270.0, 300.0, 315.0), "our proposal: W of cooling, 0.90 to 1.05"),
        ("btu_per_h", 12_000.0, None, (0.85 * 3517, 0.95 * 3517, 1.05 * 3517), "one ton, FAO T0713E: 3.517 kW"),
        ("horsepower", 0.1 * HORSEPOWER_W, None, (149.0, 224.0, 313.0), "motor size times 2 to 4.2, from memory"),
        ("volume_pull_down", 100 * GALLON_M3, 5.0, (109.0, 241.0, 412.0), "derived: 100 gal by 9 °F"),
        ("volume", 100 * GALLON_M3, None, (60.0, 160.0, 241.0), "derived: a bare 100 gal"),
    ],
)
def test_a_printed_rating_means_a_span_of_watts(kind, value, pull_down_k, printed, source):
    spread = plate_to_watts(kind, value, pull_down_k)
    assert (spread.low, spread.mid, spread.high) == pytest.approx(printed, rel=0.005, abs=0.5), source


def test_fans_follow_the_affinity_laws():
    """Q ~ n D^3, P ~ n^3 D^5; sound 50 log n + 70 log D (ASHRAE and AMCA texts, from memory)."""
    assert fan_flow_ratio(0.7, 1.3) == pytest.approx(1.538, abs=0.002)
    assert fan_power_ratio(0.5, 1.0) == pytest.approx(0.125, abs=1e-9)
    assert fan_power_ratio(1.0, 1.5) == pytest.approx(1.5**5)
    assert fan_sound_change_db(0.5, 1.0) == pytest.approx(-15.05, abs=0.01)
    assert fan_sound_change_db(1.0 / 1.5**3, 1.5) == pytest.approx(-14.1, abs=0.1)


def test_air_needed_to_carry_heat_out_of_a_stand():
    """100 W at 5 K: 61.1 m3/h from the heat balance."""
    assert ventilation_flow(100.0, 5.0) == pytest.approx(61.1, abs=1.0)


def test_a_condenser_that_breathes_its_own_exhaust_runs_hotter():
    assert recirculated_inlet(30.0, 0.2, 8.0) == pytest.approx(32.0)
    assert recirculated_inlet(30.0, 0.0, 8.0) == 30.0


def test_margin_of_a_chiller_one_size_up():
    """564 W against 364 W: 0.549 by definition."""
    assert capacity_margin(564.0, 364.0) == pytest.approx(0.549, abs=0.001)
    assert capacity_margin(0.0, 100.0) == -1.0
    assert capacity_margin(100.0, -5.0) == math.inf
    assert duty(500.0, 250.0) == 0.5
    assert duty(0.0, 250.0) == 1.0
    assert duty(500.0, -20.0) == 0.0


def test_what_is_left_when_the_largest_of_three_fails():
    assert n_minus_one_margin([100.0, 300.0, 150.0], 200.0) == pytest.approx(0.25)
    assert n_minus_one_margin([300.0], 200.0) == -1.0
    assert n_minus_one_margin([], -1.0) == math.inf


@pytest.mark.parametrize(
    ("start", "limit", "rest", "tau_s", "hours"),
    [
        (25.6, 27.8, 32.0, 52_000.0, 6.0842),
        (25.6, 27.8, 27.0, 52_000.0, math.inf),
        (28.0, 27.8, 32.0, 52_000.0, 0.0),
        (27.8, 27.8, 32.0, 52_000.0, 0.0),
        (25.0, 22.0, 20.0, 36_000.0, 9.163),
        (25.0, 22.0, 23.0, 36_000.0, math.inf),
    ],
)
def test_hours_to_a_limit_follow_the_first_order_solution(start, limit, rest, tau_s, hours):
    """-tau ln((limit - equilibrium)/(start - equilibrium)), analytic."""
    assert hours_to_limit(start, limit, rest, tau_s) == pytest.approx(hours, abs=1e-3)
