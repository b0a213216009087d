"""Visits: who, when, in what order, and what cannot be placed.

Long because bundling, splitting and order are properties of the same visits.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.travel import EARTH_RADIUS_KM, great_circle_km, travel_minutes
from fleet.values.catalogue import EventTrigger, Selector, Span
from fleet.values.plan import Plan
from fleet.values.register import Absence, Closure, Equipment, Event, RegisterRows, Room, Tank
from fleet.values.vocabulary import (
    EquipmentKind,
    EventKind,
    Health,
    PerformedBy,
    Skill,
    SubjectKind,
    TankKind,
    Tolerance,
)


@pytest.mark.parametrize(
    ("one", "other", "km", "source"),
    [
        ((0.0, 0.0), (90.0, 0.0), math.pi / 2 * EARTH_RADIUS_KM, "a quarter of a great circle"),
        ((10.0, 20.0), (-10.0, -160.0), math.pi * EARTH_RADIUS_KM, "antipodes"),
        (
            (33.95, -118.40), (40.633333, -73.783333), 0.623585 * EARTH_RADIUS_KM,
            "E. Williams, Aviation Formulary, worked example LAX to JFK: 0.623585 rad (from memory)",
        ),
    ],
)  # fmt: skip
def test_great_circle(one: tuple[float, float], other: tuple[float, float], km: float, source: str) -> None:
    assert great_circle_km(one, other) == pytest.approx(km, rel=2e-5), source


def test_driving_is_slower_than_the_straight_line_and_takes_parking() -> None:
    """30 km apart: 30 × 1.3 / 45 h = 52 min, and 10 min for parking (common practice)."""
    north = (math.degrees(30 / EARTH_RADIUS_KM), 0.0)
    assert travel_minutes((0.0, 0.0), north) == 62
    assert travel_minutes((0.0, 0.0), (0.0, 0.0)) == travel_minutes(None, north) == 0


@st.composite
def some_fleets(draw: st.DrawFn) -> tuple[int, list[tuple[int, int]], list[tuple[int, int]], tuple[int, ...]]:
    tanks = draw(st.integers(1, 5))
    history = draw(st.lists(st.tuples(st.integers(1, tanks), st.integers(0, 200)), max_size=12, unique=True))
    closures = draw(st.lists(st.tuples(st.integers(0, 120), st.integers(1, 40)), max_size=2))
    weekdays = draw(st.lists(st.integers(0, 6), max_size=4, unique=True))
    return tanks, history, closures, tuple(sorted(weekdays))


def built(trade: Any, drawn: tuple[Any, ...]) -> RegisterRows:
    tanks, history, closures, weekdays = drawn
    return trade.rows(
        tanks=tanks,
        history=tuple(trade.done(trade.today - timedelta(days=ago), subject=f"C{n}") for n, ago in history),
        closures=tuple(
            Closure("S", trade.today + timedelta(days=ahead), trade.today + timedelta(days=ahead + length))
            for ahead, length in closures
        ),
        sites=(trade.site(visit_days=weekdays),),
    )


def rules(trade: Any, minutes: int = 90) -> list[Any]:
    return [
        trade.rule(),
        trade.rule("fins", skill=Skill.TECHNICIAN, minutes=minutes, interval=trade.interval(3, 6, 12, "month")),
        trade.rule(
            "wiring", skill=Skill.ELECTRICIAN, tolerance=Tolerance.A0, interval=trade.interval(1, 2, 2, "month")
        ),
        trade.rule("look", performed_by=PerformedBy.SITE_STAFF, interval=trade.interval(1, 1, 2, "day")),
    ]


def check(plan: Plan, rows: RegisterRows) -> None:
    """What must hold of every plan, found out without the planner's own code."""
    held = [key for visit in plan.visits for key in visit.tasks]
    unplaced = [one.key for one in plan.unplaced]
    wanted = [task.key for task in plan.tasks if task.performed_by is PerformedBy.VISITOR]
    assert sorted(held + unplaced) == sorted(wanted), "no task lost or doubled"
    weekdays = rows.sites[0].visit_days or (0, 1, 2, 3, 4)
    for visit in plan.visits:
        assert visit.day.weekday() in weekdays
        assert not any(one.since <= visit.day and (one.until is None or visit.day < one.until) for one in rows.closures)
        assert visit.minutes == sum(plan.task_by_key[key].minutes for key in visit.tasks)
        assert visit.end - visit.start == timedelta(minutes=visit.minutes)
        assert len({plan.task_by_key[key].skill is Skill.ELECTRICIAN for key in visit.tasks}) == 1
        for key in visit.tasks:
            task = plan.task_by_key[key]
            assert task.visit == visit.key
            assert visit.day >= plan.today
            if task.latest >= plan.today:
                assert task.earliest <= visit.day <= task.latest


@given(drawn=some_fleets())
@settings(max_examples=40, deadline=None)
def test_every_plan_keeps_windows_and_open_days_and_loses_nothing(trade: Any, drawn: tuple[Any, ...]) -> None:
    rows = built(trade, drawn)
    check(trade.plan(rows, *rules(trade), days=120), rows)


@given(
    drawn=some_fleets(),
    days_later=st.integers(0, 40),
    done=st.integers(0, 10),
    minutes=st.sampled_from([10, 90, 200, 500]),
)
@settings(max_examples=60, deadline=None)
def test_so_does_every_plan_made_on_top_of_another(
    trade: Any, drawn: tuple[Any, ...], days_later: int, done: int, minutes: int
) -> None:
    rows = built(trade, drawn)
    plan = trade.plan(rows, *rules(trade, minutes), days=120)
    finished = plan.tasks[done % len(plan.tasks)]
    today = trade.today + timedelta(days=days_later)
    rows = replace(rows, history=(*rows.history, trade.done(today, finished.rule, finished.subject)))
    later = trade.plan(rows, *rules(trade, minutes), previous=plan, today=today, days=120)
    check(later, rows)
    again = trade.plan(rows, *rules(trade, minutes), previous=later, today=today, days=120)
    assert not again.changes
    assert (again.tasks, again.visits) == (later.tasks, later.visits)


def test_a_window_without_an_open_day_is_said_in_a_sentence(trade: Any) -> None:
    rule = trade.rule(
        "after-outage", selector=Selector(SubjectKind.SITE), interval=None, tolerance=Tolerance.A0,
        events=(EventTrigger("outage", Span(1, "day")),),
    )  # fmt: skip
    rows = trade.rows(
        events=(Event("S", EventKind.OUTAGE, trade.today),),
        closures=(Closure("S", trade.today, date(2026, 6, 1), "holidays"),),
    )
    plan = trade.plan(rows, rule)
    assert [(one.reason, one.text) for one in plan.unplaced] == [
        (
            "NO_OPEN_DAY",
            "After outage on S: S has no open day from 20 May 2026 to 21 May 2026 (holidays); the next is 1 June 2026.",
        )
    ]


def test_work_due_in_the_holidays_is_brought_forward(trade: Any) -> None:
    """But not sooner after the time before than its shortest interval."""
    closure = Closure("S", date(2026, 6, 22), date(2026, 7, 20), "holidays")
    rows = trade.rows(history=(trade.done(date(2026, 6, 5)),), closures=(closure,))
    rule = trade.rule(interval=trade.interval(2, 4, 5, "week"), tolerance=Tolerance.A)
    plan = trade.plan(rows, rule, today=date(2026, 6, 8), days=60)
    task = trade.first(plan)
    assert task.due == date(2026, 7, 3)
    assert trade.day_of(plan, task) == date(2026, 6, 19), "the last open day"
    soon = trade.rule(interval=trade.interval(3, 4, 5, "week"), tolerance=Tolerance.A)
    assert [one.key for one in trade.plan(rows, soon, today=date(2026, 6, 8), days=30).unplaced] == [task.key]


def test_what_is_past_its_limit_goes_on_the_first_open_day(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(date(2026, 1, 1)),), closures=(Closure("S", trade.today, date(2026, 5, 22)),))
    plan = trade.plan(rows, trade.rule())
    assert trade.day_of(plan, trade.first(plan)) == date(2026, 5, 22)


def test_what_is_past_its_limit_waits_for_the_first_day_somebody_is_at_work(trade: Any) -> None:
    """20 May 2026 is a Wednesday; the technician works on Mondays and Thursdays."""
    staff = trade.technician(work_days=(0, 3))
    rows = trade.rows(history=(trade.done(date(2026, 1, 1)),), technicians=(staff,))
    plan = trade.plan(rows, trade.rule())
    assert [(visit.day, visit.technician) for visit in plan.visits[:1]] == [(date(2026, 5, 21), "W1")]
    gone = replace(rows, absences=(Absence("W1", date(2026, 5, 1)),))
    alone = trade.plan(gone, trade.rule())
    assert not alone.visits, "nobody will be"
    assert {one.reason for one in alone.unplaced} == {"NO_SHIFT_IN_WINDOW"}


def test_work_past_its_limit_does_not_make_the_work_beside_it_late(trade: Any) -> None:
    """The fins are past their limit, and who may clean them works on Mondays; the switch must be tested by Friday."""
    keeper = trade.technician("W1", skills=(Skill.KEEPER,), work_days=(4,))
    history = (trade.done(date(2025, 1, 1)), trade.done(date(2026, 4, 24), "press", "G"))
    rows = trade.rows(history=history, technicians=(keeper, trade.technician("W2", work_days=(0,))))
    press = trade.rule(
        "press", selector=trade.on(SubjectKind.EQUIPMENT), tolerance=Tolerance.A0,
        interval=trade.interval(2, 4, 4, "week"),
    )  # fmt: skip
    plan = trade.plan(rows, trade.rule(skill=Skill.TECHNICIAN), press)
    switch, fins = trade.first(plan, "press", "G"), trade.first(plan)
    assert switch.latest == date(2026, 5, 22)
    assert [trade.day_of(plan, task) for task in (switch, fins)] == [date(2026, 5, 22), date(2026, 5, 25)]


def test_work_before_the_holidays_is_done_while_somebody_is_there(trade: Any) -> None:
    """The last open day is Friday 19 June; the technician's last day at work before it is Thursday."""
    closure = Closure("S", date(2026, 6, 22), date(2026, 7, 20), "holidays")
    staff = trade.technician(work_days=(0, 3))
    rows = trade.rows(history=(trade.done(date(2026, 6, 5)),), closures=(closure,), technicians=(staff,))
    rule = trade.rule(interval=trade.interval(1, 4, 5, "week"), tolerance=Tolerance.A)
    plan = trade.plan(rows, rule, today=date(2026, 6, 8), days=60)
    task = trade.first(plan)
    assert trade.day_of(plan, task) == date(2026, 6, 18)
    assert plan.visit_by_key[task.visit].technician == "W1"


def health_rows(trade: Any) -> RegisterRows:
    rows = trade.rows(tanks=4)
    states = (Health.SICK, Health.CLEAN, Health.QUARANTINE, Health.UNKNOWN)
    tanks = tuple(replace(tank, health=state) for tank, state in zip(rows.tanks, states, strict=True))
    history = tuple(trade.done(date(2026, 4, 22), rule, f"C{n}") for rule in ("wet", "dry") for n in range(1, 5))
    kit = Equipment("KIT", EquipmentKind.FIELD_KIT, "Kit", site="S")
    return replace(rows, tanks=tanks, history=history, equipment=(*rows.equipment, kit))


def test_healthy_systems_come_first_and_protection_is_tested_last(trade: Any) -> None:
    """Order by health: SRAC 4707 and 4708 (second-hand); dry before wet, protection tests last: common practice."""
    first_day = {"interval": trade.interval(4, 4, 4, "week"), "tolerance": Tolerance.C}
    whole_site = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.GFCI,))
    kit = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.FIELD_KIT,))
    rows = health_rows(trade)
    rows = replace(
        rows,
        history=(
            *rows.history,
            trade.done(date(2026, 4, 22), "press", "G"),
            trade.done(date(2026, 4, 22), "disinfect", "KIT"),
        ),
    )
    plan = trade.plan(
        rows,
        trade.rule("wet", order=40, **first_day),
        trade.rule("dry", order=10, **first_day),
        trade.rule("press", order=90, selector=whole_site, **first_day),
        trade.rule("disinfect", order=50, selector=kit, **first_day),
        days=1,
    )
    (visit,) = plan.visits
    order = [(plan.task_by_key[key].rule, plan.task_by_key[key].subject) for key in visit.tasks]
    by_health = [(rule, device) for device in ("C2", "C4", "C3", "C1") for rule in ("dry", "wet")]
    assert order == [*by_health, ("disinfect", "KIT"), ("press", "G")]


def test_a_prerequisite_is_brought_into_the_visit_and_done_first(trade: Any) -> None:
    reference = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.REFERENCE_THERMOMETER,))
    rules = [
        trade.rule("measure", order=30, prerequisites=("ice-point",)),
        trade.rule("ice-point", order=45, selector=reference, interval=trade.interval(6, 12, 12, "month")),
    ]
    thermometer = Equipment("TH", EquipmentKind.REFERENCE_THERMOMETER, "Reference", site="S")
    rows = trade.rows(
        equipment=(thermometer,),
        history=(trade.done(date(2026, 4, 24), "measure"), trade.done(date(2025, 7, 1), "ice-point", "TH")),
    )
    plan = trade.plan(rows, *rules, days=60)
    first = min(plan.visits, key=lambda visit: visit.day)
    assert [plan.task_by_key[key].rule for key in first.tasks] == ["ice-point", "measure"]


def test_a_prerequisite_comes_before_its_task_whatever_their_usual_order(trade: Any) -> None:
    """Screen and fins before descaling, else there is no diagnosis: common practice."""
    rules = [
        trade.rule("descale", order=40, prerequisites=("fins",)),
        trade.rule("fins", order=50),
        trade.rule("level", order=20),
    ]
    history = tuple(trade.done(date(2026, 4, 22), rule.id) for rule in rules)
    (visit,) = (plan := trade.plan(trade.rows(history=history), *rules, days=0)).visits
    assert [plan.task_by_key[key].rule for key in visit.tasks] == ["level", "fins", "descale"]


def test_electricians_and_refrigeration_people_make_visits_of_their_own(trade: Any) -> None:
    done = tuple(trade.done(date(2026, 4, 22), rule) for rule in ("clean", "repair", "wire", "circuit"))
    rows = trade.rows(
        history=done,
        technicians=(
            trade.technician("W1"),
            trade.technician("E1", skills=(Skill.ELECTRICIAN,)),
            trade.technician("R1", skills=(Skill.REFRIGERATION,)),
        ),
    )
    plan = trade.plan(
        rows,
        trade.rule("clean"),
        trade.rule("repair", skill=Skill.TECHNICIAN),
        trade.rule("wire", skill=Skill.ELECTRICIAN),
        trade.rule("circuit", skill=Skill.REFRIGERATION),
        days=1,
    )
    made = {frozenset(plan.task_by_key[key].rule for key in visit.tasks): visit.technician for visit in plan.visits}
    assert made == {
        frozenset({"clean", "repair"}): "W1",
        frozenset({"wire"}): "E1",
        frozenset({"circuit"}): "R1",
    }


@pytest.mark.parametrize(
    ("changes", "able"),
    [
        ({}, True),
        ({"skills": (Skill.TECHNICIAN,)}, False),
        ({"licence_until": date(2026, 5, 20)}, True),
        ({"licence_until": date(2026, 5, 19)}, False),
        ({"work_days": (0, 1, 3, 4)}, False),
    ],
    ids=["able", "no licence", "licence ends that day", "licence ended", "off on Wednesdays"],
)
def test_licensed_work_goes_to_people_with_a_valid_licence_at_work_that_day(
    trade: Any, changes: Any, able: bool
) -> None:
    worker = trade.technician("R1", **{"skills": (Skill.REFRIGERATION,), **changes})
    rule = trade.rule(skill=Skill.REFRIGERATION, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 4, 22)),), technicians=(worker,)), rule, days=0)
    assert [(visit.technician, visit.day) for visit in plan.visits] == ([("R1", trade.today)] if able else [])
    assert len(plan.unplaced) == (0 if able else 1)


def test_a_keeper_does_no_technicians_work_but_a_technician_does_a_keepers(trade: Any) -> None:
    keeper, technician = (
        trade.technician(code, skills=(skill,)) for code, skill in (("A", Skill.KEEPER), ("B", Skill.TECHNICIAN))
    )
    rows = trade.rows(history=(trade.done(date(2026, 4, 22)),), technicians=(keeper,))
    hard = trade.rule(skill=Skill.TECHNICIAN)
    assert [one.reason for one in trade.plan(rows, hard, days=0).unplaced] == ["SKILL_MISSING"]
    assert trade.plan(replace(rows, technicians=(keeper, technician)), hard, days=0).visits[0].technician == "B"
    assert trade.plan(replace(rows, technicians=(technician,)), trade.rule(), days=0).visits[0].technician == "B"


def test_the_nearest_able_technician_goes(trade: Any) -> None:
    rows = trade.rows(
        history=(trade.done(date(2026, 4, 22)),),
        sites=(trade.site(latitude=40.0, longitude=-75.0),),
        technicians=(
            trade.technician("FAR", base_latitude=41.0, base_longitude=-75.0),
            trade.technician("NEAR", base_latitude=40.1, base_longitude=-75.0),
            trade.technician("NOWHERE"),
            trade.technician("OVERSEAS", base_latitude=-38.0, base_longitude=145.0),
        ),
    )
    assert trade.plan(rows, trade.rule(), days=0).visits[0].technician == "NEAR"
    absent = replace(rows, absences=(Absence("NEAR", date(2026, 5, 1), date(2026, 9, 1)),))
    assert trade.plan(absent, trade.rule(), days=0).visits[0].technician == "FAR"
    overseas = replace(rows, technicians=(rows.technicians[3],))
    assert [one.reason for one in trade.plan(overseas, trade.rule(), days=0).unplaced] == ["TOO_FAR"]


@pytest.mark.parametrize(
    ("zone", "day", "utc"),
    [
        ("America/New_York", date(2026, 5, 20), datetime(2026, 5, 20, 13, 30, tzinfo=UTC)),  # UTC-4 in summer
        ("America/New_York", date(2026, 1, 21), datetime(2026, 1, 21, 14, 30, tzinfo=UTC)),  # UTC-5 in winter
        ("Australia/Melbourne", date(2026, 5, 20), datetime(2026, 5, 19, 23, 30, tzinfo=UTC)),  # UTC+10
        ("Asia/Kolkata", date(2026, 5, 20), datetime(2026, 5, 20, 4, 0, tzinfo=UTC)),  # UTC+5:30
    ],
)
def test_a_visit_at_half_past_nine_begins_then_on_the_sites_own_clock(
    trade: Any, zone: str, day: date, utc: datetime
) -> None:
    """Offsets: IANA time zone database."""
    rows = trade.rows(
        history=(trade.done(day - timedelta(weeks=4)),),
        sites=(trade.site(time_zone=zone, visit_from=time(9, 30)),),
    )
    (visit,) = trade.plan(rows, trade.rule(), today=day, days=0).visits
    assert (visit.day, visit.start) == (day, utc)


def two_sites(trade: Any) -> RegisterRows:
    rows = trade.rows(tanks=1)
    other = trade.site(code="S2", name="Second", latitude=40.2, longitude=-75.0)
    return replace(
        rows,
        sites=(trade.site(latitude=40.0, longitude=-75.0), other),
        rooms=(*rows.rooms, Room("R2", "S2", "Hall", 25.0)),
        tanks=(*rows.tanks, Tank("T9", "R2", "Tank 9", TankKind.TROPICAL_FRESH, 1.0, 0.5, 0.5, 25.0)),
        devices=(*rows.devices, replace(rows.devices[0], code="C9")),
        duties=(*rows.duties, replace(rows.duties[0], device="C9", tank="T9")),
        history=tuple(trade.done(date(2026, 4, 22), subject=code) for code in ("C1", "C9")),
    )


def test_one_technician_drives_between_two_sites_of_a_day(trade: Any) -> None:
    plan = trade.plan(two_sites(trade), trade.rule(minutes=60), days=0)
    first, second = sorted(plan.visits, key=lambda visit: visit.start)
    assert first.technician == second.technician == "W1"
    drive = travel_minutes((40.0, -75.0), (40.2, -75.0))
    assert drive > 40
    assert second.start - first.end == timedelta(minutes=drive)


def test_more_work_than_a_day_holds_is_several_visits(trade: Any) -> None:
    history = tuple(trade.done(date(2026, 4, 22), subject=f"C{n}") for n in range(1, 11))
    plan = trade.plan(trade.rows(tanks=10, history=history), trade.rule(minutes=60), days=0)
    assert sorted(visit.minutes for visit in plan.visits) == [180, 420]
    assert len({visit.day for visit in plan.visits}) == 2


def test_a_visit_is_cut_to_the_hours_of_the_site(trade: Any) -> None:
    history = tuple(trade.done(date(2026, 4, 22), subject=f"C{n}") for n in range(1, 5))
    rows = trade.rows(tanks=4, history=history, sites=(trade.site(visit_from=time(9), visit_to=time(11)),))
    plan = trade.plan(rows, trade.rule(minutes=60), days=0)
    assert [visit.minutes for visit in plan.visits] == [120, 120]
    assert all(visit.technician == "W1" for visit in plan.visits)


def test_a_visit_keeps_its_key_when_its_day_moves(trade: Any) -> None:
    rows = trade.rows(tanks=3, history=tuple(trade.done(date(2026, 5, 4), subject=f"C{n}") for n in range(1, 4)))
    plan = trade.plan(rows, trade.rule(), days=14)
    (visit,) = plan.visits
    closed = replace(rows, closures=(Closure("S", visit.day, visit.day + timedelta(days=1)),))
    (moved,) = trade.plan(closed, trade.rule(), previous=plan, days=14).visits
    assert moved.key == visit.key
    assert moved.day != visit.day
