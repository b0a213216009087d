"""Keeps the register safe: copies and checks."""

from __future__ import annotations

from pathlib import Path

from fleet.db.engine import place_of
from fleet.db.repository import Register
from fleet.errors import BadInput


def back_up(url: str, target: Path) -> None:
    """Writes a whole, consistent copy of the database to a new file, also while others write."""
    with Register.open(url, read_only=True) as register:
        register.backup(target)


def verify(url: str) -> list[str]:
    """Every fault found in the database, one sentence each; empty when it is sound."""
    with Register.open(url, read_only=True) as register:
        return register.verify()


def upgrade(url: str, copy: Path | None, *, copied: bool) -> tuple[tuple[str, ...], Path | None]:
    """Brings an older database up to this program's schema: the migrations applied, and the copy made before.

    A file is copied first, to `copy` or beside it, unless it is `copied` already. The copy of a server is its own
    matter, so it must be `copied`.
    """
    file = place_of(url).file
    if copied:
        return Register.upgrade(url), None
    if file is None:
        raise BadInput("copy the server's database first (pg_dump -Fc), then say so with --copied")
    target = copy or _beside(file)
    applied = Register.upgrade(url, backup_to=target)
    if applied or copy is not None:
        return applied, target
    target.unlink()
    return applied, None


def _beside(file: Path) -> Path:
    """A name beside the database that is not taken."""
    names = (file.with_name(f"{file.name}.before-upgrade{number or ''}") for number in range(1_000_000))
    return next(name for name in names if not name.exists())
