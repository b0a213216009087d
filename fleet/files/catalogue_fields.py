"""The fields of the catalogue's TOML tables: what each may hold, and how a mistake in one is told.

A form takes a value as TOML gives it and raises ValueError with what was expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum, StrEnum
from typing import Any, TypeVar, cast

from fleet.errors import CellError
from fleet.files.cells import nearest
from fleet.values.catalogue import Interval, RunningHours, Span

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)
Form = Callable[[Any], T]


class _Missing(Enum):
    REQUIRED = 0


REQUIRED = _Missing.REQUIRED
"""Default of a field that has to be there."""

SPAN = re.compile(r"(\d{1,5})\s*(hour|day|week|month)s?", re.IGNORECASE)
INTERVAL = re.compile(r"(\d{1,5})\s*/\s*(\d{1,5})\s*/\s*(\d{1,5})\s*(hour|day|week|month)s?", re.IGNORECASE)
HOURS = re.compile(r"(\d{1,6})\s*/\s*(\d{1,6})\s*/\s*(\d{1,6})")
SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass
class Table:
    """One TOML table, with its place in its file and the list that its mistakes go to.

    `label` is how the table is named to a person, "[clean-condenser-fins]" or "[clean-condenser-fins] events 2";
    `header` the line that begins it in the file's `text`; `within` the field that holds an inline table.
    `asked` are the fields that were looked for.
    """

    file: str
    label: str
    values: Mapping[str, Any]
    errors: list[CellError]
    text: str = ""
    header: str = ""
    within: str = ""
    asked: set[str] = field(default_factory=set)

    def refuse(self, name: str, value: object, expected: str) -> None:
        column = f"{self.label} {name}".strip()
        line = line_of(self.text, self.header, self.within or name)
        self.errors.append(CellError(self.file, line, column, shown(value), expected))

    def take(self, name: str, form: Form[T], default: T | _Missing = REQUIRED) -> T:
        """The field's value. A mistake is recorded, and the None that comes back for it must not be used."""
        self.asked.add(name)
        if name not in self.values:
            if isinstance(default, _Missing):
                self.refuse(name, "", "a value: this field has to be there")
                return cast(T, None)
            return default
        try:
            return form(self.values[name])
        except ValueError as mistake:
            self.refuse(name, self.values[name], str(mistake))
            return cast(T, None)

    def take_if(self, name: str, form: Form[T]) -> T | None:
        """The value of a field that may be left out."""
        self.asked.add(name)
        return self.take(name, form) if name in self.values else None

    def take_all(self, name: str, form: Form[T], *, required: bool = False) -> tuple[T, ...]:
        """The items of a field that is a list; every item at fault is recorded."""
        self.asked.add(name)
        items = self.values.get(name, [])
        if not isinstance(items, list):
            self.refuse(name, items, "a list in square brackets")
            return ()
        if required and not items:
            self.refuse(name, "", "a list in square brackets with one item at least")
        taken = []
        for item in items:
            try:
                taken.append(form(item))
            except ValueError as mistake:
                self.refuse(name, item, str(mistake))
        return tuple(taken)

    def tables(self, name: str) -> Iterator[Table]:
        """The inline tables of a field that is a list of them."""
        self.asked.add(name)
        items = self.values.get(name, [])
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            self.refuse(name, items, 'a list of tables, like [{ event = "outage", within = "1 day" }]')
            return
        for number, item in enumerate(items, start=1):
            yield Table(self.file, f"{self.label} {name} {number}", item, self.errors, self.text, self.header, name)

    def refuse_unknown(self) -> None:
        """Records every field that was never asked for."""
        for name, value in self.values.items():
            if name not in self.asked:
                self.refuse(
                    name, value, f"one of the fields {', '.join(sorted(self.asked))}{nearest(name, self.asked)}"
                )


def shown(value: object) -> str:
    """A value as a person wrote it, cut where it is long."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    else:
        text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


def line_of(text: str, header: str, name: str) -> int:
    """Number of the line on which a field of a table stands, of the table's own line without the field, else 0."""
    lines = text.splitlines()
    start = next((at for at, line in enumerate(lines) if line.strip() == header), None) if header else -1
    if start is None:
        return 0
    for at in range(start + 1, len(lines)):
        if lines[at].startswith("["):
            break
        if re.match(rf"{re.escape(name)}\s*=", lines[at].lstrip()):
            return at + 1
    return start + 1


def words(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("text in quotation marks")
    if not value.isprintable():
        raise ValueError("printable text on one line")
    return value.strip()


def slug(value: Any) -> str:
    if not isinstance(value, str) or not SLUG.fullmatch(value):
        raise ValueError("small letters, digits and single hyphens, like clean-intake-screen")
    return value


def yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false, without quotation marks")
    return value


def whole(low: int, high: int) -> Form[int]:
    def form(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"a whole number from {low} to {high}, without quotation marks")
        return value

    return form


def number(low: float, high: float) -> Form[float]:
    def form(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            raise ValueError(f"a number from {low:g} to {high:g}, without quotation marks")
        return float(value)

    return form


def one_of(kind: type[E]) -> Form[E]:
    """A member of an enumeration by its text."""

    def form(value: Any) -> E:
        known = [str(member) for member in kind]
        if not isinstance(value, str) or value not in known:
            raise ValueError(f"one of {', '.join(known)}{nearest(str(value), known)}")
        return kind(value)

    return form


def named(known: Collection[str], what: str) -> Form[str]:
    """A word out of a closed list too long to be told in full; the nearest one is named."""

    def form(value: Any) -> str:
        if not isinstance(value, str) or value not in known:
            raise ValueError(f"{what}{nearest(str(value), known)}")
        return value

    return form


def span(value: Any) -> Span:
    found = SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ValueError('a length of time like "7 days" (hours, days, weeks or months)')
    return Span(int(found[1]), found[2].lower())


def interval(value: Any) -> Interval:
    found = INTERVAL.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ValueError('shortest, usual and longest time like "1/4/8 weeks" (hours, days, weeks or months)')
    counts = _in_order(found)
    return Interval(*(Span(count, found[4].lower()) for count in counts))


def running_hours(value: Any) -> RunningHours:
    found = HOURS.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ValueError('fewest, usual and most hours of running like "5600/8000/9600"')
    return RunningHours(*_in_order(found))


def _in_order(found: re.Match[str]) -> tuple[int, int, int]:
    shortest, usual, longest = int(found[1]), int(found[2]), int(found[3])
    if not 1 <= shortest <= usual <= longest:
        raise ValueError("the shortest first, then the usual, then the longest, none of them 0")
    return shortest, usual, longest


def pair(value: Any) -> tuple[float, float]:
    """The lower and the upper end of a band, °C."""
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("two numbers in square brackets, lower end first, like [25, 27.5]")
    low, high = (number(-5, 50)(end) for end in value)
    if low >= high:
        raise ValueError("the lower end first")
    return low, high
