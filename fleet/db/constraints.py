"""Turns the bounds, words and keys that the values declare into named constraints of the schema."""

from enum import StrEnum
from types import UnionType
from typing import Any, get_args, get_type_hints

from sqlalchemy import CheckConstraint, UniqueConstraint

from fleet.values.bounds import BOUNDS, READING_BOUNDS, Bound
from fleet.values.register import NATURAL_KEYS

_DECIMALS = frozenset({"tariff_per_kwh"})


def word_check(column: str, words: type[StrEnum]) -> CheckConstraint:
    """The column holds one of the words (or nothing)."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f'"{column}" IN ({listed})', name=f"{column}_word")


def _within(expression: str, bound: Bound) -> str:
    above = ">" if bound.open_low else ">="
    return f"{expression} {above} {bound.low!r} AND {expression} <= {bound.high!r}"


def bound_check(column: str, bound: Bound) -> CheckConstraint:
    """The column lies within the bound (or holds nothing).

    Both ends are always written: where a column may hold any type, text sorts above every number and so fails the
    upper end; not-a-number is above every number on the one engine and stored as nothing on the other.
    """
    expression = f'CAST("{column}" AS NUMERIC)' if column in _DECIMALS else f'"{column}"'
    return CheckConstraint(_within(expression, bound), name=f"{column}_range")


def reading_check() -> CheckConstraint:
    """The value of a reading lies within the bounds of its quantity; another quantity fits no branch and fails."""
    branches = " ".join(
        f"WHEN '{quantity}' THEN {_within('value', bound)}" for quantity, bound in READING_BOUNDS.items()
    )
    return CheckConstraint(f'CASE "quantity" {branches} ELSE 1 = 0 END', name="value_range")


def span_check() -> CheckConstraint:
    """A fact ends after it began."""
    return CheckConstraint('"until" > "since"', name="until_after_since")


def words_of(row_class: type) -> dict[str, type[StrEnum]]:
    """The fields of a value class that hold one word of a closed set, with the set."""
    found: dict[str, type[StrEnum]] = {}
    for name, hint in get_type_hints(row_class).items():
        parts = get_args(hint) if isinstance(hint, UnionType) else (hint,)
        for part in parts:
            if isinstance(part, type) and issubclass(part, StrEnum):
                found[name] = part
    return found


def rules_of_file(file: str, row_class: type) -> tuple[Any, ...]:
    """Every constraint that the values declare for the rows of one file of the register."""
    hints = get_type_hints(row_class)
    return (
        UniqueConstraint(*NATURAL_KEYS[file], name="natural_key"),
        *(word_check(column, words) for column, words in words_of(row_class).items()),
        *(bound_check(column, bound) for column, bound in BOUNDS.get(file, {}).items()),
        *((span_check(),) if "until" in hints else ()),
        *((reading_check(),) if file == "readings" else ()),
    )
