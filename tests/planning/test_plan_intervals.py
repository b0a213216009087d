"""Work that comes back: what history says, what is new, and what planning again does."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.values.catalogue import Factor, RunningHours, Selector
from fleet.values.plan import Plan
from fleet.values.register import Closure, Placement, Reading, RegisterRows, YearSpan
from fleet.values.vocabulary import (
    CauseKind,
    Finding,
    Lid,
    PerformedBy,
    ReadingQuantity,
    SubjectKind,
    TaskState,
    Tolerance,
    Where,
)


def test_next_due_counts_from_the_day_the_work_was_done(trade: Any) -> None:
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 5, 4)),)), trade.rule())
    dues = [task.due for task in trade.tasks(plan)]
    assert dues == [date(2026, 6, 1) + timedelta(weeks=4 * step) for step in range(len(dues))]
    assert dues[-1] + timedelta(weeks=4) > plan.through >= dues[-1]
    assert trade.first(plan).follows == date(2026, 5, 4)
    assert trade.first(plan).cause.text == "Every 4 weeks, last done on 4 May 2026."


def test_work_that_could_not_be_inspected_was_not_done(trade: Any) -> None:
    history = (
        trade.done(date(2026, 5, 1)),
        trade.done(date(2026, 5, 10), finding=Finding.NOT_INSPECTED),
    )
    assert trade.first(trade.plan(trade.rows(history=history), trade.rule())).follows == date(2026, 5, 1)


def test_months_are_counted_to_the_end_of_the_month(trade: Any) -> None:
    rule = trade.rule(interval=trade.interval(1, 6, 12, "month"))
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 2, 28)),)), rule, days=400)
    assert [task.due for task in trade.tasks(plan)] == [date(2026, 8, 28), date(2027, 2, 28)]


@pytest.mark.parametrize("done_early_by", [0, 3, 10])
def test_a_life_safety_test_stays_on_its_calendar(trade: Any, done_early_by: int) -> None:
    """GFCI: monthly, US Consumer Product Safety Commission with NESF (second-hand). Early tests do not move it, as
    long as the longest interval is kept."""
    rule = trade.rule(
        "press-test",
        selector=Selector(SubjectKind.EQUIPMENT),
        tolerance=Tolerance.A0,
        interval=trade.interval(2, 4, 6, "week"),
    )
    days = (date(2026, 4, 1), date(2026, 4, 29) - timedelta(days=done_early_by))
    rows = trade.rows(history=tuple(trade.done(day, "press-test", "G") for day in days))
    task = trade.first(trade.plan(rows, rule), "press-test", "G")
    assert task.due == task.latest == date(2026, 5, 27)
    assert task.cause.kind is CauseKind.CALENDAR


def test_a_life_safety_test_is_never_later_than_its_longest_interval(trade: Any) -> None:
    """Where the calendar and the longest interval disagree, the longest interval wins: the safe side."""
    rule = trade.rule(
        "press-test", selector=Selector(SubjectKind.EQUIPMENT), tolerance=Tolerance.A0,
        interval=trade.interval(2, 4, 5, "week"),
    )  # fmt: skip
    done = (date(2026, 4, 29), date(2026, 5, 10))  # 17 days before its calendar day, 27 May; the next is 24 June
    rows = trade.rows(history=tuple(trade.done(day, "press-test", "G") for day in done))
    assert trade.first(trade.plan(rows, rule), "press-test", "G").due == date(2026, 5, 10) + timedelta(weeks=5)


def test_nothing_lengthens_the_interval_of_life_safety_work(trade: Any) -> None:
    factors = (Factor("dust", 1.3),)
    rows = trade.rows(history=(trade.done(date(2026, 5, 4)),))
    rows = replace(rows, rooms=(replace(rows.rooms[0], conditions=("dust",)),))
    longer = trade.first(trade.plan(rows, trade.rule(factors=factors)))
    safety = trade.first(trade.plan(rows, trade.rule(factors=factors, tolerance=Tolerance.A0)))
    assert (longer.interval_days, safety.interval_days) == (36.0, 28.0)
    assert longer.factors[0].reason == "room R is dusty"
    assert not safety.factors


def test_work_never_recorded_begins_with_safety(trade: Any) -> None:
    """Phase-in (our own rule): life safety within 14 days, livestock safety within 28 or a third of its interval,
    the rest over one interval."""
    half_a_year = trade.interval(3, 6, 12, "month")
    rules = [
        trade.rule(str(tolerance), tolerance=tolerance, interval=half_a_year)
        for tolerance in (Tolerance.A0, Tolerance.A, Tolerance.C)
    ]
    plan = trade.plan(trade.rows(tanks=60), *rules)
    ahead = {
        tolerance: [(task.due - plan.today).days for task in plan.tasks if task.tolerance is tolerance]
        for tolerance in (Tolerance.A0, Tolerance.A, Tolerance.C)
    }
    first = {
        t: [(task.due - plan.today).days for task in plan.tasks if task.rule == t and task.occurrence == "n1"]
        for t in ahead
    }
    assert max(first[Tolerance.A0]) < 14
    assert 14 < max(first[Tolerance.A]) < 28
    assert max(first[Tolerance.C]) > 120
    assert len(set(first[Tolerance.C])) > 30, "not everything on one day"
    assert all(task.cause.kind is CauseKind.NEVER_RECORDED for task in plan.tasks)
    assert min(days for some in ahead.values() for days in some) >= 0, "nothing begins late"


@pytest.mark.parametrize(
    ("installed", "due"),
    [(date(2026, 5, 8), date(2026, 6, 5)), (date(2026, 5, 10), date(2026, 6, 5))],
    ids=["a Friday", "a Sunday, so on the Friday before"],
)
def test_a_new_device_is_first_due_one_interval_after_it_was_installed(trade: Any, installed: date, due: date) -> None:
    rows = trade.rows()
    rows = replace(rows, devices=(replace(rows.devices[0], installed=installed),))
    assert trade.first(trade.plan(rows, trade.rule())).due == due


@pytest.mark.parametrize(("changes", "known"), [({}, True), ({"lid": Lid.SEALED}, False)], ids=["new", "a new lid"])
def test_a_tank_that_was_altered_is_not_new(trade: Any, changes: Any, known: bool) -> None:
    """A later row for the same tank tells what changed on that day, not since when there has been work to do."""
    rows = trade.rows()
    since = date(2026, 5, 8)
    first = (rows.tanks[0],) if changes else ()
    rows = replace(rows, tanks=(*first, replace(rows.tanks[0], since=since, **changes)))
    plan = trade.plan(rows, trade.rule(selector=trade.on(SubjectKind.TANK), interval=trade.interval(4, 8, 9, "week")))
    assert ("on record since" in trade.first(plan, subject="T1").cause.text) is known


@given(
    weekdays=st.sets(st.integers(0, 6), min_size=1),
    closed=st.tuples(st.integers(0, 20), st.integers(0, 20)),
    tolerance=st.sampled_from([Tolerance.A0, Tolerance.A, Tolerance.C]),
)
@settings(max_examples=30, deadline=None)
def test_work_never_recorded_is_first_due_on_a_day_of_visit(
    trade: Any, weekdays: set[int], closed: tuple[int, int], tolerance: Tolerance
) -> None:
    """Life safety has no day of grace: due on a closed day it would be in no visit (our own rule)."""
    first = trade.today + timedelta(days=closed[0])
    closure = Closure("S", first, first + timedelta(days=closed[1]))
    rows = trade.rows(
        tanks=12,
        sites=(trade.site(visit_days=tuple(sorted(weekdays))),),
        closures=(closure,) if closed[1] else (),
        technicians=(trade.technician(work_days=tuple(range(7))),),
    )
    rule = trade.rule(tolerance=tolerance)
    plan = trade.plan(rows, rule)
    for number in range(1, 13):
        task = trade.first(plan, subject=f"C{number}")
        assert task.due.weekday() in weekdays
        assert not closure.since <= task.due < closure.until
        assert task.visit is not None
        if tolerance is Tolerance.A0:
            assert trade.day_of(plan, task) <= task.due
    assert not trade.plan(rows, rule, previous=plan).changes


def test_planning_again_tomorrow_moves_nothing_that_was_never_recorded(trade: Any) -> None:
    rules = [trade.rule(interval=trade.interval(3, 6, 12, "month")), trade.rule("weekly")]
    plan = trade.plan(trade.rows(tanks=20), *rules)
    for ahead in (1, 2, 3):
        later = trade.plan(trade.rows(tanks=20), *rules, previous=plan, today=trade.today + timedelta(days=ahead))
        known = {task.key: task.due for task in plan.tasks}
        assert {task.key: task.due for task in later.tasks if task.key in known} == known


def test_what_was_never_recorded_comes_up_within_the_days_planned_and_does_not_move_on_for_ever(trade: Any) -> None:
    rule = trade.rule(interval=trade.interval(12, 48, 60, "month"), tolerance=Tolerance.C)
    plan = trade.plan(trade.rows(tanks=30), rule, days=28)
    assert len(plan.tasks) == 30


def test_planning_twice_changes_nothing(trade: Any) -> None:
    rows = trade.rows(tanks=12, history=(trade.done(date(2026, 4, 1)), trade.done(date(2026, 5, 1), subject="C2")))
    rules = [trade.rule(), trade.rule("fins", interval=trade.interval(3, 6, 12, "month"), minutes=60)]
    plan = trade.plan(rows, *rules)
    again = trade.plan(rows, *rules, previous=plan)
    assert not again.changes
    assert (again.tasks, again.visits, again.unplaced) == (plan.tasks, plan.visits, plan.unplaced)


def test_the_order_of_rows_and_rules_does_not_matter(trade: Any) -> None:
    rows = trade.rows(tanks=8, history=tuple(trade.done(date(2026, 5, n + 1), subject=f"C{n}") for n in range(1, 6)))
    rules = [trade.rule(), trade.rule("fins", order=12), trade.rule("flow", order=31)]
    backwards = RegisterRows(
        **{name: tuple(reversed(getattr(rows, name))) for name in RegisterRows.__dataclass_fields__}
    )
    plans: list[Plan] = [trade.plan(rows, *rules), trade.plan(backwards, *reversed(rules))]
    assert plans[0] == plans[1]


def test_marking_one_task_done_moves_only_what_follows_from_it(trade: Any) -> None:
    history = tuple(trade.done(date(2026, 5, 1), subject=f"C{n}") for n in range(1, 7))
    rows = trade.rows(tanks=6, history=history)
    plan = trade.plan(rows, trade.rule())
    done_today = replace(rows, history=(*history, trade.done(trade.today, subject="C3")))
    later = trade.plan(done_today, trade.rule(), previous=plan)
    untouched = {task.key for task in plan.tasks if task.subject != "C3"}
    for key in untouched:
        before, after = plan.task_by_key[key], later.task_by_key[key]
        assert (before.due, trade.day_of(plan, before)) == (after.due, trade.day_of(later, after))
    first, *others = trade.tasks(plan, subject="C3")
    assert first.key not in later.task_by_key
    assert {task.key for task in others} <= trade.keys(trade.tasks(later, subject="C3")), "later ones keep their keys"
    assert [(change.key, change.reason) for change in later.changes.dropped] == [(first.key, "done on 20 May 2026")]
    assert later.changes.moved
    assert all(
        "because last done on 20 May 2026" in change.reason
        for change in later.changes.moved
        if change.key in plan.task_by_key
    )


def test_a_corrected_date_keeps_the_number_and_the_key(trade: Any) -> None:
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 5, 10)),)), trade.rule())
    corrected = trade.plan(trade.rows(history=(trade.done(date(2026, 5, 8)),)), trade.rule(), previous=plan)
    assert trade.first(corrected).key == trade.first(plan).key
    assert trade.first(corrected).due == date(2026, 6, 5)


def test_old_history_added_later_keeps_the_keys(trade: Any) -> None:
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 5, 10)),)), trade.rule())
    history = (trade.done(date(2026, 5, 10)), trade.done(date(2026, 4, 2)), trade.done(date(2026, 3, 1)))
    again = trade.plan(trade.rows(history=history), trade.rule(), previous=plan)
    assert [task.key for task in again.tasks] == [task.key for task in plan.tasks]


def test_late_work_does_not_push_its_followers_on_every_day(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(date(2026, 4, 15)),))  # due 13 May, late on the 20th
    plan = trade.plan(rows, trade.rule(interval=trade.interval(1, 4, 12, "week")))
    later = trade.plan(
        rows, trade.rule(interval=trade.interval(1, 4, 12, "week")), previous=plan, today=date(2026, 5, 23)
    )
    assert trade.first(later).state is TaskState.PAST_LIMIT
    assert [task.due for task in trade.tasks(later)][:3] == [task.due for task in trade.tasks(plan)][:3]


def test_site_staff_get_the_next_occurrence_only_and_never_in_a_visit(trade: Any) -> None:
    rule = trade.rule(performed_by=PerformedBy.SITE_STAFF, interval=trade.interval(1, 1, 2, "day"))
    plan = trade.plan(trade.rows(), rule)
    assert [(task.due, task.state, task.visit) for task in plan.tasks] == [(trade.today, TaskState.DUE, None)]
    assert not plan.visits
    tomorrow = trade.plan(trade.rows(), rule, previous=plan, today=trade.today + timedelta(days=1))
    assert [task.state for task in tomorrow.tasks] == [TaskState.DUE], "never late without a history"
    assert not tomorrow.changes


def test_site_staffs_rare_work_begins_spread_and_stays_where_it_was_planned(trade: Any) -> None:
    """What is looked at within a week is due at once; a whole list of monthly work on the first day is never done
    (common practice)."""
    rules = [
        trade.rule("weekly", performed_by=PerformedBy.SITE_STAFF, interval=trade.interval(3, 7, 7, "day")),
        trade.rule("monthly", performed_by=PerformedBy.SITE_STAFF, interval=trade.interval(2, 4, 8, "week")),
        trade.rule(
            "safety", performed_by=PerformedBy.SITE_STAFF, interval=trade.interval(2, 4, 4, "week"),
            tolerance=Tolerance.A0,
        ),
    ]  # fmt: skip
    rows = trade.rows(tanks=40)
    plan = trade.plan(rows, *rules)
    ahead = {rule.id: [(one.due - plan.today).days for one in plan.tasks if one.rule == rule.id] for rule in rules}
    assert set(ahead["weekly"]) == {0}
    assert min(ahead["monthly"]) >= 0
    assert 20 < max(ahead["monthly"]) < 28
    assert len(set(ahead["monthly"])) > 15
    assert max(ahead["safety"]) < 14
    later = trade.plan(rows, *rules, previous=plan, today=trade.today + timedelta(days=5))
    rare = [one for one in plan.tasks if one.rule != "weekly"]
    assert [later.task_by_key[one.key].due for one in rare] == [one.due for one in rare]
    assert not later.changes


def test_running_hours_come_before_the_calendar_where_the_device_runs_long(trade: Any) -> None:
    rule = trade.rule(interval=trade.interval(6, 12, 18, "month"), running_hours=RunningHours(4000, 4800, 6000))
    readings = tuple(
        Reading("C1", ReadingQuantity.RUNNING_HOURS, value, datetime(2026, 4, day, 12, tzinfo=UTC))
        for day, value in ((1, 1000.0), (11, 1240.0))  # 24 h a day
    )
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 4, 11)),), readings=readings), rule, days=365)
    task = trade.first(plan)
    assert task.due == date(2026, 4, 11) + timedelta(days=200)  # 4800 h / 24 h a day
    assert task.cause.kind is CauseKind.RUNNING_HOURS
    assert "4,800 running hours" in task.cause.text


def test_an_age_rule_begins_at_that_age(trade: Any) -> None:
    rule = trade.rule(from_age_years=8.0, interval=trade.interval(6, 12, 12, "month"), tolerance=Tolerance.C)
    rows = trade.rows()
    young = replace(rows, devices=(replace(rows.devices[0], installed=date(2018, 8, 1)),))
    assert trade.first(trade.plan(young, rule)).due == date(2026, 8, 1)
    assert not trade.plan(rows, rule).tasks, "an unknown age is no age"


@pytest.mark.parametrize(
    ("span", "expected"),
    [
        (YearSpan(6, 15, 9, 10), date(2026, 6, 15)),
        (YearSpan(12, 1, 2, 28), date(2026, 12, 1)),
        (YearSpan(4, 1, 9, 30), date(2026, 5, 27)),
    ],
)
def test_work_of_the_hot_season_waits_for_it(trade: Any, span: YearSpan, expected: date) -> None:
    rule = trade.rule(season_only=True, interval=trade.interval(3, 7, 14, "day"))
    rows = trade.rows(history=(trade.done(date(2026, 5, 20)),), sites=(trade.site(hot_seasons=(span,)),))
    plan = trade.plan(rows, rule, days=230)
    assert trade.first(plan).due == expected
    first, last = (span.first_month, span.first_day), (span.last_month, span.last_day)
    for task in plan.tasks:
        at = (task.due.month, task.due.day)
        assert first <= at <= last if first <= last else at >= first or at <= last


def test_where_no_season_is_on_record_the_work_runs_all_year(trade: Any) -> None:
    rule = trade.rule(season_only=True)
    plan = trade.plan(trade.rows(history=(trade.done(date(2026, 5, 20)),)), rule, days=365)
    assert len(plan.tasks) == 13


def test_a_device_in_store_gets_only_the_work_of_stored_devices(trade: Any) -> None:
    rows = trade.rows(placements=(Placement("C1", Where.STORE, date(2026, 1, 1), room="R"),), duties=())
    rules = [trade.rule(), trade.rule("bench-run", selector=replace(trade.rule().selector, needs=("in-store",)))]
    assert {task.rule for task in trade.plan(rows, *rules).tasks} == {"bench-run"}


def test_a_device_that_stands_nowhere_and_cools_nothing_gets_no_work(trade: Any) -> None:
    assert not trade.plan(trade.rows(duties=()), trade.rule()).tasks


def test_rules_without_a_subject_are_named_for_each_site(trade: Any) -> None:
    rules = [trade.rule(), trade.rule("press", selector=Selector(SubjectKind.EQUIPMENT))]
    rows = trade.rows(equipment=())
    plan = trade.plan(rows, *rules)
    assert plan.not_on_record == {"S": ("press",)}
    assert {task.rule for task in plan.tasks} == {"clean-screen"}


def test_a_rule_with_neither_interval_nor_call_makes_no_task(trade: Any) -> None:
    assert not trade.plan(trade.rows(), trade.rule(interval=None)).tasks


@pytest.mark.parametrize("months", [1, 2, 7])
def test_every_key_is_unique_and_stays_the_same_from_plan_to_plan(trade: Any, months: int) -> None:
    rows = trade.rows(tanks=25, history=tuple(trade.done(date(2026, 4, 9), subject=f"C{n}") for n in range(1, 20)))
    rules = [trade.rule(), trade.rule("fins"), trade.rule("flow")]
    plan = trade.plan(rows, *rules)
    keys = [task.key for task in plan.tasks] + [visit.key for visit in plan.visits]
    assert len(keys) == len(set(keys))
    later = trade.plan(rows, *rules, previous=plan, today=trade.today + relativedelta(months=months))
    of = {(task.rule, task.subject, task.occurrence): task.key for task in plan.tasks}
    shared = [task for task in later.tasks if (task.rule, task.subject, task.occurrence) in of]
    assert shared
    assert all(of[task.rule, task.subject, task.occurrence] == task.key for task in shared)


def test_what_was_put_off_stays_on_the_day_agreed(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(date(2026, 5, 4)),))
    plan = trade.plan(rows, trade.rule())
    first = replace(trade.first(plan), due=date(2026, 6, 20), latest=date(2026, 6, 20), state=TaskState.PUT_OFF)
    agreed = replace(plan, tasks=(first, *(task for task in plan.tasks if task.key != first.key)))
    again = trade.plan(rows, trade.rule(), previous=agreed, today=date(2026, 6, 5))
    task = again.task_by_key[first.key]
    assert (task.due, task.state) == (date(2026, 6, 20), TaskState.PUT_OFF)
    done = replace(rows, history=(*rows.history, trade.done(date(2026, 6, 5))))
    assert first.key not in trade.plan(done, trade.rule(), previous=again, today=date(2026, 6, 6)).task_by_key


def test_a_halted_task_stays_on_the_list_and_is_in_no_visit(trade: Any) -> None:
    rows = trade.rows(history=(trade.done(date(2026, 5, 4)),))
    plan = trade.plan(rows, trade.rule())
    halted = replace(trade.first(plan), state=TaskState.HALTED)
    before = replace(plan, tasks=(halted, *(task for task in plan.tasks if task.key != halted.key)))
    task = trade.plan(rows, trade.rule(), previous=before).task_by_key[halted.key]
    assert (task.state, task.visit) == (TaskState.HALTED, None)
