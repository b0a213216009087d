"""Limits in which the answer is known, and nonsense, which is refused in one line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from fleet.errors import OutOfRange
from fleet.thermal.assess import build
from fleet.thermal.balance import air_at, losses
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.coolers import chiller_capacity_factor, plate_to_watts, screen_capacity_factor
from fleet.thermal.exchange import FAN_LATENT, still_evaporation, surface_films, wall_u_value
from fleet.thermal.properties import saturation_pressure, wet_bulb
from fleet.values.register import Device
from fleet.values.vocabulary import DeviceKind


@pytest.mark.parametrize(
    ("air_c", "humidity"), [(26.67, 0.5), (26.67, 0.4), (26.67, 0.6), (35.0, 0.3), (24.0, 0.8), (30.0, 1.0)]
)
def test_without_radiation_a_strong_wind_brings_water_to_the_wet_bulb(air_c, humidity):
    """Raw balance of the swept surface at 50 m/s, adiabatic, long-wave left out: at 26.67 °C and 50 % it must be
    19.267 °C (psychrolib), the thermodynamic wet bulb, because the Lewis factor is one. What is left is 1.5 % of the
    depression at most: the coefficients are those of dilute vapour."""
    air_pa = np.array(humidity * saturation_pressure(air_c))

    def leaving(water_c):
        water_pa = np.array(saturation_pressure(water_c))
        still, gamma, _longwave = surface_films(np.array(water_c), np.array(air_c), water_pa, air_pa, 1.0)
        latent = float(still) + FAN_LATENT * 50.0
        return latent * (float(gamma) * (water_c - air_c) + float(water_pa - air_pa))

    found = brentq(leaving, 0.0, 45.0, xtol=1e-6)
    reference = psychrolib_wet_bulb(air_c, humidity)
    assert found == pytest.approx(reference, abs=0.015 * (air_c - reference) + 0.02)
    if (air_c, humidity) == (26.67, 0.5):
        assert found == pytest.approx(19.267, abs=0.15)


def psychrolib_wet_bulb(air_c, humidity):
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib.GetTWetBulbFromRelHum(air_c, humidity, 101_325.0)


def test_fresh_water_exchanges_nothing_with_saturated_air_of_its_own_temperature(bench, room, tank):
    moist = replace(room, hot_day_mean_c=25.0, relative_humidity=1.0)
    fresh = replace(tank, salinity_g_per_kg=0.0, sump_area_m2=0.3, target_c=25.0)
    cases = spread_over_cases(build(bench.one_room(moist, [fresh]), {}, ["tank"]), np.arange(3), np.zeros(3, dtype=int))
    air = air_at(cases, np.full(3, 15.0))
    found = losses(cases, np.full((1, 3), 25.0), air, air.room_c, air.vapour_pa)
    assert found.watts == pytest.approx(np.zeros((1, 3)), abs=1e-6)
    assert found.evaporation_kg_s == pytest.approx(np.zeros((1, 3)), abs=1e-12)
    assert np.all(found.slope_w_per_k > 0.0)


def test_all_that_a_tank_exchanges_by_itself_goes_with_its_factor(bench, room, tank):
    """Twice the factor of a tank's own log: twice the heat, its slope and its vapour."""
    model = build(bench.one_room(room, [replace(tank, sump_area_m2=0.3)]), {}, ["tank"])
    one = np.zeros(1, dtype=np.intp)
    once, twice = (
        spread_over_cases(replace(model, loss_scale=model.loss_scale * factor), one, one) for factor in (1.0, 2.0)
    )
    air = air_at(once, np.full(1, 15.0))
    water = np.full((1, 1), 29.0)
    single, double = (losses(cases, water, air, air.room_c, air.vapour_pa) for cases in (once, twice))
    assert double.watts == pytest.approx(2.0 * single.watts)
    assert double.slope_w_per_k == pytest.approx(2.0 * single.slope_w_per_k)
    assert double.evaporation_kg_s == pytest.approx(2.0 * single.evaporation_kg_s)


@pytest.mark.parametrize(
    ("nonsense", "line"),
    [
        (lambda: saturation_pressure(celsius_of(400.0)), "air temperature"),
        (lambda: wet_bulb(25.0, 2.0), "relative humidity"),
        (lambda: wet_bulb(25.0, math.nan), "relative humidity"),
        (lambda: still_evaporation(celsius_of(400.0), 25.0, 0.5), "water temperature"),
        (lambda: wall_u_value(25.0, 20.0, -0.5, 0.01, 1.0), "height of the wall"),
        (lambda: screen_capacity_factor(0.0), "air flow over clean air flow"),
        (lambda: chiller_capacity_factor(25.0, 80.0), "condenser inlet air temperature"),
        (lambda: plate_to_watts("volume", -0.3), "printed rating"),
    ],
)
def test_nonsense_is_refused_with_one_line_that_names_the_quantity(nonsense, line):
    with pytest.raises(OutOfRange) as refused:
        nonsense()
    assert line in str(refused.value)
    assert "\n" not in str(refused.value)


def celsius_of(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def test_a_chiller_with_nothing_on_its_plate_is_flagged_and_gives_no_figure(bench, room, tank, loads):
    blank = Device("chiller", DeviceKind.CHILLER, "Chiller")
    found = bench.on_hot_day(bench.one_room(room, [tank], loads, [blank], [bench.beside()]))
    assert (found.available_w, found.margin, found.duty) == (None, None, None)
    assert found.devices[0].capacity_w is None
    assert "Nothing on the plate tells how much it cools." in found.devices[0].notes
    assert math.isfinite(found.required_w)
