"""`report`, `put-off`, `withdraw`, `correct`: what happened and what people decide, all of it on the trail."""

from __future__ import annotations

import pytest

from fleet.db.repository import Register

from .conftest import as_json


def a_task(stocked, task, subject):
    rows = as_json(stocked("plan", "--json"))["tasks"]
    return next(row for row in rows if (row["task"], row["subject"]) == (task, subject))


def test_an_outage_causes_its_checks_and_tells_whom_to_call(stocked):
    record = as_json(stocked("report", "PIER-Q", "outage", "--on", "2026-05-19", "--by", "Ines", "--json"))
    caused = {task["task"] for task in record["tasks"]}
    # Check within two hours of an outage, test electrical protection after it: US CPSC on storms; common practice.
    assert {"check-after-outage", "press-gfci-after-storm"} & caused
    assert {task["cause"]["kind"] for task in record["tasks"]} == {"event"}
    assert 1 in {row["number"] for row in record["stop_and_call"]}
    keys = {task["key"] for task in as_json(stocked("plan", "--json"))["tasks"]}
    assert {task["key"] for task in record["tasks"]} <= keys


def test_a_death_says_when_to_stop_and_call(stocked):
    text = stocked("report", "LOB", "death", "--note", "two lobsters").stdout
    assert "Recorded: death on Wed 20 May 2026" in text
    assert "Stop and call when: Signs of disease or unexplained deaths on arrival." in text
    assert "local codes and licensed practice" in text


def test_the_same_event_reported_twice_is_one_event(stocked):
    stocked("report", "LOB", "leak", "--note", "left union")
    assert "Already on record" in stocked("report", "LOB", "leak").stdout
    (event,) = as_json(stocked("show", "events", "--json"))
    assert event["note"] == "left union"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["LOBB", "leak"], "is it LOB?"),
        (["LOB", "flood"], "one of outage, storm, death, leak"),
        (["LOB", "leak", "--on", "2026-05-21"], "up to today"),
    ],
)
def test_an_event_that_cannot_be_taken_is_refused(stocked, words, told):
    assert told in stocked("report", *words, code=2).stderr
    assert stocked("show", "events", code=2).stdout == ""


@pytest.mark.slow
def test_put_off_holds_through_the_next_plans_and_is_on_the_trail(stocked, database):
    task = a_task(stocked, "clean-condenser-fins", "C-LOB")
    to = "2026-06-25"
    record = as_json(stocked("put-off", task["key"], "--to", to, "--reason", "shed locked", "--by", "Ines", "--json"))
    assert (record["after"]["state"], record["after"]["due"]) == ("put-off", to)
    for day in ("2026-05-20", "2026-06-01"):
        planned = {row["key"]: row for row in as_json(stocked("plan", "--json", day=day))["tasks"]}[task["key"]]
        assert (planned["state"], planned["due"], planned["latest"]) == ("put-off", to, to)
    told = stocked("why", task["key"]).stdout
    assert "to 25 Jun 2026" in told
    assert "Ines: shed locked" in told
    with Register.open(database, read_only=True) as register:
        (entry,) = register.change_log(subject=task["key"])
    assert entry.after is not None
    assert (entry.who, entry.reason, entry.after["state"]) == ("Ines", "shed locked", "put-off")


@pytest.mark.slow
def test_put_off_is_taken_back_by_undo(stocked):
    task = a_task(stocked, "clean-condenser-fins", "C-LOB")
    stocked("put-off", task["key"], "--to", "2026-06-20", "--reason", "shed locked")
    stocked("put-off", task["key"], "--to", "2026-06-25", "--reason", "still locked")
    back = as_json(stocked("put-off", task["key"], "--undo", "--json"))["after"]
    assert {name: back[name] for name in ("due", "earliest", "latest", "state")} == {
        name: task[name] for name in ("due", "earliest", "latest", "state")
    }
    assert "is not put off" in stocked("put-off", task["key"], "--undo", code=2).stderr


@pytest.mark.slow
def test_class_a_is_put_off_once_even_if_it_was_taken_back(stocked):
    rows = as_json(stocked("plan", "--json"))["tasks"]
    task = next(
        row for row in rows if row["tolerance"] == "A" and "2026-05-21" < row["due"] < row["latest"] < "2026-09-01"
    )
    words = ["put-off", task["key"], "--to", task["latest"], "--reason", "nobody there"]
    assert "--approver" in stocked(*words, code=2).stderr
    stocked(*words, "--approver", "Cass")
    stocked("put-off", task["key"], "--undo")
    assert "is put off once" in stocked(*words, "--approver", "Cass", code=2).stderr


@pytest.mark.slow
def test_a_task_withdrawn_is_nobodys_work_and_the_next_one_stays(stocked):
    task = a_task(stocked, "clean-condenser-fins", "C-LOB")
    before = as_json(stocked("plan", "--json"))["tasks"]
    stocked("withdraw", task["key"], "--reason", "measured by the maker")
    after = as_json(stocked("plan", "--json"))
    assert {row["key"]: row["state"] for row in after["tasks"]}[task["key"]] == "withdrawn"
    assert task["key"] not in {key for visit in after["visits"] for key in visit["tasks"]}
    assert len(after["tasks"]) == len(before)
    assert "withdrawn already" in stocked("withdraw", task["key"], "--reason", "again", code=2).stderr


@pytest.mark.slow
def test_work_recorded_by_mistake_is_withdrawn_and_asked_for_again(stocked, database):
    task = a_task(stocked, "clean-intake-screen", "C-LOB")
    stocked("done", task["key"], "--finding", "sound")
    assert "Withdrawn from history" in stocked("withdraw", task["key"], "--reason", "it was the other one").stdout
    assert a_task(stocked, "clean-intake-screen", "C-LOB")["key"] == task["key"]
    with Register.open(database, read_only=True) as register:
        latest = register.change_log(file="history", limit=1)[0]
    assert latest.after == {"withdrawn": True}
    assert latest.reason == "it was the other one"


def test_a_finding_is_corrected_by_the_key_of_its_task(stocked):
    task = a_task(stocked, "clean-intake-screen", "C-LOB")
    stocked("done", task["key"], "--finding", "sound", "--minutes", "10")
    words = ["correct", task["key"], "finding=degraded", "minutes=25", "--reason", "read the sheet wrong", "--json"]
    record = as_json(stocked(*words))
    assert record["before"] == {"finding": "sound", "minutes": "10"}
    assert record["after"] == {"finding": "degraded", "minutes": "25"}


@pytest.mark.slow
def test_a_day_is_corrected_and_the_record_still_closes_its_task(stocked):
    task = a_task(stocked, "clean-intake-screen", "C-LOB")
    stocked("done", task["key"])
    stocked("correct", "history", "C-LOB", task["task"], "2026-05-20", "done_on=2026-05-18", "--reason", "Monday")
    rows = [row for row in as_json(stocked("show", "history", "--json")) if row["subject"] == "C-LOB"]
    assert [row["done_on"] for row in rows if row["done_on"] > "2026-05-01"] == ["2026-05-18"]
    assert "already done on 2026-05-18" in stocked("done", task["key"], code=2).stderr


def test_a_reading_is_named_by_its_day_on_the_clocks_of_the_site(stocked):
    task = a_task(stocked, "clean-intake-screen", "C-LOB")
    stocked("done", task["key"], "--reading", "LOB:water-temp=13.4C", "--reading", "LOB:water-temp=13.6C")
    said = stocked("correct", "reading", "LOB", "water-temp", "2026-05-20", "value=12.4C", "--reason", "x", code=2)
    assert "2 rows fit" in said.stderr
    assert "2026-05-20T12:00:01" in said.stderr
    words = ["LOB", "water-temp", "2026-05-20T12:00:01", "value=12.6C", "--reason", "digits turned round"]
    stocked("correct", "reading", *words)
    values = [row["value"] for row in as_json(stocked("show", "readings", "--json"))]
    assert sorted(values) == [12.6, 13.4]


SCREEN = ("history", "C-LOB", "clean-intake-screen", "2026-04-20")
WHY = ("--reason", "x")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["correct", *SCREEN, *WHY], "nothing to correct"),
        (["correct", *SCREEN, "minutes=5"], "--reason"),
        (["correct", *SCREEN[:3], "2026-04-21", "minutes=5", *WHY], "nothing on record"),
        (["correct", *SCREEN, "finding=fine", *WHY], "finding"),
        (["correct", *SCREEN, "done_on=2027-01-01", *WHY], "up to today"),
        (["correct", "tanks", "LOB", "target=5C", *WHY], "put right by `fleet change`"),
        (["correct", "ZZZ-ZZZZ", "minutes=5", *WHY], "no work is recorded"),
        (["withdraw", "tanks", "LOB", *WHY], "never withdrawn"),
        (["withdraw", "events", "PIER-Q", "storm", "2026-05-01", *WHY], "nothing on record"),
        (["withdraw", "ZZZ-ZZZZ", *WHY], "no task has the key"),
        (["withdraw", *SCREEN[:2]], "--reason"),
        (["put-off", "ZZZ-ZZZZ", "--to", "2026-06-01", *WHY], "no task has the key"),
        (["put-off", "ZZZ-ZZZZ", *WHY], "--to: expected"),
        (["put-off", "ZZZ-ZZZZ", "--undo", "--to", "2026-06-01"], "--undo takes neither"),
    ],
)
def test_what_cannot_be_put_right_is_refused_in_one_line(stocked, words, told):
    result = stocked(*words, code=2)
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_somebody_elses_change_in_between_is_not_overwritten(stocked, database, monkeypatch):
    from datetime import UTC, date, datetime

    from fleet.services import correct

    read = correct.context_of

    def changed_meanwhile(rows):
        with Register.open(database) as register:
            register.withdraw(
                "history", ("C-LOB", "clean-intake-screen", date(2026, 4, 20)), who="bo", reason="mine",
                now=datetime(2026, 5, 20, tzinfo=UTC),
            )  # fmt: skip
        return read(rows)

    monkeypatch.setattr(correct, "context_of", changed_meanwhile)
    words = ["history", "C-LOB", "clean-intake-screen", "2026-04-20", "minutes=5", "--reason", "x"]
    assert "changed in between" in stocked("correct", *words, code=3).stderr


@pytest.mark.slow
def test_a_plan_saved_in_between_is_not_overwritten_by_a_decision(stocked, database, monkeypatch):
    from datetime import UTC, datetime

    from fleet.services import decide

    task = a_task(stocked, "clean-condenser-fins", "C-LOB")
    find = decide.find_task

    def saved_meanwhile(register, plan, key):
        with Register.open(database) as other:
            other.save_plan(plan, now=datetime(2026, 5, 20, tzinfo=UTC))
        return find(register, plan, key)

    monkeypatch.setattr(decide, "find_task", saved_meanwhile)
    words = ["put-off", task["key"], "--to", "2026-06-25", "--reason", "shed locked"]
    assert "another plan in between: try again" in stocked(*words, code=3).stderr
    with Register.open(database, read_only=True) as register:
        assert register.change_log(subject=task["key"]) == ()
