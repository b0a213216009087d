"""How far work may be put off. The classes and what each bears are common practice, as the catalogue's are."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleet.errors import BadInput, NotAllowed
from fleet.files.catalogue_files import read_catalogue
from fleet.planning.putting_off import last_day_for, put_off
from fleet.values.plan import Cause, Task
from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance

TODAY = date(2026, 5, 20)
RULES = read_catalogue().rule_by_id
FLOW = RULES["measure-pump-flow"]
"""Every 1/2/3 months."""


def a_task(**fields: object) -> Task:
    usual: dict[str, object] = {
        "key": "7K3-Q9MD", "rule": FLOW.id, "title": FLOW.title, "subject": "P-1",
        "subject_kind": SubjectKind.EQUIPMENT, "site": "PIER", "tank": None, "device": None, "occurrence": "n2",
        "due": date(2026, 5, 25), "due_at": None, "earliest": date(2026, 5, 10), "latest": date(2026, 6, 6),
        "minutes": 10, "persons": 1, "skill": Skill.KEEPER, "performed_by": PerformedBy.VISITOR,
        "tolerance": Tolerance.B, "order": 30, "state": TaskState.OPEN,
        "cause": Cause(CauseKind.INTERVAL, "Every 2 months."), "follows": date(2026, 3, 25),
    }  # fmt: skip
    return Task(**usual | fields)  # type: ignore[arg-type]


def off(task: Task, to: date, *, approver: str | None = None, earlier: tuple[date, str] | None = None) -> Task:
    return put_off(task, RULES[task.rule], to, TODAY, approver=approver, earlier=earlier)


def test_lateness_never_passes_the_longest_interval_since_the_work_was_done():
    task = a_task()
    assert last_day_for(task, FLOW) == date(2026, 6, 25)
    assert off(task, date(2026, 6, 25)).latest == date(2026, 6, 25)
    with pytest.raises(NotAllowed, match="25 June 2026 at the latest, not to 26 June 2026"):
        off(task, date(2026, 6, 26))


@pytest.mark.parametrize("fields", [{"follows": None}, {"tolerance": Tolerance.S}])
def test_without_an_interval_to_count_from_the_windows_own_last_day_holds(fields):
    assert last_day_for(a_task(**fields), FLOW) == date(2026, 6, 6)
    with pytest.raises(NotAllowed, match="6 June 2026 at the latest"):
        off(a_task(**fields), date(2026, 6, 7))


def test_work_after_an_event_keeps_the_time_given_for_it():
    storm = RULES["press-gfci-after-storm"]
    assert last_day_for(a_task(rule=storm.id, follows=None), storm) == date(2026, 6, 6)


def test_what_is_put_off_is_off_the_sheet_until_the_week_of_its_new_day():
    put = off(a_task(), date(2026, 6, 20))
    assert (put.state, put.due, put.latest) == (TaskState.PUT_OFF, date(2026, 6, 20), date(2026, 6, 20))
    assert put.earliest == date(2026, 6, 14)
    assert off(a_task(), date(2026, 5, 27)).earliest == date(2026, 5, 26)


@pytest.mark.parametrize("approver", [None, "Cass"])
def test_law_and_life_safety_are_never_put_off(approver):
    with pytest.raises(NotAllowed, match="never put off: law or life safety"):
        off(a_task(tolerance=Tolerance.A0), date(2026, 5, 26), approver=approver)


def test_what_guards_animals_or_people_is_put_off_once_and_by_agreement():
    task = a_task(tolerance=Tolerance.A)
    with pytest.raises(BadInput, match="--approver"):
        off(task, date(2026, 5, 28))
    assert off(task, date(2026, 5, 28), approver="Cass").state is TaskState.PUT_OFF
    with pytest.raises(NotAllowed, match=r"put off on 1 May 2026 by Dev: .*put off once"):
        off(task, date(2026, 5, 28), approver="Cass", earlier=(date(2026, 5, 1), "Dev"))


def test_what_protects_equipment_may_be_put_off_again():
    again = off(off(a_task(), date(2026, 6, 1)), date(2026, 6, 8), earlier=(TODAY, "Dev"))
    assert again.due == date(2026, 6, 8)


@pytest.mark.parametrize("to", [date(2026, 5, 25), date(2026, 5, 1)])
def test_a_day_that_puts_nothing_off_is_refused(to):
    with pytest.raises(BadInput, match="expected a day after 25 May 2026"):
        off(a_task(), to)


def test_what_is_past_its_last_day_has_none_left():
    past = a_task(due=TODAY - timedelta(days=80), latest=TODAY - timedelta(days=60), follows=date(2025, 12, 1))
    with pytest.raises(NotAllowed, match="no day left"):
        off(past, TODAY + timedelta(days=3))


@pytest.mark.parametrize("state", [TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.HALTED])
def test_what_nobody_is_to_do_cannot_be_put_off(state):
    with pytest.raises(BadInput, match="nothing to put off"):
        off(replace(a_task(), state=state), date(2026, 6, 1))
