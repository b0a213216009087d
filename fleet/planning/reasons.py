"""Why no visit holds a task: of all that could stand in its way, the first that does.

The order is from the plain to the subtle: nobody could come on any day, nobody has the skill, whoever has it is too far
away, not at work, or no longer licensed; the hours are too short; everybody who could is busy.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fleet.planning.seasons import OpenDays
from fleet.planning.staff import REACH_KM, SITE_OPENS, Staff, minute_of
from fleet.planning.travel import great_circle_km, place
from fleet.planning.words import day_words, inside_a_sentence, listed
from fleet.values.plan import Task, Unplaced
from fleet.values.register import Site

MOST_NAMES = 3
"""So many people or closures are told by name."""


class Reasons:
    """Explains for the sites of one plan."""

    def __init__(self, staff: Staff, sites: Mapping[str, Site], open_days: Mapping[str, OpenDays]) -> None:
        self._staff, self._sites, self._open_days = staff, sites, open_days

    def why(self, task: Task, site: str, first: date, last: date) -> Unplaced:
        """Why nobody can do the task on a day of [first, last], its window from today on."""
        days = self._open_days[site].between(first, last)
        if not days:
            return _unplaced(task, "NO_OPEN_DAY", self._closed(site, first, last))
        code, words = self._people(task, site, days, _from_to(first, last))
        return _unplaced(task, code, words)

    def _closed(self, site: str, first: date, last: date) -> str:
        open_days = self._open_days[site]
        words = f"{site} has no open day from {day_words(first)} to {day_words(last)}"
        if last <= first:
            words = f"{site} is not open on {day_words(first)}"
        named = open_days.why_closed(first, last)
        if named:
            words += f" ({_some(named)})"
        following = open_days.first_from(max(first, last))
        return words + (f"; the next is {day_words(following)}" if following is not None else "")

    def _people(self, task: Task, site: str, days: Sequence[date], when: str) -> tuple[str, str]:
        staff, skills = self._staff, frozenset({task.skill})
        if not any(staff.at_work(code, day) for code in staff.by_code for day in days):
            return "NO_SHIFT_IN_WINDOW", f"no technician is at work {when}{self._away(staff.by_code, days)}"
        skilled = [code for code in sorted(staff.by_code) if staff.has(code, skills)]
        if not skilled:
            return "SKILL_MISSING", f"no technician on record has the skill {task.skill}"
        near = [code for code in staff.in_reach(site) if code in skilled]
        if not near:
            return "TOO_FAR", self._distance(task, site, skilled)
        there = [code for code in near if any(staff.at_work(code, day) for day in days)]
        if not there:
            have, none = ("has", "is not") if len(near) == 1 else ("have", "none of them is")
            words = f"{self._names(near)} {have} the skill {task.skill}, but {none} at work {when}"
            return "SKILL_ABSENT_IN_WINDOW", words + self._away(near, days)
        able = [code for code in there if any(staff.able(code, skills, day) for day in days)]
        if not able:
            ends = max(until for code in there if (until := staff.by_code[code].licence_until) is not None)
            words = f"the licence of {self._names(there)} ends on {day_words(ends)}, before anybody could come"
            return "LICENCE_ENDS", words
        return self._hours(task, site, able, len(days), when)

    def _hours(self, task: Task, site: str, able: Sequence[str], days: int, when: str) -> tuple[str, str]:
        row, work = self._sites[site], f"it takes {task.minutes} min in one piece"
        if (
            row.visit_to is not None
            and minute_of(row.visit_to) - minute_of(row.visit_from or SITE_OPENS) < task.minutes
        ):
            opens = row.visit_from or SITE_OPENS
            return "TOO_LONG_FOR_HOURS", f"{work}, and {site} is open from {opens:%H:%M} to {row.visit_to:%H:%M}"
        longest = max(self._staff.longest(site, code) for code in able)
        if longest < task.minutes:
            names = self._names(able)
            words = f"{work}, and {names} can be at work at {site} for {longest} min at most"
            if longest <= 0:
                words = f"the hours of {names} and those of {site} have nothing in common"
            return "TOO_LONG_FOR_SHIFT", words
        could = (
            f"{self._names(able)} could do it, but {'has' if len(able) == 1 else 'have'} no room for {task.minutes} min"
        )
        open_days = "the one open day" if days == 1 else f"any of the {days} open days"
        return "CAPACITY", f"{could} on {open_days} {when}"

    def _distance(self, task: Task, site: str, skilled: Sequence[str]) -> str:
        here = place(self._sites[site].latitude, self._sites[site].longitude)
        bases = {
            code: place(row.base_latitude, row.base_longitude)
            for code in skilled
            if (row := self._staff.by_code[code]) is not None
        }
        apart = {
            code: great_circle_km(here, base) for code, base in bases.items() if here is not None and base is not None
        }
        nearest = min(apart, key=lambda code: (apart[code], code))
        return (
            f"{self._names([nearest])}, the nearest with the skill {task.skill}, is {apart[nearest]:.0f} km away; "
            f"nobody is sent farther than {REACH_KM:.0f} km"
        )

    def _away(self, codes: Sequence[str] | Mapping[str, object], days: Sequence[date]) -> str:
        """Who of a few is on leave, and until when."""
        told = []
        for code in sorted(codes):
            absence = next((one for day in days if (one := self._staff.absence_on(code, day)) is not None), None)
            if absence is not None:
                until = "for good" if absence.until is None else f"until {day_words(absence.until)}"
                told.append(f"{self._names([code])} is away {until}")
        return f" ({_some(told)})" if told else ""

    def _names(self, codes: Sequence[str]) -> str:
        return _some([self._staff.by_code[code].name for code in codes])


def _unplaced(task: Task, reason: str, words: str) -> Unplaced:
    return Unplaced(task.key, reason, f"{task.title} on {task.subject}: {words}.")


def needs_first(task: Task, other: Task, why: Unplaced) -> Unplaced:
    """Why a task is in no visit whose prerequisite is in none."""
    clause = why.text.partition(": ")[2].rstrip(".")
    first = f"{inside_a_sentence(other.title)} on {other.subject} ({other.key})"
    return _unplaced(task, "PREREQUISITE_UNPLACED", f"it needs {first} first, which itself is in no visit: {clause}")


def _from_to(first: date, last: date) -> str:
    return f"on {day_words(first)}" if last <= first else f"from {day_words(first)} to {day_words(last)}"


def _some(words: Sequence[str]) -> str:
    more = len(words) - MOST_NAMES
    return listed([*words[:MOST_NAMES], *([f"{more} more"] if more > 0 else [])])
