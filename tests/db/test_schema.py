"""The schema itself keeps the rules: the migrations build what the tables declare, and bad rows are refused by it."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

import fleet.db
from fleet.db.engine import open_engine, place_of
from fleet.db.mapping import FILES
from fleet.db.repository import Register
from fleet.db.schema import MIGRATIONS, REVISIONS, VERSION_TABLE
from fleet.db.tables import METADATA
from fleet.values.bounds import BOUNDS, READING_BOUNDS
from fleet.values.vocabulary import ReadingQuantity, SubjectKind


def an_engine(url: str, **options: Any) -> sa.Engine:
    place = place_of(url)
    if place.file is not None and not place.file.exists():
        place.file.touch()
    return open_engine(place, **options)


def dump(engine: sa.Engine) -> dict[str, Any]:
    """Everything the inspector tells of every table, and the triggers."""
    with engine.connect() as connection:
        inspector = sa.inspect(connection)
        found: dict[str, Any] = {}
        for table in inspector.get_table_names():
            if table == VERSION_TABLE:
                continue
            found[table] = {
                "columns": sorted(
                    (column["name"], str(column["type"]), column["nullable"], str(column["default"]))
                    for column in inspector.get_columns(table)
                ),
                "primary key": inspector.get_pk_constraint(table),
                "foreign keys": sorted(
                    (key["name"], key["constrained_columns"], key["referred_table"], str(key["options"]))
                    for key in inspector.get_foreign_keys(table)
                ),
                "indexes": sorted(
                    (str(index["name"]), index["column_names"]) for index in inspector.get_indexes(table)
                ),
                "unique": sorted(
                    (str(unique["name"]), unique["column_names"]) for unique in inspector.get_unique_constraints(table)
                ),
                "checks": sorted(
                    (str(check["name"]), check["sqltext"]) for check in inspector.get_check_constraints(table)
                ),
            }
        if connection.dialect.name == "sqlite":
            query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
        else:
            query = (
                "SELECT tgname, pg_get_triggerdef(t.oid), prosrc FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid "
                "WHERE NOT tgisinternal ORDER BY tgname"
            )
        found["triggers"] = [tuple(row) for row in connection.exec_driver_sql(query)]
    return found


def test_the_migrations_build_exactly_what_the_tables_declare(url):
    with Register.open(url, create=True):
        pass
    engine = an_engine(url)
    migrated = dump(engine)
    with engine.begin() as connection:
        METADATA.drop_all(connection)
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("DROP FUNCTION change_log_append_only()")
    with engine.begin() as connection:
        METADATA.create_all(connection)
    declared = dump(engine)
    engine.dispose()
    assert set(declared) == {*METADATA.tables, "triggers"}
    assert len(declared["triggers"]) >= 2
    assert migrated == declared


def test_alembic_finds_no_difference_either(database):
    engine = an_engine(database)
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.check(config)
    engine.dispose()


def test_the_numbered_migrations_are_those_in_the_folder():
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    scripts = [script.revision for script in ScriptDirectory.from_config(config).walk_revisions()]
    assert tuple(reversed(scripts)) == REVISIONS


def test_every_constraint_has_a_name_that_a_server_can_hold():
    for table in METADATA.tables.values():
        for constraint in table.constraints:
            assert constraint.name, (table.name, constraint)
            # PostgreSQL cuts identifiers at 63 bytes (its manual, 4.1.1).
            assert len(str(constraint.name)) < 64 - len(f"ck_{table.name}_")


def test_table_modules_have_no_postponed_annotations():
    """They break SQLModel's reading of the fields."""
    for file in (Path(fleet.db.__file__).parent / "tables").glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            assert not (isinstance(node, ast.ImportFrom) and node.module == "__future__"), file


def refused(connection: sa.Connection, statement: sa.Executable, said: str, cells: Any = None) -> None:
    """Asserts that the database refuses the statement and says so."""
    with pytest.raises(sa.exc.IntegrityError, match=said), connection.begin_nested():
        connection.execute(statement, cells)


BOUNDED = [(file, name) for file, of_file in BOUNDS.items() for name in of_file]


@pytest.mark.parametrize(("file", "name"), BOUNDED)
def test_a_number_beyond_its_bound_is_refused_by_the_database(trial, file, name):
    table, bound = FILES[file].table, BOUNDS[file][name]
    for value in (bound.low if bound.open_low else bound.low - 1, bound.high * 2 + 1):
        column = sa.literal_column(str(value)) if name != "tariff_per_kwh" else sa.literal_column(f"'{value}'")
        refused(trial, table.update().values({name: column}), f"{name}_range")


@pytest.mark.parametrize(("file", "name"), BOUNDED)
def test_a_number_at_the_upper_end_of_its_bound_is_taken_by_the_database(trial, file, name):
    table, bound = FILES[file].table, BOUNDS[file][name]
    column = sa.literal_column(str(bound.high)) if name != "tariff_per_kwh" else sa.literal_column(f"'{bound.high}'")
    assert trial.execute(table.update().values({name: column})).rowcount > 0


@pytest.mark.parametrize("quantity", list(ReadingQuantity))
def test_a_reading_beyond_the_bounds_of_its_quantity_is_refused_by_the_database(trial, quantity):
    table, bound = FILES["readings"].table, READING_BOUNDS[quantity]
    trial.execute(table.update().values(quantity=quantity, value=bound.high))
    refused(trial, table.update().values(value=bound.high + 1), "value_range")
    refused(trial, table.update().values(value=bound.low - 1), "value_range")


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_text_where_a_number_belongs_is_refused_although_sqlite_columns_take_any_type(trial):
    for file, name in BOUNDED:
        if name != "tariff_per_kwh":
            refused(trial, sa.text(f'UPDATE "{FILES[file].table.name}" SET "{name}" = \'abc\''), f"{name}_range")  # noqa: S608


WORDED = [
    (table.name, column.name)
    for table in METADATA.tables.values()
    for column in table.columns
    if type(column.type).__name__ == "Word"
]


EMPTY = ("task", "published_task", "margin_check", "feed_address")
"""Tables without a row in the filled database; the next test holds their checks by name."""


@pytest.mark.parametrize(("table", "column"), [pair for pair in WORDED if pair[0] not in EMPTY])
def test_a_word_that_is_not_in_the_set_is_refused_by_the_database(trial, table, column):
    statement = sa.text(f'UPDATE "{table}" SET "{column}" = \'zzz\'')  # noqa: S608
    refused(trial, statement, rf"{column}_word|value_range")


def test_every_column_of_words_has_a_check():
    for table, column in WORDED:
        names = {str(constraint.name) for constraint in METADATA.tables[table].constraints}
        assert f"ck_{table}_{column}_word" in names


@pytest.mark.parametrize("file", list(FILES))
def test_an_orphan_is_refused_by_the_database(trial, file):
    entry = FILES[file]
    names = [name for name in (*entry.references, "code") if name in entry.names and name != "serves"]
    assert names
    for name in names:
        refused(trial, entry.table.update().values({name: "NOBODY"}), "(?i)foreign")


def test_what_is_referred_to_cannot_be_deleted(trial):
    subject = METADATA.tables["subject"]
    for code in trial.execute(sa.select(subject.c.code)).scalars().all():
        refused(trial, subject.delete().where(subject.c.code == code), "(?i)foreign")


@pytest.mark.parametrize("file", list(FILES))
def test_a_second_row_with_the_same_natural_key_is_refused_by_the_database(trial, file):
    table = FILES[file].table
    double = dict(trial.execute(table.select().limit(1)).mappings().one())
    del double["id"]
    refused(trial, table.insert(), "(?i)unique", double)


@pytest.mark.parametrize("file", [file for file, entry in FILES.items() if "until" in entry.names])
def test_a_fact_that_ends_when_it_begins_is_refused_by_the_database(trial, file):
    table = FILES[file].table
    refused(trial, table.update().values(until=table.c.since), "until_after_since")


@pytest.mark.parametrize("code", ["", "x" * 25])
def test_a_code_without_letters_or_too_long_is_refused_by_the_database(trial, code):
    refused(trial, METADATA.tables["subject"].insert(), "code_length", {"code": code, "kind": SubjectKind.TANK})


ALTERATIONS = {
    "update": "UPDATE change_log SET who = 'nobody'",
    "delete": "DELETE FROM change_log",
    "replace": "INSERT OR REPLACE INTO change_log SELECT * FROM change_log",
    "truncate": "TRUNCATE change_log",
}


@pytest.mark.parametrize(
    ("engine_name", "how"),
    [
        ("sqlite", "update"),
        ("sqlite", "delete"),
        ("sqlite", "replace"),
        ("postgresql", "update"),
        ("postgresql", "delete"),
        ("postgresql", "truncate"),
    ],
    indirect=["engine_name"],
)
def test_the_change_log_is_only_ever_added_to(trial, how):
    before = trial.exec_driver_sql("SELECT * FROM change_log ORDER BY id").fetchall()
    refused(trial, sa.text(ALTERATIONS[how]), "only ever added to")
    assert trial.exec_driver_sql("SELECT * FROM change_log ORDER BY id").fetchall() == before
    assert before
