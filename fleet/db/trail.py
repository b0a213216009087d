"""The change log: who changed which row, when and why, with the fields that differ before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from fleet.db.mapping import FileMap, Key, plain
from fleet.db.tables import METADATA

_LOG = METADATA.tables["change_log"]


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry. `file` is a file of the register, or the table of something else (task_rule, task).

    `row_key` is the row's natural key and `subject` its first part, usually a code. `before` is None for a row that
    was added; `before` and `after` hold only what differs, as plain JSON.
    """

    at: datetime
    who: str
    reason: str
    file: str
    subject: str
    row_key: tuple[Any, ...]
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


def entry_dict(
    *,
    at: datetime,
    who: str,
    reason: str,
    file: str,
    key: Sequence[Any],
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
) -> dict[str, Any]:
    """One entry as the columns of the log."""
    row_key = [plain(part) for part in key]
    return {
        "at": at, "who": who, "reason": reason, "file": file, "subject": str(row_key[0]),
        "row_key": row_key, "before": before, "after": after,
    }  # fmt: skip


def added(entry: FileMap, row: Any) -> dict[str, Any]:
    """What a new row says: every field that holds something."""
    return {name: plain(value) for name in entry.names if (value := getattr(row, name)) not in (None, ())}


def differing(entry: FileMap, before: Any, after: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """The fields in which two rows differ, before and after."""
    names = [name for name in entry.names if getattr(before, name) != getattr(after, name)]
    return (
        {name: plain(getattr(before, name)) for name in names},
        {name: plain(getattr(after, name)) for name in names},
    )


def write_log(connection: Connection, entries: Sequence[Mapping[str, Any]]) -> None:
    """Adds the entries, in order."""
    if entries:
        connection.execute(insert(_LOG), entries)


def read_log(
    connection: Connection,
    *,
    subject: str | None = None,
    file: str | None = None,
    since: datetime | None = None,
    limit: int | None = None,
) -> tuple[LogEntry, ...]:
    """The entries, latest first; of one subject, one file, from one instant on where those are given."""
    query = select(
        _LOG.c.at, _LOG.c.who, _LOG.c.reason, _LOG.c.file, _LOG.c.subject, _LOG.c.row_key, _LOG.c.before, _LOG.c.after
    ).order_by(_LOG.c.id.desc())
    if subject is not None:
        query = query.where(_LOG.c.subject == subject)
    if file is not None:
        query = query.where(_LOG.c.file == file)
    if since is not None:
        query = query.where(_LOG.c.at >= since)
    if limit is not None:
        query = query.limit(limit)
    return tuple(
        LogEntry(at, who, reason, of_file, of_subject, _as_key(row_key), before, after)
        for at, who, reason, of_file, of_subject, row_key, before, after in connection.execute(query)
    )


def _as_key(stored: list[Any]) -> Key:
    return tuple(stored)
