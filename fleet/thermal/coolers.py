"""Cooling devices: how capacity and power move with temperatures, dirt and scale; fans by the affinity laws."""

from __future__ import annotations

import math

import numpy as np

from fleet.errors import OutOfRange
from fleet.thermal.properties import volumetric_heat_capacity
from fleet.thermal.ranges import (
    AIRFLOW_FRACTION,
    CHILLER_WATER_C,
    CONDENSER_INLET_C,
    FOULING,
    Array,
    Range,
    formula,
    positive,
)
from fleet.values.spread import Spread

REFERENCE_WATER_C, REFERENCE_AIR_C = 25.0, 30.0
"""Conditions at which the capacity and power factors are one."""
CONDENSING_APPROACH_K = 15.0
"""Condensing temperature over intake air at the reference: a usual design value of small condensers."""
CUT_OUT_C = 62.0
"""Condensing temperature at which the high-pressure cut-out is taken to act: from memory."""
CONDENSER_AIR_RISE_K = 8.0
"""Warming of the air through a clean condenser at the reference."""
CLEAN_EXCHANGER_U = 600.0
"""W/(m2 K) of a small clean water coil, 300 to 1000: from memory."""


@formula(water_c=CHILLER_WATER_C, condenser_inlet_c=CONDENSER_INLET_C)
def chiller_capacity_factor(water_c: Array, condenser_inlet_c: Array) -> Array:
    """Capacity over that at 25 °C water and 30 °C condenser-inlet air. [-]

    water_c: 8 to 30 °C; condenser_inlet_c: 15 to 50 °C. Raises OutOfRange beyond: the curve is not to be extended.
    Source: our own fit (0.3 %) to R134a and R290 cycles with property data of CoolProp; other designs move it by
    up to 0.04.
    """
    x, y = water_c - REFERENCE_WATER_C, condenser_inlet_c - REFERENCE_AIR_C
    return 1.0 + 0.02579 * x - 0.00913 * y + 1.81e-4 * x**2 - 1.70e-4 * x * y - 1.8e-5 * y**2


@formula(water_c=CHILLER_WATER_C, condenser_inlet_c=CONDENSER_INLET_C)
def chiller_power_factor(water_c: Array, condenser_inlet_c: Array) -> Array:
    """Electric power over that at 25 °C water and 30 °C condenser-inlet air. [-]

    water_c: 8 to 30 °C; condenser_inlet_c: 15 to 50 °C. Raises OutOfRange beyond.
    Source: our own fit (0.7 %) to R134a and R290 cycles with property data of CoolProp; other designs move it by
    up to 0.16.
    """
    x, y = water_c - REFERENCE_WATER_C, condenser_inlet_c - REFERENCE_AIR_C
    return 1.0 + 0.0044 * x + 0.0300 * y - 1.50e-4 * x**2 + 6.88e-4 * x * y - 1.40e-4 * y**2


@formula(airflow_fraction=AIRFLOW_FRACTION)
def screen_capacity_factor(airflow_fraction: Array) -> Array:
    """Capacity over that with a clean intake screen. [-]

    airflow_fraction: air flow over clean air flow, 0.2 to 1. Raises OutOfRange beyond.
    Source: our own fit to the same cycles.
    """
    result: Array = 1.0 - 0.086 * np.maximum(1.0 / airflow_fraction - 1.0, 0.0) ** 0.92
    return result


@formula(airflow_fraction=AIRFLOW_FRACTION)
def screen_power_factor(airflow_fraction: Array) -> Array:
    """Electric power over that with a clean intake screen. [-]

    airflow_fraction: air flow over clean air flow, 0.2 to 1. Raises OutOfRange beyond.
    Source: our own fit to the same cycles.
    """
    result: Array = 1.0 + 0.264 * np.maximum(1.0 / airflow_fraction - 1.0, 0.0) ** 0.80
    return result


@formula(resistance_m2k_w=FOULING, u_value=positive("heat transfer coefficient", "W/(m2 K)", high=3000.0))
def fouling_capacity_factor(resistance_m2k_w: Array, u_value: Array | float = CLEAN_EXCHANGER_U) -> Array:
    """Capacity over that with a clean water side. [-]

    resistance_m2k_w: 0 to 0.0008 m2K/W; u_value: of the clean exchanger, up to 3000 W/(m2 K), which keeps the factor
    above one half. Raises OutOfRange beyond. Source: our own fit to the same cycles.
    """
    return 1.0 - 0.195 * resistance_m2k_w * u_value


@formula(
    condenser_inlet_c=CONDENSER_INLET_C,
    load_ratio=positive("condenser load over its reference"),
    airflow_fraction=AIRFLOW_FRACTION,
)
def condensing_temp(condenser_inlet_c: Array, load_ratio: Array, airflow_fraction: Array | float = 1.0) -> Array:
    """Condensing temperature, which the high-pressure cut-out acts on. [°C]

    condenser_inlet_c: 15 to 50 °C; load_ratio: heat plus electric power over that at the reference, above 0;
    airflow_fraction: 0.2 to 1. Raises OutOfRange beyond.
    That the air-side coefficient goes with the square root of the air flow is an assumption.
    """
    return condenser_inlet_c + CONDENSING_APPROACH_K * load_ratio / np.sqrt(airflow_fraction)


def thermoelectric_capacity(largest_w: Array, largest_difference_k: Array, water_c: Array, air_c: Array) -> Array:
    """Heat that a thermoelectric cooler takes out of the water, at or above 0. [W]

    largest_w: at no difference between air and water; largest_difference_k: where nothing is left.
    Source: linear in the difference, Mechanical Engineers' Handbook vol. 4, eq. 112-117.
    """
    result: Array = np.maximum(largest_w * (1.0 - np.maximum(air_c - water_c, 0.0) / largest_difference_k), 0.0)
    return result


SPEED_RATIO, DIAMETER_RATIO = positive("speed ratio"), positive("diameter ratio")


@formula(speed_ratio=SPEED_RATIO, diameter_ratio=DIAMETER_RATIO)
def fan_flow_ratio(speed_ratio: Array, diameter_ratio: Array) -> Array:
    """Air flow of a similar fan over the first. [-] Both ratios above 0. Source: fan affinity laws."""
    return speed_ratio * diameter_ratio**3


@formula(speed_ratio=SPEED_RATIO, diameter_ratio=DIAMETER_RATIO)
def fan_power_ratio(speed_ratio: Array, diameter_ratio: Array) -> Array:
    """Shaft power of a similar fan over the first. [-] Both ratios above 0. Source: fan affinity laws."""
    return speed_ratio**3 * diameter_ratio**5


@formula(speed_ratio=SPEED_RATIO, diameter_ratio=DIAMETER_RATIO)
def fan_sound_change_db(speed_ratio: Array, diameter_ratio: Array) -> Array:
    """Sound power level of a similar fan less that of the first. [dB] Both ratios above 0.

    Source: fan sound law as in AMCA and ASHRAE texts, from memory.
    """
    result: Array = 50.0 * np.log10(speed_ratio) + 70.0 * np.log10(diameter_ratio)
    return result


JET_SPEED_M_S = Range("air speed of a fan", 0.0, 3.0, "m/s")


def fan_over_water(flow_m3_h: float, fan_diameter_m: float, length_m: float, width_m: float) -> tuple[float, float]:
    """Mean air speed that a fan at one end blows over a tank [m/s], and the share of the surface that it covers.

    All arguments above 0. A free round jet: the speed on its axis at mid throw, 0.4 of it as the mean over the covered
    width. An engineering estimate, good to about a half: from memory.
    """
    outlet_speed = flow_m3_h / 3600.0 / (np.pi * fan_diameter_m**2 / 4.0)
    axis_speed = min(outlet_speed, 6.0 * outlet_speed * fan_diameter_m / (length_m / 2.0))
    covered_width = fan_diameter_m + 0.42 * length_m
    return min(0.4 * axis_speed, JET_SPEED_M_S.high), min(covered_width / width_m, 1.0)


BTU_PER_HOUR_W = 0.2930711
"""NIST SP 811."""

WATTS, BTU_PER_H, HORSEPOWER = "watts", "btu_per_h", "horsepower"
VOLUME_PULL_DOWN, VOLUME = "volume_pull_down", "volume"
PLATE_FACTORS = {
    WATTS: (0.90, 1.00, 1.05),
    BTU_PER_H: (0.85 * BTU_PER_HOUR_W, 0.95 * BTU_PER_HOUR_W, 1.05 * BTU_PER_HOUR_W),
    HORSEPOWER: (2.0, 3.0, 4.2),
}
"""Low, mid and high watts of cooling per printed unit; a horsepower is that of the motor, in watts: from memory."""
HEAT_CAPACITY_20_C: float = volumetric_heat_capacity(20.0)
PULL_DOWN_K = Range("pull-down", 0.1, 40.0, "K")


def holding_heat(volume_m3: float, difference_k: float, kit_w_per_l: float) -> float:
    """Heat that keeps a tank this far below its room. [W]

    A box of twice its width in length: 7 W/(m2 K) through the sides, 2 through the bottom, 10 at the surface, plus
    electrical kit by the litre. Derived here.
    """
    side_m = math.cbrt(volume_m3 / 2.0)
    conductance = (7.0 * 6.0 + 2.0 * 2.0 + 10.0 * 2.0) * side_m**2
    return difference_k * conductance + kit_w_per_l * 1000.0 * volume_m3


def pull_down_heat(volume_m3: float, difference_k: float, hours: float) -> float:
    """Heat that chills a volume of water by a difference in a number of hours. [W]"""
    return HEAT_CAPACITY_20_C * volume_m3 * difference_k / (hours * 3600.0)


def plate_to_watts(kind: str, value: float, pull_down_k: float | None = None) -> Spread:
    """Cooling that a printed rating stands for at 25 °C water and 30 °C intake air: low, mid, high. [W]

    kind and value: "watts" [W of cooling], "btu_per_h" [Btu/h], "horsepower" [W of motor], "volume_pull_down" [m3,
    with pull_down_k in K, 0.1 to 40], "volume" [m3]; value above 0. Raises OutOfRange beyond, ValueError for another
    kind. Plan with the low end: "N litres by D degrees" may mean held below the room or chilled in an unstated time, a
    factor of three; a bare volume says less still.
    """
    positive("printed rating").check(value)
    if kind in PLATE_FACTORS:
        low, mid, high = PLATE_FACTORS[kind]
        return Spread(low * value, mid * value, high * value)
    if kind == VOLUME_PULL_DOWN:
        if pull_down_k is None:
            raise OutOfRange(PULL_DOWN_K.quantity, float("nan"), PULL_DOWN_K.low, PULL_DOWN_K.high, "K")
        PULL_DOWN_K.check(pull_down_k)
        return Spread(
            holding_heat(value, pull_down_k, 0.0),
            max(pull_down_heat(value, pull_down_k, 24.0), holding_heat(value, pull_down_k, 0.35)),
            max(pull_down_heat(value, pull_down_k, 8.0), holding_heat(value, pull_down_k, 0.8)),
        )
    if kind == VOLUME:
        return Spread(
            holding_heat(value, 5.0 / 1.8, 0.0),
            holding_heat(value, 7.0 / 1.8, 0.2),
            holding_heat(value, 9.0 / 1.8, 0.35),
        )
    kinds = ", ".join((*PLATE_FACTORS, VOLUME_PULL_DOWN, VOLUME))
    raise ValueError(f"kind of plate is {kind!r}: expected one of {kinds}")
