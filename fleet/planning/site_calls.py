"""The calls at a site as wholes, and the keys by which they are known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleet.planning.keys import KeyBook
from fleet.planning.prerequisites import Prerequisites
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


def bounded(calls: Sequence[SiteCall], prerequisites: Prerequisites, on_list: Mapping[str, date]) -> list[SiteCall]:
    """The calls of one site, each with days between which it may move and all stay in order. `on_list` are the days of
    the site staff's work."""
    call_of = {task.key: number for number, call in enumerate(calls) for task in call.tasks}
    day_of = {**on_list, **{task.key: call.day for call in calls for task in call.tasks}}
    first, last = prerequisites.limits((task for call in calls for task in call.tasks), day_of, call_of)
    return [
        replace(
            call,
            first=max([call.first, *(first[task.key] for task in call.tasks if task.key in first)]),
            last=min([call.last, *(last[task.key] for task in call.tasks if task.key in last)]),
        )
        for call in calls
    ]


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
