"""Opens the engine for SQLite or PostgreSQL, with the settings that make one writer at a time safe on both.

A writer takes the one write lock before it reads (BEGIN IMMEDIATE; on PostgreSQL an advisory lock), so that what it
read is still true when it writes. A reader takes none and sees one moment of the database throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool

from fleet.db.refusals import translate_errors
from fleet.errors import BadInput, StoreRefused

WRITER_LOCK = 4_711_202_607
"""Key of the advisory lock on PostgreSQL; any fixed number does, it only has to be the same in every process."""


@dataclass(frozen=True)
class Place:
    """Where a database is. `file` is set for SQLite, None for a server. `shown` holds no password."""

    url: URL
    file: Path | None

    @property
    def shown(self) -> str:
        """The name by which messages call the database."""
        if self.file is not None:
            return str(self.file)
        return self.url.set(drivername="postgresql").render_as_string(hide_password=True)


def place_of(text: str) -> Place:
    """Reads a file path, `sqlite:///path` or `postgresql://…`. Raises BadInput for anything else."""
    if "://" not in text:
        file = Path(text)
        return Place(URL.create("sqlite", database=str(file)), file)
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise BadInput(
            "the database address cannot be read: expected a file, sqlite:///FILE or postgresql://…"
        ) from None
    if url.get_backend_name() == "sqlite":
        if not url.database or url.database == ":memory:":
            raise BadInput("a database in memory keeps nothing: expected sqlite:///FILE")
        return Place(URL.create("sqlite", database=url.database), Path(url.database))
    if url.drivername in ("postgresql", "postgres", "postgresql+psycopg"):
        return Place(url.set(drivername="postgresql+psycopg"), None)
    raise BadInput(f"{url.drivername} databases are not supported: expected a file, sqlite:///FILE or postgresql://…")


def open_engine(place: Place, *, read_only: bool = False, wait_s: float = 10.0, foreign_keys: bool = True) -> Engine:
    """An engine without a pool; whoever opens it disposes of it.

    `wait_s` is how long a writer waits for another one. `foreign_keys` is off only while a migration rebuilds a table.
    """
    if place.file is not None:
        engine = _sqlite_engine(place.file, read_only, wait_s, foreign_keys)
    else:
        engine = _postgresql_engine(place.url, read_only, wait_s)
    translate_errors(engine, shown=place.shown, password=place.url.password, wait_s=wait_s)
    return engine


def _sqlite_engine(file: Path, read_only: bool, wait_s: float, foreign_keys: bool) -> Engine:
    mode = "ro" if read_only else "rw"
    url = URL.create("sqlite", database=f"{file.absolute().as_uri()}", query={"mode": mode, "uri": "true"})
    engine = create_engine(url, poolclass=NullPool, connect_args={"timeout": wait_s})

    @event.listens_for(engine, "connect")
    def _settings(dbapi_connection: Any, _record: Any) -> None:
        # Python's driver would otherwise open transactions by its own rules and leave reads outside them.
        dbapi_connection.isolation_level = None
        cursor = dbapi_connection.cursor()
        cursor.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")
        if not read_only:
            cursor.execute("PRAGMA journal_mode=WAL")
            # FULL, because a record of work done must outlive a power cut the moment it is acknowledged.
            cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA cache_size=-65536")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")

    return engine


def _postgresql_engine(url: URL, read_only: bool, wait_s: float) -> Engine:
    options = f"-c lock_timeout={int(wait_s * 1000)}"
    try:
        engine = create_engine(url, poolclass=NullPool, connect_args={"options": options, "connect_timeout": 10})
    except ModuleNotFoundError:
        raise StoreRefused("a PostgreSQL database needs the driver: pip install 'fleet[postgres]'") from None
    if read_only:
        return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)

    @event.listens_for(engine, "begin")
    def _lock(connection: Connection) -> None:
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")

    return engine
