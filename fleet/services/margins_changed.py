"""What dated changes do to the margins on the hot day: worked out for the plan, and kept on the trail."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Set
from datetime import date, datetime, timedelta
from hashlib import blake2b

from fleet.db.repository import MarginCheck, Register
from fleet.files.catalogue_files import read_catalogue
from fleet.thermal.assess import assess
from fleet.values.assessment import Assessment, MarginChange
from fleet.values.catalogue import Catalogue
from fleet.values.changes import Change, find_changes
from fleet.values.fleet import Fleet, snapshot
from fleet.values.links import neighbourhoods, together
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import Scenario

ONE_DAY = timedelta(days=1)
RECENT_CHANGE_DAYS = 71
"""A change is looked at again after 30 days, and that is called for until 40 days later; older ones cause nothing new,
and what they caused keeps its numbers."""


def margin_changes(rows: RegisterRows, fleet: Fleet, catalogue: Catalogue, through: date) -> tuple[MarginChange, ...]:
    """The hot-day margin of each tank whose facts changed lately, or will up to `through`, on the day before the change
    and on the day itself, by day and tank."""
    return changes_of_margin(rows, fleet.changes, catalogue, fleet.day - timedelta(days=RECENT_CHANGE_DAYS), through)


def changes_of_margin(
    rows: RegisterRows, changes: Iterable[Change], catalogue: Catalogue, after: date, through: date
) -> tuple[MarginChange, ...]:
    """The same for these changes, as far as they are later than `after` and not later than `through`."""
    tanks_on: dict[date, set[str]] = defaultdict(set)
    for change in changes:
        if after < change.on <= through:
            tanks_on[change.on].add(change.tank)
    around = neighbourhoods(rows, {tank for tanks in tanks_on.values() for tank in tanks})
    found = []
    for day, tanks in tanks_on.items():
        near = together(around[tank] for tank in tanks)
        before = _hot_day(snapshot(near, day - ONE_DAY), catalogue, tanks)
        since = _hot_day(snapshot(near, day), catalogue, tanks)
        found += [MarginChange(tank, day, before.get(tank), since.get(tank)) for tank in tanks]
    return tuple(sorted(found, key=lambda one: (one.day, one.tank)))


def _hot_day(fleet: Fleet, catalogue: Catalogue, tanks: Set[str]) -> dict[str, Assessment]:
    standing = [
        tank
        for tank in sorted(tanks & fleet.tank_by_code.keys())
        if fleet.tank_by_code[tank].room in fleet.room_by_code
    ]
    results = assess(fleet, catalogue.class_by_code, scenarios=(Scenario.HOT_DAY,), tanks=standing)
    return {result.tank: result for result in results}


def keep_margins(register: Register, changes: Iterable[MarginChange], now: datetime) -> int:
    """Keeps the margins before and after each change as margin checks, each once. Returns how many were new."""
    checks = []
    for change in changes:
        cause = f"changes on {change.day.isoformat()}"
        if change.before is not None:
            checks.append(_check(change.before, change.day - ONE_DAY, f"before {cause}", now))
        if change.after is not None:
            checks.append(_check(change.after, change.day, f"after {cause}", now))
    return register.save_margin_checks(checks)


def _check(assessment: Assessment, day: date, cause: str, now: datetime) -> MarginCheck:
    digest = blake2b(repr(assessment).encode(), digest_size=16).hexdigest()
    return MarginCheck.of(assessment, day=day, cause=cause, inputs_digest=digest, at=now)


def keep_margins_of_news(register: Register, before: RegisterRows, now: datetime) -> int:
    """Keeps the margins before and after every recent change that the register did not hold in its rows `before`.

    A register that held nothing was set up and not changed. Returns how many checks were new.
    """
    if not before.tanks:
        return 0
    rows = register.rows()
    known = set(find_changes(before))
    news = [change for change in find_changes(rows) if change not in known]
    after = now.date() - timedelta(days=RECENT_CHANGE_DAYS)
    return keep_margins(register, changes_of_margin(rows, news, read_catalogue(), after, date.max), now)
