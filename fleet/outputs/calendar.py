"""One calendar feed: entries in, the bytes of an iCalendar file out.

Written for subscribers of many kinds, so plainly: UTC instants or whole days, no recurrence rules, no METHOD, nobody
invited (RFC 5545, RFC 7986). The same entries give the same bytes.

The library writes each shape of entry once, with the values left open; every further entry of that shape fills them
in, which is many times quicker than having the library write it anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from hashlib import blake2b

from icalendar import Alarm, Calendar, Component, Event, Timezone, TimezoneStandard, vDuration, vText

from fleet.outputs.cleaning import clean, clipped, one_line, without_markup, without_secrets
from fleet.outputs.content_lines import escaped, folded, moment_text

SUMMARY_CHARACTERS = 255
LOCATION_CHARACTERS = 255
DESCRIPTION_CHARACTERS = 8000
REFRESH = timedelta(hours=12)
"""How often a subscriber is asked to look again; a hint that some keep and some do not."""

PRODUCT = "-//Tank fleet upkeep//EN"
REMEMBERED_OCTETS = 128 * 1024 * 1024

END_OF_CALENDAR = b"END:VCALENDAR\r\n"

_DAY = date(2026, 1, 1)
_INSTANT = datetime(2026, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Entry:
    """One calendar entry.

    `start` and `end` are both aware instants, or both days with `end` the day after the last one. `busy` blocks the
    reader's time. `categories` are words of our own, at least one. `modified_at` is when the content last changed:
    it must not move while the content stays. A `cancelled` entry says so in its summary, which is the writer's part.
    `alarm_minutes` before the start a reminder goes off; None for no reminder.
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
    cancelled: bool = False
    alarm_minutes: int | None = None

    @property
    def status(self) -> str:
        """STATUS as RFC 5545, 3.8.1.11 spells it."""
        if self.cancelled:
            return "CANCELLED"
        return "TENTATIVE" if self.tentative else "CONFIRMED"


class ExactText(vText):
    """Text whose backslashes stay what they are."""

    def to_ical(self) -> bytes:
        """The text with the four escapes of RFC 5545, 3.3.11."""
        return escaped(self).encode()


class FeedWriter:
    """Writes feeds that share entries: an entry is put into words once, however many feeds hold it.

    What was written is remembered up to `remembered_octets`, then forgotten as a whole; with 0 nothing is.
    """

    def __init__(self, remembered_octets: int = REMEMBERED_OCTETS) -> None:
        self._room = self._left = remembered_octets
        self._written: dict[Entry, tuple[datetime, str, bytes]] = {}

    def feed(self, name: str, entries: Iterable[Entry]) -> bytes:
        """The feed as a file, entries by start and UID. Without entries it holds one VTIMEZONE, for RFC 5545, 3.6
        asks for a component."""
        body = [written for _, _, written in sorted(map(self._entry, entries))] or [_world_time()]
        title = escaped(without_secrets(one_line(name, SUMMARY_CHARACTERS))).encode()
        head = _frame_form() % {b"NAME": folded(b"NAME:" + title), b"X-WR-CALNAME": folded(b"X-WR-CALNAME:" + title)}
        return b"".join([head, *body, END_OF_CALENDAR])

    def octets(self, entry: Entry) -> int:
        """How many octets the entry takes in a feed."""
        return len(self._entry(entry)[-1])

    def _entry(self, entry: Entry) -> tuple[datetime, str, bytes]:
        found = self._written.get(entry)
        if found is None:
            written = event_bytes(entry)
            found = _instant(entry.start), entry.uid, written
            if len(written) <= self._room:
                if len(written) > self._left:
                    self._written.clear()
                    self._left = self._room
                self._left -= len(written)
                self._written[entry] = found
        return found


def feed_bytes(name: str, entries: Iterable[Entry]) -> bytes:
    """One feed on its own, as FeedWriter.feed writes it."""
    return FeedWriter().feed(name, entries)


def content_digest(entry: Entry) -> str:
    """Stands for everything that a reader sees of an entry, its stamps and count of revisions left out."""
    unstamped = replace(entry, sequence=0, created_at=_INSTANT, modified_at=_INSTANT)
    return blake2b(event_bytes(unstamped), digest_size=16).hexdigest()


def schedule_text(entry: Entry) -> str:
    """Time and status: what moves SEQUENCE when it changes (RFC 5546, 2.1.4)."""
    return f"{moment_text(entry.start)}/{moment_text(entry.end)} {entry.status}"


def event_bytes(entry: Entry) -> bytes:
    """The entry as the content lines of one VEVENT."""
    summary = escaped(summary_text(entry)).encode()
    location = escaped(location_text(entry)).encode()
    description = escaped(description_text(entry)).encode()
    shape = (
        isinstance(entry.start, datetime), bool(location), bool(description), entry.busy, entry.tentative,
        entry.cancelled, entry.categories, entry.alarm_minutes,
    )  # fmt: skip
    return _event_form(shape) % {
        b"UID": folded(b"UID:" + escaped(entry.uid).encode()),
        b"SUMMARY": folded(b"SUMMARY:" + summary),
        b"LOCATION": folded(b"LOCATION:" + location),
        b"DESCRIPTION": folded(b"DESCRIPTION:" + description),
        b"ALARM": b"" if entry.alarm_minutes is None else folded(b"DESCRIPTION:" + summary),
        b"SEQUENCE": b"%d" % entry.sequence,
        b"DTSTART": moment_text(entry.start).encode(),
        b"DTEND": moment_text(entry.end).encode(),
        b"DTSTAMP": (modified := moment_text(entry.modified_at).encode()),
        b"LAST-MODIFIED": modified,
        b"CREATED": moment_text(entry.created_at).encode(),
    }


def summary_text(entry: Entry) -> str:
    """The summary as it is written: one line, and beginning with "Cancelled:" where the entry is, because some readers
    do not look at STATUS."""
    summary = f"Cancelled: {entry.summary}" if entry.cancelled else entry.summary
    return without_secrets(one_line(summary, SUMMARY_CHARACTERS))


def location_text(entry: Entry) -> str:
    """The location as it is written: one line."""
    return without_secrets(one_line(entry.location, LOCATION_CHARACTERS))


def description_text(entry: Entry) -> str:
    """The description as it is written: plain lines."""
    return clipped(without_markup(without_secrets(clean(entry.description))), DESCRIPTION_CHARACTERS)


def library_event(entry: Entry) -> Event:
    """The entry as a component of the library."""
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", _whole_second(entry.modified_at))
    event.add("created", _whole_second(entry.created_at))
    event.add("last-modified", _whole_second(entry.modified_at))
    event.add("sequence", entry.sequence)
    event.add("dtstart", _utc(entry.start))
    event.add("dtend", _utc(entry.end))
    event.add("summary", ExactText(summary_text(entry)))
    if location := location_text(entry):
        event.add("location", ExactText(location))
    if description := description_text(entry):
        event.add("description", ExactText(description))
    event.add("categories", list(entry.categories))
    event.add("status", entry.status)
    event.add("transp", "OPAQUE" if entry.busy and not entry.cancelled else "TRANSPARENT")
    if entry.alarm_minutes is not None and not entry.cancelled:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", ExactText(summary_text(entry)))
        alarm.add("trigger", timedelta(minutes=-entry.alarm_minutes))
        event.add_component(alarm)
    return event


_Shape = tuple[bool, bool, bool, bool, bool, bool, tuple[str, ...], int | None]

_WHOLE_LINES = frozenset({"UID", "SUMMARY", "LOCATION", "DESCRIPTION", "NAME", "X-WR-CALNAME"})
"""Left open as lines, because they may have to be folded."""

_VALUES = frozenset({"DTSTAMP", "CREATED", "LAST-MODIFIED", "SEQUENCE", "DTSTART", "DTEND"})
"""Left open after the colon."""


@lru_cache(maxsize=256)
def _event_form(shape: _Shape) -> bytes:
    timed, located, described, busy, tentative, cancelled, categories, alarm_minutes = shape
    start = _INSTANT if timed else _DAY
    return _form(
        library_event(
            Entry(
                "-", start, start, "-", "-" if described else "", "-" if located else "", categories, busy, tentative,
                0, _INSTANT, _INSTANT, cancelled, alarm_minutes,
            )
        )
    )  # fmt: skip


@lru_cache(maxsize=1)
def _frame_form() -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", "-")
    calendar.add("x-wr-calname", "-")
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(REFRESH))
    return _form(calendar).removesuffix(END_OF_CALENDAR)


@lru_cache(maxsize=1)
def _world_time() -> bytes:
    zone = Timezone()
    zone.add("tzid", "Etc/UTC")
    standard = TimezoneStandard()
    standard.add("dtstart", datetime(1970, 1, 1))  # noqa: DTZ001 - the onset of a zone is local by definition
    standard.add("tzoffsetfrom", timedelta(0))
    standard.add("tzoffsetto", timedelta(0))
    standard.add("tzname", "UTC")
    zone.add_component(standard)
    return b"".join(folded(str(line).encode()) for line in zone.content_lines() if line)


def _form(component: Component) -> bytes:
    """The component as the library writes it, with gaps for `%` to fill: b"%(SUMMARY)b" for a line, and so on.

    What a reminder says is the summary of its entry.
    """
    lines: list[bytes] = []
    within = ""
    for line in component.content_lines():
        if not line:
            continue
        name, value = str(line).replace(";", ":", 1).split(":", 1)
        if name == "BEGIN":
            within = value
        if within == "VALARM" and name == "DESCRIPTION":
            lines.append(b"%(ALARM)b")
        elif name in _WHOLE_LINES:
            lines.append(f"%({name})b".encode())
        elif name in _VALUES:
            lines.append(f"{str(line).rpartition(':')[0]}:%({name})b\r\n".encode())
        else:
            lines.append(folded(str(line).encode()).replace(b"%", b"%%"))
    return b"".join(lines)


def _utc(moment: date) -> date:
    return _whole_second(moment) if isinstance(moment, datetime) else moment


def _whole_second(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)


def _instant(moment: date) -> datetime:
    if isinstance(moment, datetime):
        return moment
    return datetime(moment.year, moment.month, moment.day, tzinfo=UTC)
