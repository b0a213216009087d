"""What is assumed where the register is silent, beside what print and practice say."""

from __future__ import annotations

import pytest

from fleet.thermal import defaults
from fleet.thermal.plates import device_plate
from fleet.thermal.ranges import CHILLER_WATER_C
from fleet.values.register import Device
from fleet.values.vocabulary import DeviceKind, Mounting, Wall


def test_soda_lime_glass_conducts_about_1_w_per_m_k():
    """From memory: ISO 10456 and EN 673 calculate with 1.0."""
    assert defaults.WALL_CONDUCTIVITY[Wall.GLASS] == pytest.approx(1.0, abs=0.2)


def test_stock_at_rest_gives_what_fasting_fish_give():
    """Pacu fasting at 26 °C, 0.04643 W^0.7882 T^1.837 kJ/d, W in kg (An. Acad. Bras. Cienc. 89(2), 2017): 18.5 kJ/d,
    0.21 W, for 1 kg. The default of 0.25 W/kg is turbot at 22 °C."""
    kj_per_day = 0.04643 * 1.0**0.7882 * 26.0**1.837
    assert kj_per_day == pytest.approx(18.5, abs=0.5)
    assert kj_per_day * 1000.0 / 86_400.0 == pytest.approx(min(defaults.LIVESTOCK_W_PER_KG), abs=0.06)


@pytest.mark.parametrize("mounting", [Mounting.RIM, Mounting.SUSPENDED])
def test_no_more_of_a_free_lamp_reaches_the_water_than_the_best_white_led_gives_as_light(mounting):
    """At most 0.76 W of light per watt, phosphor-converted white (Kusuma, Pattison and Bugbee, Horticulture Research
    2020); the rest warms the fixture's own air."""
    assert max(defaults.LIGHT_TO_WATER[mounting]) <= 0.76


def test_a_rating_at_the_conditions_of_large_water_chillers_is_taken_as_printed():
    """AHRI 550/590 (IP) 2015, table 1: water leaves at 44 °F, 6.67 °C, air at 95 °F. That lies under the 8 °C at which
    the curve begins, so it is not carried to 25 °C, where such a set would give more: the safe side."""
    leaving_c = (44.0 - 32.0) / 1.8
    assert leaving_c == pytest.approx(6.67, abs=0.02)
    assert leaving_c < CHILLER_WATER_C.low
    printed = Device(
        "chiller",
        DeviceKind.CHILLER,
        "Chiller",
        rated_cooling_w=1000.0,
        rated_water_temp_c=leaving_c,
        rated_air_temp_c=35.0,
    )
    spread, _basis = device_plate(printed)
    assert spread is not None
    assert spread.mid == pytest.approx(1000.0)


def test_a_thermoelectric_cooler_spans_far_less_than_its_bare_couples():
    """Mechanical Engineers' Handbook vol. 4, eq. 117: z Tc^2 / 2, 76.8 K at z = 2.46e-3 /K and 250 K. Air and water
    sinks take most of it: 25 to 30 K is planned with (from memory)."""
    couples_k = 2.46e-3 * 250.0**2 / 2.0
    assert couples_k == pytest.approx(76.8, abs=0.5)
    assert max(defaults.THERMOELECTRIC_SPAN_K) < couples_k / 2.0
