"""Column types that turn stored text into the values of the register and back, the same on every engine."""

from collections.abc import Callable
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, Dialect, String, TypeDecorator
from sqlmodel import Field

from fleet.values.register import YearSpan


class Word(TypeDecorator[StrEnum]):
    """One member of a closed set of words, stored as its own text. The set itself is held by a CHECK."""

    impl = String
    cache_ok = True

    def __init__(self, words: type[StrEnum]) -> None:
        super().__init__()
        self.words = words
        self._word_of = {str(word): word for word in words}

    def process_bind_param(self, value: StrEnum | None, dialect: Dialect) -> str | None:
        return None if value is None else str(self._word_of[value])

    def process_result_value(self, value: str | None, dialect: Dialect) -> StrEnum | None:
        return None if value is None else self._word_of[value]


class DecimalText(TypeDecorator[Decimal]):
    """A decimal kept digit for digit as text, because a float would turn 0.10 into something near it."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        if value is None:
            return None
        if not value.is_finite():
            raise ValueError(f"{value} is no amount")
        return format(value, "f")

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value)


class Joined(TypeDecorator[tuple[Any, ...]]):
    """A tuple stored as text with `;` between its members; the empty tuple is the empty text."""

    impl = String
    cache_ok = True

    def __init__(self, read: Callable[[str], Any] = str, write: Callable[[Any], str] = str) -> None:
        super().__init__()
        self.read, self.write = read, write

    def process_bind_param(self, value: tuple[Any, ...] | None, dialect: Dialect) -> str:
        words = [self.write(member) for member in value or ()]
        if any(not word or ";" in word for word in words):
            raise ValueError(f"{words}: a member may not be empty or hold a semicolon")
        return ";".join(words)

    def process_result_value(self, value: str | None, dialect: Dialect) -> tuple[Any, ...]:
        return tuple(self.read(word) for word in value.split(";")) if value else ()


def write_year_span(span: YearSpan) -> str:
    """`MM-DD/MM-DD`, first and last day."""
    return f"{span.first_month:02d}-{span.first_day:02d}/{span.last_month:02d}-{span.last_day:02d}"


def read_year_span(text: str) -> YearSpan:
    """Reads `MM-DD/MM-DD`."""
    first, last = text.split("/")
    (first_month, first_day), (last_month, last_day) = (map(int, day.split("-")) for day in (first, last))
    return YearSpan(first_month, first_day, last_month, last_day)


def word(words: type[StrEnum], **more: Any) -> Any:
    """A column that holds one of `words`."""
    return Field(sa_type=Word(words), **more)


def joined(read: Callable[[str], Any] = str, write: Callable[[Any], str] = str) -> Any:
    """A column that holds a tuple, each member written and read by the two functions."""
    return Field(sa_type=Joined(read, write))


def decimal_text() -> Any:
    """A column that holds a Decimal exactly."""
    return Field(sa_type=DecimalText)


def json_value() -> Any:
    """A column that holds plain JSON; Python's None is the database's NULL."""
    return Field(sa_type=JSON(none_as_null=True))
