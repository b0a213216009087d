"""What of the plan before stands, because nothing that it follows from has changed.

A part of the fleet that has the fingerprint it had keeps its tasks and visits, and only the others are planned; the
plan is the same as if all of them were. For that the visits that stand fill the days of their technicians, and what
nobody had room for is planned again once somebody's day within its window is another.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from fleet.values.plan import Plan, Task, Unplaced, Visit
from fleet.values.register import Site

Row = TypeVar("Row")
PersonDay = tuple[str, date]
VisitsByPerson = Mapping[PersonDay, Sequence[Visit]]


@dataclass(frozen=True, slots=True)
class Split:
    """The plan before in two: what stands, and `open`, what is planned again."""

    tasks: Sequence[Task] = ()
    visits: Sequence[Visit] = ()
    unplaced: Sequence[Unplaced] = ()
    open: Plan | None = None


def split(previous: Plan | None, codes: Collection[str], sites: Collection[str]) -> Split:
    """`codes` are the subjects, and `sites` the sites, of the parts that stand."""
    if previous is None or not codes:
        return Split(open=previous)
    tasks = [task for task in previous.tasks if task.subject in codes]
    open_tasks = tuple([task for task in previous.tasks if task.subject not in codes])
    open_keys = {task.key for task in open_tasks}
    return Split(
        tasks,
        [visit for visit in previous.visits if visit.site in sites],
        [one for one in previous.unplaced if one.key not in open_keys],
        Plan(
            previous.today,
            previous.through,
            open_tasks,
            tuple(visit for visit in previous.visits if visit.site not in sites),
            tuple(one for one in previous.unplaced if one.key in open_keys),
        ),
    )


def people_of(visit: Visit) -> Iterable[str]:
    return (code for code in (visit.technician, visit.second_technician) if code is not None)


def by_person(visits: Iterable[Visit]) -> dict[PersonDay, list[Visit]]:
    """The visits in each day of each technician."""
    found: dict[PersonDay, list[Visit]] = defaultdict(list)
    for visit in visits:
        for code in people_of(visit):
            found[code, visit.day].append(visit)
    return found


def people_by_day(visits: Iterable[Visit]) -> dict[date, set[str]]:
    """Who makes the visits of each day."""
    found: dict[date, set[str]] = defaultdict(set)
    for visit in visits:
        found[visit.day].update(people_of(visit))
    return found


def sites_that_differ(before: Iterable[Visit], after: Iterable[Visit]) -> set[str]:
    """The sites whose visits are not the same."""
    old, new = ({visit.key: visit for visit in visits} for visits in (before, after))
    keys = (key for key in old.keys() | new.keys() if old.get(key) != new.get(key))
    return {visit.site for key in keys for visit in (old.get(key), new.get(key)) if visit is not None}


def sites_on_mixed_days(visits: Iterable[Visit], sites: Mapping[str, Site]) -> set[str]:
    """Sites on days of a technician of which some are of known place and some are not. As driving to and from the
    latter takes no time, the visits of such a day fit in one order and not in another."""
    unknown = {code for code, site in sites.items() if site.latitude is None or site.longitude is None}
    if not unknown or len(unknown) == len(sites):
        return set()
    days = ({visit.site for visit in some} for some in by_person(visits).values())
    return {site for there in days if not there.isdisjoint(unknown) and not there <= unknown for site in there}


def merged(kept: Sequence[Row], new: Iterable[Row], name: Callable[[Row], Any]) -> tuple[Row, ...]:
    """Both in order of `name`, in which `kept` is already."""
    found: list[Row] = []
    taken = 0
    for one in sorted(new, key=name):
        at = bisect_left(kept, name(one), taken, key=name)
        found += kept[taken:at]
        found.append(one)
        taken = at
    return (*found, *kept[taken:])
