"""Events, changes, conditions and closures as causes of work.

Long because every way in which happenings join, wait and repeat is told on the same few tanks.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from fleet.planning.triggers import change_words
from fleet.values.assessment import Assessment, HoursByFailure, MarginChange
from fleet.values.catalogue import AnimalClass, ConditionTrigger, EventTrigger, Selector, Span
from fleet.values.changes import Change
from fleet.values.register import Closure, Event, Load, Placement, Reading, RegisterRows
from fleet.values.spread import Spread
from fleet.values.vocabulary import (
    CauseKind,
    ChangeKind,
    EventKind,
    Finding,
    LoadKind,
    MarginState,
    ReadingQuantity,
    Scenario,
    SubjectKind,
    TaskState,
    Tolerance,
    Where,
)

GFCI = Selector(SubjectKind.EQUIPMENT)
TANK = Selector(SubjectKind.TANK)
ONE_DAY = Span(24, "hour")


def storm_rule(trade: Any) -> Any:
    """US CPSC with NESF (second-hand): test GFCIs after every major electrical storm."""
    return trade.rule(
        "press-after-storm",
        selector=GFCI,
        tolerance=Tolerance.A0,
        interval=None,
        events=(EventTrigger("storm", ONE_DAY), EventTrigger("outage", ONE_DAY)),
    )


def heat_rule(trade: Any) -> Any:
    """Review within 7 days of a change, look again at 30 days: common practice."""
    return trade.rule(
        "review-heat-load",
        selector=TANK,
        tolerance=Tolerance.A,
        interval=None,
        events=tuple(
            EventTrigger(name, Span(7, "day"), (Span(30, "day"),)) for name in ("lights-changed", "pumps-changed")
        ),
    )


def lights(*powers: tuple[float, date]) -> tuple[Load, ...]:
    """One lamp after the other."""
    loads = []
    for number, (power, since) in enumerate(powers):
        until = powers[number + 1][1] if number + 1 < len(powers) else None
        loads.append(Load("T1", f"lamp {number}", LoadKind.LIGHT, power, since, until=until))
    return tuple(loads)


def test_a_storm_at_the_site_calls_for_a_test_of_its_protective_switches(trade: Any) -> None:
    rows = trade.rows(events=(Event("S", EventKind.STORM, date(2026, 5, 20)),))
    (task,) = trade.plan(rows, storm_rule(trade)).tasks
    assert (task.subject, task.due, task.latest) == ("G", date(2026, 5, 21), date(2026, 5, 21))
    assert task.occurrence == "event:storm:2026-05-20:G"
    assert task.cause.kind is CauseKind.EVENT
    assert task.cause.text == "Storm at S on 20 May 2026."


@pytest.mark.parametrize(("done_on", "still_due"), [(date(2026, 5, 19), True), (date(2026, 5, 20), False)])
def test_an_event_is_answered_by_work_on_its_day_or_later(trade: Any, done_on: date, still_due: bool) -> None:
    rows = trade.rows(
        events=(Event("S", EventKind.STORM, date(2026, 5, 20)),),
        history=(trade.done(done_on, "press-after-storm", "G"),),
    )
    assert bool(trade.plan(rows, storm_rule(trade)).tasks) is still_due


@pytest.mark.parametrize(("days_later", "tasks"), [(3, 0), (7, 0), (8, 1)])
def test_the_same_event_within_a_week_of_the_first_asks_for_nothing_more(
    trade: Any, days_later: int, tasks: int
) -> None:
    """Common practice: a row of storms in one week is one test of the switches."""
    first = date(2026, 5, 5)
    events = tuple(Event("S", EventKind.STORM, day) for day in (first, first + timedelta(days=days_later)))
    history = (trade.done(first + timedelta(days=1), "press-after-storm", "G"),)
    assert len(trade.plan(trade.rows(events=events, history=history), storm_rule(trade)).tasks) == tasks


def test_two_storms_that_nobody_acted_on_ask_for_one_test(trade: Any) -> None:
    """One press of the button answers both, however far apart they were."""
    days = (date(2026, 5, 5), date(2026, 5, 18))
    rows = trade.rows(events=tuple(Event("S", EventKind.STORM, day) for day in days))
    plan = trade.plan(rows, storm_rule(trade))
    (task,) = plan.tasks
    assert (task.occurrence, task.due, task.state) == (
        "event:storm:2026-05-05:G", date(2026, 5, 6), TaskState.PAST_LIMIT,
    )  # fmt: skip
    assert task.cause.text == "Storm at S on 5 May 2026. Also: storm at S on 18 May 2026."
    done = replace(rows, history=(trade.done(trade.today, "press-after-storm", "G"),))
    assert not trade.plan(done, storm_rule(trade), previous=plan).tasks


def test_an_outage_told_of_one_tank_holds_for_the_site(trade: Any) -> None:
    rule = trade.rule(
        "after-outage", selector=Selector(SubjectKind.SITE), interval=None,
        events=(EventTrigger("outage", Span(2, "hour")),),
    )  # fmt: skip
    (task,) = trade.plan(trade.rows(events=(Event("T1", EventKind.OUTAGE, trade.today),)), rule).tasks
    assert (task.subject, task.due, task.state) == ("S", trade.today, TaskState.DUE)


def test_what_happens_to_one_tank_concerns_no_other(trade: Any) -> None:
    rule = trade.rule("look", selector=TANK, interval=None, events=(EventTrigger("leak", ONE_DAY),))
    plan = trade.plan(trade.rows(tanks=3, events=(Event("T2", EventKind.LEAK, trade.today),)), rule)
    assert [task.subject for task in plan.tasks] == ["T2"]


def test_an_old_event_is_not_dug_out_but_one_that_was_planned_stays(trade: Any) -> None:
    rows = trade.rows(events=(Event("S", EventKind.STORM, date(2026, 5, 20)),))
    later = date(2026, 8, 1)
    assert not trade.plan(rows, storm_rule(trade), today=later).tasks
    planned = trade.plan(rows, storm_rule(trade))
    (task,) = trade.plan(rows, storm_rule(trade), previous=planned, today=later).tasks
    assert (task.key, task.state) == (planned.tasks[0].key, TaskState.PAST_LIMIT)


def test_an_event_pulls_the_next_interval_forward_and_makes_no_second_task(trade: Any) -> None:
    rule = trade.rule(events=(EventTrigger("moved", Span(2, "day")),))
    rows = trade.rows(history=(trade.done(date(2026, 5, 18)),))
    calm = trade.plan(rows, rule)
    moved = replace(rows, events=(Event("C1", EventKind.MOVED, date(2026, 5, 20)),))
    plan = trade.plan(moved, rule, previous=calm)
    first, second, *_ = trade.tasks(plan)
    assert (first.due, first.cause.kind) == (date(2026, 5, 22), CauseKind.EVENT)
    assert second.due == date(2026, 6, 19), "the next counts from it"
    assert [task.key for task in trade.tasks(plan)][: len(calm.tasks)] == [task.key for task in calm.tasks]


def test_an_event_does_not_excuse_work_that_is_late(trade: Any) -> None:
    rule = trade.rule(events=(EventTrigger("moved", Span(2, "day")),))
    rows = trade.rows(
        history=(trade.done(date(2026, 4, 20)),), events=(Event("C1", EventKind.MOVED, date(2026, 5, 20)),)
    )
    task = trade.first(trade.plan(rows, rule))
    assert (task.due, task.state) == (date(2026, 5, 18), TaskState.LATE)
    assert "Also: Moved at C1 on 20 May 2026." in task.cause.text


def assessment(margin: float | None, required_w: float) -> Assessment:
    spread = None if margin is None else Spread(margin, margin + 0.2, margin + 0.4)
    return Assessment(
        tank="T1", scenario=Scenario.HOT_DAY, target_c=25.0, required_w=required_w,
        required_spread_w=Spread(required_w, required_w, required_w), available_w=None, margin=spread,
        state=MarginState.OK, duty=None, n_minus_1_margin=None, hours=HoursByFailure(None, None, None, None),
        peak_c=27.0, limit_c=28.5, room_peak_c=29.0, equilibrium_c=28.0, evaporation_l_per_day=2.0, dew_point_c=15.0,
        assumed=(), devices=(),
    )  # fmt: skip


def test_a_stronger_light_calls_for_a_review_with_its_numbers_and_a_second_look(trade: Any) -> None:
    rows = trade.rows(loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 18))))
    change = MarginChange("T1", date(2026, 5, 18), assessment(0.12, 400.0), assessment(-0.04, 460.0))
    review, second_look = trade.plan(rows, heat_rule(trade), margin_changes=(change,)).tasks
    assert review.cause.text == "Lights 250 W → 310 W on 18 May 2026: margin on the hot day 12 % → −4 %."
    assert review.cause.kind is CauseKind.CHANGE
    assert {
        "margin_before": 0.12, "margin_after": -0.04, "required_before_w": 400.0, "required_after_w": 460.0
    }.items() <= review.cause.numbers.items()  # fmt: skip
    assert review.due == date(2026, 5, 25)
    assert (second_look.due, second_look.earliest) == (date(2026, 6, 17), date(2026, 6, 8))


def test_the_second_look_remains_when_the_first_was_done(trade: Any) -> None:
    rows = trade.rows(
        loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 18))),
        history=(trade.done(date(2026, 5, 20), "review-heat-load", "T1"),),
    )
    assert [task.due for task in trade.plan(rows, heat_rule(trade)).tasks] == [date(2026, 6, 17)]


def test_several_changes_on_one_day_are_reviewed_once(trade: Any) -> None:
    day = date(2026, 5, 18)
    loads = (
        *lights((250.0, date(2025, 1, 1)), (310.0, day)),
        Load("T1", "pump", LoadKind.SUBMERGED_PUMP, 20.0, date(2025, 1, 1), until=day),
        Load("T1", "bigger pump", LoadKind.SUBMERGED_PUMP, 40.0, day),
    )
    review, _ = trade.plan(trade.rows(loads=loads), heat_rule(trade)).tasks
    assert "ights 250 W → 310 W" in review.cause.text
    assert "umps 20 W → 40 W" in review.cause.text


def three_changes(trade: Any) -> RegisterRows:
    """Stronger lamps on 4, 9 and 14 May."""
    days = (date(2025, 1, 1), date(2026, 5, 4), date(2026, 5, 9), date(2026, 5, 14))
    return trade.rows(loads=lights(*zip((250.0, 310.0, 370.0, 430.0), days, strict=True)))


THREE_MARGINS = ((4, 0.30, 0.12), (9, 0.12, 0.01), (14, 0.01, -0.04))


def margins(*changes: tuple[int, float, float]) -> tuple[MarginChange, ...]:
    return tuple(
        MarginChange("T1", date(2026, 5, day), assessment(before, 400.0 + day), assessment(after, 410.0 + day))
        for day, before, after in changes
    )


def test_changes_whose_reviews_are_open_together_are_reviewed_once(trade: Any) -> None:
    """Whoever looks at the tank's heat looks at all that has changed by then: one completion answers every change."""
    rows = three_changes(trade)
    plan = trade.plan(rows, heat_rule(trade), margin_changes=margins(*THREE_MARGINS), today=date(2026, 5, 15))
    review, second_look = plan.tasks
    assert review.occurrence == "event:lights-changed:2026-05-04:T1"
    assert (review.due, review.state) == (date(2026, 5, 11), TaskState.PAST_LIMIT)
    assert review.cause.text == (
        "Lights 250 W → 310 W on 4 May 2026. "
        "Also: lights 310 W → 370 W on 9 May 2026; lights 370 W → 430 W on 14 May 2026. "
        "Together: margin on the hot day 30 % → −4 %."
    )
    numbers = review.cause.numbers
    assert (numbers["margin_before"], numbers["margin_after"]) == (0.30, -0.04)
    assert (numbers["required_before_w"], numbers["required_after_w"]) == (404.0, 424.0)
    assert second_look.occurrence == "event:lights-changed:2026-05-04:T1:+30 days"
    assert second_look.cause.text == f"Second look, 30 days after. {review.cause.text}"
    assert second_look.earliest == date(2026, 6, 4), "30 days less 30 % after the last of them"
    assert (second_look.due, second_look.latest) == (date(2026, 6, 4), date(2026, 6, 6))
    done = replace(rows, history=(trade.done(date(2026, 5, 15), "review-heat-load", "T1"),))
    later = trade.plan(done, heat_rule(trade), previous=plan, today=date(2026, 5, 15))
    assert [task.key for task in later.tasks] == [second_look.key]


def test_a_change_that_joins_an_open_review_leaves_its_key(trade: Any) -> None:
    both = three_changes(trade)
    first = replace(both, loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 4))))
    last = replace(both, loads=lights((310.0, date(2025, 1, 1)), (430.0, date(2026, 5, 14))))
    for before in (first, last):
        today = date(2026, 5, 14)
        plan = trade.plan(before, heat_rule(trade), today=today)
        later = trade.plan(both, heat_rule(trade), previous=plan, today=today)
        assert trade.keys(later.tasks) == trade.keys(plan.tasks)
        assert not later.changes.dropped
        again = trade.plan(both, heat_rule(trade), previous=later, today=today)
        assert not again.changes
        assert again.tasks == later.tasks


def test_a_review_that_is_late_takes_the_next_change_with_it_when_that_comes(trade: Any) -> None:
    rows = trade.rows(loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 1)), (370.0, date(2026, 5, 14))))
    plan = trade.plan(rows, heat_rule(trade), today=date(2026, 5, 13))
    first, second = (task for task in plan.tasks if not task.occurrence.endswith("days"))
    assert (first.due, second.earliest) == (date(2026, 5, 8), date(2026, 5, 14)), "still two: the second is to come"
    later = trade.plan(rows, heat_rule(trade), previous=plan, today=date(2026, 5, 14))
    (one,) = (task for task in later.tasks if not task.occurrence.endswith("days"))
    assert one.key == first.key
    assert [(change.key, change.reason) for change in later.changes.dropped if change.key == second.key] == [
        (second.key, f"one piece of work with {first.key} now")
    ]
    much_later = trade.plan(rows, heat_rule(trade), previous=later, today=date(2026, 9, 1))
    assert "370 W" in much_later.task_by_key[first.key].cause.text, "nothing of what was planned is forgotten"


def test_changes_far_apart_are_reviewed_apart(trade: Any) -> None:
    rows = trade.rows(loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 18)), (370.0, date(2026, 8, 1))))
    plan = trade.plan(rows, heat_rule(trade))
    assert [task.due for task in plan.tasks] == [
        date(2026, 5, 25), date(2026, 6, 17), date(2026, 8, 8), date(2026, 8, 31),
    ]  # fmt: skip


def test_a_change_after_the_review_is_reviewed_again(trade: Any) -> None:
    """A week's grace is for the same event told twice, not for another change that nobody has looked at."""
    loads = (
        *lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 5, 14))),
        Load("T1", "pump", LoadKind.SUBMERGED_PUMP, 20.0, date(2025, 1, 1), until=date(2026, 5, 18)),
        Load("T1", "bigger pump", LoadKind.SUBMERGED_PUMP, 40.0, date(2026, 5, 18)),
    )
    rows = trade.rows(loads=loads, history=(trade.done(date(2026, 5, 16), "review-heat-load", "T1"),))
    plan = trade.plan(rows, heat_rule(trade))
    assert "event:pumps-changed:2026-05-18:T1" in {task.occurrence for task in plan.tasks}


def test_a_planned_change_makes_its_review_beforehand(trade: Any) -> None:
    rows = trade.rows(loads=lights((250.0, date(2025, 1, 1)), (310.0, date(2026, 7, 1))))
    review, _ = trade.plan(rows, heat_rule(trade)).tasks
    assert (review.earliest, review.due, review.state) == (date(2026, 7, 1), date(2026, 7, 8), TaskState.UPCOMING)


def test_a_moved_device_concerns_itself_and_its_tank_but_not_its_neighbour(trade: Any) -> None:
    rows = trade.rows(tanks=2)
    rows = replace(
        rows,
        duties=(*rows.duties, replace(rows.duties[1], tank="T1")),  # C2 cools T1 too
        placements=(
            Placement("C1", Where.BESIDE_TANK, date(2024, 1, 1), until=date(2026, 5, 19)),
            Placement("C1", Where.IN_STAND, date(2026, 5, 19), stand_of="T1"),
        ),
    )
    event = (EventTrigger("device-moved", ONE_DAY),)
    rules = [
        trade.rule("hoses", interval=None, events=event),
        trade.rule("review", selector=TANK, interval=None, events=event),
    ]
    assert sorted(task.subject for task in trade.plan(rows, *rules).tasks) == ["C1", "T1"]


def test_a_record_of_work_or_a_finding_calls_for_what_follows_from_it(trade: Any) -> None:
    rules = [
        trade.rule("measure", interval=None, events=(EventTrigger("work-recorded", Span(3, "day"), (), ("descale",)),)),
        trade.rule("repair", interval=None, events=(EventTrigger("finding-fault", ONE_DAY, (), ("descale",)),)),
    ]
    rows = trade.rows(tanks=2, history=(trade.done(trade.today, "descale", finding=Finding.SOUND),))
    assert [(task.rule, task.subject) for task in trade.plan(rows, *rules).tasks] == [("measure", "C1")]
    faulty = replace(rows, history=(trade.done(trade.today, "descale", finding=Finding.FAULT),))
    assert {task.rule for task in trade.plan(faulty, *rules).tasks} == {"measure", "repair"}


def reading(value: float, day: int, hour: int = 9, quantity: ReadingQuantity = ReadingQuantity.WATER_TEMP) -> Reading:
    subject = "T1" if quantity is ReadingQuantity.WATER_TEMP else "C1"
    return Reading(subject, quantity, value, datetime(2026, 5, day, hour, tzinfo=UTC))


def band_rule(trade: Any) -> Any:
    """Twice out of the watch band, or once past the act limit: common practice."""
    return trade.rule(
        "investigate",
        selector=TANK,
        tolerance=Tolerance.A0,
        interval=None,
        events=(
            EventTrigger("reading-out-of-watch", ONE_DAY),
            EventTrigger("reading-out-of-act", Span(1, "hour")),
        ),
    )


@pytest.mark.parametrize(
    ("readings", "due", "why"),
    [
        ([reading(28.0, 19)], None, "inside the band"),
        ([reading(29.0, 19), reading(28.9, 20)], date(2026, 5, 20), "twice outside the watch band"),
        ([reading(29.0, 20)], date(2026, 5, 21), "once, and nothing says it was an error"),
        ([reading(29.0, 19, 9), reading(26.0, 19, 10)], None, "contradicted an hour later"),
        ([reading(31.0, 20)], date(2026, 5, 20), "past the act limit: the same day"),
        ([reading(31.0, 20, 9), reading(26.0, 20, 10)], date(2026, 5, 20), "past the act limit, whatever followed"),
    ],
)
def test_water_out_of_its_band_is_investigated(trade: Any, readings: list[Reading], due: date | None, why: str) -> None:
    rows = trade.rows(readings=tuple(readings))
    rows = replace(rows, tanks=(replace(rows.tanks[0], watch_high_c=28.5, act_high_c=30.5),))
    plan = trade.plan(rows, band_rule(trade))
    assert [task.due for task in plan.tasks] == ([] if due is None else [due]), why


def test_a_tank_without_bands_of_its_own_has_those_of_its_strictest_animals(trade: Any) -> None:
    from fleet.planning.triggers import Bands
    from fleet.values.fleet import snapshot
    from fleet.values.register import Animals

    classes = {
        code: AnimalClass(code, code, (), 24, 26, watch[0], watch[1], act[0], act[1], None, None, False, "invented")
        for code, watch, act in (("reef", (23.5, 28.0), (22.0, 29.5)), ("fish", (23.0, 28.5), (21.0, 30.5)))
    }
    rows = trade.rows(
        animals=(Animals("T1", "a", date(2020, 1, 1), "reef"), Animals("T1", "b", date(2020, 1, 1), "fish"))
    )
    fleet = snapshot(rows, trade.today)
    assert Bands.of(fleet.tanks[0], fleet, classes) == Bands(23.5, 28.0, 22.0, 29.5)


def condition_rule(trade: Any, **changes: Any) -> Any:
    """Act when the condenser's air rise is 3 K over the clean unit's: common practice."""
    trigger = ConditionTrigger(
        ReadingQuantity.EXHAUST_AIR_TEMP, True, 3.0, Span(14, "day"), "air rise over the clean unit's",
        minus=ReadingQuantity.INTAKE_AIR_TEMP, over_baseline=True,
    )  # fmt: skip
    return trade.rule(conditions=(trigger,), interval=None, **changes)


def air_rise(rise: float, day: int) -> tuple[Reading, Reading]:
    return (
        reading(24.0, day, 9, ReadingQuantity.INTAKE_AIR_TEMP),
        reading(24.0 + rise, day, 9, ReadingQuantity.EXHAUST_AIR_TEMP),
    )


def test_a_condition_calls_from_the_first_reading_that_met_it(trade: Any) -> None:
    readings = (*air_rise(8.0, 1), *air_rise(11.5, 10), *air_rise(12.0, 17))
    (task,) = trade.plan(trade.rows(readings=readings), condition_rule(trade)).tasks
    assert (task.earliest, task.due) == (date(2026, 5, 10), date(2026, 5, 24))
    assert task.cause.kind is CauseKind.CONDITION
    assert task.cause.numbers == {"value": 4.0, "limit": 3.0}


@pytest.mark.parametrize(
    ("last_rise", "done_on"), [(9.0, None), (12.0, date(2026, 5, 17))], ids=["came back by itself", "done since"]
)
def test_a_condition_ends_with_a_good_reading_or_with_the_work(
    trade: Any, last_rise: float, done_on: date | None
) -> None:
    readings = (*air_rise(8.0, 1), *air_rise(12.0, 10), *air_rise(last_rise, 17))
    history = () if done_on is None else (trade.done(done_on),)
    assert not trade.plan(trade.rows(readings=readings, history=history), condition_rule(trade)).tasks


def holiday_rule(trade: Any) -> Any:
    """Hand over 3 to 7 days before a closure of more than 3 days: common practice."""
    trigger = EventTrigger("closure", Span(3, "day"), lead=Span(7, "day"), longer_than_days=3)
    return trade.rule(
        "hand-over", selector=Selector(SubjectKind.SITE), interval=None, tolerance=Tolerance.A, events=(trigger,)
    )


@pytest.mark.parametrize(("until", "tasks"), [(date(2026, 7, 23), 0), (date(2026, 7, 24), 1)])
def test_a_long_closure_calls_for_a_hand_over_before_it(trade: Any, until: date, tasks: int) -> None:
    """From Monday 20 July: three days are no long closure, four are."""
    rows = trade.rows(closures=(Closure("S", date(2026, 7, 20), until, "holidays"),))
    found = trade.plan(rows, holiday_rule(trade)).tasks
    assert [(task.earliest, task.latest) for task in found] == [(date(2026, 7, 13), date(2026, 7, 17))] * tasks


@pytest.mark.parametrize(
    ("second", "last"),
    [
        ((date(2026, 7, 22), date(2026, 7, 26)), "25 July"),
        ((date(2026, 7, 23), date(2026, 7, 26)), "25 July"),
        ((date(2026, 7, 21), None), None),
        ((date(2026, 7, 24), date(2026, 7, 27)), None),
    ],
    ids=["overlaps", "follows on", "has no end", "a day between"],
)
def test_closures_that_meet_are_handed_over_before_as_one(
    trade: Any, second: tuple[date, date | None], last: str | None
) -> None:
    """Three days from 20 July and what is closed on from there: nobody can hand a site over that is shut already. With
    a day between they are two, and both too short."""
    closures = (Closure("S", date(2026, 7, 20), date(2026, 7, 23)), Closure("S", *second))
    found = trade.plan(trade.rows(closures=closures), holiday_rule(trade)).tasks
    if second[0] == date(2026, 7, 24):
        assert not found
        return
    (task,) = found
    assert (task.earliest, task.latest) == (date(2026, 7, 13), date(2026, 7, 17))
    end = "" if last is None else f" to {last} 2026"
    assert task.cause.text == f"S is closed from 20 July 2026{end}."


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("lights 250 W", "lights 310 W", "lights 250 W → 310 W"),
        ("hot day mean 24 °C", "hot day mean 25 °C", "hot day mean 24 °C → 25 °C"),
        ("30 corals", "30 corals, 6 wrasses", "30 corals → 30 corals, 6 wrasses"),
        ("lid open", "lid sealed", "lid open → sealed"),
    ],
)
def test_a_change_names_its_fact_once(before: str, after: str, words: str) -> None:
    change = Change(ChangeKind.TANK, "T1", "T1", date(2026, 5, 1), before, after)
    assert change_words(change) == words
