"""An export is there whole or not at all, and touches nothing that is not its own."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fleet.errors import BadInput
from fleet.files.register_files import read_register, write_register
from fleet.files.replace import replace_files
from fleet.values.register import Client, RegisterRows

ONE = RegisterRows(clients=(Client("A", "One"),))


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_only_files_with_rows_are_written(tmp_path: Path) -> None:
    write_register(ONE, tmp_path / "deep" / "out")
    assert names(tmp_path / "deep" / "out") == ["clients.csv"]
    assert names(tmp_path / "deep") == ["out"]


def test_a_register_without_rows_is_a_set_of_empty_forms(tmp_path: Path) -> None:
    for target in (tmp_path / "out", tmp_path / "out.xlsx"):
        write_register(RegisterRows(), target)
        assert read_register(target, {}) == RegisterRows()
    assert len(names(tmp_path / "out")) == 17


def test_an_earlier_export_is_replaced_and_other_files_stay(
    cells: Any, folder: Callable[[Any], Path], tmp_path: Path
) -> None:
    target = tmp_path / "out"
    write_register(read_register(folder(cells), {}), target)
    (target / "story.md").write_text("mine", encoding="utf-8")
    write_register(ONE, target)
    assert names(target) == ["clients.csv", "story.md"]
    assert read_register(target, {}) == ONE


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("foreign", "expected a folder without other CSV files; it holds prices.csv"),
        ("file", "expected a folder, or a file that ends in .xlsx"),
        ("out.csv", "expected a folder, or a file that ends in .xlsx"),
        ("out.ods", "expected a folder, or a file that ends in .xlsx"),
        ("file/below", "cannot be written"),
        ("file/below.xlsx", "cannot be written"),
    ],
)
def test_where_nothing_can_be_written_nothing_is_changed(tmp_path: Path, name: str, expected: str) -> None:
    (tmp_path / "foreign").mkdir()
    (tmp_path / "foreign" / "prices.csv").write_text("x", encoding="utf-8")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput) as refused:
        write_register(ONE, tmp_path / name)
    assert expected in str(refused.value)
    assert names(tmp_path) == ["file", "foreign"]
    assert names(tmp_path / "foreign") == ["prices.csv"]


@pytest.mark.parametrize("fails_at", range(6))
def test_an_error_on_the_way_leaves_the_old_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    """a and b are replaced, c is removed, d is new; the disk refuses at the n-th renaming."""
    target = tmp_path / "out"
    replace_files(target, {"a": b"old a", "b": b"old b", "c": b"old c"})
    rename, calls = os.replace, []

    def refusing(source: Any, destination: Any) -> None:
        calls.append(source)
        if len(calls) == fails_at + 1:
            raise OSError("disk refuses")
        rename(source, destination)

    monkeypatch.setattr("fleet.files.replace.os.replace", refusing)
    with pytest.raises(OSError, match="disk refuses"):
        replace_files(target, {"a": b"new a", "b": b"new b", "c": None, "d": b"new d"})
    assert {entry.name: entry.read_bytes() for entry in target.iterdir()} == {
        "a": b"old a",
        "b": b"old b",
        "c": b"old c",
    }


def test_a_workbook_that_fails_half_way_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out.xlsx"
    write_register(ONE, target)
    before = target.read_bytes()

    def failing(path: Path, tables: Any) -> None:
        path.write_bytes(b"half")
        raise OSError("disk full")

    monkeypatch.setattr("fleet.files.xlsx_files.write_workbook", failing)
    with pytest.raises(BadInput, match="cannot be written"):
        write_register(RegisterRows(), target)
    assert target.read_bytes() == before
    assert names(tmp_path) == ["out.xlsx"]
