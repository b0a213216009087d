"""Intervals on the calendar: when work is due next, how early and how late it may be done.

Tolerance classes (common practice), as shares of the interval:

====  ==========================================  ===========  ==========
A0    law, standard or life safety                any time     not at all
A     livestock or shock safety                   30 %         10 %
B     protects equipment                          30 %         20 %
C     economy                                     50 %         33 %
S     a window beside a season                    as given     as given
====  ==========================================  ===========  ==========

Except for A0 the next due day counts from the day the work was done; an A0 due day stays on its calendar.
Lateness never passes the longest interval since the work was last done.
"""

from __future__ import annotations

import math
from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.values.catalogue import Interval, Span
from fleet.values.vocabulary import TaskState, Tolerance

EARLY_SHARE = {Tolerance.A0: 1.0, Tolerance.A: 0.30, Tolerance.B: 0.30, Tolerance.C: 0.50, Tolerance.S: 0.0}
LATE_SHARE = {Tolerance.A0: 0.0, Tolerance.A: 0.10, Tolerance.B: 0.20, Tolerance.C: 0.33, Tolerance.S: 0.0}
ONE_DAY = timedelta(days=1)


def add_span(day: date, span: Span, times: int = 1) -> date:
    """The day `times` spans after `day`; hours count as whole days, rounded down.

    Months are counted from `day` itself: three times one month after 31 January is 30 April, and a day that a
    month lacks becomes its last.
    """
    count = span.count * times
    if span.unit == "month":
        return _add_months(day, count)
    whole_days = {"week": count * 7, "day": count, "hour": count // 24}[span.unit]
    return day + timedelta(days=whole_days)


def _add_months(day: date, count: int) -> date:
    """What dateutil's relativedelta gives, many times quicker: five years of a fleet ask for it a million times."""
    years, month = divmod(day.month - 1 + count, 12)
    year = day.year + years
    return date(year, month + 1, day.day if day.day < 29 else min(day.day, monthrange(year, month + 1)[1]))


def next_after(day: date, span: Span) -> date:
    """The due day one interval after work was done on `day`; never the same day."""
    return max(add_span(day, span), day + ONE_DAY)


def applied_interval(interval: Interval, multipliers: Iterable[float]) -> Span:
    """The usual interval moved by its factors, never outside the shortest and the longest.

    What falls between whole days is counted down, to the safe side.
    """
    multiplier = math.prod(multipliers)
    if multiplier == 1.0:
        return interval.typical
    days = interval.typical.days * multiplier
    if days <= interval.minimum.days:
        return interval.minimum
    if days >= interval.maximum.days:
        return interval.maximum
    return Span(max(1, math.floor(days)), "day")


@dataclass(frozen=True, slots=True)
class Window:
    """First day allowed, day aimed at, last day allowed; all inside."""

    earliest: date
    due: date
    latest: date


def tolerance_window(
    tolerance: Tolerance, due: date, length_days: float, *, after: date | None = None, limit: date | None = None
) -> Window:
    """The window of work due on `due` with an interval of `length_days`.

    It opens after `after` (the occurrence before it) and closes by `limit`; `due` is brought inside both.
    """
    first_free = None if after is None else after + ONE_DAY
    if limit is not None:
        due = min(due, limit)
    if first_free is not None:
        due = max(due, first_free)
    earliest = due - timedelta(days=math.floor(EARLY_SHARE[tolerance] * length_days))
    if first_free is not None:
        earliest = first_free if tolerance is Tolerance.A0 else max(earliest, first_free)
    latest = due + timedelta(days=math.floor(LATE_SHARE[tolerance] * length_days))
    if limit is not None:
        latest = max(due, min(latest, limit))
    return Window(earliest, due, latest)


class FixedCalendar:
    """Due days at whole intervals from the first completion. Each completion uses up the due day it stands for.

    A late completion uses up the due days that it was late for, and the coming one too where it lies nearer to that;
    one more than a whole interval early stands for none.
    """

    def __init__(self, first_done: date, span: Span) -> None:
        self._first_done, self._span = first_done, span
        self._step = 1

    def _day(self, step: int) -> date:
        return max(add_span(self._first_done, self._span, step), self._first_done + step * ONE_DAY)

    @property
    def next_due(self) -> date:
        return self._day(self._step)

    def use_up(self, done_on: date) -> None:
        """Counts one completion after the first."""
        if self._step > 1 and done_on <= self._day(self._step - 1):
            return
        was_late = self.next_due < done_on
        self._step += 1
        while self.next_due <= done_on:
            self._step += 1
        if was_late and self.next_due - done_on < done_on - self._day(self._step - 1):
            self._step += 1


def state_on(today: date, window: Window) -> TaskState:
    """Where work with this window stands today."""
    if today > window.latest:
        return TaskState.PAST_LIMIT
    if today > window.due:
        return TaskState.LATE
    if today == window.due:
        return TaskState.DUE
    return TaskState.OPEN if today >= window.earliest else TaskState.UPCOMING
