"""`change rule`, `show rules`, `show margins`: what people set, and the margins that led to decisions."""

from __future__ import annotations

import pytest

from fleet.db.repository import Register

from .conftest import as_json

RULE = ("change", "rule", "clean-intake-screen")
WHY = ("--reason", "salt spray", "--by", "Ines")


def due_of(stocked, subject):
    rows = as_json(stocked("plan", "--json"))["tasks"]
    return next(row for row in rows if (row["task"], row["subject"]) == ("clean-intake-screen", subject))


@pytest.mark.slow
def test_a_sites_own_interval_moves_its_tasks_says_who_and_why_and_can_be_taken_back(stocked, database):
    before, elsewhere = due_of(stocked, "C-LOB"), due_of(stocked, "C-REEF")
    record = as_json(stocked(*RULE, "--scope", "PIER-Q", "interval=9 days", *WHY, "--json"))
    assert (record["interval"]["typical"], record["set_by"], record["in_force"]) == ("9 days", "Ines", True)
    after = due_of(stocked, "C-LOB")
    assert after["due"] < before["due"]
    assert after["key"] == before["key"]
    assert "Ines" in after["cause"]["text"]
    assert "salt spray" in after["cause"]["text"]
    assert due_of(stocked, "C-REEF")["due"] == elsewhere["due"]

    stocked(*RULE, "--scope", "PIER-Q", "--end", "--reason", "new room")
    assert due_of(stocked, "C-LOB")["due"] == before["due"]
    with Register.open(database, read_only=True) as register:
        assert [entry.reason for entry in register.change_log(file="task_rule")] == ["new room", "salt spray"]


def test_what_is_set_is_listed_beside_the_catalogue(stocked):
    assert "no rule-overrides on record" in stocked("show", "rule-overrides", code=2).stderr
    stocked(*RULE, "--scope", "LOB", "interval=2 weeks", "minutes=20", *WHY)
    stocked("change", "rule", "inspect-stand-for-damp", "active=no", "--reason", "steel frames")
    listed = as_json(stocked("show", "rule-overrides", "--json"))
    assert [(row["task"], row["scope"], row["active"], row["minutes"]) for row in listed] == [
        ("clean-intake-screen", "LOB", True, 20),
        ("inspect-stand-for-damp", None, False, None),
    ]
    text = stocked("show", "rules").stdout
    assert "every 1/2/8 weeks, 20 min" in text
    assert "switched off" in text
    assert "salt spray" in stocked("show", "rule", "clean-intake-screen").stdout
    (rule,) = as_json(stocked("show", "rule", "clean-intake-screen", "--json"))
    assert [own["scope"] for own in rule["own"]] == ["LOB"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["change", "rule", "clean-screen", "minutes=5", *WHY], "no service task"),
        ([*RULE, "--scope", "PIER-X", "minutes=5", *WHY], "is it PIER-Q?"),
        ([*RULE, "minutes=5"], "--reason"),
        ([*RULE, *WHY], "nothing to set"),
        ([*RULE, "minutes=0", *WHY], "expected 1 to 480"),
        ([*RULE, "--end", *WHY], "nothing of its own is set"),
        ([*RULE, "minutes=5", "--since", "2026-05-01", *WHY], "takes interval"),
        (
            ["change", "rule", "press-gfci-test", "active=no", *WHY],
            "life-safety work (class A0) cannot be switched off",
        ),
        (["change", "rule", "press-gfci-test", "interval=2 months", *WHY], "never lengthened"),
        (["change", "rule", "review-heat-load", "interval=2 months", *WHY], "does not come back by an interval"),
        (["change", "tank", "LOB", "lid=open", "--scope", "PIER-Q"], "belong to `fleet change rule"),
    ],
)
def test_what_cannot_be_set_is_refused_in_one_line_and_nothing_is_set(stocked, words, told):
    result = stocked(*words, code=2)
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    stocked("show", "rule-overrides", code=2)


def test_the_catalogue_is_shown_where_there_is_no_register_yet(fleet):
    assert "clean-intake-screen" in fleet("show", "rules").stdout


def test_a_change_leaves_its_margins_before_and_after_on_the_trail(stocked):
    stocked("change", "load", "LOB", "new pump", "kind=submerged-pump", "power=90W")
    rows = as_json(stocked("show", "margins", "LOB", "--json"))
    assert [row["cause"].split()[0] for row in rows if row["scenario"] == "hot-day"] == ["before", "after"]
    before, after = (row for row in rows if row["scenario"] == "hot-day")
    assert after["required_w"] > before["required_w"]
    assert before["inputs_digest"] != after["inputs_digest"]
    assert "after change of load LOB new pump" in stocked("show", "margins").stdout
    assert "no tank 'LOBB'" in stocked("show", "margins", "LOBB", code=2).stderr
