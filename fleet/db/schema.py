"""Which release of the schema a database holds, and how it is brought up to this program's."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, column, inspect, select, table

from fleet.db.engine import Place, open_engine
from fleet.errors import NotFound, StoreRefused

REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007")
"""Every numbered migration, oldest first."""

VERSION_TABLE = "fleet_schema"
MIGRATIONS = Path(__file__).resolve().parent / "migrations"


def stored_revision(connection: Connection) -> str | None:
    """The number of the schema in the database; None where the database is empty.

    Raises StoreRefused where the tables of something else are in it.
    """
    tables = inspect(connection).get_table_names()
    if VERSION_TABLE in tables:
        return connection.execute(select(column("version_num")).select_from(table(VERSION_TABLE))).scalar()
    if tables:
        raise StoreRefused("that database belongs to another program: it holds tables, but no register")
    return None


def require_current(connection: Connection, place: Place) -> None:
    """Raises NotFound where there is no register yet, StoreRefused where its schema is not this program's."""
    revision = stored_revision(connection)
    if revision is None:
        raise NotFound(f"there is no register in {place.shown} yet: begin with `fleet import PATH` or `fleet demo`")
    if revision == REVISIONS[-1]:
        return
    if revision in REVISIONS:
        raise StoreRefused(
            f"the database {place.shown} has schema {revision}, older than this program's {REVISIONS[-1]}: "
            "bring it up with `fleet verify --upgrade`"
        )
    raise StoreRefused(
        f"the database {place.shown} has schema {revision}, newer than this program's {REVISIONS[-1]}: "
        "install the newer program"
    )


def migrate(place: Place, *, wait_s: float = 10.0) -> tuple[str, ...]:
    """Brings the schema up to this program's in one transaction. Returns the revisions that were applied.

    Foreign keys are off meanwhile, because SQLite changes a table by building it anew; every reference is checked
    before the commit.
    """
    from alembic import command
    from alembic.config import Config

    engine = open_engine(place, wait_s=wait_s, foreign_keys=False)
    try:
        with engine.begin() as connection:
            before = stored_revision(connection)
            if before is not None and before not in REVISIONS:
                require_current(connection, place)
            config = Config()
            config.set_main_option("script_location", str(MIGRATIONS))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            if connection.dialect.name == "sqlite":
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise StoreRefused(
                        f"the database {place.shown} holds {len(broken)} references to nothing; nothing was changed"
                    )
            return tuple(REVISIONS[0 if before is None else REVISIONS.index(before) + 1 :])
    finally:
        engine.dispose()
