"""Rechecks of what a tank needs: after changes that move its margin, and before every hot season, with the numbers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.planning.margins import LEAST_FALL, Margins
from fleet.values.assessment import Assessment, HoursByFailure, MarginChange
from fleet.values.catalogue import EventTrigger, SeasonWindow, Span, TaskRule
from fleet.values.plan import Plan
from fleet.values.register import Load, YearSpan
from fleet.values.spread import Spread
from fleet.values.vocabulary import CauseKind, LoadKind, MarginState, Scenario, SubjectKind, Tolerance

CHANGED = date(2026, 5, 18)


def standing(
    margin: float | None, state: MarginState = MarginState.OK, required_w: float = 400.0, tank: str = "T1"
) -> Assessment:
    spread = None if margin is None else Spread(margin, margin + 0.2, margin + 0.4)
    available = (
        None if margin is None else Spread(*(required_w * (1 + end) for end in (margin, margin + 0.2, margin + 0.4)))
    )
    return Assessment(
        tank=tank, scenario=Scenario.HOT_DAY, target_c=25.0, required_w=required_w,
        required_spread_w=Spread(required_w, required_w, required_w), available_w=available, margin=spread,
        state=state, duty=None, n_minus_1_margin=None, hours=HoursByFailure(None, None, None, None),
        peak_c=27.0, limit_c=28.5, room_peak_c=29.0, equilibrium_c=28.0, evaporation_l_per_day=2.0, dew_point_c=15.0,
        assumed=(), devices=(),
    )  # fmt: skip


def review(trade: Any) -> TaskRule:
    """Within 7 days and again at 30: common practice."""
    trigger = EventTrigger("lights-changed", Span(7, "day"), (Span(30, "day"),), if_margin_moves=True)
    rule: TaskRule = trade.rule(
        "review", selector=trade.on(SubjectKind.TANK), interval=None, tolerance=Tolerance.A, events=(trigger,)
    )
    return rule


def relit(trade: Any, change: MarginChange | None) -> Plan:
    loads = (
        Load("T1", "lamp", LoadKind.LIGHT, 250.0, date(2025, 1, 1), until=CHANGED),
        Load("T1", "lamp", LoadKind.LIGHT, 310.0, CHANGED),
    )
    plan: Plan = trade.plan(trade.rows(loads=loads), review(trade), margin_changes=() if change is None else (change,))
    return plan


OK, THIN, SHORT, TRIPS = MarginState.OK, MarginState.THIN, MarginState.SHORT, MarginState.TRIPS


@pytest.mark.parametrize(
    ("before", "after", "rechecks"),
    [
        (standing(0.30), standing(0.25), 2),
        (standing(0.30), standing(0.26), 0),
        (standing(0.16), standing(0.14, THIN), 2),
        (standing(0.14, THIN), standing(0.30), 2),
        (standing(0.20), standing(0.40), 0),
        (standing(-1.0, TRIPS, 160.0), standing(-1.0, TRIPS, 303.0), 2),
        (standing(-1.0, TRIPS, 160.0), standing(-1.0, TRIPS, 165.0), 0),
        (standing(None, SHORT, 100.0), standing(None, SHORT, 120.0), 2),
        (standing(None, MarginState.RIDES), standing(None, MarginState.RIDES), 0),
        (None, standing(0.2), 2),
    ],
    ids=[
        "5 points lower", "4 points lower", "another state by 2 points", "a better state", "only better",
        "nothing left and much more needed", "nothing left and hardly more needed", "no device and more needed",
        "rides either way", "not known",
    ],
)  # fmt: skip
def test_a_change_is_looked_at_again_where_it_moves_the_margin(
    trade: Any, before: Assessment | None, after: Assessment, rechecks: int
) -> None:
    assert LEAST_FALL == 0.05
    plan = relit(trade, MarginChange("T1", CHANGED, before, after))
    assert [task.due - CHANGED for task in plan.tasks] == [timedelta(days=7), timedelta(days=30)][:rechecks]


def test_a_change_whose_margin_is_not_known_is_looked_at_too(trade: Any) -> None:
    assert len(relit(trade, None).tasks) == 2


def test_a_review_keeps_its_numbers_when_they_lie_too_far_back_to_be_worked_out_again(trade: Any) -> None:
    change = MarginChange("T1", CHANGED, standing(0.12, THIN), standing(-0.04, SHORT, 460.0))
    plan = relit(trade, change)
    words = "Lights 250 W → 310 W on 18 May 2026: margin on the hot day 12 % → −4 %."
    assert plan.tasks[0].cause.text == words
    loads = (
        Load("T1", "lamp", LoadKind.LIGHT, 250.0, date(2025, 1, 1), until=CHANGED),
        Load("T1", "lamp", LoadKind.LIGHT, 310.0, CHANGED),
    )
    later = trade.plan(trade.rows(loads=loads), review(trade), previous=plan, today=date(2026, 9, 1))
    cause = later.task_by_key[plan.tasks[0].key].cause
    assert cause.text == f"{words} Also: second look, 30 days after."
    assert plan.tasks[0].cause.numbers.items() <= cause.numbers.items()


def before_season(trade: Any) -> TaskRule:
    """8 to 3 weeks before the hot season: our proposal."""
    rule: TaskRule = trade.rule(
        "recheck", selector=trade.on(SubjectKind.TANK, "needs-cooling"), interval=None, tolerance=Tolerance.S,
        seasons=(SeasonWindow("hot", "before", 8, 6, 3, tell_margin=True),),
    )  # fmt: skip
    return rule


@pytest.mark.parametrize(
    ("seasons", "opens"),
    [
        ((YearSpan(8, 1, 9, 30),), [date(2026, 6, 6)]),
        ((YearSpan(12, 1, 2, 28),), [date(2026, 10, 6)]),
        ((YearSpan(8, 1, 8, 31), YearSpan(11, 1, 11, 30)), [date(2026, 6, 6), date(2026, 9, 6)]),
        ((), []),
    ],
    ids=["northern", "southern, wrapping the year", "two", "none"],
)
def test_every_tank_that_needs_cooling_is_looked_at_before_each_hot_season(
    trade: Any, seasons: tuple[YearSpan, ...], opens: list[date]
) -> None:
    rows = trade.rows(tanks=3, sites=(trade.site(hot_seasons=seasons),))
    states = [
        standing(0.12, THIN),
        standing(None, MarginState.RIDES, 10.0, "T2"),
        standing(None, MarginState.NONE_NEEDED, -5.0, "T3"),
    ]
    plan = trade.plan(rows, before_season(trade), assessments=states, days=220)
    assert [(task.subject, task.earliest) for task in plan.tasks] == [("T1", day) for day in opens]
    assert all(task.latest - task.earliest == timedelta(weeks=5) for task in plan.tasks)
    assert all(task.cause.kind is CauseKind.SEASON for task in plan.tasks)


def test_its_reason_carries_the_numbers_and_they_stand_while_the_state_does(trade: Any) -> None:
    rows = trade.rows(sites=(trade.site(hot_seasons=(YearSpan(8, 1, 9, 30),)),))
    plan = trade.plan(rows, before_season(trade), assessments=[standing(0.12, THIN)])
    (task,) = plan.tasks
    assert task.cause.text == (
        "Before the hot season, which begins on 1 August 2026: margin on the hot day 12 % (thin), "
        "400 W needed and 448 W to be had."
    )
    assert task.cause.numbers == {
        "state": "thin",
        "margin": 0.12,
        "required_w": 400.0,
        "available_w": pytest.approx(448),
    }
    dirtier = trade.plan(rows, before_season(trade), assessments=[standing(0.11, THIN)], previous=plan)
    assert dirtier.tasks == plan.tasks
    short = trade.plan(rows, before_season(trade), assessments=[standing(-0.02, SHORT)], previous=plan)
    assert "margin on the hot day −2 % (short)" in short.tasks[0].cause.text


def test_what_is_not_assessed_needs_cooling_where_a_device_cools_it(trade: Any) -> None:
    rows = trade.rows(tanks=2, sites=(trade.site(hot_seasons=(YearSpan(8, 1, 9, 30),)),))
    rows = replace(rows, duties=rows.duties[:1])
    assert [task.subject for task in trade.plan(rows, before_season(trade)).tasks] == ["T1"]


def test_a_margin_without_end_is_no_news() -> None:
    endless = standing(float("inf"), MarginState.AMPLE, 0.001)
    margins = Margins([MarginChange("T1", CHANGED, endless, endless)], [endless])
    assert not margins.moved("T1", CHANGED)
    assert margins.over("T1", [CHANGED], {})[0] == "margin on the hot day endless → endless"
    assert margins.standing("T1", {})[0].startswith("margin on the hot day endless")
