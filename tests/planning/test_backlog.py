"""Backlog: work due and not done, in hours (the word as maintenance standards use it: from memory, EN 15341)."""

from __future__ import annotations

from datetime import date, timedelta

from fleet.planning.backlog import backlog
from fleet.values.plan import Cause, Plan, Task
from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance

TODAY = date(2026, 5, 20)


def a_task(key: str, due_in: int, *, late_by: int = 3, state: TaskState = TaskState.UPCOMING, **fields: object) -> Task:
    due = TODAY + timedelta(days=due_in)
    usual: dict[str, object] = {
        "key": key, "rule": "measure-pump-flow", "title": "Measure the flow", "subject": "P-1",
        "subject_kind": SubjectKind.EQUIPMENT, "site": "PIER", "tank": None, "device": None, "occurrence": key,
        "due": due, "due_at": None, "earliest": due - timedelta(days=2), "latest": due + timedelta(days=late_by),
        "minutes": 45, "persons": 1, "skill": Skill.KEEPER, "performed_by": PerformedBy.VISITOR,
        "tolerance": Tolerance.B, "order": 30, "state": state, "cause": Cause(CauseKind.INTERVAL, "Every month."),
    }  # fmt: skip
    return Task(**usual | fields)  # type: ignore[arg-type]


def of(*tasks: Task):
    return backlog(Plan(TODAY, TODAY + timedelta(days=180), tasks))


def test_late_work_is_added_up_and_what_is_only_due_is_not():
    late, past = a_task("L", -1, state=TaskState.LATE), a_task("P", -9, state=TaskState.PAST_LIMIT)
    assert of(late, past, a_task("D", 0, state=TaskState.DUE)).minutes == 90


def test_what_is_due_on_the_last_day_away_is_not_late_yet():
    found = of(a_task("13", 13), a_task("14", 14), a_task("15", 15))
    assert found.until == date(2026, 6, 3)
    assert [task.key for task in found.becoming_late] == ["13"]


def test_what_is_late_already_can_only_pass_its_last_day():
    late = a_task("L", -1, state=TaskState.LATE)
    found = of(late, a_task("P", -9, state=TaskState.PAST_LIMIT), a_task("N", 2))
    assert [task.key for task in found.becoming_late] == ["N"]
    assert {task.key for task in found.passing_limit} == {"L", "N"}


def test_life_safety_comes_first_then_animals():
    found = of(
        a_task("c", 1, tolerance=Tolerance.C), a_task("a", 5, tolerance=Tolerance.A),
        a_task("a0", 9, tolerance=Tolerance.A0), a_task("b", 2),
    )  # fmt: skip
    assert [task.key for task in found.becoming_late] == ["a0", "a", "b", "c"]


def test_what_the_people_on_site_do_gets_done_though_nobody_comes():
    found = of(a_task("S", 2, performed_by=PerformedBy.SITE_STAFF))
    assert found.becoming_late == ()


def test_what_was_withdrawn_is_nobodys_backlog():
    assert of(a_task("W", 2, state=TaskState.WITHDRAWN)).becoming_late == ()
