"""Rule overrides, margins that led to decisions, and decisions put on the trail."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from fleet.db.repository import MarginCheck, Register, RuleOverride
from fleet.errors import BadInput
from fleet.values.assessment import Assessment, HoursByFailure
from fleet.values.catalogue import Interval, Span
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Scenario

AT = datetime(2026, 5, 5, 12, 0, tzinfo=UTC)
OVERRIDE = RuleOverride(
    "clean-intake-screen", "LAG-1", True, Interval(Span(1, "week"), Span(2, "week"), Span(4, "week")), 15,
    "Ada Quill", "two dogs",
)  # fmt: skip


def test_an_override_is_set_changed_and_kept_on_the_trail(database):
    everywhere = RuleOverride("press-gfci-test", active=False, set_by="bo", reason="done by the landlord")
    with Register.open(database) as register:
        for override in (OVERRIDE, everywhere, OVERRIDE):
            register.save_rule_override(override, who="ada", now=AT, reason="visit")
        changed = replace(OVERRIDE, minutes=20)
        register.save_rule_override(changed, who="bo", now=AT, reason="slower")
        assert register.rule_overrides() == (changed, everywhere)
        entries = register.change_log(file="task_rule")
    assert [entry.reason for entry in entries] == ["slower", "visit", "visit"]
    assert entries[0].before is not None
    assert entries[0].before["minutes"] == 15
    assert entries[0].row_key == ("clean-intake-screen", "LAG-1")


@pytest.mark.parametrize(
    "interval",
    [
        Interval(Span(4, "week"), Span(2, "week"), Span(8, "week")),
        Interval(Span(0, "day"), Span(2, "day"), Span(8, "day")),
        Interval(Span(1, "week"), Span(2, "month"), Span(3, "month")),
    ],
)
def test_an_interval_out_of_order_or_of_two_units_is_refused(database, interval):
    with pytest.raises(BadInput), Register.open(database) as register:
        register.save_rule_override(replace(OVERRIDE, interval=interval), who="ada", now=AT, reason="x")


def an_assessment(**fields: object) -> Assessment:
    usual: dict[str, object] = {
        "tank": "T-1",
        "scenario": Scenario.HOT_DAY,
        "target_c": 14.0,
        "required_w": 310.0,
        "required_spread_w": Spread(280.0, 310.0, 350.0),
        "available_w": Spread(250.0, 330.0, 400.0),
        "margin": Spread(-0.19, 0.06, 0.29),
        "state": MarginState.SHORT,
        "duty": 0.94,
        "n_minus_1_margin": None,
        "hours": HoursByFailure(None, None, None, None),
        "peak_c": 15.0,
        "limit_c": 18.0,
        "room_peak_c": 27.0,
        "equilibrium_c": 26.0,
        "evaporation_l_per_day": 0.0,
        "dew_point_c": 15.0,
        "assumed": (),
        "devices": (),
    }
    return Assessment(**usual | fields)  # type: ignore[arg-type]


def test_a_margin_that_led_to_a_decision_is_kept_once(database):
    day = date(2026, 5, 5)
    checks = [
        MarginCheck.of(an_assessment(), day=day, cause="lights-changed", inputs_digest="aa", at=AT),
        MarginCheck.of(
            an_assessment(scenario=Scenario.AC_OFF, available_w=None, margin=None, state=MarginState.UNKNOWN),
            day=day, cause="lights-changed", inputs_digest="ab", at=AT,
        ),
    ]  # fmt: skip
    with Register.open(database) as register:
        assert register.save_margin_checks(checks) == 2
        assert register.save_margin_checks(checks) == 0
        assert register.save_margin_checks([replace(checks[0], inputs_digest="ac")]) == 1
        assert register.save_margin_checks([]) == 0
        assert register.margin_checks("T-1") == (*checks, replace(checks[0], inputs_digest="ac"))
        assert register.margin_checks("T-2") == ()
        assert len(register.margin_checks()) == 3


def test_a_decision_about_a_task_is_found_by_its_key(database):
    with Register.open(database) as register:
        register.log_decision(
            "task", ("7K3-Q9",), {"due": "2026-05-11"}, {"due": "2026-05-18", "approver": "ADA"},
            who="bo", now=AT, reason="site closed",
        )  # fmt: skip
        entry = register.change_log(subject="7K3-Q9")[0]
    assert (entry.file, entry.before, entry.reason) == ("task", {"due": "2026-05-11"}, "site closed")


def test_an_endless_margin_comes_back_endless(database):
    check = MarginCheck.of(
        an_assessment(margin=Spread(0.4, 3.0, math.inf)), day=date(2026, 5, 3), cause="test", inputs_digest="x", at=AT
    )
    with Register.open(database) as register:
        register.save_margin_checks([check])
        assert register.margin_checks("T-1") == (check,)
