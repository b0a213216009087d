"""Both ends of every range pass, just past raises with the figure in the message; kinds in are kinds out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleet.errors import OutOfRange
from fleet.thermal import coolers, exchange, margin, properties, stand

AIR, WATER, SALT, PRESSURE = (-20.0, 60.0), (0.0, 45.0), (0.0, 45.0), (60e3, 110e3)
HUMIDITY, SPEED = (0.0, 1.0), (0.0, 5.0)
CHILLED, INLET, AIRFLOW, FOULING = (8.0, 30.0), (15.0, 50.0), (0.2, 1.0), (0.0, 0.0008)

CASES = [
    (properties.volumetric_heat_capacity, [20.0, 10.0], 0, WATER),
    (properties.volumetric_heat_capacity, [20.0, 10.0], 1, SALT),
    (properties.saturation_pressure, [20.0], 0, AIR),
    (properties.water_activity, [10.0], 0, SALT),
    (properties.latent_heat, [20.0], 0, AIR),
    (properties.humidity_ratio, [1000.0, 101325.0], 1, PRESSURE),
    (properties.dry_air_density, [20.0, 1000.0, 101325.0], 0, AIR),
    (properties.dry_air_density, [20.0, 1000.0, 101325.0], 2, PRESSURE),
    (properties.wet_bulb, [20.0, 0.5, 101325.0], 0, AIR),
    (properties.wet_bulb, [20.0, 0.5, 101325.0], 1, HUMIDITY),
    (properties.wet_bulb, [20.0, 0.5, 101325.0], 2, PRESSURE),
    (exchange.still_evaporation, [25.0, 24.0, 0.5, 0.0], 0, WATER),
    (exchange.still_evaporation, [25.0, 24.0, 0.5, 0.0], 1, AIR),
    (exchange.still_evaporation, [25.0, 24.0, 0.5, 0.0], 2, HUMIDITY),
    (exchange.still_evaporation, [25.0, 24.0, 0.5, 0.0], 3, SALT),
    (exchange.carrier_evaporation, [25.0, 24.0, 0.5, 1.0, 0.0], 0, WATER),
    (exchange.carrier_evaporation, [25.0, 24.0, 0.5, 1.0, 0.0], 3, SPEED),
    (exchange.surface_coefficients, [25.0, 24.0, 0.5, 1.0, 0.0, 1.0], 0, WATER),
    (exchange.surface_coefficients, [25.0, 24.0, 0.5, 1.0, 0.0, 1.0], 1, AIR),
    (exchange.surface_coefficients, [25.0, 24.0, 0.5, 1.0, 0.0, 1.0], 2, HUMIDITY),
    (exchange.surface_coefficients, [25.0, 24.0, 0.5, 1.0, 0.0, 1.0], 3, SPEED),
    (exchange.surface_coefficients, [25.0, 24.0, 0.5, 1.0, 0.0, 1.0], 4, SALT),
    (exchange.wall_u_value, [25.0, 24.0, 0.5, 0.01, 1.0], 0, WATER),
    (exchange.wall_u_value, [25.0, 24.0, 0.5, 0.01, 1.0], 1, AIR),
    (stand.recirculated_inlet, [25.0, 0.2, 8.0], 0, AIR),
    (coolers.chiller_capacity_factor, [25.0, 30.0], 0, CHILLED),
    (coolers.chiller_capacity_factor, [25.0, 30.0], 1, INLET),
    (coolers.chiller_power_factor, [25.0, 30.0], 0, CHILLED),
    (coolers.chiller_power_factor, [25.0, 30.0], 1, INLET),
    (coolers.screen_capacity_factor, [0.5], 0, AIRFLOW),
    (coolers.screen_power_factor, [0.5], 0, AIRFLOW),
    (coolers.fouling_capacity_factor, [1e-4], 0, FOULING),
    (coolers.condensing_temp, [30.0, 1.0, 0.5], 0, INLET),
    (coolers.condensing_temp, [30.0, 1.0, 0.5], 2, AIRFLOW),
    (margin.hours_to_limit, [25.0, 28.0, 32.0, 1e4], 0, WATER),
    (margin.hours_to_limit, [25.0, 28.0, 32.0, 1e4], 1, WATER),
]


def _with(values, place, value):
    return [*values[:place], value, *values[place + 1 :]]


@pytest.mark.parametrize(("function", "values", "place", "span"), CASES)
def test_both_ends_pass_and_just_past_raises(function, values, place, span):
    width = span[1] - span[0]
    for end, past in ((span[0], span[0] - 1e-6 * width), (span[1], span[1] + 1e-6 * width)):
        result = function(*_with(values, place, end))
        assert not np.any(np.isnan(result))
        with pytest.raises(OutOfRange, match="expected") as caught:
            function(*_with(values, place, past))
        assert (caught.value.low, caught.value.high, caught.value.value) == (*span, past)
        assert f"{span[1]:g}" in str(caught.value)


@pytest.mark.parametrize(("function", "values", "place", "span"), CASES)
def test_not_a_number_is_outside_every_range(function, values, place, span):
    for value in (math.nan, np.array([span[0], math.nan])):
        with pytest.raises(OutOfRange):
            function(*_with(values, place, value))


@pytest.mark.parametrize(("function", "values", "place", "span"), CASES)
def test_floats_give_floats_and_arrays_give_the_same_figures(function, values, place, span):
    single = function(*values)
    many = function(*_with(values, place, np.array([values[place], values[place]])))
    for one, several in zip(
        single if isinstance(single, tuple) else (single,), many if isinstance(many, tuple) else (many,), strict=True
    ):
        assert type(one) is float
        assert isinstance(several, np.ndarray)
        assert several == pytest.approx([one, one])


@pytest.mark.parametrize(
    ("function", "values"),
    [
        (coolers.fan_flow_ratio, (0.0, 1.0)),
        (coolers.fan_power_ratio, (1.0, -1.0)),
        (coolers.fan_sound_change_db, (math.nan, 1.0)),
        (coolers.condensing_temp, (30.0, 0.0)),
        (stand.ventilation_flow, (100.0, 0.0)),
        (stand.ventilation_flow, (-1.0, 5.0)),
        (stand.recirculated_inlet, (25.0, 1.0, 8.0)),
        (exchange.vertical_plate_nusselt, (1e8, 0.0)),
        (exchange.wall_u_value, (25.0, 24.0, 0.0, 0.01, 1.0)),
        (exchange.surface_coefficients, (25.0, 24.0, 0.5, 0.0, 0.0, 0.0)),
        (margin.capacity_margin, (-1.0, 100.0)),
        (margin.duty, (math.nan, 100.0)),
        (margin.n_minus_one_margin, ([100.0, -1.0], 50.0)),
        (margin.hours_to_limit, (25.0, 28.0, 32.0, 0.0)),
        (properties.dew_point, (0.0,)),
        (properties.humidity_ratio, (30_000.0,)),
        (coolers.plate_to_watts, ("watts", 0.0)),
        (coolers.plate_to_watts, ("volume_pull_down", 0.4)),
        (coolers.plate_to_watts, ("volume_pull_down", 0.4, math.nan)),
    ],
)
def test_ratios_and_sizes_must_be_above_zero(function, values):
    with pytest.raises(OutOfRange):
        function(*values)


def test_an_unknown_kind_of_plate_names_the_known_ones():
    with pytest.raises(ValueError, match="btu_per_h"):
        coolers.plate_to_watts("gallons", 100.0)
