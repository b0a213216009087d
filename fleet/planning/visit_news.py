"""Which visits came, moved or went since the plan before, and what news is behind each.

A visit was possible where the plan before had it. So whatever makes it impossible there now is news, and the first
such thing is the reason: the day has passed, the site is shut, the work has another window, the people are away.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from fleet.planning.seasons import VisitDays
from fleet.planning.staff import Staff, minute_of
from fleet.planning.words import WEEKDAYS, day_words, inside_a_sentence, listed
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, PlanChange, PlanChanges, Task, Visit
from fleet.values.register import Closure

MOST_TITLES = 2


class VisitNews:
    """Compares the visits of a plan with those of the `previous` one. Those that are `standing` are in neither."""

    def __init__(
        self,
        previous: Plan | None,
        tasks: Sequence[Task],
        visits: Sequence[Visit],
        standing: Sequence[Visit],
        fleet: Fleet,
        today: date,
    ) -> None:
        self.previous, self.visits, self.today = previous, visits, today
        self.tasks = {task.key: task for task in tasks}
        self.sites = fleet.site_by_code
        self.staff = Staff(fleet.technicians, fleet.absences, self.sites, {}, today)
        self._closures: dict[str, list[Closure]] = defaultdict(list)
        for closure in fleet.closures:
            self._closures[closure.site].append(closure)
        self._others = (visits, standing)

    def changes(self, why_gone: Mapping[str, str]) -> PlanChanges:
        """The visits that are new, moved or gone; none without a plan before. `why_gone` has the reasons of the tasks
        that were dropped, by key."""
        if self.previous is None:
            return PlanChanges()
        before, now = self.previous.visit_by_key, {visit.key: visit for visit in self.visits}
        added = [_change(visit, self._why_added(visit)) for visit in self.visits if visit.key not in before]
        moved = [
            _change(visit, self._why_moved(visit, before[visit.key]))
            for visit in self.visits
            if visit.key in before and _place(visit) != _place(before[visit.key])
        ]
        holding = {key: visit for visit in self.visits for key in visit.tasks}
        dropped = [
            _change(visit, self._why_dropped(visit, holding, why_gone))
            for visit in sorted(before.values(), key=lambda visit: (visit.start, visit.site, visit.key))
            if visit.key not in now
        ]
        return PlanChanges(tuple(added), tuple(moved), tuple(dropped))

    def _why_added(self, visit: Visit) -> str:
        if self.previous is not None and visit.day > self.previous.through:
            return f"on {day_words(visit.day)}, which comes within the days planned"
        return f"on {day_words(visit.day)} for {self._titles(visit.tasks)}"

    def _why_dropped(self, visit: Visit, holding: Mapping[str, Visit], why_gone: Mapping[str, str]) -> str:
        was = f"was on {day_words(visit.day)}"
        homes = sorted({(home.day, home.key) for key in visit.tasks if (home := holding.get(key)) is not None})
        if homes:
            return f"{was}; its work is done on {listed(f'{day_words(day)} ({key})' for day, key in homes)}"
        if any(key in self.tasks for key in visit.tasks):
            return f"{was}; no visit can hold its work now"
        reasons = list(dict.fromkeys(why_gone[key] for key in visit.tasks if key in why_gone))
        return f"{was}; none of its work is left" + (f": {listed(reasons[:MOST_TITLES])}" if reasons else "")

    def _why_moved(self, visit: Visit, before: Visit) -> str:
        name = self._name
        if visit.day != before.day:
            told = f"moved from {day_words(before.day)} to {day_words(visit.day)}"
        elif visit.technician != before.technician:
            told = f"now made by {name(visit.technician)} instead of {name(before.technician)}"
        elif visit.start != before.start:
            told = f"another hour on {day_words(visit.day)}"
        elif visit.second_technician is not None:
            return f"{name(visit.second_technician)} comes as the second"
        else:
            return f"{name(before.second_technician)} cannot come as the second"
        return f"{told}: {next(self._reasons(visit, before))}"

    def _reasons(self, visit: Visit, before: Visit) -> Iterator[str]:
        """What stands against the place that the visit had, the first thing first."""
        day, today = before.day, self.today
        if day < today:
            yield "it was not reported done on its day"
        yield from self._shut(visit.site, day)
        for task in self._tasks(visit):
            if not task.earliest <= day <= task.latest and task.latest >= today:
                window = f"from {day_words(task.earliest)} to {day_words(task.latest)}"
                yield f"{task.title} on {task.subject} may now be done {window}"
        yield from self._people(visit, before)
        new = [task.key for task in self._tasks(visit) if task.key not in before.tasks]
        if new:
            yield f"it now holds {self._titles(new)} as well"
        yield from self._in_the_way(visit, before)
        if visit.minutes > before.minutes:
            yield f"its work takes {visit.minutes} min now instead of {before.minutes}"
        yield "to stay in order with work that comes before or after it"

    def _shut(self, site: str, day: date) -> Iterator[str]:
        days = VisitDays(self.sites[site], self._closures.get(site, ()))
        if day in days:
            return
        named = days.why_closed(day)
        if named is not None:
            yield f"{site} is closed on {day_words(day)} ({named})"
        else:
            yield f"{site} is not visited on {WEEKDAYS[day.weekday()]}"

    def _people(self, visit: Visit, before: Visit) -> Iterator[str]:
        staff, code, day = self.staff, before.technician, before.day
        if code is None:
            yield f"{self._name(visit.technician)} can make it"
            return
        if code not in staff.by_code:
            yield f"{code} is no longer on record"
            return
        name, absence = self._name(code), staff.absence_on(code, day)
        if absence is not None:
            until = "" if absence.until is None else f" until {day_words(absence.until)}"
            yield f"{name} is away{until}" + (f" ({absence.reason})" if absence.reason else "")
        elif not staff.at_work(code, day):
            yield f"{name} does not work on {WEEKDAYS[day.weekday()]}"
        skills = frozenset(task.skill for task in self._tasks(visit))
        lacking = sorted(skill for skill in skills if not staff.has(code, (skill,)))
        if lacking:
            yield f"{name} has not the skill {lacking[0]}"
        elif not staff.is_licensed(code, skills, day):
            ends = staff.by_code[code].licence_until
            yield f"the licence of {name} ends" + (f" on {day_words(ends)}" if ends is not None else "")
        if code not in staff.in_reach(visit.site):
            yield f"{name} is too far away"
        opens, closes = staff.hours(visit.site, code)
        begins = minute_of(before.start.astimezone(ZoneInfo(self.sites[visit.site].time_zone)).time())
        if not opens <= begins <= closes - visit.minutes:
            yield f"the hours of {visit.site} or of {name} no longer hold it"

    def _in_the_way(self, visit: Visit, before: Visit) -> Iterator[str]:
        """Another visit of the same technician, or at the same site, that takes the hour it had."""
        others = (other for visits in self._others for other in visits if other.day == before.day)
        for other in sorted(others, key=lambda one: (one.site, one.key)):
            meets = other.start < before.end and before.start < other.end
            same = before.technician in (other.technician, other.second_technician) or other.site == visit.site
            if other.key != visit.key and meets and same:
                yield f"the visit {other.key} at {other.site} takes its hour"

    def _tasks(self, visit: Visit) -> list[Task]:
        return [self.tasks[key] for key in visit.tasks if key in self.tasks]

    def _titles(self, keys: Sequence[str]) -> str:
        titles = [
            f"{inside_a_sentence(self.tasks[key].title)} on {self.tasks[key].subject}"
            for key in keys
            if key in self.tasks
        ]
        more = len(titles) - MOST_TITLES
        return listed([*titles[:MOST_TITLES], *([f"{more} more"] if more > 0 else [])])

    def _name(self, code: str | None) -> str:
        return _name(self.staff, code)


def _name(staff: Staff, code: str | None) -> str:
    if code is None:
        return "nobody"
    return staff.by_code[code].name if code in staff.by_code else code


def _change(visit: Visit, reason: str) -> PlanChange:
    return PlanChange(visit.key, f"visit at {visit.site}", reason)


def _place(visit: Visit) -> tuple[object, ...]:
    return visit.start, visit.technician, visit.second_technician
