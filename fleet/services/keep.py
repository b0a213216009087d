"""Keeps the register safe: copies and checks."""

from __future__ import annotations

from pathlib import Path

from fleet.db.repository import Register


def back_up(url: str, target: Path) -> None:
    """Writes a whole, consistent copy of the database to a new file, also while others write."""
    with Register.open(url, read_only=True) as register:
        register.backup(target)


def verify(url: str) -> list[str]:
    """Every fault found in the database, one sentence each; empty when it is sound."""
    with Register.open(url, read_only=True) as register:
        return register.verify()
