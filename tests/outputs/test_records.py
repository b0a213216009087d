"""The machine-readable forms keep their keys, and hold no number that JSON does not have."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from fleet.outputs.records import dumps, margin_records, plan_record, task_record, why_record
from fleet.values.plan import Cause, Needed, Placement
from fleet.values.spread import Spread
from fleet.values.vocabulary import CauseKind

World = Any
SPREAD = {"low", "mid", "high"}
TASK = {
    "key", "task", "subject", "site", "tank", "device", "due", "due_at", "earliest", "latest", "minutes", "persons",
    "skill", "performed_by", "tolerance", "state", "cause", "visit",
}  # fmt: skip


def test_keys_of_a_margin(world: World) -> None:
    record = margin_records(world.assessments)[2]
    assert list(record) == [
        "tank", "scenario", "target_c", "required_w", "available_w", "margin", "state", "duty", "n_minus_1_margin",
        "hours", "peak_c", "limit_c", "assumed", "devices",
    ]  # fmt: skip
    assert set(record["available_w"]) == set(record["margin"]) == SPREAD
    assert list(record["hours"]) == ["all_cooling_lost", "ac_lost", "ac_and_cooling_lost", "largest_lost"]
    for hours in record["hours"].values():
        assert set(hours) == SPREAD | {"reaches_limit"}
        assert hours["reaches_limit"] in ("yes", "no", "unknown")
    assert {"device", "capacity_w", "condenser_inlet_c", "screen_airflow", "trips"} <= set(record["devices"][0])
    assert record["state"] == "short"
    assert record["margin"]["mid"] == -0.04


def test_a_tank_that_needs_no_cooling_has_null_and_a_word_beside_it(world: World) -> None:
    record = margin_records(world.assessments)[0]
    assert (record["available_w"], record["margin"], record["duty"]) == (None, None, None)
    assert record["state"] == "rides"
    assert record["hours"]["all_cooling_lost"] == {"low": None, "mid": None, "high": None, "reaches_limit": "no"}


def test_infinities_and_nan_become_null(world: World) -> None:
    odd = replace(world.assessments[2], margin=Spread(math.nan, math.inf, math.inf), duty=math.inf)
    record = margin_records([odd])[0]
    assert record["margin"] == {"low": None, "mid": None, "high": None}
    assert record["duty"] is None
    json.loads(dumps(record), parse_constant=lambda word: pytest.fail(word))


def test_keys_of_a_plan(world: World) -> None:
    record = plan_record(world.plan, world.fleet)
    assert list(record) == ["tasks", "visits", "unplaced", "changes"]
    for task in record["tasks"]:
        assert set(task) == TASK
        assert set(task["cause"]) == {"kind", "text", "numbers"}
    assert list(record["visits"][0]) == ["key", "site", "technician", "start", "end", "minutes", "tasks"]
    assert list(record["unplaced"][0]) == ["key", "reason", "text"]
    assert list(record["changes"]) == ["added", "moved", "dropped"]
    json.loads(dumps(record))


def test_instants_carry_the_offset_of_the_site(world: World) -> None:
    """New York is four hours behind UTC in May (IANA time zone database)."""
    visit = plan_record(world.plan, world.fleet)["visits"][0]
    assert visit["start"] == "2026-05-22T09:00:00-04:00"
    task = replace(world.plan.tasks[0], site="SOUTH", due_at=datetime(2026, 5, 20, 0, 0, tzinfo=UTC))
    assert task_record(task, world.fleet)["due_at"] == "2026-05-20T10:00:00+10:00"
    assert task_record(task, None)["due_at"] == "2026-05-20T00:00:00+00:00"


def test_numbers_of_a_cause_are_carried_with_nan_as_null(world: World) -> None:
    task = world.plan.task_by_key["0RV-55XY"]
    assert task_record(task, None)["cause"]["numbers"] == {"margin_before": 0.12, "margin_after": -0.04}
    odd = replace(task, cause=Cause(CauseKind.CHANGE, "…", {"margin_after": math.inf, "word": "x"}))
    assert task_record(odd, None)["cause"]["numbers"] == {"margin_after": None, "word": "x"}


def test_why_is_the_task_with_rule_last_done_factors_and_history(world: World) -> None:
    task = world.plan.task_by_key["8AA-B1CD"]
    history = world.fleet.history_by_subject["CH-1"]
    record = why_record(task, world.catalogue.rule_by_id[task.rule], history, world.fleet)
    assert set(record) == TASK | {"rule", "last_done", "factors", "history"}
    assert record["last_done"] == "2022-01-10"
    assert record["factors"] == [
        {"name": "hard-water", "multiplier": 0.7, "reason": "the room's conditions say hard-water"}
    ]
    assert record["rule"]["interval"] == {"minimum": "12 months", "typical": "48 months", "maximum": "60 months"}
    assert record["history"][1] == {
        "done_on": "2026-04-28", "by": "ROE", "finding": "degraded", "minutes": 15, "note": "much lint",
    }  # fmt: skip
    json.loads(dumps(record))


def test_a_visit_of_two_says_so_and_who_the_second_is(world: World) -> None:
    visit = replace(world.plan.visits[0], persons=2, second_technician=None)
    record = plan_record(replace(world.plan, visits=(visit,)), world.fleet)
    assert (record["visits"][0]["persons"], record["visits"][0]["second_technician"]) == (2, None)


def test_why_with_a_placement_tells_day_people_and_needs(world: World) -> None:
    task = world.plan.tasks[0]
    placed = Placement(
        date(2026, 5, 22),
        ("its due day",),
        ("somebody can",),
        (Needed("fins", "Clean the fins", "CH-1", "comes first", "AAA-1111", "V-9", date(2026, 5, 21)),),
    )
    record = why_record(task, world.catalogue.rule_by_id[task.rule], (), world.fleet, placed)
    assert (record["planned_on"], record["why_day"], record["who"]) == ("2026-05-22", ["its due day"], ["somebody can"])
    assert record["needs"] == [
        {
            "task": "fins", "subject": "CH-1", "how": "comes first", "key": "AAA-1111", "visit": "V-9",
            "day": "2026-05-21", "last_done": None, "in_date_until": None,
        }
    ]  # fmt: skip
    assert record["unplaced"] is None
