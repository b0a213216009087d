"""Sheets on which work comes back: what is read is what was written, in any order of columns and either separator."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput
from fleet.files.returns import ReturnedRow, read_returns
from fleet.values.returns import DESCRIPTIVE, RETURN_COLUMNS
from fleet.values.vocabulary import Finding

WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs")), min_size=1, max_size=30).map(
    lambda text: text.strip().lstrip("'")
)
KEYS = st.from_regex(r"[0-9A-Z]{3}-[0-9A-Z]{4}", fullmatch=True)
READINGS = st.sampled_from(["water-temp=25.6C", "CH1:power=310 W", "flow=900 L/h"])


@st.composite
def returned(draw: st.DrawFn) -> ReturnedRow:
    return ReturnedRow(
        row=0,
        key=draw(KEYS),
        done_on=draw(st.dates(date(2000, 1, 1), date(2100, 1, 1))),
        by=draw(st.none() | WORDS) or None,
        finding=draw(st.none() | st.sampled_from(Finding)),
        minutes=draw(st.none() | st.integers(0, 10_000)),
        readings=tuple(draw(st.lists(READINGS, max_size=3))),
        note=draw(st.none() | WORDS) or None,
    )


def guarded(text: str) -> str:
    """As a spreadsheet's user must write what begins like a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") else text


@settings(deadline=None, max_examples=60)
@given(
    st.lists(returned(), max_size=6),
    st.permutations(RETURN_COLUMNS),
    st.sampled_from([",", ";"]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_a_sheet_reads_back_as_it_was_filled_in(tmp_path_factory, rows, columns, separator, line_end):
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=separator, lineterminator=line_end)
    writer.writerow(columns)
    for row in rows:
        cells = {
            "key": row.key, "done_on": row.done_on.isoformat(), "by": guarded(row.by or ""),
            "finding": row.finding or "", "minutes": "" if row.minutes is None else str(row.minutes),
            "reading": "; ".join(row.readings), "note": guarded(row.note or ""),
        }  # fmt: skip
        writer.writerow([cells.get(column, "anything") for column in columns])
    path = tmp_path_factory.mktemp("sheet") / "returns.csv"
    path.write_bytes(text.getvalue().encode())
    found = read_returns(path)
    assert found.errors == ()
    assert [(row.key, row.done_on, row.by, row.finding, row.minutes, row.readings, row.note) for row in found.rows] == [
        (row.key, row.done_on, row.by, row.finding, row.minutes, row.readings, row.note) for row in rows
    ]


def test_a_row_without_day_and_finding_is_work_not_done(tmp_path: Path):
    path = tmp_path / "returns.csv"
    path.write_text("key,done_on,finding,note\n7K3-Q9MD,,,nobody there\n7K3-Q9ME,,\n")
    found = read_returns(path)
    assert (found.rows, found.not_done, found.errors) == ((), 2, ())


@pytest.mark.parametrize("column", ["finding", "minutes", "reading"])
def test_what_was_found_without_a_day_is_a_fault_and_not_dropped(tmp_path: Path, column: str):
    value = {"finding": "sound", "minutes": "5", "reading": "power=3W"}[column]
    path = tmp_path / "returns.csv"
    path.write_text(f"key,done_on,{column}\n7K3-Q9MD,,{value}\n")
    (error,) = read_returns(path).errors
    assert (error.row, error.column) == (2, "done_on")


@pytest.mark.parametrize("column", DESCRIPTIVE)
def test_columns_for_the_eye_are_passed_over(tmp_path: Path, column: str):
    path = tmp_path / "returns.csv"
    path.write_text(f"key,{column},done_on\n7K3-Q9MD,=1+1,2026-05-20\n")
    assert len(read_returns(path).rows) == 1


def test_a_column_that_the_sheet_does_not_have_is_named(tmp_path: Path):
    path = tmp_path / "returns.csv"
    path.write_text("key,done_on,reeding\n")
    with pytest.raises(BadInput, match="the nearest is reading"):
        read_returns(path)
