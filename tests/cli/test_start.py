"""`start`: a few questions end in a register that one can go on with; nothing is written before the last answer."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from fleet.cli.main import app

from .conftest import as_json

ANSWERS_IN_TEN_MINUTES = 85
"""Seven seconds for each answer: an assumption about people, and the reason for "like the one before"."""

PLACE = ["Fernhollow Lane 4", "America/Denver", "us", "06-15", "09-05"]
ROOM = ["Basement", "n", "72 F"]
REEF = ["Reef", "reef", "48 x 18 x 20 in", "", "open", "180 W", "9", "45 W", "y", "chiller", "1/5 hp", "in-stand"]
ALIKE = ["", "y"]


@pytest.fixture(autouse=True)
def elsewhere(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FLEET_DATABASE_URL", raising=False)
    monkeypatch.setenv("TZ", "America/New_York")


def start(*words: str, answers: list[str] | None = None, code: int = 0):
    typed = None if answers is None else "".join(f"{answer}\n" for answer in answers)
    result = CliRunner().invoke(app, ["start", *words, "--today", "2026-05-20"], input=typed)
    assert result.exit_code == code, (result.exit_code, result.stdout, result.stderr)
    return result


def listed(what: str, database: str = "fleet.db"):
    result = CliRunner().invoke(app, ["show", what, "--json", "--database", database, "--today", "2026-05-20"])
    assert result.exit_code == 0, result.stderr
    return as_json(result)


def test_nine_tanks_at_home_take_less_than_ten_minutes():
    answers = [*PLACE, *ROOM, *REEF]
    for _ in range(8):
        answers += ["y", *ALIKE]
    answers += ["n", "y", "n"]
    assert len(answers) <= ANSWERS_IN_TEN_MINUTES
    said = start("home", answers=answers)
    assert "1 client, 1 site, 1 room, 9 tanks, 9 devices" in said.stdout
    assert "fleet plan --publish" in said.stdout
    assert [tank["code"] for tank in listed("tanks")] == [f"T{number}" for number in range(1, 10)]
    assert {round(tank["length_m"], 3) for tank in listed("tanks")} == {1.219}
    assert {(row["where"], row["stand_of"]) for row in listed("placements")} == {
        ("in-stand", f"T{number}") for number in range(1, 10)
    }
    (site,) = listed("sites")
    assert site["time_zone"] == "America/Denver"
    assert site["hot_seasons"] == [{"first_month": 6, "first_day": 15, "last_month": 9, "last_day": 5}]


@pytest.mark.slow
def test_one_can_go_on_with_what_was_asked():
    start("home", answers=[*PLACE, *ROOM, *REEF, "n", "y", "n"])
    for words in (["margin"], ["plan", "--publish"], ["due"], ["sheets", "out"], ["export", "register"]):
        result = CliRunner().invoke(app, words)
        assert result.exit_code == 0, (words, result.stderr)
    assert "0 added, 0 changed" in CliRunner().invoke(app, ["import", "register"]).stdout


def test_what_cannot_be_taken_is_told_in_one_line_and_asked_again():
    answers = ["Home", "Denver", "America/Denver", "imperial", "us", "summer", "none"]
    answers += ["Den", "perhaps", "n", "72", "72 F"]
    answers += ["Reef", "pond", "reef", "48 x 18", "48 x 18 x 20 in", "hot", "78 F", "ajar", "open", "bright", "none"]
    answers += ["none", "n", "ice", "thermoelectric", "big", "none", "", "n", "n", "n"]
    said = start("home", answers=answers).stderr
    for told in (
        "'Denver': expected an IANA time zone",
        "'imperial': expected one of us, metric",
        "'summer': expected a day of every year as MM-DD",
        "'72': expected a temperature with its unit",
        "'pond': expected one of tropical-fresh",
        "'48 x 18': expected length x width x height with a unit",
        "'hot': expected a temperature",
        "'bright': expected a power with its unit",
        "'ice': expected one of none, chiller",
        "'big': expected cooling power or horsepower",
    ):
        assert told in said
    (tank,) = listed("tanks")
    assert (tank["lid"], tank["stand"]) == ("open", None)
    assert listed("sites")[0]["hot_seasons"] == []
    assert CliRunner().invoke(app, ["show", "loads"]).exit_code == 2


def test_a_company_with_two_clients_and_two_technicians():
    site = ["", "", "12 Weir Street", "Mon;Wed", "08:00", "16:00", "", ""]
    answers = ["Cinderbank Dental", "company", "us", *site, "Waiting room", "y", "74 F", "82 F", *REEF, "n", "y", "n"]
    answers += ["n", "y", "Osprey Wharf", "company", "metric", *site, "Cellar", "n", "21 C", "Lobsters", "y", "n"]
    answers += ["n", "n", "n", "n"]
    answers += ["Indra Solveig", "technician;refrigeration", "", "", "", "y", "Indra Solveig", "", "", "", "", "n"]
    said = start("company", "office", answers=answers)
    database = str(Path("office") / "fleet.db")
    assert f"Written to {database}: 2 clients, 2 sites, 2 rooms, 2 tanks, 2 devices, 2 technicians" in said.stdout
    assert [row["code"] for row in listed("technicians", database)] == ["INDRA-SOLVEIG", "INDRA-SOLVEIG-2"]
    assert listed("technicians", database)[0]["skills"] == ["technician", "refrigeration"]
    assert {row["code"]: row["client"] for row in listed("sites", database)} == {
        "CINDERBANK-DENTAL-1": "CINDERBANK-DENTAL",
        "OSPREY-WHARF-1": "OSPREY-WHARF",
    }


def test_answers_that_do_not_go_together_are_asked_for_once_more_and_cost_nothing():
    answers = ["Weir Clinic", "company", "us"]
    answers += ["Weir Clinic", "", "", "Mon-Fri", "17:00", "08:00", "06-01;12-01", "09-15"]
    answers += ["Weir Clinic", "", "", "Mon-Fri", "08:00", "17:00", "06-01", "09-15"]
    answers += ["Hall", "n", "72 F", "R" * 200, *REEF[1:], "n", "y", "n", "n", "n"]
    answers += ["Bo", "technician", "Mon-Fri", "17:00", "08:00", "Bo", "technician", "Mon-Fri", "08:00", "17:00", "n"]
    said = start("company", answers=answers).stderr
    assert "visit_to '08:00': expected a time after visit_from (17:00). Once more." in said
    assert "hot_season_end '09-15': expected one day for each in hot_season_start (2)" in said
    assert "work_to '08:00': expected a time after work_from (17:00)" in said
    assert [row["visit_to"] for row in listed("sites")] == ["17:00:00"]
    assert len(listed("devices")[0]["name"]) == 200


@pytest.mark.parametrize("answered", [0, 3, 12])
def test_stopping_half_way_writes_nothing(answered, tmp_path):
    said = start("home", "new", answers=[*PLACE, *ROOM, *REEF][:answered], code=130)
    assert "stopped; nothing was written" in said.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_register_that_is_there_is_left_alone_before_anything_is_asked():
    start("home", answers=[*PLACE, *ROOM, *REEF, "n", "y", "n"])
    said = start("home", answers=[], code=2)
    assert "there is a register in that database already" in said.stderr
    assert "What shall the place be called" not in said.stderr
    assert "expected home or company" in start("school", answers=[], code=2).stderr


@pytest.mark.parametrize("kind", ["home", "company"])
def test_the_example_files_are_a_register_that_imports_as_it_stands(kind, tmp_path):
    said = start(kind, "mine", "--files")
    assert "fleet import mine --check" in said.stdout
    result = CliRunner().invoke(app, ["import", "mine"])
    assert result.exit_code == 0, result.stderr
    assert result.stdout.endswith("0 changed, 0 the same\n")
    assert "new or empty" in start(kind, "mine", "--files", code=2).stderr
