"""Takes rows of the register in: checks every reference, then adds what is new and changes what differs."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, bindparam, insert, update

from fleet.db.mapping import FILES, FileMap, Key, file_map, natural_key
from fleet.db.rows_out import StoredRow, chunks, read_codes, read_stored
from fleet.db.tables import METADATA
from fleet.db.trail import added, differing, entry_dict, write_log
from fleet.errors import BadInput, CellError, NotFound, StaleWrite
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import SubjectKind

_SUBJECT = METADATA.tables["subject"]
_ROWS_AT_ONCE = 20_000
"""Rows sent in one statement: enough for speed, few enough for memory."""


@dataclass(frozen=True, slots=True)
class SaveCount:
    """How many rows were added, changed, and found the same."""

    added: int = 0
    changed: int = 0
    same: int = 0

    def __add__(self, other: SaveCount) -> SaveCount:
        return SaveCount(self.added + other.added, self.changed + other.changed, self.same + other.same)


@dataclass(frozen=True, slots=True)
class Signature:
    """Who makes a change, when (an aware instant) and why."""

    who: str
    at: datetime
    reason: str


def save_rows(
    connection: Connection,
    rows: RegisterRows,
    signed: Signature,
    *,
    expected: Mapping[str, Mapping[Key, int]],
    task_keys: Mapping[Key, str],
) -> SaveCount:
    """Adds and changes rows by their natural keys; a withdrawn row that comes again is put back.

    `expected` holds, by file, the versions of rows that somebody looked at before editing them: another version by
    now raises StaleWrite. `task_keys` names the planned task that a row of history closes.
    Raises BadInput, with every fault, before anything is written.
    """
    new = _checked(connection, rows)
    if new:
        connection.execute(insert(_SUBJECT), [{"code": code, "kind": kind} for code, kind in new.items()])
    count = SaveCount()
    for file, entry in FILES.items():
        of_file = getattr(rows, file)
        if of_file:
            count += _save_file(connection, entry, of_file, signed, expected.get(file, {}), task_keys)
    return count


def _checked(connection: Connection, rows: RegisterRows) -> dict[str, SubjectKind]:
    """The codes that are new. Raises BadInput for codes of two kinds, wrong references and doubled rows."""
    known = read_codes(connection)
    errors: list[CellError] = []
    new: dict[str, SubjectKind] = {}
    for file, entry in FILES.items():
        if entry.kind is None:
            continue
        for row in getattr(rows, file):
            already = known.get(row.code) or new.get(row.code)
            if already is not None and already is not entry.kind:
                errors.append(CellError(file, 0, "code", row.code, f"a code of its own: it is already a {already}"))
            elif already is None:
                new[row.code] = entry.kind
    known.update(new)
    for file, entry in FILES.items():
        of_file = getattr(rows, file)
        errors.extend(_doubled(entry, of_file))
        errors.extend(_wrong_references(entry, of_file, known))
    if errors:
        raise BadInput(f"{len(errors)} cell{'s' if len(errors) > 1 else ''} cannot be taken; {errors[0]}", errors)
    return new


def _doubled(entry: FileMap, rows: Iterable[Any]) -> Iterator[CellError]:
    for key, times in Counter(map(entry.key_of, rows)).items():
        if times > 1:
            shown = ", ".join(map(str, key))
            yield CellError(entry.file, 0, ", ".join(entry.key), shown, f"one row, found {times} with the same key")


def _wrong_references(entry: FileMap, rows: Iterable[Any], known: Mapping[str, SubjectKind]) -> Iterator[CellError]:
    for row in rows:
        for name, allowed in entry.references.items():
            value = getattr(row, name)
            for code in value if isinstance(value, tuple) else (() if value is None else (value,)):
                kind = known.get(code)
                if kind is None:
                    near = difflib.get_close_matches(code, known, n=1)
                    hint = f"; the nearest is {near[0]}" if near else ""
                    yield CellError(entry.file, 0, name, code, f"a code on record{hint}")
                elif kind not in allowed:
                    wanted = " or ".join(sorted(allowed))
                    yield CellError(entry.file, 0, name, code, f"the code of a {wanted}: it is a {kind}")


def _save_file(
    connection: Connection,
    entry: FileMap,
    rows: tuple[Any, ...],
    signed: Signature,
    expected: Mapping[Key, int],
    task_keys: Mapping[Key, str],
) -> SaveCount:
    count = SaveCount()
    for some in chunks(rows, _ROWS_AT_ONCE):
        stored = read_stored(connection, entry, [entry.key_of(row) for row in some])
        fresh: list[Any] = []
        altered: list[tuple[StoredRow, Any]] = []
        for row in some:
            key = entry.key_of(row)
            old = stored.get(key)
            _refuse_stale(entry, key, old, row, expected.get(key))
            if old is None:
                fresh.append(row)
            elif old.withdrawn or old.value != row:
                altered.append((old, row))
        _add(connection, entry, fresh, signed, task_keys)
        _alter(connection, entry, altered, signed, task_keys)
        count += SaveCount(len(fresh), len(altered), len(some) - len(fresh) - len(altered))
    return count


def _refuse_stale(entry: FileMap, key: Key, old: StoredRow | None, row: Any, seen: int | None) -> None:
    if seen is None or (old is not None and old.version == seen):
        return
    if old is None:
        raise StaleWrite(f"{entry.file} {_shown(key)} is not on record any more")
    now, wanted = differing(entry, old.value, row)
    pairs = "; ".join(f"{name} is now {now[name]!r}, you enter {wanted[name]!r}" for name in now)
    raise StaleWrite(f"{entry.file} {_shown(key)} was changed in between: {pairs or 'to the same as yours'}")


def _shown(key: Key) -> str:
    return " ".join(str(part) for part in key if part != date.min)


def _cells(entry: FileMap, row: Any, task_keys: Mapping[Key, str]) -> dict[str, Any]:
    cells: dict[str, Any] = {name: getattr(row, name) for name in entry.names}
    if entry.file == "history" and (task_key := task_keys.get(entry.key_of(row))) is not None:
        cells["task_key"] = task_key
    return cells


def _add(
    connection: Connection, entry: FileMap, rows: list[Any], signed: Signature, task_keys: Mapping[Key, str]
) -> None:
    if not rows:
        return
    common: dict[str, Any] = {"version": 1, "withdrawn_at": None}
    if entry.file == "history":
        common.update(recorded_at=signed.at, task_key=None)
    connection.execute(insert(entry.table), [common | _cells(entry, row, task_keys) for row in rows])
    write_log(
        connection,
        [
            entry_dict(
                at=signed.at, who=signed.who, reason=signed.reason, file=entry.file, key=entry.key_of(row),
                before=None, after=added(entry, row),
            )
            for row in rows
        ],
    )  # fmt: skip


def _alter(
    connection: Connection,
    entry: FileMap,
    pairs: list[tuple[StoredRow, Any]],
    signed: Signature,
    task_keys: Mapping[Key, str],
) -> None:
    entries = []
    # One statement for each set of columns, since rows that close no task must keep the task they closed before.
    for closes_task in (False, True):
        cells = [
            {"row_id": old.id, "version": old.version + 1, "withdrawn_at": None} | _cells(entry, row, task_keys)
            for old, row in pairs
            if closes_task is (entry.file == "history" and entry.key_of(row) in task_keys)
        ]
        if cells:
            connection.execute(update(entry.table).where(entry.table.c.id == bindparam("row_id")), cells)
    for old, row in pairs:
        before, after = differing(entry, old.value, row)
        if old.withdrawn:
            before["withdrawn"], after["withdrawn"] = True, False
        entries.append(
            entry_dict(
                at=signed.at, who=signed.who, reason=signed.reason, file=entry.file, key=entry.key_of(row),
                before=before, after=after,
            )
        )  # fmt: skip
    write_log(connection, entries)


def _one_stored(connection: Connection, entry: FileMap, key: Key) -> StoredRow:
    stored = read_stored(connection, entry, [key]).get(key)
    if stored is None or stored.withdrawn:
        raise NotFound(f"{entry.file} {_shown(key)} is not on record")
    return stored


def end_fact(
    connection: Connection, file: str, key: Mapping[str, Any] | Iterable[Any], until: date, signed: Signature
) -> Any:
    """Sets the first day on which an open dated fact no longer holds. Returns the row as it is then."""
    entry = file_map(file)
    if "until" not in entry.names:
        raise BadInput(f"{file}: its rows have no end")
    wanted = natural_key(entry, key if isinstance(key, Mapping) else tuple(key))
    stored = _one_stored(connection, entry, wanted)
    if stored.value.until is not None:
        raise BadInput(f"{file} {_shown(wanted)} has already ended on {stored.value.until}")
    if until <= stored.value.since:
        raise BadInput(f"{file} {_shown(wanted)}: until {until}: expected a day after {stored.value.since}")
    values = {field.name: getattr(stored.value, field.name) for field in fields(stored.value)}
    ended = entry.row_class(**values | {"until": until})
    _alter(connection, entry, [(stored, ended)], signed, {})
    return ended


def withdraw(
    connection: Connection,
    file: str,
    key: Mapping[str, Any] | Iterable[Any],
    signed: Signature,
    *,
    expected: int | None = None,
) -> None:
    """Marks a row as entered by mistake: it stays on the trail, but nothing reads it any more.

    The last row of a code cannot be withdrawn, because other rows refer to the code. `expected` is the version at which
    somebody looked at the row: another one by now raises StaleWrite.
    """
    entry = file_map(file)
    wanted = natural_key(entry, key if isinstance(key, Mapping) else tuple(key))
    stored = _one_stored(connection, entry, wanted)
    if expected is not None and stored.version != expected:
        raise StaleWrite(f"{entry.file} {_shown(wanted)} was changed in between: look at it again")
    if entry.kind is not None:
        others = [
            row
            for row_key, row in _rows_of_code(connection, entry, wanted[0]).items()
            if row_key != wanted and not row.withdrawn
        ]
        if not others:
            raise BadInput(f"{wanted[0]} is the only row of that {entry.kind} and cannot be withdrawn")
    table = entry.table
    connection.execute(
        update(table).where(table.c.id == stored.id).values(withdrawn_at=signed.at, version=stored.version + 1)
    )
    write_log(
        connection,
        [
            entry_dict(
                at=signed.at, who=signed.who, reason=signed.reason, file=file, key=wanted,
                before=added(entry, stored.value) | {"withdrawn": False}, after={"withdrawn": True},
            )
        ],
    )  # fmt: skip


def _rows_of_code(connection: Connection, entry: FileMap, code: str) -> dict[Key, StoredRow]:
    if entry.key == ("code",):
        return read_stored(connection, entry, [(code,)])
    return read_stored(connection, entry, [(code, date.min), (code, date.max)])
