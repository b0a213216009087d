"""Moves registers between files and the database, and adds what a person types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from fleet.db.repository import Register, SaveCount
from fleet.errors import NotFound
from fleet.files.register_files import Progress, read_register, row_from_cells, write_register
from fleet.services.context import context_of
from fleet.services.margins_changed import keep_margins_of_news
from fleet.values.register import NATURAL_KEYS, RegisterRows


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What an import did, or would do where it only checked."""

    rows: int
    added: int
    changed: int
    same: int
    only_checked: bool


def import_register(
    url: str, path: Path, *, only_check: bool, who: str, now: datetime, progress: Progress | None = None
) -> ImportResult:
    """Takes the files at `path` into the database at `url`, all of them or none. Raises BadInput with every error.

    A database that is not there yet is made only once the files are found sound.
    """
    standing = _standing(url)
    context = context_of(standing)
    rows = read_register(path, context.known, context.time_zones, context.words, progress)
    if only_check:
        count = _difference(standing, rows)
    else:
        with Register.open(url, create=True) as register:
            count = register.save_rows(rows, who=who, now=now, reason=f"import of {path.name}")
            keep_margins_of_news(register, standing, now)
    return ImportResult(count.added + count.changed + count.same, count.added, count.changed, count.same, only_check)


def _standing(url: str) -> RegisterRows:
    """What is on record already; nothing where there is no database yet."""
    try:
        with Register.open(url, read_only=True) as register:
            return register.rows()
    except NotFound:
        return RegisterRows()


def _difference(standing: RegisterRows, rows: RegisterRows) -> SaveCount:
    """How many rows saving would add, change and find the same."""
    added = changed = same = 0
    for file, fields in NATURAL_KEYS.items():
        on_record = {tuple(getattr(row, field) for field in fields): row for row in getattr(standing, file)}
        for row in getattr(rows, file):
            before = on_record.get(tuple(getattr(row, field) for field in fields))
            added += before is None
            changed += before is not None and before != row
            same += before == row
    return SaveCount(added, changed, same)


def export_register(url: str, path: Path) -> int:
    """Writes the whole register at `url` to a folder or an .xlsx; returns how many rows it holds."""
    with Register.open(url, read_only=True) as register:
        rows = register.rows()
    write_register(rows, path)
    return sum(len(getattr(rows, name)) for name in RegisterRows.__dataclass_fields__)


def add_row(url: str, file: str, cells: Mapping[str, str], *, who: str, now: datetime) -> SaveCount:
    """Adds (or corrects) one row, given as the cells of one line of the file of that name."""
    with Register.open(url, create=True) as register:
        standing = register.rows()
        context = context_of(standing)
        row = row_from_cells(file, cells, context.known, context.time_zones, context.words)
        rows = replace(RegisterRows(), **{file: (row,)})
        count = register.save_rows(rows, who=who, now=now, reason="typed at the terminal")
        keep_margins_of_news(register, standing, now)
        return count
