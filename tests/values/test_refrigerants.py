"""Refrigerants: safety class, warming potential, thresholds of leak-check law."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.refrigerants import (
    NOT_COUNTED,
    REGULATED_G,
    SAFETY_CLASS,
    STRONGEST_BLEND,
    WARMING_POTENTIAL,
    co2_equivalent_t,
    designation,
    flammable_or_unknown,
    may_be_regulated,
)
from fleet.values.register import Device
from fleet.values.vocabulary import DeviceKind

EU = "Regulation (EU) 517/2014, annexes I, II and IV: pure gases, 100 years"
PURE_GASES = {
    "R32": 675.0,
    "R125": 3500.0,
    "R134a": 1430.0,
    "R143a": 4470.0,
    "R152a": 124.0,
    "R1234yf": 4.0,
    "R1234ze": 7.0,
    "R600a": 3.0,
    "R744": 1.0,
}
"""Warming potential of pure gases; EU, from memory but for R134a, which makers' papers print beside R407C 1774 and
R410A 2088."""

BLENDS = [
    ("R404A", {"R125": 44, "R143a": 52, "R134a": 4}),
    ("R407C", {"R32": 23, "R125": 25, "R134a": 52}),
    ("R410A", {"R32": 50, "R125": 50}),
    ("R422D", {"R125": 65.1, "R134a": 31.5, "R600a": 3.4}),
    ("R448A", {"R32": 26, "R125": 26, "R134a": 21, "R1234yf": 20, "R1234ze": 7}),
    ("R449A", {"R32": 24.3, "R125": 24.7, "R134a": 25.7, "R1234yf": 25.3}),
    ("R450A", {"R134a": 42, "R1234ze": 58}),
    ("R452A", {"R32": 11, "R125": 59, "R1234yf": 30}),
    ("R454A", {"R32": 35, "R1234yf": 65}),
    ("R454B", {"R32": 68.9, "R1234yf": 31.1}),
    ("R454C", {"R32": 21.5, "R1234yf": 78.5}),
    ("R455A", {"R744": 3, "R32": 21.5, "R1234yf": 75.5}),
    ("R507A", {"R125": 50, "R143a": 50}),
    ("R513A", {"R1234yf": 56, "R134a": 44}),
]
"""Mass shares in % of the blends: ASHRAE 34, from memory but for R404A, which is quoted on public pages."""


def chiller(refrigerant: str | None, charge_g: float | None = None) -> Device:
    return Device("CH", DeviceKind.CHILLER, "Chiller", refrigerant=refrigerant, charge_g=charge_g)


@pytest.mark.parametrize(("name", "shares"), BLENDS)
def test_a_blend_warms_as_its_parts_do_by_mass(name: str, shares: dict[str, float]) -> None:
    assert sum(shares.values()) == pytest.approx(100)
    mixed = sum(PURE_GASES[gas] * share / 100 for gas, share in shares.items())
    assert WARMING_POTENTIAL[name] == pytest.approx(mixed, abs=1.0), EU


def test_pure_gases_stand_as_in_the_regulation() -> None:
    for gas in ("R32", "R134a", "R152a"):
        assert WARMING_POTENTIAL[gas] == PURE_GASES[gas], EU


def test_every_refrigerant_is_either_counted_or_not_or_older_than_the_law_on_fluorinated_gases() -> None:
    assert not NOT_COUNTED & WARMING_POTENTIAL.keys()
    assert SAFETY_CLASS.keys() - WARMING_POTENTIAL.keys() - NOT_COUNTED == {"R12", "R22"}
    assert max(WARMING_POTENTIAL.values()) == STRONGEST_BLEND


@pytest.mark.parametrize(
    ("refrigerant", "kg_at_5_t", "source"),
    [
        ("R410A", 2.39, "an inverter heat pump's manual, quoting Regulation (EU) 517/2014"),
        ("R134a", 3.50, "5000 / 1430, Regulation (EU) 517/2014"),
        ("R404A", 1.27, "5000 / 3922, Regulation (EU) 517/2014"),
        ("R32", 7.41, "5000 / 675, Regulation (EU) 517/2014"),
    ],
)
def test_leak_checks_begin_at_5_t_of_co2_equivalent(refrigerant: str, kg_at_5_t: float, source: str) -> None:
    assert co2_equivalent_t(chiller(refrigerant, kg_at_5_t * 1000)) == pytest.approx(5.0, rel=0.005), source
    if kg_at_5_t * 1000 < REGULATED_G:
        assert not may_be_regulated(chiller(refrigerant, kg_at_5_t * 990))
    assert may_be_regulated(chiller(refrigerant, kg_at_5_t * 1010))


def test_the_us_threshold_is_15_lb() -> None:
    assert pytest.approx(15 * 453.59237, rel=1e-4) == REGULATED_G, "40 CFR 84.106; 1 lb = 453.59237 g, NIST SP 811"
    assert may_be_regulated(chiller("R454C", REGULATED_G))


@pytest.mark.parametrize("charge_g", [60.0, 150.0, 300.0, 900.0])
@pytest.mark.parametrize("refrigerant", ["R134a", "R410A", "R404A", "R290", None])
def test_the_charge_of_a_unit_for_a_tank_lies_below_both(refrigerant: str | None, charge_g: float) -> None:
    assert not may_be_regulated(chiller(refrigerant, charge_g))


@pytest.mark.parametrize("refrigerant", sorted(NOT_COUNTED))
def test_hydrocarbons_and_their_like_are_not_counted(refrigerant: str) -> None:
    assert co2_equivalent_t(chiller(refrigerant, 50_000)) == 0
    assert not may_be_regulated(chiller(refrigerant, 50_000))


def test_an_unknown_charge_is_not_regulated_and_an_unknown_gas_counts_as_the_strongest() -> None:
    assert not may_be_regulated(chiller("R404A"))
    assert co2_equivalent_t(chiller("R404A")) is None
    assert may_be_regulated(chiller(None, 1300))
    assert not may_be_regulated(chiller(None, 1200))


ASHRAE_34 = "ASHRAE 34-2022 and ISO 817, as listed on refrigerant data pages"


@pytest.mark.parametrize(
    ("refrigerant", "burns", "source"),
    [
        ("R134a", False, ASHRAE_34),
        ("R404A", False, ASHRAE_34),
        ("R410A", False, ASHRAE_34),
        ("R22", False, ASHRAE_34),
        ("R32", True, ASHRAE_34),
        ("R454B", True, ASHRAE_34),
        ("R454C", True, ASHRAE_34),
        ("R1234yf", True, ASHRAE_34),
        ("R1234ze(E)", True, ASHRAE_34),
        ("R717", True, ASHRAE_34),
        ("R290", True, ASHRAE_34),
        ("R600a", True, ASHRAE_34),
        ("R1270", True, ASHRAE_34),
        (None, True, "common practice: unknown counts as flammable"),
        ("", True, "common practice: unknown counts as flammable"),
        ("see plate", True, "common practice: unknown counts as flammable"),
        ("R999", True, "common practice: unknown counts as flammable"),
    ],
)
def test_which_refrigerants_may_burn(refrigerant: str | None, burns: bool, source: str) -> None:
    assert flammable_or_unknown(chiller(refrigerant)) is burns, source


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("R134a", "R134a"),
        ("R-134A", "R134a"),
        ("r 134a", "R134a"),
        ("HFC-134a", "R134a"),
        ("R600a, 28 g", "R600a"),
        ("HC-290", "R290"),
        ("propane (R290)", "R290"),
        ("R404A", "R404A"),
        ("r404a", "R404A"),
        ("R 404 A", None),
        ("134", None),
        ("45 g", None),
        ("unknown", None),
        (None, None),
    ],
)
def test_designations_are_read_as_people_write_them(text: str | None, name: str | None) -> None:
    assert designation(text) == name


def test_of_several_designations_in_one_text_the_one_that_burns_counts() -> None:
    assert flammable_or_unknown(chiller("R134a, retrofitted to R290"))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_either_known_or_counts_as_flammable(text: str) -> None:
    name = designation(text)
    assert name is None or name in SAFETY_CLASS
    if name is None:
        assert flammable_or_unknown(chiller(text))
