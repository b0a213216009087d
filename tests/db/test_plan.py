"""The saved plan: nothing moves without news, and a revision never goes back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.db.repository import PlanCount, Register
from fleet.errors import BadInput
from fleet.values.plan import AppliedFactor, Cause, Plan, Task, Unplaced, Visit
from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance

FIRST = datetime(2026, 5, 4, 18, 0, tzinfo=UTC)
SECOND = FIRST + timedelta(days=1)
THIRD = FIRST + timedelta(days=2)


def a_task(key: str, **fields: object) -> Task:
    usual: dict[str, object] = {
        "key": key,
        "rule": "clean-intake-screen",
        "title": "Clean the intake screen",
        "subject": "C-1",
        "subject_kind": SubjectKind.DEVICE,
        "site": "LAG-1",
        "tank": "T-1",
        "device": "C-1",
        "occurrence": "n2",
        "due": date(2026, 5, 11),
        "due_at": None,
        "earliest": date(2026, 5, 6),
        "latest": date(2026, 5, 18),
        "minutes": 10,
        "persons": 1,
        "skill": Skill.KEEPER,
        "performed_by": PerformedBy.VISITOR,
        "tolerance": Tolerance.B,
        "order": 2,
        "state": TaskState.UPCOMING,
        "cause": Cause(CauseKind.INTERVAL, "Every 4 weeks", {"interval_days": 28.0, "limit": None, "rule": "own"}),
        "follows": date(2026, 4, 2),
        "factors": (AppliedFactor("dust", 0.7, "the room is dusty"),),
        "interval_days": 19.6,
    }
    return Task(**usual | fields)  # type: ignore[arg-type]


@pytest.fixture
def plan() -> Plan:
    start = datetime(2026, 5, 11, 12, 0, tzinfo=UTC)
    first, second = a_task("7K3-Q9", visit="V-1", order=3), a_task("2M4-XA", rule="press-gfci-test", visit="V-1")
    loose = a_task("9ZZ-01", due=date(2026, 5, 20), latest=date(2026, 6, 1), due_at=start + timedelta(days=9))
    return Plan(
        today=date(2026, 5, 4),
        through=date(2026, 8, 31),
        tasks=(second, first, loose),
        visits=(
            Visit("V-1", "LAG-1", "ADA", start, start + timedelta(hours=1), 60, ("7K3-Q9", "2M4-XA"), start.date()),
        ),
        unplaced=(Unplaced("9ZZ-01", "closed", "The site is closed in that window"),),
        not_on_record={"LAG-1": ("run-generator", "test-ups")},
    )


def test_there_is_no_plan_before_the_first(database):
    with Register.open(database, read_only=True) as register:
        assert register.saved_plan() is None
        assert register.revisions() == {}


def test_a_saved_plan_comes_back_equal(database, plan):
    with Register.open(database) as register:
        assert register.save_plan(plan, now=FIRST) == PlanCount(added=4)
    with Register.open(database, read_only=True) as register:
        assert register.saved_plan() == plan


def test_the_fingerprints_of_a_plan_come_back_with_it(database, plan):
    with Register.open(database) as register:
        register.save_plan(replace(plan, fingerprints={"LAG-1": "0f"}), now=FIRST)
        saved = register.saved_plan()
        assert saved is not None
        assert saved.fingerprints == {"LAG-1": "0f"}


def test_saving_the_same_plan_again_touches_no_row(database, plan):
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        revisions = register.revisions()
        assert register.save_plan(plan, now=SECOND) == PlanCount(same=4)
        assert register.revisions() == revisions


def test_passing_days_are_a_modification_but_no_new_sequence(database, plan):
    late = replace(plan, tasks=(*plan.tasks[:2], replace(plan.tasks[2], state=TaskState.OPEN)))
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        assert register.save_plan(late, now=SECOND) == PlanCount(changed=1, same=3)
        revision = register.revisions()["9ZZ-01"]
    assert (revision.sequence, revision.created_at, revision.modified_at) == (0, FIRST, SECOND)


@pytest.mark.parametrize(
    "news",
    [
        {"due": date(2026, 5, 21)},
        {"due_at": None},
        {"latest": date(2026, 6, 2)},
        {"state": TaskState.HALTED},
        {"state": TaskState.PUT_OFF},
    ],
)
def test_another_time_or_a_state_that_a_calendar_shows_is_a_new_sequence(database, plan, news):
    moved = replace(plan, tasks=(*plan.tasks[:2], replace(plan.tasks[2], **news)))
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        assert register.save_plan(moved, now=SECOND) == PlanCount(changed=1, same=3)
        assert register.revisions()["9ZZ-01"].sequence == 1
        assert register.revisions()["7K3-Q9"].sequence == 0


def test_a_visit_that_moves_or_changes_hands_is_a_new_sequence(database, plan):
    visit = plan.visits[0]
    later = replace(visit, start=visit.start + timedelta(minutes=30), end=visit.end + timedelta(minutes=30))
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        register.save_plan(replace(plan, visits=(later,)), now=SECOND)
        assert register.revisions()["V-1"].sequence == 1
        register.save_plan(replace(plan, visits=(replace(later, technician=None),)), now=THIRD)
        assert register.revisions()["V-1"].sequence == 2
        assert register.revisions()["V-1"].modified_at == THIRD


def test_another_working_order_of_a_visit_is_kept(database, plan):
    turned = replace(plan, visits=(replace(plan.visits[0], tasks=("2M4-XA", "7K3-Q9")),))
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        register.save_plan(turned, now=SECOND)
        assert register.saved_plan() == turned


def test_what_leaves_the_plan_is_dropped_and_goes_on_counting_when_it_returns(database, plan):
    without = replace(plan, tasks=plan.tasks[:2], unplaced=())
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        assert register.save_plan(without, now=SECOND) == PlanCount(dropped=1, same=3)
        assert register.saved_plan() == without
        assert "9ZZ-01" not in register.revisions()
        assert register.revisions(dropped=True)["9ZZ-01"].sequence == 1
        assert [task.key for task in register.dropped(SECOND)[0]] == ["9ZZ-01"]
        assert register.dropped(SECOND + timedelta(seconds=1)) == ((), ())
        assert register.save_plan(plan, now=THIRD) == PlanCount(returned=1, same=3)
        revision = register.revisions()["9ZZ-01"]
        assert (revision.sequence, revision.created_at, revision.modified_at) == (2, FIRST, THIRD)
        assert register.saved_plan() == plan


def test_a_clock_that_was_set_back_does_not_make_a_revision_older(database, plan):
    moved = replace(plan, tasks=(*plan.tasks[:2], replace(plan.tasks[2], due=date(2026, 5, 22))))
    gone = replace(plan, tasks=plan.tasks[:2], unplaced=())
    with Register.open(database) as register:
        register.save_plan(plan, now=SECOND)
        register.save_plan(moved, now=FIRST)
        assert register.revisions()["9ZZ-01"].modified_at == SECOND
        register.save_plan(gone, now=FIRST)
        assert register.revisions(dropped=True)["9ZZ-01"].modified_at == SECOND


def test_a_dropped_visit_keeps_its_tasks_for_a_late_cancellation(database, plan):
    empty = Plan(today=plan.today, through=plan.through)
    with Register.open(database) as register:
        register.save_plan(plan, now=FIRST)
        assert register.save_plan(empty, now=SECOND) == PlanCount(dropped=4)
        tasks, visits = register.dropped(SECOND)
    assert visits == plan.visits
    assert tasks == plan.tasks


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (lambda plan: replace(plan, visits=()), "says visit V-1, but is listed in visit None"),
        (lambda plan: replace(plan, tasks=plan.tasks[1:]), "lists task 2M4-XA, which is not in the plan"),
        (lambda plan: replace(plan, tasks=plan.tasks[:2]), "not placed: task 9ZZ-01"),
        (lambda plan: replace(plan, tasks=(*plan.tasks, plan.tasks[2])), "the same key"),
        (lambda plan: replace(plan, visits=plan.visits * 2), "the same key"),
    ],
)
def test_a_plan_that_contradicts_itself_is_not_saved(database, plan, broken, said):
    with Register.open(database) as register, pytest.raises(ValueError, match=said):
        register.save_plan(broken(plan), now=FIRST)


def test_a_task_for_something_that_is_not_on_record_is_refused(database, plan):
    ghost = replace(plan.tasks[2], subject="C-9", device=None)
    with pytest.raises(BadInput, match="refuses"), Register.open(database) as register:
        register.save_plan(replace(plan, tasks=(*plan.tasks[:2], ghost)), now=FIRST)
    with Register.open(database, read_only=True) as register:
        assert register.saved_plan() is None
