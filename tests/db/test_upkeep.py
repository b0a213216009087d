"""Copies and checks of the database."""

from __future__ import annotations

import sqlite3
import threading
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from fleet.db.repository import Register, RuleOverride
from fleet.errors import StoreRefused
from fleet.values.register import Placement, RegisterRows
from fleet.values.vocabulary import Where

NOW = datetime(2026, 5, 5, 12, 0, tzinfo=UTC)
sqlite_only = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


@sqlite_only
def test_a_copy_holds_what_was_committed_and_is_one_file(database, rows, tmp_path):
    target = tmp_path / "copy" / "fleet.db"
    target.parent.mkdir()
    with Register.open(database) as register:
        changed = replace(rows.clients[0], name="Not yet")
        register.save_rows(RegisterRows(clients=(changed,)), who="ada", now=NOW, reason="x")
        register.backup(target)
    assert [file.name for file in target.parent.iterdir()] == ["fleet.db"]
    with Register.open(str(target), read_only=True) as register:
        assert register.rows().clients == rows.clients
        assert register.verify() == []


@sqlite_only
def test_a_copy_is_made_beside_a_busy_writer(database, rows, tmp_path):
    stop = threading.Event()
    written = []

    def write() -> None:
        while not stop.is_set():
            with Register.open(database) as register:
                changed = replace(rows.clients[0], notes=str(len(written)))
                register.save_rows(RegisterRows(clients=(changed,)), who="ada", now=NOW, reason="x")
            written.append(1)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for n in range(5):
            with Register.open(database, read_only=True) as register:
                register.backup(tmp_path / f"{n}.db")
            with Register.open(str(tmp_path / f"{n}.db"), read_only=True) as copy:
                assert copy.verify() == []
    finally:
        stop.set()
        writer.join()
    assert written


@sqlite_only
def test_a_copy_never_writes_over_a_file(database, tmp_path):
    target = tmp_path / "kept.db"
    target.write_text("older copy")
    with Register.open(database, read_only=True) as register:
        with pytest.raises(StoreRefused, match="exists already"):
            register.backup(target)
        with pytest.raises(StoreRefused, match="cannot be made"):
            register.backup(tmp_path / "nowhere" / "x.db")
    assert target.read_text() == "older copy"


@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_a_server_is_copied_with_its_own_program(database, tmp_path):
    with Register.open(database, read_only=True) as register, pytest.raises(StoreRefused, match="pg_dump"):
        register.backup(tmp_path / "x.db")
    assert not (tmp_path / "x.db").exists()


def test_a_sound_database_has_nothing_to_tell(database):
    with Register.open(database, read_only=True) as register:
        assert register.verify() == []


def test_a_device_in_two_places_at_once_is_found(database):
    with Register.open(database) as register:
        twice = Placement("C-1", Where.OUTDOORS, date(2026, 2, 1), until=date(2026, 2, 20))
        register.save_rows(RegisterRows(placements=(twice,)), who="ada", now=NOW, reason="x")
        assert register.verify() == [
            "C-1 stands in two places at once: in-stand until 2026-03-01 and outdoors since 2026-02-01"
        ]


def test_a_rule_for_something_that_is_not_on_record_is_found(database):
    with Register.open(database) as register:
        override = RuleOverride("press-gfci-test", "GONE", set_by="ada", reason="x")
        register.save_rule_override(override, who="ada", now=NOW, reason="x")
        assert register.verify() == ["the rule press-gfci-test is set for GONE, which is not on record"]


def test_a_duty_on_the_wrong_kind_of_thing_is_found(raw, database):
    with raw.begin() as connection:
        connection.exec_driver_sql("UPDATE duty SET tank = 'R-1'")
    with Register.open(database, read_only=True) as register:
        assert register.verify() == ["duties C-1 R-1 2026-01-01: tank R-1 is a room: expected tank"]


def test_equipment_that_serves_nobody_known_is_found(raw, database):
    with raw.begin() as connection:
        connection.exec_driver_sql("UPDATE equipment SET serves = 'T-1;T-77'")
    with Register.open(database, read_only=True) as register:
        assert register.verify() == ["equipment G-1: serves T-77 is not on record: expected any code on record"]


def test_a_code_that_stands_for_something_else_is_found(raw, database):
    with raw.begin() as connection:
        connection.exec_driver_sql("UPDATE subject SET kind = 'device' WHERE code = 'G-1'")
        connection.exec_driver_sql("INSERT INTO subject (code, kind) VALUES ('T-5', 'tank')")
    with Register.open(database, read_only=True) as register:
        assert register.verify() == [
            "G-1 is on record as a device, but no device has that code",
            "T-5 is on record as a tank, but no tank has that code",
            "G-1 has a row as a equipment, but its code stands for something else",
        ]


def test_a_change_log_without_its_guards_is_found(raw, database, engine_name):
    with raw.begin() as connection:
        on = " ON change_log" if engine_name == "postgresql" else ""
        connection.exec_driver_sql(f"DROP TRIGGER change_log_no_update{on}")
    with Register.open(database, read_only=True) as register:
        assert register.verify() == ["the change log can be altered: its guard change_log_no_update is missing"]


@sqlite_only
def test_references_to_nothing_are_found(database):
    with sqlite3.connect(database) as connection:
        connection.execute("UPDATE animals SET tank = 'T-8'")
    connection.close()
    with Register.open(database, read_only=True) as register:
        assert register.verify() == [
            "animals row 1 refers to a subject that is not there",
            "animals T-8 rockfish 2026-01-01: tank T-8 is not on record: expected tank",
        ]


@sqlite_only
def test_damage_in_the_file_is_found(database):
    with sqlite3.connect(database) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_change_log_subject'").fetchone()
    connection.close()
    content = bytearray(Path(database).read_bytes())
    # An index page without its cells: the table still reads, the index misses its rows.
    content[(root[0] - 1) * 4096 + 3 : (root[0] - 1) * 4096 + 5] = b"\0\0"
    Path(database).write_bytes(content)
    with Register.open(database, read_only=True) as register:
        found = register.verify()
    assert found
    assert all(line.startswith("the file is damaged: ") for line in found)
