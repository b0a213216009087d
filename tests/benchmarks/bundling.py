"""How few visits the planner makes, against the fewest there can be.

Fixed windows: the planner's calls against an exact dynamic programme, and the time of both for each 1,000 tasks.
Floating intervals, where the next window hangs on the day the work was done: random small sites over thirteen weeks,
planned, visited once, planned again from what was done, and so on; against the fewest visits that any order of work
allows, found by going through every state of the site. Beside it, on the same sites, the planner without the plan
before, a rollout, and two rules of thumb.

The planner aims at due days, counts later occurrences from due days, and moves no visit that still suits: that costs
visits here. The rules beside it come as late as they may and plan nothing but the next visit.

    python tests/benchmarks/bundling.py [--small]
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import combinations

from fleet.planning.bundling import Item, call_days, stab
from fleet.planning.seasons import Days

DAY_0 = date(2026, 1, 5)
"""A Monday."""
HORIZON = 13 * 7
SITES, SITES_SMALL = 150, 150
MOST_STATES = 200_000


def say(text: str) -> None:
    sys.stdout.write(text + "\n")


@dataclass(frozen=True, slots=True)
class Work:
    """Work that comes back `every` so many days; may be done so many days `early` or `late`."""

    every: int
    early: int
    late: int

    def window(self, done: int) -> tuple[int, int]:
        return done + self.every - self.early, done + self.every + self.late


@dataclass(frozen=True, slots=True)
class Site:
    """Work, the day each was last done, and the days from 0 on which the site is open."""

    work: tuple[Work, ...]
    done: tuple[int, ...]
    open_days: tuple[int, ...]

    def within(self, first: int, last: int) -> list[int]:
        return [day for day in self.open_days if first <= day <= last]

    def wanted(self, done: Sequence[int]) -> list[int]:
        """Numbers of the work whose window ends within the horizon."""
        return [n for n, work in enumerate(self.work) if work.window(done[n])[1] < HORIZON]


def made_up(dice: random.Random) -> Site:
    """Two or three kinds of work every one to eight weeks, 30 % early and 20 % late; one to five open days a week.
    Every window holds an open day, whenever the work was done."""
    while True:
        weekdays = dice.sample(range(5), dice.choice((1, 2, 2, 3, 5)))
        days = tuple(day for day in range(HORIZON) if day % 7 in weekdays)
        work = []
        for _ in range(dice.choice((2, 3))):
            every = dice.choice((7, 10, 14, 21, 28, 42, 56))
            work.append(Work(every, round(0.3 * every), round(0.2 * every)))
        done = tuple(-dice.randrange(1, one.every) for one in work)
        site = Site(tuple(work), done, days)
        if all(one.early + one.late + 1 >= longest_gap(weekdays) for one in work):
            return site


def longest_gap(weekdays: Sequence[int]) -> int:
    ordered = sorted(weekdays)
    return max(
        (after - day) % 7 or 7 for day, after in zip(ordered, [*ordered[1:], ordered[0]], strict=True)
    )  # fmt: skip


def fewest(site: Site) -> int:
    """By breadth first: all states that can be reached with one visit more, until one wants nothing more.

    A visit is made at a day by which somebody has to come at the latest, or before; it does any of the work whose
    window holds the day, and at least one.
    """
    states, visits = {(site.done, -1)}, 0
    while states:
        if len(states) > MOST_STATES:
            raise RuntimeError("too many states")
        following = set()
        for done, last in states:
            wanted = site.wanted(done)
            if not wanted:
                return visits
            deadline = min(site.work[n].window(done[n])[1] for n in wanted)
            for day in site.within(last + 1, deadline):
                may = [n for n in range(len(done)) if site.work[n].window(done[n])[0] <= day]
                for count in range(1, len(may) + 1):
                    for chosen in combinations(may, count):
                        following.add((tuple(day if n in chosen else one for n, one in enumerate(done)), day))
        states, visits = following, visits + 1
    raise RuntimeError("no visits serve the site")


Rule = Callable[[Site, Sequence[int], int], tuple[int, list[int]] | None]
"""From a site, the days done and the day of the last visit: the next visit and its work; None for no more."""


def visits_by(rule: Rule, site: Site, last: int = -1) -> int:
    done, visits = list(site.done), 0
    while (step := rule(site, done, last)) is not None:
        day, work = step
        assert day > last
        assert work
        for n in work:
            first, latest = site.work[n].window(done[n])
            assert first <= day <= latest, "outside its window"
            done[n] = day
        last, visits = day, visits + 1
    return visits


def all_that_may_be_done(site: Site, done: Sequence[int], last: int) -> tuple[int, list[int]] | None:
    """On the last day that the tightest window allows, everything whose window holds it."""
    wanted = site.wanted(done)
    if not wanted:
        return None
    day = site.within(last + 1, min(site.work[n].window(done[n])[1] for n in wanted))[-1]
    return day, [n for n in range(len(done)) if site.work[n].window(done[n])[0] <= day]


def what_cannot_wait(site: Site, done: Sequence[int], last: int) -> tuple[int, list[int]] | None:
    """The same day, but only the work that no later open day suits."""
    step = all_that_may_be_done(site, done, last)
    if step is None:
        return None
    day, may = step
    return day, [n for n in may if not site.within(day + 1, site.work[n].window(done[n])[1])]


class Planner:
    """The planner's own bundling, made again after every visit; from the days of the plan before if it `keeps` them."""

    def __init__(self, keeps: bool = True) -> None:
        self._keeps = keeps
        self._kept: dict[str, date] = {}
        self._times_done: dict[int, int] = {}

    def __call__(self, site: Site, done: Sequence[int], last: int) -> tuple[int, list[int]] | None:
        open_days = Days([DAY_0 + timedelta(days=day) for day in site.open_days if day > last])
        items = [item for n in range(len(done)) for item in self._windows(site, n, done[n], open_days)]
        if not items:
            return None
        calls = call_days(items, open_days, self._kept if self._keeps else None)
        self._kept = {item.key: day for day, some in calls.items() for item in some}
        first = min(calls)
        work = [int(item.key.split("|")[0]) for item in calls[first]]
        for number in work:
            self._times_done[number] = self._times_done.get(number, 0) + 1
        return (first - DAY_0).days, work

    def _windows(self, site: Site, number: int, done: int, open_days: Days) -> Iterator[Item]:
        """The next occurrence, and those after it counted from its due day; known by how often the work was done."""
        work, after, turn = site.work[number], done, self._times_done.get(number, 0)
        while True:
            first, latest = work.window(after)
            if latest >= HORIZON:
                return
            within = open_days.between(DAY_0 + timedelta(days=first), DAY_0 + timedelta(days=latest))
            due = after + work.every
            yield Item(f"{number}|{turn}", within[0], within[-1], DAY_0 + timedelta(days=due))
            after, turn = due, turn + 1


def rollout(site: Site, done: Sequence[int], last: int) -> tuple[int, list[int]] | None:
    """Tries the last days that the tightest window allows, with all or some of the work, each finished by doing all
    that may be done; and takes what makes fewest visits in the end."""
    step = all_that_may_be_done(site, done, last)
    if step is None:
        return None
    latest, best = step[0], None
    for day in site.within(last + 1, latest)[-3:]:
        may = [n for n in range(len(done)) if site.work[n].window(done[n])[0] <= day]
        must = {n for n in may if not site.within(day + 1, site.work[n].window(done[n])[1])}
        for count in range(1, len(may) + 1):
            for chosen in combinations(may, count):
                if must.issubset(chosen):
                    after = [day if n in chosen else one for n, one in enumerate(done)]
                    rest = visits_by(all_that_may_be_done, replace(site, done=tuple(after)), day)
                    found = (rest, -len(chosen), -day, chosen)
                    best = found if best is None or found < best else best
    assert best is not None
    return -best[2], list(best[3])


def random_items(dice: random.Random, count: int, days: int) -> list[Item]:
    items = []
    for number in range(count):
        first = dice.randrange(days)
        last = min(days - 1, first + dice.randrange(0, 40))
        due = dice.randrange(first, last + 1)
        items.append(Item(f"K{number}", *(DAY_0 + timedelta(days=day) for day in (first, last, due))))
    return items


def fewest_days(items: Sequence[Item]) -> int:
    """The fewest days that meet every window, by a dynamic programme over the last day chosen."""
    days = sorted({item.last for item in items})
    best: dict[date, int] = {}
    for at, day in enumerate(days):
        counts = [1] if not any(item.last < day for item in items) else []
        for before in days[:at]:
            if not any(before < item.first and item.last < day for item in items):
                counts.append(best[before] + 1)
        if counts:
            best[day] = min(counts)
    return min(best[day] for day in best if not any(item.first > day for item in items))


def fixed(cases: int, tasks: int) -> None:
    dice = random.Random(7)
    exact = ours = 0
    exact_s = ours_s = 0.0
    for _ in range(cases):
        items = random_items(dice, tasks, 365)
        began = time.perf_counter()
        ours += len(stab(items))
        between = time.perf_counter()
        exact += fewest_days(items)
        ours_s, exact_s = ours_s + between - began, exact_s + time.perf_counter() - between
    say(f"fixed windows, {cases} sites of {tasks} tasks: visits / fewest = {ours / exact:.3f}")
    per = 1000 / (cases * tasks)
    say(
        f"  {ours_s * per * 1e3:.2f} ms for 1,000 tasks; the exact programme takes {exact_s / ours_s:.0f} times as long"
    )


def floating(sites: int, seed: int = 3) -> dict[str, float]:
    """The mean of (visits / fewest - 1) of each rule over the sites, and its share of sites where it is exact."""
    dice = random.Random(seed)
    made = [made_up(dice) for _ in range(sites)]
    least = [fewest(site) for site in made]
    say(f"floating intervals, {sites} sites, {sum(least)} visits at least:")
    found = {}
    rules: dict[str, Callable[[], Rule]] = {
        "the planner": Planner,
        "the planner, afresh": lambda: Planner(keeps=False),
        "a rollout": lambda: rollout,
        "all that may be done": lambda: all_that_may_be_done,
        "only what cannot wait": lambda: what_cannot_wait,
    }
    for name, rule in rules.items():
        began = time.perf_counter()
        counts = [visits_by(rule(), site) for site in made]
        took = (time.perf_counter() - began) / sites * 1e3
        gap = sum(count / fewest_here - 1 for count, fewest_here in zip(counts, least, strict=True)) / sites
        exact = sum(count == fewest_here for count, fewest_here in zip(counts, least, strict=True))
        total, worst = (
            sum(counts) / sum(least),
            max(count / fewest_here for count, fewest_here in zip(counts, least, strict=True)),
        )
        say(
            f"  {name:22} mean gap {100 * gap:+.2f} %, in all x {total:.4f}, exact at {exact} of {sites}, "
            f"worst x {worst:.2f}, {took:.2f} ms a site"
        )
        found[name] = gap
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--small", action="store_true", help="a minute's version")
    small = parser.parse_args().small
    fixed(20 if small else 100, 60 if small else 150)
    floating(SITES_SMALL if small else 3 * SITES)


if __name__ == "__main__":
    main()
