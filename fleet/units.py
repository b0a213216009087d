"""Units at the edge: what people write, read into SI; SI, shown in the units that people think in.

Temperatures and differences of temperature are two kinds, because 9 °F is −12.8 °C as a temperature and 5 K as a
difference. The conversions are those of pint, loaded on the first text that is read; the spellings that pint would
take for something else (F is its farad, C its coulomb) are listed here instead. Arithmetic is in exact fractions,
so a text reads to the float nearest to its meaning and a value can be written so that it reads back unchanged.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

LONGEST_TEXT = 60
"""Characters of a quantity; anything longer is a slip, not a quantity."""

_TEMPERATURE: dict[str, tuple[str, ...]] = {
    "degC": ("c", "°c", "degc", "celsius"),
    "degF": ("f", "°f", "degf", "fahrenheit"),
}
_DIFFERENCE: dict[str, tuple[str, ...]] = {
    "kelvin": ("k", "kelvin", "c", "°c", "degc"),
    "delta_degF": ("f", "°f", "degf"),
}
_LENGTH: dict[str, tuple[str, ...]] = {
    "m": ("m", "metre", "metres", "meter", "meters"),
    "cm": ("cm",),
    "mm": ("mm",),
    "inch": ("in", '"', "inch", "inches"),
    "foot": ("ft", "'", "foot", "feet"),
}
_VOLUME: dict[str, tuple[str, ...]] = {
    "liter": ("l", "litre", "litres", "liter", "liters"),
    "milliliter": ("ml",),
    "m**3": ("m3", "m³"),
    "gallon": ("gal", "usgal", "gallon", "gallons", "usgallon", "usgallons"),
    "imperial_gallon": ("impgal", "ukgal", "imperialgallon", "imperialgallons", "ukgallon", "ukgallons"),
    "ft**3": ("ft3", "cuft", "ft³"),
}
_AREA: dict[str, tuple[str, ...]] = {
    "m**2": ("m2", "m²", "sqm"),
    "cm**2": ("cm2", "cm²"),
    "ft**2": ("ft2", "ft²", "sqft"),
    "inch**2": ("in2", "in²", "sqin"),
}
_POWER: dict[str, tuple[str, ...]] = {
    "watt": ("w", "watt", "watts"),
    "kilowatt": ("kw",),
    "Btu_it/hour": ("btu/h", "btu/hr", "btuh", "btu/hour"),
    "horsepower": ("hp",),
    "refrigeration_ton": ("ton", "tons", "tonsofrefrigeration", "tonofrefrigeration"),
}
_FLOW: dict[str, tuple[str, ...]] = {
    "m**3/hour": ("m3/h", "m³/h", "m3/hr"),
    "ft**3/minute": ("cfm", "ft3/min"),
    "liter/hour": ("l/h", "lph", "l/hr"),
    "liter/minute": ("l/min", "lpm"),
    "liter/second": ("l/s",),
    "gallon/hour": ("gph", "gal/h", "gal/hr"),
    "gallon/minute": ("gpm", "gal/min"),
}
_MASS: dict[str, tuple[str, ...]] = {
    "kilogram": ("kg",),
    "gram": ("g", "gram", "grams"),
    "pound": ("lb", "lbs", "pound", "pounds"),
    "ounce": ("oz", "ounce", "ounces"),
}
_UNITS: dict[str, dict[str, tuple[str, ...]]] = {
    "temperature": _TEMPERATURE,
    "difference": _DIFFERENCE,
    "length": _LENGTH,
    "elevation": _LENGTH,
    "volume": _VOLUME,
    "area": _AREA,
    "power": _POWER,
    "flow": _FLOW,
    "mass": _MASS,
}
_SPELLINGS = {
    kind: {alias: unit for unit, aliases in units.items() for alias in aliases} for kind, units in _UNITS.items()
}
"""Kind → spelling (lower case, no blanks) → unit of pint."""

_BASE = {
    "temperature": "degC",
    "difference": "kelvin",
    "length": "m",
    "elevation": "m",
    "volume": "m**3",
    "area": "m**2",
    "power": "watt",
    "flow": "m**3/hour",
    "mass": "kilogram",
}
_ACCEPTED = {
    "temperature": "a temperature with its unit, such as 78 F or 25.5 C",
    "difference": "a temperature difference with its unit, such as 9 F or 5 K",
    "length": "a length with its unit, such as 18 in or 45 cm",
    "elevation": "an elevation with its unit, such as 650 ft or 200 m",
    "volume": "a volume with its unit, such as 75 gal (US), 62 imp gal or 284 L",
    "area": "an area with its unit, such as 6 sq ft or 0.5 m2",
    "power": "a power with its unit, such as 120 W, 1200 Btu/h or 1/10 hp",
    "flow": "a flow with its unit, such as 70 cfm or 120 m3/h",
    "mass": "a mass with its unit, such as 11 lb or 5 kg",
}
_MAY_BE_NEGATIVE = frozenset({"temperature", "difference", "elevation"})
ABSOLUTE_ZERO_C = -273.15

_PLAIN = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
_FRACTION = r"[+-]?(?:\d+[ -])?\d+/\d+"
_NUMBER = re.compile(_PLAIN, re.ASCII)
_QUANTITY = re.compile(rf"({_FRACTION}|{_PLAIN}) ?(.*)", re.ASCII | re.DOTALL)
_FEET_AND_INCHES = re.compile(rf"(\d+) ?(?:'|ft|foot|feet) ?({_FRACTION}|{_PLAIN}) ?(?:\"|in|inch|inches)", re.ASCII)
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?!\d)", re.ASCII)

_TYPOGRAPHY = str.maketrans(
    {
        "\u00a0": " ",
        "\u2007": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\u2212": "-",
        "\u2044": "/",
        "\u2032": "'",
        "\u2033": '"',
        "\u201d": '"',
        "\u2019": "'",
        "\u00ba": "°",
        "\u2103": "°C",
        "\u2109": "°F",
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅓": " 1/3",
        "⅔": " 2/3",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
    }
)


def accepted_form(kind: str) -> str:
    """What a quantity of this kind looks like, for a message: "a length with its unit, such as 18 in or 45 cm"."""
    return _ACCEPTED[kind]


def plain_text(text: str) -> str:
    """`text` with typographic blanks, minus signs, primes and fractions as ASCII, single blanks, none at the ends."""
    return " ".join(text.translate(_TYPOGRAPHY).split())


def parse_number(text: str) -> Fraction:
    """A plain decimal number, exact. Raises ValueError with what was expected.

    "25,5" is 25.5. "1,200" is refused: it is 1200 to one reader and 1.2 to another.
    """
    tidy = plain_text(text)
    if len(tidy) > LONGEST_TEXT or not _NUMBER.fullmatch(tidy):
        raise ValueError("a plain number, such as 12 or 0.35")
    return _fraction(tidy, "such as 1200 or 1.2")


def split_number(text: str) -> tuple[str, str]:
    """The plain decimal number that a text begins with ("" for none), and what follows in lower case without blanks."""
    tidy = plain_text(text)
    number = _NUMBER.match(tidy)
    return (number[0], _unit_spelling(tidy[number.end() :])) if number else ("", _unit_spelling(tidy))


@lru_cache(maxsize=65_536)
def parse_quantity(text: str, kind: str) -> float:
    """The SI value of a number with its unit, the float nearest to what is written.

    kind: temperature [°C], difference [K], length and elevation [m], volume [m3], area [m2], power [W], flow [m3/h],
    mass [kg]. gal is the US gallon, Btu the International Table one, hp 550 ft·lbf/s, ton a ton of refrigeration.
    Fractions (1 1/2 in), feet with inches (4' 6") and a decimal comma are read; case and blanks do not matter.
    Raises ValueError whose text says what was expected, with an accepted form: no unit, a unit of another kind (kelvin
    as a temperature too), a comma that may part thousands, nothing finite, below zero where that has no meaning.
    """
    expected = _ACCEPTED[kind]
    tidy = plain_text(text)
    if not tidy or len(tidy) > LONGEST_TEXT:
        raise ValueError(expected)
    if kind == "length" and (both := _FEET_AND_INCHES.fullmatch(tidy.casefold())):
        feet, inches = int(both[1]), _fraction(both[2], expected)
        return _finite(Fraction(3048, 10_000) * feet + Fraction(254, 10_000) * inches, kind)
    parts = _QUANTITY.fullmatch(tidy)
    if parts is None:
        raise ValueError(expected)
    spelling = _unit_spelling(parts[2])
    number = _fraction(parts[1], f"such as {_ACCEPTED[kind].partition('such as ')[2]}")
    if spelling not in _SPELLINGS[kind]:
        raise ValueError(expected)
    scale, offset = _conversion(_SPELLINGS[kind][spelling], _BASE[kind])
    return _finite(number * scale + offset, kind)


def _unit_spelling(text: str) -> str:
    return text.casefold().replace(" ", "").rstrip(".")


def _fraction(number: str, example: str) -> Fraction:
    """The exact value of a text that matched _PLAIN or _FRACTION."""
    if _MAYBE_THOUSANDS.match(number):
        raise ValueError(f"a number without a comma between thousands, {example}")
    if "/" not in number:
        return Fraction(Decimal(number.replace(",", ".")))
    sign = -1 if number.startswith("-") else 1
    *whole, part = re.split(r"[ -]", number.lstrip("+-"))
    above, below = (int(digits) for digits in part.split("/"))
    if below == 0:
        raise ValueError(f"a fraction that does not divide by zero, {example}")
    return sign * (Fraction(above, below) + (int(whole[0]) if whole else 0))


def _finite(exact: Fraction, kind: str) -> float:
    try:
        value = float(exact)
    except OverflowError:
        raise ValueError(_ACCEPTED[kind]) from None
    if kind == "temperature" and value < ABSOLUTE_ZERO_C:
        raise ValueError("a temperature above absolute zero, such as 78 F or 25.5 C")
    if value < 0 and kind not in _MAY_BE_NEGATIVE:
        raise ValueError(_ACCEPTED[kind].replace(" with its unit", " of zero or more, with its unit"))
    return value + 0.0


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


@lru_cache(maxsize=256)
def _conversion(unit: str, base: str) -> tuple[Fraction, Fraction]:
    """(scale, offset) with base = scale × unit + offset, exact."""
    quantity = _registry().Quantity
    zero, one = (Fraction(quantity(Fraction(count), unit).to(base).magnitude) for count in (0, 1))
    return one - zero, zero


_US_SPELLING = {
    "temperature": "F",
    "difference": "F",
    "length": "in",
    "elevation": "ft",
    "volume": "gal",
    "area": "sq ft",
    "flow": "cfm",
    "mass": "lb",
}
_METRIC_SPELLING = {
    "temperature": ("C", 0),
    "difference": ("K", 0),
    "length": ("cm", 2),
    "elevation": ("m", 0),
    "volume": ("L", 3),
    "area": ("m2", 0),
    "power": ("W", 0),
    "flow": ("m3/h", 0),
    "mass": ("kg", 0),
}
"""Spelling, and the power of ten by which the number grows from SI."""

_PLATE_DENOMINATORS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20)


@lru_cache(maxsize=65_536)
def quantity_text(value: float, kind: str, units: str | None) -> str:
    """A text that `parse_quantity` reads back to exactly `value` (SI, finite).

    In US customary units ("us") when a short decimal there means exactly this value, else in metric ones.
    """
    if units == "us" and kind in _US_SPELLING:
        spelling = _US_SPELLING[kind]
        scale, offset = _conversion(_SPELLINGS[kind][spelling.casefold().replace(" ", "")], _BASE[kind])
        text = f"{float((Fraction(value) - offset) / scale):.8g} {spelling}"
        if parse_quantity(text, kind) == value:
            return text
    spelling, power_of_ten = _METRIC_SPELLING[kind]
    return f"{number_text(value, power_of_ten)} {spelling}"


def number_text(value: float, power_of_ten: int = 0) -> str:
    """`value` × 10^power_of_ten in as few digits as read back to exactly `value`, plain unless very long."""
    digits = Decimal(repr(value)).scaleb(power_of_ten)
    plain = f"{digits:f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return plain if len(plain) <= 24 else f"{digits.normalize():E}"


def horsepower_text(value_w: float) -> str:
    """A rated motor power [W] as plates print it, "1/10 hp", else in W; reads back to exactly `value_w`."""
    scale, _ = _conversion("horsepower", "watt")
    for below in _PLATE_DENOMINATORS:
        above = round(Fraction(value_w) / scale * below)
        if 0 < above < 100 and float(Fraction(above, below) * scale) == value_w:
            return f"{above}/{below} hp" if below > 1 else f"{above} hp"
    return quantity_text(value_w, "power", None)


L_PER_US_GALLON = 3.785411784
M_PER_INCH = 0.0254
M3_H_PER_CFM = 0.3048**3 * 60.0
KG_PER_POUND = 0.45359237


class Display:
    """Shows SI values to people: US customary units for "us", metric ones otherwise. Rounded; not for reading back.

    Electric and cooling power is in watts for everybody, as on the plates of today's lamps and pumps.
    """

    def __init__(self, units: str | None) -> None:
        self.us = units == "us"

    def temperature(self, temp_c: float) -> str:
        """Such as "25.6 °C" or "78.1 °F"."""
        return f"{temp_c * 1.8 + 32.0:z.1f} °F" if self.us else f"{temp_c:z.1f} °C"

    def both_temperatures(self, temp_c: float) -> str:
        """A temperature by which somebody acts, in both units, the client's first: "29.5 °C (85.1 °F)"."""
        return f"{self.temperature(temp_c)} ({Display(None if self.us else 'us').temperature(temp_c)})"

    def difference(self, difference_k: float) -> str:
        """Such as "5.0 K" or "9.0 °F"."""
        return f"{difference_k * 1.8:z.1f} °F" if self.us else f"{difference_k:z.1f} K"

    def length(self, length_m: float) -> str:
        """Such as "12 mm", "45 cm", "12.5 m"; "17.7 in", "41 ft"."""
        if self.us:
            inches = length_m / M_PER_INCH
            return f"{_trimmed(inches)} in" if abs(inches) < 120.0 else f"{_trimmed(inches / 12.0)} ft"
        if abs(length_m) < 0.1:
            return f"{_trimmed(length_m * 1000.0)} mm"
        return f"{_trimmed(length_m * 100.0)} cm" if abs(length_m) < 3.0 else f"{_trimmed(length_m)} m"

    def volume(self, volume_m3: float) -> str:
        """Such as "284 L" or "75 gal"; one decimal below ten, cubic metres from 10 m³ on."""
        if self.us:
            return f"{_rounded(volume_m3 * 1000.0 / L_PER_US_GALLON)} gal"
        return f"{_rounded(volume_m3 * 1000.0)} L" if volume_m3 < 10.0 else f"{_trimmed(volume_m3)} m³"

    def flow(self, flow_m3_h: float) -> str:
        """Such as "120 m³/h" or "71 cfm"."""
        return f"{_rounded(flow_m3_h / M3_H_PER_CFM)} cfm" if self.us else f"{_rounded(flow_m3_h)} m³/h"

    def water_flow(self, flow_m3_h: float) -> str:
        """Flow of water through a pump or a cooler, such as "2.4 m³/h" or "634 gph"."""
        return f"{_rounded(flow_m3_h * 1000.0 / L_PER_US_GALLON)} gph" if self.us else f"{_rounded(flow_m3_h)} m³/h"

    def power(self, power_w: float) -> str:
        """Such as "348 W", "12.3 kW"."""
        return f"{_rounded(power_w)} W" if abs(power_w) < 10_000.0 else f"{_trimmed(power_w / 1000.0)} kW"

    def mass(self, mass_kg: float) -> str:
        """Such as "5 kg" or "11 lb"."""
        return f"{_trimmed(mass_kg / KG_PER_POUND)} lb" if self.us else f"{_trimmed(mass_kg)} kg"

    def volume_per_day(self, litres_per_day: float) -> str:
        """Such as "4.2 L/day" or "1.1 gal/day"."""
        if self.us:
            return f"{_rounded(litres_per_day / L_PER_US_GALLON)} gal/day"
        return f"{_rounded(litres_per_day)} L/day"


def _rounded(value: float) -> str:
    """No decimals from ten on, one below."""
    return f"{value:z.0f}" if abs(value) >= 9.95 else f"{value:z.1f}"


def _trimmed(value: float) -> str:
    """At most one decimal, none when it is zero."""
    return f"{value:z.1f}".removesuffix(".0")
