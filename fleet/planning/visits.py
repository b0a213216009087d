"""The tasks of one site into calls: who may do them together, on which day, and in what order they are worked."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleet.planning.bundling import Item, best_day, call_days
from fleet.planning.keys import KeyBook
from fleet.planning.seasons import OpenDays
from fleet.planning.subjects import Subject
from fleet.planning.words import day_words
from fleet.values.catalogue import TaskRule
from fleet.values.plan import Task, Unplaced, Visit
from fleet.values.register import Tank
from fleet.values.vocabulary import EquipmentKind, Health, Skill, TaskState, Tolerance

GENERAL = "general"
CREW = {
    Skill.KEEPER: GENERAL,
    Skill.TECHNICIAN: GENERAL,
    Skill.REFRIGERATION: str(Skill.REFRIGERATION),
    Skill.ELECTRICIAN: str(Skill.ELECTRICIAN),
}
PROTECTION_TESTS_FROM = 90
"""Tests of electrical protection come last, so that everything is seen to start again before leaving."""
PREFERRED_EARLY_SHARE = 0.3
"""A life-safety task may be done at any time before its due day; it is planned within this share of its interval."""
LATE_CALL_DAYS = 14
"""Work that is past its limit is wanted at once, and waits at most so long for the first day somebody is free."""
BEFORE_CLOSURE_DAYS = 7
"""Work brought forward before a closure is done within so many days of the last open one."""
HEALTH_ORDER = {None: 0, Health.CLEAN: 0, Health.UNKNOWN: 1, Health.QUARANTINE: 2, Health.SICK: 3}
NOT_TO_BE_PLACED = (TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.DONE)


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


@dataclass(frozen=True, slots=True)
class Workplace:
    """What the order of work at one site depends on."""

    rules: Mapping[str, TaskRule]
    subjects: Mapping[str, Subject]
    tanks: Mapping[str, Tank]

    def rank(self, task: Task) -> tuple[bool, bool, int, str, int, str]:
        """Healthy systems before sick ones, one tank after the other, dry work first; the kit is disinfected after
        the last of them, and electrical protection is tested at the very end."""
        subject = self.subjects.get(task.subject)
        tanks = () if subject is None else subject.tanks
        health = max((HEALTH_ORDER[self.tanks[code].health] for code in tanks if code in self.tanks), default=0)
        kit = subject is not None and subject.equipment_kind is EquipmentKind.FIELD_KIT
        return (task.order >= PROTECTION_TESTS_FROM, kit, health, task.tank or "", task.order, task.key)

    def needs_first(self, task: Task, other: Task) -> bool:
        """Whether `other` is a prerequisite of `task`: its rule is, and it is on the same subject or tank, or on
        something of the site's own."""
        rule = self.rules.get(task.rule)
        if rule is None or other.rule not in rule.prerequisites:
            return False
        return other.subject == task.subject or other.tank is None or other.tank == task.tank

    def in_order(self, tasks: Iterable[Task]) -> tuple[Task, ...]:
        """The tasks of one call in working order, each after its prerequisites."""
        ranked = sorted(tasks, key=self.rank)
        by_rule: dict[str, list[Task]] = defaultdict(list)
        for task in ranked:
            by_rule[task.rule].append(task)
        placed: dict[str, Task] = {}
        begun: set[str] = set()

        def place(task: Task) -> None:
            if task.key in begun:
                return
            begun.add(task.key)
            rule = self.rules.get(task.rule)
            for name in () if rule is None else rule.prerequisites:
                for other in by_rule.get(name, ()):
                    if self.needs_first(task, other):
                        place(other)
            placed[task.key] = task

        for task in ranked:
            place(task)
        return tuple(placed.values())


def calls_at(
    site: str,
    tasks: Sequence[Task],
    open_days: OpenDays,
    today: date,
    workplace: Workplace,
    kept: Mapping[str, Visit],
    longest_call: Callable[[str, frozenset[Skill]], int],
) -> tuple[list[SiteCall], list[Unplaced], dict[str, Task]]:
    """Calls (without keys yet), what has no open day, and the tasks that were brought forward before a closure.

    `kept` are the visits that held the tasks in the plan before; `longest_call` the minutes that one call
    at a site can hold for people with certain skills.
    """
    days_before = {key: visit.day for key, visit in kept.items()}
    items: dict[str, list[Item]] = defaultdict(list)
    by_key: dict[str, Task] = {}
    unplaced: list[Unplaced] = []
    brought_forward: dict[str, Task] = {}
    for task in tasks:
        if task.state in NOT_TO_BE_PLACED:
            continue
        item = _item(task, open_days, today, days_before.get(task.key))
        if item is None:
            item = _before_closure(task, workplace.rules.get(task.rule), open_days, today)
            if item is None:
                unplaced.append(_no_open_day(task, site, open_days, today))
                continue
            task = brought_forward[task.key] = replace(task, earliest=item.first)
        by_key[task.key] = task
        items[CREW[task.skill]].append(item)
    calls: list[SiteCall] = []
    for crew in sorted(items):
        days = call_days(items[crew], open_days, days_before)
        _bring_prerequisites(days, by_key, workplace, days_before)
        used = set(days)
        for day, placed in days.items():
            calls.extend(_split(site, crew, day, placed, by_key, open_days, today, workplace, kept, longest_call, used))
    return calls, unplaced, brought_forward


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


def _bring_prerequisites(
    days: dict[date, list[Item]], by_key: Mapping[str, Task], workplace: Workplace, kept: Mapping[str, date]
) -> None:
    """Moves a prerequisite that was put on a later call into the call of the task that needs it, where its window
    holds that day and the plan before had it nowhere else."""
    rules = workplace.rules
    day_of = {item.key: (day, item) for day, placed in days.items() for item in placed}
    by_rule: dict[str, list[str]] = defaultdict(list)
    for key in sorted(day_of):
        by_rule[by_key[key].rule].append(key)
    for day in sorted(days):
        for item in list(days[day]):
            rule = rules.get(by_key[item.key].rule)
            for name in () if rule is None else rule.prerequisites:
                for other in by_rule.get(name, ()):
                    at, other_item = day_of[other]
                    fits = at > day and other_item.first <= day <= other_item.last and kept.get(other) != at
                    if fits and workplace.needs_first(by_key[item.key], by_key[other]):
                        days[at].remove(other_item)
                        days[day].append(other_item)
                        day_of[other] = (day, other_item)
    for day in [day for day, placed in days.items() if not placed]:
        del days[day]


def _split(
    site: str,
    crew: str,
    day: date,
    placed: Sequence[Item],
    by_key: Mapping[str, Task],
    open_days: OpenDays,
    today: date,
    workplace: Workplace,
    kept: Mapping[str, Visit],
    longest_call: Callable[[str, frozenset[Skill]], int],
    used: set[date],
) -> Iterator[SiteCall]:
    """One call, or several where the work is longer than a call can be: visits planned for this day stay as they are,
    and the rest goes on further days that suit it and are not `used` by another call yet."""
    items = {item.key: item for item in placed}
    ordered = workplace.in_order(by_key[key] for key in items)
    longest = longest_call(site, frozenset(task.skill for task in ordered))
    for part, stays in _parts(ordered, day, longest, kept):
        mine = [items[task.key] for task in part]
        first = max(item.first for item in mine)
        limits = [items[task.key].last for task in part if task.latest >= today]
        last = min(limits, default=day + timedelta(days=LATE_CALL_DAYS))
        on = day
        if not stays:
            free = [one for one in open_days.between(first, last) if one not in used]
            wished = best_day(mine, open_days)
            on = min(free, key=lambda one: (abs((one - wished).days), one)) if free else day
            used.add(on)
        yield SiteCall("", site, crew, on, first, last, workplace.in_order(part))


def _parts(
    ordered: Sequence[Task], day: date, longest: int, kept: Mapping[str, Visit]
) -> list[tuple[list[Task], bool]]:
    """The tasks in parts of at most `longest` minutes (a single task may be longer), each with whether it stays on the
    day. What one visit held before stays together; new tasks fill it up, and what then has no room follows."""
    if sum(task.minutes for task in ordered) <= longest:
        return [(list(ordered), True)]
    parts: dict[str, list[Task]] = {}
    new: list[Task] = []
    for task in ordered:
        before = kept.get(task.key)
        if before is not None and before.day == day and _has_room(parts.get(before.key, ()), task, longest):
            parts.setdefault(before.key, []).append(task)
        else:
            new.append(task)
    stay = [parts[key] for key in sorted(parts)]
    follow: list[list[Task]] = []
    for task in new:
        open_parts = [*stay, *follow]
        part = next((one for one in open_parts if _has_room(one, task, longest)), None)
        if part is None:
            follow.append([task])
        else:
            part.append(task)
    return [*((part, True) for part in stay), *((part, not stay and not number) for number, part in enumerate(follow))]


def _has_room(part: Sequence[Task], task: Task, longest: int) -> bool:
    return not part or sum(one.minutes for one in part) + task.minutes <= longest


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
