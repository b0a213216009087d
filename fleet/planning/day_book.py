"""What is in the days of the technicians and of the sites, and where a call still fits in."""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleet.planning.staff import Staff, minute_of
from fleet.planning.travel import place, travel_minutes
from fleet.planning.working_order import Workplace
from fleet.values.plan import Task, Visit
from fleet.values.register import Site

END_OF_DAY = 24 * 60


def local_minute(moment: datetime, site: Site) -> int:
    """Minutes since midnight at the site."""
    return minute_of(moment.astimezone(ZoneInfo(site.time_zone)).time())


@dataclass(frozen=True, order=True, slots=True)
class Booked:
    """One visit in a day, in minutes since local midnight."""

    start: int
    end: int
    site: str


@dataclass(frozen=True, slots=True)
class Work:
    """The tasks of one call at a site."""

    site: str
    tasks: tuple[Task, ...]

    @property
    def minutes(self) -> int:
        return sum(task.minutes for task in self.tasks)


@dataclass(frozen=True, slots=True)
class _Bounds:
    """When a call may be at work at its site on a day, for what others do there: from `first` to `last`, and not while
    one of `busy` is at work."""

    first: int
    last: int
    busy: Sequence[Booked]


class _PeoplesDays(dict[tuple[str, date], list[Booked]]):
    """What is booked for each technician and day, in order. Visits that stand come in when their day is asked for: of
    many thousand few ever are."""

    def __init__(self, standing: Mapping[tuple[str, date], Sequence[Visit]], sites: Mapping[str, Site]) -> None:
        super().__init__()
        self._standing, self._sites = standing, sites

    def __missing__(self, person_day: tuple[str, date]) -> list[Booked]:
        booked = sorted(self._booked(visit) for visit in self._standing.get(person_day, ()))
        self[person_day] = booked
        return booked

    def _booked(self, visit: Visit) -> Booked:
        start = local_minute(visit.start, self._sites[visit.site])
        return Booked(start, start + visit.minutes, visit.site)


class DayBook:
    """Nobody is at two places at once, drives in no time, or works through their break. At one site no two are at work
    on the same thing at once, and what others need first is finished before they begin."""

    def __init__(
        self,
        staff: Staff,
        sites: Mapping[str, Site],
        workplace: Workplace,
        standing: Mapping[tuple[str, date], Sequence[Visit]] | None = None,
    ) -> None:
        """`standing` are visits at sites for which nothing else is booked, by technician and day."""
        self._staff, self._sites, self._workplace = staff, sites, workplace
        self._days = _PeoplesDays(standing or {}, sites)
        self._at_site: dict[tuple[str, date], list[tuple[Booked, tuple[Task, ...]]]] = defaultdict(list)
        self._between: dict[tuple[str, str], int] = {}

    def book(self, work: Work, day: date, start: int, people: Iterable[str]) -> None:
        """Writes the call into the day of the site and into those of the people who make it."""
        booked = Booked(start, start + work.minutes, work.site)
        self._at_site[work.site, day].append((booked, work.tasks))
        for code in people:
            insort(self._days[code, day], booked)

    def release(self, work: Work, day: date, start: int, people: Iterable[str]) -> None:
        """Takes a call out again."""
        booked = Booked(start, start + work.minutes, work.site)
        self._at_site[work.site, day].remove((booked, work.tasks))
        for code in people:
            self._days[code, day].remove(booked)

    def minutes_of(self, code: str, day: date) -> int:
        return sum(one.end - one.start for one in self._days[code, day])

    def start_for(self, code: str, work: Work, day: date, wished: int | None = None) -> int | None:
        """The first minute of the day at which the technician can make the call, None where there is none; `wished`
        itself, or None, if given."""
        opens, closes = self._staff.hours(work.site, code)
        bounds = self._bounds(work, day)
        opens, closes = max(opens, bounds.first), min(closes, bounds.last)
        if closes - opens < work.minutes:
            return None
        booked = self._days[code, day]
        for number in range(len(booked) + 1):
            before = booked[number - 1] if number else None
            after = booked[number] if number < len(booked) else None
            begin = opens if before is None else max(opens, before.end + self._travel(before.site, work.site))
            end = closes if after is None else min(closes, after.start - self._travel(work.site, after.site))
            for start in (wished,) if wished is not None else self._starts(code, work, begin, before):
                start = start if wished is not None else _after_others(start, work.minutes, bounds.busy)
                if start < begin or start + work.minutes > end or _at_once(start, work.minutes, bounds.busy):
                    continue
                candidate = Booked(start, start + work.minutes, work.site)
                if self._leaves_break(code, [*booked[:number], candidate, *booked[number:]]):
                    return start
        return None

    def start_for_anybody(self, work: Work, day: date) -> int:
        """The first minute at which somebody who is not on record can be at work on the call; the hour at which the
        site opens where the day holds no such minute."""
        opens, _ = self._staff.hours(work.site, None)
        bounds = self._bounds(work, day)
        start = _after_others(max(opens, bounds.first), work.minutes, bounds.busy)
        return start if start < END_OF_DAY else opens

    def _starts(self, code: str, work: Work, begin: int, before: Booked | None) -> Iterator[int]:
        """As soon as may be, or as soon as may be after the break."""
        yield begin
        minutes, (first, _) = self._staff.lunch(code)
        if minutes:
            free_from = self._staff.shift(code)[0] if before is None else before.end
            drive = 0 if before is None else self._travel(before.site, work.site)
            yield max(begin, max(free_from, first) + minutes, free_from + minutes + drive)

    def _leaves_break(self, code: str, booked: Sequence[Booked]) -> bool:
        """Whether the break of the technician still fits between the visits and the drives of the day."""
        minutes, (first, last) = self._staff.lunch(code)
        if not minutes:
            return True
        begins, ends = self._staff.shift(code)
        free_from, at = begins, ""
        for one in booked:
            drive = self._travel(at, one.site) if at else 0
            if min(one.start, last) - max(free_from, first) >= minutes and one.start - free_from >= minutes + drive:
                return True
            free_from, at = one.end, one.site
        return min(max(ends, free_from), last) - max(free_from, first) >= minutes

    def _bounds(self, work: Work, day: date) -> _Bounds:
        """What the others who are at the site that day leave to a call. Where each needs the other first, neither has
        to wait."""
        first, last, busy = 0, END_OF_DAY, []
        subjects = {task.subject for task in work.tasks}
        for booked, tasks in self._at_site.get((work.site, day), ()):
            needs = self._workplace.any_needed(work.tasks, tasks)
            needed = self._workplace.any_needed(tasks, work.tasks)
            if needs and not needed:
                first = max(first, booked.end)
            elif needed and not needs:
                last = min(last, booked.start)
            elif any(task.subject in subjects for task in tasks):
                busy.append(booked)
        return _Bounds(first, last, sorted(busy))

    def _travel(self, one: str, other: str) -> int:
        if one == other:
            return 0
        if (one, other) not in self._between:
            here, there = self._sites[one], self._sites[other]
            self._between[one, other] = travel_minutes(
                place(here.latitude, here.longitude), place(there.latitude, there.longitude)
            )
        return self._between[one, other]


def _after_others(start: int, minutes: int, busy: Iterable[Booked]) -> int:
    """The first minute from `start` at which so many minutes fall together with none of `busy` (sorted)."""
    for other in busy:
        if start < other.end and other.start < start + minutes:
            start = other.end
    return start


def _at_once(start: int, minutes: int, busy: Iterable[Booked]) -> bool:
    return any(start < other.end and other.start < start + minutes for other in busy)
