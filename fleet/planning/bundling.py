"""Tasks into visits: the fewest days of call at one site that meet every task's window.

The tasks of a site that the same people may do are intervals on its open days. Calling on the last open day of the
window that closes first, and taking along everything whose window holds that day, gives the fewest calls (piercing
of intervals on a line: the textbook exchange argument). A call then slides to the day, among those that suit all of
its tasks, that lies nearest to their due days; that costs no further call.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.planning.seasons import Days

LATE_WEIGHT = 3
"""A day after the due day counts as much as so many days before it when a call slides to its best day."""


@dataclass(frozen=True, slots=True)
class Item:
    """A task to be placed: its window cut to open days (both ends open days, inside) and the day aimed at."""

    key: str
    first: date
    last: date
    due: date


def stab(items: Iterable[Item]) -> list[date]:
    """The fewest days such that every window holds one; each is the last day of some window."""
    days: list[date] = []
    for item in sorted(items, key=lambda one: (one.last, one.first, one.key)):
        if not days or days[-1] < item.first:
            days.append(item.last)
    return days


def allot(items: Iterable[Item], days: Sequence[date]) -> dict[date, list[Item]]:
    """Puts each item on the day of its window that lies nearest to its due day, the earlier of two. `days` sorted;
    items whose window holds none of them are left out."""
    put: dict[date, list[Item]] = defaultdict(list)
    for item in items:
        within = days[bisect_left(days, item.first) : bisect_right(days, item.last)]
        if within:
            put[min(within, key=lambda day: (abs((day - item.due).days), day))].append(item)
    return put


def best_day(items: Sequence[Item], open_days: Days) -> date:
    """The open day, of those that suit every item, with the least sum of days from the due days (late days weigh
    more), the earlier of two."""
    first, last = max(one.first for one in items), min(one.last for one in items)
    candidates = {first, last}
    for item in items:
        for day in (open_days.last_until(item.due), open_days.first_from(item.due)):
            if day is not None and first <= day <= last:
                candidates.add(day)

    def cost(day: date) -> int:
        apart = ((day - one.due).days for one in items)
        return sum(days * LATE_WEIGHT if days > 0 else -days for days in apart)

    return min(sorted(candidates), key=cost)


def call_days(items: Sequence[Item], open_days: Days, kept: Mapping[str, date] | None = None) -> dict[date, list[Item]]:
    """Every item on a day of call.

    `kept` are the days on which items were placed before. An item stays on its day while its window holds it; what is
    new or has moved joins those calls where it can, and only what is left over asks for new ones.
    """
    kept = kept or {}
    put: dict[date, list[Item]] = defaultdict(list)
    loose: list[Item] = []
    for item in sorted(items, key=lambda one: one.key):
        day = kept.get(item.key)
        if day is not None and item.first <= day <= item.last and day in open_days:
            put[day].append(item)
        else:
            loose.append(item)
    joined = allot(loose, sorted(put))
    for day, more in joined.items():
        put[day].extend(more)
    settled = {item.key for more in joined.values() for item in more}
    rest = [item for item in loose if item.key not in settled]
    for group in allot(rest, stab(rest)).values():
        put[best_day(group, open_days)].extend(group)
    return {day: put[day] for day in sorted(put)}
