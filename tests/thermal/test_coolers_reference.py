"""Chiller factors against a vapour-compression cycle that is written here, with property data of CoolProp.

The oracle: one stage, fixed swept volume, clearance 4 %, superheat 6 K, subcooling 3 K, overall efficiency 0.35; at
25 °C water and 30 °C intake air it evaporates 8 K under the water and condenses 15 K over the air, which warms by 8 K
(usual design values of small sets, from memory). Both exchangers keep their effectiveness, since one side of each is
at constant temperature; the air side follows NTU ~ flow^-0.5.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import root

from fleet.thermal.coolers import (
    CLEAN_EXCHANGER_U,
    chiller_capacity_factor,
    chiller_power_factor,
    condensing_temp,
    fouling_capacity_factor,
    screen_capacity_factor,
    screen_power_factor,
)

coolprop = pytest.importorskip("CoolProp.CoolProp")

EVAPORATOR_K, CONDENSER_K, AIR_RISE_K = 8.0, 15.0, 8.0
REFERENCE_WATER_C, REFERENCE_AIR_C = 25.0, 30.0
CLEAN_NTU = -math.log(1.0 - AIR_RISE_K / CONDENSER_K)
WATER_C = (8.0, 12.0, 16.0, 20.0, 25.0, 30.0)
AIR_C = (15.0, 22.0, 30.0, 38.0, 44.0, 50.0)


def compressor(fluid, evaporating_c, condensing_c):
    """Cooling and power of a compressor of unit swept volume between two temperatures. [W per m3/s]"""
    evaporating_k, condensing_k = evaporating_c + 273.15, condensing_c + 273.15
    low = coolprop.PropsSI("P", "T", evaporating_k, "Q", 1, fluid)
    high = coolprop.PropsSI("P", "T", condensing_k, "Q", 1, fluid)
    suction = {name: coolprop.PropsSI(name, "T", evaporating_k + 6.0, "P", low, fluid) for name in "HSD"}
    discharge = {name: coolprop.PropsSI(name, "P", high, "S", suction["S"], fluid) for name in "HD"}
    liquid = coolprop.PropsSI("H", "T", condensing_k - 3.0, "P", high, fluid)
    flow = suction["D"] * (1.04 - 0.04 * discharge["D"] / suction["D"])
    return flow * (suction["H"] - liquid), flow * (discharge["H"] - suction["H"]) / 0.35


def chiller(fluid, water_c, air_c, airflow=1.0, fouling=0.0):
    """Cooling and power over those at the reference, and the condensing temperature [°C]."""
    reference_w, reference_power_w = compressor(fluid, REFERENCE_WATER_C - EVAPORATOR_K, REFERENCE_AIR_C + CONDENSER_K)
    rejected_w = reference_w + reference_power_w
    evaporator = reference_w / EVAPORATOR_K / (1.0 + CLEAN_EXCHANGER_U * fouling)
    condenser = airflow * rejected_w / AIR_RISE_K * (1.0 - math.exp(-CLEAN_NTU * airflow**-0.5))

    def left_over(temps):
        cooling, power = compressor(fluid, *temps)
        return [
            (cooling - evaporator * (water_c - temps[0])) / reference_w,
            (cooling + power - condenser * (temps[1] - air_c)) / rejected_w,
        ]

    found = root(left_over, [water_c - EVAPORATOR_K, air_c + CONDENSER_K])
    assert found.success
    cooling, power = compressor(fluid, *found.x)
    return cooling / reference_w, power / reference_power_w, float(found.x[1])


@pytest.mark.parametrize(
    ("fluid", "capacity_error", "power_error"),
    [
        pytest.param("R134a", 0.012, 0.035, id="R134a, whose cycles the curve was fitted to"),
        pytest.param("R290", 0.045, 0.11, id="R290: other designs move it by up to 0.04 and 0.16"),
    ],
)
def test_capacity_and_power_over_the_whole_range_of_the_curve(fluid, capacity_error, power_error):
    for water_c in WATER_C:
        for air_c in AIR_C:
            capacity, power, _condensing = chiller(fluid, water_c, air_c)
            assert chiller_capacity_factor(water_c, air_c) == pytest.approx(capacity, abs=capacity_error)
            assert chiller_power_factor(water_c, air_c) == pytest.approx(power, abs=power_error)


@pytest.mark.parametrize("airflow", [0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2])
def test_a_dirty_screen_in_the_cycle(airflow):
    capacity, power, _condensing = chiller("R134a", REFERENCE_WATER_C, REFERENCE_AIR_C, airflow)
    assert screen_capacity_factor(airflow) == pytest.approx(capacity, abs=0.017)
    assert screen_power_factor(airflow) == pytest.approx(power, abs=0.06)


@pytest.mark.parametrize("fouling", [0.0, 8.8e-5, 1.76e-4, 3.5e-4, 5.28e-4, 8.0e-4])
def test_scale_in_the_cycle(fouling):
    capacity, _power, _condensing = chiller("R134a", REFERENCE_WATER_C, REFERENCE_AIR_C, fouling=fouling)
    assert fouling_capacity_factor(fouling) == pytest.approx(capacity, abs=0.005)


@pytest.mark.parametrize("air_c", [20.0, 30.0, 40.0])
def test_a_clean_chiller_condenses_where_the_cycle_does(air_c):
    capacity, power, condensing = chiller("R134a", REFERENCE_WATER_C, air_c)
    load_ratio = _load_ratio(capacity, power)
    assert condensing_temp(air_c, load_ratio) == pytest.approx(condensing, abs=0.2)


@pytest.mark.parametrize(
    ("airflow", "by_cycle_c", "by_formula_c"), [(0.8, 47.4, 46.8), (0.5, 54.1, 51.2), (0.3, 64.6, 56.7)]
)
def test_disagreement_with_a_dirty_screen_the_cycle_condenses_hotter_than_the_formula(
    airflow, by_cycle_c, by_formula_c
):
    """The formula takes 15 K x load / flow^0.5, an assumption; in the cycle the air itself warms more too, and what is
    left is nearer flow^-0.7. So the formula's trip comes late for a screen that passes less than half its air: at 30 °C
    and 0.3 it says 57 °C where the cycle has 65 °C, past a cut-out of 62 °C. Recirculated exhaust, which the model
    counts apart, closes part of the gap. Stated, not tuned."""
    capacity, power, condensing = chiller("R134a", REFERENCE_WATER_C, REFERENCE_AIR_C, airflow)
    assert condensing == pytest.approx(by_cycle_c, abs=0.3)
    found = condensing_temp(REFERENCE_AIR_C, _load_ratio(capacity, power), airflow)
    assert found == pytest.approx(by_formula_c, abs=0.3)
    assert found < condensing


def _load_ratio(capacity, power):
    """Rejected heat over the reference, from the two factors and the cycle's own COP at the reference."""
    cooling_w, power_w = compressor("R134a", REFERENCE_WATER_C - EVAPORATOR_K, REFERENCE_AIR_C + CONDENSER_K)
    return (capacity * cooling_w + power * power_w) / (cooling_w + power_w)


def test_the_oracle_meets_a_textbook_cycle():
    """Ideal R134a between -10 and 28 °C: COP 5.75, and 12.73 kW at 5 kg/min (textbook problem, enthalpies 241.35,
    267.9 and 88.61 kJ/kg). Saturated suction and liquid, no losses; CoolProp's own property data."""
    suction = {name: coolprop.PropsSI(name, "T", 263.15, "Q", 1, "R134a") for name in "HS"}
    high = coolprop.PropsSI("P", "T", 301.15, "Q", 1, "R134a")
    discharge = coolprop.PropsSI("H", "P", high, "S", suction["S"], "R134a")
    liquid = coolprop.PropsSI("H", "T", 301.15, "Q", 0, "R134a")
    assert (suction["H"] - liquid) / (discharge - suction["H"]) == pytest.approx(5.75, rel=0.01)
    assert (suction["H"] - liquid) * 5.0 / 60.0 / 1000.0 == pytest.approx(12.73, rel=0.015)
