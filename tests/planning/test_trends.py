"""Values that creep towards a limit: when they are expected to pass it, and work that is pulled forward for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleet.planning.trends import Crossing, Point, expected_crossing
from fleet.values.assessment import OutputShare
from fleet.values.catalogue import ConditionTrigger, Span, TaskRule
from fleet.values.plan import Plan
from fleet.values.register import Reading
from fleet.values.vocabulary import CauseKind, DerivedQuantity, ReadingQuantity

BEGUN = date(2026, 1, 1)


def line(days: Sequence[int], start: float, slope: float, error: float = 1.0) -> list[Point]:
    return [Point(BEGUN + timedelta(days=day), start + slope * day, error) for day in days]


def falling(points: Sequence[Point], limit: float = 85.0, **more: Any) -> Crossing | None:
    return expected_crossing(points, limit, above=False, **more)


def test_a_straight_line_is_followed_to_the_limit() -> None:
    """100 % less 0.2 % a day is 85 % after 75 days."""
    crossing = falling(line(range(0, 61, 10), 100.0, -0.2))
    assert crossing is not None
    assert crossing.likely == BEGUN + timedelta(days=75)
    assert crossing.early < crossing.likely < crossing.late


def test_the_line_and_its_spread_are_those_of_the_statistics_library() -> None:
    """Slope, intercept and their errors by scipy.stats.linregress (ordinary least squares, errors from the scatter,
    here larger than stated). Where the band about its line meets the limit is looked for on a grid, from the formula
    for the error of a fitted line (Draper and Smith, Applied Regression Analysis, section 1.4; from memory)."""
    days = np.array([0, 14, 30, 47, 60, 75, 90])
    values = np.array([99.0, 98.5, 95.0, 95.5, 92.0, 91.5, 88.0])
    found = stats.linregress(days, values)
    crossing = falling(
        [Point(BEGUN + timedelta(days=int(day)), value, 0.1) for day, value in zip(days, values, strict=True)]
    )
    assert crossing is not None
    assert (crossing.likely - BEGUN).days == round((85.0 - found.intercept) / found.slope)
    grid = np.arange(0, 400, 0.01)
    fitted = found.intercept + found.slope * grid
    scatter = found.stderr * np.sqrt(np.sum((days - days.mean()) ** 2))
    band = 1.2816 * scatter * np.sqrt(1 / len(days) + (grid - days.mean()) ** 2 / np.sum((days - days.mean()) ** 2))
    assert (crossing.early - BEGUN).days == int(grid[np.argmax(fitted - band <= 85.0)])
    assert (crossing.late - BEGUN).days == int(np.ceil(grid[np.argmax(fitted + band <= 85.0)]))


def test_four_times_in_five_or_more_the_limit_is_passed_inside_the_spread() -> None:
    """Two thousand trials with errors of 1 % on a line that is known. More than 80 %, for scatter beyond the stated
    errors widens the spread and scatter below them does not narrow it, and both ends are counted outwards to days."""
    dice = np.random.default_rng(4)
    inside = told = 0
    for _ in range(2000):
        points = [replace(one, value=one.value + dice.normal(0.0, 1.0)) for one in line(range(0, 71, 10), 100.0, -0.17)]
        crossing = falling(points)
        if crossing is not None:
            told += 1
            inside += crossing.early <= BEGUN + timedelta(days=15.0 / 0.17) <= crossing.late
    assert told > 1900
    assert 0.80 <= inside / told <= 0.92


@pytest.mark.parametrize(
    ("points", "why"),
    [
        (line((0, 40), 100.0, -0.2), "two points are always on a line"),
        (line((0, 5, 13), 100.0, -0.5), "less than two weeks"),
        (line((0, 20, 40), 95.0, 0.1), "it gets better"),
        (line((0, 20, 40), 95.0, 0.0), "it stays"),
        (line((0, 20, 40), 95.0, -0.01), "no more than chance"),
        (line((0, 20, 40), 100.0, -0.1), "further ahead than twice the time measured"),
        (line((0, 20, 40), 90.0, -0.2), "past the limit already"),
        ([Point(BEGUN + timedelta(days=20 * n), v, 1.0) for n, v in enumerate((99, 60, 98))], "nonsense"),
    ],
)
def test_what_bears_no_forecast(points: list[Point], why: str) -> None:
    assert falling(points) is None, why


def test_rising_values_are_followed_too() -> None:
    crossing = expected_crossing(line((0, 20, 40, 60), 0.0, 0.04, 0.3), 3.0, above=True)
    assert crossing is not None
    assert crossing.likely == BEGUN + timedelta(days=75)


def test_a_limit_that_is_itself_uncertain_widens_the_spread() -> None:
    sure = falling(line(range(0, 61, 10), 100.0, -0.2))
    unsure = falling(line(range(0, 61, 10), 100.0, -0.2), limit_error=3.0)
    assert sure is not None
    assert unsure is not None
    assert unsure.likely == sure.likely
    assert unsure.early < sure.early < sure.late < unsure.late


@given(
    start=st.floats(90.0, 110.0),
    slope=st.floats(-1.0, 1.0),
    days=st.lists(st.integers(0, 200), min_size=1, max_size=8, unique=True).map(sorted),
    noise=st.lists(st.floats(-5.0, 5.0), min_size=8, max_size=8),
    error=st.floats(0.05, 10.0),
)
@settings(max_examples=200, deadline=None)
def test_a_forecast_is_always_ahead_and_in_order(
    start: float, slope: float, days: list[int], noise: list[float], error: float
) -> None:
    points = [
        replace(one, value=one.value + wrong)
        for one, wrong in zip(line(days, start, slope, error), noise, strict=False)
    ]
    crossing = falling(points)
    if crossing is not None:
        assert points[-1].on <= crossing.likely <= points[-1].on + 2.1 * (points[-1].on - points[0].on)
        assert crossing.early <= crossing.likely <= crossing.late


OUTPUT = ConditionTrigger(
    DerivedQuantity.OUTPUT_SHARE_PERCENT, False, 85.0, Span(14, "day"), "output of the clean unit", trend=True
)


def fins(trade: Any, **changes: Any) -> TaskRule:
    rule: TaskRule = trade.rule(interval=trade.interval(3, 6, 12, "month"), conditions=(OUTPUT,), **changes)
    return rule


def output(day: date, percent: float, error: float = 1.0) -> OutputShare:
    return OutputShare("C1", day, 900.0, percent / 100, error / 100, 0.0, "the clean unit on 2026-03-03")


SLOW_LOSS = (output(date(2026, 3, 3), 99), output(date(2026, 3, 24), 96), output(date(2026, 4, 14), 93))


def planned(trade: Any, *shares: OutputShare, done: date = date(2026, 3, 3), **more: Any) -> Plan:
    rows = trade.rows(history=(trade.done(done),))
    today = more.pop("today", date(2026, 4, 15))
    plan: Plan = trade.plan(rows, fins(trade), output_shares=shares, today=today, days=365, **more)
    return plan


def test_work_is_pulled_forward_to_the_early_side_of_the_day_on_which_its_limit_is_expected(trade: Any) -> None:
    """Output falls from 99 % by a seventh of a percent a day: 85 % is reached 98 days after 3 March, on 9 June."""
    plan = planned(trade, *SLOW_LOSS)
    task, *later = trade.tasks(plan)
    assert task.cause.kind is CauseKind.CONDITION
    assert task.cause.text.startswith(
        "Output of the clean unit: 99 % on 3 March 2026, 96 % on 24 March 2026, 93 % on 14 April 2026, "
        "85 % expected about 9 June 2026 ("
    )
    assert task.due.isoformat() == task.cause.numbers["expected_from"]
    assert date(2026, 4, 28) < task.due < date(2026, 6, 9) == task.latest
    assert task.earliest > date(2026, 4, 14)
    assert later[0].cause.text.startswith("Every 6 months"), "and once only"
    assert planned(trade, *SLOW_LOSS, previous=plan).tasks == plan.tasks


def test_a_forecast_beyond_the_usual_day_changes_nothing(trade: Any) -> None:
    plain = trade.tasks(planned(trade, done=date(2025, 11, 1)))
    assert trade.tasks(planned(trade, *SLOW_LOSS, done=date(2025, 11, 1)))[0].due == plain[0].due == date(2026, 5, 1)


def test_a_reading_past_the_limit_is_a_condition_and_no_forecast(trade: Any) -> None:
    task = trade.first(planned(trade, *SLOW_LOSS, output(date(2026, 4, 15), 84)))
    assert task.cause.text == "Output of the clean unit: 84 % on 15 April 2026, limit 85 %."
    assert task.due == date(2026, 4, 29)


def test_the_work_begins_the_series_anew(trade: Any) -> None:
    task = trade.first(planned(trade, *SLOW_LOSS, done=date(2026, 4, 1)))
    assert task.cause.kind is CauseKind.INTERVAL


def test_other_work_that_restores_it_does_too(trade: Any) -> None:
    rule = fins(trade)
    rule = replace(rule, conditions=(replace(OUTPUT, restored_by=("descale",)),))
    history = (trade.done(date(2026, 3, 3)), trade.done(date(2026, 4, 1), "descale"))
    plan = trade.plan(trade.rows(history=history), rule, output_shares=SLOW_LOSS, today=date(2026, 4, 15))
    assert trade.first(plan).cause.kind is CauseKind.INTERVAL


def test_descaling_waits_until_air_side_and_flow_are_known_to_be_clean(trade: Any) -> None:
    """Output under 85 % with the air side clean and the flow full points at scale; before that at the rest (common
    practice: cheapest and safest first, acid last)."""
    low = replace(OUTPUT, trend=False, soon_after=("fins", "flush"))
    rule = trade.rule("descale", interval=None, conditions=(low,))
    cleaned = trade.done(date(2026, 5, 1), "fins")
    for history, tasks in (
        ((), 0),
        ((cleaned,), 0),
        ((cleaned, trade.done(date(2026, 5, 2), "flush")), 1),
        ((cleaned, trade.done(date(2026, 5, 12), "flush")), 0),
        ((cleaned, trade.done(date(2026, 1, 2), "flush")), 0),
    ):
        plan = trade.plan(trade.rows(history=history), rule, output_shares=(output(date(2026, 5, 10), 80),))
        assert len(plan.tasks) == tasks


def reading(quantity: ReadingQuantity, value: float, day: int, subject: str = "C1") -> Reading:
    return Reading(subject, quantity, value, datetime(2026, 5, day, 9, tzinfo=UTC))


def test_flow_is_judged_as_a_share_of_what_it_was_at_first(trade: Any) -> None:
    """Flow down 15 %: common practice."""
    less = ConditionTrigger(
        ReadingQuantity.FLOW, False, 85.0, Span(14, "day"), "flow of the clean pump", share_of_baseline=True
    )
    rule = trade.rule(interval=None, conditions=(less,))
    for last, tasks in ((1.8, 0), (1.69, 1)):
        readings = (reading(ReadingQuantity.FLOW, 2.0, 1), reading(ReadingQuantity.FLOW, last, 15))
        assert len(trade.plan(trade.rows(readings=readings), rule).tasks) == tasks


def test_a_run_share_is_compared_in_rooms_as_warm_only(trade: Any) -> None:
    """A rise of 15 points at like room temperature: common practice. A warm room alone makes a unit run longer."""
    more = ConditionTrigger(
        ReadingQuantity.RUN_SHARE_PERCENT, True, 15.0, Span(14, "day"), "run share over that in a room as warm",
        over_baseline=True, like_room_within_k=2.0,
    )  # fmt: skip
    rule = trade.rule(interval=None, conditions=(more,))
    for room_c, tasks in ((29.0, 0), (25.0, 1)):
        readings = (
            reading(ReadingQuantity.RUN_SHARE_PERCENT, 40.0, 1), reading(ReadingQuantity.ROOM_TEMP, 24.0, 1, "R"),
            reading(ReadingQuantity.RUN_SHARE_PERCENT, 60.0, 15), reading(ReadingQuantity.ROOM_TEMP, room_c, 15, "R"),
        )  # fmt: skip
        plan = trade.plan(trade.rows(readings=readings), rule)
        assert len(plan.tasks) == tasks
        if tasks:
            assert plan.tasks[0].cause.text == (
                "Run share over that in a room as warm: 20 % on 15 May 2026, limit 15 %."
            )
