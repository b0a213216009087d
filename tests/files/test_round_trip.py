"""What is written is read back to exactly the same rows, whatever they hold."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput
from fleet.files.amounts import Money, Number, Quantity, Whole
from fleet.files.cells import Choice, Choices, Code, Codes, Form, Pattern, Text, Word, Words, YesNo
from fleet.files.columns import FILES, READING_FORMS
from fleet.files.moments import Clock, Day, Instant, Weekdays, Zone
from fleet.files.register_files import read_register, row_from_cells, write_register
from fleet.files.rules import natural_key, row_faults
from fleet.values.bounds import READING_BOUNDS, Bound
from fleet.values.register import Client, Load, RegisterRows, Room, Site, Tank, YearSpan
from fleet.values.vocabulary import LoadKind, ReadingQuantity, SubjectKind, TankKind, UnitSystem

PATTERNS = {"email": "desk@example.org", "currency": "USD", "holiday_region": "US-FL", "task": "clean-intake-screen"}
TEXT = st.text(
    st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp"), blacklist_characters="\ufffe\uffff"), max_size=12
) | st.sampled_from(["=1+1", "'=x", "-2+3", "+1 555 0100", "@x", "'", '"q"', "a;b,c", "007", "1e5", "TRUE", "-5"])
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))
MONTH_DAYS = st.dates(date(2023, 1, 1), date(2023, 12, 31)).map(lambda day: (day.month, day.day))


def numbers(bound: Bound | None) -> st.SearchStrategy[float]:
    low, high = (bound.low, bound.high) if bound else (-1e6, 1e6)
    rough = st.floats(low, high, exclude_min=bool(bound and bound.open_low), allow_subnormal=False)
    return rough | rough.map(lambda value: round(value, 3)).filter(bound.holds if bound else math.isfinite)


def values_of(form: Form, bound: Bound | None, field: str, codes: dict[SubjectKind, str]) -> st.SearchStrategy[Any]:
    """Values that a cell of this form may hold. `codes` has one code of each kind."""
    match form:
        case Code(kinds=kinds):
            return st.sampled_from([code for kind, code in codes.items() if not kinds or kind in kinds])
        case Codes(kinds=kinds):
            return st.lists(st.sampled_from([codes[kind] for kind in sorted(kinds)]), unique=True).map(tuple)
        case Text(lines=lines):
            text = TEXT if not lines else st.lists(TEXT, max_size=3).map("\n".join)
            return text.map(str.strip).filter(bool)
        case Pattern():
            return st.just(PATTERNS[field])
        case Choice(words=words):
            return st.sampled_from(list(words))
        case Choices(words=words):
            return st.lists(st.sampled_from(list(words)), unique=True).map(tuple)
        case Word():
            return st.from_regex(r"[a-z0-9][a-z0-9-]{0,9}", fullmatch=True)
        case Words():
            return st.lists(st.from_regex(r"[a-z][a-z-]{0,9}", fullmatch=True), unique=True, max_size=3).map(tuple)
        case YesNo():
            return st.booleans()
        case Quantity() | Number():
            return numbers(bound)
        case Whole():
            return st.integers(0, 90)
        case Money():
            return st.decimals(0, 1000, places=4)
        case Day():
            return DAYS
        case Clock():
            return st.builds(time, st.integers(0, 23), st.integers(0, 59))
        case Weekdays():
            return st.sets(st.integers(0, 6)).map(lambda days: tuple(sorted(days)))
        case Zone():
            return st.sampled_from(["America/New_York", "Australia/Melbourne", "UTC"])
        case Instant():
            return st.datetimes(datetime(1901, 1, 1), datetime(2199, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001
    raise AssertionError(form)


@st.composite
def rows_of(draw: Any, name: str, codes: dict[SubjectKind, str]) -> Any:
    """One row of a file that keeps the rules between its cells."""
    spec = FILES[name]
    while True:
        values: dict[str, Any] = {}
        for column in spec.columns:
            if column.field.startswith("hot_season") or not (column.required or draw(st.booleans())):
                continue
            own = codes[spec.kind] if spec.kind and column.name == "code" else None
            values[column.field] = own or draw(values_of(column.form, column.bound, column.field, codes))
        if name == "sites":
            values["hot_seasons"] = tuple(
                YearSpan(*first, *last) for first, last in draw(st.lists(st.tuples(MONTH_DAYS, MONTH_DAYS), max_size=2))
            )
        if name == "readings":
            quantity: ReadingQuantity = values["quantity"]
            values["value"] = draw(values_of(READING_FORMS[quantity], READING_BOUNDS[quantity], "value", codes))
        for field, _ in list(row_faults(name, values)):
            values.pop(field, None)
        if (not list(row_faults(name, values)) and "target_c" in values) or name != "tanks":
            return spec.row_type(**{field: value for field, value in values.items() if value is not None})


@st.composite
def registers(draw: Any) -> RegisterRows:
    codes = {kind: f"{draw(st.sampled_from(['-', '.', 'X']))}{kind.value}" for kind in SubjectKind}
    rows: dict[str, tuple[Any, ...]] = {}
    for name, spec in FILES.items():
        if spec.kind is not None:
            rows[name] = (draw(rows_of(name, codes)),)
            continue
        drawn = draw(st.lists(rows_of(name, codes), max_size=2))
        keyed = {natural_key(name, {field: getattr(row, field) for field in spec.key_fields}): row for row in drawn}
        rows[name] = tuple(keyed.values())
    return RegisterRows(**rows)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(rows=registers(), suffix=st.sampled_from(["", ".xlsx"]))
def test_written_rows_are_read_back_exactly(
    tmp_path_factory: pytest.TempPathFactory, rows: RegisterRows, suffix: str
) -> None:
    path = tmp_path_factory.getbasetemp() / f"round-trip{suffix}"
    write_register(rows, path)
    assert read_register(path, {}) == rows


@settings(max_examples=150, deadline=None)
@given(data=st.data(), name=st.sampled_from(list(FILES)))
def test_any_text_in_any_column_is_a_row_or_refused(data: st.DataObject, name: str) -> None:
    columns = [column.name for column in FILES[name].columns]
    cells = data.draw(st.dictionaries(st.sampled_from(columns), st.text(max_size=20)))
    kinds = {"T": SubjectKind.TANK, "S": SubjectKind.SITE}
    try:
        outcome = row_from_cells(name, cells, kinds)
    except BadInput as refused:
        outcome = refused.errors
    assert isinstance(outcome, FILES[name].row_type) or (outcome and all(error.expected for error in outcome))


def fleet_of(tanks: int) -> RegisterRows:
    """A client's fleet with three loads a tank."""
    base = Tank("T", "R", "Tank", TankKind.REEF, 1.2192, 0.4572, 0.508, 25.5, net_volume_m3=0.2839058838)
    loads = [
        Load(f"T{number}", f"Load {load}", LoadKind.LIGHT, 100.0 + load, date(2024, 1, 1), hours_per_day=9.0)
        for number in range(tanks)
        for load in range(3)
    ]
    return RegisterRows(
        clients=(Client("C", "Client", units=UnitSystem.US),),
        sites=(Site("S", "C", "Site", "America/New_York", tariff_per_kwh=Decimal("0.32")),),
        rooms=(Room("R", "S", "Room", 25.5),),
        tanks=tuple(replace(base, code=f"T{n}", length_m=round(0.5 + n / 1e4, 4)) for n in range(tanks)),
        loads=tuple(loads),
    )


def test_what_a_us_client_typed_comes_back_in_the_same_units(tmp_path: Path) -> None:
    write_register(fleet_of(1), tmp_path / "out")
    tank = (tmp_path / "out" / "tanks.csv").read_text(encoding="utf-8").splitlines()[1]
    assert "75 gal" in tank
    assert "18 in" in tank
    assert "77.9 F" in tank
    metric = replace(fleet_of(1), clients=(Client("C", "Client", units=UnitSystem.METRIC),))
    write_register(metric, tmp_path / "out")
    tank = (tmp_path / "out" / "tanks.csv").read_text(encoding="utf-8").splitlines()[1]
    assert "283.9058838 L" in tank
    assert "25.5 C" in tank


@pytest.mark.slow
def test_ten_thousand_tanks_go_out_and_in(tmp_path: Path) -> None:
    rows = fleet_of(10_000)
    write_register(rows, tmp_path / "out")
    assert read_register(tmp_path / "out", {}) == rows
