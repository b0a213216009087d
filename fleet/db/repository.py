"""The register: the only door to the database. Takes and gives frozen values; commits once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Engine

from fleet.db import addresses, decisions, feed_memory, plan_store, rows_in, rows_out, schema, trail, upkeep
from fleet.db.addresses import Version
from fleet.db.decisions import MarginCheck, RuleOverride
from fleet.db.engine import Place, open_engine, place_of
from fleet.db.mapping import Key, file_map
from fleet.db.plan_store import PUBLISHED, DroppedVisit, PlanCount
from fleet.db.rows_in import SaveCount, Signature
from fleet.db.rows_out import Recorded
from fleet.db.trail import LogEntry
from fleet.errors import NotFound, StoreRefused
from fleet.values.addresses import FeedAddress, Offer
from fleet.values.feeds import FeedMemory
from fleet.values.fleet import Fleet, snapshot
from fleet.values.plan import Plan, Revision, Task, Visit
from fleet.values.register import Reading, RegisterRows, ServiceRecord
from fleet.values.vocabulary import SubjectKind

__all__ = [
    "DroppedVisit",
    "LogEntry",
    "MarginCheck",
    "PlanCount",
    "Recorded",
    "Register",
    "RuleOverride",
    "SaveCount",
    "Version",
]


class Register:
    """One transaction on one database.

    A context manager: leaving it commits, leaving it by an exception rolls everything back. A register opened for
    writing holds the write lock from the start, so what it reads stays true until it commits; one opened with
    `read_only` locks nobody out and sees the database as it was when it was opened.
    """

    def __init__(self, place: Place, engine: Engine, connection: Connection) -> None:
        self._place, self._engine, self._connection = place, engine, connection

    @classmethod
    def open(cls, url: str, *, create: bool = False, read_only: bool = False, wait_s: float = 10.0) -> Register:
        """Opens the database at `url`: a file, `sqlite:///FILE` or `postgresql://…`.

        With `create` an empty or missing database gets its tables first. `wait_s` is the longest wait for another
        writer. Raises NotFound where there is no register, BadInput for an address that cannot be read, StoreRefused
        for a database that is locked, damaged, not ours, or of another schema.
        """
        place = place_of(url)
        if create and not read_only:
            _create(place, wait_s)
        if place.file is not None and not place.file.exists():
            raise NotFound(f"there is no register in {place.shown} yet: begin with `fleet import PATH` or `fleet demo`")
        engine = open_engine(place, read_only=read_only, wait_s=wait_s)
        try:
            connection = engine.connect()
            try:
                connection.begin()
                schema.require_current(connection, place)
            except BaseException:
                connection.close()
                raise
        except BaseException:
            engine.dispose()
            raise
        return cls(place, engine, connection)

    def __enter__(self) -> Register:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self._connection.commit()
            else:
                self._connection.rollback()
        finally:
            self._connection.close()
            self._engine.dispose()

    def known_codes(self) -> dict[str, SubjectKind]:
        """Every code on record and what it stands for."""
        return rows_out.read_codes(self._connection)

    def time_zones(self) -> dict[str, str]:
        """The IANA zone name of every site, by its code."""
        return rows_out.read_time_zones(self._connection)

    def rows(self) -> RegisterRows:
        """Every row that has not been withdrawn, each file sorted by its natural key."""
        return rows_out.read_rows(self._connection)

    def snapshot(self, day: date) -> Fleet:
        """The fleet as it stands on `day`."""
        return snapshot(self.rows(), day)

    def versions(self, file: str) -> Mapping[Key, int]:
        """The version of every row of a file by natural key, to be handed to `save_rows` after an edit."""
        return rows_out.read_versions(self._connection, file_map(file))

    def save_rows(
        self,
        rows: RegisterRows,
        *,
        who: str,
        now: datetime,
        reason: str,
        expected: Mapping[str, Mapping[Key, int]] | None = None,
    ) -> SaveCount:
        """Adds new rows and changes those whose natural key is on record; a withdrawn one that comes again is put back.

        Every added or changed row goes on the trail. `expected` holds, by file, the versions at which rows were read
        before somebody edited them: if one has changed since, StaleWrite shows both values. Raises BadInput with every
        fault (a code of two kinds, a reference to nothing or to the wrong kind, a doubled row) before it writes.
        """
        signed = Signature(who, now, reason)
        return rows_in.save_rows(self._connection, rows, signed, expected=expected or {}, task_keys={})

    def end_fact(
        self, file: str, key: Mapping[str, Any] | Sequence[Any], until: date, *, who: str, now: datetime, reason: str
    ) -> Any:
        """Ends an open dated fact: `until` is the first day on which it no longer holds. Returns the row as it then is.

        `key` is the natural key, by name or in the order of NATURAL_KEYS. Raises NotFound, or BadInput where the fact
        has ended already or would end before it began.
        """
        return rows_in.end_fact(self._connection, file, key, until, Signature(who, now, reason))

    def withdraw(
        self,
        file: str,
        key: Mapping[str, Any] | Sequence[Any],
        *,
        who: str,
        now: datetime,
        reason: str,
        expected: int | None = None,
    ) -> None:
        """Marks a row as entered by mistake. It stays on the trail; nothing reads it until it is saved again.

        `expected` is the version at which the row was read. Raises NotFound, StaleWrite where somebody has changed it
        since, or BadInput for the last row of a code.
        """
        rows_in.withdraw(self._connection, file, key, Signature(who, now, reason), expected=expected)

    def add_service_records(
        self,
        records: Sequence[ServiceRecord],
        readings: Sequence[Reading] = (),
        *,
        task_keys: Mapping[tuple[str, str, date], str] | None = None,
        who: str,
        now: datetime,
        reason: str = "work recorded",
    ) -> SaveCount:
        """Takes back work done and what was read. `task_keys` gives the planned task that a record closes.

        The key of `task_keys` is (subject, task, done_on). A record already on record is changed, not doubled.
        """
        rows = RegisterRows(history=tuple(records), readings=tuple(readings))
        signed = Signature(who, now, reason)
        return rows_in.save_rows(self._connection, rows, signed, expected={}, task_keys=task_keys or {})

    def record_of_task(self, key: str) -> ServiceRecord | None:
        """The service record that closed the planned task with this key, None while it is open or unknown."""
        return rows_out.read_record_of_task(self._connection, key)

    def task_key_of(self, key: Key) -> str | None:
        """The key of the planned task that a row of history, by its natural key, closed; None where it named none."""
        return rows_out.read_task_key(self._connection, key)

    def task_on_record(self, key: str) -> Task | None:
        """A task as it last was in the plan or in a published edition, even if it has left both; None for a key that
        neither ever held."""
        return plan_store.read_task_on_record(self._connection, key)

    def saved_at(self) -> datetime | None:
        """The instant at which the plan in force was saved, None before the first."""
        return plan_store.read_saved_at(self._connection, plan_store.IN_FORCE)

    def saved_plan(self) -> Plan | None:
        """The plan in force, None before the first. Its `changes` are empty: they belong to the run that made it."""
        return plan_store.read_plan(self._connection)

    def save_plan(self, plan: Plan, *, now: datetime) -> PlanCount:
        """Makes `plan` the plan in force.

        Rows with the same content are untouched. Changed ones get `modified_at`, and a higher `sequence` where time,
        place, technician or a state that a calendar shows has changed. What is gone is marked dropped, also with a
        higher `sequence`; if its key returns, the count goes on. Raises ValueError for a plan that contradicts itself.
        """
        return plan_store.save_plan(self._connection, plan, now)

    def publish(self, plan: Plan, *, now: datetime) -> PlanCount:
        """Makes `plan` the published edition: what calendars show until the next one.

        Counted and compared as by `save_plan`, but with what was published before: a `sequence` goes up only when the
        published thing changes. What is published for the first time goes on from the count of the plan in force.
        """
        return plan_store.save_plan(self._connection, plan, now, PUBLISHED)

    def published_plan(self) -> Plan | None:
        """The published edition as it was published, None where there never was one."""
        return plan_store.read_plan(self._connection, PUBLISHED)

    def published_at(self) -> datetime | None:
        """The instant of the last publication, None where there never was one."""
        return plan_store.read_saved_at(self._connection, PUBLISHED)

    def agreed_visits(self, today: date) -> frozenset[str]:
        """Keys of the visits of the published edition that are not past on `today`."""
        return plan_store.read_visits_from(self._connection, today, PUBLISHED)

    def published_revisions(self) -> dict[str, Revision]:
        """The revision of each task and visit of the published edition, by key."""
        return plan_store.read_revisions(self._connection, dropped=False, shelf=PUBLISHED)

    def recorded_since(self, moment: datetime) -> tuple[Recorded, ...]:
        """The work put on record at or after an instant, oldest first."""
        return rows_out.read_recorded(self._connection, moment)

    def revisions(self, *, dropped: bool = False) -> dict[str, Revision]:
        """The revision of each task and visit of the plan in force, by key; with `dropped` also of those that left."""
        return plan_store.read_revisions(self._connection, dropped=dropped)

    def dropped(self, since: datetime) -> tuple[tuple[Task, ...], tuple[Visit, ...]]:
        """Tasks and visits that left the plan at or after `since`, as they last were."""
        return plan_store.read_dropped(self._connection, since)

    def dropped_visits(self, first: date, last: date, *, published: bool) -> tuple[DroppedVisit, ...]:
        """Visits from `first` to `last`, both inside, that left the published edition or else the plan in force."""
        shelf = PUBLISHED if published else plan_store.IN_FORCE
        return plan_store.read_dropped_visits(self._connection, first, last, shelf)

    def feed_memory(self) -> FeedMemory:
        """What is remembered of calendar feeds."""
        return feed_memory.read_feed_memory(self._connection)

    def save_feed_memory(self, news: FeedMemory) -> None:
        """Remembers new stamps of calendar entries and new names of feeds, in the place of older ones."""
        feed_memory.save_feed_memory(self._connection, news)

    def version(self) -> Version:
        """Stands for the state of register, plan and edition: while it is the same, so is everything made from them."""
        return addresses.read_version(self._connection)

    def addresses(self) -> tuple[FeedAddress, ...]:
        """Every address of feeds and sheets ever given out, by number, revoked ones too."""
        return addresses.read_addresses(self._connection)

    def add_address(
        self, offer: Offer, code: str | None, subscriber: str, token_hash: str, *, who: str, now: datetime, reason: str
    ) -> FeedAddress:
        """Keeps a new address by the SHA-256 of its secret part, and says so on the trail without either.

        Raises BadInput where the subscriber has an address of that feed already.
        """
        signed = Signature(who, now, reason)
        return addresses.add_address(self._connection, offer, code, subscriber, token_hash, signed)

    def revoke_address(self, number: int, *, who: str, now: datetime, reason: str) -> FeedAddress:
        """Ends an address for ever; returns it as it then is. Raises NotFound, or BadInput where it ended already."""
        return addresses.revoke_address(self._connection, number, Signature(who, now, reason))

    def save_rule_override(self, override: RuleOverride, *, who: str, now: datetime, reason: str) -> None:
        """Sets somebody's own interval, minutes or switch for a catalogue task."""
        decisions.save_rule_override(self._connection, override, Signature(who, now, reason))

    def end_rule_override(self, rule: str, scope: str, *, who: str, now: datetime, reason: str) -> RuleOverride:
        """Takes somebody's own interval, minutes or switch out of force; returns it as it was. Raises NotFound."""
        return decisions.end_rule_override(self._connection, rule, scope, Signature(who, now, reason))

    def rule_overrides(self) -> tuple[RuleOverride, ...]:
        """Every override in force, by rule and scope."""
        return decisions.read_rule_overrides(self._connection)

    def save_margin_checks(self, checks: Iterable[MarginCheck]) -> int:
        """Adds margins that led to a decision; the same check again adds nothing. Returns how many were added."""
        return decisions.save_margin_checks(self._connection, checks)

    def margin_checks(self, tank: str | None = None) -> tuple[MarginCheck, ...]:
        """The margin checks of one tank or of all, oldest first."""
        return decisions.read_margin_checks(self._connection, tank)

    def change_log(
        self,
        *,
        subject: str | None = None,
        file: str | None = None,
        since: datetime | None = None,
        limit: int | None = None,
    ) -> tuple[LogEntry, ...]:
        """The trail, latest first; of one subject, one file, from an instant on, at most so many."""
        return trail.read_log(self._connection, subject=subject, file=file, since=since, limit=limit)

    def log_decision(
        self,
        table: str,
        key: Sequence[Any],
        before: Mapping[str, Any] | None,
        after: Mapping[str, Any] | None,
        *,
        who: str,
        now: datetime,
        reason: str,
    ) -> None:
        """Puts on the trail what a person decided about something other than a row of the register: a task put off.

        `before` and `after` are plain JSON; the first part of `key` is what `change_log(subject=…)` finds it by.
        """
        entry = trail.entry_dict(at=now, who=who, reason=reason, file=table, key=key, before=before, after=after)
        trail.write_log(self._connection, [entry])

    def backup(self, target: Path) -> None:
        """Copies what is committed to a new file, beside whoever is writing.

        Raises StoreRefused where the file exists, and on a server (whose own pg_dump does it better).
        """
        upkeep.backup(self._place, target)

    def verify(self) -> list[str]:
        """What is wrong with the database, one sentence each; empty where all is well."""
        return upkeep.verify(self._connection)

    @staticmethod
    def upgrade(url: str, *, backup_to: Path | None = None, wait_s: float = 10.0) -> tuple[str, ...]:
        """Brings an older database up to this program's schema, all or nothing. Returns the migrations applied.

        With `backup_to` a SQLite database is copied there first. Raises NotFound where there is no register and
        StoreRefused where the schema is newer.
        """
        place = place_of(url)
        engine = open_engine(place, read_only=True, wait_s=wait_s)
        if place.file is not None and not place.file.exists():
            raise NotFound(f"there is no register in {place.shown} yet: begin with `fleet import PATH` or `fleet demo`")
        try:
            with engine.connect() as connection:
                if schema.stored_revision(connection) is None:
                    schema.require_current(connection, place)
        finally:
            engine.dispose()
        if backup_to is not None:
            upkeep.backup(place, backup_to)
        return schema.migrate(place, wait_s=wait_s)


def _create(place: Place, wait_s: float) -> None:
    """Makes the tables where the database is empty; leaves any other database as it is."""
    if place.file is not None and not place.file.exists():
        try:
            place.file.touch()
        except OSError as failure:
            raise StoreRefused(f"the database {place.shown} cannot be made: {failure.strerror}") from failure
    engine = open_engine(place, read_only=True, wait_s=wait_s)
    try:
        with engine.connect() as connection:
            empty = schema.stored_revision(connection) is None
    finally:
        engine.dispose()
    if empty:
        schema.migrate(place, wait_s=wait_s)
