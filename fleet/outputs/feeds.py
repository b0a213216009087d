"""The calendar feeds of a plan: one for the fleet, each site, each technician and each client.

Visits are timed entries, busy only in the feed of the technician who makes them. A visitor's task that no visit
holds is an all-day entry on its due day. What a site's own people do is one entry a week, not one for each task.
Every entry names in its text the moment of its stamp, the latest revision of anything that it tells of: so a calendar
sees a new stamp exactly when it sees new content. Access notes stay on the service sheet.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TypeVar

from fleet.outputs.calendar import Entry, FeedWriter
from fleet.outputs.lookup import Lookup
from fleet.outputs.names import digest, file_names, uid
from fleet.outputs.words import CLOSED, count_words, minutes_words, monday_of, plain, short_day
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Revision, Task, Visit
from fleet.values.vocabulary import PerformedBy

LARGEST_OCTETS = 1_000_000
MOST_ENTRIES = 1000
"""Beyond either, a widespread web calendar takes a feed only in part."""

Key = TypeVar("Key")
Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class _Filed:
    """An entry with those whom it concerns."""

    entry: Entry
    site: str | None
    technicians: tuple[str, ...] = ()
    checklist: bool = False


def all_feeds(
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    revisions: Mapping[str, Revision],
    *,
    today: date,
    days_back: int = 30,
    days_ahead: int = 180,
) -> dict[str, bytes]:
    """Every feed by file name: fleet.ics, site-CODE.ics, technician-CODE.ics, client-CODE.ics.

    Holds what falls from `days_back` before to `days_ahead` after `today`, both inside. A feed that grows too large
    goes on in NAME~part2.ics and so on. A key without a revision counts as unchanged since the start of the plan's day.
    The fleet's feed leaves the weekly checklists to the feeds of the sites, unless there is only one site.
    """
    maker = _Maker(plan, Lookup(fleet, catalogue), revisions)
    first, last = today - timedelta(days=days_back), today + timedelta(days=days_ahead)
    filed = [item for item in maker.filed() if _falls_within(item.entry, first, last)]
    by_site = _by(filed, lambda item: item.site)
    by_technician: dict[str, list[_Filed]] = defaultdict(list)
    for item in filed:
        for code in item.technicians:
            by_technician[code].append(item)
    sites_of_client = _by(fleet.sites, lambda site: site.client)

    writer = FeedWriter()
    whole = filed if len(fleet.sites) == 1 else [item for item in filed if not item.checklist]
    feeds = _in_parts(writer, "fleet.ics", "Tank upkeep", whole)
    for code, file_name in file_names("site", fleet.site_by_code, "ics").items():
        feeds |= _in_parts(writer, file_name, f"Tank upkeep: {fleet.site_by_code[code].name}", by_site[code])
    for code, file_name in file_names("client", fleet.client_by_code, "ics").items():
        own = [item for site in sites_of_client[code] for item in by_site[site.code]]
        feeds |= _in_parts(writer, file_name, f"Tank upkeep: {fleet.client_by_code[code].name}", own)
    for code, file_name in file_names("technician", fleet.technician_by_code, "ics").items():
        busy = [replace(item, entry=replace(item.entry, busy=True)) for item in by_technician[code]]
        feeds |= _in_parts(writer, file_name, f"Visits: {fleet.technician_by_code[code].name}", busy)
    return feeds


class _Maker:
    """Turns the tasks and visits of one plan into entries. All texts may be read by the client of the site."""

    def __init__(self, plan: Plan, lookup: Lookup, revisions: Mapping[str, Revision]) -> None:
        self.plan, self.lookup, self.revisions = plan, lookup, revisions
        self.start_of_day = datetime.combine(plan.today, time(), UTC)

    def filed(self) -> Iterator[_Filed]:
        """Visits, then open tasks of visitors without a visit, then the weekly checklists."""
        for visit in self.plan.visits:
            people = tuple(code for code in (visit.technician, visit.second_technician) if code is not None)
            yield _Filed(self._visit(visit), visit.site, people)
        checklist = defaultdict(list)
        for task in self.plan.tasks:
            if task.state in CLOSED or task.visit in self.plan.visit_by_key:
                continue
            if task.performed_by is PerformedBy.VISITOR:
                yield _Filed(self._task(task), task.site)
            elif task.site is not None:
                checklist[task.site].append(task)
        for site, tasks in sorted(checklist.items()):
            yield from self._checklist(site, tasks)

    def _revision(self, key: str) -> Revision:
        return self.revisions.get(key) or Revision(key, 0, self.start_of_day, self.start_of_day)

    def _place(self, site: str | None) -> tuple[str, str]:
        """Name and location line of a site."""
        row = self.lookup.fleet.site_by_code.get(site or "")
        if row is None:
            return "no site", ""
        return row.name, f"{row.name}, {row.address}" if row.address else row.name

    def _visit(self, visit: Visit) -> Entry:
        name, location = self._place(visit.site)
        revision = self._revision(visit.key)
        tasks = [self.plan.task_by_key[key] for key in visit.tasks if key in self.plan.task_by_key]
        as_of = max([revision.modified_at, *(self._revision(task.key).modified_at for task in tasks)])
        lines = [
            f"{count_words(len(visit.tasks), 'task')}, {minutes_words(visit.minutes)}. "
            f"By {self.lookup.people(visit)}. Visit {visit.key}.",
            "",
            *(f"{task.title}: {self.lookup.label(task.subject)}, {task.key}" for task in tasks),
            "",
            "The service sheet of the visit holds steps, readings and cautions.",
            _as_of(as_of),
        ]
        return Entry(
            uid=uid("visit", visit.key),
            start=visit.start,
            end=visit.end,
            summary=f"Tank visit: {name}" if visit.technician else f"Tank visit, no technician yet: {name}",
            description="\n".join(lines),
            location=location,
            categories=("Visit",),
            busy=False,
            tentative=visit.technician is None,
            sequence=revision.sequence,
            created_at=revision.created_at,
            modified_at=as_of,
        )

    def _task(self, task: Task) -> Entry:
        name, location = self._place(task.site)
        revision = self._revision(task.key)
        lines = [
            f"{plain(task.state).capitalize()}. From {short_day(task.earliest)} to {short_day(task.latest)}.",
            f"At {name}. {minutes_words(task.minutes)}, {count_words(task.persons, 'person', 'persons')}, "
            f"skill: {task.skill}. Task {task.key}.",
            f"Why: {task.cause.text}",
            _as_of(revision.modified_at),
        ]
        return Entry(
            uid=uid("task", task.key),
            start=task.due,
            end=task.due + timedelta(days=1),
            summary=f"{task.title}: {self.lookup.label(task.subject)}",
            description="\n".join(lines),
            location=location,
            categories=("Task", plain(task.skill).capitalize()),
            busy=False,
            tentative=False,
            sequence=revision.sequence,
            created_at=revision.created_at,
            modified_at=revision.modified_at,
        )

    def _checklist(self, site: str, tasks: Sequence[Task]) -> Iterator[_Filed]:
        """One entry for each week in which something falls due; what is late falls in the week of the plan's day.

        A week's entry never moves, so its SEQUENCE stays 0. It is stamped with the latest change of any task on the
        site's list.
        """
        name, location = self._place(site)
        revisions = [self._revision(task.key) for task in tasks]
        as_of = max(revision.modified_at for revision in revisions)
        created_at = min(revision.created_at for revision in revisions)
        weeks = _by(tasks, lambda task: monday_of(max(task.due, self.plan.today)))
        for monday, of_week in sorted(weeks.items()):
            in_order = sorted(of_week, key=lambda task: (task.due, task.title, task.subject, task.key))
            lines = [
                f"{count_words(len(in_order), 'item')} for the people at {name}.",
                "",
                *(f"{short_day(task.due)}: {task.title}, {self.lookup.label(task.subject)}" for task in in_order),
                "",
                _as_of(as_of),
            ]
            entry = Entry(
                uid=uid("checklist", digest(site, monday.isoformat())),
                start=monday,
                end=monday + timedelta(days=7),
                summary=f"Tank checklist of the week: {count_words(len(in_order), 'item')}, {name}",
                description="\n".join(lines),
                location=location,
                categories=("Checklist",),
                busy=False,
                tentative=False,
                sequence=0,
                created_at=created_at,
                modified_at=as_of,
            )
            yield _Filed(entry, site, checklist=True)


def _as_of(moment: datetime) -> str:
    return f"As of {moment.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC."


def _falls_within(entry: Entry, first: date, last: date) -> bool:
    """Whether any day of the entry lies in [first, last]; an instant counts by its UTC day."""
    if isinstance(entry.start, datetime) and isinstance(entry.end, datetime):
        return entry.start.astimezone(UTC).date() <= last and entry.end.astimezone(UTC).date() >= first
    return entry.start <= last and entry.end > first


def _by(items: Iterable[Item], key: Callable[[Item], Key]) -> defaultdict[Key, list[Item]]:
    groups: defaultdict[Key, list[Item]] = defaultdict(list)
    for item in items:
        groups[key(item)].append(item)
    return groups


def _in_parts(writer: FeedWriter, file_name: str, name: str, filed: Sequence[_Filed]) -> dict[str, bytes]:
    """The feed under its own name, or as many files as it takes to keep each within the limits.

    A site's entries go to the part that a digest of its code picks, so that they stay where they are when other
    sites come and go; a feed of a single site is dealt out by entry.
    """
    part_count = 1
    while True:
        parts: list[list[Entry]] = [[] for _ in range(part_count)]
        many_sites = len({item.site for item in filed}) >= part_count * 2
        for item in filed:
            by = item.site or "" if many_sites else item.entry.uid
            parts[int(digest(by), 16) % part_count].append(item.entry)
        names = [(file_name, name)]
        stem = file_name.removesuffix(".ics")
        names += [(f"{stem}~part{number}.ics", f"{name}, part {number}") for number in range(2, part_count + 1)]
        feeds = {file: writer.feed(title, part) for (file, title), part in zip(names, parts, strict=True)}
        if all(len(part) <= MOST_ENTRIES for part in parts) and all(
            len(feed) <= LARGEST_OCTETS for feed in feeds.values()
        ):
            return feeds
        part_count *= 2
