"""A call that is longer than a call can be, cut into several: between tanks, else between the things at one tank.

What is measured or cleaned for the sake of other work stays with that. Never does one device fall to two calls of one
day: only where the work on one device is longer than any call can be does it go on over several days, in working order.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from fleet.planning.working_order import Workplace
from fleet.values.plan import Task, Visit

Suits = Callable[[Sequence[Task]], bool]
"""Whether all of some tasks can be done together on another day, on which there is no call yet."""


@dataclass(slots=True)
class Part:
    """Tasks of one call in working order. `stays` on the day of the whole; `piece_of` is the subject on which the work
    is longer than a call, where the part is a piece of that."""

    tasks: list[Task] = field(default_factory=list)
    stays: bool = False
    piece_of: str | None = None

    def same_thing_as(self, other: Part) -> bool:
        """Whether both are pieces of the work on one thing."""
        return self.piece_of is not None and self.piece_of == other.piece_of

    def has_room(self, tasks: Sequence[Task], longest: int) -> bool:
        return not self.tasks or _minutes(self.tasks) + _minutes(tasks) <= longest


def _minutes(tasks: Iterable[Task]) -> int:
    return sum(task.minutes for task in tasks)


def parts(
    ordered: Sequence[Task],
    day: date,
    longest: int,
    kept: Mapping[str, Visit],
    workplace: Workplace,
    suits_another_day: Suits,
) -> list[Part]:
    """The tasks of a call in parts of at most `longest` minutes (a single task may be longer).

    What one visit held on that day before stays together, so that work done in another visit moves nothing here. New
    work fills it up, first what suits no other day; what then has no room follows.
    """
    homes = {visit.key for task in ordered if (visit := kept.get(task.key)) is not None and visit.day == day}
    if len(homes) < 2 and _minutes(ordered) <= longest:
        return [Part(list(ordered), stays=True)]
    staying: dict[str, Part] = {}
    loose: list[list[Task]] = []
    for unit in _units(ordered, longest, workplace):
        home = _home(unit, day, kept)
        if home is not None and staying.setdefault(home, Part(stays=True)).has_room(unit, longest):
            staying[home].tasks.extend(unit)
        else:
            loose.append(unit)
    stay = [staying[key] for key in sorted(staying) if staying[key].tasks] or [Part(stays=True)]
    follow: list[Part] = []
    for unit in sorted(loose, key=suits_another_day):
        pieces = _pieces(unit, longest)
        if len(pieces) > 1:
            follow.extend(Part(piece, piece_of=unit[0].subject) for piece in pieces)
            continue
        open_parts = [*stay, *(one for one in follow if suits_another_day([*one.tasks, *unit]))]
        part = next((one for one in open_parts if one.piece_of is None and one.has_room(unit, longest)), None)
        if part is None:
            part = Part()
            follow.append(part)
        part.tasks.extend(unit)
    if not stay[0].tasks:
        stay = []
        follow[0].stays = True
    return [*stay, *follow]


def _units(ordered: Sequence[Task], longest: int, workplace: Workplace) -> list[list[Task]]:
    """What is not to be cut: the work at one tank, or, where that is longer than a call, the work on each thing there
    with what that needs first. In order of their first tasks."""
    units: list[list[Task]] = []
    for tasks in _grouped(ordered, lambda task: task.tank or task.subject):
        if _minutes(tasks) <= longest:
            units.append(tasks)
        else:
            units += _linked(_grouped(tasks, lambda task: task.subject), longest, workplace)
    return units


def _grouped(tasks: Iterable[Task], name: Callable[[Task], str]) -> list[list[Task]]:
    groups: dict[str, list[Task]] = defaultdict(list)
    for task in tasks:
        groups[name(task)].append(task)
    return list(groups.values())


def _linked(groups: Sequence[list[Task]], longest: int, workplace: Workplace) -> list[list[Task]]:
    """The groups, those of which one needs the other as one, where a call can hold both."""
    linked: list[list[Task]] = []
    for group in groups:
        for other in linked:
            needed = workplace.any_needed(group, other) or workplace.any_needed(other, group)
            if needed and _minutes(other) + _minutes(group) <= longest:
                other.extend(group)
                break
        else:
            linked.append(list(group))
    return linked


def _home(unit: Sequence[Task], day: date, kept: Mapping[str, Visit]) -> str | None:
    """The visit of that day that held most of the unit before."""
    visits = Counter(visit.key for task in unit if (visit := kept.get(task.key)) is not None and visit.day == day)
    return min(visits, key=lambda key: (-visits[key], key)) if visits else None


def _pieces(unit: Sequence[Task], longest: int) -> list[list[Task]]:
    """The unit, in pieces where it is longer than a call; each as long as fits, in working order."""
    pieces = [Part()]
    for task in unit:
        if not pieces[-1].has_room((task,), longest):
            pieces.append(Part())
        pieces[-1].tasks.append(task)
    return [piece.tasks for piece in pieces]
