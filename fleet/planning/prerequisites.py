"""Work that needs other work first, on the calls of one site.

A prerequisite is in date on a day when it was done before, or is planned before, and its next due day has not passed.
A task whose prerequisite is not in date waits for the call that brings it, as long as its own window allows. Where it
cannot wait, the prerequisite is brought forward into its call, or on the site staff's list to its day; not sooner after
the time before than the shortest interval of that. What neither can be helped stays where it is.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleet.planning.bundling import Item
from fleet.planning.recurrence import ONE_DAY, Window, state_on
from fleet.planning.seasons import Days
from fleet.planning.working_order import Workplace
from fleet.values.plan import Task
from fleet.values.vocabulary import TaskState

Line = Sequence[Task]
"""The occurrences of one rule on one subject, in order of their due days."""


class Prerequisites:
    """Which tasks of one site come before which, and which of them are wanted on a day."""

    def __init__(self, tasks: Iterable[Task], workplace: Workplace) -> None:
        self._workplace = workplace
        lines: dict[tuple[str, str], list[Task]] = defaultdict(list)
        for task in tasks:
            lines[task.rule, task.subject].append(task)
        self._at_tank: dict[tuple[str, str | None], list[Line]] = defaultdict(list)
        self._on_subject: dict[tuple[str, str], Line] = {}
        for (rule, subject), line in sorted(lines.items()):
            line.sort(key=lambda task: (task.due, task.key))
            self._on_subject[rule, subject] = line
            self._at_tank[rule, line[0].tank].append(line)

    def lines(self, task: Task) -> Iterator[Line]:
        """The lines of work that come before the task's."""
        rule = self._workplace.rules.get(task.rule)
        if rule is None or not rule.prerequisites:
            return
        for name in rule.prerequisites:
            found = [*self._at_tank.get((name, task.tank), ()), *self._at_tank.get((name, None), ())]
            if (name, task.subject) in self._on_subject:
                found.append(self._on_subject[name, task.subject])
            for line in {line[0].subject: line for line in found}.values():
                if self._workplace.needs_first(task, line[0]):
                    yield line

    def next_after(self, line: Line, day: date, day_of: Mapping[str, date]) -> Task | None:
        """The first of the line that is planned later than on `day`; None where none is, or one has no day."""
        if any(task.key not in day_of for task in line):
            return None
        return next((task for task in line if day_of[task.key] > day), None)

    def in_date_until(self, line: Line, at: Task) -> date:
        """The last day on which the work of the line counts as done, if its next occurrence is `at`. What was never
        done counts from the day on which its subject was new."""
        if at.interval_days is None:
            return at.earliest - ONE_DAY
        if at is not line[0] or at.follows is not None:
            return at.due
        begun = self._begun(at)
        return date.min if begun is None else begun + timedelta(days=at.interval_days)

    def limits(
        self, tasks: Iterable[Task], day_of: Mapping[str, date], call_of: Mapping[str, object]
    ) -> tuple[dict[str, date], dict[str, date]]:
        """The days before which, and those after which, some of the tasks may not be moved, so that all stay in order
        whatever moves: a task stays behind the call that brings what it needs, that call before it, and it moves no
        later than what it needs is in date. Tasks of one call, by `call_of`, are no limit to each other."""
        first: dict[str, date] = {}
        last: dict[str, date] = {}
        for task in tasks:
            day = day_of[task.key]
            for line in self.lines(task):
                if any(other.key not in day_of for other in line):
                    continue
                done = [other for other in line if day_of[other.key] <= day]
                if len(done) < len(line):
                    until = self.in_date_until(line, line[len(done)])
                    if until >= day:
                        last[task.key] = min(last.get(task.key, until), until)
                if not done or self.in_date_until(line, done[-1]) >= day:
                    continue
                bringing = done[-1].key
                if call_of.get(bringing, bringing) != call_of[task.key]:
                    first[task.key] = day
                    until = max(day_of[bringing], day - ONE_DAY)
                    last[bringing] = min(last.get(bringing, until), until)
        return first, last

    def soonest(self, task: Task, today: date) -> date | None:
        """The first day on which work that comes back may be done again; None for work that does not."""
        rule = self._workplace.rules.get(task.rule)
        if rule is None or rule.interval is None or task.interval_days is None:
            return None
        shortest = rule.interval.minimum.days
        if task.follows is None and task is self._on_subject[task.rule, task.subject][0]:
            begun = self._begun(task)
            return today if begun is None else max(today, begun + timedelta(days=math.ceil(shortest)))
        return max(today, task.due - timedelta(days=math.floor(max(0.0, task.interval_days - shortest))))

    def _begun(self, task: Task) -> date | None:
        subject = self._workplace.subjects.get(task.subject)
        return None if subject is None else subject.begun

    def depth(self, rule_id: str, above: frozenset[str] = frozenset()) -> int:
        """How long the chain of prerequisites before a rule's work is."""
        rule = self._workplace.rules.get(rule_id)
        if rule is None or rule_id in above:
            return 0
        return 1 + max((self.depth(name, above | {rule_id}) for name in rule.prerequisites), default=-1)


@dataclass(slots=True)
class Timetable:
    """The tasks of one site on their days of call. `days` by crew, `kept` the days of the plan before; `tasks` are
    those on `days`, `checklist` those of the site's own staff, whose day is their due day. `open_days` are those on
    which each crew can make calls."""

    days: dict[str, dict[date, list[Item]]]
    tasks: dict[str, Task]
    checklist: dict[str, Task]
    workplace: Workplace
    open_days: Mapping[str, Days]
    today: date
    kept: Mapping[str, date]

    def settle(self) -> Prerequisites:
        """Moves tasks on `days`, and opens windows in `tasks` and `checklist`, until each comes after its
        prerequisites. Returns what comes before what."""
        settling = _Settling(self)
        settling.run()
        return settling.before


class _Settling:
    def __init__(self, table: Timetable) -> None:
        self.table, self.today = table, table.today
        every = [*table.tasks.values(), *table.checklist.values()]
        self.before = Prerequisites(every, table.workplace)
        self.day_of: dict[str, date] = {task.key: max(task.due, table.today) for task in table.checklist.values()}
        self.item_of: dict[str, Item] = {}
        self.crew_of: dict[str, str] = {}
        for crew, days in table.days.items():
            for day, items in days.items():
                for item in items:
                    self.day_of[item.key], self.item_of[item.key], self.crew_of[item.key] = day, item, crew

    def run(self) -> None:
        rules = self.table.workplace.rules
        depth: dict[str, int] = {}
        waiting: list[tuple[int, date, str]] = []
        for key, day in self.day_of.items():
            if key not in self.item_of:
                continue
            name = self.table.tasks[key].rule
            if name in rules and rules[name].prerequisites:
                depth.setdefault(name, self.before.depth(name))
                waiting.append((depth[name], day, key))
        for _, _, key in sorted(waiting):
            self._wait(self.table.tasks[key])
            self._join(self.table.tasks[key])
        for days in self.table.days.values():
            for day in [day for day, items in days.items() if not items]:
                del days[day]

    def _wanted(self, task: Task, day: date) -> list[Task]:
        """The prerequisites that are not in date on `day` and planned later."""
        return [at for line, at in self._later(task, day) if self.before.in_date_until(line, at) < day]

    def _later(self, task: Task, day: date) -> Iterator[tuple[Line, Task]]:
        for line in self.before.lines(task):
            at = self.before.next_after(line, day, self.day_of)
            if at is not None:
                yield line, at

    def _wait(self, task: Task) -> None:
        """Puts a task that is not past its limit on the call that brings what it needs."""
        if task.latest < self.today:
            return
        day, last, crew = self.day_of[task.key], self.item_of[task.key].last, self.crew_of[task.key]
        ready = day
        for other in self._wanted(task, day):
            on = self._ready_after(other, crew)
            if on is not None and on <= last and not self._may_join(other, day, crew):
                ready = max(ready, on)
        if ready == day:
            return
        calls = sorted(on for on, items in self.table.days[crew].items() if items and ready <= on <= last)
        new_call = self.table.open_days[crew].first_from(ready)
        if calls:
            self._move(task.key, calls[0])
        elif new_call is not None and new_call <= last:
            self._move(task.key, new_call)

    def _ready_after(self, other: Task, crew: str) -> date | None:
        """The first day on which a call of the crew comes after `other`."""
        day = self.day_of[other.key]
        if self.crew_of.get(other.key, crew) == crew:
            return day
        return self.table.open_days[crew].first_from(day + ONE_DAY)

    def _join(self, task: Task) -> None:
        """Brings prerequisites into the call of their task: those that are wanted, and others that suit."""
        day, crew = self.day_of[task.key], self.crew_of[task.key]
        for other in self._wanted(task, day):
            if self._may_open(other, day, crew):
                self._open(other, day)
        for _, other in self._later(task, day):
            if self._may_join(other, day, crew):
                self._open(other, day)

    def _may_join(self, task: Task, day: date, crew: str) -> bool:
        """Whether its own window holds the day, and the plan before had it nowhere else."""
        item = self.item_of.get(task.key)
        if item is None or not item.first <= day <= item.last or self.table.kept.get(task.key) == self.day_of[task.key]:
            return False
        return self._may_open(task, day, crew)

    def _may_open(self, task: Task, day: date, crew: str, above: frozenset[str] = frozenset()) -> bool:
        """Whether it may be done on that day, if its window is opened forward, and so may what it needs itself."""
        item = self.item_of.get(task.key)
        if item is None:
            return self._may_be_listed(task, day)
        if self.crew_of[task.key] != crew or task.key in above:
            return False
        first = item.first
        if task.state is not TaskState.PUT_OFF:
            first = min(first, self.before.soonest(task, self.today) or first)
        if not first <= day <= item.last:
            return False
        return all(self._may_open(other, day, crew, above | {task.key}) for other in self._wanted(task, day))

    def _may_be_listed(self, task: Task, day: date) -> bool:
        """Whether site staff's work may stand on their list for that day: work that was never recorded may."""
        soonest = self.before.soonest(task, self.today)
        return task.follows is None and task.state is not TaskState.PUT_OFF and soonest is not None and soonest <= day

    def _open(self, task: Task, day: date) -> None:
        for other in self._wanted(task, day):
            self._open(other, day)
        item = self.item_of.get(task.key)
        if item is None:
            self.table.checklist[task.key] = _listed_for(task, day, self.today)
            self.day_of[task.key] = day
            return
        if day < item.first:
            self.item_of[task.key] = replace(item, first=day)
            self.table.tasks[task.key] = brought_forward(task, day, self.today)
        self._move(task.key, day)

    def _move(self, key: str, day: date) -> None:
        days = self.table.days[self.crew_of[key]]
        days[self.day_of[key]] = [item for item in days[self.day_of[key]] if item.key != key]
        days.setdefault(day, []).append(self.item_of[key])
        self.day_of[key] = day


def brought_forward(task: Task, day: date, today: date) -> Task:
    """The task with its window opened on `day`, which is before the window of its interval."""
    opened = task.state is TaskState.UPCOMING and day <= today
    return replace(task, earliest=day, state=TaskState.OPEN if opened else task.state)


def _listed_for(task: Task, day: date, today: date) -> Task:
    """The task with its window moved so that it is due on `day`."""
    by = day - task.due
    window = Window(task.earliest + by, day, task.latest + by)
    return replace(task, earliest=window.earliest, due=window.due, latest=window.latest, state=state_on(today, window))
