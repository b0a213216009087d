"""The tasks of one site into calls: who may do them together, on which day, and what does not fit into one call."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from fleet.planning.bundling import Item, call_days
from fleet.planning.prerequisites import Prerequisites, Timetable, brought_forward
from fleet.planning.seasons import OpenDays
from fleet.planning.site_calls import SiteCall, bounded
from fleet.planning.splitting import Splitter
from fleet.planning.words import day_words
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
PREFERRED_EARLY_SHARE = 0.3
"""A life-safety task may be done at any time before its due day; it is planned within this share of its interval."""
LATE_CALL = timedelta(days=14)
"""Work that is past its limit is wanted at once, and waits at most so long for the first day somebody is free."""
BEFORE_CLOSURE_DAYS = 7
"""Work brought forward before a closure is done within so many days of the last open one."""
NOT_TO_BE_PLACED = (TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.DONE)


def calls_at(
    site: str,
    tasks: Sequence[Task],
    checklist: Sequence[Task],
    open_days: OpenDays,
    today: date,
    workplace: Workplace,
    before: Mapping[str, tuple[Task, Visit]],
    longest_call: Callable[[str, frozenset[Skill]], int],
) -> tuple[list[SiteCall], list[Unplaced], dict[str, Task]]:
    """Calls (without keys yet), what has no open day, and the tasks that were brought forward before a closure or
    before the work that needs them.

    `tasks` are the visitors', `checklist` the site staff's. `before` has the task and the visit that held it in the
    plan before; `longest_call` is the minutes that one call at a site can hold for people with certain skills.
    """
    days_before = {key: visit.day for key, (_, visit) in before.items()}
    items: dict[str, list[Item]] = defaultdict(list)
    placed: dict[str, Task] = {}
    unplaced: list[Unplaced] = []
    for task in tasks:
        if task.state in NOT_TO_BE_PLACED:
            continue
        item = _item(task, open_days, today, days_before.get(task.key))
        if item is None:
            item = _before_closure(task, workplace.rules.get(task.rule), open_days, today)
            if item is None:
                unplaced.append(_no_open_day(task, site, open_days, today))
                continue
            task = replace(task, earliest=item.first)
        elif _was_brought_forward(task, item, before.get(task.key), open_days, today):
            item = replace(item, first=days_before[task.key])
            task = brought_forward(task, item.first, today)
        placed[task.key] = task
        items[CREW[task.skill]].append(item)
    waiting = {task.key: task for task in checklist if task.state not in NOT_TO_BE_PLACED}
    days = {crew: call_days(items[crew], open_days, days_before) for crew in sorted(items)}
    timetable = Timetable(days, placed, waiting, workplace, open_days, today, days_before)
    prerequisites = timetable.settle()
    kept = {key: visit for key, (_, visit) in before.items() if key in placed}
    on_list = {task.key: max(task.due, today) for task in waiting.values()}
    days = _limited(days, placed, prerequisites, on_list, today)
    calls: list[SiteCall] = []
    for crew, by_day in days.items():
        splitter = Splitter(placed, kept, open_days, workplace, set(by_day))
        for day, some in by_day.items():
            for part in splitter.split(
                day, some, lambda some: longest_call(site, frozenset(one.skill for one in some))
            ):
                calls.append(SiteCall("", site, crew, part.on, part.first, part.last, part.tasks))
    calls = bounded(calls, prerequisites, on_list)
    now = {**placed, **waiting}
    opened = {task.key: now[task.key] for task in (*tasks, *checklist) if now.get(task.key, task) is not task}
    return calls, unplaced, opened


def _limited(
    days: Mapping[str, Mapping[date, Sequence[Item]]],
    tasks: Mapping[str, Task],
    prerequisites: Prerequisites,
    on_list: Mapping[str, date],
    today: date,
) -> dict[str, dict[date, list[Item]]]:
    """The items on their days, with windows that keep what is on different days in order. What is past its limit waits
    for somebody to be free, but not for ever."""
    placed = [(crew, day, item) for crew, by_day in days.items() for day, items in by_day.items() for item in items]
    call_of = {item.key: (crew, day) for crew, day, item in placed}
    day_of = {**on_list, **{item.key: day for _, day, item in placed}}
    first, last = prerequisites.limits((tasks[item.key] for _, _, item in placed), day_of, call_of)
    limited: dict[str, dict[date, list[Item]]] = {crew: defaultdict(list) for crew in days}
    for crew, day, item in placed:
        end = item.last if tasks[item.key].latest >= today else day + LATE_CALL
        begin = max(item.first, first.get(item.key, item.first))
        end = min(end, last.get(item.key, end))
        same = (begin, end) == (item.first, item.last)
        limited[crew][day].append(item if same else replace(item, first=begin, last=end))
    return limited


def _item(task: Task, open_days: OpenDays, today: date, kept: date | None) -> Item | None:
    """The task's window on open days; None where it holds none. What is past its limit goes on the first open day, or
    stays on the day it was given."""
    if task.latest < today:
        first = open_days.first_from(today)
        if first is None:
            return None
        only = kept if kept is not None and kept >= today and kept in open_days else first
        return Item(task.key, only, only, task.due)
    first_day = max(task.earliest, today)
    if task.tolerance is Tolerance.A0 and task.interval_days is not None:
        preferred = max(first_day, task.due - timedelta(days=math.floor(PREFERRED_EARLY_SHARE * task.interval_days)))
        if open_days.between(preferred, task.latest):
            first_day = preferred
    within = open_days.between(first_day, task.latest)
    return Item(task.key, within[0], within[-1], task.due) if within else None


def _was_brought_forward(
    task: Task, item: Item, before: tuple[Task, Visit] | None, open_days: OpenDays, today: date
) -> bool:
    """Whether the plan before had it on a day before its window, and nothing moved it since."""
    if before is None or task.latest < today:
        return False
    known, visit = before
    on = visit.day
    return known.due == task.due and known.earliest <= on < item.first and on >= today and on in open_days


def _before_closure(task: Task, rule: TaskRule | None, open_days: OpenDays, today: date) -> Item | None:
    """The last open days before a window that is closed throughout, if work that comes back may be done by then: not
    sooner after the time before than its shortest interval. A few days, so that somebody can be free on one."""
    if rule is None or rule.interval is None or task.interval_days is None:
        return None
    day = open_days.last_until(task.earliest)
    soonest = task.due - timedelta(days=math.floor(max(0.0, task.interval_days - rule.interval.minimum.days)))
    if day is None or day < max(soonest, today):
        return None
    within = open_days.between(max(soonest, today, day - timedelta(days=BEFORE_CLOSURE_DAYS)), day)
    return Item(task.key, within[0], day, day)


def _no_open_day(task: Task, site: str, open_days: OpenDays, today: date) -> Unplaced:
    first, last = max(task.earliest, today), task.latest
    words = f"{site} has no open day from {day_words(first)} to {day_words(last)}"
    if last <= first:
        words = f"{site} is not open on {day_words(first)}"
    following = open_days.first_from(max(last, today))
    tail = f"; the next is {day_words(following)}" if following is not None else ""
    return Unplaced(task.key, "NO_OPEN_DAY", f"{task.title} on {task.subject}: {words}{tail}.")
