"""`fleet outage`: the keys that machines read, the table that people act on, and the sample fleet's order."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fleet import resources
from fleet.cli.main import app

from .conftest import TODAY, as_json

KEYS = {
    "tank", "site", "room", "hours", "reaches_limit", "limit_at", "peak_c", "limit_c", "n_minus_1_after", "spare",
}  # fmt: skip


def test_the_agreed_keys_in_order_of_urgency(stocked):
    records = as_json(stocked("outage", "--power-out", "PIER-Q", "--json"))
    assert {row["tank"] for row in records} == {"LOB", "MUS"}
    for row in records:
        assert row.keys() == KEYS
        assert row["hours"].keys() == {"low", "mid", "high"}
        assert row["reaches_limit"] in ("yes", "no", "unknown")
        assert (row["site"], row["room"], row["spare"]) == ("PIER-Q", "SHED", None)
        assert (row["limit_at"] is None) == (row["hours"]["low"] is None)
    lows = [float("inf") if row["hours"]["low"] is None else row["hours"]["low"] for row in records]
    assert lows == sorted(lows)


def test_the_instant_of_crossing_has_the_offset_of_the_site(stocked):
    """Lisbon is an hour ahead of UTC in summer (IANA time zone data)."""
    (first, *_rest) = as_json(stocked("outage", "--lost", "C-LOB", "--at", "12:30", "--json"))
    at = datetime.fromisoformat(first["limit_at"])
    begun = datetime.fromisoformat(f"{TODAY}T12:30:00+01:00")
    assert first["limit_at"].endswith("+01:00")
    assert (at - begun).total_seconds() / 3600.0 == pytest.approx(first["hours"]["low"], abs=1e-3)


def test_a_shared_chiller_takes_both_of_its_tanks(stocked):
    records = as_json(stocked("outage", "--lost", "C-LOB", "--json"))
    assert {row["tank"] for row in records} == {"LOB", "MUS"}
    assert {row["reaches_limit"] for row in records} == {"yes"}
    assert {row["n_minus_1_after"] for row in records} == {-1.0}


def test_devices_may_be_named_after_each_other_or_with_commas(stocked):
    both = as_json(stocked("outage", "--lost", "C-LOB", "C-REEF", "--json"))
    assert {row["tank"] for row in both} == {"LOB", "MUS", "REEF"}
    assert as_json(stocked("outage", "--lost", "C-LOB,C-REEF", "--json")) == both
    assert as_json(stocked("outage", "--lost", "C-REEF", "--lost", "C-LOB", "--json")) == both


def test_a_spare_of_given_watts_is_tried_on_each_tank(stocked):
    records = as_json(stocked("outage", "--lost", "C-LOB", "--spare", "5000 W", "--json"))
    for row in records:
        assert row["spare"]["device"] is None
        assert row["spare"]["rated_w"] == 5000.0
        assert row["spare"]["hours"].keys() == {"low", "mid", "high", "reaches_limit"}
        assert row["spare"]["hours"]["low"] is None or row["spare"]["hours"]["low"] > row["hours"]["low"]
    assert as_json(stocked("outage", "--lost", "C-LOB", "--spare", "5000", "--json")) == records


def test_without_power_the_table_speaks_of_oxygen_first(stocked):
    text = stocked("outage", "--power-out", "PIER-Q").stdout
    assert "oxygen" in text
    assert "air: none on record" in text
    assert "oxygen" not in stocked("outage", "--lost", "C-LOB").stdout


def test_the_table_says_hours_limit_what_to_do_and_what_it_is_not(stocked):
    text = stocked("outage", "--ac-off", "LOFT", "--at", "13:00").stdout
    assert "Air conditioning off: Loft (LOFT)" in text
    heading = next(line for line in text.splitlines() if "do first" in line)
    assert heading.split()[0] == "within"
    assert "No contact is on record for Loft." in text
    assert "°F" in text
    assert "not engineering certificates" in text


def test_cold_rooms_without_power_are_told_by_the_lower_limit(stocked, pier):
    tanks = pier / "tanks.csv"
    rows = tanks.read_text(encoding="utf-8").replace("target,act_high,since", "target,act_low,act_high,since")
    rows = rows.replace("open,none,14 C,20 C,", "open,none,14 C,,20 C,").replace("12 C,19 C,", "12 C,,19 C,")
    rows = rows.replace("78 F,88 F,", "78 F,68 F,88 F,").replace("25 C,85 F,", "25 C,21 C,85 F,")
    rows = rows.replace("25.5 C,85 F,", "25.5 C,21 C,85 F,")
    tanks.write_text(rows, encoding="utf-8")
    stocked("import", str(pier))
    records = as_json(stocked("outage", "--power-out", "ATTIC-1", "--air", "45F", "--json"))
    limits = {row["tank"]: (row["reaches_limit"], round(row["limit_c"], 1)) for row in records}
    assert limits == {"GUP": ("yes", 20.0), "REEF": ("yes", 21.0)}
    assert all(row["peak_c"] < row["limit_c"] for row in records)


def test_every_failure_of_a_site_in_order(stocked):
    ranked = as_json(stocked("outage", "--rank", "ATTIC-1", "--json"))
    assert {row["kind"] for row in ranked} == {"room-ac", "device", "power"}
    lows = [float("inf") if row["hours"]["low"] is None else row["hours"]["low"] for row in ranked]
    assert lows == sorted(lows)
    for row in ranked:
        assert row["tanks"][0]["tank"] == row["tank"]
        assert row["tanks"][0].keys() == KEYS
    assert "the worst first" in stocked("outage", "--rank", "ATTIC-1").stdout


def test_strict_says_by_its_exit_code_that_a_tank_crosses(stocked):
    stocked("outage", "--lost", "C-LOB", "--strict", code=1)
    stocked("outage", "--lost", "FAN-G", "--strict", code=0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "say what fails"),
        (("--lost", "C-LOP"), "the nearest is C-LOB"),
        (("C-LOB",), "say --lost C-LOB"),
        (("--ac-off", "SHED"), "no air conditioning"),
        (("--power-out", "LOFT"), "expected a site"),
        (("--lost", "C-LOB", "--at", "25:00"), "expected a clock time such as 14:30"),
        (("--lost", "C-LOB", "--at", "9"), "expected a clock time such as 14:30"),
        (("--lost", "C-LOB", "--spare", "a few"), "--spare 'a few'"),
        (("--lost", "C-LOB", "--spare", "0"), "a spare of 0 W"),
        (("--lost", "C-LOB", "--air", "400F"), "-20 to 60"),
        (("--rank", "NOWHERE"), "no site 'NOWHERE'"),
        (("--rank", "ATTIC-1", "--lost", "C-LOB"), "goes with --at only"),
    ],
)
def test_what_cannot_be_answered_is_one_clear_line(stocked, words, said):
    result = stocked("outage", *words, code=2)
    assert said in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database that holds the sample register."""
    path = tmp_path_factory.mktemp("sample") / "fleet.db"
    register = str(resources.sample_data() / "register")
    result = CliRunner().invoke(app, ["import", register, "--database", str(path)])
    assert result.exit_code == 0, result.stderr
    return path


def asked(path: Path, *words: str):
    result = CliRunner().invoke(app, ["outage", *words, "--database", str(path), "--today", TODAY, "--json"])
    assert result.exit_code == 0, result.stderr
    return as_json(result)


@pytest.mark.slow
def test_the_sample_aquarium_loses_its_cold_tanks_in_the_order_of_their_limits(sample):
    """The octopus at 10 °C with a limit of 13 °C goes first, the two largest bodies of water last."""
    records = asked(sample, "--lost", "CP-1", "CP-2", "CP-3", "--at", "12:00")
    assert [row["tank"] for row in records][:2] == ["SKER-OCTO", "SKER-LOBS"]
    assert {row["tank"] for row in records} == {"SKER-OCTO", "SKER-LOBS", "SKER-KELP", "SKER-ROCK"}
    assert all(row["reaches_limit"] == "yes" for row in records)


@pytest.mark.slow
def test_the_sample_aquariums_plant_ranks_above_its_rooms(sample):
    ranked = asked(sample, "--rank", "SKER")
    plant = next(i for i, row in enumerate(ranked) if row["failure"]["lost"] == ["CP-1", "CP-2", "CP-3"])
    rooms = [i for i, row in enumerate(ranked) if row["kind"] == "room-ac"]
    assert rooms
    assert plant < min(rooms)


@pytest.mark.slow
def test_the_sample_companys_spares_go_no_farther_than_its_vans(sample):
    lost = asked(sample, "--lost", "WP-1", "WP-2")
    assert all(row["spare"] is None for row in lost), "the store is an ocean away"
    near = asked(sample, "--ac-off", "THIS")
    assert {row["spare"]["device"] for row in near if row["spare"]} >= {"SPARE-1"}
