"""Our calendar against other people's: dateutil over long horizons, ISO 8601 weeks, public holidays by their own rules.

References: python-dateutil (relativedelta, rrule, easter, tz), ISO 8601:2004 for the Gregorian calendar and its weeks,
and for public holidays the laws that set them, worked out by rrule and Gauss's rule for Easter, not by a list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from dateutil import tz
from dateutil.easter import easter
from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, MO, MONTHLY, TH, WEEKLY, YEARLY, rrule, weekday
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.recurrence import FixedCalendar, add_span, next_after
from fleet.planning.seasons import OpenDays, hot_seasons
from fleet.values.catalogue import Interval, Span
from fleet.values.register import Closure, RegisterRows, Site, YearSpan
from fleet.values.vocabulary import PerformedBy, Tolerance

FOUR_CENTURIES_DAYS = 146_097
"""Days of 400 years of the Gregorian calendar, after which it repeats, weekdays and all (ISO 8601:2004, 3.2.1)."""
DAYS = st.dates(date(1900, 1, 1), date(2400, 12, 31))
SPANS = st.builds(Span, st.integers(1, 130), st.sampled_from(["day", "week", "month"]))
MONTH_ENDS = st.sampled_from(
    [date(2026, 1, 29), date(2026, 1, 30), date(2026, 1, 31), date(2024, 2, 29), date(2096, 2, 29), date(2026, 12, 31)]
)
many = settings(max_examples=80, deadline=None)


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)


def by_rrule(first: date, span: Span, count: int) -> list[date]:
    """The first `count` days at whole intervals from `first`, that day left out. A day of the month that a month
    lacks becomes its last: the last that exists of the 28th up to that day (BYMONTHDAY with BYSETPOS=-1)."""
    pattern: dict[str, Any] = {"freq": {"day": DAILY, "week": WEEKLY, "month": MONTHLY}[span.unit]}
    if span.unit == "month":
        pattern |= {"bymonthday": list(range(min(28, first.day), first.day + 1)), "bysetpos": -1}
    found = rrule(dtstart=moment(first), interval=span.count, count=count + 1, **pattern)
    return [one.date() for one in found][1:]


# Intervals


@many
@given(day=DAYS | MONTH_ENDS, span=SPANS, times=st.integers(-40, 400))
def test_whole_intervals_are_those_of_relativedelta(day: date, span: Span, times: int) -> None:
    apart = relativedelta(**{f"{span.unit}s": span.count * times})
    try:
        expected = day + apart
    except (ValueError, OverflowError):
        return
    assert add_span(day, span, times) == expected


@many
@given(day=DAYS | MONTH_ENDS, span=SPANS)
def test_whole_intervals_are_those_of_a_recurrence_rule(day: date, span: Span) -> None:
    assert [add_span(day, span, times) for times in range(1, 61)] == by_rrule(day, span, 60)


@many
@given(day=DAYS)
def test_after_four_centuries_the_calendar_repeats(day: date) -> None:
    assert add_span(day, Span(1, "month"), 4800) - day == timedelta(days=FOUR_CENTURIES_DAYS)
    assert add_span(day, Span(1, "month"), 4800).weekday() == day.weekday()


@pytest.mark.parametrize(
    ("years", "expected"),
    [(1, date(2097, 2, 28)), (4, date(2100, 2, 28)), (8, date(2104, 2, 29)), (304, date(2400, 2, 29))],
)
def test_a_leap_day_waits_eight_years_where_a_century_is_common(years: int, expected: date) -> None:
    """2100 is no leap year, 2400 is one: ISO 8601:2004, 3.2.1."""
    assert add_span(date(2096, 2, 29), Span(12, "month"), years) == expected


@many
@given(day=DAYS | MONTH_ENDS, span=SPANS, early=st.lists(st.integers(0, 30), max_size=40))
def test_a_fixed_calendar_keeps_the_days_of_its_recurrence_rule(day: date, span: Span, early: list[int]) -> None:
    """Whether the work is done on its day or earlier within the interval, the days stay those of the rule."""
    calendar = FixedCalendar(day, span)
    before = day
    for expected, ahead in zip(by_rrule(day, span, len(early)), early, strict=True):
        assert calendar.next_due == expected
        calendar.use_up(max(before + timedelta(days=1), expected - timedelta(days=ahead)))
        before = expected


def lasting(trade: Any, done: Iterable[date]) -> RegisterRows:
    rows = trade.rows(history=tuple(trade.done(day) for day in done))
    return replace(rows, duties=tuple(replace(duty, since=date(1890, 1, 1)) for duty in rows.duties))


@settings(max_examples=40, deadline=None)
@given(day=DAYS | MONTH_ENDS, count=st.integers(1, 18), unit=st.sampled_from(["week", "month"]))
def test_the_plan_of_life_safety_work_is_its_recurrence_rule(trade: Any, day: date, count: int, unit: str) -> None:
    span = Span(count, unit)
    rule = trade.rule(tolerance=Tolerance.A0, interval=Interval(Span(1, "day"), span, Span(2 * count, unit)))
    plan = trade.plan(lasting(trade, [day]), rule, today=day + timedelta(days=1), days=1500)
    expected = [one for one in by_rrule(day, span, 220) if one <= plan.through]
    assert [task.due for task in plan.tasks] == expected


@settings(max_examples=40, deadline=None)
@given(day=DAYS | MONTH_ENDS, count=st.integers(1, 18), unit=st.sampled_from(["week", "month"]))
def test_the_plan_of_other_work_counts_each_interval_from_the_work_before(
    trade: Any, day: date, count: int, unit: str
) -> None:
    """From 31 January by months: 28 February, and on from that 28 March. Each day by relativedelta from the last."""
    rule = trade.rule(tolerance=Tolerance.B, interval=trade.interval(count, count, 2 * count, unit))
    plan = trade.plan(lasting(trade, [day]), rule, today=day + timedelta(days=1), days=1500)
    expected, due = [], day + relativedelta(**{f"{unit}s": count})
    while due <= plan.through:
        expected.append(due)
        due += relativedelta(**{f"{unit}s": count})
    assert [task.due for task in plan.tasks] == expected


@many
@given(day=DAYS, hours=st.integers(1, 100))
def test_hours_count_as_whole_days_and_never_as_none(day: date, hours: int) -> None:
    reached = (datetime(day.year, day.month, day.day, tzinfo=UTC) + relativedelta(hours=hours)).date()
    assert add_span(day, Span(hours, "hour")) == reached
    assert next_after(day, Span(hours, "hour")) == max(reached, day + timedelta(days=1))


# Seasons


@settings(max_examples=60, deadline=None)
@given(
    first=st.dates(date(2028, 1, 1), date(2028, 12, 31)),
    last=st.dates(date(2028, 1, 1), date(2028, 12, 31)),
    year=st.integers(1950, 2350),
)
def test_seasons_begin_and_end_on_the_days_of_a_yearly_rule(first: date, last: date, year: int) -> None:
    """2028 is a leap year, so 29 February is among the days; in a common year it is the 28th (BYSETPOS=-1)."""

    def yearly(day: date) -> list[date]:
        wanted = [28, 29] if (day.month, day.day) == (2, 29) else [day.day]
        days = rrule(
            YEARLY, moment(date(year - 1, 1, 1)), bymonth=day.month, bymonthday=wanted, bysetpos=-1, count=7
        )  # fmt: skip
        return [one.date() for one in days]

    place = Site("S", "CL", "Site", "Etc/UTC", hot_seasons=(YearSpan(first.month, first.day, last.month, last.day),))
    begin, end = date(year, 1, 1), date(year + 3, 12, 31)
    starts, ends = yearly(first), yearly(last)
    pairs = [(start, next(day for day in ends if day >= start)) for start in starts[:-1]]
    expected = [pair for pair in pairs if pair[1] >= begin and pair[0] <= end]
    assert [(one.first, one.last) for one in hot_seasons(place, begin, end)] == expected


# Weeks


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2005, 1, 1), (2004, 53, 6)),
        (date(2008, 12, 29), (2009, 1, 1)),
        (date(2010, 1, 3), (2009, 53, 7)),
        (date(2026, 12, 31), (2026, 53, 4)),
        (date(1985, 4, 12), (1985, 15, 5)),
    ],
)
def test_visit_days_are_numbered_from_monday_as_in_the_standard(day: date, week: tuple[int, int, int]) -> None:
    """ISO 8601:2004: 1985-04-12 is 1985-W15-5 (4.1.4.2); the others stand on the pages about it (from memory)."""
    assert tuple(day.isocalendar()) == week
    site = Site("S", "CL", "Site", "Etc/UTC", visit_days=(week[2] - 1,))
    monday = date.fromisocalendar(week[0], week[1], 1)
    assert OpenDays(site, (), monday, monday + timedelta(days=6)).days == [day]


@many
@given(
    weekdays=st.sets(st.integers(0, 6), min_size=1),
    first=st.dates(date(2000, 1, 1), date(2060, 1, 1)),
    closures=st.lists(st.tuples(st.integers(-20, 900), st.integers(1, 60)), max_size=6),
)
def test_open_days_are_a_weekly_rule_without_the_closures(
    weekdays: set[int], first: date, closures: list[tuple[int, int]]
) -> None:
    last = first + timedelta(days=800)
    spans = [(first + timedelta(days=start), first + timedelta(days=start + length)) for start, length in closures]
    weekly = rrule(WEEKLY, moment(first), until=moment(last), byweekday=[weekday(number) for number in weekdays])
    expected = [one.date() for one in weekly if not any(since <= one.date() < until for since, until in spans)]
    site = Site("S", "CL", "Site", "Etc/UTC", visit_days=tuple(sorted(weekdays)))
    assert OpenDays(site, [Closure("S", *span) for span in spans], first, last).days == expected


# Clocks


@pytest.mark.parametrize(
    "zone",
    [
        "America/New_York",
        "Australia/Lord_Howe",
        "Pacific/Chatham",
        "Asia/Kolkata",
        "America/St_Johns",
        "Africa/Casablanca",
    ],
)
def test_a_visit_keeps_its_hour_on_the_wall_when_the_clocks_change(trade: Any, zone: str) -> None:
    """The site's own clock by dateutil.tz; half-hour changes and offsets of 45 minutes among them."""
    rule = trade.rule(interval=trade.interval(1, 1, 2, "day"))
    rows = trade.rows(sites=(trade.site(time_zone=zone, visit_days=tuple(range(7))),))
    people = (trade.technician(work_days=tuple(range(7))),)
    plan = trade.plan(replace(rows, technicians=people), rule, days=370)
    wall = [visit.start.astimezone(tz.gettz(zone)) for visit in plan.visits]
    assert len(wall) > 360
    assert {one.timetz().replace(tzinfo=None).isoformat() for one in wall} == {"09:00:00"}
    assert [one.date() for one in wall] == [visit.day for visit in plan.visits]


# Public holidays


def nth(month: int, on: weekday) -> Callable[[int], date]:
    return lambda year: rrule(YEARLY, datetime(year, 1, 1, tzinfo=UTC), bymonth=month, byweekday=on, count=1)[0].date()


def fixed(month: int, day: int) -> Callable[[int], date]:
    return lambda year: date(year, month, day)


def from_easter(days: int) -> Callable[[int], date]:
    return lambda year: easter(year) + timedelta(days=days)


US_LAW = "5 U.S.C. 6103(a)"
HOLIDAYS = [
    ("US", fixed(1, 1), US_LAW),
    ("US", nth(1, MO(3)), f"{US_LAW}: third Monday in January"),
    ("US", nth(2, MO(3)), f"{US_LAW}: third Monday in February"),
    ("US", nth(5, MO(-1)), f"{US_LAW}: last Monday in May"),
    ("US", fixed(7, 4), US_LAW),
    ("US", nth(9, MO(1)), f"{US_LAW}: first Monday in September"),
    ("US", fixed(11, 11), US_LAW),
    ("US", nth(11, TH(4)), f"{US_LAW}: fourth Thursday in November"),
    ("US", fixed(12, 25), US_LAW),
    ("DE", from_easter(-2), "German states' laws on holidays: Good Friday (from memory)"),
    ("DE", from_easter(1), "German states' laws on holidays: Easter Monday (from memory)"),
    ("DE", from_easter(39), "German states' laws on holidays: Ascension (from memory)"),
    ("DE", from_easter(50), "German states' laws on holidays: Whit Monday (from memory)"),
    ("DE-BY", from_easter(60), "Bavarian holiday law, article 1: Corpus Christi (from memory)"),
    ("DE-BY", fixed(1, 6), "Bavarian holiday law, article 1: Epiphany (from memory)"),
    ("NZ", from_easter(-2), "New Zealand Holidays Act 2003, section 44 (from memory)"),
    ("NZ", nth(10, MO(4)), "New Zealand Holidays Act 2003, section 44: fourth Monday in October (from memory)"),
    ("AU-NSW", fixed(4, 25), "New South Wales Public Holidays Act 2010, section 4 (from memory)"),
    ("AU-NSW", nth(10, MO(1)), "New South Wales Public Holidays Act 2010, section 4: Labour Day (from memory)"),
    ("SE", from_easter(-2), "Swedish act 1989:253 on public holidays (from memory)"),
    ("SE", lambda year: next(
        date(year, 6, day) for day in range(20, 27) if date(year, 6, day).weekday() == 5
    ), "Swedish act 1989:253: the Saturday of 20 to 26 June (from memory)"),
]  # fmt: skip


@pytest.mark.parametrize(("region", "rule", "source"), HOLIDAYS)
def test_a_site_is_shut_on_the_public_holidays_of_its_region(
    region: str, rule: Callable[[int], date], source: str
) -> None:
    site = Site("S", "CL", "Site", "Etc/UTC", visit_days=tuple(range(7)), holiday_region=region)
    for year in range(2015, 2061):
        day = rule(year)
        around = OpenDays(site, (), day - timedelta(days=3), day + timedelta(days=3))
        assert day not in around, f"{source}: {day}"


def test_another_region_of_the_same_country_is_open() -> None:
    """Epiphany is a holiday in Bavaria and none in Berlin (from memory); 6 January 2027 is a Wednesday."""
    day = date(2027, 1, 6)
    for region, is_open in (("DE-BY", False), ("DE-BE", True), (None, True)):
        site = Site("S", "CL", "Site", "Etc/UTC", holiday_region=region)
        assert (day in OpenDays(site, (), day, day)) is is_open


def test_no_visit_falls_on_a_public_holiday(trade: Any) -> None:
    """Daily work over a year, seven days a week, at a site in New York: 5 U.S.C. 6103 by its own rules."""
    rule = trade.rule(interval=trade.interval(1, 1, 5, "day"), tolerance=Tolerance.C)
    rows = trade.rows(sites=(trade.site(visit_days=tuple(range(7)), holiday_region="US"),))
    rows = replace(rows, technicians=(trade.technician(work_days=tuple(range(7))),))
    plan = trade.plan(rows, rule, days=366)
    law = {rule_of(year) for region, rule_of, _ in HOLIDAYS if region == "US" for year in (2026, 2027)}
    assert not {visit.day for visit in plan.visits} & law
    assert len(plan.visits) > 300


def test_the_site_staffs_daily_work_knows_no_holiday(trade: Any) -> None:
    """The people who live there look every day; holidays are shut to visitors only."""
    rule = trade.rule(interval=trade.interval(1, 1, 1, "day"), performed_by=PerformedBy.SITE_STAFF)
    rows = trade.rows(sites=(trade.site(holiday_region="US"),), history=(trade.done(date(2026, 7, 3)),))
    plan = trade.plan(rows, rule, today=date(2026, 7, 4))
    assert [task.due for task in plan.tasks] == [date(2026, 7, 4)]
