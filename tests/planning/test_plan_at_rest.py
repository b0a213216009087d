"""Planning again without news: what was moved, joined or called for once is found again and not moved once more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.catalogue import EventTrigger, SeasonWindow, Span
from fleet.values.register import Closure, Event, Load, RegisterRows, YearSpan
from fleet.values.vocabulary import EventKind, LoadKind, SubjectKind, TaskState, Tolerance

WITHIN_A_WEEK = Span(7, "day")
SUMMER = YearSpan(7, 1, 9, 15)
BEFORE_SUMMER = SeasonWindow("hot", "before", 10, 8, 3)


def test_a_first_due_day_is_kept_though_the_work_was_pulled_forward_for_what_waits_for_it(trade: Any) -> None:
    """Never recorded, and wanted sooner because another task waits for it: next time the same happens from the same
    day, and what an event adds to it is still told."""
    rows = trade.rows(
        tanks=12,
        sites=(trade.site(hot_seasons=(SUMMER,)),),
        events=tuple(Event(f"C{number}", EventKind.MOVED, date(2026, 6, number)) for number in range(1, 13)),
    )
    rules = [
        trade.rule(interval=trade.interval(4, 8, 12, "week"), events=(EventTrigger("moved", WITHIN_A_WEEK),)),
        trade.rule("prepare", interval=None, seasons=(BEFORE_SUMMER,), prerequisites=("clean-screen",)),
    ]
    plan = trade.plan(rows, *rules)
    assert any(task.due.isoformat() != task.cause.numbers["first_due"] for task in trade.plan(rows, rules[0]).tasks
               if "first_due" in task.cause.numbers)  # fmt: skip
    for _ in range(3):
        again = trade.plan(rows, *rules, previous=plan)
        assert again.tasks == plan.tasks
        plan = again


def test_a_season_s_task_takes_no_old_event_with_it_the_second_time(trade: Any) -> None:
    """An event 60 days ago that nobody acted on made no task; that a task before the season is planned is no reason to
    dig it up."""
    rows = trade.rows(
        sites=(trade.site(hot_seasons=(SUMMER,)),),
        events=(Event("T1", EventKind.STORM, trade.today - timedelta(days=60)),),
    )
    rule = trade.rule(
        selector=trade.on(SubjectKind.TANK), interval=None, seasons=(BEFORE_SUMMER,),
        events=(EventTrigger("storm", WITHIN_A_WEEK),),
    )  # fmt: skip
    rows = replace(rows, history=(trade.done(date(2026, 5, 1), "fins"),))
    plan = trade.plan(rows, rule)
    again = trade.plan(rows, rule, previous=plan)
    assert [task.cause.text for task in again.tasks] == ["Before the hot season, which begins on 1 July 2026."]
    assert again.tasks == plan.tasks


def test_what_follows_late_work_keeps_its_last_day_though_a_season_called_it_forward(trade: Any) -> None:
    """Measured every two months, a year late, and wanted 8 weeks before a season: the second time is called forward,
    and how long it may wait is counted from the interval's own day each time."""
    rows = trade.rows(
        sites=(trade.site(hot_seasons=(YearSpan(9, 1, 11, 30),)),), history=(trade.done(date(2025, 6, 27)),)
    )
    rule = trade.rule(interval=trade.interval(1, 2, 6, "month"), seasons=(BEFORE_SUMMER,))
    plan = trade.plan(rows, rule)
    called = next(task for task in plan.tasks if "own_due" in task.cause.numbers)
    assert called.due.isoformat() < called.cause.numbers["own_due"]
    assert trade.plan(rows, rule, previous=plan).tasks == plan.tasks


@pytest.mark.parametrize("comes_back", [True, False])
def test_what_an_event_called_for_stays_called_for_however_long_it_is_left(trade: Any, comes_back: bool) -> None:
    rows = trade.rows(events=(Event("C1", EventKind.MOVED, trade.today),))
    interval = trade.interval(3, 6, 12, "month") if comes_back else None
    rule = trade.rule(interval=interval, events=(EventTrigger("moved", WITHIN_A_WEEK),))
    plan = trade.plan(rows, rule)
    first = trade.first(plan)
    assert first.cause.text == "Moved at C1 on 20 May 2026."
    for days in (10, 46, 47, 48, 49, 90, 200):
        plan = trade.plan(rows, rule, previous=plan, today=trade.today + timedelta(days=days))
        task = plan.task_by_key[first.key]
        assert (task.due, task.cause.text) == (first.due, first.cause.text)
    assert task.state is TaskState.PAST_LIMIT
    fresh = trade.plan(rows, rule, today=trade.today + timedelta(days=60))
    assert all("Moved" not in task.cause.text for task in fresh.tasks), "what no plan ever had is let go after 40 days"


days_near = st.integers(-50, 60).map(lambda days: date(2026, 5, 20) + timedelta(days=days))


@given(
    events=st.lists(
        st.tuples(st.sampled_from(["C1", "C2", "T1", "S"]), st.sampled_from(list(EventKind)), days_near),
        max_size=6,
        unique=True,
    ),
    done=st.lists(
        st.tuples(st.sampled_from(["clean-screen", "fins", "review"]), st.sampled_from(["C1", "C2", "T1"]), days_near),
        max_size=6,
        unique=True,
    ),
    lamps=st.lists(days_near, max_size=3, unique=True).map(sorted),
    closed=st.lists(days_near, max_size=2, unique=True),
    season=st.sampled_from([(), (SUMMER,), (YearSpan(6, 1, 6, 30), YearSpan(8, 1, 8, 31)), (YearSpan(12, 1, 2, 28),)]),
    order=st.randoms(use_true_random=False),
)
@settings(max_examples=60, deadline=None)
def test_planning_again_from_any_facts_changes_nothing_and_their_order_does_not_matter(
    trade: Any, events: Any, done: Any, lamps: Any, closed: Any, season: Any, order: Any
) -> None:
    powers = [100.0 + 50 * number for number in range(len(lamps) + 1)]
    spans = zip([date(2025, 1, 1), *lamps], [*lamps, None], powers, strict=True)
    rows = trade.rows(
        tanks=2,
        sites=(trade.site(hot_seasons=season),),
        events=tuple(Event(*one) for one in events),
        history=tuple(trade.done(day, task, subject) for task, subject, day in done if day <= trade.today),
        loads=tuple(Load("T1", "lamp", LoadKind.LIGHT, power, since, until=until) for since, until, power in spans),
        closures=tuple(Closure("S", day, day + timedelta(days=5)) for day in closed),
    )
    rules = [
        trade.rule(events=(EventTrigger("moved", WITHIN_A_WEEK), EventTrigger("storm", WITHIN_A_WEEK))),
        trade.rule("fins", interval=trade.interval(3, 6, 12, "month"), seasons=(BEFORE_SUMMER,),
                   prerequisites=("clean-screen",)),
        trade.rule("review", selector=trade.on(SubjectKind.TANK), interval=None, tolerance=Tolerance.A,
                   events=(EventTrigger("lights-changed", WITHIN_A_WEEK, (Span(30, "day"),)),
                           EventTrigger("outage", WITHIN_A_WEEK))),
        trade.rule("hand-over", selector=trade.on(SubjectKind.SITE), interval=None,
                   events=(EventTrigger("closure", Span(3, "day"), lead=WITHIN_A_WEEK, longer_than_days=3),)),
    ]  # fmt: skip
    plan = trade.plan(rows, *rules)
    again = trade.plan(rows, *rules, previous=plan)
    assert again.tasks == plan.tasks
    assert again.visits == plan.visits
    assert not again.changes
    shuffled = RegisterRows(
        **{name: tuple(order.sample(getattr(rows, name), len(getattr(rows, name))))
           for name in RegisterRows.__dataclass_fields__}
    )  # fmt: skip
    assert replace(trade.plan(shuffled, *reversed(rules)), changes=plan.changes) == plan
