"""The forms of cells that hold numbers: quantities with units, plain numbers, counts, money."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from fleet.files.cells import Units
from fleet.units import (
    horsepower_text,
    number_text,
    parse_number,
    parse_quantity,
    plain_text,
    quantity_text,
    split_number,
)

_SI = {
    "temperature": "C",
    "difference": "K",
    "length": "m",
    "elevation": "m",
    "volume": "m3",
    "power": "W",
    "flow": "m3/h",
}


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, held in SI. `plate_horsepower` writes simple fractions of a horsepower as such."""

    kind: str
    plate_horsepower: bool = False

    def read(self, text: str) -> float:
        return parse_quantity(text, self.kind)

    def write(self, value: float, units: Units = None) -> str:
        return horsepower_text(value) if self.plate_horsepower else quantity_text(value, self.kind, units)

    def si_text(self, value: float) -> str:
        """`value` in its SI unit, for a message."""
        return f"{round(value, 4):.10g} {_SI[self.kind]}"


@dataclass(frozen=True)
class Number:
    """A number in the unit that the column's name ends in: bare, or with one of `spellings` of that unit.

    The value held is number × 10^-power_of_ten. With `kind`, other units of that kind are read as well, and the value
    held is SI × `per_si`.
    """

    spellings: tuple[str, ...] = ()
    power_of_ten: int = 0
    kind: str | None = None
    per_si: int = 1

    def read(self, text: str) -> float:
        number, unit = split_number(text)
        is_own_unit = not unit or unit in {spelling.casefold() for spelling in self.spellings}
        try:
            if self.kind and not is_own_unit:
                return float(Fraction(repr(parse_quantity(text, self.kind))) * self.per_si)
            if number and is_own_unit:
                return float(parse_number(number) / 10**self.power_of_ten) + 0.0
        except OverflowError:
            pass
        also = f", or with its unit: 12 {self.spellings[0]}" if self.spellings else ""
        raise ValueError(f"a plain number, such as 12 or 0.35{also}")

    def write(self, value: float, units: Units = None) -> str:
        return number_text(value, self.power_of_ten)


_WHOLE = re.compile(r"[+-]?\d{1,9}(?:\.0+)?", re.ASCII)


@dataclass(frozen=True)
class Whole:
    """A whole number."""

    def read(self, text: str) -> int:
        if not _WHOLE.fullmatch(plain_text(text)):
            raise ValueError("a whole number, such as 3")
        return int(plain_text(text).partition(".")[0])

    def write(self, value: int, units: Units = None) -> str:
        return f"{value:.0f}"


_MONEY = re.compile(r"\d{1,9}(?:[.,]\d{1,9})?", re.ASCII)


@dataclass(frozen=True)
class Money:
    """An exact decimal amount."""

    def read(self, text: str) -> Decimal:
        tidy = plain_text(text)
        if not _MONEY.fullmatch(tidy):
            raise ValueError("an amount as a plain number, such as 0.32")
        parse_number(tidy)
        return Decimal(tidy.replace(",", "."))

    def write(self, value: Decimal, units: Units = None) -> str:
        return f"{Decimal(value):f}"
