"""The calls at a site as wholes, and the keys by which they are known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleet.planning.day_book import Work
from fleet.planning.keys import KeyBook
from fleet.planning.prerequisites import Prerequisites
from fleet.values.plan import Task, Visit
from fleet.values.vocabulary import Skill


@dataclass(frozen=True, slots=True)
class SiteCall:
    """One call at one site before it has a technician and an hour. `spans` are the first and the last day on which
    each of the tasks, in working order, may be done."""

    key: str
    site: str
    crew: str
    day: date
    tasks: tuple[Task, ...]
    spans: tuple[tuple[date, date], ...]

    @property
    def first(self) -> date:
        return max(first for first, _ in self.spans)

    @property
    def last(self) -> date:
        return min(last for _, last in self.spans)

    @property
    def work(self) -> Work:
        return Work(self.site, self.tasks)

    @property
    def skills(self) -> frozenset[Skill]:
        return frozenset(task.skill for task in self.tasks)

    @property
    def persons(self) -> int:
        return max(task.persons for task in self.tasks)

    def of(self, keys: Collection[str]) -> SiteCall:
        """The call with those of its tasks alone; at least one of them must be."""
        kept = [(task, span) for task, span in zip(self.tasks, self.spans, strict=True) if task.key in keys]
        return replace(self, tasks=tuple(task for task, _ in kept), spans=tuple(span for _, span in kept))


def bounded(calls: Sequence[SiteCall], prerequisites: Prerequisites, other_days: Mapping[str, date]) -> list[SiteCall]:
    """The calls of one site, each with days between which it may move and all stay in order. `other_days` are those of
    work that is in none of the calls."""
    call_of = {task.key: number for number, call in enumerate(calls) for task in call.tasks}
    day_of = {**other_days, **{task.key: call.day for call in calls for task in call.tasks}}
    first, last = prerequisites.limits((task for call in calls for task in call.tasks), day_of, call_of)
    return [
        replace(
            call,
            spans=tuple(
                (max(begin, first.get(task.key, begin)), min(end, last.get(task.key, end)))
                for task, (begin, end) in zip(call.tasks, call.spans, strict=True)
            ),
        )
        for call in calls
    ]


class CallKeys:
    """Keys for the calls of one plan, no two alike. `previous` are the visits of the plan before; `taken` and `besides`
    are keys that stand for something else."""

    def __init__(self, previous: Sequence[Visit], taken: Iterable[str], besides: Container[str] = frozenset()) -> None:
        self._book = KeyBook(taken=[*taken, *(visit.key for visit in previous)], besides=besides)
        self._visit_of = {key: visit for visit in previous for key in visit.tasks}
        self._handed: set[str] = set()

    def for_calls(self, calls: Sequence[SiteCall]) -> list[SiteCall]:
        """Gives each call the key of the visit before that it shares most tasks with, else a new one."""
        overlaps = [
            (-count, key, number) for number, call in enumerate(calls) for key, count in self._shared(call).items()
        ]
        key_of: dict[int, str] = {}
        for _, key, number in sorted(overlaps):
            if number not in key_of and key not in self._handed:
                key_of[number] = key
                self._handed.add(key)
        return [replace(call, key=key_of.get(number) or self._new(call)) for number, call in enumerate(calls)]

    def for_part(self, part: SiteCall) -> SiteCall:
        """The same for what was cut out of a call that has a key already."""
        before = self.visit_before(part)
        key = self._new(part) if before is None else before.key
        self._handed.add(key)
        return replace(part, key=key)

    def visit_before(self, part: SiteCall) -> Visit | None:
        """The visit before that it shares most tasks with and whose key is still free."""
        shared = self._shared(part)
        free = {visit.key: visit for task in part.tasks if (visit := self._visit_of.get(task.key)) is not None}
        found = [key for key in shared if key not in self._handed]
        return free[min(found, key=lambda one: (-shared[one], one))] if found else None

    def _shared(self, call: SiteCall) -> Counter[str]:
        found = (self._visit_of.get(task.key) for task in call.tasks)
        return Counter(visit.key for visit in found if visit is not None and visit.site == call.site)

    def _new(self, call: SiteCall) -> str:
        """A key made from the site of the call, its crew and its first task; each time another."""
        text = f"visit|{call.site}|{call.crew}|{min(task.key for task in call.tasks)}"
        while (key := self._book.key_for(text)) in self._handed:
            text += "|next"
        self._handed.add(key)
        return key
