"""Intervals on the calendar: ends of months, leap days, factors and the tolerance classes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import MONTHLY, rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.recurrence import (
    FixedCalendar,
    Window,
    add_span,
    applied_interval,
    next_after,
    state_on,
    tolerance_window,
)
from fleet.values.catalogue import Interval, Span
from fleet.values.vocabulary import TaskState, Tolerance

GREGORIAN = "Gregorian calendar, ISO 8601:2004 table 1 (days of the months) and 3.2.1 (leap years)"
DAYS = st.dates(date(2000, 1, 1), date(2060, 12, 31))


@pytest.mark.parametrize(
    ("start", "span", "times", "expected", "source"),
    [
        (date(2026, 1, 31), Span(1, "month"), 1, date(2026, 2, 28), GREGORIAN),
        (date(2028, 1, 31), Span(1, "month"), 1, date(2028, 2, 29), GREGORIAN),
        (date(2026, 1, 31), Span(1, "month"), 2, date(2026, 3, 31), GREGORIAN),
        (date(2026, 1, 31), Span(1, "month"), 3, date(2026, 4, 30), GREGORIAN),
        (date(2024, 2, 29), Span(12, "month"), 1, date(2025, 2, 28), GREGORIAN),
        (date(2024, 2, 29), Span(12, "month"), 4, date(2028, 2, 29), GREGORIAN),
        (date(2000, 2, 29), Span(1200, "month"), 1, date(2100, 2, 28), GREGORIAN),
        (date(2026, 8, 31), Span(6, "month"), 1, date(2027, 2, 28), GREGORIAN),
        (date(2026, 12, 28), Span(1, "week"), 1, date(2027, 1, 4), GREGORIAN),
        (date(2028, 2, 28), Span(2, "day"), 1, date(2028, 3, 1), GREGORIAN),
        (date(2026, 5, 20), Span(24, "hour"), 1, date(2026, 5, 21), "24 h are one day"),
        (date(2026, 5, 20), Span(2, "hour"), 1, date(2026, 5, 20), "within two hours is the same day"),
    ],
)
def test_spans_follow_the_calendar(start: date, span: Span, times: int, expected: date, source: str) -> None:
    assert add_span(start, span, times) == expected, source


def test_work_set_on_the_last_day_of_january_comes_on_the_last_day_of_every_month() -> None:
    """Compared with RFC 5545 3.3.10, BYMONTHDAY=-1, as expanded by python-dateutil."""
    month_ends = [
        moment.date() for moment in rrule(MONTHLY, datetime(2026, 1, 31, tzinfo=UTC), bymonthday=-1, count=40)
    ]
    ours = [add_span(date(2026, 1, 31), Span(1, "month"), times) for times in range(40)]
    assert ours == month_ends


@pytest.mark.parametrize(
    ("multipliers", "expected"),
    [
        ([], Span(6, "month")),
        ([0.7], Span(127, "day")),  # 6 × 30.4375 × 0.7 = 127.8, counted down
        ([0.7, 0.7], Span(3, "month")),  # 89.5 days: not below the shortest, 3 months
        ([1.3], Span(237, "day")),  # 237.4
        ([1.3, 1.3, 1.3], Span(12, "month")),
        ([0.7, 1.3], Span(166, "day")),  # 166.2
    ],
)
def test_conditions_move_the_interval_but_never_past_its_ends(multipliers: list[float], expected: Span) -> None:
    """× 0.7 and × 1.3, clamped: common practice."""
    interval = Interval(Span(3, "month"), Span(6, "month"), Span(12, "month"))
    assert applied_interval(interval, multipliers) == expected


@pytest.mark.parametrize(
    ("tolerance", "early_days", "late_days"),
    [
        (Tolerance.A, 30, 10),  # livestock or shock safety: 30 % early, 10 % late
        (Tolerance.B, 30, 20),  # protects equipment: 30 % early, 20 % late
        (Tolerance.C, 50, 33),  # economy: 50 % early, 33 % late
    ],
)
def test_tolerance_is_a_share_of_the_interval(tolerance: Tolerance, early_days: int, late_days: int) -> None:
    """Shares: common practice."""
    due = date(2026, 5, 20)
    window = tolerance_window(tolerance, due, 100.0)
    assert (due - window.earliest, window.latest - due) == (timedelta(days=early_days), timedelta(days=late_days))


@given(due=DAYS, days=st.integers(1, 400), back=st.integers(1, 400))
@settings(max_examples=60, deadline=None)
def test_life_safety_is_never_late_and_any_time_early(due: date, days: int, back: int) -> None:
    """No day late and any day early: common practice for work that law or standards ask for."""
    after = due - timedelta(days=back)
    window = tolerance_window(Tolerance.A0, due, float(days), after=after)
    assert window == Window(after + timedelta(days=1), due, due)


@given(
    tolerance=st.sampled_from([Tolerance.A0, Tolerance.A, Tolerance.B, Tolerance.C]),
    last=DAYS,
    typical=st.integers(1, 60),
    longer=st.integers(0, 60),
    unit=st.sampled_from(["day", "week", "month"]),
)
@settings(max_examples=100, deadline=None)
def test_lateness_never_passes_the_longest_interval(
    tolerance: Tolerance, last: date, typical: int, longer: int, unit: str
) -> None:
    span, longest = Span(typical, unit), Span(typical + longer, unit)
    limit = next_after(last, longest)
    window = tolerance_window(tolerance, next_after(last, span), span.days, after=last, limit=limit)
    assert last < window.earliest <= window.due <= window.latest <= limit


def test_an_early_test_leaves_the_calendar_of_life_safety_work_where_it_is() -> None:
    calendar = FixedCalendar(date(2026, 1, 31), Span(1, "month"))
    assert calendar.next_due == date(2026, 2, 28)
    calendar.use_up(date(2026, 2, 20))
    assert calendar.next_due == date(2026, 3, 31)


def test_a_late_test_does_not_push_the_calendar_on() -> None:
    calendar = FixedCalendar(date(2026, 1, 1), Span(4, "week"))
    calendar.use_up(date(2026, 2, 1))  # three days late
    assert calendar.next_due == date(2026, 2, 26)


def test_a_second_test_in_the_same_period_stands_for_no_later_one() -> None:
    calendar = FixedCalendar(date(2026, 1, 1), Span(4, "week"))
    calendar.use_up(date(2026, 1, 28))
    calendar.use_up(date(2026, 1, 29))
    assert calendar.next_due == date(2026, 2, 26)


def test_a_test_so_late_that_the_next_is_nearer_stands_for_both() -> None:
    calendar = FixedCalendar(date(2026, 1, 1), Span(4, "week"))
    calendar.use_up(date(2026, 2, 24))  # 26 days after 29 January, 2 before 26 February
    assert calendar.next_due == date(2026, 3, 26)


@given(gaps=st.lists(st.integers(1, 90), min_size=1, max_size=30))
@settings(max_examples=80, deadline=None)
def test_whatever_was_done_the_next_due_day_lies_ahead_and_on_the_calendar(gaps: list[int]) -> None:
    first, span = date(2026, 1, 31), Span(4, "week")
    calendar, day = FixedCalendar(first, span), first
    for gap in gaps:
        day += timedelta(days=gap)
        calendar.use_up(day)
    assert calendar.next_due > day
    assert (calendar.next_due - first).days % 28 == 0
    assert (calendar.next_due - day).days <= 56


@pytest.mark.parametrize(
    ("today", "state"),
    [
        (date(2026, 5, 9), TaskState.UPCOMING),
        (date(2026, 5, 10), TaskState.OPEN),
        (date(2026, 5, 20), TaskState.DUE),
        (date(2026, 5, 21), TaskState.LATE),
        (date(2026, 5, 25), TaskState.LATE),
        (date(2026, 5, 26), TaskState.PAST_LIMIT),
    ],
)
def test_the_state_of_work_follows_its_window(today: date, state: TaskState) -> None:
    assert state_on(today, Window(date(2026, 5, 10), date(2026, 5, 20), date(2026, 5, 25))) is state


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(-400, 400))
@settings(deadline=None, max_examples=300)
def test_months_are_counted_as_dateutil_counts_them(day: date, months: int) -> None:
    assert add_span(day, Span(1, "month"), months) == day + relativedelta(months=months)
