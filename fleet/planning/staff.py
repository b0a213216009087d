"""The technicians: what each may do, when each is at work, how far each goes, and when a break is due."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, time

from fleet.planning.seasons import WORKING_WEEK, Days
from fleet.planning.travel import great_circle_km, place
from fleet.values.register import Absence, Site, Technician
from fleet.values.vocabulary import Skill

WORKING_DAY_MINUTES = 420
SITE_OPENS = time(9)
WORK_BEGINS, WORK_ENDS = time(8), time(17)
EVENING_FROM, EVENING_ENDS = time(16), time(22)
"""Where a site is first open late in the day and nobody states an end, a visit ends by 22:00."""
LAST_MINUTE = time(23, 59)
REACH_KM = 300.0
"""No technician is sent to a site farther than this from a known base (common practice: there and back in a day)."""
LICENCES = frozenset({Skill.REFRIGERATION, Skill.ELECTRICIAN})
BREAK_AFTER_SHARE = 0.25
"""A stated break is taken between the first and the last quarter of the hours at work (common practice)."""

Span = tuple[int, int]
"""Two minutes of one day."""


def minute_of(at: time) -> int:
    return at.hour * 60 + at.minute


class Staff:
    """The technicians of a fleet and their days. `open_days` are those of each site, from `today` on."""

    def __init__(
        self,
        technicians: Iterable[Technician],
        absences: Iterable[Absence],
        sites: Mapping[str, Site],
        open_days: Mapping[str, Days],
        today: date,
    ) -> None:
        self.by_code = {one.code: one for one in technicians}
        self._sites, self._open_days, self._today = sites, open_days, today
        self._absent: dict[str, list[Absence]] = defaultdict(list)
        for absence in absences:
            self._absent[absence.technician].append(absence)
        self._skills_of = {code: _able_to(one) for code, one in self.by_code.items()}
        self._near: dict[str, list[list[str]]] = {}
        self._teams: dict[tuple[str, frozenset[Skill], int], tuple[str, ...]] = {}
        self._someone: dict[tuple[tuple[str, ...], frozenset[Skill]], dict[date, bool]] = {}
        self._days: dict[tuple[str, frozenset[Skill], int], Days] = {}
        self._longest: dict[tuple[str, frozenset[Skill]], int] = {}

    def nearest(self, site_code: str) -> list[list[str]]:
        """Technicians in reach of the site, in groups of the same distance, the nearest first. Where a place is not
        known, the distance is not either, and they come last."""
        if site_code not in self._near:
            site = self._sites[site_code]
            here = place(site.latitude, site.longitude)
            groups: dict[float, list[str]] = defaultdict(list)
            for code, technician in self.by_code.items():
                base = place(technician.base_latitude, technician.base_longitude)
                apart = great_circle_km(here, base) if here is not None and base is not None else math.inf
                if apart <= REACH_KM or apart == math.inf:
                    groups[apart].append(code)
            self._near[site_code] = [sorted(groups[apart]) for apart in sorted(groups)]
        return self._near[site_code]

    def in_reach(self, site: str) -> list[str]:
        return [code for group in self.nearest(site) for code in group]

    def at_work(self, code: str, day: date) -> bool:
        """Whether it is a working day of theirs and no absence holds."""
        if day.weekday() not in (self.by_code[code].work_days or WORKING_WEEK):
            return False
        return self.absence_on(code, day) is None

    def absence_on(self, code: str, day: date) -> Absence | None:
        absences = self._absent.get(code, ())
        return next((one for one in absences if one.since <= day and (one.until is None or day < one.until)), None)

    def has(self, code: str, skills: Collection[Skill]) -> bool:
        """Whether they have the skills, licences in date or not. The licences stand beside the ladder."""
        return self._skills_of[code].issuperset(skills)

    def is_licensed(self, code: str, skills: frozenset[Skill], day: date) -> bool:
        """Whether the licence that the skills ask for, if any, is in date."""
        until = self.by_code[code].licence_until
        return until is None or day <= until or skills.isdisjoint(LICENCES)

    def able(self, code: str, skills: frozenset[Skill], day: date) -> bool:
        """Has the skills, an unexpired licence where one is asked for, and works that day."""
        return self.has(code, skills) and self.is_licensed(code, skills, day) and self.at_work(code, day)

    def hours(self, site_code: str, code: str | None) -> Span:
        """Minutes of the day from which and by which a technician, or anybody, can be at work at the site."""
        site, technician = self._sites[site_code], self.by_code.get(code or "")
        begins = technician.work_from if technician is not None else None
        ends = technician.work_to if technician is not None else None
        opens = max(minute_of(site.visit_from or SITE_OPENS), minute_of(begins or WORK_BEGINS))
        usual_end = WORK_ENDS if opens < minute_of(EVENING_FROM) else EVENING_ENDS
        if technician is None and site.visit_to is not None:
            usual_end = LAST_MINUTE
        return opens, min(minute_of(site.visit_to or LAST_MINUTE), minute_of(ends or usual_end))

    def shift(self, code: str) -> Span:
        """Minutes of the day at which a technician begins and ends work."""
        technician = self.by_code[code]
        return minute_of(technician.work_from or WORK_BEGINS), minute_of(technician.work_to or WORK_ENDS)

    def lunch(self, code: str) -> tuple[int, Span]:
        """Minutes of the break that a technician states, and the minutes of the day between which it is taken; no
        break where their hours leave no room for one."""
        minutes = self.by_code[code].lunch_minutes or 0
        begins, ends = self.shift(code)
        quarter = int((ends - begins) * BREAK_AFTER_SHARE)
        within = (begins + quarter, ends - quarter)
        return (minutes if 0 < minutes <= within[1] - within[0] else 0), within

    def longest(self, site: str, code: str) -> int:
        """Minutes of work that a day of theirs at the site holds in one piece, beside the break."""
        opens, closes = self.hours(site, code)
        minutes, (first, last) = self.lunch(code)
        if not minutes:
            return closes - opens
        return max(min(closes, last - minutes) - opens, closes - max(opens, first + minutes))

    def team(self, site: str, skills: frozenset[Skill], minutes: int) -> tuple[str, ...]:
        """Who in reach of the site has the skills and hours enough there for so many minutes in one piece."""
        key = (site, skills, minutes)
        if key not in self._teams:
            self._teams[key] = tuple(
                code for code in self.in_reach(site) if self.has(code, skills) and self.longest(site, code) >= minutes
            )
        return self._teams[key]

    def days_for(self, site: str, skills: frozenset[Skill], minutes: int = 0) -> Days:
        """The open days of the site on which somebody could do work of so many minutes if the day were empty; every
        open day where there are no technicians."""
        if not self.by_code:
            return self._open_days[site]
        key = (site, skills, minutes)
        if key not in self._days:
            team = self.team(site, skills, minutes)
            known = self._someone.setdefault((team, skills), {})
            days = []
            for day in self._open_days[site].days:
                if day not in known:
                    known[day] = any(self.able(code, skills, day) for code in team)
                if known[day]:
                    days.append(day)
            self._days[key] = Days(days)
        return self._days[key]

    def longest_call(self, site: str, skills: frozenset[Skill]) -> int:
        """Minutes of work that one call at the site can hold: a working day, or less where the hours of the site and of
        the technicians in reach with those skills leave less."""
        if (site, skills) not in self._longest:
            able = [code for code in self.team(site, skills, 0) if self.is_licensed(code, skills, self._today)]
            opens, closes = self.hours(site, None)
            longest = max((self.longest(site, code) for code in able), default=closes - opens)
            self._longest[site, skills] = min(WORKING_DAY_MINUTES, longest) if longest > 0 else WORKING_DAY_MINUTES
        return self._longest[site, skills]


def _able_to(technician: Technician) -> frozenset[Skill]:
    """Every skill that a technician may be asked for; one of no stated skill counts as a keeper."""
    skills = frozenset(technician.skills or (Skill.KEEPER,))
    return skills | {Skill.KEEPER} if Skill.TECHNICIAN in skills else skills
