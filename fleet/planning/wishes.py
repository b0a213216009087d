"""What is wanting at the sites whose plan stands, and whether somebody's day may have room for it now.

A technician's day that nothing has left has no more room for such work than it had. So only the days matter that a
visit has left; and what fits into none of them would fit nowhere if its site were planned again.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.planning.day_book import DayBook, Work, local_minute
from fleet.planning.seasons import VisitDays
from fleet.planning.staff import Staff
from fleet.values.plan import Task, Unplaced, Visit
from fleet.values.register import Closure, Site
from fleet.values.vocabulary import TaskState

PeopleByDay = Mapping[date, set[str]]


@dataclass(frozen=True, slots=True)
class Wish:
    """Work that no visit holds, to be done on a day from `first` to `last`; or, with the minute of the day in `start`,
    a visit of one technician where two are wanted."""

    work: Work
    first: date
    last: date
    start: int | None = None


def wishes_of(
    tasks: Sequence[Task],
    visits: Iterable[Visit],
    unplaced: Iterable[Unplaced],
    sites: Mapping[str, Site],
) -> Iterator[Wish]:
    """The wishes of a plan. What is past its limit is wanted on any day."""
    lacking = [visit for visit in visits if visit.persons > 1 and visit.technician and not visit.second_technician]
    wanted = {one.key for one in unplaced}.union(*(visit.tasks for visit in lacking))
    task_of = {task.key: task for task in tasks if task.key in wanted} if wanted else {}
    for one in unplaced:
        task = task_of[one.key]
        if task.site is not None:
            last = date.max if task.state is TaskState.PAST_LIMIT else task.latest
            yield Wish(Work(task.site, (task,)), task.earliest, last)
    for visit in lacking:
        work = Work(visit.site, tuple(task_of[key] for key in visit.tasks))
        yield Wish(work, visit.day, visit.day, local_minute(visit.start, sites[visit.site]))


class Wishes:
    """`tempted` are the sites that stand but might be planned otherwise: those of wishes that some day may have room
    for, and those whose visits are in the way of others."""

    def __init__(
        self,
        wishes: Iterable[Wish] = (),
        sites: Mapping[str, Site] | None = None,
        closures: Mapping[str, Sequence[Closure]] | None = None,
    ) -> None:
        self.tempted: set[str] = set()
        self._wishes = list(wishes)
        self._open = {
            code: VisitDays((sites or {})[code], (closures or {}).get(code, ()))
            for code in {wish.work.site for wish in self._wishes}
        }

    def __bool__(self) -> bool:
        return bool(self._wishes)

    def look(self, left: PeopleByDay, book: DayBook, staff: Staff) -> None:
        """Looks for room in the days that were left."""
        for wish, day, code in self._chances(left, staff):
            if book.start_for(code, wish.work, day, wish.start) is not None:
                self.tempted.add(wish.work.site)

    def take_for_room(self, left: PeopleByDay, staff: Staff) -> None:
        """Takes it that the days may have room."""
        self.tempted.update(wish.work.site for wish, _, _ in self._chances(left, staff))

    def _chances(self, left: PeopleByDay, staff: Staff) -> Iterator[tuple[Wish, date, str]]:
        """Every wish of a site that is not tempted yet, with every technician and day that might suit it."""
        days = sorted(left)
        for wish in self._wishes:
            site, skills = wish.work.site, frozenset(task.skill for task in wish.work.tasks)
            for day in days[bisect_left(days, wish.first) : bisect_right(days, wish.last)]:
                if site in self.tempted:
                    break
                if day not in self._open[site]:
                    continue
                for code in sorted(left[day] & staff.by_code.keys()):
                    suits = staff.able(code, skills, day) if wish.start is None else staff.at_work(code, day)
                    if suits and code in staff.in_reach(site):
                        yield wish, day, code
