"""Reads the register out of its tables as frozen values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, or_, select, true

from fleet.db.mapping import FILES, FileMap, Key
from fleet.db.tables import METADATA
from fleet.values.register import RegisterRows, ServiceRecord
from fleet.values.vocabulary import Finding, SubjectKind

_SUBJECT = METADATA.tables["subject"]
CODES_AT_ONCE = 5_000
"""Codes in one IN list; both engines take several times as many."""


def read_rows(connection: Connection) -> RegisterRows:
    """Every row that has not been withdrawn, each file sorted by its natural key."""
    return RegisterRows(**{file: tuple(_read_file(connection, entry)) for file, entry in FILES.items()})


def _read_file(connection: Connection, entry: FileMap) -> list[Any]:
    found = connection.execute(select(*entry.columns).where(entry.table.c.withdrawn_at.is_(None)))
    # Sorted here and not in SQL, because a server sorts text by its own locale.
    return sorted((entry.row_class(*row) for row in found), key=entry.key_of)


def read_codes(connection: Connection) -> dict[str, SubjectKind]:
    """Every code on record and what it stands for."""
    return {row[0]: row[1] for row in connection.execute(select(_SUBJECT.c.code, _SUBJECT.c.kind))}


def read_time_zones(connection: Connection) -> dict[str, str]:
    """The zone name of every site."""
    site = FILES["sites"].table
    return {row[0]: row[1] for row in connection.execute(select(site.c.code, site.c.time_zone))}


def read_record_of_task(connection: Connection, key: str) -> ServiceRecord | None:
    """The latest service record that closed the planned task with this key; what could not be inspected closes none."""
    entry = FILES["history"]
    table = entry.table
    inspected = or_(table.c.finding.is_(None), table.c.finding != Finding.NOT_INSPECTED)
    found = connection.execute(
        select(*entry.columns)
        .where(table.c.task_key == key, table.c.withdrawn_at.is_(None), inspected)
        .order_by(table.c.done_on.desc())
    ).first()
    return None if found is None else ServiceRecord(*found)


def read_task_key(connection: Connection, key: Key) -> str | None:
    """The key of the planned task that the service record with this natural key closed."""
    entry = FILES["history"]
    same = [entry.table.c[name] == part for name, part in zip(entry.key, key, strict=True)]
    found: str | None = connection.execute(select(entry.table.c.task_key).where(*same)).scalar()
    return found


@dataclass(frozen=True, slots=True)
class Recorded:
    """Work on record and when it came there. `task_key` is the planned task it closed, None where none was named."""

    record: ServiceRecord
    task_key: str | None
    at: datetime


def read_recorded(connection: Connection, since: datetime) -> tuple[Recorded, ...]:
    """The work put on record at or after `since`, oldest first."""
    entry = FILES["history"]
    table = entry.table
    found = connection.execute(
        select(table.c.task_key, table.c.recorded_at, *entry.columns)
        .where(table.c.recorded_at >= since, table.c.withdrawn_at.is_(None))
        .order_by(table.c.recorded_at, table.c.id)
    )
    return tuple(Recorded(ServiceRecord(*cells), key, at) for key, at, *cells in found)


def chunks(members: Iterable[Any], size: int) -> Iterator[list[Any]]:
    """The members in lists of at most `size`."""
    some: list[Any] = []
    for member in members:
        some.append(member)
        if len(some) == size:
            yield some
            some = []
    if some:
        yield some


class StoredRow:
    """A row as it is stored: its number, its version, whether it is withdrawn, and its value."""

    __slots__ = ("id", "value", "version", "withdrawn")

    def __init__(self, row_id: int, version: int, withdrawn: bool, value: Any) -> None:
        self.id, self.version, self.withdrawn, self.value = row_id, version, withdrawn, value


def read_stored(connection: Connection, entry: FileMap, keys: Sequence[Key]) -> dict[Key, StoredRow]:
    """What is stored under the keys. Rows of other keys may be among them.

    Asked for by the code that leads the key and, where the key ends in a day or an instant, within the span of those.
    """
    table = entry.table
    leading = table.c[entry.key[0]]
    within: ColumnElement[bool] = true()
    if keys and isinstance(keys[0][-1], date):
        ends = [key[-1] for key in keys]
        within = table.c[entry.key[-1]].between(min(ends), max(ends))
    stored: dict[Key, StoredRow] = {}
    for codes in chunks(sorted({key[0] for key in keys}), CODES_AT_ONCE):
        found = connection.execute(
            select(table.c.id, table.c.version, table.c.withdrawn_at, *entry.columns).where(leading.in_(codes), within)
        )
        for row_id, version, withdrawn_at, *cells in found:
            value = entry.row_class(*cells)
            stored[entry.key_of(value)] = StoredRow(row_id, version, withdrawn_at is not None, value)
    return stored


def read_versions(connection: Connection, entry: FileMap) -> Mapping[Key, int]:
    """The version of every row of a file."""
    table = entry.table
    found = connection.execute(select(table.c.version, *(table.c[name] for name in entry.key)))
    return {tuple(key): version for version, *key in found}
