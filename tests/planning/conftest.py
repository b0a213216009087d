"""A small invented fleet and small rules, put together by hand, for statements about planning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.planning.plan import make_plan
from fleet.values.catalogue import Catalogue, Interval, Selector, Span, TaskRule
from fleet.values.fleet import snapshot
from fleet.values.plan import Plan, Task
from fleet.values.register import (
    Client,
    Device,
    Duty,
    Equipment,
    RegisterRows,
    Room,
    ServiceRecord,
    Site,
    Tank,
    Technician,
)
from fleet.values.vocabulary import (
    DeviceKind,
    EquipmentKind,
    PerformedBy,
    Skill,
    SubjectKind,
    TankKind,
    Tolerance,
)

TODAY = date(2026, 5, 20)
"""A Wednesday."""
DEVICE = Selector(SubjectKind.DEVICE, device_kinds=(DeviceKind.CHILLER,))


class Trade:
    """Builders of rules, register rows and plans."""

    today = TODAY

    def interval(self, minimum: int, typical: int, maximum: int, unit: str) -> Interval:
        return Interval(Span(minimum, unit), Span(typical, unit), Span(maximum, unit))

    def rule(self, rule_id: str = "clean-screen", **changes: Any) -> TaskRule:
        """A keeper's task on every chiller, every 4 weeks, class B, 10 minutes, unless told otherwise."""
        plain = TaskRule(
            id=rule_id,
            title=rule_id.replace("-", " ").capitalize(),
            selector=DEVICE,
            tolerance=Tolerance.B,
            minutes=10,
            persons=1,
            skill=Skill.KEEPER,
            performed_by=PerformedBy.VISITOR,
            order=10,
            steps=("Do it.",),
            acceptance="done",
            basis="common practice",
            source="common practice",
            interval=self.interval(1, 4, 8, "week"),
        )
        return replace(plain, **changes)

    def on(self, subject: SubjectKind, *needs: str) -> Selector:
        return Selector(subject, needs=needs)

    def rows(self, tanks: int = 1, **changes: Any) -> RegisterRows:
        """One site with one room; in it tanks T1, T2 … each with a chiller C1, C2 … and one protective switch."""
        numbers = range(1, tanks + 1)
        plain = RegisterRows(
            clients=(Client("CL", "Lantern Rock Ponds"),),
            sites=(self.site(),),
            rooms=(Room("R", "S", "Fish room", 26.0),),
            tanks=tuple(Tank(f"T{n}", "R", f"Tank {n}", TankKind.TROPICAL_FRESH, 1.2, 0.5, 0.5, 25.0) for n in numbers),
            devices=tuple(Device(f"C{n}", DeviceKind.CHILLER, f"Chiller {n}") for n in numbers),
            duties=tuple(Duty(f"C{n}", f"T{n}", date(2020, 1, 1)) for n in numbers),
            equipment=(Equipment("G", EquipmentKind.GFCI, "Switch", site="S"),),
            technicians=(self.technician(),),
        )
        return replace(plain, **changes)

    def site(self, **changes: Any) -> Site:
        return replace(Site("S", "CL", "Lantern Rock", "America/New_York"), **changes)

    def technician(self, code: str = "W1", **changes: Any) -> Technician:
        return replace(Technician(code, f"Worker {code}", (Skill.KEEPER, Skill.TECHNICIAN)), **changes)

    def done(self, day: date, task: str = "clean-screen", subject: str = "C1", **changes: Any) -> ServiceRecord:
        return replace(ServiceRecord(subject, task, day), **changes)

    def plan(
        self,
        rows: RegisterRows,
        *rules: TaskRule,
        previous: Plan | None = None,
        today: date = TODAY,
        days: int = 180,
        **more: Any,
    ) -> Plan:
        given = {"assessments": (), "margin_changes": (), "overrides": (), "output_shares": (), **more}
        return make_plan(
            snapshot(rows, today),
            Catalogue(rules, (), more.pop("animal_classes", ()), ()),
            assessments=given["assessments"],
            margin_changes=given["margin_changes"],
            overrides=given["overrides"],
            output_shares=given["output_shares"],
            previous=previous,
            today=today,
            through=today + timedelta(days=days),
            frozen_before=more.get("frozen_before"),
            agreed=more.get("agreed", frozenset()),
        )

    def tasks(self, plan: Plan, rule: str = "clean-screen", subject: str = "C1") -> list[Task]:
        """In order of due day."""
        return [task for task in plan.tasks if task.rule == rule and task.subject == subject]

    def first(self, plan: Plan, rule: str = "clean-screen", subject: str = "C1") -> Task:
        return self.tasks(plan, rule, subject)[0]

    def day_of(self, plan: Plan, task: Task) -> date:
        """The day of the visit that holds the task."""
        assert task.visit is not None
        return plan.visit_by_key[task.visit].day

    def keys(self, tasks: Sequence[Task]) -> set[str]:
        return {task.key for task in tasks}


@pytest.fixture(scope="session")
def trade() -> Trade:
    return Trade()
