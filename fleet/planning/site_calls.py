"""The calls at a site as wholes: how far each may still move, and by which key it is known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleet.planning.keys import KeyBook
from fleet.planning.prerequisites import Prerequisites
from fleet.planning.recurrence import ONE_DAY
from fleet.values.plan import Task, Visit


@dataclass(frozen=True, slots=True)
class SiteCall:
    """One call at a site before it has a technician and an hour. May be made on any open day of `first` to `last`."""

    key: str
    site: str
    crew: str
    day: date
    first: date
    last: date
    tasks: tuple[Task, ...]

    @property
    def minutes(self) -> int:
        return sum(task.minutes for task in self.tasks)


def bounded(calls: Sequence[SiteCall], before: Prerequisites, checklist: Iterable[Task], today: date) -> list[SiteCall]:
    """The calls of one site with first and last days between which each may move without coming before a call that
    brings what it needs, or after what it brings is wanted."""
    at = {task.key: number for number, call in enumerate(calls) for task in call.tasks}
    day_of = {task.key: max(task.due, today) for task in checklist}
    day_of |= {task.key: call.day for call in calls for task in call.tasks}
    first, last = [call.first for call in calls], [call.last for call in calls]
    for number, call in enumerate(calls):
        for task in call.tasks:
            for line in before.lines(task):
                if any(other.key not in day_of for other in line):
                    continue
                later = before.next_after(line, call.day, day_of)
                if later is not None and later.interval_days is not None and call.day <= later.due:
                    last[number] = min(last[number], later.due)
                done = [other for other in line if day_of[other.key] <= call.day]
                if not done or before.in_date(line, done[-1], call.day):
                    continue
                bringing = at.get(done[-1].key)
                if bringing != number:
                    first[number] = call.day
                    if bringing is not None:
                        brought_on = calls[bringing].day
                        last[bringing] = min(last[bringing], max(brought_on, call.day - ONE_DAY))
    return [replace(call, first=first[n], last=last[n]) for n, call in enumerate(calls)]


def with_keys(calls: Sequence[SiteCall], previous: Sequence[Visit], taken: Iterable[str]) -> list[SiteCall]:
    """Gives each call the key of the visit before that it shares most tasks with, else one made from its site, its
    crew and its first task."""
    visit_of = {key: visit for visit in previous for key in visit.tasks}
    overlaps: list[tuple[int, str, int]] = []
    for number, call in enumerate(calls):
        shared = Counter(
            visit_of[task.key].key
            for task in call.tasks
            if task.key in visit_of and visit_of[task.key].site == call.site
        )
        overlaps.extend((-count, key, number) for key, count in shared.items())
    key_of: dict[int, str] = {}
    used: set[str] = set()
    for _, key, number in sorted(overlaps):
        if number not in key_of and key not in used:
            key_of[number] = key
            used.add(key)
    book = KeyBook(taken={*taken, *used, *(visit.key for visit in previous)})
    return [replace(call, key=key_of.get(number) or book.key_for(_text(call))) for number, call in enumerate(calls)]


def _text(call: SiteCall) -> str:
    return f"visit|{call.site}|{call.crew}|{min(task.key for task in call.tasks)}"
