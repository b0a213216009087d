"""What a client, a site or one tank has of its own: intervals, minutes and switches set by a person, with a reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.errors import BadInput, NotAllowed
from fleet.values.catalogue import Factor, Interval, Selector, Span
from fleet.values.overrides import RuleOverride
from fleet.values.register import Closure, RegisterRows
from fleet.values.vocabulary import SubjectKind, Tolerance

DONE = date(2026, 5, 4)


def days(shortest: int, usual: int, longest: int) -> Interval:
    return Interval(Span(shortest, "day"), Span(usual, "day"), Span(longest, "day"))


def own(scope: str = "", **changes: Any) -> RuleOverride:
    return replace(RuleOverride("clean-screen", scope, set_by="Ida Lund", reason="salt on the fins"), **changes)


def two_chillers(trade: Any) -> RegisterRows:
    rows: RegisterRows = trade.rows(tanks=2, history=(trade.done(DONE), trade.done(DONE, subject="C2")))
    return rows


def test_an_own_interval_is_told_with_who_and_why(trade: Any) -> None:
    rule = trade.rule(interval=days(7, 60, 90))
    plan = trade.plan(two_chillers(trade), rule, overrides=(own("C1", interval=days(7, 30, 90)),))
    first, other = trade.first(plan), trade.first(plan, subject="C2")
    assert (first.due, first.interval_days) == (DONE + timedelta(days=30), 30.0)
    assert first.cause.text == (
        "Every 30 days, last done on 4 May 2026. "
        "Interval 30 days instead of 60, set by Ida Lund for C1: salt on the fins."
    )
    assert [(one.name, one.multiplier) for one in first.factors] == [("own-interval", 0.5)]
    assert (other.due, other.cause.text) == (DONE + timedelta(days=60), "Every 60 days, last done on 4 May 2026.")


def test_the_most_specific_scope_wins(trade: Any) -> None:
    scopes = ("", "CL", "S", "R", "T1", "C1")
    every = [own(scope, interval=days(1, 20 + number, 90)) for number, scope in enumerate(scopes)]
    for known in range(1, len(scopes) + 1):
        plan = trade.plan(two_chillers(trade), trade.rule(), overrides=tuple(reversed(every[:known])))
        assert trade.first(plan).interval_days == 20 + known - 1, scopes[known - 1]
    assert trade.first(plan, subject="C2").interval_days == 23, (
        "the room's: the tank's and the chiller's are not its own"
    )


def test_each_of_interval_minutes_and_switch_comes_from_the_nearest_that_says_something(trade: Any) -> None:
    overrides = (own("S", interval=days(7, 20, 90)), own("T1", minutes=45))
    plan = trade.plan(two_chillers(trade), trade.rule(), overrides=overrides)
    assert (trade.first(plan).interval_days, trade.first(plan).minutes) == (20.0, 45)
    assert trade.first(plan).cause.text.endswith("45 minutes instead of 10, set by Ida Lund for T1: salt on the fins.")
    assert trade.first(plan, subject="C2").minutes == 10


def test_what_is_switched_off_makes_no_task_and_can_be_on_for_one(trade: Any) -> None:
    plan = trade.plan(two_chillers(trade), trade.rule(), overrides=(own("S", active=False), own("C2")))
    assert not trade.tasks(plan)
    assert trade.tasks(plan, subject="C2")


def test_conditions_still_move_an_own_interval_inside_its_own_bounds(trade: Any) -> None:
    rows = two_chillers(trade)
    rows = replace(rows, rooms=(replace(rows.rooms[0], conditions=("dust",)),))
    rule = trade.rule(factors=(Factor("dust", 0.7),))
    loose, strict = (
        trade.first(trade.plan(rows, rule, overrides=(own("C1", interval=interval),))).interval_days
        for interval in (days(7, 30, 90), days(30, 30, 30))
    )
    assert (loose, strict) == (21.0, 30.0)


def test_an_own_switch_of_an_event_s_task_counts_too(trade: Any) -> None:
    from fleet.values.catalogue import EventTrigger

    trigger = EventTrigger("closure", Span(3, "day"), lead=Span(7, "day"))
    rule = trade.rule(selector=Selector(SubjectKind.SITE), interval=None, events=(trigger,))
    rows = trade.rows(closures=(Closure("S", date(2026, 7, 20), date(2026, 8, 3)),))
    longer = trade.plan(rows, rule, overrides=(own("CL", minutes=90),))
    assert [task.minutes for task in longer.tasks] == [90]
    assert not trade.plan(rows, rule, overrides=(own("CL", active=False),)).tasks


LIFE_SAFETY = {"tolerance": Tolerance.A0}


@pytest.mark.parametrize(
    ("override", "words"),
    [
        (own("S", active=False), "clean-screen for S: life-safety work (class A0) cannot be switched off"),
        (
            own("", interval=Interval(Span(1, "week"), Span(5, "week"), Span(8, "week"))),
            "clean-screen for all, interval: 1/5/8 weeks: expected none longer than 1/4/8 weeks, "
            "for life-safety work (class A0) is never lengthened",
        ),
        (
            own("C1", interval=days(7, 28, 57)),
            "clean-screen for C1, interval: 7/28/57 days: expected none longer than 1/4/8 weeks, "
            "for life-safety work (class A0) is never lengthened",
        ),
    ],
    ids=["off", "a longer usual interval", "a longer longest interval"],
)
def test_life_safety_work_is_never_switched_off_or_lengthened(trade: Any, override: RuleOverride, words: str) -> None:
    with pytest.raises(NotAllowed) as refused:
        trade.plan(two_chillers(trade), trade.rule(**LIFE_SAFETY), overrides=(override,))
    assert str(refused.value) == words


def test_life_safety_work_may_be_done_more_often(trade: Any) -> None:
    plan = trade.plan(two_chillers(trade), trade.rule(**LIFE_SAFETY), overrides=(own("C1", interval=days(7, 14, 21)),))
    assert [task.due for task in trade.tasks(plan)][:2] == [DONE + timedelta(days=14), DONE + timedelta(days=28)]
    assert [task.interval_days for task in trade.tasks(plan)][:2] == [14.0, 14.0]


@pytest.mark.parametrize(
    ("override", "changes", "words"),
    [
        (own(minutes=0), {}, "clean-screen for all, minutes: 0: expected 1 to 480"),
        (
            own(interval=days(30, 20, 90)),
            {},
            "clean-screen for all, interval: 30/20/90 days: expected the shortest first, then the usual, "
            "then the longest",
        ),
        (
            own(interval=days(10, 20, 90)),
            {"interval": None},
            "clean-screen for all, interval: 10/20/90 days: expected none, for this task does not come back by an "
            "interval",
        ),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line(
    trade: Any, override: RuleOverride, changes: Any, words: str
) -> None:
    with pytest.raises(BadInput) as refused:
        trade.plan(trade.rows(), trade.rule(**changes), overrides=(override,))
    assert str(refused.value) == words


def test_an_override_of_what_is_no_longer_in_the_catalogue_or_on_record_is_passed_over(trade: Any) -> None:
    strangers = (replace(own(active=False), rule="no-such-task"), own("NOBODY", active=False))
    assert trade.plan(two_chillers(trade), trade.rule(), overrides=strangers) == trade.plan(
        two_chillers(trade), trade.rule()
    )
