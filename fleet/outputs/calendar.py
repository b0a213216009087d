"""One calendar feed: entries in, the bytes of an iCalendar file out.

Written for subscribers of many kinds, so plainly: UTC instants or whole days, no recurrence rules, no alarms, no
METHOD, nobody invited (RFC 5545, RFC 7986). The same entries give the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Component, Event, Timezone, TimezoneStandard, vDuration, vText

from fleet.outputs.cleaning import clean, clipped, one_line

LINE_OCTETS = 75
SUMMARY_CHARACTERS = 255
LOCATION_CHARACTERS = 255
DESCRIPTION_CHARACTERS = 8000
REFRESH = timedelta(hours=12)
"""How often a subscriber is asked to look again; a hint that some keep and some do not."""

PRODUCT = "-//Tank fleet upkeep//EN"

END_OF_CALENDAR = b"END:VCALENDAR\r\n"

TAG = re.compile(r"<(?=[/A-Za-z!])")
ENTITY = re.compile(r"&(?=#?\w+;)")


@dataclass(frozen=True, slots=True)
class Entry:
    """One calendar entry.

    `start` and `end` are both aware instants, or both days with `end` the day after the last one. `busy` blocks the
    reader's time. `categories` are words of our own, at least one. `modified_at` is when the content last changed:
    it must not move while the content stays.
    """

    uid: str
    start: date
    end: date
    summary: str
    description: str
    location: str
    categories: tuple[str, ...]
    busy: bool
    tentative: bool
    sequence: int
    created_at: datetime
    modified_at: datetime


class ExactText(vText):
    """Text whose backslashes stay what they are: the parent reads a typed `\\N` as a line break."""

    def to_ical(self) -> bytes:
        """The text with the four escapes of RFC 5545, 3.3.11."""
        escaped = self.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
        return escaped.encode()


class FeedWriter:
    """Writes feeds that share entries: an entry is put into words once, however many feeds hold it."""

    def __init__(self) -> None:
        self._written: dict[Entry, bytes] = {}

    def feed(self, name: str, entries: Iterable[Entry]) -> bytes:
        """The feed as a file, entries by start and UID. Without entries it holds one VTIMEZONE, for RFC 5545, 3.6
        asks for a component."""
        in_order = sorted(entries, key=lambda entry: (_instant(entry.start), entry.uid))
        body = [self._entry(entry) for entry in in_order] or [_folded_lines(_world_time())]
        frame = _folded_lines(_frame(name))
        head = frame.removesuffix(END_OF_CALENDAR)
        return b"".join([head, *body, END_OF_CALENDAR])

    def _entry(self, entry: Entry) -> bytes:
        if entry not in self._written:
            self._written[entry] = _folded_lines(_event(entry))
        return self._written[entry]


def feed_bytes(name: str, entries: Iterable[Entry]) -> bytes:
    """One feed on its own, as FeedWriter.feed writes it."""
    return FeedWriter().feed(name, entries)


def _frame(name: str) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", ExactText(one_line(name, SUMMARY_CHARACTERS)))
    calendar.add("x-wr-calname", ExactText(one_line(name, SUMMARY_CHARACTERS)))
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(REFRESH))
    return calendar


def _event(entry: Entry) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", _whole_second(entry.modified_at))
    event.add("created", _whole_second(entry.created_at))
    event.add("last-modified", _whole_second(entry.modified_at))
    event.add("sequence", entry.sequence)
    event.add("dtstart", _utc(entry.start))
    event.add("dtend", _utc(entry.end))
    event.add("summary", ExactText(one_line(entry.summary, SUMMARY_CHARACTERS)))
    if entry.location:
        event.add("location", ExactText(one_line(entry.location, LOCATION_CHARACTERS)))
    if entry.description:
        event.add("description", ExactText(clipped(_harmless(clean(entry.description)), DESCRIPTION_CHARACTERS)))
    event.add("categories", list(entry.categories))
    event.add("status", "TENTATIVE" if entry.tentative else "CONFIRMED")
    event.add("transp", "OPAQUE" if entry.busy else "TRANSPARENT")
    return event


def _world_time() -> Timezone:
    zone = Timezone()
    zone.add("tzid", "Etc/UTC")
    standard = TimezoneStandard()
    standard.add("dtstart", datetime(1970, 1, 1))  # noqa: DTZ001 - the onset of a zone is local by definition
    standard.add("tzoffsetfrom", timedelta(0))
    standard.add("tzoffsetto", timedelta(0))
    standard.add("tzname", "UTC")
    zone.add_component(standard)
    return zone


def _utc(moment: date) -> date:
    return _whole_second(moment) if isinstance(moment, datetime) else moment


def _whole_second(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)


def _instant(moment: date) -> datetime:
    if isinstance(moment, datetime):
        return moment
    return datetime(moment.year, moment.month, moment.day, tzinfo=UTC)


def _harmless(text: str) -> str:
    """Typed angle brackets and entities as look-alikes: some readers take a description for markup."""
    return ENTITY.sub("＆", TAG.sub("‹", text))


def _folded_lines(component: Component) -> bytes:
    return b"".join(_folded(str(line).encode()) for line in component.content_lines() if line)


def _folded(line: bytes) -> bytes:
    """One content line, CRLF at its end, in physical lines of at most 75 octets.

    A fold falls between characters and never inside a backslash escape: the library's own folding can cut the pair
    that stands for a backslash, and some readers then show the raw text.
    """
    pieces: list[bytes] = []
    start, room = 0, LINE_OCTETS
    while len(line) - start > room:
        end = start + room
        while line[end] & 0xC0 == 0x80:
            end -= 1
        taken = line[start:end]
        if (len(taken) - len(taken.rstrip(b"\\"))) % 2:
            end -= 1
        pieces.append(line[start:end])
        start, room = end, LINE_OCTETS - 1
    pieces.append(line[start:])
    return b"\r\n ".join(pieces) + b"\r\n"
