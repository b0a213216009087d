"""Text cells of one row into a row of the register, with every cell at fault, and a row back into text cells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleet.errors import CellError
from fleet.files.amounts import Quantity
from fleet.files.cells import Code, Codes, Form, Units, nearest
from fleet.files.columns import READING_FORMS
from fleet.files.moments import INSTANT_EXPECTED
from fleet.files.rules import join_seasons, part_seasons, row_faults
from fleet.files.specification import Column, FileSpec
from fleet.files.whereabouts import Whereabouts
from fleet.units import plain_text
from fleet.values.bounds import READING_BOUNDS, Bound
from fleet.values.register import ALWAYS, Reading, Site
from fleet.values.vocabulary import SubjectKind

LONGEST_SHOWN = 80
"""Characters of a cell that a message shows."""


@dataclass(frozen=True)
class WordList:
    """The only words that a column may have, and how they are told to somebody who used another."""

    accepted: frozenset[str]
    told: str


Words = Mapping[tuple[str, str], WordList]


@dataclass
class Context:
    """What a row is read against. `kinds` is what every code stands for.

    Without `complete` some file could not be read (so nothing will be): codes and zones missing for it are no faults.

    `hints` is for how many more unknown codes the nearest known one is looked up: a message shows no more than that,
    and the search is slow over a whole fleet.

    `words` holds the only words that a column may have, by file and column; a column that is not in it may have any.
    """

    kinds: Mapping[str, SubjectKind]
    zones: Mapping[str, str]
    whereabouts: Whereabouts = field(default_factory=Whereabouts)
    complete: bool = True
    hints: int = 50
    words: Words = field(default_factory=dict)


@dataclass
class ReadRow:
    """`values` holds what could be read, by field; `row` is None when `errors` is not empty."""

    values: dict[str, Any]
    row: Any
    errors: list[CellError]


def read_row(spec: FileSpec, label: str, number: int, cells: Mapping[str, str], context: Context) -> ReadRow:
    """Reads the cells (by column name; a missing one counts as empty) of row `number` of the file."""
    values: dict[str, Any] = {}
    errors: list[CellError] = []

    def refuse(column: str, expected: str) -> None:
        errors.append(cell_error(label, number, column, cells.get(column, ""), expected))

    for column in spec.columns:
        text = cells.get(column.name, "").strip()
        if not text:
            if column.required:
                refuse(column.name, "a value: this column may not be empty")
            continue
        try:
            value = check_cell(column, text)
            _check_codes(column, value, spec, context)
            _check_words(value, context.words.get((spec.name, column.name)))
        except ValueError as error:
            refuse(column.name, str(error))
        else:
            values[column.field] = value
    if spec.name == "readings":
        for name, expected in _finish_reading(values, context):
            refuse(name, expected)
    refused = {error.column for error in errors}
    unread = {column.field for column in spec.columns if column.name in refused}
    for field_name, expected in row_faults(spec.name, values, unread):
        if (name := spec.column_of(field_name)) not in refused:
            refuse(name, expected)
    if errors:
        return ReadRow(values, None, errors)
    if spec.name == "sites":
        join_seasons(values)
    return ReadRow(values, spec.row_type(**values), errors)


def check_cell(column: Column, text: str) -> Any:
    """The value that a text holds in this column. Raises ValueError with what was expected."""
    value = column.form.read(text)
    _check_bound(column.form, column.bound, value, text)
    return value


def cell_error(label: str, number: int, column: str, value: str, expected: str) -> CellError:
    """A CellError with a long value cut short."""
    text = value.strip()
    shown = text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"
    return CellError(label, number, column, shown, expected)


def _check_bound(form: Form, bound: Bound | None, value: Any, text: str) -> None:
    if bound is None or bound.holds(value):
        return
    if isinstance(form, Quantity):
        low, high, this = (form.si_text(number) for number in (bound.low, bound.high, value))
        also = f"; this is {this}" if this != plain_text(text) else ""
    else:
        low, high, also = form.write(bound.low), form.write(bound.high), ""
    raise ValueError(f"above {low} and up to {high}{also}" if bound.open_low else f"between {low} and {high}{also}")


def _check_codes(column: Column, value: Any, spec: FileSpec, context: Context) -> None:
    form = column.form
    if not isinstance(form, Code | Codes):
        return
    if isinstance(form, Code) and form.own:
        if spec.kind is not None and (taken := context.kinds.get(value, spec.kind)) is not spec.kind:
            raise ValueError(f"a code that is used only once; {value} is {_a(taken)}")
        return
    for code in (value,) if isinstance(value, str) else value:
        kind = context.kinds.get(code)
        if kind is None and context.complete:
            raise ValueError(f"{_wanted(form.kinds)} on record{_nearest_code(code, form.kinds, context)}")
        if kind is not None and form.kinds and kind not in form.kinds:
            raise ValueError(f"{_wanted(form.kinds)}; {code} is {_a(kind)}")


def _check_words(value: Any, words: WordList | None) -> None:
    if words is not None and value not in words.accepted:
        raise ValueError(f"{words.told}{nearest(value, words.accepted)}")


def _nearest_code(code: str, kinds: frozenset[SubjectKind], context: Context) -> str:
    if context.hints <= 0:
        return ""
    context.hints -= 1
    return nearest(code, [known for known, kind in context.kinds.items() if not kinds or kind in kinds])


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _wanted(kinds: frozenset[SubjectKind]) -> str:
    """The kinds in the order of SubjectKind, so that messages do not depend on hashing."""
    named = [_a(kind) if kind is not SubjectKind.EQUIPMENT else "equipment" for kind in SubjectKind if kind in kinds]
    return f"the code of {' or '.join(named)}" if named else "a code"


def _finish_reading(values: dict[str, Any], context: Context) -> Iterator[tuple[str, str]]:
    """Reads the value by its quantity and puts a local time into UTC, in place; gives (column, expected) for faults."""
    quantity = values.get("quantity")
    text = values.pop("value", None)
    if quantity is not None and text is not None:
        form = READING_FORMS[quantity]
        try:
            value = form.read(text)
            _check_bound(form, READING_BOUNDS[quantity], value, text)
            values["value"] = value
        except ValueError as error:
            yield "value", f"for {quantity}: {error}"
    taken_at: datetime | None = values.get("taken_at")
    if taken_at is not None and taken_at.tzinfo is None and "subject" in values:
        zone = context.whereabouts.find(values["subject"], context.zones)
        if zone is None and context.complete:
            del values["taken_at"]
            yield "taken_at", f"an offset, as the time zone of {values['subject']} is not known: {_WITH_OFFSET}"
        else:
            # fold=0: of a time that comes twice the first, and a time that is skipped read with the offset before.
            values["taken_at"] = taken_at.replace(tzinfo=ZoneInfo(zone or "UTC")).astimezone(UTC)


_WITH_OFFSET = INSTANT_EXPECTED.rpartition(" ")[2]


def write_cells(spec: FileSpec, row: Any, units: Units) -> dict[str, str]:
    """The text of every column; empty for what is unknown. Reads back to exactly the same row."""
    parted = part_seasons(row.hot_seasons) if isinstance(row, Site) else {}
    cells: dict[str, str] = {}
    for column in spec.columns:
        value = parted.get(column.field) if column.field in parted else getattr(row, column.field)
        form = READING_FORMS[row.quantity] if isinstance(row, Reading) and column.field == "value" else column.form
        cells[column.name] = "" if value is None or value == () or value == ALWAYS else form.write(value, units)
    return cells
