"""Long calls: where they are cut, and what stays where it was."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, time, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.catalogue import Selector
from fleet.values.plan import Plan
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import Skill, SubjectKind, Tolerance


def busy(trade: Any, tanks: int, minutes: tuple[int, ...], **changes: Any) -> tuple[RegisterRows, list[Any]]:
    """Every device is due for as many tasks as there are `minutes`, on one day."""
    rules = [
        trade.rule(f"work-{n}", minutes=some, order=10 * n, interval=trade.interval(2, 4, 8, "week"))
        for n, some in enumerate(minutes, 1)
    ]
    history = tuple(trade.done(date(2026, 4, 22), rule.id, f"C{n}") for rule in rules for n in range(1, tanks + 1))
    return trade.rows(tanks=tanks, history=history, **changes), rules


def hands(plan: Plan) -> dict[tuple[str, date], set[str]]:
    """The visits that hold work on each subject, by day."""
    held: dict[tuple[str, date], set[str]] = defaultdict(set)
    for visit in plan.visits:
        for key in visit.tasks:
            held[plan.task_by_key[key].subject, visit.day].add(visit.key)
    return held


def test_a_long_visit_is_cut_between_devices_and_never_inside_one(trade: Any) -> None:
    """Six chillers of two hours each, and two people: flush and descale of one chiller are one person's work."""
    rows, rules = busy(trade, 6, (40, 80), technicians=(trade.technician("W1"), trade.technician("W2")))
    plan = trade.plan(rows, *rules, days=0)
    assert [visit.minutes for visit in plan.visits] == [360, 360]
    assert all(len(visits) == 1 for visits in hands(plan).values())
    for visit in plan.visits:
        subjects = [plan.task_by_key[key].subject for key in visit.tasks]
        assert all(subjects.count(one) == 2 for one in subjects)


def test_what_is_longer_than_a_call_goes_on_another_day_in_working_order(trade: Any) -> None:
    """The site is open for two hours; its chiller needs three and a half. Dry work first: common practice."""
    open_hours = trade.site(visit_from=time(9), visit_to=time(11))
    rows, rules = busy(trade, 1, (40, 40, 90, 40), sites=(open_hours,))
    plan = trade.plan(rows, *rules, days=0)
    assert [visit.minutes for visit in plan.visits] == [80, 90, 40]
    assert len({visit.day for visit in plan.visits}) == 3
    assert [plan.task_by_key[key].order for visit in plan.visits for key in visit.tasks] == [10, 20, 30, 40]
    assert all(visit.technician == "W1" for visit in plan.visits)


def test_where_there_is_no_other_day_what_a_day_holds_of_a_device_is_done_and_the_rest_is_told(trade: Any) -> None:
    """80 and 90 min of work on one device, and two hours in which the site can be visited."""
    open_hours = trade.site(visit_from=time(9), visit_to=time(11))
    rows, rules = busy(trade, 1, (80, 90), sites=(open_hours,))
    tight = [replace(rule, tolerance=Tolerance.A0) for rule in rules]
    plan = trade.plan(rows, *tight, days=0)
    assert [(visit.minutes, visit.technician) for visit in plan.visits] == [(80, "W1")]
    assert [(plan.task_by_key[one.key].minutes, one.reason) for one in plan.unplaced] == [(90, "CAPACITY")]


def test_an_electrician_and_a_keeper_do_not_work_on_one_device_at_once(trade: Any) -> None:
    people = (trade.technician("W1"), trade.technician("E1", skills=(Skill.ELECTRICIAN,)))
    rows, rules = busy(trade, 1, (60, 60), technicians=people)
    plan = trade.plan(rows, rules[0], replace(rules[1], skill=Skill.ELECTRICIAN), days=0)
    first, second = sorted(plan.visits, key=lambda visit: visit.start)
    assert first.day == second.day
    assert {first.technician, second.technician} == {"W1", "E1"}
    assert first.end <= second.start
    elsewhere = replace(rules[1], skill=Skill.ELECTRICIAN, selector=Selector(SubjectKind.TANK))
    apart = replace(rows, history=(*rows.history, trade.done(date(2026, 4, 22), "work-2", "T1")))
    assert len({visit.start for visit in trade.plan(apart, rules[0], elsewhere, days=0).visits}) == 1


@given(
    tanks=st.integers(1, 7),
    minutes=st.lists(st.sampled_from([20, 60, 130, 200]), min_size=1, max_size=4),
    closes=st.sampled_from([11, 13, 17]),
    people=st.integers(1, 3),
    ahead=st.integers(0, 5),
)
@settings(max_examples=40, deadline=None)
def test_no_device_is_in_two_hands_on_one_day(
    trade: Any, tanks: int, minutes: list[int], closes: int, people: int, ahead: int
) -> None:
    rows, rules = busy(
        trade, tanks, tuple(minutes),
        sites=(trade.site(visit_from=time(9), visit_to=time(closes)),),
        technicians=tuple(trade.technician(f"W{n}") for n in range(people)),
    )  # fmt: skip
    plan = trade.plan(rows, *rules, days=60)
    today = trade.today + timedelta(days=ahead)
    later = trade.plan(rows, *rules, previous=plan, today=today, days=60)
    for one in (plan, later):
        assert all(len(visits) == 1 for visits in hands(one).values())
    assert not trade.plan(rows, *rules, previous=later, today=today, days=60).changes


@pytest.mark.parametrize("gone", [0, 1, 2])
def test_a_visit_that_was_done_lends_nothing_to_the_others_of_its_day(trade: Any, gone: int) -> None:
    """Three visits to one site on one day, for want of another. One is done: the two others stay two, each with its
    key, its hour and its technician, though one person could now make both in one go."""
    people = tuple(trade.technician(f"W{n}") for n in range(3))
    rows, rules = busy(trade, 6, (100,), technicians=people)
    tight = [replace(rule, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week")) for rule in rules]
    short_day = trade.site(visit_from=time(9), visit_to=time(13))
    rows = replace(rows, sites=(short_day,))
    plan = trade.plan(rows, *tight, days=0)
    assert [visit.minutes for visit in plan.visits] == [200, 200, 200]
    assert {visit.technician for visit in plan.visits} == {"W0", "W1", "W2"}
    finished = plan.visits[gone]
    done = tuple(
        trade.done(trade.today, plan.task_by_key[key].rule, plan.task_by_key[key].subject) for key in finished.tasks
    )
    whole_day = replace(rows, history=(*rows.history, *done), sites=(trade.site(visit_from=time(9)),))
    later = trade.plan(whole_day, *tight, previous=plan, days=0)
    assert list(later.visits) == [visit for visit in plan.visits if visit.key != finished.key]
