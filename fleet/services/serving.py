"""What the server gives out: feeds and sheets made from the database, kept in memory until the database changes."""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, TypeVar

from fleet.db.repository import Register, Version
from fleet.outputs.calendar import FeedWriter
from fleet.outputs.feeds import Feed, feed_files
from fleet.outputs.names import file_names
from fleet.services.feeds import feeds_in_force
from fleet.services.outlook import Outlook
from fleet.services.pages import page_facts, report_period
from fleet.services.publish import sheets_of
from fleet.services.share import hash_of
from fleet.services.standing import outlook_on, standing_on
from fleet.values.addresses import FeedAddress, Offer
from fleet.values.fleet import Fleet

CHECK_EVERY_S = 1.0
"""The database is asked whether it has changed at most this often: a change shows, and a revoked address ends, no later
than this."""

SHEET_DAYS = 28
TRIES = 3
"""Pages are made from two looks at the database; if somebody wrote between them, they are made again, so many times at
most."""

MEDIA_TYPES = {"ics": "text/calendar; charset=utf-8", "html": "text/html; charset=utf-8"}
OTHER_TYPE = "text/csv; charset=utf-8"

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Document:
    """A whole file as it goes out. `etag` is a strong validator: made from the content, quotes included."""

    content: bytes
    media_type: str
    etag: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What an address opens: `number` is None for one that does not hold, `document` where there is no such file."""

    number: int | None
    document: Document | None


NOTHING = Answer(None, None)


class Served:
    """Feeds and sheets of one database, by address. Safe to use from many threads.

    Nothing of the plan is written: what was planned or published last goes out. Only what is new about calendar entries
    is remembered in the database, as `fleet feeds` does, so that both write the same bytes.
    """

    def __init__(
        self,
        url: str,
        *,
        today: Callable[[], date],
        now: Callable[[], datetime],
        check_every_s: float = CHECK_EVERY_S,
    ) -> None:
        self._url, self._today, self._now, self._check_every_s = url, today, now, check_every_s
        self._lock = threading.Lock()
        self._checked_at = float("-inf")
        self._version: Version | None = None
        self._holders: Mapping[str, FeedAddress] = {}
        self._feeds = _Kept(self._make_feeds)
        self._sheets = _Kept(self._make_sheets)

    def calendar(self, token: str, part: int) -> Answer:
        """The feed at an address, or a further part of one that is too large for a single file; parts count from 1."""
        digest = hash_of(token)
        state = self._state()
        address = self._holders.get(digest)
        if address is None or address.offer is Offer.SHEETS:
            return NOTHING
        return Answer(address.number, self._feeds.of(state).part(address.offer, address.code, part))

    def sheet(self, token: str, name: str) -> Answer:
        """A page of the sheets at an address; `index.html` is where they begin."""
        digest = hash_of(token)
        state = self._state()
        address = self._holders.get(digest)
        if address is None or address.offer is not Offer.SHEETS:
            return NOTHING
        return Answer(address.number, self._sheets.of(state).get(name))

    def _state(self) -> tuple[Version, date]:
        """The state of the database as it was no longer than the usual time ago, and the day."""
        with self._lock:
            moment = time.monotonic()
            if self._version is None or moment - self._checked_at >= self._check_every_s:
                with Register.open(self._url, read_only=True) as register:
                    self._version = register.version()
                    # Looking up a digest tells an attacker nothing by its time: nobody can choose digests.
                    self._holders = {row.token_hash: row for row in register.addresses() if row.revoked_at is None}
                self._checked_at = moment
            return self._version, self._today()

    def _make_feeds(self, today: date) -> FeedShelf:
        with Register.open(self._url, read_only=True) as register:
            standing = standing_on(register, today)
        outlook = Outlook(standing.fleet, standing.catalogue, (), (), standing.plan)
        feeds = feeds_in_force(self._url, outlook, standing.edition, today=today, now=self._now())
        return FeedShelf(standing.fleet, {feed.file_name: feed for feed in feeds})

    def _make_sheets(self, today: date) -> Mapping[str, Document]:
        for _ in range(TRIES):
            with Register.open(self._url, read_only=True) as register:
                version = register.version()
                standing = standing_on(register, today)
                outlook = outlook_on(register, standing)
            facts = page_facts(self._url, outlook, report_period(today, None, None))
            with Register.open(self._url, read_only=True) as register:
                if register.version() == version:
                    break
        pages = sheets_of(outlook, standing.edition, today, SHEET_DAYS, facts)
        return {name: _document(name, content) for name, content in pages.items()}


class FeedShelf:
    """The feeds of one state of the database, each written when somebody first asks for it."""

    def __init__(self, fleet: Fleet, feeds: Mapping[str, Feed]) -> None:
        self._feeds = feeds
        coded: Mapping[Offer, Iterable[str]] = {
            Offer.SITE: fleet.site_by_code,
            Offer.CLIENT: fleet.client_by_code,
            Offer.TECHNICIAN: fleet.technician_by_code,
        }
        self._names = {
            (offer, code): name
            for offer, codes in coded.items()
            for code, name in file_names(offer, codes, "ics").items()
        }
        self._writer = FeedWriter()
        self._written: dict[str, tuple[Document, ...]] = {}
        self._lock = threading.Lock()

    def part(self, offer: Offer, code: str | None, number: int) -> Document | None:
        """A part of a feed, counted from 1; None for a feed that is no more and for a part that there is not."""
        name = "fleet.ics" if code is None else self._names.get((offer, code))
        if name is None:
            return None
        with self._lock:
            if name not in self._written:
                files = feed_files([self._feeds[name]], self._writer)
                self._written[name] = tuple(_document(file, content) for file, content in files)
            parts = self._written[name]
        return parts[number - 1] if 1 <= number <= len(parts) else None


class _Kept(Generic[Thing]):
    """Something made from one state of the database, made again by the first who asks in another one."""

    def __init__(self, make: Callable[[date], Thing]) -> None:
        self._make = make
        self._lock = threading.Lock()
        self._held: tuple[tuple[Version, date], Thing] | None = None

    def of(self, state: tuple[Version, date]) -> Thing:
        with self._lock:
            if self._held is None or self._held[0] != state:
                self._held = state, self._make(state[1])
            return self._held[1]


def _document(name: str, content: bytes) -> Document:
    etag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    return Document(content, MEDIA_TYPES.get(name.rpartition(".")[2], OTHER_TYPE), etag)
