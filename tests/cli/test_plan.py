"""`plan`, `due`, `why`, `done`: the agreed keys, a plan that stays put, work taken back."""

from __future__ import annotations

import pytest

from .conftest import as_json

TASK_KEYS = {
    "key", "task", "subject", "site", "tank", "device", "due", "due_at", "earliest", "latest", "minutes", "persons",
    "skill", "performed_by", "tolerance", "state", "cause", "visit",
}  # fmt: skip
VISIT_KEYS = {"key", "site", "technician", "start", "end", "minutes", "tasks"}


@pytest.mark.parametrize("command", ["plan", "due"])
def test_the_keys_that_machines_read(stocked, command):
    record = as_json(stocked(command, "--json"))
    assert record.keys() >= {"tasks", "visits", "unplaced", "changes"}
    assert record["changes"].keys() == {"added", "moved", "dropped"}
    assert record["tasks"]
    for task in record["tasks"]:
        assert task.keys() >= TASK_KEYS
        assert task["cause"].keys() == {"kind", "text", "numbers"}
        assert task["earliest"] <= task["due"] <= task["latest"]
    for visit in record["visits"]:
        assert visit.keys() >= VISIT_KEYS
    for item in record["unplaced"]:
        assert item.keys() >= {"key", "reason"}


def test_planning_twice_changes_nothing(stocked):
    first = as_json(stocked("plan", "--json"))
    second = as_json(stocked("plan", "--json"))
    assert second["changes"] == {"added": [], "moved": [], "dropped": []}
    assert second["tasks"] == first["tasks"]
    assert second["visits"] == first["visits"]


def test_every_visitors_task_is_in_one_visit_or_has_a_reason(stocked):
    record = as_json(stocked("plan", "--json"))
    held = [key for visit in record["visits"] for key in visit["tasks"]]
    unplaced = [item["key"] for item in record["unplaced"]]
    visitors = [task["key"] for task in record["tasks"] if task["performed_by"] == "visitor"]
    assert sorted(held + unplaced) == sorted(visitors)


def test_visits_start_inside_the_hours_of_the_site(stocked):
    for visit in as_json(stocked("plan", "--json"))["visits"]:
        if visit["site"] == "PIER-Q":
            assert "08:00" <= visit["start"][11:16] < "12:30"


def a_task(record, task, subject):
    return next(row for row in record["tasks"] if (row["task"], row["subject"]) == (task, subject))


def test_done_moves_only_what_follows_from_it(stocked):
    before = as_json(stocked("plan", "--json"))
    screen = a_task(before, "clean-intake-screen", "C-LOB")
    stocked("done", screen["key"], "--finding", "sound", "--by", "I. Quillfeather", "--minutes", "12")
    after = as_json(stocked("plan", "--json"))

    def others(record):
        return {
            row["key"]: {name: row[name] for name in ("due", "earliest", "latest", "state")}
            for row in record["tasks"]
            if (row["task"], row["subject"]) != ("clean-intake-screen", "C-LOB")
        }

    assert others(after) == others(before)
    assert screen["key"] not in {row["key"] for row in after["tasks"]}
    assert a_task(after, "clean-intake-screen", "C-LOB")["due"] > screen["due"]


def test_a_key_may_be_typed_in_small_letters_without_its_dash(stocked):
    screen = a_task(as_json(stocked("due", "--by", "2026-12-31", "--json")), "clean-intake-screen", "C-LOB")
    assert "next due" in stocked("done", screen["key"].lower().replace("-", "")).stdout


def test_the_same_key_cannot_be_done_twice(stocked):
    key = a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")["key"]
    stocked("done", key, "--by", "Ines")
    assert "already done on 2026-05-20 by Ines" in stocked("done", key, code=2).stderr


def test_a_descale_overdue_by_years_is_past_its_limit(stocked):
    # 60 months is the longest interval: common practice, vinegar every 3 to 5 years. Last done 31 March 2023, and the
    # tank is marine, so its typical interval is shortened; what matters here is that history counts.
    task = a_task(as_json(stocked("due", "--by", "2030-01-01", "--json")), "descale-exchanger-inside", "C-REEF")
    assert task["cause"]["kind"] == "interval"
    why = as_json(stocked("why", task["key"], "--json"))
    assert why["last_done"] == "2023-03-31"


def test_why_carries_rule_last_done_factors_and_history(stocked):
    task = a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")
    why = as_json(stocked("why", task["key"], "--json"))
    assert why.keys() >= TASK_KEYS | {"rule", "last_done", "factors", "history"}
    assert why["last_done"] == "2026-04-20"
    assert why.keys() >= {"planned_on", "why_day", "who", "needs", "unplaced"}
    assert bool(why["why_day"]) == bool(why["visit"])
    for factor in why["factors"]:
        assert factor.keys() == {"name", "multiplier", "reason"}
    assert "salt" in {factor["name"] for factor in why["factors"]}
    assert "Clean" in stocked("why", task["key"]).stdout


def test_readings_come_back_with_the_work(stocked):
    task = a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")
    stocked("done", task["key"], "--reading", "LOB:water-temp=54F", "--reading", "C-LOB:power=1050 W")
    readings = as_json(stocked("show", "readings", "--json"))
    assert {row["quantity"]: round(row["value"], 3) for row in readings} == {"water-temp": 12.222, "power": 1050.0}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["ZZZ-ZZZZ"], "no task has the key"),
        ([], "name at least one task key"),
        (["KEY", "--on", "2027-01-01"], "up to today"),
        (["KEY", "--on", "yesterday"], "such as 2026-05-20"),
        (["KEY", "--finding", "fine"], "sound, degraded, fault, not-inspected"),
        (["KEY", "--reading", "power"], "QUANTITY=VALUE"),
        (["KEY", "--reading", "power=lots"], "power"),
        (["KEY", "--reading", "colour=blue"], "colour"),
        (["--visit", "ZZZ-ZZZZ"], "no visit has the key"),
    ],
)
def test_what_cannot_be_taken_back_is_refused_and_nothing_is_written(stocked, words, told):
    key = a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")["key"]
    result = stocked("done", *[key if word == "KEY" else word for word in words], code=2)
    assert told in result.stderr
    assert "Traceback" not in result.stderr
    assert a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")["key"] == key


def test_a_whole_visit_is_done_at_once(stocked):
    visit = as_json(stocked("plan", "--json"))["visits"][0]
    stocked("done", "--visit", visit["key"], "--minutes", "90")
    history = as_json(stocked("show", "history", "--json"))
    today = [row for row in history if row["done_on"] == "2026-05-20"]
    assert len(today) == len(visit["tasks"])
    assert sum(row["minutes"] for row in today) == 90


def test_site_staffs_work_is_on_a_checklist_and_in_no_visit(stocked):
    record = as_json(stocked("plan", "--json"))
    staff = [task for task in record["tasks"] if task["performed_by"] == "site-staff"]
    assert staff
    assert all(task["visit"] is None for task in staff)


def test_strict_says_by_its_exit_code_that_something_is_late(stocked):
    late = {"late", "past-limit"} & {task["state"] for task in as_json(stocked("due", "--json"))["tasks"]}
    stocked("due", "--strict", code=1 if late else 0)


def test_rounds_are_the_visits_of_the_plan_in_order(stocked):
    visits = as_json(stocked("plan", "--json"))["visits"]
    shown = as_json(stocked("show", "rounds", "--json"))
    assert sorted(visit["key"] for visit in shown) == sorted(visit["key"] for visit in visits)
    first = shown[0]
    that_day = as_json(stocked("show", "rounds", "--date", first["start"][:10], "--json"))
    assert first["key"] in {visit["key"] for visit in that_day}
    assert {visit["start"][:10] for visit in that_day} == {first["start"][:10]}
    assert first["key"] in stocked("show", "rounds").stdout
    assert "NOPE" in stocked("show", "rounds", "--technician", "NOPE", code=2).stderr


def test_the_same_work_is_recorded_once_a_day(stocked):
    screen = a_task(as_json(stocked("plan", "--json")), "clean-intake-screen", "C-LOB")
    stocked("done", screen["key"])
    following = a_task(as_json(stocked("due", "--by", "2026-12-31", "--json")), "clean-intake-screen", "C-LOB")
    assert "already recorded as done on 2026-05-20" in stocked("done", following["key"], code=2).stderr


def test_two_readings_of_one_day_are_both_kept(stocked):
    tasks = [task for task in as_json(stocked("plan", "--json"))["tasks"] if task["visit"]]
    keys = [tasks[0]["key"], next(t["key"] for t in tasks if t["task"] != tasks[0]["task"])]
    stocked("done", keys[0], "--reading", "REEF:water-temp=78F")
    stocked("done", keys[1], "--reading", "REEF:water-temp=83F")
    values = sorted(round(row["value"], 2) for row in as_json(stocked("show", "readings", "--json")))
    assert values == [25.56, 28.33]
