"""`verify`, and an older database brought up to this program."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

FIRST_TABLES_LACK = (
    "feed_address", "feed_stamp", "feed_title", "published_task", "published_visit", "published_plan", "task", "visit",
    "plan", "task_rule", "margin_check", "change_log",
)  # fmt: skip


@pytest.fixture
def older(stocked, database):
    """The pier register as the first release kept it."""
    connection = sqlite3.connect(database)
    for table in FIRST_TABLES_LACK:
        connection.execute(f"DROP TABLE {table}")
    connection.execute("UPDATE fleet_schema SET version_num = '0001'")
    connection.commit()
    connection.close()
    return stocked


def test_an_older_database_is_copied_brought_up_and_goes_on(older, database):
    assert "fleet verify --upgrade" in older("margin", code=3).stderr
    said = older("verify", "--upgrade").stdout
    copy = Path(f"{database}.before-upgrade")
    assert said.startswith("Brought up to schema ")
    assert f"The copy from before: {copy}" in said
    assert "Sound" in said
    assert sqlite3.connect(copy).execute("SELECT version_num FROM fleet_schema").fetchone() == ("0001",)
    older("margin")


def test_a_database_that_is_up_to_date_is_left_alone_and_no_copy_stays(stocked, database):
    assert "Nothing to bring up." in stocked("verify", "--upgrade").stdout
    assert not Path(f"{database}.before-upgrade").exists()
    told = json.loads(stocked("verify", "--upgrade", "--json").stdout)
    assert told == {"faults": [], "upgraded": [], "copy": None}


def test_a_copy_that_would_write_over_a_file_stops_the_upgrade(older, tmp_path):
    taken = tmp_path / "taken.db"
    taken.write_text("something else")
    assert "exists already" in older("verify", "--upgrade", "--copy", str(taken), code=3).stderr
    assert taken.read_text() == "something else"
    assert "older than" in older("margin", code=3).stderr


def test_the_options_of_an_upgrade_need_it(stocked):
    assert "go with --upgrade" in stocked("verify", "--copied", code=2).stderr
