"""Who makes a visit, with whom, and when they eat."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.travel import travel_minutes
from fleet.values.plan import Plan, Visit
from fleet.values.register import Absence, Device, Duty, RegisterRows, Room, Tank
from fleet.values.vocabulary import DeviceKind, Skill, TankKind, Tolerance

ZONE = ZoneInfo("America/New_York")
LONG_AGO = date(2026, 4, 22)


def sites_in_a_row(trade: Any, number: int, **of_site: Any) -> RegisterRows:
    """Sites 11 km apart, each with one tank and one chiller that was cleaned four weeks ago."""
    plain = trade.rows(tanks=0)
    sites = tuple(
        trade.site(code=f"S{n}", name=f"Site {n}", latitude=40.0 + n / 10, longitude=-75.0, **of_site)
        for n in range(number)
    )
    return replace(
        plain,
        sites=sites,
        rooms=tuple(Room(f"R{n}", f"S{n}", "Room", 26.0) for n in range(number)),
        tanks=tuple(
            Tank(f"T{n}", f"R{n}", "Tank", TankKind.TROPICAL_FRESH, 1.0, 0.5, 0.5, 25.0) for n in range(number)
        ),
        devices=tuple(Device(f"C{n}", DeviceKind.CHILLER, "Chiller") for n in range(number)),
        duties=tuple(Duty(f"C{n}", f"T{n}", date(2020, 1, 1)) for n in range(number)),
        equipment=(),
        history=tuple(trade.done(LONG_AGO, subject=f"C{n}") for n in range(number)),
    )


def clock(visit: Visit) -> tuple[int, int]:
    """Minutes of the day at which a visit begins and ends on the clock of its site."""
    first, last = (at.astimezone(ZONE) for at in (visit.start, visit.end))
    return first.hour * 60 + first.minute, last.hour * 60 + last.minute


def longest_break(plan: Plan, day: date, within: tuple[int, int], begins: int, ends: int) -> int:
    """The longest stretch of `within` on a day that holds neither a visit nor a drive: found by trying every minute."""
    visits = sorted((clock(visit), visit.site) for visit in plan.visits if visit.day == day)
    free = [minute for minute in range(begins, ends) if not any(a <= minute < b for (a, b), _ in visits)]
    best = 0
    for start in (minute for minute in free if minute >= within[0]):
        minute = start
        while minute < within[1] and minute in free:
            minute += 1
        length = minute - start
        before = [(b, site) for (_, b), site in visits if b <= start]
        after = [(a, site) for (a, _), site in visits if a >= minute]
        if before and after:
            (left, here), (comes, there) = max(before), min(after)
            drive = travel_minutes(
                (40.0 + int(here[1:]) / 10, -75.0), (40.0 + int(there[1:]) / 10, -75.0)
            )  # fmt: skip
            length = min(length, comes - left - drive)
        best = max(best, length)
    return best


@given(
    sites=st.integers(1, 7),
    minutes=st.integers(20, 200),
    lunch=st.integers(15, 60),
    work_to=st.integers(14, 18),
)
@settings(max_examples=40, deadline=None)
def test_a_stated_break_is_left_free_in_the_middle_of_every_day(
    trade: Any, sites: int, minutes: int, lunch: int, work_to: int
) -> None:
    """Between the first and the last quarter of the hours at work: common practice. That a day of more than six hours
    has a break at all: Directive 2003/88/EC, article 4."""
    staff = trade.technician(work_from=time(8), work_to=time(work_to), lunch_minutes=lunch)
    rows = replace(sites_in_a_row(trade, sites), technicians=(staff,))
    plan = trade.plan(rows, trade.rule(minutes=minutes), days=14)
    begins, ends = 8 * 60, work_to * 60
    quarter = (ends - begins) // 4
    assert plan.visits
    for day in {visit.day for visit in plan.visits}:
        assert longest_break(plan, day, (begins + quarter, ends - quarter), begins, ends) >= lunch


def test_without_a_stated_break_visits_follow_each_other(trade: Any) -> None:
    busy = sites_in_a_row(trade, 4)
    rule = trade.rule(minutes=95, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    plain = trade.plan(replace(busy, technicians=(trade.technician(),)), rule, days=0)
    assert len(plain.visits) == 4
    with_lunch = trade.plan(replace(busy, technicians=(trade.technician(lunch_minutes=60),)), rule, days=0)
    assert len(with_lunch.visits) == 3
    assert [one.reason for one in with_lunch.unplaced] == ["CAPACITY"]


def test_a_call_is_not_longer_than_the_time_up_to_the_break_or_from_it(trade: Any) -> None:
    """At work from 8:00 to 16:00, an hour of break by 14:00: at most five hours in one piece, from 8:00 to 13:00."""
    history = tuple(trade.done(LONG_AGO, subject=f"C{n}") for n in range(1, 8))
    staff = trade.technician(work_from=time(8), work_to=time(16), lunch_minutes=60)
    rows = trade.rows(tanks=7, history=history, technicians=(staff,), sites=(trade.site(visit_from=time(8)),))
    plan = trade.plan(rows, trade.rule(minutes=60), days=0)
    assert sorted(visit.minutes for visit in plan.visits) == [120, 300]


def lifting(trade: Any, **changes: Any) -> Any:
    return trade.rule("lift", persons=2, minutes=60, **changes)


def test_two_person_work_is_made_by_two_who_are_free_at_the_same_time(trade: Any) -> None:
    """More than 23 kg is not lifted alone: NIOSH 94-110 (second-hand). The second pair of hands needs no skill."""
    people = (trade.technician("W1"), trade.technician("W2", skills=(Skill.ELECTRICIAN,)))
    rows = trade.rows(history=(trade.done(LONG_AGO, "lift"),), technicians=people)
    (visit,) = trade.plan(rows, lifting(trade), days=0).visits
    assert (visit.technician, visit.second_technician, visit.persons) == ("W1", "W2", 2)


def test_two_person_work_waits_for_the_day_on_which_two_are_there(trade: Any) -> None:
    people = (trade.technician("W1"), trade.technician("W2"))
    away = Absence("W2", date(2026, 5, 1), date(2026, 5, 22))
    rows = trade.rows(history=(trade.done(LONG_AGO, "lift"),), technicians=people, absences=(away,))
    (visit,) = trade.plan(rows, lifting(trade), days=0).visits
    assert (visit.day, {visit.technician, visit.second_technician}) == (date(2026, 5, 22), {"W1", "W2"})


def test_where_nobody_else_can_come_a_second_pair_of_hands_has_yet_to_be_found(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(LONG_AGO, "lift"),))
    plan = trade.plan(rows, lifting(trade), days=0)
    assert [(visit.technician, visit.second_technician, visit.persons) for visit in plan.visits] == [("W1", None, 2)]
    more = replace(rows, technicians=(*rows.technicians, trade.technician("W2")))
    helped = trade.plan(more, lifting(trade), previous=plan, days=0)
    assert [visit.second_technician for visit in helped.visits] == ["W2"]
    assert [change.reason for change in helped.changes.moved] == ["Worker W2 comes as the second"]


@given(sites=st.integers(1, 5), people=st.integers(1, 3), minutes=st.integers(30, 240))
@settings(max_examples=40, deadline=None)
def test_nobody_is_at_two_places_not_even_as_a_second(trade: Any, sites: int, people: int, minutes: int) -> None:
    staff = tuple(trade.technician(f"W{n}") for n in range(people))
    rows = replace(sites_in_a_row(trade, sites), technicians=staff)
    rows = replace(rows, history=tuple(replace(row, task="lift") for row in rows.history))
    plan = trade.plan(rows, lifting(trade, interval=trade.interval(1, 2, 3, "week")), days=40)
    for day in {visit.day for visit in plan.visits}:
        for code in (one.code for one in staff):
            busy = sorted(
                (clock(visit), visit.site)
                for visit in plan.visits
                if visit.day == day and code in (visit.technician, visit.second_technician)
            )
            for ((_, left), here), ((comes, _), there) in pairwise(busy):
                assert comes >= left + (travel_minutes((40.0, -75.0), (40.1, -75.0)) if here != there else 0)
    assert not trade.plan(
        rows, lifting(trade, interval=trade.interval(1, 2, 3, "week")), previous=plan, days=40
    ).changes


@pytest.mark.parametrize("skill", [Skill.REFRIGERATION, Skill.ELECTRICIAN])
def test_licensed_work_never_goes_to_somebody_whose_licence_ends_before_its_day(trade: Any, skill: Skill) -> None:
    """Two licensed people; the nearer one's licence ends during the plan."""
    ends = trade.today + timedelta(days=60)
    near = trade.technician("NEAR", skills=(skill,), licence_until=ends, base_latitude=40.0, base_longitude=-75.0)
    far = trade.technician(
        "FAR", skills=(skill,), licence_until=date(2030, 1, 1), base_latitude=41.0, base_longitude=-75.0
    )
    site = trade.site(latitude=40.0, longitude=-75.0)
    rows = trade.rows(history=(trade.done(LONG_AGO),), technicians=(near, far), sites=(site,))
    plan = trade.plan(rows, trade.rule(skill=skill), days=180)
    assert {visit.technician for visit in plan.visits} == {"NEAR", "FAR"}
    assert all((visit.technician == "NEAR") == (visit.day <= ends) for visit in plan.visits)


def test_refrigeration_work_never_goes_to_a_keeper_however_late_it_is(trade: Any) -> None:
    """Only certified people open a circuit: 40 CFR part 82, subpart F (second-hand)."""
    rows = trade.rows(history=(trade.done(date(2020, 1, 1)),))
    plan = trade.plan(rows, trade.rule(skill=Skill.REFRIGERATION), days=100)
    assert not plan.visits
    assert {one.reason for one in plan.unplaced} == {"SKILL_MISSING"}
