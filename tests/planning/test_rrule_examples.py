"""The worked examples of RFC 5545 that our rules can express, through the planner.

Source of every rule and every date: RFC 5545 (September 2009), section 3.8.5.3, recurrence rule, examples. They are
numbered E01 to E42 in the order in which they are printed there; the hour, 09:00 in New York, is left out, for our due
days are days. COUNT and UNTIL say where the list ends, which for us is the last day planned.

A rule of the catalogue is one interval of days, weeks or months. On a fixed calendar (class A0) its due days stand
at whole intervals from the first day on which the work was done, so an example with several days in its pattern is
as many lines as it has days, each with its own first day one interval before. `season_only` keeps a line inside the
site's season.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.values.catalogue import Interval, Span
from fleet.values.register import RegisterRows, YearSpan
from fleet.values.vocabulary import Tolerance


def days(text: str) -> list[date]:
    """ "1997-09-02 04 06, 1997-10-02": the days of each month after its first."""
    found = []
    for month in text.split(","):
        first, *others = month.split()
        found += [date.fromisoformat(first), *(date.fromisoformat(f"{first[:8]}{other}") for other in others)]
    return found


def every(first: str, last: str) -> list[date]:
    """Each day from the first to the last, as the RFC prints "September 2-30"."""
    begin, end = date.fromisoformat(first), date.fromisoformat(last)
    return [begin + timedelta(days=number) for number in range((end - begin).days + 1)]


EVERY_OTHER_DAY = (
    "1997-09-02 04 06 08 10 12 14 16 18 20 22 24 26 28 30,"
    "1997-10-02 04 06 08 10 12 14 16 18 20 22 24 26 28 30,"
    "1997-11-01 03 05 07 09 11 13 15 17 19 21 23 25 27 29,1997-12-01"
)
TUESDAYS_AND_THURSDAYS = "1997-09-02 04 09 11 16 18 23 25 30,1997-10-02"
MONDAY_WEDNESDAY_FRIDAY = (
    "1997-09-01 03 05 15 17 19 29,1997-10-01 03 13 15 17 27 29 31,1997-11-10 12 14 24 26 28,1997-12-08 10 12 22"
)
JUNE_AND_JULY = (
    "1997-06-10,1997-07-10,1998-06-10,1998-07-10,1999-06-10,1999-07-10,2000-06-10,2000-07-10,2001-06-10,2001-07-10"
)
EVERY_OTHER_YEAR = (
    "1997-03-10,1999-01-10,1999-02-10,1999-03-10,2001-01-10,2001-02-10,2001-03-10,2003-01-10,2003-02-10,2003-03-10"
)

NOT_EXPRESSED = {
    "E14 E15 E16 E17 E26 E28 E29 E31 E33 E34": "a weekday counted within a month, a year or a season: an interval "
    "knows no weekdays; a site's visit days do, and say when somebody can come, not when work falls due",
    "E18": "the third-last day of the month: of a month's end only the last day is kept",
    "E22": "every week of every other month: two intervals in one rule",
    "E25": "the 1st, 100th and 200th day of the year: no whole months apart",
    "E27": "the Monday of week 20: weeks of the year are 52 or 53 in number, no whole interval",
    "E30 E32": "a weekday and a day of the month together",
    "E35 E36 E37 E38 E39": "hours and minutes: due days are whole days",
    "E42": "days that a month lacks are left out; ours become its last day, because work left out is work not done",
}
"""Numbers of the other examples, and why no rule of ours makes their days."""

FIXED_CALENDARS = [
    ("E01", Span(1, "day"), "1997-09-01", days("1997-09-02 03 04 05 06 07 08 09 10 11"), None),
    ("E02", Span(1, "day"), "1997-09-01", every("1997-09-02", "1997-12-23"), "1997-12-23"),
    ("E03", Span(2, "day"), "1997-08-31", days(EVERY_OTHER_DAY), None),
    ("E04", Span(10, "day"), "1997-08-23", days("1997-09-02 12 22,1997-10-02 12"), None),
    ("E07", Span(1, "week"), "1997-08-26", days("1997-09-02 09 16 23 30,1997-10-07 14 21 28,1997-11-04"), None),
    (
        "E08",
        Span(1, "week"),
        "1997-08-26",
        days("1997-09-02 09 16 23 30,1997-10-07 14 21 28,1997-11-04 11 18 25,1997-12-02 09 16 23"),
        "1997-12-23",
    ),
    (
        "E09",
        Span(2, "week"),
        "1997-08-19",
        days("1997-09-02 16 30,1997-10-14 28,1997-11-11 25,1997-12-09 23,1998-01-06 20,1998-02-03 17"),
        None,
    ),
    ("E10", Span(1, "week"), "1997-08-26 28", days(TUESDAYS_AND_THURSDAYS), "1997-10-06"),
    ("E11", Span(1, "week"), "1997-08-26 28", days(TUESDAYS_AND_THURSDAYS), None),
    ("E12", Span(2, "week"), "1997-08-18 20 22", days(MONDAY_WEDNESDAY_FRIDAY), "1997-12-23"),
    ("E13", Span(2, "week"), "1997-08-19 21", days("1997-09-02 04 16 18 30,1997-10-02 14 16"), None),
    (
        "E19",
        Span(1, "month"),
        "1997-08-02 15",
        days("1997-09-02 15,1997-10-02 15,1997-11-02 15,1997-12-02 15,1998-01-02 15"),
        None,
    ),
    (
        "E20",
        Span(1, "month"),
        "1997-08-31,1997-09-01",
        days("1997-09-30,1997-10-01 31,1997-11-01 30,1997-12-01 31,1998-01-01 31,1998-02-01"),
        None,
    ),
    (
        "E21",
        Span(18, "month"),
        "1996-03-10 11 12 13 14 15",
        days("1997-09-10 11 12 13 14 15,1999-03-10 11 12 13"),
        None,
    ),
    ("E23", Span(12, "month"), "1996-06-10,1996-07-10", days(JUNE_AND_JULY), None),
    ("E24", Span(24, "month"), "1995-03-10,1997-01-10,1997-02-10", days(EVERY_OTHER_YEAR), None),
    ("E40", Span(2, "week"), "1997-07-22 27", days("1997-08-05 10 19 24"), None),
    ("E41", Span(2, "week"), "1997-07-22,1997-08-03", days("1997-08-05 17 19 31"), None),
]
"""(number, interval, first days of the work, expected due days, last day planned where UNTIL states one)"""


def rows_of(trade: Any, done: Sequence[date], **changes: Any) -> RegisterRows:
    """One device for each first day, at work since long before."""
    rows = trade.rows(tanks=len(done), **changes)
    return replace(
        rows,
        duties=tuple(replace(duty, since=date(1990, 1, 1)) for duty in rows.duties),
        history=tuple(trade.done(day, "test", f"C{line}") for line, day in enumerate(done, start=1)),
    )


def fixed_calendar_rule(trade: Any, span: Span) -> Any:
    """The longest interval is twice the usual one, so that only the calendar speaks."""
    return trade.rule(
        "test", tolerance=Tolerance.A0, interval=Interval(Span(1, "day"), span, Span(2 * span.count, span.unit))
    )


@pytest.mark.parametrize(("number", "span", "done", "expected", "last"), FIXED_CALENDARS, ids=lambda one: one)
def test_work_on_a_fixed_calendar_falls_due_on_the_days_that_the_standard_prints(
    trade: Any, number: str, span: Span, done: str, expected: list[date], last: str | None
) -> None:
    """By COUNT the first so many days are compared, by UNTIL every day up to that."""
    through = expected[-1] + timedelta(days=400) if last is None else date.fromisoformat(last)
    plan = trade.plan(
        rows_of(trade, days(done)),
        fixed_calendar_rule(trade, span),
        today=expected[0],
        days=(through - expected[0]).days,
    )
    found = sorted(task.due for task in plan.tasks)
    assert (found if last is not None else found[: len(expected)]) == expected, number


@pytest.mark.parametrize("number", ["E05", "E06"])
def test_daily_work_in_january_only_falls_due_on_every_day_of_three_januaries(trade: Any, number: str) -> None:
    """The same 93 days in two spellings, as a year's rule (E05) and as a day's (E06)."""
    rule = trade.rule("test", interval=trade.interval(1, 1, 1, "day"), season_only=True)
    rows = rows_of(trade, [date(1997, 12, 31)], sites=(trade.site(hot_seasons=(YearSpan(1, 1, 1, 31),)),))
    plan = trade.plan(rows, rule, today=date(1998, 1, 1), days=365 + 365 + 30)
    januaries = [day for year in (1998, 1999, 2000) for day in every(f"{year}-01-01", f"{year}-01-31")]
    assert [task.due for task in plan.tasks] == januaries, number


def test_the_examples_of_tuesdays_and_thursdays_are_the_visit_days_of_a_site_too(trade: Any) -> None:
    """E10: daily work at a site that is open on Tuesdays and Thursdays is visited on exactly those days."""
    rule = trade.rule("test", interval=trade.interval(1, 1, 7, "day"), tolerance=Tolerance.C)
    rows = rows_of(trade, [date(1997, 9, 1)], sites=(trade.site(visit_days=(1, 3)),))
    plan = trade.plan(rows, rule, today=date(1997, 9, 2), days=30)
    assert [visit.day for visit in plan.visits] == days(TUESDAYS_AND_THURSDAYS)
    assert [task.due for task in plan.tasks] == every("1997-09-02", "1997-10-02"), "due on every day all the same"


def test_a_day_that_a_month_lacks_is_left_out_by_the_standard_and_is_its_last_day_with_us(trade: Any) -> None:
    """E42: on the 15th and the 30th. RFC 5545: 15 and 30 January, 15 February, 15 and 30 March 2007. Ours: 28 February
    as well. The two disagree on purpose; see NOT_EXPRESSED."""
    standard = days("2007-01-15 30,2007-02-15,2007-03-15 30")
    rows = rows_of(trade, days("2006-12-15 30"))
    plan = trade.plan(
        rows, fixed_calendar_rule(trade, Span(1, "month")), today=standard[0], days=(standard[-1] - standard[0]).days
    )
    assert sorted(task.due for task in plan.tasks) == sorted([*standard, date(2007, 2, 28)])


def test_every_example_of_the_section_is_either_expressed_or_explained() -> None:
    expressed = [number for number, *_ in FIXED_CALENDARS] + ["E05", "E06"]
    explained = [number for numbers in NOT_EXPRESSED for number in numbers.split()]
    assert sorted(expressed + explained) == [f"E{number:02}" for number in range(1, 43)]
    assert len(expressed) == 20


def test_where_the_longest_interval_is_the_usual_one_a_month_end_is_kept_until_february_only(trade: Any) -> None:
    """E20, its last days of the month, with a longest interval of one month: after 28 February the next month may end
    on 28 March at the latest, three days before the calendar's day. The safe side wins."""
    rule = replace(fixed_calendar_rule(trade, Span(1, "month")), interval=trade.interval(1, 1, 1, "month"))
    rows = rows_of(trade, [date(1997, 12, 31)])
    plan = trade.plan(rows, rule, today=date(1998, 1, 1), days=100)
    assert [task.due for task in plan.tasks] == days("1998-01-31,1998-02-28,1998-03-28")
