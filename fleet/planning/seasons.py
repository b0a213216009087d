"""The seasons of a site, the windows beside them, and the days on which it can be visited.

A season is the site's own: it may wrap the year, there may be several or none. A cold season is known only where
there is exactly one hot season: the same days half a year on, cut back to where they would run into the hot one.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain

from dateutil.relativedelta import relativedelta

from fleet.planning.public_holidays import public_holidays
from fleet.planning.recurrence import ONE_DAY, Window
from fleet.values.catalogue import SeasonWindow
from fleet.values.register import Closure, Site, YearSpan

HOT, COLD = "hot", "cold"
BEFORE, AFTER = "before", "after"
WORKING_WEEK = (0, 1, 2, 3, 4)
"""Monday to Friday: the days on which a site is open that states none."""


@dataclass(frozen=True, slots=True)
class Season:
    """One season of one year. Both days are inside."""

    first: date
    last: date

    def holds(self, day: date) -> bool:
        return self.first <= day <= self.last


def _day_of(year: int, month: int, day: int) -> date:
    """That day of the year; 29 February is the 28th in a common year."""
    return date(year, month, 1) + relativedelta(day=day)


def _of_year(span: YearSpan, year: int) -> Season:
    first = _day_of(year, span.first_month, span.first_day)
    wraps = (span.last_month, span.last_day) < (span.first_month, span.first_day)
    return Season(first, _day_of(year + wraps, span.last_month, span.last_day))


def hot_seasons(site: Site, first: date, last: date) -> tuple[Season, ...]:
    """Every hot season of the site that touches [first, last], oldest first."""
    found = (_of_year(span, year) for span in site.hot_seasons for year in range(first.year - 1, last.year + 1))
    return tuple(sorted((one for one in found if one.last >= first and one.first <= last), key=lambda one: one.first))


def cold_seasons(site: Site, first: date, last: date) -> tuple[Season, ...]:
    """Every cold season that touches [first, last]; none unless the site has exactly one hot season a year."""
    if len(site.hot_seasons) != 1:
        return ()
    found = []
    for year in range(first.year - 2, last.year + 1):
        hot, next_hot = (_of_year(site.hot_seasons[0], one) for one in (year, year + 1))
        cold = Season(
            max(hot.first + relativedelta(months=6), hot.last + ONE_DAY),
            min(hot.last + relativedelta(months=6), next_hot.first - ONE_DAY),
        )
        if cold.first <= cold.last and cold.last >= first and cold.first <= last:
            found.append(cold)
    return tuple(found)


def seasons_of(site: Site, name: str, first: date, last: date) -> tuple[Season, ...]:
    """The seasons called `name` ("hot" or "cold") that touch [first, last]."""
    return (hot_seasons if name == HOT else cold_seasons)(site, first, last)


def window_beside(season: Season, rule: SeasonWindow) -> Window:
    """The window before or after one season. See values.catalogue.SeasonWindow for how the weeks are counted."""
    opens, aim, last = (timedelta(weeks=weeks) for weeks in (rule.weeks_open, rule.weeks_aim, rule.weeks_last))
    if rule.edge == BEFORE:
        return Window(season.first - opens, season.first - aim, season.first - last)
    return Window(season.last, season.last + aim, season.last + last)


class VisitDays:
    """Whether a site can be visited on a day: one of its weekdays, no public holiday of its region, and not closed."""

    def __init__(self, site: Site, closures: Iterable[Closure]) -> None:
        self._weekdays = frozenset(site.visit_days or WORKING_WEEK)
        self._region = site.holiday_region
        self._closures = sorted(closures, key=lambda one: (one.since, one.until or date.max))

    def __contains__(self, day: date) -> bool:
        if day.weekday() not in self._weekdays or day in public_holidays(self._region, day.year):
            return False
        return not any(one.since <= day and (one.until is None or day < one.until) for one in self._closures)

    def why_closed(self, day: date) -> str | None:
        """What keeps a day shut on which the site would be open by its weekday: the reason of the closure, else the
        name of the holiday. None where nothing but the weekday does."""
        if day.weekday() not in self._weekdays:
            return None
        for one in self._closures:
            if one.since <= day and (one.until is None or day < one.until):
                return one.reason or "closed"
        return public_holidays(self._region, day.year).get(day)

    def near(self, day: date, first: date, within_days: int) -> date:
        """The last such day from `first` to `day`, else the first within so many days after it, else `day` itself."""
        back = (day - timedelta(days=ago) for ago in range((day - first).days + 1))
        ahead = (day + timedelta(days=later) for later in range(1, within_days + 1))
        return next((one for one in chain(back, ahead) if one in self), day)


class Days:
    """Some days, in order."""

    def __init__(self, days: Sequence[date]) -> None:
        self.days = days
        self._known = frozenset(days)

    def __contains__(self, day: date) -> bool:
        return day in self._known

    def between(self, first: date, last: date) -> Sequence[date]:
        """The days of [first, last]."""
        return self.days[bisect_left(self.days, first) : bisect_right(self.days, last)]

    def first_from(self, day: date) -> date | None:
        """The first on or after `day`."""
        at = bisect_left(self.days, day)
        return self.days[at] if at < len(self.days) else None

    def last_until(self, day: date) -> date | None:
        """The last on or before `day`."""
        at = bisect_right(self.days, day)
        return self.days[at - 1] if at else None


class OpenDays(Days):
    """The days of [first, last] on which a site can be visited."""

    def __init__(self, site: Site, closures: Iterable[Closure], first: date, last: date) -> None:
        self._visit_days = VisitDays(site, closures)
        every = (first + timedelta(days=ahead) for ahead in range((last - first).days + 1))
        super().__init__([day for day in every if day in self._visit_days])

    def why_closed(self, first: date, last: date) -> list[str]:
        """What keeps the days of [first, last] shut besides the weekday, each once, in order."""
        every = (first + timedelta(days=ahead) for ahead in range((last - first).days + 1))
        reasons = (self._visit_days.why_closed(day) for day in every)
        return list(dict.fromkeys(reason for reason in reasons if reason is not None))
