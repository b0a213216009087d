"""Turns what a database driver says into one clear line for the person, in one place for every statement."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.exc import DataError, IntegrityError

from fleet.errors import BadInput, FleetError, StoreRefused

_SQLITE = (
    ("database is locked", "is in use by another program (waited {wait_s:g} s): try again in a moment"),
    ("database table is locked", "is in use by another program (waited {wait_s:g} s): try again in a moment"),
    ("not a database", "is not a database file"),
    ("malformed", "is damaged: put back a backup copy"),
    (
        "readonly database",
        "cannot be written: it was opened for reading only, or the file or its folder is read-only"
        " (even a reader needs to write beside the file)",
    ),
    (
        "unable to open",
        "cannot be opened: the file and its folder must be readable, and writable for SQLite's side files",
    ),
    ("disk is full", "cannot grow: the disk is full"),
    ("disk I/O error", "cannot be read or written: the disk reports an error"),
)
"""Words of the SQLite library, and what they mean for the person."""

_POSTGRESQL = {
    "55P03": "is in use by another program (waited {wait_s:g} s): try again in a moment",
    "25006": "cannot be written: it was opened for reading only",
    "28P01": "refuses the user name or the password",
    "28000": "refuses the user name or the password",
    "3D000": "does not exist on that server",
    "42501": "refuses: this user lacks the right to do that",
    "53100": "cannot grow: the server's disk is full",
}
"""SQLSTATE codes of PostgreSQL (its manual, appendix A), and what they mean for the person."""


def translate_errors(engine: Engine, *, shown: str, password: object, wait_s: float) -> None:
    """Makes every error of `engine`'s driver arrive as BadInput or StoreRefused, never showing the password."""

    @event.listens_for(engine, "handle_error", retval=True)
    def _translate(context: Any) -> FleetError | None:
        return refusal(
            context.sqlalchemy_exception, context.original_exception, shown=shown, password=password, wait_s=wait_s
        )


def refusal(
    outer: BaseException | None, cause: BaseException, *, shown: str, password: object, wait_s: float
) -> FleetError | None:
    """The error for the person, or None where the cause is a fault of this program and must keep its traceback."""
    lines = str(cause).strip().splitlines() or [type(cause).__name__]
    said = lines[0] if not password else lines[0].replace(str(password), "***")
    if isinstance(outer, (IntegrityError, DataError)):
        return BadInput(f"the database refuses the row: {said}")
    state = getattr(cause, "sqlstate", None)
    if state in _POSTGRESQL:
        return StoreRefused(f"the database {shown} {_POSTGRESQL[state].format(wait_s=wait_s)}")
    if type(cause).__module__.startswith("sqlite3"):
        for words, meaning in _SQLITE:
            if words in said:
                return StoreRefused(f"the database {shown} {meaning.format(wait_s=wait_s)}")
        return None
    if state is None and type(cause).__name__ in ("OperationalError", "ConnectionTimeout"):
        return StoreRefused(f"the database {shown} cannot be reached: {said}")
    return None
