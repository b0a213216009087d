"""Whatever register there may be, it comes out of the database as it went in."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from enum import StrEnum
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.db.mapping import FILES, FileMap
from fleet.db.repository import Register, SaveCount
from fleet.values.bounds import BOUNDS, READING_BOUNDS, Bound
from fleet.values.register import ALWAYS, NATURAL_KEYS, RegisterRows, YearSpan
from fleet.values.vocabulary import SubjectKind

NOW = datetime(2026, 5, 5, 12, 0, tzinfo=UTC)

# A null character and half a surrogate pair are no text that PostgreSQL can hold.
LETTERS = st.characters(exclude_categories=("Cs",), exclude_characters="\x00")
TEXT = st.text(LETTERS, min_size=1, max_size=12)
MEMBER = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\x00;"), min_size=1, max_size=6)
DAYS = st.one_of(st.just(ALWAYS), st.dates(date(1900, 1, 1), date(2200, 1, 1)))
CODES = {kind: [f"{kind}-{n}" for n in range(3)] for kind in SubjectKind}


def numbers(bound: Bound | None, whole: bool) -> st.SearchStrategy[Any]:
    if whole:
        low, high = (0, 1000) if bound is None else (int(bound.low), int(bound.high))
        return st.integers(low, high)
    low_f, high_f, shut = (0.0, 1e6, False) if bound is None else (bound.low, bound.high, bound.open_low)
    return st.floats(low_f, high_f, exclude_min=shut, allow_nan=False)


def of_type(hint: Any, bound: Bound | None) -> st.SearchStrategy[Any]:
    if isinstance(hint, UnionType):
        inner = next(part for part in get_args(hint) if part is not type(None))
        return st.none() | of_type(inner, bound)
    if get_origin(hint) is tuple:
        member = get_args(hint)[0]
        one = MEMBER if member is str else of_type(member, Bound(0, 6) if member is int else None)
        return st.lists(one, max_size=3, unique=True).map(tuple)
    if hint is YearSpan:
        return st.builds(YearSpan, st.integers(1, 12), st.integers(1, 28), st.integers(1, 12), st.integers(1, 28))
    if issubclass(hint, StrEnum):
        return st.sampled_from(list(hint))
    simple: dict[type, st.SearchStrategy[Any]] = {
        str: TEXT,
        bool: st.booleans(),
        date: DAYS,
        time: st.times(),
        datetime: st.datetimes(datetime(1970, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
        Decimal: st.decimals(0, 1000, allow_nan=False, places=4),
    }
    return simple[hint] if hint in simple else numbers(bound, hint is int)


def codes(kinds: frozenset[SubjectKind]) -> st.SearchStrategy[str]:
    return st.sampled_from([code for kind in sorted(kinds) for code in CODES[kind]])


@st.composite
def row_of(draw: st.DrawFn, entry: FileMap, code: str | None = None) -> Any:
    cells: dict[str, Any] = {}
    hints = get_type_hints(entry.row_class)
    for field in fields(entry.row_class):
        name = field.name
        if name == "code":
            cells[name] = code
        elif name in entry.references:
            strategy = codes(entry.references[name])
            if get_origin(hints[name]) is tuple:
                strategy = st.lists(strategy, max_size=3).map(tuple)
            elif isinstance(hints[name], UnionType):
                strategy = st.none() | strategy
            cells[name] = draw(strategy)
        elif entry.file == "readings" and name == "value":
            cells[name] = draw(numbers(READING_BOUNDS[cells["quantity"]], whole=False))
        else:
            cells[name] = draw(of_type(hints[name], BOUNDS.get(entry.file, {}).get(name)))
    if cells.get("until") is not None and cells["until"] <= cells["since"]:
        cells["until"] = cells["since"] + timedelta(days=1)
    return entry.row_class(**cells)


@st.composite
def registers(draw: st.DrawFn) -> RegisterRows:
    """Three things of every kind, and up to three rows in every other file."""
    files: dict[str, tuple[Any, ...]] = {}
    for file, entry in FILES.items():
        if entry.kind is not None:
            rows = [draw(row_of(entry, code)) for code in CODES[entry.kind]]
        else:
            rows = draw(st.lists(row_of(entry), max_size=3))
        files[file] = tuple({entry.key_of(row): row for row in rows}.values())
    return RegisterRows(**files)


class RollBack(Exception):
    """Ends a trial without keeping anything."""


def sorted_rows(rows: RegisterRows, file: str) -> list[Any]:
    return sorted(getattr(rows, file), key=lambda row: [getattr(row, name) for name in NATURAL_KEYS[file]])


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(drawn=registers())
def test_any_register_comes_back_equal_and_is_the_same_the_second_time(shared_url, rows, drawn):
    def trial() -> None:
        with Register.open(shared_url) as register:
            register.save_rows(drawn, who="ada", now=NOW, reason="trial")
            found = register.rows()
            for file in FILES:
                known = {FILES[file].key_of(row) for row in getattr(rows, file)}
                stored = [row for row in getattr(found, file) if FILES[file].key_of(row) not in known]
                assert stored == sorted_rows(drawn, file)
            again = register.save_rows(drawn, who="ada", now=NOW, reason="again")
            assert again == SaveCount(0, 0, sum(len(getattr(drawn, file)) for file in FILES))
            raise RollBack

    with pytest.raises(RollBack):
        trial()


@settings(
    max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(first=registers(), second=registers())
def test_a_later_register_takes_the_place_of_the_earlier_row_for_row(shared_url, rows, first, second):
    def trial() -> None:
        with Register.open(shared_url) as register:
            register.save_rows(first, who="ada", now=NOW, reason="first")
            register.save_rows(second, who="ada", now=NOW, reason="second")
            found = register.rows()
            for file, entry in FILES.items():
                expected = {entry.key_of(row): row for some in (rows, first, second) for row in getattr(some, file)}
                assert {entry.key_of(row): row for row in getattr(found, file)} == expected
            raise RollBack

    with pytest.raises(RollBack):
        trial()


def test_the_trail_alone_tells_every_earlier_state_of_a_row(database, rows):
    """Undoing the log from the last entry back gives the first state again."""
    states = [rows.tanks[0], replace(rows.tanks[0], target_c=15.0), replace(rows.tanks[0], target_c=15.0, lid=None)]
    with Register.open(database) as register:
        for state in states[1:]:
            register.save_rows(RegisterRows(tanks=(state,)), who="ada", now=NOW, reason="x")
        entries = register.change_log(subject="T-1", file="tanks")
    undone = {"target_c": states[-1].target_c, "lid": states[-1].lid}
    for entry in entries[:-1]:
        assert entry.before is not None
        undone |= entry.before
    assert undone == {"target_c": states[0].target_c, "lid": str(states[0].lid)}
