"""A plan that stays put: frozen days, agreed visits, and changes that say which news is behind them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.plan import Plan, Visit
from fleet.values.register import Absence, Closure, Device, Duty, RegisterRows, Room, Tank
from fleet.values.vocabulary import DeviceKind, Skill, TankKind, Tolerance

SITES = 3


def company(
    trade: Any, people: int = 2, tanks: int = 2, ago: tuple[int, ...] = (3, 11, 17, 20, 24, 26)
) -> RegisterRows:
    """Three sites 11 km apart with a few tanks each, and some people with every skill."""
    plain = trade.rows(tanks=0, equipment=())
    sites = tuple(
        trade.site(code=f"S{s}", name=f"Site {s}", latitude=40.0 + s / 10, longitude=-75.0) for s in range(SITES)
    )
    places = [(s, n) for s in range(SITES) for n in range(tanks)]
    return replace(
        plain,
        sites=sites,
        rooms=tuple(Room(f"R{s}", f"S{s}", "Room", 26.0) for s in range(SITES)),
        tanks=tuple(Tank(f"T{s}{n}", f"R{s}", "Tank", TankKind.TROPICAL_FRESH, 1.0, 0.5, 0.5, 25.0) for s, n in places),
        devices=tuple(Device(f"C{s}{n}", DeviceKind.CHILLER, "Chiller") for s, n in places),
        duties=tuple(Duty(f"C{s}{n}", f"T{s}{n}", date(2020, 1, 1)) for s, n in places),
        technicians=tuple(trade.technician(f"W{n}", skills=tuple(Skill)) for n in range(people)),
        history=tuple(
            trade.done(trade.today - timedelta(days=ago[(s * tanks + n) % len(ago)]), subject=f"C{s}{n}")
            for s, n in places
        ),
    )


def rules(trade: Any) -> list[Any]:
    return [
        trade.rule(),
        trade.rule("fins", skill=Skill.TECHNICIAN, minutes=50, interval=trade.interval(3, 6, 12, "month"), order=20),
    ]


def place(visit: Visit) -> tuple[Any, ...]:
    return visit.day, visit.start, visit.technician


def places(plan: Plan) -> dict[str, tuple[Any, ...]]:
    return {visit.key: place(visit) for visit in plan.visits}


def news(trade: Any, rows: RegisterRows, plan: Plan, kind: str, number: int) -> tuple[RegisterRows, str]:
    """The register after one thing has happened at one site, and that site."""
    site = f"S{number % SITES}"
    visit = next(one for one in (*plan.visits[number % len(plan.visits) :], *plan.visits) if one.site == site)
    if kind == "closed":
        closure = Closure(site, visit.day, visit.day + timedelta(days=3), "repainting")
        return replace(rows, closures=(closure,)), site
    if kind == "done":
        task = plan.task_by_key[visit.tasks[number % len(visit.tasks)]]
        return replace(rows, history=(*rows.history, trade.done(trade.today, task.rule, task.subject))), site
    if kind == "hours":
        sites = tuple(replace(one, visit_from=time(13)) if one.code == site else one for one in rows.sites)
        return replace(rows, sites=sites), site
    tank = f"T{site[1:]}9"
    return (
        replace(
            rows,
            tanks=(*rows.tanks, Tank(tank, f"R{site[1:]}", "New", TankKind.TROPICAL_FRESH, 1.0, 0.5, 0.5, 25.0)),
            devices=(*rows.devices, Device(f"C{site[1:]}9", DeviceKind.CHILLER, "New")),
            duties=(*rows.duties, Duty(f"C{site[1:]}9", tank, date(2020, 1, 1))),
        ),
        site,
    )


NEWS = st.sampled_from(["closed", "done", "hours", "new"])


@given(kind=NEWS, number=st.integers(0, 11), people=st.integers(2, 4), tanks=st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_one_changed_fact_moves_only_visits_of_its_own_site(
    trade: Any, kind: str, number: int, people: int, tanks: int
) -> None:
    rows = company(trade, people, tanks)
    plan = trade.plan(rows, *rules(trade), days=90)
    after, site = news(trade, rows, plan, kind, number)
    later = trade.plan(after, *rules(trade), previous=plan, days=90)
    assert [one for one in later.visits if one.site != site] == [one for one in plan.visits if one.site != site]
    window = {key: {task.due for task in plan.tasks if task.visit == key} for key in (one.key for one in plan.visits)}
    gone = {key for one in plan.visits for key in one.tasks if key not in later.task_by_key}
    for visit in (one for one in plan.visits if one.site == site):
        same_work = window[visit.key] and not gone & set(visit.tasks)
        unmoved = all(later.task_by_key.get(key) == plan.task_by_key[key] for key in visit.tasks)
        if kind in ("done", "new") and same_work and unmoved:
            assert later.visit_by_key[visit.key].day == visit.day
    told = {one.key for one in (*later.changes.added, *later.changes.moved, *later.changes.dropped)}
    assert {key for key, where in places(plan).items() if places(later).get(key) != where} <= told
    assert not trade.plan(after, *rules(trade), previous=later, days=90).changes


@given(kind=NEWS, number=st.integers(0, 11), people=st.integers(1, 3), freeze=st.integers(0, 60))
@settings(max_examples=60, deadline=None)
def test_frozen_visits_stand_whatever_the_news(trade: Any, kind: str, number: int, people: int, freeze: int) -> None:
    rows = company(trade, people)
    plan = trade.plan(rows, *rules(trade), days=90)
    after, _ = news(trade, rows, plan, kind, number)
    until = trade.today + timedelta(days=freeze)
    later = trade.plan(after, *rules(trade), previous=plan, days=90, frozen_before=until)
    for visit in plan.visits:
        left = tuple(key for key in visit.tasks if key in later.task_by_key)
        if visit.day < until and left:
            held = later.visit_by_key[visit.key]
            assert place(held) == place(visit)
            assert held.tasks == left
            assert held.minutes == sum(later.task_by_key[key].minutes for key in left)
    fresh = [visit for visit in later.visits if visit.day < until and visit.key not in plan.visit_by_key]
    assert all(later.visit_by_key[visit.key] == visit for visit in fresh)
    held_work = [key for visit in later.visits for key in visit.tasks]
    unplaced = [one.key for one in later.unplaced]
    assert sorted(held_work + unplaced) == sorted(task.key for task in later.tasks), "nothing is lost or doubled"
    again = trade.plan(after, *rules(trade), previous=later, days=90, frozen_before=until)
    assert (again.visits, again.tasks) == (later.visits, later.tasks)


def test_a_frozen_visit_is_held_on_a_day_that_was_closed_since(trade: Any) -> None:
    rows = company(trade)
    plan = trade.plan(rows, *rules(trade), days=60)
    first = plan.visits[0]
    shut = replace(rows, closures=(Closure(first.site, first.day, first.day + timedelta(days=9), "flood"),))
    held = trade.plan(shut, *rules(trade), previous=plan, days=60, frozen_before=first.day + timedelta(days=1))
    assert held.visit_by_key[first.key] == first
    assert not held.changes
    free = trade.plan(shut, *rules(trade), previous=plan, days=60)
    assert first not in free.visits


def one_site(trade: Any, **changes: Any) -> tuple[RegisterRows, Any, Plan]:
    """One visit in ten days' time, made by the nearer of two technicians."""
    rows = trade.rows(
        sites=(trade.site(latitude=40.0, longitude=-75.0),),
        history=(trade.done(trade.today - timedelta(days=18)),),
        technicians=(
            trade.technician("NEAR", base_latitude=40.0, base_longitude=-75.0),
            trade.technician("OTHER", base_latitude=40.1, base_longitude=-75.0),
        ),
    )
    rule = trade.rule(**changes)
    return rows, rule, trade.plan(rows, rule, days=12)


def reasons(plan: Plan) -> list[str]:
    return [one.reason for one in plan.changes.moved if one.what.startswith("visit")]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (
            {"closures": (Closure("S", date(2026, 5, 28), date(2026, 6, 2), "repainting"),)},
            "moved from 29 May 2026 to 27 May 2026: S is closed on 29 May 2026 (repainting)",
        ),
        (
            {"absences": (Absence("NEAR", date(2026, 5, 28), date(2026, 6, 2), "leave"),)},
            "now made by Worker OTHER instead of Worker NEAR: Worker NEAR is away until 2 June 2026 (leave)",
        ),
    ],
    ids=["closure", "leave"],
)
def test_a_moved_visit_names_the_news(trade: Any, change: Any, reason: str) -> None:
    rows, rule, plan = one_site(trade)
    (visit,) = plan.visits
    assert (visit.day, visit.technician) == (date(2026, 5, 29), "NEAR")
    later = trade.plan(replace(rows, **change), rule, previous=plan, days=12)
    assert [one.key for one in later.visits] == [visit.key]
    assert reasons(later) == [reason]


def test_other_news_is_named_too(trade: Any) -> None:
    rows, rule, plan = one_site(trade)
    near, other = rows.technicians
    site = rows.sites[0]

    def told(**changes: Any) -> list[str]:
        return reasons(trade.plan(replace(rows, **changes), rule, previous=plan, days=12))

    assert told(technicians=(other,)) == ["now made by Worker OTHER instead of NEAR: NEAR is no longer on record"]
    assert told(technicians=(replace(near, work_days=(0, 1, 2, 3)), other)) == [
        "now made by Worker OTHER instead of Worker NEAR: Worker NEAR does not work on Fridays"
    ]
    assert told(sites=(replace(site, visit_days=(0, 1, 2, 3)),)) == [
        "moved from 29 May 2026 to 28 May 2026: S is not visited on Fridays"
    ]
    assert told(sites=(replace(site, visit_from=time(13)),)) == [
        "another hour on 29 May 2026: the hours of S or of Worker NEAR no longer hold it"
    ]
    assert told(history=(trade.done(trade.today - timedelta(days=5)),)) == []


def test_a_licence_that_ends_hands_the_visit_over(trade: Any) -> None:
    rows, rule, _ = one_site(trade, skill=Skill.REFRIGERATION)
    licensed = tuple(replace(one, skills=(Skill.REFRIGERATION,)) for one in rows.technicians)
    rows = replace(rows, technicians=licensed)
    plan = trade.plan(rows, rule, days=12)
    ended = (replace(licensed[0], licence_until=date(2026, 5, 25)), licensed[1])
    later = trade.plan(replace(rows, technicians=ended), rule, previous=plan, days=12)
    assert reasons(later) == [
        "now made by Worker OTHER instead of Worker NEAR: the licence of Worker NEAR ends on 25 May 2026"
    ]


def test_a_visit_whose_work_was_done_is_told_as_dropped(trade: Any) -> None:
    rows, rule, plan = one_site(trade)
    done = replace(rows, history=(*rows.history, trade.done(trade.today)))
    later = trade.plan(done, rule, previous=plan, days=12)
    assert [(one.key, one.reason) for one in later.changes.dropped if one.what.startswith("visit")] == [
        (plan.visits[0].key, "was on 29 May 2026; none of its work is left: done on 20 May 2026")
    ]


def test_a_visit_that_nobody_reported_done_says_so_when_it_moves(trade: Any) -> None:
    rows, rule, plan = one_site(trade)
    later = trade.plan(rows, rule, previous=plan, today=date(2026, 6, 1), days=12)
    assert reasons(later) == ["moved from 29 May 2026 to 1 June 2026: it was not reported done on its day"]


def test_new_visits_are_told_with_their_work_but_not_of_the_first_plan(trade: Any) -> None:
    rows, rule, plan = one_site(trade)
    assert not [one for one in plan.changes.added if one.what.startswith("visit")]
    later = trade.plan(rows, rule, trade.rule("fins"), previous=plan, days=12)
    new = [one for one in later.changes.added if one.what.startswith("visit")]
    assert all(one.reason.startswith(("on ", "for ")) for one in new)
    assert {one.key for one in new} == {visit.key for visit in later.visits} - {visit.key for visit in plan.visits}


def crowded(trade: Any) -> tuple[RegisterRows, Any, Plan]:
    """Two sites with work on one day, one technician who has just time for both."""
    plain = company(trade, 1, 1, ago=(28, 28, 1))
    worker = replace(plain.technicians[0], work_from=time(9), work_to=time(13))
    rows = replace(plain, technicians=(worker,))
    rule = trade.rule(minutes=100, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    return rows, rule, trade.plan(rows, rule, days=0)


@pytest.mark.parametrize("site", ["S0", "S1"])
def test_of_two_visits_the_agreed_one_keeps_its_day_and_its_technician(trade: Any, site: str) -> None:
    """The technician's day becomes too short for both."""
    rows, rule, plan = crowded(trade)
    assert len(plan.visits) == 2
    shorter = replace(rows, technicians=(replace(rows.technicians[0], work_to=time(12)),))
    agreed = next(visit for visit in plan.visits if visit.site == site)
    later = trade.plan(shorter, rule, previous=plan, days=0, agreed=frozenset({agreed.key}))
    (kept,) = later.visits
    assert (kept.key, kept.day, kept.technician) == (agreed.key, agreed.day, agreed.technician)
    assert [(later.task_by_key[one.key].site, one.reason) for one in later.unplaced] == [
        ("S1" if site == "S0" else "S0", "CAPACITY")
    ]


@given(number=st.integers(0, 11), extra=st.integers(1, 4), chosen=st.sets(st.integers(0, 20)))
@settings(max_examples=30, deadline=None)
def test_new_work_moves_no_agreed_visit(trade: Any, number: int, extra: int, chosen: set[int]) -> None:
    rows = company(trade, 1)
    plan = trade.plan(rows, *rules(trade), days=90)
    agreed = frozenset(visit.key for at, visit in enumerate(plan.visits) if at in chosen)
    for n in range(extra):
        rows, _ = news(trade, rows, plan, "new", number + n)
    more = [*rules(trade), trade.rule("wipe", minutes=90, interval=trade.interval(1, 2, 3, "week"))]
    later = trade.plan(rows, *more, previous=plan, days=90, agreed=agreed)
    for visit in plan.visits:
        if visit.key in agreed:
            kept = later.visit_by_key[visit.key]
            assert (kept.day, kept.start, kept.technician) == (visit.day, visit.start, visit.technician)
