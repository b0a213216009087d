"""The tasks of one site into calls: who may do them together, on which day, and what does not fit into one call."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from fleet.planning.bundling import Item, call_days
from fleet.planning.prerequisites import Prerequisites, Timetable, brought_forward
from fleet.planning.reasons import Reasons, needs_first
from fleet.planning.recurrence import ONE_DAY, add_span
from fleet.planning.seasons import Days, OpenDays
from fleet.planning.site_calls import SiteCall, bounded
from fleet.planning.splitting import Splitter
from fleet.planning.staff import Staff
from fleet.planning.working_order import Workplace
from fleet.values.catalogue import TaskRule
from fleet.values.plan import Task, Unplaced, Visit
from fleet.values.vocabulary import Skill, TaskState, Tolerance

GENERAL = "general"
CREW = {
    Skill.KEEPER: GENERAL,
    Skill.TECHNICIAN: GENERAL,
    Skill.REFRIGERATION: str(Skill.REFRIGERATION),
    Skill.ELECTRICIAN: str(Skill.ELECTRICIAN),
}
LEAST_SKILL = {
    GENERAL: Skill.KEEPER,
    str(Skill.REFRIGERATION): Skill.REFRIGERATION,
    str(Skill.ELECTRICIAN): Skill.ELECTRICIAN,
}
"""The skill that everybody of a crew has."""
PREFERRED_EARLY_SHARE = 0.3
"""A life-safety task may be done at any time before its due day; it is planned within this share of its interval."""
LATE_CALL = timedelta(days=92)
"""Work that is past its limit is wanted at once, and waits at most so long for the first day somebody is free."""
BEFORE_CLOSURE_DAYS = 7
"""Work brought forward before a closure is done within so many days of the last open one."""
NOT_TO_BE_PLACED = (TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.DONE)


@dataclass(frozen=True, slots=True)
class Ground:
    """What the calls at every site stand on."""

    staff: Staff
    open_days: Mapping[str, OpenDays]
    reasons: Reasons
    workplace: Workplace
    today: date


@dataclass(frozen=True, slots=True)
class SiteWork:
    """The work of one site: the visitors' `tasks`, the `checklist` of the site's own staff, the visits that are `held`
    with their tasks, and the tasks of the plan `before` with the visits that held them."""

    site: str
    tasks: Sequence[Task]
    checklist: Sequence[Task] = ()
    held: Sequence[tuple[Visit, Sequence[Task]]] = ()
    before: Mapping[str, tuple[Task, Visit]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SiteCalls:
    """Calls without keys yet, what no call can hold, and the tasks as bundling changed them: brought forward before a
    closure or before the work that needs them."""

    calls: list[SiteCall]
    unplaced: list[Unplaced]
    changed: dict[str, Task]


def calls_at(work: SiteWork, ground: Ground) -> SiteCalls:
    """The fewest calls that the windows of the tasks, the days of the site and the days of the staff allow."""
    return _Bundling(work, ground).run()


class _Bundling:
    def __init__(self, work: SiteWork, ground: Ground) -> None:
        self.work, self.ground, self.today = work, ground, ground.today
        self.site, self.rules = work.site, ground.workplace.rules
        self.days_before = {key: visit.day for key, (_, visit) in work.before.items()}
        self.placed: dict[str, Task] = {}
        self.item_of: dict[str, Item] = {}
        self.why: dict[str, Unplaced] = {}
        self.on_list = {task.key: task for task in work.checklist if task.state not in NOT_TO_BE_PLACED}
        self.held = {task.key: visit for visit, tasks in work.held for task in tasks}

    def run(self) -> SiteCalls:
        for task in self.work.tasks:
            if task.state not in NOT_TO_BE_PLACED:
                self._take(task)
        self._withhold()
        days = {crew: call_days(items, self._crew_days(crew), self.days_before) for crew, items in self._by_crew()}
        open_days = {crew: self._crew_days(crew) for crew in days}
        held = {f"held {visit.key}": (visit, tasks) for visit, tasks in self.work.held}
        for crew, (visit, tasks) in held.items():
            days[crew] = {visit.day: [Item(task.key, visit.day, visit.day, task.due) for task in tasks]}
            open_days[crew] = Days([visit.day])
            self.placed |= {task.key: task for task in tasks}
        timetable = Timetable(
            days, self.placed, self.on_list, self.ground.workplace, open_days, self.today, self.days_before
        )
        prerequisites = timetable.settle()
        days = {crew: by_day for crew, by_day in days.items() if crew not in held}
        other_days = {task.key: max(task.due, self.today) for task in self.on_list.values()}
        other_days |= {key: visit.day for key, visit in self.held.items()}
        days = _limited(days, self.placed, prerequisites, other_days, self.today)
        calls = bounded(self._cut(days), prerequisites, other_days)
        now = {**self.placed, **self.on_list}
        every = (*self.work.tasks, *self.work.checklist, *(task for _, tasks in self.work.held for task in tasks))
        changed = {task.key: now[task.key] for task in every if now.get(task.key, task) is not task}
        return SiteCalls(calls, list(self.why.values()), changed)

    def _by_crew(self) -> list[tuple[str, list[Item]]]:
        items: dict[str, list[Item]] = defaultdict(list)
        for key, item in self.item_of.items():
            items[CREW[self.placed[key].skill]].append(item)
        return sorted(items.items())

    def _crew_days(self, crew: str) -> Days:
        return self.ground.staff.days_for(self.site, frozenset({LEAST_SKILL[crew]}))

    def _days_for(self, task: Task) -> Days:
        return self.ground.staff.days_for(self.site, frozenset({task.skill}), task.minutes)

    def _take(self, task: Task) -> None:
        """Gives the task its window on days when it can be done, or the reason why there are none."""
        days, first, last = self._days_for(task), max(task.earliest, self.today), task.latest
        item = _item(task, days, self.today, self.days_before.get(task.key))
        shuts = _shuts(task, self.rules.get(task.rule))
        if shuts is not None and (item is None or item.first >= shuts):
            item, last = _beside_window(task, days, self.today, shuts), shuts - ONE_DAY
            if item is not None:
                task = replace(task, latest=max(task.latest, item.last))
                task = brought_forward(task, min(task.earliest, item.first), self.today)
        elif item is None:
            item = _before_closure(task, self.rules.get(task.rule), days, self.today)
            if item is not None:
                task = brought_forward(task, item.first, self.today)
        elif _was_brought_forward(task, item, self.work.before.get(task.key), days, self.today):
            item = replace(item, first=self.days_before[task.key])
            task = brought_forward(task, item.first, self.today)
        if item is None:
            if task.latest < self.today and shuts is None:
                last = max([self.today, *self.ground.open_days[self.site].days[-1:]])
            self.why[task.key] = self.ground.reasons.why(task, self.site, first, last)
            return
        self.placed[task.key], self.item_of[task.key] = task, item

    def _withhold(self) -> None:
        """Leaves out what needs work first that is itself in no visit, unless that is in date long enough. What is past
        its limit, and what law or life asks for, waits for nothing."""
        if not self.why:
            return
        every = [task for task in self.work.tasks if task.state not in NOT_TO_BE_PLACED]
        every += [*self.on_list.values(), *(task for _, tasks in self.work.held for task in tasks)]
        before = Prerequisites(every, self.ground.workplace)
        names = sorted(key for key, task in self.placed.items() if self.rules[task.rule].prerequisites)
        again = True
        while again:
            again = False
            for key in names:
                if key in self.item_of and self._is_withheld(self.placed[key], before):
                    del self.placed[key], self.item_of[key]
                    again = True

    def _is_withheld(self, task: Task, before: Prerequisites) -> bool:
        if task.latest < self.today or task.tolerance is Tolerance.A0:
            return False
        for line in before.lines(task):
            at = next((number for number, other in enumerate(line) if other.key in self.why), None)
            if at is None:
                continue
            item, until = self.item_of[task.key], before.in_date_until(line, line[at])
            comes = (self._first_day(other) for other in line[at + 1 :])
            if until >= item.last or any(day is not None and day <= item.last for day in comes):
                continue
            last = self._days_for(task).last_until(until)
            if last is None or last < item.first:
                self.why[task.key] = needs_first(task, line[at], self.why[line[at].key])
                return True
            self.item_of[task.key] = replace(item, last=last)
        return False

    def _first_day(self, task: Task) -> date | None:
        if task.key in self.held:
            return self.held[task.key].day
        if task.key in self.on_list:
            return task.earliest
        item = self.item_of.get(task.key)
        return None if item is None else item.first

    def _cut(self, days: Mapping[str, Mapping[date, Sequence[Item]]]) -> list[SiteCall]:
        """The calls, those that are too long for one cut into several."""
        kept = {key: visit for key, (_, visit) in self.work.before.items() if key in self.placed}
        calls = []
        for crew, by_day in days.items():
            splitter = Splitter(self.placed, kept, self._crew_days(crew), self.ground.workplace, set(by_day))
            for day, items in by_day.items():
                span_of = {item.key: (item.first, item.last) for item in items}
                for part in splitter.split(day, items, self._longest):
                    spans = tuple(span_of[task.key] for task in part.tasks)
                    calls.append(SiteCall("", self.site, crew, part.on, part.tasks, spans))
        return calls

    def _longest(self, tasks: Sequence[Task]) -> int:
        return self.ground.staff.longest_call(self.site, frozenset(task.skill for task in tasks))


def _limited(
    days: Mapping[str, Mapping[date, Sequence[Item]]],
    tasks: Mapping[str, Task],
    prerequisites: Prerequisites,
    other_days: Mapping[str, date],
    today: date,
) -> dict[str, dict[date, list[Item]]]:
    """The items on their days, with windows that keep what is on different days in order. What is past its limit waits
    for somebody to be free, but not for ever."""
    placed = [(crew, day, item) for crew, by_day in days.items() for day, items in by_day.items() for item in items]
    call_of = {item.key: (crew, day) for crew, day, item in placed}
    day_of = {**other_days, **{item.key: day for _, day, item in placed}}
    first, last = prerequisites.limits((tasks[item.key] for _, _, item in placed), day_of, call_of)
    limited: dict[str, dict[date, list[Item]]] = {crew: defaultdict(list) for crew in days}
    for crew, day, item in placed:
        end = item.last if tasks[item.key].latest >= today else day + LATE_CALL
        begin = max(item.first, first.get(item.key, item.first))
        end = min(end, last.get(item.key, end))
        same = (begin, end) == (item.first, item.last)
        limited[crew][day].append(item if same else replace(item, first=begin, last=end))
    return limited


def _item(task: Task, days: Days, today: date, kept: date | None) -> Item | None:
    """The task's window on the days when it can be done; None where it holds none. What is past its limit goes on the
    first of them, or stays on the day it was given."""
    if task.latest < today:
        first = days.first_from(today)
        if first is None:
            return None
        only = kept if kept is not None and kept >= today and kept in days else first
        return Item(task.key, only, only, task.due)
    first_day = max(task.earliest, today)
    if task.tolerance is Tolerance.A0 and task.interval_days is not None:
        preferred = max(first_day, task.due - timedelta(days=math.floor(PREFERRED_EARLY_SHARE * task.interval_days)))
        if days.between(preferred, task.latest):
            first_day = preferred
    within = days.between(first_day, task.latest)
    return Item(task.key, within[0], within[-1], task.due) if within else None


def _was_brought_forward(task: Task, item: Item, before: tuple[Task, Visit] | None, days: Days, today: date) -> bool:
    """Whether the plan before had it on a day before its window, and nothing moved it since."""
    if before is None or task.latest < today:
        return False
    known, visit = before
    on = visit.day
    return known.due == task.due and known.earliest <= on < item.first and on >= today and on in days


def _before_closure(task: Task, rule: TaskRule | None, days: Days, today: date) -> Item | None:
    """The last days when it can be done before a window that has none, if work that comes back may be done by then: not
    sooner after the time before than its shortest interval. A few days, so that somebody can be free on one."""
    if rule is None or rule.interval is None or task.interval_days is None or task.latest < today:
        return None
    day = days.last_until(task.earliest)
    soonest = task.due - timedelta(days=math.floor(max(0.0, task.interval_days - rule.interval.minimum.days)))
    if day is None or day < max(soonest, today):
        return None
    within = days.between(max(soonest, today, day - timedelta(days=BEFORE_CLOSURE_DAYS)), day)
    return Item(task.key, within[0], day, day)


def _shuts(task: Task, rule: TaskRule | None) -> date | None:
    """The first day of the closure that the task is to be done before; None for other work."""
    if rule is None or task.interval_days is not None or task.state is TaskState.PUT_OFF:
        return None
    lead = next((trigger for trigger in rule.events if trigger.lead is not None), None)
    if lead is None or not task.occurrence.startswith(f"event:{lead.event}:"):
        return None
    return add_span(task.latest, lead.within)


def _beside_window(task: Task, days: Days, today: date, shuts: date) -> Item | None:
    """The day nearest to a window that holds none: after it but before the site shuts, else before it."""
    day = days.first_from(max(today, task.latest + ONE_DAY))
    if day is None or day >= shuts:
        day = days.last_until(task.earliest - ONE_DAY)
    return None if day is None or day < today else Item(task.key, day, day, task.due)
