"""`fleet change site CODE --weather FILE`: shown beside what is on record, written only when told to."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from .conftest import as_json

pvlib = pytest.importorskip("pvlib")
DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO, SAND_POINT = str(DATA / "723170TYA.CSV"), str(DATA / "703165TY.csv")


def site_of(fleet, code):
    return next(row for row in as_json(fleet("show", "sites", "--json")) if row["code"] == code)


def test_it_shows_what_it_would_set_beside_what_is_on_record_and_writes_nothing(stocked):
    before = site_of(stocked, "PIER-Q")
    shown = stocked("change", "site", "PIER-Q", "--weather", GREENSBORO).stdout
    assert "outdoor design peak  35.0 °C          33.3 °C           exceeded in 0.4 % of the year's hours" in shown
    assert "1 Jun to 20 Sep  15 May to 18 Sep" in shown
    assert "mean of Jul, the hottest month" in shown
    assert "is it the right file?" in shown
    assert "Nothing is written" in shown
    assert site_of(stocked, "PIER-Q") == before


def test_applied_it_is_on_record_on_the_trail_and_margins_are_told(stocked, database):
    told = as_json(stocked("change", "site", "ATTIC-1", "--weather", GREENSBORO, "--apply", "--by", "Ada", "--json"))
    assert (told["written"], told["differs"]) == (True, True)
    assert told["by_file"] == {
        "outdoor_design_peak_c": 33.3,
        "outdoor_daily_range_k": 10.0,
        "hot_seasons": [{"start": "05-15", "end": "09-18"}],
    }
    assert told["station"]["form"] == "TMY3"
    tanks = {row["code"] for row in as_json(stocked("show", "tanks", "--json")) if row["room"] == "LOFT"}
    assert {row["tank"] for row in told["before"]} == {row["tank"] for row in told["after"]} == tanks
    row = site_of(stocked, "ATTIC-1")
    assert row["outdoor_design_peak_c"] == 33.3
    assert row["hot_seasons"] == [{"first_month": 5, "first_day": 15, "last_month": 9, "last_day": 18}]
    assert row["time_zone"] == "America/Denver"
    with sqlite3.connect(database) as connection:
        trail = connection.execute("SELECT who, reason FROM change_log ORDER BY id DESC LIMIT 1").fetchone()
    connection.close()
    assert trail == ("Ada", "weather of GREENSBORO PIEDMONT TRIAD INT for ATTIC-1")


def test_applied_again_it_says_that_nothing_changed(stocked):
    stocked("change", "site", "ATTIC-1", "--weather", GREENSBORO, "--apply")
    again = stocked("change", "site", "ATTIC-1", "--weather", GREENSBORO, "--apply").stdout
    assert "The register says so already." in again
    assert "No margin moves by it." in again


def test_a_place_without_a_hot_season_says_why(stocked):
    shown = stocked("change", "site", "ATTIC-1", "--weather", SAND_POINT).stdout
    assert "none" in shown
    assert "the warmest 31 days have highs of 57.3 °F in the mean" in shown


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["site", "PIER-Q"], "takes --weather FILE"),
        (["site", "PIER-Q", "--weather", GREENSBORO, "elevation=3 m"], "takes --weather FILE"),
        (["site", "PIER-Q", "--weather", GREENSBORO, "--since", "2026-05-01"], "takes --weather FILE"),
        (["site", "NOWHERE", "--weather", GREENSBORO], "no site 'NOWHERE' on record"),
        (["site", "PIER-Q", "--weather", "nowhere.epw"], "nowhere.epw: expected a weather file"),
        (["site", "PIER-Q", "--weather", __file__], "of the form TMY3, TMY2 or EPW"),
        (["tank", "REEF", "lid=open", "--weather", GREENSBORO], "belong to `fleet change site CODE`"),
        (["tank", "REEF", "lid=open", "--apply"], "belong to `fleet change site CODE`"),
    ],
)
def test_what_cannot_be_taken_is_one_clear_line_and_writes_nothing(stocked, words, told):
    before = site_of(stocked, "PIER-Q")
    result = stocked("change", *words, code=2)
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert site_of(stocked, "PIER-Q") == before
