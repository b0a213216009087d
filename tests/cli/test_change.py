"""`fleet change`: a dated fact, the margin before and after, the recheck it causes."""

from __future__ import annotations

import pytest

from .conftest import as_json


def hot_day(records, tank):
    return next(row for row in records if (row["tank"], row["scenario"]) == (tank, "hot-day"))


def test_a_stronger_lamp_is_written_with_its_day_and_takes_margin(stocked):
    result = as_json(stocked("change", "load", "REEF", "lamp", "power=400 W", "--since", "2026-05-18", "--json"))
    before, after = hot_day(result["before"], "REEF"), hot_day(result["after"], "REEF")
    assert after["required_w"] > before["required_w"]
    lamps = [row for row in as_json(stocked("show", "loads", "--json")) if row["name"] == "lamp"]
    assert [(row["power_w"], row["since"]) for row in lamps] == [(400.0, "2026-05-18")]
    earlier = as_json(stocked("show", "loads", "--json", day="2026-05-17"))
    assert [row["power_w"] for row in earlier if row["name"] == "lamp"] == [180.0]


def test_it_causes_a_recheck_within_seven_days_and_one_at_thirty_with_the_numbers(stocked):
    stocked("change", "load", "REEF", "lamp", "power=400 W", "--since", "2026-05-18")
    tasks = [row for row in as_json(stocked("due", "--by", "2026-12-31", "--json"))["tasks"]
             if row["task"] == "review-heat-load" and row["subject"] == "REEF"]  # fmt: skip
    assert sorted(row["due"] for row in tasks) == ["2026-05-25", "2026-06-17"]
    assert all(row["cause"]["kind"] == "change" for row in tasks)
    assert "180 W" in tasks[0]["cause"]["text"]
    assert "400 W" in tasks[0]["cause"]["text"]
    assert "margin" in tasks[0]["cause"]["text"]


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ["animals", "REEF", "blue tangs", "class=tropical-marine", "count=4"],
        ["place", "C-REEF", "where=beside-tank", "stand_of=", "room=LOFT", "clearance=40 cm"],
        ["duty", "C-REEF", "REEF", "--end"],
        ["room", "LOFT", "hot_day_mean=80 F"],
        ["tank", "REEF", "lid=sealed"],
        ["plate", "C-REEF", "rated_cooling=300 W"],
    ],
)
def test_each_kind_of_change_of_a_tank_that_has_facts_is_written(stocked, words):
    result = as_json(stocked("change", *words, "--json"))
    assert {row["tank"] for row in result["after"]} >= {"REEF"}
    again = stocked("change", *words, code=2 if "--end" in words else 0)
    assert "--end" in words or "Nothing changed" in again.stdout


def test_health_is_a_dated_change_too(stocked):
    stocked("change", "health", "REEF", "quarantine")
    tanks = {row["code"]: row["health"] for row in as_json(stocked("show", "tanks", "--json"))}
    assert tanks["REEF"] == "quarantine"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["colour", "REEF"], "load, animals, place"),
        (["load", "REEF"], "needs TANK, then NAME"),
        (["load", "REEF", "lamp", "power=much"], "power"),
        (["load", "REEF", "lamp", "powr=4 W"], "the nearest is power"),
        (["load", "NOPE", "lamp", "kind=light", "power=4 W"], "NOPE"),
        (["room", "NOPE", "hot_day_mean=80 F"], "NOPE"),
        (["health", "REEF", "poorly"], "clean, unknown, quarantine, sick"),
        (["load", "REEF", "lamp", "power=4 W", "--since", "soon"], "such as 2026-05-20"),
    ],
)
def test_a_change_that_cannot_be_taken_is_one_clear_line_and_writes_nothing(stocked, words, told):
    before = as_json(stocked("show", "loads", "--json"))
    result = stocked("change", *words, code=2)
    assert told in result.stderr
    assert "Traceback" not in result.stderr
    assert as_json(stocked("show", "loads", "--json")) == before
