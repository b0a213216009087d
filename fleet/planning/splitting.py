"""A call that is longer than a call can be, cut into several: between tanks, else between the things at one tank.

What is measured or cleaned for the sake of other work stays with that. Never does one device fall to two calls of one
day: only where the work on one device is longer than any call can be does it go on over several days, in working order.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from fleet.planning.bundling import Item, best_day
from fleet.planning.seasons import Days
from fleet.planning.working_order import Workplace
from fleet.values.plan import Task, Visit


@dataclass(slots=True)
class Part:
    """Tasks that one call holds. `stays` on the day of the whole; `held`: a visit held them on that day before."""

    tasks: list[Task] = field(default_factory=list)
    stays: bool = False
    held: bool = False

    @property
    def subjects(self) -> frozenset[str]:
        return frozenset(task.subject for task in self.tasks)

    def has_room(self, tasks: Sequence[Task], longest: int) -> bool:
        return not self.tasks or _minutes(self.tasks) + _minutes(tasks) <= longest


@dataclass(frozen=True, slots=True)
class DatedPart:
    """One call's tasks in working order, and its day."""

    tasks: tuple[Task, ...]
    on: date


def _minutes(tasks: Iterable[Task]) -> int:
    return sum(task.minutes for task in tasks)


@dataclass(slots=True)
class Splitter:
    """Cuts the calls of one crew at one site. `tasks` by key; `kept` the visits that held them in the plan before;
    `used` the days on which the crew has a call, to which it adds."""

    tasks: Mapping[str, Task]
    kept: Mapping[str, Visit]
    open_days: Days
    workplace: Workplace
    used: set[date]

    def split(self, day: date, items: Sequence[Item], longest: Callable[[Sequence[Task]], int]) -> list[DatedPart]:
        """The items that were put on `day` as one call, or as several of at most `longest` minutes (a single task may
        be longer): visits that were planned for this day stay as they are, and the rest goes on further days that suit
        it and have no call yet."""
        ordered = self.workplace.in_order(self.tasks[item.key] for item in items)
        return _OneDay(self, day, {item.key: item for item in items}, longest(ordered)).split(ordered)


@dataclass(slots=True)
class _OneDay:
    of: Splitter
    day: date
    items: Mapping[str, Item]
    longest: int
    dated: list[tuple[Part, date]] = field(default_factory=list)

    def split(self, ordered: Sequence[Task]) -> list[DatedPart]:
        parts = self._parts(ordered)
        self.dated = [(part, self.day) for part in parts if part.held]
        for part in parts:
            if not part.held:
                self._date(part)
        in_order = self.of.workplace.in_order
        return [DatedPart(in_order(part.tasks), on) for part, on in self.dated]

    def _parts(self, ordered: Sequence[Task]) -> list[Part]:
        """What one visit held on that day before stays together, so that work done in another visit moves nothing here.
        New work fills it up, first what suits no other day; what then has no room follows."""
        if len(self._visits(ordered)) < 2 and _minutes(ordered) <= self.longest:
            return [Part(list(ordered), held=True)]
        home = self._homes(ordered)
        staying = {key: Part(stays=True, held=True) for key in sorted(set(home.values()))}
        loose: list[list[Task]] = []
        new: list[Task] = []
        for tasks in _grouped(ordered, lambda task: home.get(task.subject, "")):
            part = staying.get(home.get(tasks[0].subject, ""))
            if part is None:
                loose += self._units(tasks)
                continue
            for unit in self._units([task for task in tasks if self._was_here(task)]):
                self._put(unit, part, loose)
            new += [task for task in tasks if not self._was_here(task)]
        for unit in _grouped(new, lambda task: task.subject):
            self._put(unit, staying[home[unit[0].subject]], loose)
        stay = [part for part in staying.values() if part.tasks] or [Part(stays=True)]
        follow: list[Part] = []
        for unit in sorted(loose, key=self._suits_another_day):
            subjects = frozenset(task.subject for task in unit)
            here = [] if any(not one.subjects.isdisjoint(subjects) for one in stay) else stay
            part = next((one for one in (*here, *follow) if self._joins(unit, one)), None)
            if part is None:
                part = Part()
                follow.append(part)
            part.tasks.extend(unit)
        return [*stay, *follow]

    def _put(self, unit: list[Task], part: Part, loose: list[list[Task]]) -> None:
        if part.has_room(unit, self.longest):
            part.tasks.extend(unit)
        else:
            loose.append(unit)

    def _joins(self, unit: Sequence[Task], part: Part) -> bool:
        if not part.has_room(unit, self.longest):
            return False
        if part.stays or not self._suits_another_day(part.tasks):
            return True
        return self._suits_another_day([*part.tasks, *unit])

    def _date(self, part: Part) -> None:
        """Finds days for a part that no visit held."""
        if part.stays:
            self._add(part, self.day)
            return
        free = [day for day in self._days_for(part.tasks) if day not in self.of.used]
        wished = best_day([self.items[task.key] for task in part.tasks], self.of.open_days)
        beside = [other for other, on in self.dated if on == self.day and not other.subjects.isdisjoint(part.subjects)]
        if _minutes(part.tasks) > self.longest or not free:
            if beside:
                beside[0].tasks.extend(part.tasks)
            else:
                self._add(part, _nearest(self._days_for(part.tasks), self.day) or self.day)
        else:
            self._add(part, _nearest(free, wished) or self.day)

    def _add(self, part: Part, on: date) -> None:
        """Puts the part on the day, and goes on with what is too long for one call on later days, if there are any."""
        pieces = self._pieces(part.tasks)
        days = [on]
        for piece in pieces[1:]:
            later = (day for day in self._days_for(piece) if day > days[-1] and day not in self.of.used)
            day = next(later, None)
            if day is None:
                break
            days.append(day)
        whole = len(days) < len(pieces)
        for tasks, day in zip([part.tasks] if whole else pieces, days, strict=False):
            self.dated.append((Part(list(tasks)), day))
            self.of.used.add(day)

    def _days_for(self, tasks: Sequence[Task]) -> Sequence[date]:
        """Open days that suit all of the tasks, not before what they need first nor after what needs them."""
        first, last = self._common(tasks)
        any_needed = self.of.workplace.any_needed
        needed = [on for other, on in self.dated if any_needed(tasks, other.tasks)]
        needing = [on for other, on in self.dated if any_needed(other.tasks, tasks)]
        return self.of.open_days.between(max([first, *needed]), min([last, *needing]))

    def _suits_another_day(self, tasks: Sequence[Task]) -> bool:
        return any(day not in self.of.used for day in self.of.open_days.between(*self._common(tasks)))

    def _common(self, tasks: Sequence[Task]) -> tuple[date, date]:
        """First and last day that suit all."""
        items = [self.items[task.key] for task in tasks]
        return max(item.first for item in items), min(item.last for item in items)

    def _was_here(self, task: Task) -> bool:
        visit = self.of.kept.get(task.key)
        return visit is not None and visit.day == self.day

    def _visits(self, tasks: Iterable[Task]) -> Counter[str]:
        """The visits of that day that held the tasks before, and how many of them each."""
        return Counter(self.of.kept[task.key].key for task in tasks if self._was_here(task))

    def _homes(self, ordered: Iterable[Task]) -> dict[str, str]:
        """For each subject the visit of that day that held most of the work on it before."""
        homes = {}
        for tasks in _grouped(ordered, lambda task: task.subject):
            visits = self._visits(tasks)
            if visits:
                homes[tasks[0].subject] = min(visits, key=lambda key: (-visits[key], key))
        return homes

    def _units(self, ordered: Sequence[Task]) -> list[list[Task]]:
        """What is not to be cut: the work at one tank, or, where that is longer than a call, the work on each thing
        there with what that needs first. In order of their first tasks."""
        units: list[list[Task]] = []
        for tasks in _grouped(ordered, lambda task: task.tank or task.subject):
            if _minutes(tasks) <= self.longest:
                units.append(tasks)
            else:
                units += self._linked(_grouped(tasks, lambda task: task.subject))
        return units

    def _linked(self, groups: Sequence[list[Task]]) -> list[list[Task]]:
        """The groups, those of which one needs the other as one, where a call can hold both."""
        any_needed = self.of.workplace.any_needed
        linked: list[list[Task]] = []
        for group in groups:
            for other in linked:
                needed = any_needed(group, other) or any_needed(other, group)
                if needed and _minutes(other) + _minutes(group) <= self.longest:
                    other.extend(group)
                    break
            else:
                linked.append(list(group))
        return linked

    def _pieces(self, tasks: Sequence[Task]) -> list[list[Task]]:
        """The tasks in pieces, each as long as a call can be, in working order."""
        pieces = [Part()]
        for task in tasks:
            if not pieces[-1].has_room((task,), self.longest):
                pieces.append(Part())
            pieces[-1].tasks.append(task)
        return [piece.tasks for piece in pieces]


def _grouped(tasks: Iterable[Task], name: Callable[[Task], str]) -> list[list[Task]]:
    groups: dict[str, list[Task]] = defaultdict(list)
    for task in tasks:
        groups[name(task)].append(task)
    return list(groups.values())


def _nearest(days: Sequence[date], wished: date) -> date | None:
    return min(days, key=lambda one: (abs((one - wished).days), one), default=None)
