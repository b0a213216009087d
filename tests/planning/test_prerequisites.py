"""Work that needs other work first: who waits for whom, and what is brought forward."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.catalogue import Selector
from fleet.values.plan import Plan, Task
from fleet.values.register import Closure, Equipment, RegisterRows
from fleet.values.vocabulary import EquipmentKind, PerformedBy, SubjectKind, Tolerance

PROBES = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.PROBE,))
CONTROLLERS = Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.CONTROLLER,))


def descaling(trade: Any, **fins: Any) -> list[Any]:
    """Screen and fins before descaling, else there is no diagnosis: common practice."""
    return [
        trade.rule("fins", order=12, interval=trade.interval(3, 6, 12, "month"), **fins),
        trade.rule(
            "descale", order=40, interval=trade.interval(24, 48, 60, "month"), tolerance=Tolerance.C,
            prerequisites=("fins",),
        ),
    ]  # fmt: skip


def descale_due(trade: Any, day: date, *history: Any) -> RegisterRows:
    """The descale is due on `day`: it was done four years before."""
    return trade.rows(history=(trade.done(day.replace(year=day.year - 4), "descale"), *history))


def test_a_descale_waits_for_fins_that_were_never_cleaned(trade: Any) -> None:
    """It may be 16 months late (a third of 48); the fins come up within their half year."""
    rows = descale_due(trade, date(2026, 6, 12))
    plan = trade.plan(rows, *descaling(trade))
    fins, descale = trade.first(plan, "fins"), trade.first(plan, "descale")
    assert descale.due == date(2026, 6, 12) < trade.day_of(plan, fins)
    assert descale.visit == fins.visit
    (visit,) = (one for one in plan.visits if one.key == fins.visit)
    assert visit.tasks == (fins.key, descale.key)
    again = trade.plan(rows, *descaling(trade), previous=plan)
    assert not again.changes
    assert (again.tasks, again.visits) == (plan.tasks, plan.visits)


def measuring(trade: Any) -> list[Any]:
    """Due on 12 June, from 27 May to 17 June, and with fins in date only."""
    every = trade.interval(4, 8, 9, "week")
    return [descaling(trade)[0], trade.rule("measure", interval=every, tolerance=Tolerance.A, prerequisites=("fins",))]


def measure_due(trade: Any, *history: Any) -> RegisterRows:
    return trade.rows(history=(trade.done(date(2026, 4, 17), "measure"), *history))


def test_work_does_not_wait_for_fins_in_date(trade: Any) -> None:
    """Cleaned in March, they are next due in September: that is in date in June."""
    rows = measure_due(trade, trade.done(date(2026, 3, 20), "fins"))
    plan = trade.plan(rows, *measuring(trade))
    assert trade.day_of(plan, trade.first(plan, "measure")) == date(2026, 6, 12)
    assert trade.day_of(plan, trade.first(plan, "fins")) > date(2026, 7, 1)


def test_a_new_unit_is_clean(trade: Any) -> None:
    """What was installed in April needs no fins cleaned before October."""
    rows = measure_due(trade)
    rows = replace(rows, devices=(replace(rows.devices[0], installed=date(2026, 4, 15)),))
    plan = trade.plan(rows, *measuring(trade))
    assert trade.day_of(plan, trade.first(plan, "measure")) == date(2026, 6, 12)
    assert trade.day_of(plan, trade.first(plan, "fins")) > date(2026, 8, 1)


def test_what_cannot_wait_has_its_prerequisite_brought_forward(trade: Any) -> None:
    """A cut-off test that is due in a week; the probe that it is judged by was never checked."""
    rules = [
        trade.rule("check-probe", selector=PROBES, interval=trade.interval(4, 40, 60, "week")),
        trade.rule(
            "cut-off", selector=CONTROLLERS, interval=trade.interval(2, 8, 10, "week"), tolerance=Tolerance.A,
            prerequisites=("check-probe",),
        ),
    ]  # fmt: skip
    equipment = (
        Equipment("PB", EquipmentKind.PROBE, "Probe", tank="T1"),
        Equipment("CT", EquipmentKind.CONTROLLER, "Controller", tank="T1"),
    )
    rows = trade.rows(equipment=equipment, history=(trade.done(date(2026, 4, 1), "cut-off", "CT"),))
    plan = trade.plan(rows, *rules)
    probe, test = trade.first(plan, "check-probe", "PB"), trade.first(plan, "cut-off", "CT")
    assert probe.due > test.latest, "by themselves they would be weeks apart"
    assert test.due == date(2026, 5, 27) == probe.earliest
    assert probe.visit == test.visit
    visit = plan.visit_by_key[test.visit]
    assert visit.tasks.index(probe.key) < visit.tasks.index(test.key)
    for days in (0, 1):
        later = trade.plan(rows, *rules, previous=plan, today=trade.today + timedelta(days=days))
        assert not later.changes.moved
        assert later.visits[0] == plan.visits[0]


def test_nothing_is_brought_forward_inside_its_shortest_interval(trade: Any) -> None:
    """The probe was checked two weeks ago and is not to be checked again within thirty; the next check stands."""
    rules = [
        trade.rule("check-probe", interval=trade.interval(30, 40, 60, "week")),
        trade.rule("test", interval=trade.interval(2, 60, 90, "week"), prerequisites=("check-probe",)),
    ]
    history = (trade.done(date(2026, 5, 6), "check-probe"), trade.done(date(2025, 1, 1), "test"))
    plan = trade.plan(trade.rows(history=history), *rules, days=300)
    probe = trade.first(plan, "check-probe")
    assert probe.earliest >= date(2026, 5, 6) + timedelta(weeks=28)
    assert trade.day_of(plan, probe) >= probe.earliest


def test_past_its_limit_nothing_waits(trade: Any) -> None:
    """A descale that nobody did in five years is done now, after fins that are done now."""
    rows = trade.rows(history=(trade.done(date(2020, 1, 1), "descale"),))
    plan = trade.plan(rows, *descaling(trade))
    fins, descale = trade.first(plan, "fins"), trade.first(plan, "descale")
    assert trade.day_of(plan, descale) == trade.today
    assert fins.visit == descale.visit


def test_site_staffs_part_comes_first_too(trade: Any) -> None:
    """Staff clean the screen before the technician opens the case: it is on their list by that day."""
    by_staff = {"performed_by": PerformedBy.SITE_STAFF, "tolerance": Tolerance.C}
    rules = descaling(trade, **by_staff)
    wait = trade.plan(descale_due(trade, date(2026, 6, 12)), *rules)
    screen = trade.first(wait, "fins")
    assert trade.day_of(wait, trade.first(wait, "descale")) >= screen.due > date(2026, 6, 12)
    late = trade.rows(history=(trade.done(date(2020, 1, 1), "descale"),))
    plan = trade.plan(late, *rules)
    assert trade.first(plan, "fins").due == trade.today == trade.day_of(plan, trade.first(plan, "descale"))
    assert not trade.plan(late, *rules, previous=plan).changes


def test_work_on_one_device_waits_for_no_work_on_another(trade: Any) -> None:
    """Two chillers at one tank: the fins of the second were never cleaned."""
    rows = measure_due(trade, trade.done(date(2026, 3, 20), "fins"), trade.done(date(2026, 4, 17), "measure", "C2"))
    beside = replace(rows.devices[0], code="C2")
    rows = replace(rows, devices=(*rows.devices, beside), duties=(*rows.duties, replace(rows.duties[0], device="C2")))
    plan = trade.plan(rows, *measuring(trade))
    assert trade.first(plan, "fins", "C2").earliest <= date(2026, 6, 12), "brought forward for its own"
    assert trade.first(plan, "fins").earliest > date(2026, 7, 1)


def chain(trade: Any) -> list[Any]:
    return [
        trade.rule("screen", order=10, interval=trade.interval(1, 4, 8, "week"), performed_by=PerformedBy.SITE_STAFF),
        trade.rule("fins", order=12, interval=trade.interval(3, 6, 12, "month"), minutes=40, prerequisites=("screen",)),
        trade.rule("flush", order=38, interval=trade.interval(2, 6, 12, "month"), minutes=40, tolerance=Tolerance.C),
        trade.rule(
            "descale", order=40, interval=trade.interval(9, 12, 18, "month"), minutes=130, tolerance=Tolerance.C,
            prerequisites=("screen", "fins", "flush"),
        ),
        trade.rule("probe", selector=trade.on(SubjectKind.TANK), order=30, interval=trade.interval(2, 6, 8, "week")),
        trade.rule(
            "output", order=32, minutes=25, interval=trade.interval(1, 3, 6, "month"), prerequisites=("probe",),
        ),
    ]  # fmt: skip


def out_of_order(plan: Plan, rules: list[Any]) -> list[tuple[str, str]]:
    """Tasks whose prerequisite is planned after them though it is not in date, by the plan's own words only."""
    needs = {rule.id: rule.prerequisites for rule in rules}

    def day(task: Task) -> date:
        return plan.visit_by_key[task.visit].day if task.visit is not None else max(task.due, plan.today)

    found = []
    placed = [task for task in plan.tasks if task.visit is not None]
    for task in placed:
        for name in needs[task.rule]:
            line = [one for one in plan.tasks if one.rule == name and one.tank == task.tank]
            before = [one for one in line if day(one) <= day(task)]
            after = [one for one in line if day(one) > day(task)]
            ever = bool(before) or any(one.follows is not None for one in line)
            if after and not (ever and day(task) <= after[0].due):
                found.append((task.key, after[0].key))
            for one in before:
                if one.visit == task.visit:
                    tasks = plan.visit_by_key[task.visit].tasks
                    assert tasks.index(one.key) < tasks.index(task.key)
    return found


@given(
    tanks=st.integers(1, 6),
    history=st.lists(
        st.tuples(
            st.integers(1, 6), st.sampled_from(["screen", "fins", "flush", "descale", "probe", "output"]),
            st.integers(0, 500),
        ),
        max_size=20, unique=True,
    ),
    closed=st.tuples(st.integers(0, 60), st.integers(0, 30)),
    done=st.integers(0, 30),
    days_later=st.sampled_from([0, 1, 20]),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_whatever_was_done_before_the_order_holds_and_the_plan_is_at_rest(
    trade: Any, tanks: int, history: list[Any], closed: tuple[int, int], done: int, days_later: int
) -> None:
    def subject(rule: str, number: int) -> str:
        return f"T{number}" if rule == "probe" else f"C{number}"

    rules = chain(trade)
    first = trade.today + timedelta(days=closed[0])
    rows = trade.rows(
        tanks=tanks,
        history=tuple(
            trade.done(trade.today - timedelta(days=ago), rule, subject(rule, n))
            for n, rule, ago in history
            if n <= tanks
        ),
        closures=(Closure("S", first, first + timedelta(days=closed[1])),) if closed[1] else (),
    )
    plan = trade.plan(rows, *rules)
    finished = plan.tasks[done % len(plan.tasks)]
    today = trade.today + timedelta(days=days_later)
    more = replace(rows, history=(*rows.history, trade.done(today, finished.rule, finished.subject)))
    later = trade.plan(more, *rules, previous=plan, today=today)
    for some, at in ((rows, plan), (more, later)):
        held = [key for visit in at.visits for key in visit.tasks]
        visitors = [task.key for task in at.tasks if task.performed_by is PerformedBy.VISITOR]
        assert sorted([*held, *(one.key for one in at.unplaced)]) == sorted(visitors)
        if not at.unplaced:
            assert not out_of_order(at, rules)
        again = trade.plan(some, *rules, previous=at, today=at.today)
        assert not again.changes
        assert again.visits == at.visits


@pytest.mark.parametrize("tanks", [3, 8])
def test_a_whole_fleet_never_looked_after_is_taken_in_order(trade: Any, tanks: int) -> None:
    rules = chain(trade)
    plan = trade.plan(trade.rows(tanks=tanks), *rules, days=400)
    assert not out_of_order(plan, rules)
    assert not plan.unplaced
    assert all(visit.technician == "W1" for visit in plan.visits)
