"""Visits to technicians and clock times: who is able, nearest, and has room that day.

A first, simple pass: each call goes to the nearest able technician with room; what was planned before stays.
"""

from __future__ import annotations

import math
from bisect import insort
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleet.planning.seasons import WORKING_WEEK, OpenDays
from fleet.planning.site_calls import SiteCall
from fleet.values.plan import Visit
from fleet.values.register import Absence, Site, Technician
from fleet.values.vocabulary import Skill

EARTH_RADIUS_KM = 6371.0
DETOUR = 1.3
SPEED_KM_H = 45.0
PARKING_MINUTES = 10.0
SAME_PLACE_KM = 0.05
WORKING_DAY_MINUTES = 420
SITE_OPENS = time(9)
WORK_BEGINS, WORK_ENDS = time(8), time(17)
EVENING_FROM, EVENING_ENDS = time(16), time(22)
"""Where a site is first open late in the day and nobody states an end, a visit ends by 22:00."""
LAST_MINUTE = time(23, 59)
REACH_KM = 300.0
"""No technician is sent to a site farther than this from a known base (common practice: there and back in a day)."""
LICENCES = frozenset({Skill.REFRIGERATION, Skill.ELECTRICIAN})
Place = tuple[float, float]


def great_circle_km(one: Place, other: Place) -> float:
    """Distance over the globe between two (latitude, longitude) in degrees. [km]

    Haversine formula: R. W. Sinnott, Sky and Telescope 68 (1984) 158; mean Earth radius 6371 km (IUGG).
    """
    (lat_1, lon_1), (lat_2, lon_2) = ((math.radians(angle) for angle in place) for place in (one, other))
    half = math.sin((lat_2 - lat_1) / 2) ** 2 + math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(half)))


def travel_minutes(one: Place | None, other: Place | None) -> int:
    """Driving between two sites, with parking; 0 at the same place or where one is unknown."""
    if one is None or other is None:
        return 0
    apart = great_circle_km(one, other)
    return 0 if apart < SAME_PLACE_KM else math.ceil(apart * DETOUR / SPEED_KM_H * 60 + PARKING_MINUTES)


def _place(latitude: float | None, longitude: float | None) -> Place | None:
    return None if latitude is None or longitude is None else (latitude, longitude)


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _hours(site: Site, technician: Technician | None) -> tuple[int, int]:
    """Minutes of the day from which and by which a technician, or anybody, can be at work at the site."""
    begins = technician.work_from if technician is not None else None
    ends = technician.work_to if technician is not None else None
    opens = max(_minutes(site.visit_from or SITE_OPENS), _minutes(begins or WORK_BEGINS))
    usual_end = WORK_ENDS if opens < _minutes(EVENING_FROM) else EVENING_ENDS
    if technician is None and site.visit_to is not None:
        usual_end = LAST_MINUTE
    return opens, min(_minutes(site.visit_to or LAST_MINUTE), _minutes(ends or usual_end))


@dataclass(frozen=True, order=True, slots=True)
class _Booked:
    """One visit in a technician's day, in minutes since local midnight."""

    start: int
    end: int
    site: str


class Crews:
    """The technicians, their days, and what is already in them."""

    def __init__(
        self,
        technicians: Iterable[Technician],
        absences: Iterable[Absence],
        sites: Mapping[str, Site],
        open_days: Mapping[str, OpenDays],
        today: date,
    ) -> None:
        self._technicians = {one.code: one for one in technicians}
        self._sites, self._open_days, self._today = sites, open_days, today
        self._absent: dict[str, list[Absence]] = defaultdict(list)
        for absence in absences:
            self._absent[absence.technician].append(absence)
        self._days: dict[tuple[str, date], list[_Booked]] = defaultdict(list)
        self._at_work: dict[tuple[str, date], list[tuple[_Booked, frozenset[str]]]] = defaultdict(list)
        self._between: dict[tuple[str, str], int] = {}
        self._near: dict[str, list[list[str]]] = {}
        self._longest: dict[tuple[str, frozenset[Skill]], int] = {}
        self._skills_of = {code: _able_to(one) for code, one in self._technicians.items()}

    def longest_call(self, site: str, skills: frozenset[Skill]) -> int:
        """Minutes of work that one call at the site can hold: a working day, or less where the hours of the site and of
        the technicians in reach with those skills leave less."""
        if (site, skills) not in self._longest:
            able = [
                self._technicians[code]
                for group in self._nearest(site)
                for code in group
                if self._covers(code, skills, self._today)
            ]
            hours = [_hours(self._sites[site], technician) for technician in able or (None,)]
            longest = max(closes - opens for opens, closes in hours)
            self._longest[site, skills] = min(WORKING_DAY_MINUTES, longest) if longest > 0 else WORKING_DAY_MINUTES
        return self._longest[site, skills]

    def assign(self, calls: Sequence[SiteCall], previous: Mapping[str, Visit]) -> list[Visit]:
        """A visit for every call, sorted by day, site and key. One that nobody is able or free to make has no
        technician."""
        made: dict[str, Visit] = {}
        ordered = sorted(calls, key=lambda call: (call.day, call.site, call.key))
        called_on = {(call.site, call.crew, call.day) for call in calls}
        for call in ordered:
            before = previous.get(call.key)
            if before is not None and before.technician is not None and before.day == call.day:
                visit = self._again(call, before)
                if visit is not None:
                    made[call.key] = visit
        waiting = [call for call in ordered if call.key not in made]
        while waiting:  # again where a call that left its day lets another have that
            placed = {}
            for call in waiting:
                visit = self._place_anew(call, called_on)
                if visit is not None:
                    placed[call.key] = visit
                    called_on.add((call.site, call.crew, visit.day))
            if not placed:
                break
            made |= placed
            left = any(made[call.key].day != call.day for call in waiting if call.key in placed)
            waiting = [call for call in waiting if call.key not in placed]
            if not left:
                break
            called_on = {(call.site, call.crew, made[call.key].day if call.key in made else call.day) for call in calls}
        made |= {call.key: self._unmanned(call) for call in waiting}
        return sorted(made.values(), key=lambda visit: (visit.day, visit.site, visit.key))

    def _again(self, call: SiteCall, before: Visit) -> Visit | None:
        technician = self._technicians.get(before.technician or "")
        if technician is None or not self._able(technician.code, _skills(call), call.day):
            return None
        zone = ZoneInfo(self._sites[call.site].time_zone)
        wished = before.start.astimezone(zone)
        start = self._room_for(technician, call, call.day, wished.hour * 60 + wished.minute)
        return None if start is None else self._book(call, call.day, technician, start)

    def _place_anew(self, call: SiteCall, called_on: Collection[tuple[str, str, date]]) -> Visit | None:
        """On its own day, else on the nearest other day that suits it and has no such call at the site yet. None where
        nobody is able and free."""
        within = self._open_days[call.site].between(max(call.first, self._today), call.last)
        others = (day for day in within if (call.site, call.crew, day) not in called_on)
        days = sorted({call.day, *others}, key=lambda day: (day != call.day, abs((day - call.day).days), day))
        for day in days:
            for technician in self._by_preference(call, day):
                start = self._room_for(technician, call, day)
                if start is not None:
                    return self._book(call, day, technician, start)
        return None

    def _unmanned(self, call: SiteCall) -> Visit:
        """On its own day with no technician, at an hour when nobody is at work on the same things."""
        opens = start = _minutes(self._sites[call.site].visit_from or SITE_OPENS)
        for other in self._in_hands(call, call.day):
            if start < other.end and other.start < start + call.minutes:
                start = other.end
        if start > _minutes(LAST_MINUTE):
            start = opens
        self._take(call, call.day, start)
        return self._visit(call, call.day, None, start)

    def _take(self, call: SiteCall, day: date, start: int) -> _Booked:
        booked = _Booked(start, start + call.minutes, call.site)
        self._at_work[call.site, day].append((booked, _subjects(call)))
        return booked

    def _by_preference(self, call: SiteCall, day: date) -> Iterator[Technician]:
        """Able technicians, the nearest base first, then the one with fewest minutes that day."""
        skills = _skills(call)

        def minutes(code: str) -> int:
            return sum(one.end - one.start for one in self._days.get((code, day), ()))

        for group in self._nearest(call.site):
            able = [code for code in group if self._able(code, skills, day)]
            for _, code in sorted((minutes(code), code) for code in able):
                yield self._technicians[code]

    def _nearest(self, site_code: str) -> list[list[str]]:
        """Technicians in reach of the site, in groups of the same distance, the nearest first. Where a place is not
        known, the distance is not either, and they come last."""
        if site_code not in self._near:
            site = self._sites[site_code]
            here = _place(site.latitude, site.longitude)
            groups: dict[float, list[str]] = defaultdict(list)
            for code, technician in self._technicians.items():
                base = _place(technician.base_latitude, technician.base_longitude)
                apart = great_circle_km(here, base) if here is not None and base is not None else math.inf
                if apart <= REACH_KM or apart == math.inf:
                    groups[apart].append(code)
            self._near[site_code] = [groups[apart] for apart in sorted(groups)]
        return self._near[site_code]

    def _able(self, code: str, skills: frozenset[Skill], day: date) -> bool:
        """Has the skills, an unexpired licence where one is asked for, and works that day."""
        if day.weekday() not in (self._technicians[code].work_days or WORKING_WEEK):
            return False
        if not self._covers(code, skills, day):
            return False
        absences = self._absent.get(code, ())
        return not any(one.since <= day and (one.until is None or day < one.until) for one in absences)

    def _covers(self, code: str, skills: frozenset[Skill], day: date) -> bool:
        """The licences stand beside the ladder, and count while they are valid."""
        if not skills <= self._skills_of[code]:
            return False
        until = self._technicians[code].licence_until
        return until is None or day <= until or skills.isdisjoint(LICENCES)

    def _room_for(self, technician: Technician, call: SiteCall, day: date, wished: int | None = None) -> int | None:
        """The first minute of the day at which the call fits between the others, and nobody else is at work on the same
        things; `wished` itself, or none, if given."""
        site = self._sites[call.site]
        opens, closes = _hours(site, technician)
        booked = self._days.get((technician.code, day), [])
        in_hands = self._in_hands(call, day)
        minutes = call.minutes
        earliest = opens if wished is None else wished
        for number in range(len(booked) + 1):
            start = earliest
            if number:
                start = max(start, booked[number - 1].end + self._travel(booked[number - 1].site, call.site))
            for other in in_hands:
                if start < other.end and other.start < start + minutes:
                    start = other.end
            end = start + minutes
            fits = end <= closes and start >= opens
            if number < len(booked):
                fits = fits and end + self._travel(call.site, booked[number].site) <= booked[number].start
            if fits and (wished is None or start == wished):
                return start
        return None

    def _in_hands(self, call: SiteCall, day: date) -> list[_Booked]:
        """When others are at work that day on something that the call is about, in order."""
        there = self._at_work.get((call.site, day))
        if not there:
            return []
        about = _subjects(call)
        return sorted(booked for booked, subjects in there if not about.isdisjoint(subjects))

    def _travel(self, one: str, other: str) -> int:
        if one == other:
            return 0
        if (one, other) not in self._between:
            here, there = self._sites[one], self._sites[other]
            self._between[one, other] = travel_minutes(
                _place(here.latitude, here.longitude), _place(there.latitude, there.longitude)
            )
        return self._between[one, other]

    def _book(self, call: SiteCall, day: date, technician: Technician, start: int) -> Visit:
        insort(self._days[technician.code, day], self._take(call, day, start))
        return self._visit(call, day, technician.code, start)

    def _visit(self, call: SiteCall, day: date, technician: str | None, start: int) -> Visit:
        zone = ZoneInfo(self._sites[call.site].time_zone)
        begins = datetime.combine(day, time(start // 60, start % 60), zone).astimezone(UTC)
        ends = begins + timedelta(minutes=call.minutes)
        keys = tuple(task.key for task in call.tasks)
        return Visit(call.key, call.site, technician, begins, ends, call.minutes, keys, day)


def _skills(call: SiteCall) -> frozenset[Skill]:
    return frozenset(task.skill for task in call.tasks)


def _subjects(call: SiteCall) -> frozenset[str]:
    return frozenset(task.subject for task in call.tasks)


def _able_to(technician: Technician) -> frozenset[Skill]:
    """Every skill that a technician may be asked for; one of no stated skill counts as a keeper."""
    skills = frozenset(technician.skills or (Skill.KEEPER,))
    return skills | {Skill.KEEPER} if Skill.TECHNICIAN in skills else skills
