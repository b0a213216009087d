"""Work beside the seasons of a site: its window, what is missed, and what came too late for it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from fleet.values.catalogue import SeasonWindow
from fleet.values.register import Placement, RegisterRows, YearSpan
from fleet.values.vocabulary import TaskState, Tolerance, Where


def season_rule(trade: Any, **changes: Any) -> Any:
    """Opens 10 weeks before the season, aimed at 8, closed 3 weeks before it: common practice."""
    beside = (SeasonWindow("hot", "before", 10, 8, 3),)
    return trade.rule("prepare", **{"tolerance": Tolerance.S, "seasons": beside, "interval": None, **changes})


def at_site_with(trade: Any, span: YearSpan, **changes: Any) -> RegisterRows:
    """A site where some work is on record, so that it was there before."""
    known = {"history": (trade.done(date(2025, 6, 1), "press-test", "G"),), **changes}
    return trade.rows(sites=(trade.site(hot_seasons=(span,)),), **known)


@pytest.mark.parametrize(
    ("span", "window"),
    [
        (YearSpan(7, 15, 9, 15), (date(2026, 5, 6), date(2026, 5, 20), date(2026, 6, 24))),
        (YearSpan(12, 1, 2, 28), (date(2026, 9, 22), date(2026, 10, 6), date(2026, 11, 10))),
    ],
    ids=["north", "south"],
)
def test_preparation_for_the_hot_season_follows_the_site_and_not_the_month(
    trade: Any, span: YearSpan, window: tuple[date, date, date]
) -> None:
    (task,) = trade.plan(at_site_with(trade, span), season_rule(trade)).tasks
    assert (task.earliest, task.due, task.latest) == window
    assert task.occurrence == f"season:hot:before:2026-{span.first_month:02}-{span.first_day:02}"
    assert not trade.plan(trade.rows(), season_rule(trade)).tasks, "no season on record, no preparation"


def test_a_missed_preparation_is_past_its_limit_until_the_season_is_over(trade: Any) -> None:
    rows = at_site_with(trade, YearSpan(5, 15, 9, 15))
    (task,) = trade.plan(rows, season_rule(trade)).tasks
    assert (task.state, trade.day_of(trade.plan(rows, season_rule(trade)), task)) == (TaskState.PAST_LIMIT, trade.today)
    assert not trade.plan(rows, season_rule(trade), today=date(2026, 9, 16), days=60).tasks


@pytest.mark.parametrize(
    ("came", "due"),
    [
        (date(2026, 4, 20), date(2026, 4, 24)),
        (date(2026, 5, 4), date(2026, 5, 18)),
        (date(2026, 5, 18), date(2026, 6, 1)),
        (date(2026, 9, 10), None),
    ],
    ids=["before the window closed", "between window and season", "in the season", "too late in the season"],
)
@pytest.mark.parametrize("told_by", ["installed", "placed", "on duty"])
def test_a_device_that_came_too_late_for_the_preparation_is_made_ready_within_two_weeks(
    trade: Any, came: date, due: date | None, told_by: str
) -> None:
    """The season begins on 15 May, the window closes on 24 April, two weeks are our own rule: nobody was late with a
    device that was not there."""
    rows = at_site_with(trade, YearSpan(5, 15, 9, 15))
    if told_by == "installed":
        rows = replace(rows, devices=(replace(rows.devices[0], installed=came),))
    else:
        rows = replace(rows, duties=(replace(rows.duties[0], since=came),))
    if told_by == "placed":
        rows = replace(rows, placements=(Placement("C1", Where.BESIDE_TANK, came, room="R"),))
    tasks = trade.plan(rows, season_rule(trade), today=max(came, trade.today), days=60).tasks
    assert [task.latest for task in tasks] == ([] if due is None else [due])
    if came == date(2026, 5, 18):
        assert tasks[0].cause.text == "In use since 18 May 2026; the hot season lasts until 15 September 2026."
        assert tasks[0].state is not TaskState.PAST_LIMIT


def test_a_device_moved_within_its_duty_is_not_new_to_the_season(trade: Any) -> None:
    rows = at_site_with(trade, YearSpan(5, 15, 9, 15))
    moved = replace(rows, placements=(Placement("C1", Where.BESIDE_TANK, date(2026, 5, 18), room="R"),))
    for some in (rows, moved):
        (task,) = trade.plan(some, season_rule(trade)).tasks
        assert (task.latest, task.state) == (date(2026, 4, 24), TaskState.PAST_LIMIT)


def test_preparation_inside_its_window_is_done_for_that_season(trade: Any) -> None:
    rows = at_site_with(trade, YearSpan(7, 15, 9, 15), history=(trade.done(date(2026, 5, 7), "prepare"),))
    assert not trade.plan(rows, season_rule(trade)).tasks


def test_the_season_lays_the_next_interval_into_its_window(trade: Any) -> None:
    """One job serves both: the measurement due every three months is made when the season asks for it."""
    rule = season_rule(trade, interval=trade.interval(1, 3, 6, "month"), tolerance=Tolerance.B)
    rows = at_site_with(trade, YearSpan(7, 15, 9, 15), history=(trade.done(date(2026, 5, 1), "prepare"),))
    first, second, *_ = trade.tasks(trade.plan(rows, rule), "prepare")
    assert date(2026, 5, 6) <= first.earliest <= first.due <= first.latest <= date(2026, 6, 24)
    assert "hot season" in first.cause.text
    assert second.due > date(2026, 8, 1)


def taken_up(trade: Any, tanks: int = 1) -> RegisterRows:
    """A site without any work on record, taken up five days into its hot season."""
    return at_site_with(trade, YearSpan(5, 15, 9, 15), history=(), tanks=tanks)


def test_a_site_that_is_taken_up_too_late_for_its_season_has_missed_nothing(trade: Any) -> None:
    """Nothing is late on the first day, and not everything is due on one: from one to three weeks (our own rule)."""
    rows = taken_up(trade, tanks=40)
    plan = trade.plan(rows, season_rule(trade))
    ahead = [(task.due - trade.today).days for task in plan.tasks]
    assert min(ahead) >= 7
    assert max(ahead) < 21
    assert len(set(ahead)) > 8
    assert {task.cause.text for task in plan.tasks} == {
        "Never recorded; before the hot season, which begins on 15 May 2026."
    }


def test_a_site_that_is_taken_up_in_the_last_days_of_its_season_is_not_made_ready_after_it(trade: Any) -> None:
    """From 5 September one to three weeks lead from the 12th to the 25th, and the season ends on the 15th."""
    plan = trade.plan(taken_up(trade, tanks=40), season_rule(trade), today=date(2026, 9, 5), days=60)
    dues = {task.due for task in plan.tasks}
    assert dues
    assert max(dues) <= date(2026, 9, 15)


def test_and_what_was_planned_for_it_becomes_late_like_any_work(trade: Any) -> None:
    rows = taken_up(trade)
    plan = trade.plan(rows, season_rule(trade))
    (first,) = plan.tasks
    worked = replace(rows, history=(trade.done(date(2026, 5, 21), "press-test", "G"),))
    for later in (date(2026, 5, 20), date(2026, 5, 22), date(2026, 6, 30)):
        plan = trade.plan(worked, season_rule(trade), previous=plan, today=later)
        assert [(task.key, task.due) for task in plan.tasks] == [(first.key, first.due)]
    assert plan.tasks[0].state is TaskState.PAST_LIMIT


def test_work_that_comes_back_anyhow_is_not_called_to_a_day_that_was_past_before_it_was_planned(trade: Any) -> None:
    rule = season_rule(trade, interval=trade.interval(1, 3, 6, "month"), tolerance=Tolerance.B)
    rows = at_site_with(trade, YearSpan(7, 1, 9, 15), tanks=20)  # aimed at 6 May, until 10 June
    plan = trade.plan(rows, rule)
    assert all(task.due >= trade.today for task in plan.tasks)
    before = trade.plan(rows, rule, today=date(2026, 5, 1))
    later = trade.plan(rows, rule, previous=before)
    kept = trade.first(before, "prepare")
    assert kept.due <= date(2026, 5, 6)
    assert trade.first(later, "prepare").due == kept.due, "planned before that day, it is late"
