"""The published edition: what calendars show, counted by what was published and not by what was planned."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.db.repository import PlanCount, Register
from fleet.values.plan import Cause, Plan, Task, Visit
from fleet.values.register import ServiceRecord
from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance

FIRST = datetime(2026, 5, 4, 18, 0, tzinfo=UTC)
SECOND = FIRST + timedelta(days=1)
THIRD = FIRST + timedelta(days=2)


def a_task(key: str, due: date, visit: str | None) -> Task:
    return Task(
        key=key, rule="clean-intake-screen", title="Clean the intake screen", subject="C-1",
        subject_kind=SubjectKind.DEVICE, site="LAG-1", tank="T-1", device="C-1", occurrence=key, due=due, due_at=None,
        earliest=due - timedelta(days=5), latest=due + timedelta(days=5), minutes=10, persons=1, skill=Skill.KEEPER,
        performed_by=PerformedBy.VISITOR, tolerance=Tolerance.B, order=2, state=TaskState.UPCOMING,
        cause=Cause(CauseKind.INTERVAL, "Every 4 weeks", {}), visit=visit,
    )  # fmt: skip


def a_visit(key: str, day: date, *tasks: str) -> Visit:
    start = datetime(day.year, day.month, day.day, 13, 0, tzinfo=UTC)
    return Visit(key, "LAG-1", "ADA", start, start + timedelta(minutes=30), 10, tasks, day)


@pytest.fixture
def plan() -> Plan:
    day, later = date(2026, 5, 11), date(2026, 6, 8)
    return Plan(
        date(2026, 5, 4), date(2026, 8, 31), (a_task("T-1A", day, "V-1A"), a_task("T-2B", later, None)),
        (a_visit("V-1A", day, "T-1A"),), not_on_record={"LAG-1": ("run-generator",)},
    )  # fmt: skip


def moved(plan: Plan, days: int) -> Plan:
    """The same plan with its visit some days later."""
    visit = plan.visits[0]
    step = timedelta(days=days)
    return replace(plan, visits=(replace(visit, start=visit.start + step, end=visit.end + step, day=visit.day + step),))


def test_nothing_is_published_until_somebody_publishes(database, plan):
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        assert register.published_plan() is None
        assert register.published_at() is None
        assert register.published_revisions() == {}


def test_the_published_edition_stays_while_the_plan_moves_on(database, plan):
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        register.publish(plan, now=FIRST)
        register.save_plan(moved(plan, 1), now=SECOND)
        assert register.published_plan() == plan
        assert register.published_at() == FIRST
        assert register.saved_plan() == moved(plan, 1)


def test_the_first_edition_shows_calendars_nothing_new(database, plan):
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        register.save_plan(moved(plan, 1), now=SECOND)
        before = register.revisions()
        assert register.publish(moved(plan, 1), now=THIRD) == PlanCount(added=3)
        assert register.published_revisions() == before


def test_plans_between_two_editions_leave_the_count_alone(database, plan):
    with Register.open(database) as register:
        for day, some in enumerate((plan, moved(plan, 1), moved(plan, 2))):
            register.save_plan(some, now=FIRST + timedelta(days=day))
            if day == 0:
                register.publish(some, now=FIRST)
        assert register.revisions()["V-1A"].sequence == 2
        assert register.published_revisions()["V-1A"].sequence == 0
        register.publish(moved(plan, 2), now=THIRD)
        assert register.published_revisions()["V-1A"].sequence == 1
        assert register.published_revisions()["T-1A"].sequence == 0


def test_publishing_the_same_plan_again_touches_no_row(database, plan):
    with Register.open(database) as register:
        register.publish(plan, now=FIRST)
        before = register.published_revisions()
        assert register.publish(plan, now=SECOND) == PlanCount(same=3)
        assert register.published_revisions() == before
        assert register.published_at() == SECOND


def test_what_leaves_an_edition_and_comes_back_goes_on_counting(database, plan):
    without = replace(plan, tasks=plan.tasks[1:], visits=())
    with Register.open(database) as register:
        for day, some in enumerate((plan, without, plan)):
            register.publish(some, now=FIRST + timedelta(days=day))
        assert register.published_revisions()["V-1A"].sequence == 2
        assert register.published_plan() == plan


def test_work_recorded_since_an_instant_names_the_task_it_closed(database):
    done = ServiceRecord("C-1", "clean-intake-screen", date(2026, 5, 5), "ADA")
    with Register.open(database) as register:
        keys = {("C-1", "clean-intake-screen", date(2026, 5, 5)): "T-1A"}
        register.add_service_records([done], task_keys=keys, who="ada", now=SECOND)
        (found,) = register.recorded_since(SECOND)
        assert (found.record, found.task_key, found.at) == (done, "T-1A", SECOND)
        register.withdraw("history", ("C-1", "clean-intake-screen", date(2026, 5, 5)), who="ada", now=THIRD, reason="x")
        assert register.recorded_since(SECOND) == ()
