"""A published edition as days pass: what is done leaves it, what is news is told, nothing else moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from fleet.planning.editions import as_of, edition_changes, without_closed
from fleet.values.plan import Cause, Plan, PlanChanges, Revision, Task, Visit
from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance

PUBLISHED = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
DONE = PUBLISHED + timedelta(days=7)
DAY = date(2026, 5, 11)


def a_task(key: str, due: date = DAY, **fields: object) -> Task:
    usual: dict[str, object] = {
        "key": key, "rule": "measure-pump-flow", "title": "Measure the flow", "subject": "P-1",
        "subject_kind": SubjectKind.EQUIPMENT, "site": "PIER", "tank": None, "device": None, "occurrence": key,
        "due": due, "due_at": None, "earliest": due - timedelta(days=3), "latest": due + timedelta(days=4),
        "minutes": 20, "persons": 1, "skill": Skill.KEEPER, "performed_by": PerformedBy.VISITOR,
        "tolerance": Tolerance.B, "order": 30, "state": TaskState.UPCOMING,
        "cause": Cause(CauseKind.INTERVAL, "Every month."), "visit": "V-1",
    }  # fmt: skip
    return Task(**usual | fields)  # type: ignore[arg-type]


def a_visit(key: str, day: date, *tasks: str, technician: str | None = "ADA", minutes: int = 40) -> Visit:
    start = datetime(day.year, day.month, day.day, 9, 0, tzinfo=UTC)
    return Visit(key, "PIER", technician, start, start + timedelta(minutes=minutes), minutes, tasks, day)


STAFF = a_task("S-1", performed_by=PerformedBy.SITE_STAFF, visit=None)
MORE_STAFF = a_task("S-2", performed_by=PerformedBy.SITE_STAFF, visit=None)
EDITION = Plan(
    DAY - timedelta(days=7),
    DAY + timedelta(days=60),
    (a_task("A"), a_task("B"), STAFF, MORE_STAFF),
    (a_visit("V-1", DAY, "A", "B"),),
)
REVISIONS = {key: Revision(key, 0, PUBLISHED, PUBLISHED) for key in ("A", "B", "S-1", "S-2", "V-1")}


def test_work_that_is_done_leaves_its_visit_and_the_visit_stays_where_it_was():
    left, revisions = without_closed(EDITION, REVISIONS, {"A": DONE})
    (visit,) = left.visits
    assert visit == replace(EDITION.visits[0], tasks=("B",), minutes=20)
    assert "A" not in left.task_by_key
    # RFC 5545, 3.8.7.4: SEQUENCE goes up for another time or place; 3.8.7.2: DTSTAMP for any other content.
    assert revisions["V-1"] == Revision("V-1", 0, PUBLISHED, DONE)
    assert revisions["B"] == REVISIONS["B"]


def test_a_visit_whose_work_is_all_done_is_gone():
    left, _ = without_closed(EDITION, REVISIONS, {"A": DONE, "B": DONE})
    assert left.visits == ()


def test_an_item_done_stamps_the_rest_of_the_sites_checklist():
    _, revisions = without_closed(EDITION, REVISIONS, {"S-1": DONE})
    assert revisions["S-2"].modified_at == DONE
    assert revisions["V-1"] == REVISIONS["V-1"]


def test_with_nothing_done_the_edition_is_what_was_published():
    assert without_closed(EDITION, REVISIONS, {}) == (EDITION, REVISIONS)


def test_states_follow_the_days_and_stamp_the_day_they_turned_on():
    late, revisions = as_of(EDITION, REVISIONS, DAY + timedelta(days=3))
    assert late.task_by_key["A"].state is TaskState.LATE
    assert revisions["A"] == Revision("A", 0, PUBLISHED, datetime(2026, 5, 12, tzinfo=UTC))
    assert as_of(EDITION, REVISIONS, DAY + timedelta(days=4))[1] == revisions
    put_off = replace(EDITION, tasks=(a_task("A", state=TaskState.PUT_OFF), *EDITION.tasks[1:]))
    assert as_of(put_off, REVISIONS, DAY + timedelta(days=30))[0].task_by_key["A"].state is TaskState.PUT_OFF


def test_the_same_plan_a_day_later_is_no_change():
    assert edition_changes(EDITION, replace(EDITION, today=DAY)) == PlanChanges()


def test_a_visit_on_another_day_or_by_somebody_else_has_moved():
    later = replace(EDITION, visits=(a_visit("V-1", DAY + timedelta(days=1), "A", "B", technician=None),))
    (change,) = edition_changes(EDITION, later).moved
    assert change.reason == "from 11 May 2026, ADA to 12 May 2026, nobody yet"


def test_a_visit_that_is_no_more_says_where_its_work_went():
    other = tuple(replace(task, visit="V-2") if task.visit else task for task in EDITION.tasks)
    day = DAY + timedelta(days=2)
    changes = edition_changes(EDITION, replace(EDITION, tasks=other, visits=(a_visit("V-2", day, "A", "B"),)))
    assert [change.key for change in changes.added] == ["V-2"]
    assert changes.dropped[0].reason == "was on 11 May 2026; its work is now done on 13 May 2026"


def test_a_task_that_comes_or_goes_is_told_but_not_one_beyond_the_days_published():
    storm = a_task("C", cause=Cause(CauseKind.EVENT, "Storm on 10 May 2026."), visit=None)
    beyond = a_task("D", EDITION.through + timedelta(days=1), visit=None)
    plan = replace(EDITION, tasks=(*EDITION.tasks[:1], *EDITION.tasks[2:], storm, beyond))
    changes = edition_changes(EDITION, plan)
    assert [(change.key, change.reason) for change in changes.added] == [("C", "Storm on 10 May 2026.")]
    assert [change.key for change in changes.dropped] == ["B"]
