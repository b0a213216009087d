"""Begins a register: with a few questions about a fish room or a company, or with example files to edit.

Nothing is written before the last answer.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from fleet import resources
from fleet.db.engine import place_of
from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.replace import replace_files
from fleet.services.interview import Asker, Interview
from fleet.values.register import NATURAL_KEYS

KINDS = ("home", "company")


@dataclass(frozen=True, slots=True)
class Started:
    """How many rows of each file a new register holds, and the codes and names of its tanks."""

    counts: Mapping[str, int]
    tanks: tuple[tuple[str, str], ...]


def start_register(
    url: str, kind: str, asker: Asker, *, time_zone: str, who: str, today: date, now: datetime
) -> Started:
    """Asks, then writes the register that the answers make, all of it at once. `time_zone` is the default offered.

    Raises BadInput for another kind and where the database holds a register already; then nothing was asked.
    """
    if kind not in KINDS:
        raise BadInput(f"{kind!r}: expected {' or '.join(KINDS)}")
    file = place_of(url).file
    if file is not None:
        _refuse_unwritable(file.parent)
    try:
        with Register.open(url, read_only=True) as register:
            if register.known_codes():
                raise BadInput("there is a register in that database already: `fleet add` and `fleet import` add to it")
    except NotFound:
        pass
    interview = Interview(asker, time_zone, today)
    if kind == "home":
        interview.home()
    else:
        interview.company()
    rows = interview.rows()
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
    with Register.open(url, create=True) as register:
        register.save_rows(rows, who=who, now=now, reason=f"fleet start {kind}")
    counts = {file: len(getattr(rows, file)) for file in NATURAL_KEYS if getattr(rows, file)}
    return Started(counts, tuple((tank.code, tank.name) for tank in rows.tanks))


def _refuse_unwritable(folder: Path) -> None:
    """Told before the first question and not after the last answer."""
    standing = next((one for one in (folder, *folder.resolve().parents) if one.exists()), folder)
    if not standing.is_dir() or not os.access(standing, os.W_OK):
        raise BadInput(f"cannot write to {folder}: expected a folder that may be written to")


def example_files(kind: str, folder: Path) -> tuple[Path, ...]:
    """Writes an example register of invented names as CSV files into a new or empty folder; returns the files."""
    if kind not in KINDS:
        raise BadInput(f"{kind!r}: expected {' or '.join(KINDS)}")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput(f"{folder}: expected a folder that is new or empty, so that nothing is written over")
    source = resources.sample_data() / "start" / kind
    contents = {path.name: path.read_bytes() for path in sorted(source.glob("*.csv"))}
    try:
        replace_files(folder, contents)
    except OSError as error:
        raise BadInput(f"cannot write to {folder}: {error.strerror}") from error
    return tuple(folder / name for name in contents)
