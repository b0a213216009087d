"""Work that is in no visit says truly why: take away the one thing it names, and it is in a visit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.catalogue import EventTrigger, Selector, Span
from fleet.values.plan import Plan
from fleet.values.register import Absence, Closure, Equipment, Event, RegisterRows
from fleet.values.vocabulary import EquipmentKind, EventKind, Skill, SubjectKind, Tolerance

Hindered = tuple[RegisterRows, Any, RegisterRows]
"""A register with one thing in the way of the work, the rule, and the register without that thing."""
LONG_AGO = date(2026, 4, 22)
"""Four weeks before the day of the plan, a Wednesday."""


def fixed(trade: Any, **changes: Any) -> Any:
    """Work that is due on the day of the plan and has no other."""
    return trade.rule(tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"), **changes)


def base(trade: Any, **changes: Any) -> RegisterRows:
    here = trade.site(latitude=40.0, longitude=-75.0)
    worker = trade.technician(base_latitude=40.1, base_longitude=-75.0)
    return trade.rows(**{"history": (trade.done(LONG_AGO),), "sites": (here,), "technicians": (worker,), **changes})


def closed(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    since = trade.today - timedelta(days=draw(0, 30))
    rows = base(trade, closures=(Closure("S", since, trade.today + timedelta(days=draw(1, 60)), "repainting"),))
    return rows, fixed(trade), replace(rows, closures=())


def holiday(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    """25 May 2026 is Memorial Day: the last Monday of May (5 U.S.C. 6103)."""
    rows = base(trade, history=(trade.done(date(2026, 4, 27)),))
    monday = replace(rows.sites[0], visit_days=(0,), holiday_region="US")
    return replace(rows, sites=(monday,)), fixed(trade), replace(rows, sites=(replace(monday, holiday_region=None),))


def on_leave(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    leave = Absence("W1", trade.today - timedelta(days=draw(0, 9)), trade.today + timedelta(days=draw(1, 9)))
    rows = base(trade, absences=(leave,))
    return rows, fixed(trade), replace(rows, absences=())


def unskilled(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    skill = (Skill.TECHNICIAN, Skill.REFRIGERATION, Skill.ELECTRICIAN)[draw(0, 2)]
    rows = base(trade)
    keeper = replace(rows.technicians[0], skills=(Skill.KEEPER,))
    skilled = replace(keeper, skills=(Skill.KEEPER, skill))
    return replace(rows, technicians=(keeper,)), fixed(trade, skill=skill), replace(rows, technicians=(skilled,))


def far_away(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    rows = base(trade)
    far = replace(rows.technicians[0], base_latitude=40.0 - draw(3, 60))
    return replace(rows, technicians=(far,)), fixed(trade), rows


def skilled_on_leave(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    """A keeper is there; who could do the work is not."""
    keeper = trade.technician("W2", skills=(Skill.KEEPER,))
    rows = base(trade, absences=(Absence("W1", date(2026, 5, 1), trade.today + timedelta(days=draw(1, 40)), "leave"),))
    rows = replace(rows, technicians=(*rows.technicians, keeper))
    return rows, fixed(trade, skill=Skill.TECHNICIAN), replace(rows, absences=())


def licence_ended(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    rows = base(trade)
    until = trade.today - timedelta(days=draw(1, 400))
    ended = replace(rows.technicians[0], skills=(Skill.REFRIGERATION,), licence_until=until)
    valid = replace(ended, licence_until=trade.today + timedelta(days=draw(0, 400)))
    work = fixed(trade, skill=Skill.REFRIGERATION)
    return replace(rows, technicians=(ended,)), work, replace(rows, technicians=(valid,))


def short_hours(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    rows = base(trade)
    minutes = draw(61, 180)
    short = replace(rows.sites[0], visit_from=time(9), visit_to=time(10))
    long = replace(short, visit_to=time(9 + minutes // 60 + 1))
    return replace(rows, sites=(short,)), fixed(trade, minutes=minutes), replace(rows, sites=(long,))


def short_shift(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    """The site is open from nine to five; the technician works from one, or until eleven."""
    rows = base(trade)
    open_long = replace(rows.sites[0], visit_from=time(9), visit_to=time(17))
    minutes = draw(121, 240)
    worker = rows.technicians[0]
    hours = [{"work_from": time(16)}, {"work_to": time(11)}, {"work_from": time(17), "work_to": time(22)}][draw(0, 2)]
    rows = replace(rows, sites=(open_long,))
    return replace(rows, technicians=(replace(worker, **hours),)), fixed(trade, minutes=minutes), rows


def busy(trade: Any, draw: Callable[[int, int], int]) -> Hindered:
    """More work at one site on one day than one technician has hours for; two technicians have."""
    tanks = draw(2, 4)
    history = tuple(trade.done(LONG_AGO, subject=f"C{n}") for n in range(1, tanks + 1))
    worker = trade.technician(work_from=time(9), work_to=time(9 + 2 * (tanks - 1)))
    rows = base(trade, tanks=tanks, history=history, technicians=(worker,))
    more = tuple(replace(worker, code=f"W{n}", name=f"Worker {n}") for n in range(1, tanks + 1))
    return rows, fixed(trade, minutes=120), replace(rows, technicians=more)


HINDRANCES = {
    "NO_OPEN_DAY": (closed, holiday),
    "NO_SHIFT_IN_WINDOW": (on_leave,),
    "SKILL_MISSING": (unskilled,),
    "TOO_FAR": (far_away,),
    "SKILL_ABSENT_IN_WINDOW": (skilled_on_leave,),
    "LICENCE_ENDS": (licence_ended,),
    "TOO_LONG_FOR_HOURS": (short_hours,),
    "TOO_LONG_FOR_SHIFT": (short_shift,),
    "CAPACITY": (busy,),
}
CASES = [(reason, case) for reason, cases in HINDRANCES.items() for case in cases]


@pytest.mark.parametrize(("reason", "case"), CASES, ids=[case.__name__ for _, case in CASES])
@given(data=st.data())
@settings(max_examples=12, deadline=None)
def test_take_away_what_the_reason_names_and_the_work_is_in_a_visit(
    trade: Any, reason: str, case: Callable[[Any, Callable[[int, int], int]], Hindered], data: Any
) -> None:
    rows, rule, freed = case(trade, lambda least, most: data.draw(st.integers(least, most)))
    days = 8 if case is holiday else 0
    hindered, free = (trade.plan(some, rule, days=days) for some in (rows, freed))
    assert {one.reason for one in hindered.unplaced} == {reason}
    assert not free.unplaced
    assert len(free.tasks) == len(hindered.tasks)
    assert not trade.plan(rows, rule, previous=hindered, days=days).changes


def sentence(plan: Plan) -> str:
    (one,) = plan.unplaced
    return one.text.partition(": ")[2]


def test_the_reasons_are_sentences_that_a_person_understands(trade: Any) -> None:
    def told(case: Callable[..., Hindered], *drawn: int) -> str:
        numbers = iter(drawn)
        rows, rule, _ = case(trade, lambda least, most: next(numbers))
        return sentence(trade.plan(rows, rule, days=8 if case is holiday else 0))

    assert [
        told(closed, 3, 5),
        told(holiday),
        told(on_leave, 2, 4),
        told(unskilled, 2),
        told(far_away, 10),
        told(skilled_on_leave, 9),
        told(licence_ended, 1, 0),
        told(short_hours, 90),
        told(short_shift, 150, 1),
        told(short_shift, 150, 2),
    ] == [
        "S is not open on 20 May 2026 (repainting); the next is 25 May 2026.",
        "S has no open day from 20 May 2026 to 25 May 2026 (Memorial Day); the next is 1 June 2026.",
        "no technician is at work on 20 May 2026 (Worker W1 is away until 24 May 2026).",
        "no technician on record has the skill electrician.",
        "Worker W1, the nearest with the skill keeper, is 1112 km away; nobody is sent farther than 300 km.",
        "Worker W1 has the skill technician, but is not at work on 20 May 2026 (Worker W1 is away until 29 May 2026).",
        "the licence of Worker W1 ends on 19 May 2026, before anybody could come.",
        "it takes 90 min in one piece, and S is open from 09:00 to 10:00.",
        "it takes 150 min in one piece, and Worker W1 can be at work at S for 120 min at most.",
        "the hours of Worker W1 and those of S have nothing in common.",
    ]


def test_without_any_technician_work_is_in_visits_that_nobody_is_named_for(trade: Any) -> None:
    """At home one looks after the tanks oneself."""
    plan = trade.plan(base(trade, technicians=()), fixed(trade, skill=Skill.ELECTRICIAN), days=90)
    assert not plan.unplaced
    assert {visit.technician for visit in plan.visits} == {None}


def test_a_keepers_work_is_not_held_up_by_a_technicians_work_on_the_same_day(trade: Any) -> None:
    history = tuple(trade.done(LONG_AGO, rule) for rule in ("easy", "hard"))
    keeper = trade.technician(skills=(Skill.KEEPER,))
    plan = trade.plan(
        base(trade, history=history, technicians=(keeper,)),
        replace(fixed(trade), id="easy"),
        replace(fixed(trade, skill=Skill.TECHNICIAN), id="hard"),
        days=0,
    )
    assert [plan.task_by_key[key].rule for visit in plan.visits for key in visit.tasks] == ["easy"]
    assert [(plan.task_by_key[one.key].rule, one.reason) for one in plan.unplaced] == [("hard", "SKILL_MISSING")]


def test_what_two_people_can_only_do_between_them_is_two_visits(trade: Any) -> None:
    """A keeper on Wednesdays, a technician on Wednesdays who is too busy for both: each does their part."""
    history = tuple(trade.done(LONG_AGO, rule) for rule in ("easy", "hard"))
    people = (
        trade.technician("K", skills=(Skill.KEEPER,), work_from=time(9), work_to=time(11)),
        trade.technician("T", work_from=time(9), work_to=time(11)),
    )
    easy, hard = (replace(fixed(trade, skill=skill, minutes=100), id=name, title=name) for name, skill in (
        ("easy", Skill.KEEPER), ("hard", Skill.TECHNICIAN)
    ))  # fmt: skip
    tank = replace(hard, selector=Selector(SubjectKind.TANK))
    rows = base(trade, history=(history[0], trade.done(LONG_AGO, "hard", "T1")), technicians=people)
    plan = trade.plan(rows, easy, tank, days=0)
    assert sorted(
        (str(visit.technician), plan.task_by_key[key].rule) for visit in plan.visits for key in visit.tasks
    ) == [("K", "easy"), ("T", "hard")]
    assert not trade.plan(rows, easy, tank, previous=plan, days=0).changes


def needing(trade: Any) -> tuple[RegisterRows, Any, Any]:
    """Measuring needs a reference thermometer in date; its test is due, and its site has no technician for it."""
    reference = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.REFERENCE_THERMOMETER,))
    measure = trade.rule("measure", prerequisites=("ice-point",))
    ice = trade.rule(
        "ice-point", selector=reference, skill=Skill.TECHNICIAN, interval=trade.interval(6, 12, 12, "month")
    )
    rows = base(
        trade,
        equipment=(Equipment("TH", EquipmentKind.REFERENCE_THERMOMETER, "Reference", site="S"),),
        history=(trade.done(LONG_AGO, "measure"), trade.done(date(2025, 5, 1), "ice-point", "TH")),
        technicians=(trade.technician(skills=(Skill.KEEPER,)),),
    )
    return rows, measure, ice


def test_work_whose_prerequisite_is_in_no_visit_is_in_none_and_says_so(trade: Any) -> None:
    rows, measure, ice = needing(trade)
    plan = trade.plan(rows, measure, ice, days=20)
    told = {plan.task_by_key[one.key].rule: one for one in plan.unplaced}
    assert not plan.visits
    assert (told["ice-point"].reason, told["measure"].reason) == ("SKILL_MISSING", "PREREQUISITE_UNPLACED")
    assert told["measure"].text == (
        f"Measure on C1: it needs ice point on TH ({told['ice-point'].key}) first, which itself is in no visit: "
        "no technician on record has the skill technician."
    )
    able = replace(rows, technicians=(trade.technician(),))
    assert not trade.plan(able, measure, ice, previous=plan, days=20).unplaced


def test_while_the_prerequisite_is_still_in_date_the_work_is_done_by_then(trade: Any) -> None:
    """In date until 1 June; the window of the work is open until 25 May or later."""
    rows, measure, ice = needing(trade)
    until = date(2026, 5, 28)
    history = (trade.done(LONG_AGO, "measure"), trade.done(until - timedelta(days=365), "ice-point", "TH"))
    plan = trade.plan(replace(rows, history=history), measure, ice, days=0)
    work = trade.first(plan, "measure")
    assert work.latest > trade.day_of(plan, work)
    assert trade.day_of(plan, work) <= until


@pytest.mark.parametrize(
    ("change", "why"),
    [({"tolerance": Tolerance.A0}, "law and life safety wait for nothing"), ({}, "nor does what is past its limit")],
)
def test_some_work_waits_for_no_prerequisite(trade: Any, change: Any, why: str) -> None:
    rows, measure, ice = needing(trade)
    done = LONG_AGO if change else date(2026, 1, 2)
    rows = replace(rows, history=(trade.done(done, "measure"), rows.history[1]))
    plan = trade.plan(rows, replace(measure, **change), ice, days=0)
    assert [plan.task_by_key[key].rule for visit in plan.visits for key in visit.tasks] == ["measure"], why


def handing_over(trade: Any) -> Any:
    closure = EventTrigger("closure", Span(3, "day"), lead=Span(7, "day"), longer_than_days=3)
    return trade.rule(
        "hand-over", selector=Selector(SubjectKind.SITE), interval=None, tolerance=Tolerance.A, events=(closure,)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("visit_days", "day"),
    [
        ((0, 1, 2, 3, 4), date(2026, 7, 17)),
        ((1,), date(2026, 7, 14)),
        ((5,), date(2026, 7, 18)),
        ((6,), date(2026, 7, 19)),
    ],
    ids=["weekdays", "Tuesdays", "Saturdays", "Sundays"],
)
def test_a_hand_over_is_made_on_the_last_open_days_before_the_closure(
    trade: Any, visit_days: tuple[int, ...], day: date
) -> None:
    """Three to seven days before a closure from Monday 20 July on, common practice; where the site has no open day
    then, on the nearest before it shuts: better late than never."""
    rows = base(
        trade,
        sites=(trade.site(visit_days=visit_days),),
        closures=(Closure("S", date(2026, 7, 20), date(2026, 8, 20), "holidays"),),
        technicians=(trade.technician(work_days=tuple(range(7))),),
    )
    plan = trade.plan(rows, handing_over(trade))
    (visit,) = plan.visits
    assert visit.day == day
    (task,) = plan.tasks
    assert task.earliest <= visit.day <= task.latest < date(2026, 7, 20)
    assert not trade.plan(rows, handing_over(trade), previous=plan).changes


def test_a_hand_over_that_can_no_longer_be_made_is_not_made_after_the_closure(trade: Any) -> None:
    rows = base(
        trade, sites=(trade.site(visit_days=(0,)),), closures=(Closure("S", date(2026, 5, 22), date(2026, 6, 20)),)
    )
    plan = trade.plan(rows, handing_over(trade))
    assert not plan.visits
    assert [one.reason for one in plan.unplaced] == ["NO_OPEN_DAY"]


def test_an_event_on_a_holiday_names_the_holiday(trade: Any) -> None:
    """4 July 2026 is a Saturday, so Friday the 3rd is the day off: 5 U.S.C. 6103."""
    rule = trade.rule(
        "after-outage", selector=Selector(SubjectKind.SITE), interval=None, tolerance=Tolerance.A0,
        events=(EventTrigger("outage", Span(1, "day")),),
    )  # fmt: skip
    day = date(2026, 7, 3)
    rows = base(trade, sites=(trade.site(holiday_region="US"),), events=(Event("S", EventKind.OUTAGE, day),))
    plan = trade.plan(rows, rule, today=day)
    assert sentence(plan) == (
        "S has no open day from 3 July 2026 to 4 July 2026 (Independence Day (observed)); the next is 6 July 2026."
    )
