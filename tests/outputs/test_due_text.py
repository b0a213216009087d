"""What is due, as people read it: the working order, the backlog, and what two weeks without a visitor bring."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from fleet.outputs.due_text import backlog_record, backlog_text, due_table
from fleet.values.plan import Backlog
from fleet.values.vocabulary import Tolerance

World = Any


def test_the_site_and_the_visit_with_late_work_come_first(world: World) -> None:
    lines = due_table(world.plan, world.fleet).splitlines()
    assert lines[0].startswith("Wednesday 20 May 2026: 1 late (1 past the limit), 3 to come")
    assert lines[2].split() == ["key", "state", "due", "what", "on", "work", "visit"]
    assert lines[4] == "Harbour Street clinic (HARBOUR)"
    visit = next(visit for visit in world.plan.visits if "8AA-B1CD" in visit.tasks)
    keys = [line.split()[0] for line in lines[5:9]]
    assert tuple(keys[: len(visit.tasks)]) == visit.tasks
    assert "past limit" in lines[5 + visit.tasks.index("8AA-B1CD")]
    assert set(keys) == {"8AA-B1CD", "9ZZ-0007", "7K3-Q9MD", "0RV-55XY"}


def test_work_of_the_people_on_site_is_one_line_unless_asked(world: World) -> None:
    assert "1AA-0001" not in due_table(world.plan, world.fleet)
    assert due_table(world.plan, world.fleet).count("1 item on the checklist") == 2
    assert "1AA-0001" in due_table(world.plan, world.fleet, site_staff=True)


def test_the_work_of_one_visit_stands_in_its_working_order(world: World) -> None:
    visit = world.plan.visits[0]
    assert len(visit.tasks) > 1
    for order in (visit.tasks, tuple(reversed(visit.tasks))):
        plan = replace(world.plan, visits=(replace(visit, tasks=order), *world.plan.visits[1:]))
        shown = [line.split()[0] for line in due_table(plan, world.fleet).splitlines() if line.startswith("  ")]
        assert tuple(key for key in shown if key in order) == order


def test_the_gravest_of_what_becomes_late_is_named(world: World) -> None:
    task = world.plan.tasks[0]
    found = Backlog(date(2026, 6, 3), 150, (replace(task, tolerance=Tolerance.A),), (task,))
    lines = backlog_text(found, world.fleet).splitlines()
    assert lines[0] == "Backlog: 2 h 30 min of late work."
    assert "1 more task becomes late and 1 passes its last day; 1 concerns life safety or animals:" in " ".join(lines)
    assert lines[-1].split()[0] == task.key
    assert backlog_record(found)["backlog_hours"] == 2.5
    assert backlog_record(found)["late_in_two_weeks"]["tasks"] == [task.key]


def test_with_nothing_behind_there_is_no_backlog(world: World) -> None:
    text = backlog_text(Backlog(date(2026, 6, 3), 0, (), ()), world.fleet)
    assert text == "If nobody comes until 3 Jun 2026, nothing more becomes late."
