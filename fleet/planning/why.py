"""Why a task of a plan is done on its day, in its visit and by its people, and what it needs first.

Everything is read from the plan and the facts; nothing is told that would not be true if the plan were made by hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from fleet.planning.prerequisites import Line, Prerequisites
from fleet.planning.seasons import VisitDays
from fleet.planning.staff import LICENCES, Staff
from fleet.planning.subjects import Subjects
from fleet.planning.travel import great_circle_km, place
from fleet.planning.visits import NOT_TO_BE_PLACED
from fleet.planning.words import WEEKDAYS, day_words, inside_a_sentence
from fleet.planning.working_order import Workplace
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Needed, Placement, Plan, Task, Visit
from fleet.values.vocabulary import PerformedBy


def placement(task: Task, plan: Plan, fleet: Fleet, catalogue: Catalogue) -> Placement:
    """Explains one task of the plan, which was made from this fleet and catalogue."""
    return _Explained(task, plan, fleet, catalogue).placement()


class _Explained:
    def __init__(self, task: Task, plan: Plan, fleet: Fleet, catalogue: Catalogue) -> None:
        self.task, self.plan, self.fleet, self.rules = task, plan, fleet, catalogue.rule_by_id
        self.visit = plan.visit_by_key.get(task.visit or "")
        self.unplaced = next((one for one in plan.unplaced if one.key == task.key), None)

    def placement(self) -> Placement:
        day = self._day_of(self.task)
        needs = tuple(self._needs(day or max(self.task.earliest, self.plan.today)))
        if self.visit is None:
            return Placement(day, needs=needs, unplaced=self.unplaced)
        return Placement(
            self.visit.day,
            tuple(self._why_day(self.visit, needs)),
            tuple(self._who(self.visit)),
            needs,
        )

    def _day_of(self, task: Task) -> date | None:
        if task.performed_by is PerformedBy.SITE_STAFF:
            return max(task.due, self.plan.today)
        visit = self.plan.visit_by_key.get(task.visit or "")
        return None if visit is None else visit.day

    def _why_day(self, visit: Visit, needs: Sequence[Needed]) -> Iterator[str]:
        task, day, today = self.task, visit.day, self.plan.today
        if task.latest < today:
            yield "past its limit: wanted on the first day on which somebody can come"
            return
        closed = self._closed(task.due)
        if closed is not None and day != task.due:
            yield closed
        yield _beside_due(day, task.due)
        others = [self.plan.task_by_key[key] for key in visit.tasks if key != task.key]
        binding = [other for other in others if other.latest >= today]
        if binding:
            first = max(today, *(one.earliest for one in (task, *binding)))
            closing = min((task, *binding), key=lambda one: (one.latest, one.key))
            words = f"all {len(others) + 1} tasks of the visit can be done from {day_words(first)}"
            if closing.key != task.key:
                words += f" to {day_words(closing.latest)}, the limit of {_name(closing)}"
            else:
                words += f" to {day_words(closing.latest)}, its own limit"
            if first <= day <= closing.latest:
                yield words
        for one in needs:
            if one.how == "comes first" and one.visit != visit.key and one.day is not None:
                words = f"{inside_a_sentence(one.title)} on {one.subject} ({one.key})"
                yield f"not before {words}, done on {day_words(one.day)}"

    def _closed(self, day: date) -> str | None:
        site = self.fleet.site_by_code.get(self.task.site or "")
        if site is None:
            return None
        days = VisitDays(site, [one for one in self.fleet.closures if one.site == site.code])
        if day in days:
            return None
        named = days.why_closed(day)
        if named is not None:
            return f"{site.code} is closed on its due day, {day_words(day)} ({named})"
        return f"{site.code} is not visited on {WEEKDAYS[day.weekday()]}"

    def _who(self, visit: Visit) -> Iterator[str]:
        people = self.fleet.technician_by_code
        if visit.technician not in people:
            yield "nobody is named, as no technician is on record" if not people else "nobody is named"
            return
        technician, site = people[visit.technician or ""], self.fleet.site_by_code[visit.site]
        yield f"{technician.name} has the skill {self.task.skill} and is at work that day"
        if self.task.skill in LICENCES and technician.licence_until is not None:
            yield f"licensed until {day_words(technician.licence_until)}"
        base = place(technician.base_latitude, technician.base_longitude)
        here = place(site.latitude, site.longitude)
        if base is not None and here is not None:
            apart = great_circle_km(base, here)
            yield (f"based {apart:.0f} km away" if apart >= 1 else "based there") + self._nearer(visit, technician.code)
        if visit.persons > 1:
            second = people.get(visit.second_technician or "")
            yield (
                f"{second.name} comes as the second"
                if second is not None
                else f"it takes {visit.persons} people, and a second has yet to be found"
            )

    def _nearer(self, visit: Visit, code: str) -> str:
        """Whether anybody nearer could do the whole visit on that day."""
        fleet = self.fleet
        staff = Staff(fleet.technicians, fleet.absences, fleet.site_by_code, {}, self.plan.today)
        skills = frozenset(self.plan.task_by_key[key].skill for key in visit.tasks)
        for group in staff.nearest(visit.site):
            if code in group:
                return ", nobody able that day is nearer"
            if any(staff.able(one, skills, visit.day) for one in group):
                return ""
        return ""

    def _needs(self, day: date) -> Iterator[Needed]:
        rule = self.rules.get(self.task.rule)
        if rule is None or not rule.prerequisites:
            return
        workplace = Workplace(self.rules, Subjects(self.fleet).by_code, self.fleet.tank_by_code)
        of_site = [one for one in self.plan.tasks if one.site == self.task.site and one.state not in NOT_TO_BE_PLACED]
        before = Prerequisites(of_site, workplace)
        lines: dict[str, list[Line]] = {}
        for line in before.lines(self.task):
            lines.setdefault(line[0].rule, []).append(line)
        for name in rule.prerequisites:
            for line in sorted(lines.get(name, ()), key=lambda line: line[0].subject):
                yield self._of_line(line, before, day)
            if name not in lines and name in self.rules:
                yield self._of_history(name)

    def _of_line(self, line: Line, before: Prerequisites, day: date) -> Needed:
        days = [(one, self._day_of(one)) for one in line]
        done = [(one, on) for one, on in days if on is not None and on <= day]
        first = line[0]
        if done:
            one, on = done[-1]
            return Needed(one.rule, one.title, one.subject, "comes first", one.key, one.visit, on, first.follows)
        until = before.in_date_until(line, first)
        if until >= day:
            return Needed(
                first.rule, first.title, first.subject, "in date", first.key, None, None, first.follows, until
            )
        later = next(((one, on) for one, on in days if on is not None), None)
        if later is not None and days[0][1] is not None:
            one, on = later
            return Needed(one.rule, one.title, one.subject, "comes later", one.key, one.visit, on, first.follows)
        return Needed(first.rule, first.title, first.subject, "in no visit", first.key, done_on=first.follows)

    def _of_history(self, name: str) -> Needed:
        """No occurrence of it falls into the plan: it was done, and comes up again later, or was never recorded."""
        task = self.task
        concerned = {task.subject, task.tank, task.device}
        nearby = {one.code for one in self.fleet.equipment if self.fleet.site_of(one.code) == task.site}
        rows = [row for row in self.fleet.history if row.task == name and row.subject in concerned | nearby]
        title = self.rules[name].title
        if not rows:
            return Needed(name, title, None, "never recorded")
        last = max(rows, key=lambda row: (row.done_on, row.subject))
        return Needed(name, title, last.subject, "in date", done_on=last.done_on)


def _name(task: Task) -> str:
    return f"{inside_a_sentence(task.title)} on {task.subject} ({task.key})"


def _beside_due(day: date, due: date) -> str:
    apart = (day - due).days
    if apart == 0:
        return "its due day"
    days = "a day" if abs(apart) == 1 else f"{abs(apart)} days"
    return f"{days} {'after' if apart > 0 else 'before'} its due day, {day_words(due)}"
