"""The calendar entries of a plan, each with those whom it concerns.

Visits are timed entries. A visitor's task that no visit holds is an all-day entry on its due day. What a site's own
people do is one entry a week, not one for each task. All texts may be read by the client of the site: access notes stay
on the service sheet.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from fleet.outputs.calendar import Entry
from fleet.outputs.lookup import Lookup
from fleet.outputs.names import digest, uid
from fleet.outputs.words import CLOSED, count_words, minutes_words, monday_of, plain, short_day
from fleet.values.plan import Plan, Revision, Task, Visit
from fleet.values.vocabulary import PerformedBy


@dataclass(frozen=True, slots=True)
class Filed:
    """An entry with those whom it concerns."""

    entry: Entry
    site: str | None
    technicians: tuple[str, ...] = ()
    tanks: frozenset[str] = frozenset()
    checklist: bool = False


class EntryMaker:
    """Turns the tasks and visits of one plan into entries.

    `revisions` hold counts and stamps by key; a key without one counts as unchanged since the start of the plan's day.
    An entry is stamped with the latest revision of anything that it tells of.
    """

    def __init__(self, plan: Plan, lookup: Lookup, revisions: Mapping[str, Revision]) -> None:
        self.plan, self.lookup, self.revisions = plan, lookup, revisions
        self.start_of_day = datetime.combine(plan.today, time(), UTC)

    def filed(self, cancelled: Iterable[Visit] = ()) -> Iterator[Filed]:
        """Visits, those cancelled at short notice, open tasks of visitors without a visit, the weekly checklists."""
        for visit in self.plan.visits:
            yield self._filed_visit(visit, self._visit(visit))
        for visit in cancelled:
            if visit.key not in self.plan.visit_by_key:
                yield self._filed_visit(visit, self._cancelled(visit))
        checklist = defaultdict(list)
        for task in self.plan.tasks:
            if task.state in CLOSED or task.visit in self.plan.visit_by_key:
                continue
            if task.performed_by is PerformedBy.VISITOR:
                yield Filed(self._task(task), task.site, tanks=_tanks([task]))
            elif task.site is not None:
                checklist[task.site].append(task)
        for site, tasks in sorted(checklist.items()):
            yield from self._checklist(site, tasks)

    def _revision(self, key: str) -> Revision:
        return self.revisions.get(key) or Revision(key, 0, self.start_of_day, self.start_of_day)

    def _place(self, site: str | None) -> tuple[str, str]:
        """Name and location line of a site."""
        row = self.lookup.fleet.site_by_code.get(site or "")
        if row is None:
            return "no site", ""
        return row.name, f"{row.name}, {row.address}" if row.address else row.name

    def _tasks(self, visit: Visit) -> list[Task]:
        return [self.plan.task_by_key[key] for key in visit.tasks if key in self.plan.task_by_key]

    def _filed_visit(self, visit: Visit, entry: Entry) -> Filed:
        people = tuple(code for code in (visit.technician, visit.second_technician) if code is not None)
        return Filed(entry, visit.site, people, _tanks(self._tasks(visit)))

    def _visit(self, visit: Visit) -> Entry:
        name, location = self._place(visit.site)
        revision = self._revision(visit.key)
        tasks = self._tasks(visit)
        lines = [
            f"{count_words(len(visit.tasks), 'task')}, {minutes_words(visit.minutes)}. "
            f"By {self.lookup.people(visit)}. Visit {visit.key}.",
            "",
            *(f"{task.title}: {self.lookup.label(task.subject)}, {task.key}" for task in tasks),
            "",
            "The service sheet of the visit holds steps, readings and cautions.",
        ]
        return Entry(
            uid=uid("visit", visit.key),
            start=visit.start,
            end=visit.end,
            summary=f"Tank visit: {name}" if visit.technician else f"Tank visit, no technician yet: {name}",
            description="\n".join(lines),
            location=location,
            categories=("Visit",),
            busy=False,
            tentative=visit.technician is None,
            sequence=revision.sequence,
            created_at=revision.created_at,
            modified_at=max([revision.modified_at, *(self._revision(task.key).modified_at for task in tasks)]),
        )

    def _cancelled(self, visit: Visit) -> Entry:
        name, location = self._place(visit.site)
        revision = self._revision(visit.key)
        return Entry(
            uid=uid("visit", visit.key),
            start=visit.start,
            end=visit.end,
            summary=f"Tank visit: {name}",
            description=f"This visit is cancelled: nobody comes at this hour. Visit {visit.key}.",
            location=location,
            categories=("Visit",),
            busy=False,
            tentative=False,
            sequence=revision.sequence,
            created_at=revision.created_at,
            modified_at=revision.modified_at,
            cancelled=True,
        )

    def _task(self, task: Task) -> Entry:
        name, location = self._place(task.site)
        revision = self._revision(task.key)
        lines = [
            f"{plain(task.state).capitalize()}. From {short_day(task.earliest)} to {short_day(task.latest)}.",
            f"At {name}. {minutes_words(task.minutes)}, {count_words(task.persons, 'person', 'persons')}, "
            f"skill: {task.skill}. Task {task.key}.",
            f"Why: {task.cause.text}",
        ]
        return Entry(
            uid=uid("task", task.key),
            start=task.due,
            end=task.due + timedelta(days=1),
            summary=f"{task.title}: {self.lookup.label(task.subject)}",
            description="\n".join(lines),
            location=location,
            categories=("Task", plain(task.skill).capitalize()),
            busy=False,
            tentative=False,
            sequence=revision.sequence,
            created_at=revision.created_at,
            modified_at=revision.modified_at,
        )

    def _checklist(self, site: str, tasks: Sequence[Task]) -> Iterator[Filed]:
        """One entry for each week in which something falls due; what is late falls in the week of the plan's day.

        A week's entry never moves, so its SEQUENCE stays 0. It is stamped with the latest change of any task on the
        site's list, since a task may have left the week.
        """
        name, location = self._place(site)
        revisions = [self._revision(task.key) for task in tasks]
        weeks: defaultdict[date, list[Task]] = defaultdict(list)
        for task in tasks:
            weeks[monday_of(max(task.due, self.plan.today))].append(task)
        for monday, of_week in sorted(weeks.items()):
            in_order = sorted(of_week, key=lambda task: (task.due, task.title, task.subject, task.key))
            lines = [
                f"{count_words(len(in_order), 'item')} for the people at {name}.",
                "",
                *(f"{short_day(task.due)}: {task.title}, {self.lookup.label(task.subject)}" for task in in_order),
            ]
            entry = Entry(
                uid=uid("checklist", digest(site, monday.isoformat())),
                start=monday,
                end=monday + timedelta(days=7),
                summary=f"Tank checklist of the week: {count_words(len(in_order), 'item')}, {name}",
                description="\n".join(lines),
                location=location,
                categories=("Checklist",),
                busy=False,
                tentative=False,
                sequence=0,
                created_at=min(revision.created_at for revision in revisions),
                modified_at=max(revision.modified_at for revision in revisions),
            )
            yield Filed(entry, site, tanks=_tanks(of_week), checklist=True)


def _tanks(tasks: Iterable[Task]) -> frozenset[str]:
    return frozenset(task.tank for task in tasks if task.tank is not None)
