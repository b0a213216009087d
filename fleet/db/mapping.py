"""Which table holds which file of the register, and what the codes in its columns may stand for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

from sqlalchemy import Column, Table

from fleet.db.tables import METADATA
from fleet.db.types import write_year_span
from fleet.errors import BadInput
from fleet.values import register as values
from fleet.values.register import CODED, NATURAL_KEYS, YearSpan
from fleet.values.vocabulary import SubjectKind

Key = tuple[Any, ...]
"""The natural key of a row: the values of NATURAL_KEYS[file], in that order."""

_ANY = frozenset(SubjectKind)


@dataclass(frozen=True)
class FileMap:
    """One file of the register: its value class, its table, its key and its references."""

    file: str
    row_class: type
    table: Table
    references: Mapping[str, frozenset[SubjectKind]]

    @property
    def key(self) -> tuple[str, ...]:
        return NATURAL_KEYS[self.file]

    @property
    def kind(self) -> SubjectKind | None:
        """What a code of this file's own stands for, None where its rows have none."""
        return SubjectKind(CODED[self.file]) if self.file in CODED else None

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(field.name for field in fields(self.row_class))

    @property
    def columns(self) -> list[Column[Any]]:
        """The columns of the value class, in its order, so that a result row makes one value."""
        return [self.table.c[name] for name in self.names]

    def key_of(self, row: Any) -> Key:
        return tuple(getattr(row, name) for name in self.key)


def _map(file: str, row_class: type, table: str, **references: SubjectKind | frozenset[SubjectKind]) -> FileMap:
    allowed = {
        name: kinds if isinstance(kinds, frozenset) else frozenset({kinds}) for name, kinds in references.items()
    }
    return FileMap(file, row_class, METADATA.tables[table], allowed)


FILES: dict[str, FileMap] = {
    entry.file: entry
    for entry in (
        _map("clients", values.Client, "client"),
        _map("sites", values.Site, "site", client=SubjectKind.CLIENT),
        _map("contacts", values.Contact, "contact", site=SubjectKind.SITE),
        _map("rooms", values.Room, "room", site=SubjectKind.SITE),
        _map("tanks", values.Tank, "tank", room=SubjectKind.ROOM),
        _map("loads", values.Load, "load", tank=SubjectKind.TANK),
        _map("animals", values.Animals, "animals", tank=SubjectKind.TANK),
        _map("devices", values.Device, "device"),
        _map(
            "placements", values.Placement, "placement",
            device=SubjectKind.DEVICE, room=SubjectKind.ROOM, stand_of=SubjectKind.TANK,
        ),
        _map("duties", values.Duty, "duty", device=SubjectKind.DEVICE, tank=SubjectKind.TANK),
        _map("equipment", values.Equipment, "equipment", tank=SubjectKind.TANK, site=SubjectKind.SITE, serves=_ANY),
        _map("technicians", values.Technician, "technician"),
        _map("absences", values.Absence, "absence", technician=SubjectKind.TECHNICIAN),
        _map("closures", values.Closure, "closure", site=SubjectKind.SITE),
        _map("events", values.Event, "event", subject=_ANY),
        _map("history", values.ServiceRecord, "service_record", subject=_ANY),
        _map("readings", values.Reading, "reading", subject=_ANY),
    )
}  # fmt: skip
"""Every file of the register, in the order in which the register lists them."""


def file_map(file: str) -> FileMap:
    """The map of a file. Raises BadInput for a name that the register does not have."""
    try:
        return FILES[file]
    except KeyError:
        raise BadInput(f"{file!r} is no file of the register: expected one of {', '.join(FILES)}") from None


def natural_key(entry: FileMap, key: Mapping[str, Any] | Sequence[Any]) -> Key:
    """The key as a tuple, given by name or in order. Raises BadInput where parts are missing or too many."""
    wanted = ", ".join(entry.key)
    if isinstance(key, Mapping):
        if set(key) != set(entry.key):
            raise BadInput(f"{entry.file}: a row is told by {wanted}, not by {', '.join(key)}")
        return tuple(key[name] for name in entry.key)
    if len(key) != len(entry.key):
        raise BadInput(f"{entry.file}: a row is told by {wanted}")
    return tuple(key)


def plain(value: Any) -> Any:
    """A value of the register as plain JSON, for the trail."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, (Decimal, str)):
        return str(value)
    if isinstance(value, YearSpan):
        return write_year_span(value)
    if isinstance(value, tuple):
        return [plain(member) for member in value]
    return value
