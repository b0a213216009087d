"""A plan made from the plan before: only what has news is planned, and the plan is the same as if all of it were."""

from __future__ import annotations

import gc
import importlib.util
import random
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.files.catalogue_files import read_catalogue
from fleet.planning.parts import parts_of
from fleet.planning.plan import make_plan
from fleet.values.catalogue import Interval, Span
from fleet.values.fleet import snapshot
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Plan
from fleet.values.register import (
    Absence,
    Animals,
    Client,
    Closure,
    Device,
    Duty,
    Equipment,
    Event,
    Load,
    Placement,
    Reading,
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
    EventKind,
    Finding,
    Health,
    LoadKind,
    ReadingQuantity,
    Skill,
    SubjectKind,
    TankKind,
    TaskState,
    Tolerance,
    Where,
)

CATALOGUE = read_catalogue()
DAYS = 180


def _beside(name: str) -> ModuleType:
    """A module that lies beside this file and holds no tests."""
    spec = importlib.util.spec_from_file_location(f"replanning_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


STRANGE = _beside("strategies")


def planned(rows: RegisterRows, today: date, previous: Plan | None, **more: Any) -> Plan:
    return make_plan(
        snapshot(rows, today),
        CATALOGUE,
        assessments=(),
        margin_changes=(),
        previous=previous,
        today=today,
        through=today + timedelta(days=DAYS),
        **more,
    )


def without_fingerprints(plan: Plan) -> Plan:
    """Nothing vouches for any part of it, so all of it is planned again."""
    return replace(plan, fingerprints={})


def at_rest(rows: RegisterRows, today: date) -> Plan | None:
    """A plan that comes out the same when all of it is planned again; None where that takes too long."""
    plan = planned(rows, today, None)
    for _ in range(4):
        again = planned(rows, today, without_fingerprints(plan))
        if again == replace(plan, changes=again.changes):
            return again
        plan = again
    return None


def with_row(rows: RegisterRows, name: str, row: Any) -> RegisterRows:
    return replace(rows, **{name: (*getattr(rows, name), row)})


News = Callable[[random.Random, RegisterRows, date], RegisterRows]


def _a_load(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    tank = dice.choice(rows.tanks).code
    return with_row(rows, "loads", Load(tank, "new", LoadKind.LIGHT, dice.uniform(10, 300), today, hours_per_day=8.0))


def _animals(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    return with_row(rows, "animals", Animals(dice.choice(rows.tanks).code, "new fish", today, count=3))


def _an_event(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    about = dice.choice([dice.choice(rows.tanks).code, dice.choice(rows.sites).code, dice.choice(rows.clients).code])
    on = today - timedelta(days=dice.randrange(5))
    return with_row(rows, "events", Event(about, dice.choice(tuple(EventKind)), on))


def _a_closure(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    since = today + timedelta(days=dice.randrange(1, 100))
    row = Closure(dice.choice(rows.sites).code, since, since + timedelta(days=dice.randrange(1, 30)), "news")
    return with_row(rows, "closures", row)


def _a_reading(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    at = datetime.combine(today, time(1), UTC)
    row = Reading(dice.choice(rows.tanks).code, ReadingQuantity.WATER_TEMP, dice.choice((8.0, 25.0, 36.0)), at)
    return with_row(rows, "readings", row)


def _leave(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    if not rows.technicians:
        return rows
    since = today + timedelta(days=dice.randrange(30))
    row = Absence(dice.choice(rows.technicians).code, since, since + timedelta(days=dice.randrange(1, 60)), "leave")
    return with_row(rows, "absences", row)


def _work(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    if not rows.devices:
        return rows
    rules = [rule.id for rule in CATALOGUE.rules if rule.selector.subject is SubjectKind.DEVICE]
    row = ServiceRecord(dice.choice(rows.devices).code, dice.choice(rules), today, finding=dice.choice(tuple(Finding)))
    return with_row(rows, "history", row)


def _sickness(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    return with_row(rows, "tanks", replace(dice.choice(rows.tanks), since=today, health=Health.SICK))


def _a_duty_anywhere(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    if not rows.devices:
        return rows
    return with_row(rows, "duties", Duty(dice.choice(rows.devices).code, dice.choice(rows.tanks).code, today))


def _a_move(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    if not rows.devices:
        return rows
    row = Placement(dice.choice(rows.devices).code, Where.BESIDE_TANK, today, room=dice.choice(rows.rooms).code)
    return with_row(rows, "placements", row)


def _somebody_left(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    if not rows.technicians:
        return rows
    gone = dice.choice(rows.technicians).code
    return replace(
        rows,
        technicians=tuple(row for row in rows.technicians if row.code != gone),
        absences=tuple(row for row in rows.absences if row.technician != gone),
    )


def _other_visit_days(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    code = dice.choice(rows.sites).code
    return replace(
        rows, sites=tuple(replace(row, visit_days=(1, 2)) if row.code == code else row for row in rows.sites)
    )


def _a_switch(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    kind = dice.choice(tuple(EquipmentKind))
    return with_row(rows, "equipment", Equipment("NEW", kind, "New", tank=dice.choice(rows.tanks).code))


def _nothing(dice: random.Random, rows: RegisterRows, today: date) -> RegisterRows:
    return rows


NEWS: Sequence[News] = (
    _a_load, _animals, _an_event, _a_closure, _a_reading, _leave, _work, _sickness, _a_duty_anywhere, _a_move,
    _somebody_left, _other_visit_days, _a_switch, _nothing,
)  # fmt: skip


def decided(dice: random.Random, plan: Plan) -> Plan:
    """The plan with a decision about one of its tasks, as it is saved."""
    if not plan.tasks or dice.random() < 0.7:
        return plan
    at = dice.randrange(len(plan.tasks))
    task = plan.tasks[at]
    if dice.random() < 0.5:
        later = max(task.due, plan.today) + timedelta(days=3)
        other = replace(task, state=TaskState.PUT_OFF, due=later, latest=max(task.latest, later))
    else:
        other = replace(task, state=TaskState.WITHDRAWN)
    return replace(plan, tasks=(*plan.tasks[:at], other, *plan.tasks[at + 1 :]))


def check_three_pieces_of_news(seed: int) -> None:
    dice = random.Random(seed)
    strange = STRANGE.strange_register(seed, CATALOGUE, sites=5, tanks=2)
    rows, today = strange.rows, strange.today
    plan = at_rest(rows, today) if rows.tanks else None
    if plan is None:
        return
    for _ in range(3):
        news = dice.choice(NEWS)
        rows = news(dice, rows, today)
        plan = decided(dice, plan)
        overrides = (
            (RuleOverride("clean-condenser-fins", dice.choice(rows.sites).code, minutes=dice.choice((5, 60))),)
            if dice.random() < 0.2
            else ()
        )
        more = {
            "agreed": frozenset(visit.key for visit in plan.visits if dice.random() < 0.5),
            "frozen_before": today + timedelta(days=14) if dice.random() < 0.2 else None,
            "overrides": overrides,
        }
        saved = replace(plan, visits=tuple(sorted(plan.visits, key=lambda visit: (visit.start, visit.key))))
        in_part = planned(rows, today, saved, **more)
        in_full = planned(rows, today, without_fingerprints(plan), **more)
        for name in ("tasks", "visits", "unplaced", "changes", "not_on_record", "fingerprints"):
            assert getattr(in_part, name) == getattr(in_full, name), f"{name} after {news.__name__}, seed {seed}"
        plan = in_part


@given(st.integers(0, 10_000_000))
@settings(deadline=None, max_examples=6)
def test_a_plan_of_what_has_news_is_the_plan_of_everything(seed: int) -> None:
    check_three_pieces_of_news(seed)


@pytest.mark.slow
@given(st.integers(0, 10_000_000))
@settings(deadline=None, max_examples=250)
def test_a_plan_of_what_has_news_is_the_plan_of_everything_for_many_registers(seed: int) -> None:
    check_three_pieces_of_news(seed)


def company(sites: int) -> RegisterRows:
    """Sites S1, S2 … of one client, each with a tank and a chiller of its own, and one technician for all."""
    numbers = range(1, sites + 1)
    return RegisterRows(
        clients=(Client("CL", "Lantern Rock Ponds"),),
        sites=tuple(Site(f"S{n}", "CL", f"Site {n}", "Europe/Lisbon") for n in numbers),
        rooms=tuple(Room(f"R{n}", f"S{n}", "Hall", 26.0) for n in numbers),
        tanks=tuple(Tank(f"T{n}", f"R{n}", "Tank", TankKind.TROPICAL_FRESH, 1.2, 0.5, 0.5, 25.0) for n in numbers),
        devices=tuple(Device(f"C{n}", DeviceKind.CHILLER, "Chiller") for n in numbers),
        duties=tuple(Duty(f"C{n}", f"T{n}", date(2020, 1, 1)) for n in numbers),
        technicians=(Technician("W", "Worker", tuple(Skill)),),
    )


TODAY = date(2026, 5, 20)


def parts(rows: RegisterRows) -> dict[str, frozenset[str]]:
    return {part.name: part.codes for part in parts_of(snapshot(rows, TODAY))}


def changed_fingerprints(rows: RegisterRows, news: RegisterRows) -> set[str]:
    before = planned(rows, TODAY, None)
    after = planned(news, TODAY, before)
    return {
        name
        for name in before.fingerprints.keys() | after.fingerprints.keys()
        if before.fingerprints.get(name) != after.fingerprints.get(name)
    }


def test_every_site_is_a_part_with_all_that_is_there() -> None:
    found = parts(company(2))
    assert found["S1"] == {"S1", "R1", "T1", "C1"}
    assert found.keys() == {"S1", "S2", "CL", "W"}


def test_sites_that_share_a_device_are_one_part() -> None:
    rows = company(3)
    shared = with_row(rows, "duties", Duty("C1", "T3", date(2025, 1, 1)))
    assert parts(shared)["S1"] >= {"S1", "S3", "C1", "T3"}
    assert "S3" not in parts(shared)


def test_what_stands_at_no_site_is_a_part_of_its_own() -> None:
    rows = with_row(company(1), "devices", Device("SPARE", DeviceKind.CHILLER, "Spare"))
    stored = with_row(rows, "placements", Placement("SPARE", Where.STORE, date(2025, 1, 1)))
    assert parts(stored)["SPARE"] == {"SPARE"}


def test_news_of_one_site_changes_the_fingerprint_of_that_site_alone() -> None:
    rows = company(3)
    assert changed_fingerprints(rows, with_row(rows, "events", Event("T2", EventKind.LEAK, TODAY))) == {"S2"}


def test_news_of_a_client_changes_those_of_its_sites() -> None:
    rows = company(2)
    assert changed_fingerprints(rows, with_row(rows, "events", Event("CL", EventKind.STORM, TODAY))) == {
        "S1",
        "S2",
        "CL",
    }


def test_leave_changes_the_fingerprints_of_the_sites_in_reach() -> None:
    near = replace(company(1).sites[0], latitude=38.7, longitude=-9.1)
    far = Site("S2", "CL", "Site 2", "Europe/Lisbon", latitude=60.2, longitude=24.9)
    worker = Technician("W", "Worker", tuple(Skill), base_latitude=38.6, base_longitude=-9.0)
    rows = replace(company(2), sites=(near, far), technicians=(worker,))
    leave = Absence("W", TODAY + timedelta(days=90), TODAY + timedelta(days=95))
    assert "S1" in changed_fingerprints(rows, with_row(rows, "absences", leave))


def test_what_a_person_decides_about_a_task_is_news_of_its_site() -> None:
    rows = company(2)
    plan = planned(rows, TODAY, None)
    at = next(number for number, task in enumerate(plan.tasks) if task.site == "S2" and task.visit is not None)
    withdrawn = replace(plan.tasks[at], state=TaskState.WITHDRAWN)
    after = planned(rows, TODAY, replace(plan, tasks=(*plan.tasks[:at], withdrawn, *plan.tasks[at + 1 :])))
    assert next(task for task in after.tasks if task.key == withdrawn.key).visit is None
    assert after.fingerprints["S1"] == plan.fingerprints["S1"]
    assert after.fingerprints["S2"] != plan.fingerprints["S2"]


def test_an_interval_of_its_own_is_news_of_the_site_it_is_set_for() -> None:
    rows = company(2)
    plan = planned(rows, TODAY, None)
    weekly = Interval(Span(1, "week"), Span(1, "week"), Span(2, "week"))
    own = RuleOverride("clean-condenser-fins", "C2", interval=weekly)
    after = planned(rows, TODAY, plan, overrides=(own,))
    assert after.fingerprints["S1"] == plan.fingerprints["S1"]
    assert after.fingerprints["S2"] != plan.fingerprints["S2"]


def test_work_that_nobody_had_room_for_is_planned_when_another_site_needs_less(trade: Any) -> None:
    """One technician, one hour a day, one open day in the window: room for one site or for the other."""
    worker = Technician("W", "Worker", (Skill.KEEPER,), work_from=time(9), work_to=time(10))
    rows = replace(company(2), technicians=(worker,))
    rule = trade.rule(minutes=60, tolerance=Tolerance.A0, interval=trade.interval(4, 4, 4, "week"))
    done = tuple(ServiceRecord(f"C{n}", rule.id, trade.today - timedelta(weeks=4)) for n in (1, 2))
    rows = replace(rows, history=done)
    plan = trade.plan(rows, rule, days=0)
    (missed,) = plan.unplaced
    (visit,) = plan.visits
    assert missed.reason == "CAPACITY"
    subject = plan.task_by_key[visit.tasks[0]].subject
    news = with_row(rows, "history", ServiceRecord(subject, rule.id, trade.today))
    later = trade.plan(news, rule, previous=plan, days=0)
    assert later == trade.plan(news, rule, previous=without_fingerprints(plan), days=0)
    assert [later.task_by_key[key].key for one in later.visits for key in one.tasks] == [missed.key]


def test_planning_leaves_no_cycles_behind() -> None:
    """It lets the collector rest, which is no loss only as long as this holds."""
    strange = STRANGE.strange_register(1, CATALOGUE, sites=3, tanks=3)
    planned(strange.rows, strange.today, None)  # what is imported or kept the first time is no part of planning
    gc.collect()
    gc.disable()
    try:
        planned(strange.rows, strange.today, None)
        assert gc.collect() == 0
    finally:
        gc.enable()


def test_the_next_day_everything_is_planned_again() -> None:
    rows = company(2)
    plan = planned(rows, TODAY, None)
    after = planned(rows, TODAY + timedelta(days=1), plan)
    assert all(after.fingerprints[name] != plan.fingerprints[name] for name in plan.fingerprints)
