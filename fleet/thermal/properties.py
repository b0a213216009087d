"""Water and moist air."""

from __future__ import annotations

import math

import numpy as np

from fleet.thermal.ranges import AIR_C, PRESSURE_PA, RELATIVE_HUMIDITY, SALINITY, WATER_C, Array, Range, formula

STANDARD_PRESSURE_PA = 101_325.0
ZERO_C_IN_K = 273.15
WATER_OVER_AIR_MOLAR = 0.621945
"""Molar mass of water over that of dry air (ASHRAE Fundamentals)."""
DRY_AIR_GAS_CONSTANT = 287.042
"""J/(kg K) (ASHRAE Fundamentals)."""

MAGNUS_PA, MAGNUS_A, MAGNUS_B = 610.94, 17.625, 243.04
"""Alduchov and Eskridge, J. Appl. Meteor. 35 (1996), 601-609."""


def _magnus(temp_c: float) -> float:
    return MAGNUS_PA * math.exp(MAGNUS_A * temp_c / (temp_c + MAGNUS_B))


VAPOUR_PRESSURE_PA = Range("vapour pressure", 0.0, _magnus(AIR_C.high), "Pa")
DEW_POINT_VAPOUR_PA = Range("vapour pressure", _magnus(-40.0), _magnus(AIR_C.high), "Pa")


@formula(temp_c=WATER_C, salinity_g_per_kg=SALINITY)
def volumetric_heat_capacity(temp_c: Array, salinity_g_per_kg: Array | float = 0.0) -> Array:
    """Heat held by a volume of water. [J/(m3 K)]

    temp_c: water temperature [°C], 0 to 45 (fitted over 5 to 35, where it is within 0.12 %).
    salinity_g_per_kg: 0 to 45 (fitted to 40). Raises OutOfRange beyond.
    Source: our own fit to IAPWS-95 (fresh water) and TEOS-10 (sea water).
    """
    above_20 = temp_c - 20.0
    return 4.1766e6 * (1.0 - 3.85e-4 * above_20) - salinity_g_per_kg * (2318.0 - 33.0 * above_20)


@formula(temp_c=AIR_C)
def saturation_pressure(temp_c: Array) -> Array:
    """Vapour pressure of air saturated over pure liquid water. [Pa]

    temp_c: -20 to 60 °C. Within 0.24 % of the ASHRAE formula from 0 to 45 °C. Raises OutOfRange beyond.
    Source: Alduchov and Eskridge, J. Appl. Meteor. 35 (1996), 601-609.
    """
    result: Array = MAGNUS_PA * np.exp(MAGNUS_A * temp_c / (temp_c + MAGNUS_B))
    return result


def saturation_slope(temp_c: Array, pressure_pa: Array) -> Array:
    """Slope of the saturation pressure against temperature [Pa/K], given that pressure at `temp_c`."""
    return pressure_pa * MAGNUS_A * MAGNUS_B / (temp_c + MAGNUS_B) ** 2


@formula(salinity_g_per_kg=SALINITY)
def water_activity(salinity_g_per_kg: Array) -> Array:
    """Vapour pressure over sea water divided by that over pure water. [-]

    salinity_g_per_kg: 0 to 45. At 35 it gives 0.9812; TEOS-10 gives 0.9814. Raises OutOfRange beyond.
    Source: our own linear fit to TEOS-10.
    """
    return 1.0 - 5.37e-4 * salinity_g_per_kg


@formula(temp_c=AIR_C)
def latent_heat(temp_c: Array) -> Array:
    """Heat that evaporates a kilogram of water. [J/kg]

    temp_c: -20 to 60 °C; within 0.05 % of IAPWS-95 from 10 to 30 °C. Raises OutOfRange beyond.
    Source: our own linear fit to IAPWS-95.
    """
    return 2.5009e6 - 2365.0 * temp_c


@formula(vapour_pressure_pa=VAPOUR_PRESSURE_PA, pressure_pa=PRESSURE_PA)
def humidity_ratio(vapour_pressure_pa: Array, pressure_pa: Array | float = STANDARD_PRESSURE_PA) -> Array:
    """Water vapour per dry air. [kg/kg]

    vapour_pressure_pa: 0 to saturation at 60 °C. pressure_pa: 60 to 110 kPa. Raises OutOfRange beyond.
    Source: ASHRAE Handbook Fundamentals, Psychrometrics.
    """
    return WATER_OVER_AIR_MOLAR * vapour_pressure_pa / (pressure_pa - vapour_pressure_pa)


@formula(temp_c=AIR_C, vapour_pressure_pa=VAPOUR_PRESSURE_PA, pressure_pa=PRESSURE_PA)
def dry_air_density(
    temp_c: Array, vapour_pressure_pa: Array, pressure_pa: Array | float = STANDARD_PRESSURE_PA
) -> Array:
    """Mass of dry air in a volume of moist air. [kg/m3]

    temp_c: -20 to 60 °C; vapour_pressure_pa: 0 to saturation at 60 °C; pressure_pa: 60 to 110 kPa.
    Raises OutOfRange beyond. Source: ASHRAE Handbook Fundamentals, Psychrometrics.
    """
    return (pressure_pa - vapour_pressure_pa) / (DRY_AIR_GAS_CONSTANT * (temp_c + ZERO_C_IN_K))


@formula(temp_c=AIR_C, relative_humidity=RELATIVE_HUMIDITY, pressure_pa=PRESSURE_PA)
def wet_bulb(temp_c: Array, relative_humidity: Array, pressure_pa: Array | float = STANDARD_PRESSURE_PA) -> Array:
    """Thermodynamic wet bulb over liquid water. [°C]

    temp_c: -20 to 60 °C; relative_humidity: 0 to 1; pressure_pa: 60 to 110 kPa. Raises OutOfRange beyond.
    Below 0 °C it is the wet bulb over water that has not frozen.
    Source: energy balance of ASHRAE Handbook Fundamentals, Psychrometrics (eq. 33 of 2017), by bisection.
    """
    ratio = humidity_ratio.on_arrays(relative_humidity * saturation_pressure.on_arrays(temp_c), pressure_pa)
    low = np.zeros(np.broadcast(temp_c, ratio).shape) - 45.0
    high = low + 45.0 + temp_c
    for _ in range(50):
        middle = (low + high) / 2.0
        saturated = humidity_ratio.on_arrays(saturation_pressure.on_arrays(middle), pressure_pa)
        balance = (2501.0 - 2.326 * middle) * saturated - 1.006 * (temp_c - middle)
        below = balance < ratio * (2501.0 + 1.86 * temp_c - 4.186 * middle)
        low = np.where(below, middle, low)
        high = np.where(below, high, middle)
    result: Array = (low + high) / 2.0
    return result


@formula(vapour_pressure_pa=DEW_POINT_VAPOUR_PA)
def dew_point(vapour_pressure_pa: Array) -> Array:
    """Temperature at which air of this vapour pressure is saturated. [°C]

    vapour_pressure_pa: saturation at -40 °C to saturation at 60 °C. Raises OutOfRange beyond.
    Source: inverse of `saturation_pressure`.
    """
    logarithm = np.log(vapour_pressure_pa / MAGNUS_PA)
    result: Array = MAGNUS_B * logarithm / (MAGNUS_A - logarithm)
    return result


def pressure_at(elevation_m: Array | float) -> Array:
    """Air pressure of the standard atmosphere [Pa] at an elevation [m], not below 60 kPa.

    Source: ASHRAE Handbook Fundamentals, Psychrometrics (eq. 3 of 2017).
    """
    return np.maximum(101_325.0 * (1.0 - 2.25577e-5 * np.asarray(elevation_m, dtype=float)) ** 5.2559, PRESSURE_PA.low)
