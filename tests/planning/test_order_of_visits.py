"""The order in which the visits of one day at one site are made, and work that is done early because somebody comes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import permutations
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fleet.planning.working_order import PROTECTION_TESTS_FROM
from fleet.values.catalogue import Selector
from fleet.values.plan import Plan, Visit
from fleet.values.register import Equipment, RegisterRows
from fleet.values.vocabulary import EquipmentKind, Skill, SubjectKind, Tolerance

LONG_AGO = date(2026, 4, 22)
SKILLS = (Skill.KEEPER, Skill.TECHNICIAN, Skill.REFRIGERATION, Skill.ELECTRICIAN)


def people(trade: Any) -> tuple[Any, ...]:
    return (
        trade.technician("A-ELEC", skills=(Skill.ELECTRICIAN,)),
        trade.technician("B-REFR", skills=(Skill.REFRIGERATION,)),
        trade.technician("C-TECH"),
    )


def chain(trade: Any, *skills: Skill, **changes: Any) -> list[Any]:
    """Work in which each needs the one before it."""
    return [
        trade.rule(
            f"work-{n}",
            skill=skill,
            minutes=60,
            order=50 - 10 * n,
            prerequisites=(f"work-{n - 1}",) if n else (),
            **changes,
        )
        for n, skill in enumerate(skills)
    ]


def due_today(trade: Any, count: int, **changes: Any) -> RegisterRows:
    history = tuple(trade.done(LONG_AGO, f"work-{n}") for n in range(count))
    return trade.rows(**{"history": history, "technicians": people(trade), **changes})


def keeps_order(plan: Plan, rules: list[Any]) -> None:
    """Save where visits of one day need work of each other in a circle: then not all of them can wait."""
    needs = {rule.id: rule.prerequisites for rule in rules}

    def wants(visit: Visit, other: Visit) -> bool:
        own, others = ([plan.task_by_key[key] for key in one.tasks] for one in (visit, other))
        return any(two.rule in needs[one.rule] and two.device == one.device for one in own for two in others)

    for day in {visit.day for visit in plan.visits}:
        visits = [visit for visit in plan.visits if visit.day == day]
        wanted = {
            visit.key: {other.key for other in visits if visit != other and wants(visit, other)} for visit in visits
        }
        behind = {key: set(some) for key, some in wanted.items()}
        for middle in behind:
            for key, some in behind.items():
                behind[key] |= behind[middle] if middle in some else set()
        for visit, other in permutations(visits, 2):
            if other.key in wanted[visit.key] and visit.key not in behind[other.key]:
                assert other.end <= visit.start, "who needs the work of others first comes when that is done"


def test_a_licensed_visit_begins_when_the_work_that_it_needs_is_done(trade: Any) -> None:
    """Screen and fins before the circuit: cheapest and safest first (common practice)."""
    rules = chain(trade, Skill.TECHNICIAN, Skill.REFRIGERATION)
    plan = trade.plan(due_today(trade, 2), *rules, days=0)
    first, second = sorted(plan.visits, key=lambda visit: visit.start)
    assert (first.technician, second.technician) == ("C-TECH", "B-REFR")
    assert first.end <= second.start
    assert first.day == second.day


def test_where_the_day_is_too_short_for_both_the_second_comes_on_a_later_day(trade: Any) -> None:
    rules = chain(trade, Skill.TECHNICIAN, Skill.REFRIGERATION)
    short = trade.site(visit_from=time(9), visit_to=time(10))
    plan = trade.plan(due_today(trade, 2, sites=(short,)), *rules, days=0)
    days = {visit.technician: visit.day for visit in plan.visits}
    assert days["C-TECH"] < days["B-REFR"]
    assert not trade.plan(due_today(trade, 2, sites=(short,)), *rules, previous=plan, days=0).changes


def test_at_home_too_one_does_first_what_the_other_work_needs(trade: Any) -> None:
    rules = chain(trade, Skill.ELECTRICIAN, Skill.KEEPER)
    plan = trade.plan(due_today(trade, 2, technicians=()), *rules, days=0)
    first, second = sorted(plan.visits, key=lambda visit: visit.start)
    assert [plan.task_by_key[key].rule for visit in (first, second) for key in visit.tasks] == ["work-0", "work-1"]
    assert first.end <= second.start


@given(
    skills=st.lists(st.sampled_from(SKILLS), min_size=2, max_size=4),
    tanks=st.integers(1, 3),
    ago=st.lists(st.integers(0, 60), min_size=12, max_size=12),
    staffed=st.booleans(),
)
@example(skills=[Skill.KEEPER, Skill.REFRIGERATION, Skill.ELECTRICIAN], tanks=1, ago=[0] * 12, staffed=False)
@settings(max_examples=40, deadline=None)
def test_whoever_does_the_work_its_order_holds_on_every_day(
    trade: Any, skills: list[Skill], tanks: int, ago: list[int], staffed: bool
) -> None:
    rules = chain(trade, *skills)
    history = tuple(
        trade.done(trade.today - timedelta(days=ago[(n * tanks + device) % 12]), f"work-{n}", f"C{device + 1}")
        for n in range(len(skills))
        for device in range(tanks)
    )
    rows = trade.rows(tanks=tanks, history=history, technicians=people(trade) if staffed else ())
    plan = trade.plan(rows, *rules, days=60)
    keeps_order(plan, rules)
    again = trade.plan(rows, *rules, previous=plan, days=60)
    assert not again.changes
    assert again.visits == plan.visits


@given(
    orders=st.lists(st.sampled_from([10, 20, 40, 50, 60, 90]), min_size=2, max_size=6),
    tanks=st.integers(1, 3),
)
@settings(max_examples=40, deadline=None)
def test_in_a_visit_wet_work_comes_before_electrical_work_and_protection_is_tested_last(
    trade: Any, orders: list[int], tanks: int
) -> None:
    """Dry, air side, measuring, wet, parts, electrical on one thing after the other; tests of protection when all is
    done, so that everything is seen to restart: common practice."""
    rules = [trade.rule(f"work-{n}", order=order, minutes=5) for n, order in enumerate(orders)]
    history = tuple(trade.done(LONG_AGO, rule.id, f"C{n + 1}") for rule in rules for n in range(tanks))
    (visit,) = (plan := trade.plan(trade.rows(tanks=tanks, history=history), *rules, days=0)).visits
    done = [plan.task_by_key[key] for key in visit.tasks]
    tests = [task.order >= PROTECTION_TESTS_FROM for task in done]
    assert tests == sorted(tests)
    for device in {task.device for task in done}:
        own = [task.order for task in done if task.device == device]
        assert own == sorted(own)


@pytest.mark.parametrize(
    ("days_apart", "visits", "why"),
    [
        (6, 1, "within the early share of 30 % of four weeks: done while somebody is there"),
        (20, 2, "too early by far: its own visit"),
    ],
)
def test_work_that_may_be_done_early_saves_a_visit_when_somebody_comes_anyway(
    trade: Any, days_apart: int, visits: int, why: str
) -> None:
    """Opportunistic maintenance (EN 13306:2017, from memory); 30 % early for class B: common practice."""
    fixed = trade.rule("press", tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    history = (trade.done(LONG_AGO, "press"), trade.done(LONG_AGO + timedelta(days=days_apart)))
    plan = trade.plan(trade.rows(history=history), fixed, trade.rule(), days=days_apart)
    held = [visit for visit in plan.visits if any(plan.task_by_key[key].due <= plan.through for key in visit.tasks)]
    assert len(held) == visits, why


def test_nothing_is_done_early_for_the_sake_of_a_visit_that_it_does_not_save(trade: Any) -> None:
    """Two visits are made anyway: the work goes with the one nearest to its due day. Offered, never forced."""
    fixed = [
        trade.rule(name, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week")) for name in ("one", "other")
    ]
    history = (
        trade.done(LONG_AGO, "one"),
        trade.done(LONG_AGO + timedelta(days=10), "other"),
        trade.done(LONG_AGO + timedelta(days=8)),
    )
    plan = trade.plan(trade.rows(history=history), *fixed, trade.rule(), days=10)
    clean, one, other = (trade.first(plan, name) for name in ("clean-screen", "one", "other"))
    assert clean.earliest <= trade.day_of(plan, one) < trade.day_of(plan, other)
    assert trade.day_of(plan, clean) == trade.day_of(plan, other)


def test_a_kit_is_disinfected_after_the_sick_tank_and_before_the_protection_test(trade: Any) -> None:
    """Own kit and last place for sick systems: SRAC 4707 and 4708 (second-hand)."""
    kit = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.FIELD_KIT,))
    switch = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.GFCI,))
    rules = [
        trade.rule("clean"),
        trade.rule("disinfect", selector=kit, order=10),
        trade.rule("press", selector=switch, order=90),
    ]
    history = (
        trade.done(LONG_AGO, "clean"),
        trade.done(LONG_AGO, "disinfect", "K"),
        trade.done(LONG_AGO, "press", "G"),
    )
    plain = trade.rows(history=history)
    rows = replace(plain, equipment=(*plain.equipment, Equipment("K", EquipmentKind.FIELD_KIT, "Kit", site="S")))
    (visit,) = (plan := trade.plan(rows, *rules, days=0)).visits
    assert [plan.task_by_key[key].rule for key in visit.tasks] == ["clean", "disinfect", "press"]
