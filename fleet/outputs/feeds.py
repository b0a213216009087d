"""The calendar feeds of a plan: one for the fleet, each site, each technician and each client, and each tank if asked.

Three steps: which entry stands in whose feed, what it is stamped with, and the files, one after the other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TypeVar

from fleet.outputs.calendar import Entry, FeedWriter
from fleet.outputs.feed_entries import EntryMaker, Filed
from fleet.outputs.feed_stamps import PERSONAL, StampBook
from fleet.outputs.lookup import Lookup
from fleet.outputs.names import digest, file_names
from fleet.values.catalogue import Catalogue
from fleet.values.feeds import FeedMemory
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Revision, Visit

LARGEST_OCTETS = 1_000_000
MOST_ENTRIES = 1000
"""Beyond either, a widespread web calendar takes a feed only in part."""

FRAME_OCTETS = 3000
"""More than a feed has around its entries, whatever its name."""

Key = TypeVar("Key")
Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class FeedOptions:
    """What feeds hold: the days from `days_back` before to `days_ahead` after today, both inside; a reminder
    `alarm_minutes` before each visit, in the feeds of technicians alone; with `tanks` a feed for each tank too."""

    days_back: int = 30
    days_ahead: int = 180
    alarm_minutes: int | None = None
    tanks: bool = False


USUAL = FeedOptions()


@dataclass(frozen=True, slots=True)
class Feed:
    """The entries of one feed. A personal one blocks the time of its reader."""

    file_name: str
    title: str
    items: tuple[Filed, ...]
    personal: bool = False


def all_feeds(
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    revisions: Mapping[str, Revision],
    *,
    today: date,
    options: FeedOptions = USUAL,
    cancelled: Sequence[Visit] = (),
) -> dict[str, bytes]:
    """Every feed by file name, as feeds_of_plan makes them, each entry stamped with its latest revision."""
    feeds = feeds_of_plan(plan, fleet, catalogue, revisions, today=today, options=options, cancelled=cancelled)
    return dict(feed_files(feeds))


def feeds_of_plan(
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    revisions: Mapping[str, Revision],
    *,
    today: date,
    options: FeedOptions = USUAL,
    cancelled: Sequence[Visit] = (),
) -> tuple[Feed, ...]:
    """The feeds fleet.ics, site-CODE.ics, client-CODE.ics, technician-CODE.ics and, if asked, tank-CODE.ics.

    `cancelled` visits are shown as such unless the plan has them. The fleet's feed leaves the weekly checklists to the
    feeds of the sites, unless there is only one site.
    """
    first, last = today - timedelta(days=options.days_back), today + timedelta(days=options.days_ahead)
    made = EntryMaker(plan, Lookup(fleet, catalogue), revisions).filed(cancelled)
    filed = [item for item in made if _falls_within(item.entry, first, last)]
    by_site = _by(filed, lambda item: (item.site,))
    by_technician = _by(filed, lambda item: item.technicians)
    by_tank = _by(filed if options.tanks else (), lambda item: item.tanks)
    sites_of_client = _by(fleet.sites, lambda site: (site.client,))

    whole = filed if len(fleet.sites) == 1 else [item for item in filed if not item.checklist]
    feeds = [Feed("fleet.ics", "Tank upkeep", tuple(whole))]
    for code, file_name in file_names("site", fleet.site_by_code, "ics").items():
        feeds.append(Feed(file_name, f"Tank upkeep: {fleet.site_by_code[code].name}", tuple(by_site[code])))
    for code, file_name in file_names("client", fleet.client_by_code, "ics").items():
        own = tuple(item for site in sites_of_client[code] for item in by_site[site.code])
        feeds.append(Feed(file_name, f"Tank upkeep: {fleet.client_by_code[code].name}", own))
    for code, file_name in file_names("technician", fleet.technician_by_code, "ics").items():
        busy = tuple(_personal(item, options.alarm_minutes) for item in by_technician[code])
        feeds.append(Feed(file_name, f"Visits: {fleet.technician_by_code[code].name}", busy, personal=True))
    for code, file_name in file_names("tank", fleet.tank_by_code if options.tanks else (), "ics").items():
        feeds.append(Feed(file_name, f"Tank upkeep: {fleet.tank_by_code[code].name}", tuple(by_tank[code])))
    return tuple(feeds)


def with_stamps(feeds: Sequence[Feed], memory: FeedMemory, now: datetime) -> tuple[tuple[Feed, ...], FeedMemory]:
    """The feeds with stamps that move exactly when content does, under the names they were first given; and what is to
    be remembered beside `memory` for the next time."""
    book = StampBook(memory.stamps, now)
    shared = {
        id(item): replace(item, entry=book.stamped(item.entry))
        for feed in feeds
        if not feed.personal
        for item in feed.items
    }
    stamped, titles = [], {}
    for feed in feeds:
        title = memory.titles.get(feed.file_name)
        if title is None:
            title = titles[feed.file_name] = feed.title
        items = (
            (replace(item, entry=book.stamped(item.entry, PERSONAL)) for item in feed.items)
            if feed.personal
            else (shared[id(item)] for item in feed.items)
        )
        stamped.append(replace(feed, title=title, items=tuple(items)))
    return tuple(stamped), FeedMemory(book.news, titles)


def feed_files(feeds: Iterable[Feed], writer: FeedWriter | None = None) -> Iterator[tuple[str, bytes]]:
    """File names and contents, one at a time. A feed that grows too large goes on in NAME~part2.ics and so on."""
    writer = writer or FeedWriter()
    for feed in feeds:
        stem = feed.file_name.removesuffix(".ics")
        for number, entries in enumerate(_parts(writer, feed.items), start=1):
            if number == 1:
                yield feed.file_name, writer.feed(feed.title, entries)
            else:
                yield f"{stem}~part{number}.ics", writer.feed(f"{feed.title}, part {number}", entries)


def _personal(item: Filed, alarm_minutes: int | None) -> Filed:
    return replace(item, entry=replace(item.entry, busy=True, alarm_minutes=alarm_minutes))


def _falls_within(entry: Entry, first: date, last: date) -> bool:
    """Whether any day of the entry lies in [first, last]; an instant counts by its UTC day."""
    if isinstance(entry.start, datetime) and isinstance(entry.end, datetime):
        return entry.start.astimezone(UTC).date() <= last and entry.end.astimezone(UTC).date() >= first
    return entry.start <= last and entry.end > first


def _by(items: Iterable[Item], keys: Callable[[Item], Iterable[Key]]) -> defaultdict[Key, list[Item]]:
    groups: defaultdict[Key, list[Item]] = defaultdict(list)
    for item in items:
        for key in keys(item):
            groups[key].append(item)
    return groups


def _parts(writer: FeedWriter, filed: Sequence[Filed]) -> list[list[Entry]]:
    """The entries in as many parts as it takes to keep each within the limits.

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
        if all(
            len(part) <= MOST_ENTRIES and sum(map(writer.octets, part)) <= LARGEST_OCTETS - FRAME_OCTETS
            for part in parts
        ):
            return parts
        part_count *= 2
