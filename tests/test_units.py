"""Conversions against printed factors, and what is taken for a quantity and what is not."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.units import (
    KG_PER_POUND,
    L_PER_US_GALLON,
    M3_H_PER_CFM,
    M_PER_INCH,
    Display,
    accepted_form,
    horsepower_text,
    number_text,
    parse_number,
    parse_quantity,
    quantity_text,
)

SP811 = "NIST SP 811 (2008), appendix B"
KINDS = ("temperature", "difference", "length", "elevation", "volume", "area", "power", "flow", "mass")


@pytest.mark.parametrize(
    ("text", "kind", "si", "source"),
    [
        ("1 in", "length", 2.54e-2, SP811),
        ("1 ft", "length", 3.048e-1, SP811),
        ("1 gal", "volume", 3.785412e-3, SP811),
        ("1 gal", "volume", 231 * 0.0254**3, "definition: the US gallon is 231 cubic inches"),
        ("1 US gal", "volume", 3.785411784e-3, SP811 + ", exact"),
        ("1 imp gal", "volume", 4.54609e-3, SP811 + ", exact"),
        ("1 UK gal", "volume", 4.54609e-3, SP811 + ", exact"),
        ("1 ft3", "volume", 2.831685e-2, SP811),
        ("1 sq ft", "area", 9.290304e-2, SP811 + ", exact"),
        ("1 in2", "area", 6.4516e-4, SP811 + ", exact"),
        ("1 Btu/h", "power", 2.930711e-1, SP811 + ", International Table"),
        ("1 hp", "power", 7.456999e2, SP811 + ", 550 ft·lbf/s"),
        ("1 ton", "power", 3.516853e3, SP811 + ", ton of refrigeration (12 000 Btu/h)"),
        ("12000 Btu/h", "power", 3.516853e3, SP811 + ", ton of refrigeration (12 000 Btu/h)"),
        ("1 cfm", "flow", 4.719474e-4 * 3600, SP811 + ", m3/s"),
        ("1 gpm", "flow", 6.309020e-5 * 3600, SP811 + ", m3/s"),
        ("1 gph", "flow", 6.309020e-5 * 60, SP811 + ", m3/s"),
        ("1 lb", "mass", 4.535924e-1, SP811),
        ("1 oz", "mass", 2.834952e-2, SP811),
        ("9 F", "difference", 9 * 5.555556e-1, SP811 + ", interval of temperature"),
        ("32 F", "temperature", 0.0, SP811 + ", t/°C = (t/°F − 32)/1.8"),
        ("78 F", "temperature", (78 - 32) / 1.8, SP811 + ", t/°C = (t/°F − 32)/1.8"),
        ("212 F", "temperature", 100.0, SP811 + ", t/°C = (t/°F − 32)/1.8"),
        ("-40 F", "temperature", -40.0, SP811 + ", t/°C = (t/°F − 32)/1.8"),
    ],
)
def test_conversions_agree_with_print(text: str, kind: str, si: float, source: str) -> None:
    assert parse_quantity(text, kind) == pytest.approx(si, rel=5e-7, abs=1e-12), source


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("284 L", "volume", 0.284),
        ("284 l", "volume", 0.284),
        ("284 litres", "volume", 0.284),
        ("284 liter", "volume", 0.284),
        ("500 ml", "volume", 0.0005),
        ("1.2 m3", "volume", 1.2),
        ("1.2 m³", "volume", 1.2),
        ("25.5 C", "temperature", 25.5),
        ("25.5°C", "temperature", 25.5),
        ("25.5 ℃", "temperature", 25.5),
        ("25.5 ºC", "temperature", 25.5),
        ("59 °F", "temperature", 15.0),
        ("59 degF", "temperature", 15.0),
        ("5 K", "difference", 5.0),
        ("5 C", "difference", 5.0),
        ("−5 C", "temperature", -5.0),
        ("120 W", "power", 120.0),
        ("0.12 kW", "power", 120.0),
        ("18 in", "length", 0.4572),
        ('18"', "length", 0.4572),
        ("18 inches", "length", 0.4572),
        ("18 in.", "length", 0.4572),
        ("1/2 in", "length", 0.0127),
        ("½ in", "length", 0.0127),
        ("1 1/2 in", "length", 0.0381),
        ("1-1/2 in", "length", 0.0381),
        ("1½ in", "length", 0.0381),
        ("4 ft", "length", 1.2192),
        ("4 ft 6 in", "length", 1.3716),
        ("4' 6\"", "length", 1.3716),
        ("4′6½″", "length", 1.3843),
        ("45 cm", "length", 0.45),
        ("12 mm", "length", 0.012),
        ("-86 m", "elevation", -86.0),
        ("12 m3/h", "flow", 12.0),
        ("200 L/min", "flow", 12.0),
        ("10 L/s", "flow", 36.0),
        ("1000 L/h", "flow", 1.0),
        ("450 g", "mass", 0.45),
        ("0.5 m2", "area", 0.5),
        ("25,5 C", "temperature", 25.5),
        ("0,125 m3", "volume", 0.125),
        ("1e3 W", "power", 1000.0),
        (".5 L", "volume", 0.0005),
        ("284\u00a0L", "volume", 0.284),
        ("  284   L  ", "volume", 0.284),
    ],
)
def test_the_ways_people_write_a_quantity(text: str, kind: str, si: float) -> None:
    assert parse_quantity(text, kind) == si


def test_a_tenth_of_a_horsepower_is_a_tenth() -> None:
    assert parse_quantity("1/10 hp", "power") == pytest.approx(74.569987, rel=1e-8), SP811
    assert parse_quantity("1 1/2 hp", "power") == pytest.approx(1.5 * 745.69987, rel=1e-8), SP811


def test_a_difference_is_not_a_temperature() -> None:
    assert parse_quantity("9 F", "difference") == 5.0
    assert parse_quantity("9 F", "temperature") == pytest.approx(-12.777778)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "12",
        "F",
        "C",
        "12 parsec",
        "12 12 L",
        "nan L",
        "inf C",
        "1e999 m",
        "1..2 L",
        "12 L L",
        "x" * 61,
        "٣ L",
    ],
)
def test_what_is_no_quantity_is_refused_with_an_accepted_form(text: str, kind: str) -> None:
    with pytest.raises(ValueError, match="such as") as refused:
        parse_quantity(text, kind)
    example = accepted_form(kind).rpartition(" or ")[2]
    assert example in str(refused.value)
    parse_quantity(example, kind)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("298 K", "temperature", "a temperature with its unit, such as 78 F or 25.5 C"),
        ("75", "volume", "a volume with its unit, such as 75 gal (US), 62 imp gal or 284 L"),
        ("18 L", "length", "a length with its unit, such as 18 in or 45 cm"),
        ("5 oz", "volume", "a volume with its unit, such as 75 gal (US), 62 imp gal or 284 L"),
        ("2 ton", "mass", "a mass with its unit, such as 11 lb or 5 kg"),
        ("-1 gal", "volume", "a volume of zero or more, with its unit, such as 75 gal (US), 62 imp gal or 284 L"),
        ("-460 F", "temperature", "a temperature above absolute zero, such as 78 F or 25.5 C"),
        ("1/0 hp", "power", "a fraction that does not divide by zero, such as 120 W, 1200 Btu/h or 1/10 hp"),
        (
            "1,200 Btu/h",
            "power",
            "a number without a comma between thousands, such as 120 W, 1200 Btu/h or 1/10 hp",
        ),
    ],
)
def test_refusals_say_what_was_expected(text: str, kind: str, expected: str) -> None:
    with pytest.raises(ValueError, match="such as") as refused:
        parse_quantity(text, kind)
    assert str(refused.value) == expected


@pytest.mark.parametrize(("text", "value"), [("12", 12), ("-73,94", -73.94), ("0.35", 0.35), ("1,2000", 1.2)])
def test_plain_numbers(text: str, value: float) -> None:
    assert float(parse_number(text)) == value


@pytest.mark.parametrize("text", ["", "1,200", "1,200,000", "12 W", "1/2", "nan", "1e9999", "0x10", "1_000"])
def test_what_is_no_plain_number(text: str) -> None:
    with pytest.raises(ValueError, match="such as"):
        parse_number(text)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=70), st.sampled_from(KINDS))
def test_any_text_is_a_finite_quantity_or_refused(text: str, kind: str) -> None:
    try:
        value, refusal = parse_quantity(text, kind), ""
    except ValueError as refused:
        value, refusal = 0.0, str(refused)
    assert math.isfinite(value)
    assert not refusal or "such as" in refusal


@settings(max_examples=200, deadline=None)
@given(
    st.floats(0, 1e6, allow_nan=False),
    st.sampled_from([kind for kind in KINDS if kind != "temperature"]),
    st.sampled_from(["us", "metric", None]),
)
def test_a_written_quantity_reads_back_to_the_same_float(value: float, kind: str, units: str | None) -> None:
    assert parse_quantity(quantity_text(value, kind, units), kind) == value


@settings(max_examples=200, deadline=None)
@given(st.floats(-100, 200, allow_nan=False), st.sampled_from(["us", "metric", None]))
def test_a_written_temperature_reads_back_to_the_same_float(value: float, units: str | None) -> None:
    assert parse_quantity(quantity_text(value, "temperature", units), "temperature") == value


@pytest.mark.parametrize(
    ("typed", "kind", "units", "written"),
    [
        ("75 gal", "volume", "us", "75 gal"),
        ("78.4 F", "temperature", "us", "78.4 F"),
        ("9 F", "difference", "us", "9 F"),
        ("48 in", "length", "us", "48 in"),
        ("4 ft", "length", "us", "48 in"),
        ("70 cfm", "flow", "us", "70 cfm"),
        ("11 lb", "mass", "us", "11 lb"),
        ("120 W", "power", "us", "120 W"),
        ("284 L", "volume", "metric", "284 L"),
        ("25.5 C", "temperature", "metric", "25.5 C"),
        ("45 cm", "length", "metric", "45 cm"),
        ("12 mm", "length", None, "1.2 cm"),
    ],
)
def test_quantities_are_written_as_people_typed_them(typed: str, kind: str, units: str | None, written: str) -> None:
    assert quantity_text(parse_quantity(typed, kind), kind, units) == written


@pytest.mark.parametrize("plate", ["1/10 hp", "1/4 hp", "1/3 hp", "1/2 hp", "3/4 hp", "1 hp", "3/2 hp", "1/15 hp"])
def test_plates_keep_their_fraction_of_a_horsepower(plate: str) -> None:
    assert horsepower_text(parse_quantity(plate, "power")) == plate


def test_a_motor_rated_in_watts_stays_in_watts() -> None:
    assert horsepower_text(90.0) == "90 W"
    assert horsepower_text(0.0) == "0 W"


@pytest.mark.parametrize(
    ("value", "power", "text"), [(0.55, 2, "55"), (1e-30, 0, "1E-30"), (0.1, 0, "0.1"), (5.0, 0, "5")]
)
def test_numbers_are_written_short(value: float, power: int, text: str) -> None:
    assert number_text(value, power) == text


def test_what_people_are_shown_metric() -> None:
    show = Display("metric")
    assert show.temperature(25.6) == "25.6 °C"
    assert show.temperature(-0.04) == "0.0 °C"
    assert show.difference(5.0) == "5.0 K"
    assert [show.length(metres) for metres in (0.012, 0.45, 12.5)] == ["12 mm", "45 cm", "12.5 m"]
    assert [show.volume(m3) for m3 in (0.0042, 0.284, 25.0)] == ["4.2 L", "284 L", "25 m³"]
    assert show.flow(120.0) == "120 m³/h"
    assert show.water_flow(2.4) == "2.4 m³/h"
    assert [show.power(watts) for watts in (7.25, 348.4, 12_340.0)] == ["7.2 W", "348 W", "12.3 kW"]
    assert show.mass(5.0) == "5 kg"
    assert show.volume_per_day(4.2) == "4.2 L/day"


def test_what_people_are_shown_in_the_united_states() -> None:
    show = Display("us")
    assert show.temperature(25.6) == "78.1 °F"
    assert show.difference(5.0) == "9.0 °F"
    assert [show.length(metres) for metres in (0.0127, 0.4572, 12.5)] == ["0.5 in", "18 in", "41 ft"]
    assert [show.volume(m3) for m3 in (0.0042, 0.284)] == ["1.1 gal", "75 gal"]
    assert show.flow(120.0) == "71 cfm"
    assert show.water_flow(2.4) == "634 gph", "2400 L over 3.785411784 L: NIST SP 811"
    assert show.power(348.4) == "348 W"
    assert show.mass(5.0) == "11 lb"
    assert show.volume_per_day(4.2) == "1.1 gal/day"


def test_nobody_stated_means_metric() -> None:
    assert Display(None).temperature(20.0) == "20.0 °C"


def test_a_limit_is_shown_in_both_units_with_the_clients_own_first() -> None:
    assert Display("us").both_temperatures(25.0) == "77.0 °F (25.0 °C)"
    assert Display("metric").both_temperatures(100.0) == "100.0 °C (212.0 °F)"


@pytest.mark.parametrize(
    ("constant", "text", "kind", "per_si"),
    [
        (L_PER_US_GALLON, "1 gal", "volume", 1000.0),
        (M_PER_INCH, "1 in", "length", 1.0),
        (M3_H_PER_CFM, "1 cfm", "flow", 1.0),
        (KG_PER_POUND, "1 lb", "mass", 1.0),
    ],
)
def test_showing_and_reading_use_the_same_factors(constant: float, text: str, kind: str, per_si: float) -> None:
    assert constant == pytest.approx(parse_quantity(text, kind) * per_si, rel=1e-12)


def test_importing_units_loads_no_unit_library() -> None:
    code = "import sys, fleet.units; sys.exit('pint' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
