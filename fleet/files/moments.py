"""The forms of cells that hold days, times of day, days of the week, instants and time zones."""

from __future__ import annotations

import re
import zoneinfo
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache

from fleet.files.cells import Units, nearest, split_list

_DAY = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ]00:00(?::00)?)?", re.ASCII)
FIRST_YEAR, LAST_YEAR = 1900, 2200


@dataclass(frozen=True)
class Day:
    """A calendar day, ISO 8601."""

    def read(self, text: str) -> date:
        return _day(text)

    def write(self, value: date, units: Units = None) -> str:
        return value.isoformat()


@lru_cache(maxsize=65_536)
def _day(text: str) -> date:
    expected = "a day as YYYY-MM-DD, such as 2026-07-01"
    if (parts := _DAY.fullmatch(text)) is None:
        raise ValueError(expected)
    try:
        day = date.fromisoformat(parts[1])
    except ValueError:
        raise ValueError(f"a day that exists, {expected.partition(', ')[2]}") from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError(f"a day of the years {FIRST_YEAR} to {LAST_YEAR}, {expected.partition(', ')[2]}")
    return day


_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::00(?:\.0+)?)?", re.ASCII)


@dataclass(frozen=True)
class Clock:
    """A time of day on the wall, to the minute."""

    def read(self, text: str) -> time:
        parts = _CLOCK.fullmatch(text)
        if parts is None or int(parts[1]) > 23 or int(parts[2]) > 59:
            raise ValueError("a time of day as HH:MM, such as 08:30")
        return time(int(parts[1]), int(parts[2]))

    def write(self, value: time, units: Units = None) -> str:
        return value.isoformat("minutes")


_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_FULL_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_DAY_NAMES = {name: number for number, full in enumerate(_FULL_NAMES) for name in (full[:3], full)}


@dataclass(frozen=True)
class Weekdays:
    """Days of the week, Monday 0: "Mon-Fri", "Mon;Wed", "Sat-Mon"."""

    def read(self, text: str) -> tuple[int, ...]:
        days: set[int] = set()
        for part in split_list(text.replace("–", "-").replace(",", ";")):
            ends = [_DAY_NAMES.get(name.strip().casefold()) for name in part.split("-")]
            first, last = ends[0], ends[-1]
            if len(ends) > 2 or first is None or last is None:
                raise ValueError("days of the week, such as Mon-Fri or Mon;Wed")
            days.update((first + step) % 7 for step in range((last - first) % 7 + 1))
        return tuple(sorted(days))

    def write(self, value: tuple[int, ...], units: Units = None) -> str:
        runs: list[list[int]] = []
        for day in value:
            if runs and runs[-1][-1] == day - 1:
                runs[-1].append(day)
            else:
                runs.append([day])
        parts: list[str] = []
        for run in runs:
            names = [_WEEKDAYS[day] for day in run]
            parts += [f"{names[0]}-{names[-1]}"] if len(run) > 2 else names
        return ";".join(parts)


_MONTH_DAY = re.compile(r"(?:\d{4}-)?(\d{2})-(\d{2})(?:[T ]00:00(?::00)?)?", re.ASCII)
_LEAP_FREE_YEAR = 2023


@dataclass(frozen=True)
class MonthDays:
    """Days that come back every year, as MM-DD, separated by `;`; a spreadsheet may have made a whole date of one."""

    def read(self, text: str) -> tuple[tuple[int, int], ...]:
        days = []
        for part in (part.strip() for part in text.split(";")):
            match = _MONTH_DAY.fullmatch(part)
            try:
                day = date(_LEAP_FREE_YEAR, int(match[1]), int(match[2])) if match else None
            except ValueError:
                day = None
            if day is None:
                raise ValueError("a day of every year as MM-DD, such as 05-15; several with ;")
            days.append((day.month, day.day))
        return tuple(days)

    def write(self, value: tuple[tuple[int, int], ...], units: Units = None) -> str:
        return ";".join(f"{month:02d}-{day:02d}" for month, day in value)


@lru_cache(maxsize=1)
def _zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


@lru_cache(maxsize=1024)
def _nearest_zone(text: str) -> str:
    return nearest(text, sorted(_zones()))


@dataclass(frozen=True)
class Zone:
    """Name of an IANA time zone."""

    def read(self, text: str) -> str:
        if text not in _zones():
            raise ValueError(f"an IANA time zone, such as America/New_York{_nearest_zone(text)}")
        return text

    def write(self, value: str, units: Units = None) -> str:
        return value


_INSTANT = re.compile(
    r"(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)\s?(Z|[+-]\d{2}:?\d{2})?", re.ASCII
)
INSTANT_EXPECTED = "a date and time, such as 2026-07-01T08:00 (local to the site) or 2026-07-01T08:00-04:00"


@dataclass(frozen=True)
class Instant:
    """A date and time: aware with an offset, naive without one (then it is local to the site)."""

    def read(self, text: str) -> datetime:
        parts = _INSTANT.fullmatch(text)
        if parts is None:
            raise ValueError(INSTANT_EXPECTED)
        try:
            instant = datetime.fromisoformat(f"{parts[1]}T{parts[2]}{parts[3] or ''}")
        except ValueError:
            raise ValueError(INSTANT_EXPECTED) from None
        if not FIRST_YEAR <= instant.year <= LAST_YEAR:
            raise ValueError(f"a date of the years {FIRST_YEAR} to {LAST_YEAR}, {INSTANT_EXPECTED.partition(', ')[2]}")
        return instant if instant.tzinfo is None else instant.astimezone(UTC)

    def write(self, value: datetime, units: Units = None) -> str:
        return value.isoformat()
