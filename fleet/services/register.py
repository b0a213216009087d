"""Moves registers between files and the database, and adds what a person types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from fleet.db.repository import Register, SaveCount
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import read_register, row_from_cells, write_register
from fleet.services.outlook import check_words_of_the_catalogue
from fleet.values.register import RegisterRows


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What an import did, or would do where it only checked."""

    rows: int
    added: int
    changed: int
    same: int
    only_checked: bool


def import_register(url: str, path: Path, *, only_check: bool, who: str, now: datetime) -> ImportResult:
    """Takes the files at `path` into the database at `url`, all of them or none. Raises BadInput with every error."""
    with Register.open(url, create=True) as register:
        rows = read_register(path, register.known_codes(), register.time_zones())
        check_words_of_the_catalogue(rows, read_catalogue())
        count = register.save_rows(rows, who=who, now=now, reason=f"import of {path.name}", dry_run=only_check)
    total = count.added + count.changed + count.same
    return ImportResult(total, count.added, count.changed, count.same, only_check)


def export_register(url: str, path: Path) -> int:
    """Writes the whole register at `url` to a folder or an .xlsx; returns how many rows it holds."""
    with Register.open(url, read_only=True) as register:
        rows = register.rows()
    write_register(rows, path)
    return sum(len(getattr(rows, name)) for name in RegisterRows.__dataclass_fields__)


def add_row(url: str, file: str, cells: Mapping[str, str], *, who: str, now: datetime) -> SaveCount:
    """Adds (or corrects) one row, given as the cells of one line of the file of that name."""
    with Register.open(url, create=True) as register:
        row = row_from_cells(file, cells, register.known_codes(), register.time_zones())
        rows = replace(RegisterRows(), **{file: (row,)})
        check_words_of_the_catalogue(rows, read_catalogue())
        return register.save_rows(rows, who=who, now=now, reason="typed at the terminal")
