"""Why a task is done on its day and by its people, told truly."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.why import placement
from fleet.values.catalogue import Catalogue, Selector
from fleet.values.fleet import snapshot
from fleet.values.plan import Placement, Plan, Task
from fleet.values.register import Closure, Equipment, RegisterRows
from fleet.values.vocabulary import EquipmentKind, PerformedBy, Skill, SubjectKind, Tolerance

LONG_AGO = date(2026, 4, 22)


def told(trade: Any, rows: RegisterRows, plan: Plan, task: Task, *rules: Any) -> Placement:
    return placement(task, plan, snapshot(rows, plan.today), Catalogue(rules, (), (), ()))


def test_a_task_on_its_due_day_says_so(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(date(2026, 5, 6)),))
    plan = trade.plan(rows, trade.rule(), days=20)
    why = told(trade, rows, plan, trade.first(plan), trade.rule())
    assert why.day == date(2026, 6, 3)
    assert why.why_day == ("its due day",)
    assert why.who == ("Worker W1 has the skill keeper and is at work that day",)
    assert (why.needs, why.unplaced) == ((), None)


def test_a_task_that_goes_with_another_names_the_one_whose_window_closes_first(trade: Any) -> None:
    press = trade.rule("press", tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    rows = trade.rows(history=(trade.done(LONG_AGO, "press"), trade.done(LONG_AGO + timedelta(days=6))))
    plan = trade.plan(rows, press, trade.rule(), days=6)
    task, other = trade.first(plan), trade.first(plan, "press")
    assert told(trade, rows, plan, task, press, trade.rule()).why_day == (
        "6 days before its due day, 26 May 2026",
        f"all 2 tasks of the visit can be done from 20 May 2026 to 20 May 2026, the limit of press on C1 ({other.key})",
    )


@pytest.mark.parametrize(
    ("change", "clause"),
    [
        (
            {"closures": (Closure("S", date(2026, 6, 3), date(2026, 6, 5), "inventory"),)},
            "S is closed on its due day, 3 June 2026 (inventory)",
        ),
        ({"sites": "Tuesdays"}, "S is not visited on Wednesdays"),
    ],
)
def test_a_closed_due_day_is_named(trade: Any, change: Any, clause: str) -> None:
    if change.get("sites"):
        change = {"sites": (trade.site(visit_days=(1,)),)}
    rows = trade.rows(history=(trade.done(date(2026, 5, 6)),), **change)
    plan = trade.plan(rows, trade.rule(), days=20)
    assert told(trade, rows, plan, trade.first(plan), trade.rule()).why_day[:2] == (
        clause,
        "a day before its due day, 3 June 2026",
    )


def needing(trade: Any, ice_done: date | None, days: int = 30, **changes: Any) -> tuple[RegisterRows, list[Any], Plan]:
    reference = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.REFERENCE_THERMOMETER,))
    rules = [
        trade.rule("measure", prerequisites=("ice-point",), skill=changes.pop("needs_skill", Skill.KEEPER)),
        trade.rule(
            "ice-point", selector=reference, interval=trade.interval(6, 12, 12, "month"), title="Ice point",
            **changes.pop("ice", {}),
        ),
    ]  # fmt: skip
    done = () if ice_done is None else (trade.done(ice_done, "ice-point", "TH"),)
    rows = trade.rows(
        equipment=(Equipment("TH", EquipmentKind.REFERENCE_THERMOMETER, "Reference", site="S"),),
        history=(trade.done(LONG_AGO, "measure"), *done),
        **changes,
    )
    return rows, rules, trade.plan(rows, *rules, days=days)


def test_a_prerequisite_in_the_same_visit_comes_first(trade: Any) -> None:
    rows, rules, plan = needing(trade, date(2025, 5, 1))
    task, ice = trade.first(plan, "measure"), trade.first(plan, "ice-point", "TH")
    (need,) = told(trade, rows, plan, task, *rules).needs
    assert (need.how, need.key, need.day, need.done_on) == ("comes first", ice.key, plan.today, date(2025, 5, 1))
    assert need.visit == task.visit


def test_a_prerequisite_that_others_do_is_waited_for(trade: Any) -> None:
    """The electrician's part first, on its own visit."""
    people = (trade.technician("W1"), trade.technician("E1", skills=(Skill.ELECTRICIAN,), work_days=(4,)))
    rows, rules, plan = needing(trade, date(2025, 5, 1), ice={"skill": Skill.ELECTRICIAN}, technicians=people)
    task, ice = trade.first(plan, "measure"), trade.first(plan, "ice-point", "TH")
    why = told(trade, rows, plan, task, *rules)
    (need,) = why.needs
    assert (need.how, need.key, need.day) == ("comes first", ice.key, trade.day_of(plan, ice))
    assert need.day == date(2026, 5, 22)
    assert why.day > need.day
    assert f"not before ice point on TH ({ice.key}), done on 22 May 2026" in why.why_day


def test_a_prerequisite_in_date_says_until_when(trade: Any) -> None:
    people = (trade.technician("W1"), trade.technician("E1", skills=(Skill.ELECTRICIAN,)))
    rows, rules, plan = needing(
        trade, date(2025, 7, 15), days=60, ice={"skill": Skill.ELECTRICIAN}, technicians=people
    )  # fmt: skip
    (need,) = told(trade, rows, plan, trade.first(plan, "measure"), *rules).needs
    assert (need.how, need.done_on) == ("in date", date(2025, 7, 15))
    assert need.until == date(2026, 7, 15)


def test_a_prerequisite_that_comes_up_after_the_days_planned_is_known_from_its_history(trade: Any) -> None:
    rows, rules, plan = needing(trade, date(2026, 5, 1))
    (need,) = told(trade, rows, plan, trade.first(plan, "measure"), *rules).needs
    assert (need.how, need.subject, need.done_on, need.key) == ("in date", "TH", date(2026, 5, 1), None)


def test_a_prerequisite_whose_subject_is_not_on_record_says_so(trade: Any) -> None:
    rows, rules, _ = needing(trade, None)
    rows = replace(rows, equipment=())
    plan = trade.plan(rows, *rules, days=30)
    (need,) = told(trade, rows, plan, trade.first(plan, "measure"), *rules).needs
    assert (need.how, need.title, need.subject) == ("never recorded", "Ice point", None)


def test_work_in_no_visit_has_its_reason_and_that_of_what_it_needs(trade: Any) -> None:
    rows, rules, plan = needing(trade, date(2025, 5, 1), ice={"skill": Skill.ELECTRICIAN})
    why = told(trade, rows, plan, trade.first(plan, "measure"), *rules)
    assert why.day is None
    assert why.unplaced is not None
    assert why.unplaced.reason == "PREREQUISITE_UNPLACED"
    assert [need.how for need in why.needs] == ["in no visit"]


def test_site_staffs_work_has_its_day_and_no_visit(trade: Any) -> None:
    look = trade.rule("look", performed_by=PerformedBy.SITE_STAFF)
    rows = trade.rows(history=(trade.done(date(2026, 5, 6), "look"),))
    plan = trade.plan(rows, look, days=20)
    why = told(trade, rows, plan, trade.first(plan, "look"), look)
    assert (why.day, why.why_day, why.who) == (date(2026, 6, 3), (), ())


def test_people_are_told_with_licence_distance_and_help(trade: Any) -> None:
    staff = (
        trade.technician("FAR", skills=(Skill.REFRIGERATION,), base_latitude=41.0, base_longitude=-75.0),
        trade.technician(
            "NEAR", skills=(Skill.REFRIGERATION,), licence_until=date(2027, 3, 1),
            base_latitude=40.1, base_longitude=-75.0,
        ),
    )  # fmt: skip
    rule = trade.rule(skill=Skill.REFRIGERATION, persons=2)
    site = trade.site(latitude=40.0, longitude=-75.0)
    rows = trade.rows(history=(trade.done(LONG_AGO),), technicians=staff, sites=(site,))
    plan = trade.plan(rows, rule, days=0)
    assert told(trade, rows, plan, trade.first(plan), rule).who == (
        "Worker NEAR has the skill refrigeration and is at work that day",
        "licensed until 1 March 2027",
        "based 11 km away, nobody able that day is nearer",
        "Worker FAR comes as the second",
    )
    alone = replace(rows, technicians=staff[1:])
    plan = trade.plan(alone, rule, days=0)
    assert "it takes 2 people, and a second has yet to be found" in told(
        trade, alone, plan, trade.first(plan), rule
    ).who  # fmt: skip


@given(
    ago=st.lists(st.integers(0, 60), min_size=6, max_size=6),
    weekdays=st.sets(st.integers(0, 4), min_size=1),
    tanks=st.integers(1, 3),
)
@settings(max_examples=30, deadline=None)
def test_every_task_of_a_plan_is_explained_and_nothing_that_is_told_is_untrue(
    trade: Any, ago: list[int], weekdays: set[int], tanks: int
) -> None:
    rules = [
        trade.rule(),
        trade.rule("descale", prerequisites=("clean-screen",), interval=trade.interval(2, 6, 12, "week"), order=40),
    ]
    history = tuple(
        trade.done(trade.today - timedelta(days=ago[n * 2 + at]), rule.id, f"C{n + 1}")
        for n in range(tanks)
        for at, rule in enumerate(rules)
    )
    site = trade.site(visit_days=tuple(sorted(weekdays)))
    rows = trade.rows(tanks=tanks, history=history, sites=(site,))
    plan = trade.plan(rows, *rules, days=60)
    unplaced = {one.key: one for one in plan.unplaced}
    for task in plan.tasks:
        why = told(trade, rows, plan, task, *rules)
        if task.visit is None:
            assert why.unplaced == unplaced[task.key]
            continue
        visit = plan.visit_by_key[task.visit]
        assert why.day == visit.day
        assert why.why_day
        assert why.who
        if task.latest >= plan.today:
            assert ("its due day" in why.why_day) == (visit.day == task.due)
        for need in why.needs:
            if need.how == "comes first":
                assert need.day is not None
                assert need.day <= visit.day
            if need.how == "in date" and need.until is not None:
                assert need.until >= visit.day
