"""How days, spans, margins and states are written for people, in English whatever the machine's locale is."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleet.units import Display
from fleet.values.assessment import HoursToLimit
from fleet.values.catalogue import Interval
from fleet.values.register import ALWAYS
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Reaches, Scenario, TaskState

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEKDAYS_IN_FULL = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

LATE = (TaskState.LATE, TaskState.PAST_LIMIT)
CLOSED = (TaskState.DONE, TaskState.NOT_APPLICABLE, TaskState.WITHDRAWN)
"""States of a task that asks for nothing any more."""

STATE_ORDER = (
    MarginState.TRIPS,
    MarginState.SHORT,
    MarginState.THIN,
    MarginState.UNKNOWN,
    MarginState.OK,
    MarginState.AMPLE,
    MarginState.RIDES,
    MarginState.NONE_NEEDED,
)
"""Margin states, the most urgent first."""

WANTING = STATE_ORDER[:4]
"""States that ask somebody to look."""

STATE_MEANING = {
    MarginState.TRIPS: "a device would switch itself off at the worst hour, or runs outside the range it is rated for",
    MarginState.SHORT: "by its low estimate the cooling does not hold the target at the worst hour, "
    "or there is none and the peak leaves the watch band",
    MarginState.THIN: "less than 15 % to spare",
    MarginState.UNKNOWN: "the record does not say enough to judge",
    MarginState.OK: "15 % to 50 % to spare",
    MarginState.AMPLE: "more than 50 % to spare",
    MarginState.RIDES: "without cooling the peak stays inside the watch band",
    MarginState.NONE_NEEDED: "no heat has to be removed",
}

LARGE_SHARE = 9.995
NOTHING_LEFT = -0.995

SCENARIO_WORDS = {Scenario.HOT_DAY: "hot day", Scenario.AC_OFF: "room A/C off"}

NOT_A_CERTIFICATE = (
    "Estimates for planning, not engineering certificates. The maker's plate, local codes and licensed practice "
    "come first; electrical and refrigerant work is for licensed people."
)
DEFERENCE = "Follow the maker's plate, local codes and licensed practice; they come first."


def plain(word: str) -> str:
    """A vocabulary word as people write it: "past-limit" becomes "past limit"."""
    return word.replace("-", " ")


def capital(text: str) -> str:
    """The text with its first letter in upper case; the rest is left alone."""
    return text[:1].upper() + text[1:]


def day_words(day: date) -> str:
    """Wed 20 May 2026."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def long_day(day: date) -> str:
    """Wednesday 20 May 2026."""
    return f"{WEEKDAYS_IN_FULL[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def short_day(day: date) -> str:
    """20 May 2026."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def near_day(day: date, today: date) -> str:
    """Wed 20 May in the year of `today`, with its year in any other."""
    words = day_words(day)
    return words.removesuffix(f" {day.year}") if day.year == today.year else words


def clock(moment: datetime, zone: ZoneInfo) -> str:
    """09:30 on the clocks of `zone`."""
    return f"{moment.astimezone(zone):%H:%M}"


def since_words(day: date) -> str:
    """The day, or "the first record" for a fact without a first day."""
    return "the first record" if day == ALWAYS else short_day(day)


def minutes_words(minutes: int) -> str:
    """45 min, 2 h, 2 h 30 min."""
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h" if rest == 0 else f"{hours} h {rest} min"


def count_words(count: int, one: str, many: str | None = None) -> str:
    """1 task, 3 tasks."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def percent(share: float | None) -> str:
    """A share as whole per cent with a true minus sign; "-" where there is none. From ten times on the figure says
    only that it is large."""
    if share is None:
        return "-"
    if share >= LARGE_SHARE:
        return "over 999 %"
    # So near to nothing that the side it lies on matters more than the figure.
    digits = 1 if 0.0 < abs(share) < 0.005 else 0
    return f"{share * 100:.{digits}f} %".replace("-", "\N{MINUS SIGN}")


def margin_words(margin: Spread | None) -> str:
    """The margin that decides, on the safe side, and beside it the likely one: −4 % (12 % likely)."""
    if margin is None:
        return "-"
    if percent(margin.low) == percent(margin.mid):
        return percent(margin.low)
    return f"{percent(margin.low)} ({percent(margin.mid)} likely)"


_CELSIUS = re.compile(r"(?<![\d.])(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? °C")


def in_display_units(text: str, display: Display) -> str:
    """A sentence of the model or the planner, which speak in °C, with its temperatures in the client's own unit."""

    def written(found: re.Match[str]) -> str:
        shown = [display.temperature(float(figure)) for figure in found.groups() if figure is not None]
        return " to ".join(shown)

    return _CELSIUS.sub(written, text)


def basis_words(basis: str, source: str) -> str:
    """What a rule rests on, with its source, which often begins with the same words."""
    if not source or source.casefold().startswith(basis.casefold()):
        return source or basis
    return f"{basis}; {source}"


def spare_words(margin: float | None) -> str:
    """The margin that is left when the largest device fails."""
    return "nothing left" if margin is not None and margin <= NOTHING_LEFT else percent(margin)


def duration_words(hours: float) -> str:
    """A length of time to the precision that an estimate bears: 40 min, 2.4 h, 30 h, 4.5 days."""
    if hours <= 0:
        return "0 h"
    if hours < 1:
        return f"{max(1, round(hours * 60))} min"
    if hours < 10:
        return f"{hours:.1f} h"
    if hours < 48:
        return f"{hours:.0f} h"
    days = hours / 24
    return f"{days:.1f} days" if days < 10 else f"{days:.0f} days"


def hours_words(hours: HoursToLimit | None) -> str:
    """How long until a limit is passed, soonest first, for a card."""
    if hours is None:
        return "does not apply"
    if hours.reaches_limit is Reaches.NO:
        return "does not reach the limit"
    if hours.reaches_limit is Reaches.UNKNOWN or hours.low is None:
        return "not known"
    if hours.low <= 0:
        return "already at or past the limit"
    soonest = duration_words(hours.low)
    if hours.mid is None:
        return f"{soonest} at the soonest, perhaps never"
    if hours.high is None:
        return f"about {duration_words(hours.mid)} ({soonest} at the soonest, perhaps never)"
    return f"about {duration_words(hours.mid)} ({soonest} to {duration_words(hours.high)})"


def soonest_words(hours: HoursToLimit | None) -> str:
    """The soonest time to a limit in a few characters, for a table."""
    if hours is None:
        return "-"
    if hours.reaches_limit is Reaches.NO:
        return "never"
    if hours.reaches_limit is Reaches.UNKNOWN or hours.low is None:
        return "not known"
    return "past" if hours.low <= 0 else duration_words(hours.low)


def span_of_days(days: float) -> str:
    """An interval in the largest unit that fits: 9 days, 4 weeks, 13 months."""
    if days < 14:
        return count_words(max(1, round(days)), "day")
    if days < 60:
        return f"{round(days / 7)} weeks"
    return f"{round(days / 30.4375)} months"


def usual_interval(interval: Interval | None) -> str:
    """every 4 weeks, or an empty text without an interval."""
    if interval is None:
        return ""
    usual = interval.typical
    return f"every {usual.unit if usual.count == 1 else usual}"


def how_often(interval: Interval | None) -> str:
    """every 4 weeks (1 to 8 weeks), or an empty text without an interval."""
    if interval is None:
        return ""
    low, high = interval.minimum, interval.maximum
    if low.unit == high.unit:
        return f"{usual_interval(interval)} ({low.count} to {high})"
    return f"{usual_interval(interval)} ({low} to {high})"


def monday_of(day: date) -> date:
    """The Monday of the day's week."""
    return day - timedelta(days=day.weekday())
