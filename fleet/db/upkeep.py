"""Looks after the database: an online copy, and a check of everything that the schema alone cannot promise."""

from __future__ import annotations

import itertools
import os
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, select

from fleet.db.engine import Place
from fleet.db.mapping import FILES
from fleet.db.rows_out import read_codes, read_rows
from fleet.db.tables import METADATA
from fleet.db.tables.trail import APPEND_ONLY_TRIGGERS
from fleet.errors import StoreRefused
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import SubjectKind


def backup(place: Place, target: Path) -> None:
    """Copies the committed state of a SQLite database to a new file, beside whoever is writing.

    Raises StoreRefused where the target exists or cannot be made, where the copy fails its check, and for a server.
    """
    if place.file is None:
        raise StoreRefused(f"{place.shown} is on a server: copy it with pg_dump -Fc, and put it back with pg_restore")
    try:
        # Made here and not by SQLite, so that an existing file is never written over, not even in a race.
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    except FileExistsError:
        raise StoreRefused(f"{target} exists already: name a new file for the copy") from None
    except OSError as failure:
        raise StoreRefused(f"the copy {target} cannot be made: {failure.strerror}") from failure
    try:
        with (
            closing(sqlite3.connect(f"{place.file.absolute().as_uri()}?mode=ro", uri=True, timeout=10)) as source,
            closing(sqlite3.connect(target)) as copy,
        ):
            # One step: a copy in several steps begins anew each time somebody writes in between.
            source.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
            said = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if said != "ok":
            raise StoreRefused(f"the copy of {place.shown} is damaged: {said}")
    except sqlite3.Error as failure:
        target.unlink(missing_ok=True)
        raise StoreRefused(f"{place.shown} cannot be copied: {failure}") from failure
    except StoreRefused:
        target.unlink(missing_ok=True)
        raise


def verify(connection: Connection) -> list[str]:
    """What is wrong with the database, one sentence each; empty where all is well."""
    if connection.dialect.name == "sqlite":
        said = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA integrity_check")]
        damage = [f"the file is damaged: {line}" for line in said if line != "ok"]
        if damage:
            # Reading on in a damaged file would only bring errors.
            return damage
    rows = read_rows(connection)
    return [
        *_broken_references(connection),
        *_missing_triggers(connection),
        *_codes_without_rows(connection),
        *_wrong_kinds(connection, rows),
        *_overlapping_placements(rows),
        *_tasks_of_nothing(connection),
        *_rules_of_nothing(connection),
    ]


def _broken_references(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
            yield f"{table} row {row} refers to a {parent} that is not there"


def _missing_triggers(connection: Connection) -> Iterator[str]:
    dialect = connection.dialect.name
    if dialect == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'change_log'"
    else:
        # tgenabled O: fires in an ordinary session.
        query = "SELECT tgname FROM pg_trigger WHERE tgrelid = 'change_log'::regclass AND tgenabled IN ('O', 'A')"
    present = {str(row[0]) for row in connection.exec_driver_sql(query)}
    for name in sorted(APPEND_ONLY_TRIGGERS[dialect] - present):
        yield f"the change log can be altered: its guard {name} is missing"


def _codes_without_rows(connection: Connection) -> Iterator[str]:
    """Codes that stand for a kind whose file has no row of that code, or rows whose code stands for another kind."""
    codes_of_kind: dict[SubjectKind, set[str]] = {}
    for entry in FILES.values():
        if entry.kind is not None:
            query = select(entry.table.c.code).where(entry.table.c.withdrawn_at.is_(None))
            codes_of_kind[entry.kind] = set(connection.execute(query).scalars())
    for code, kind in sorted(read_codes(connection).items()):
        if code not in codes_of_kind[kind]:
            yield f"{code} is on record as a {kind}, but no {kind} has that code"
        codes_of_kind[kind].discard(code)
    for kind, left in codes_of_kind.items():
        for code in sorted(left):
            yield f"{code} has a row as a {kind}, but its code stands for something else"


def _wrong_kinds(connection: Connection, rows: RegisterRows) -> Iterator[str]:
    known = read_codes(connection)
    for file, entry in FILES.items():
        for row in getattr(rows, file):
            for name, allowed in entry.references.items():
                value = getattr(row, name)
                for code in value if isinstance(value, tuple) else (() if value is None else (value,)):
                    kind = known.get(code)
                    if kind not in allowed:
                        what = "not on record" if kind is None else f"a {kind}"
                        wanted = "any code on record" if len(allowed) == len(SubjectKind) else " or ".join(allowed)
                        shown = " ".join(str(part) for part in entry.key_of(row))
                        yield f"{file} {shown}: {name} {code} is {what}: expected {wanted}"


def _overlapping_placements(rows: RegisterRows) -> Iterator[str]:
    by_device = defaultdict(list)
    for placement in rows.placements:
        by_device[placement.device].append(placement)
    for device, placements in by_device.items():
        placements.sort(key=lambda placement: placement.since)
        for earlier, later in itertools.pairwise(placements):
            if earlier.until is not None and earlier.until > later.since:
                yield (
                    f"{device} stands in two places at once: {earlier.where} until {earlier.until} "
                    f"and {later.where} since {later.since}"
                )


def _tasks_of_nothing(connection: Connection) -> Iterator[str]:
    task = METADATA.tables["task"]
    known = read_codes(connection)
    query = select(task.c.key, task.c.subject, task.c.subject_kind).where(task.c.dropped_at.is_(None))
    for key, subject, kind in connection.execute(query.order_by(task.c.key)):
        if known.get(subject) != kind:
            yield f"task {key} is for {kind} {subject}, which is not on record"


def _rules_of_nothing(connection: Connection) -> Iterator[str]:
    rule = METADATA.tables["task_rule"]
    known = read_codes(connection)
    query = select(rule.c.rule, rule.c.scope).where(rule.c.withdrawn_at.is_(None), rule.c.scope != "")
    for name, scope in connection.execute(query.order_by(rule.c.rule, rule.c.scope)):
        if scope not in known:
            yield f"the rule {name} is set for {scope}, which is not on record"
