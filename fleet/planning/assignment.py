"""Calls to technicians and clock times: who is able, nearest, and has room that day.

A first, simple pass: each call goes to the nearest able technician with room. What was planned before stays where it
is; new work never drives it away. A call that nobody can make as a whole is cut: by skill, by thing, by task. What is
then left over is in no visit.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from fleet.planning.day_book import DayBook, local_minute
from fleet.planning.placed import Placed, as_visits
from fleet.planning.site_calls import CallKeys, SiteCall
from fleet.planning.staff import Staff
from fleet.planning.standing import people_by_day, people_of
from fleet.planning.travel import place
from fleet.planning.wishes import Wishes
from fleet.planning.working_order import Workplace
from fleet.values.plan import Task, Visit
from fleet.values.register import Site


class Crews:
    """Hands out the calls of all sites."""

    def __init__(
        self,
        staff: Staff,
        sites: Mapping[str, Site],
        workplace: Workplace,
        today: date,
        standing: Mapping[tuple[str, date], Sequence[Visit]] | None = None,
        wishes: Wishes | None = None,
    ) -> None:
        """`standing` are the visits of sites that nothing is asked for, by technician and day; `wishes` are told of the
        days that visits have left."""
        self._staff, self._sites, self._workplace, self._today = staff, sites, workplace, today
        self._book = DayBook(staff, sites, workplace, standing)
        self._standing = standing or {}
        self._wishes = Wishes() if wishes is None else wishes
        self.unsettled: set[str] = set()
        """Sites of which some call found another place than it asked for, and will ask for that again."""
        self._called_on: set[tuple[str, str, date]] = set()
        self._in_hands: Counter[tuple[str, date, str]] = Counter()

    def hold(self, visit: Visit, tasks: Sequence[Task]) -> None:
        """Keeps the hours of a visit that stands, whatever else is planned."""
        call = SiteCall(
            visit.key, visit.site, "", visit.day, tuple(tasks), tuple((visit.day, visit.day) for _ in tasks)
        )
        people = [code for code in (visit.technician, visit.second_technician) if code in self._staff.by_code]
        self._book.book(call.work, visit.day, self._minute(visit), [code for code in people if code is not None])

    def assign(
        self, calls: Sequence[SiteCall], previous: Mapping[str, Visit], agreed: Collection[str], keys: CallKeys
    ) -> tuple[list[Visit], list[SiteCall]]:
        """A visit for every call that somebody can make, sorted by day, site and key; and what nobody can, task by
        task. Where there are no technicians at all every call is a visit without one."""
        ordered = sorted(calls, key=lambda call: (call.day, call.site, call.key))
        if not self._staff.by_code:
            return as_visits([self._unmanned(call) for call in self._in_order_of_need(ordered)], self._sites), []
        placed, waiting = self._kept(ordered, previous, agreed)
        placed, rests = self._grown(ordered, placed, previous, agreed, keys)
        if self._wishes:
            self._wishes.look(people_by_day(self._left(placed, previous)), self._book, self._staff)
        stayed = {one.call.key for one in placed}
        waiting = sorted([*waiting, *rests], key=lambda call: (call.key not in agreed, call.day, call.site, call.key))
        placed += self._placed_anew(waiting, placed, previous)
        done = {task.key for one in placed for task in one.call.tasks}
        missed: list[SiteCall] = []
        for call in waiting:
            if call.tasks[0].key not in done:
                parts, left = self._in_parts(call, previous, keys)
                placed += parts
                missed += left
        visits = as_visits(self._with_seconds(placed), self._sites)
        self.unsettled = {visit.site for visit in visits if visit.key not in stayed}
        if self._wishes:
            # Driving to and from a site of no known place takes no time, so that a visit there may even make room.
            new = (visit for visit in visits if visit.key not in stayed and not self._is_placed(visit.site))
            self._wishes.take_for_room(people_by_day(new), self._staff)
        return visits, missed

    def _is_placed(self, site: str) -> bool:
        row = self._sites[site]
        return place(row.latitude, row.longitude) is not None

    def _left(self, placed: Iterable[Placed], previous: Mapping[str, Visit]) -> Iterator[Visit]:
        """The visits before that have left their hour, or some of it."""
        now = {one.call.key: one for one in placed}
        for key, visit in previous.items():
            one = now.get(key)
            if (
                one is None
                or (one.day, one.start) != (visit.day, self._minute(visit))
                or one.call.work.minutes < visit.minutes
                or not set(people_of(visit)).issubset(one.people)
            ):
                yield visit

    def _kept(
        self, ordered: Sequence[SiteCall], previous: Mapping[str, Visit], agreed: Collection[str]
    ) -> tuple[list[Placed], list[SiteCall]]:
        """The calls that stay in the same hands on the day and at the hour they had, with the work they had; one that
        is agreed may stay at another hour. And those that do not."""
        known = [
            (call.of(previous[call.key].tasks), previous[call.key])
            for call in ordered
            if call.key in previous and previous[call.key].day == call.day
        ]
        # Those that take no longer than they did fit in as they did: what became longer drives none of them away,
        # unless it is agreed and they are not.
        known.sort(key=lambda one: (one[0].key not in agreed, one[0].work.minutes > one[1].minutes))
        placed: dict[str, Placed] = {}
        for work, before in known:
            one = self._again(work, before, self._minute(before))
            if work.key in agreed and (one is None or work.work.minutes > before.minutes):
                in_its_day = self._standing.get((before.technician or "", before.day), ())
                self._wishes.tempted.update(visit.site for visit in in_its_day)
                one = one or self._again(work, before, None)
            if one is not None:
                placed[work.key] = one
        return list(placed.values()), [call for call in ordered if call.key not in placed]

    def _again(self, call: SiteCall, before: Visit, wished: int | None) -> Placed | None:
        code = before.technician
        if code not in self._staff.by_code or code is None or not self._staff.able(code, call.skills, call.day):
            return None
        start = self._book.start_for(code, call.work, call.day, wished)
        if start is None:
            return None
        second = before.second_technician if call.persons > 1 else None
        if second is not None and not self._can_help(second, call, call.day, start):
            second = None
        return self._booked(Placed(call, call.day, start, code, second))

    def _grown(
        self,
        ordered: Sequence[SiteCall],
        kept: Sequence[Placed],
        previous: Mapping[str, Visit],
        agreed: Collection[str],
        keys: CallKeys,
    ) -> tuple[list[Placed], list[SiteCall]]:
        """The kept calls with the new work that they have room for, and the rest of it as calls of its own."""
        whole = {call.key: call for call in ordered}
        grown, rests = [], []
        for one in kept:
            call = whole[one.call.key]
            if len(call.tasks) == len(one.call.tasks):
                grown.append(one)
                continue
            self._released(one)
            wishes = (one.start,) if call.key in agreed else (one.start, None)
            larger = next((found for wish in wishes if (found := self._larger(one, call, wish)) is not None), None)
            if larger is not None:
                grown.append(self._booked(larger))
                continue
            grown.append(self._booked(one))
            new = {task.key for task in call.tasks}.difference(previous[call.key].tasks)
            rests.append(keys.for_part(call.of(new)))
        return grown, rests

    def _larger(self, one: Placed, call: SiteCall, wished: int | None) -> Placed | None:
        """The whole call in the hands that have a part of it, on the same day."""
        code = one.technician
        if code is None or not self._staff.able(code, call.skills, one.day):
            return None
        start = self._book.start_for(code, call.work, one.day, wished)
        if start is None:
            return None
        second = one.second if one.second is not None and self._can_help(one.second, call, one.day, start) else None
        return (
            None if one.second is not None and second is None else replace(one, call=call, start=start, second=second)
        )

    def _placed_anew(
        self, waiting: Sequence[SiteCall], placed: Sequence[Placed], previous: Mapping[str, Visit]
    ) -> list[Placed]:
        found: dict[str, Placed] = {}
        left = list(waiting)
        while left:  # again where a call that left its day lets another have that
            self._called_on = {(one.call.site, one.call.crew, one.day) for one in (*placed, *found.values())}
            self._called_on |= {(call.site, call.crew, call.day) for call in left}
            some = {}
            for call in left:
                one = self._anew(call, previous.get(call.key))
                if one is not None:
                    some[call.key] = one
            found |= some
            moved = any(some[call.key].day != call.day for call in left if call.key in some)
            left = [call for call in left if call.key not in found]
            if not moved:
                break
        return list(found.values())

    def _anew(
        self, call: SiteCall, before: Visit | None, first: date = date.min, last: date = date.max
    ) -> Placed | None:
        """On its own day, else on the day it had before, else on the nearest that suits it and has no such call at the
        site yet; never on one on which the same crew works on the same thing already. If possible with the second
        technician that it takes. None where nobody is able and free."""
        days = self._staff.days_for(call.site, call.skills)
        within = days.between(max(call.first, self._today, first), min(call.last, last))
        fit = [day for day in within if day == call.day or (call.site, call.crew, day) not in self._called_on]
        if call.day in days and call.day not in fit and first <= call.day <= last:
            fit.append(call.day)
        fit = [day for day in fit if not any(self._in_hands[call.crew, day, task.subject] for task in call.tasks)]
        had = None if before is None else before.day
        fit.sort(key=lambda day: (day != call.day, day != had, abs((day - call.day).days), day))
        for alone in (False, True) if call.persons > 1 else (True,):
            for day in fit:
                one = self._on_day(call, day, alone, before)
                if one is not None:
                    self._called_on.add((call.site, call.crew, day))
                    return self._booked(one)
        return None

    def _on_day(self, call: SiteCall, day: date, alone: bool, before: Visit | None) -> Placed | None:
        for code in self._by_preference(call, day, before):
            start = None
            if before is not None and (before.day, before.technician) == (day, code):
                start = self._book.start_for(code, call.work, day, self._minute(before))
            if start is None:
                start = self._book.start_for(code, call.work, day)
            if start is None:
                continue
            if alone:
                return Placed(call, day, start, code)
            second = self._helper(call, day, start, code)
            if second is not None:
                return Placed(call, day, start, code, second)
        return None

    def _by_preference(self, call: SiteCall, day: date, before: Visit | None) -> Iterator[str]:
        """Able technicians: the one who had the visit before, then the nearest base first, then the one with fewest
        minutes that day."""
        had = None if before is None else before.technician
        if had in self._staff.by_code and had is not None and self._staff.able(had, call.skills, day):
            yield had
        for code in self._near(call.site, day):
            if code != had and self._staff.able(code, call.skills, day):
                yield code

    def _near(self, site: str, day: date) -> Iterator[str]:
        for group in self._staff.nearest(site):
            yield from sorted(group, key=lambda code: (self._book.minutes_of(code, day), code))

    def _helper(self, call: SiteCall, day: date, start: int, technician: str) -> str | None:
        """A second technician who is free for the whole of the call; whatever their skills."""
        found = (
            code for code in self._near(call.site, day) if code != technician and self._can_help(code, call, day, start)
        )
        return next(found, None)

    def _can_help(self, code: str, call: SiteCall, day: date, start: int) -> bool:
        """To be asked before the call is in the book."""
        if code not in self._staff.by_code or not self._staff.at_work(code, day):
            return False
        return self._book.start_for(code, call.work, day, start) is not None

    def _with_seconds(self, placed: Sequence[Placed]) -> list[Placed]:
        """Second technicians for calls that take two and have but one, where somebody is free after all."""
        found = []
        for one in sorted(placed, key=lambda one: (one.day, one.call.site, one.call.key)):
            if one.call.persons < 2 or one.second is not None or one.technician is None:
                found.append(one)
                continue
            self._released(one)
            second = self._helper(one.call, one.day, one.start, one.technician)
            found.append(self._booked(replace(one, second=second)))
        return found

    def _in_parts(
        self, call: SiteCall, previous: Mapping[str, Visit], keys: CallKeys
    ) -> tuple[list[Placed], list[SiteCall]]:
        """A call that nobody can make as a whole, cut by skill, then by thing, then by task."""
        placed: list[Placed] = []
        missed = self._cut(call, placed, keys)
        before = previous.get(call.key)
        held = set() if before is None else set(before.tasks)
        heir = max(
            range(len(placed)),
            key=lambda at: (sum(task.key in held for task in placed[at].call.tasks), -at),
            default=None,
        )
        for at, one in enumerate(placed):
            if at != heir:
                placed[at] = replace(one, call=keys.for_part(one.call))
        return placed, missed

    def _cut(self, call: SiteCall, placed: list[Placed], keys: CallKeys) -> list[SiteCall]:
        for name in _CUTS:
            groups: dict[str, list[str]] = defaultdict(list)
            for task in call.tasks:
                groups[name(task)].append(task.key)
            if len(groups) < 2:
                continue
            missed = []
            for some in groups.values():
                part = call.of(some)
                one = self._anew(part, keys.visit_before(part), *self._limits(part, placed))
                if one is not None:
                    placed.append(one)
                else:
                    missed += self._cut(part, placed, keys)
            return missed
        return [call]

    def _limits(self, part: SiteCall, placed: Iterable[Placed]) -> tuple[date, date]:
        """The days between which a part stays in order with the parts placed before it."""
        needs = self._workplace.any_needed
        first = [one.day for one in placed if needs(part.tasks, one.call.tasks)]
        last = [one.day for one in placed if needs(one.call.tasks, part.tasks)]
        return max(first, default=date.min), min(last, default=date.max)

    def _in_order_of_need(self, ordered: Sequence[SiteCall]) -> list[SiteCall]:
        """Of the calls of one day at a site, always the one next that needs fewest of those that are left."""
        by_place: dict[tuple[date, str], list[SiteCall]] = defaultdict(list)
        for call in ordered:
            by_place[call.day, call.site].append(call)
        found: list[SiteCall] = []
        for calls in by_place.values():
            left = {call.key: call for call in calls}
            while left:
                _, key = min((self._needs(call, left.values()), call.key) for call in left.values())
                found.append(left.pop(key))
        return found

    def _needs(self, call: SiteCall, calls: Iterable[SiteCall]) -> int:
        """How many others of the calls it needs that do not need it as well: of two such neither has to wait."""
        needs = self._workplace.any_needed
        return sum(needs(call.tasks, other.tasks) and not needs(other.tasks, call.tasks) for other in calls)

    def _unmanned(self, call: SiteCall) -> Placed:
        """On its own day with no technician, at an hour when nobody is at work on the same things."""
        return self._booked(Placed(call, call.day, self._book.start_for_anybody(call.work, call.day), None))

    def _booked(self, one: Placed) -> Placed:
        self._book.book(one.call.work, one.day, one.start, one.people)
        self._in_hands.update({(one.call.crew, one.day, task.subject) for task in one.call.tasks})
        return one

    def _released(self, one: Placed) -> None:
        self._book.release(one.call.work, one.day, one.start, one.people)
        self._in_hands.subtract({(one.call.crew, one.day, task.subject) for task in one.call.tasks})

    def _minute(self, visit: Visit) -> int:
        return local_minute(visit.start, self._sites[visit.site])


def _skill(task: Task) -> str:
    return str(task.skill)


def _thing(task: Task) -> str:
    return task.tank or task.subject


def _subject(task: Task) -> str:
    return task.subject


def _itself(task: Task) -> str:
    return task.key


_CUTS: tuple[Callable[[Task], str], ...] = (_skill, _thing, _subject, _itself)
"""How a call is cut, in the order in which that is tried."""
