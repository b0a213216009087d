"""Writing what people hold in their hands, beside the plain ways to write it.

    python tests/benchmarks/outputs.py            1,000 feeds of 100 entries
    python tests/benchmarks/outputs.py --small    a twentieth of that

Feeds are held to the library's ordinary writing (Event.add and to_ical) and to a writer of f-strings that is correct
and nothing else. "warm" writes feeds whose entries the writer remembers. Times are processor seconds of the same run.
"""

from __future__ import annotations

import argparse
import gc
import re
import sys
import tracemalloc
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import process_time

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import icalendar  # noqa: E402

from fleet.outputs.calendar import Entry, FeedWriter  # noqa: E402

ENTRIES = 100
STAMP = datetime(2026, 5, 19, 6, 30, tzinfo=UTC)
TASKS = (
    "Clean the intake screen: Lobby chiller (CH-1), 7K3-Q9MD",
    "Descale the exchanger inside: Lobby chiller (CH-1), 8AA-B1CD",
    "Press the test button: Ground-fault outlet; left (GF-1), 9ZZ-0007",
)


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def entry(feed: int, number: int) -> Entry:
    """Three of four are visits, the fourth is a day-long task; one in ten has letters beyond ASCII."""
    place = f"Café Größe {feed}" if number % 10 == 0 else f"Harbour Street clinic {feed}"
    day = date(2026, 5, 1) + timedelta(days=number)
    begin = datetime(2026, 5, 1, 13, tzinfo=UTC) + timedelta(days=number)
    whole_day = number % 4 == 3
    lines = [f"3 tasks, 2 h 13 min. By Robin Roe. Visit V{feed}-{number}.", "", *TASKS, "", "See the service sheet."]
    return Entry(
        uid=f"V{feed}-{number}.visit@fleet.invalid",
        start=day if whole_day else begin,
        end=day + timedelta(days=1) if whole_day else begin + timedelta(minutes=133),
        summary=f"Tank visit: {place}",
        description="\n".join(lines),
        location=f"{place}, 12 Harbour Street, Fernmouth",
        categories=("Visit",),
        busy=not whole_day,
        tentative=False,
        sequence=number % 3,
        created_at=STAMP,
        modified_at=STAMP + timedelta(minutes=number),
    )


def feeds(count: int) -> Iterator[tuple[str, list[Entry]]]:
    for feed in range(count):
        yield f"Tank upkeep {feed}", [entry(feed, number) for number in range(ENTRIES)]


def by_library(name: str, entries: Iterable[Entry]) -> bytes:
    """As the library's own documentation writes a calendar."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//Tank fleet upkeep//EN")
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    for one in entries:
        event = icalendar.Event()
        event.add("uid", one.uid)
        event.add("dtstamp", one.modified_at)
        event.add("created", one.created_at)
        event.add("last-modified", one.modified_at)
        event.add("sequence", one.sequence)
        event.add("dtstart", one.start)
        event.add("dtend", one.end)
        event.add("summary", one.summary)
        event.add("location", one.location)
        event.add("description", one.description)
        event.add("categories", list(one.categories))
        event.add("status", one.status)
        event.add("transp", "OPAQUE" if one.busy else "TRANSPARENT")
        calendar.add_component(event)
    return calendar.to_ical()


CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffd-\uffff]")


def by_f_strings(name: str, entries: Iterable[Entry]) -> bytes:
    """A writer that knows nothing but our entries: control characters out, escapes, folds between characters."""

    def text(value: str) -> str:
        value = CONTROLS.sub("", value)
        return value.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")

    def moment(value: date) -> str:
        if isinstance(value, datetime):
            v = value.astimezone(UTC)
            return f":{v.year:04}{v.month:02}{v.day:02}T{v.hour:02}{v.minute:02}{v.second:02}Z"
        return f";VALUE=DATE:{value.year:04}{value.month:02}{value.day:02}"

    def fold(line: str) -> str:
        if len(line) <= 75 and line.isascii():
            return line
        pieces, octets, begin = [], 0, 0
        if line.isascii():
            at = 75
            while at < len(line):
                while line[at - 1] == "\\":
                    at -= 1
                pieces.append(line[begin:at])
                begin, at = at, at + 74
        else:
            for at, letter in enumerate(line):
                octets += len(letter.encode())
                if octets > 75 and line[at - 1] != "\\":
                    pieces.append(line[begin:at])
                    begin, octets = at, 1 + len(letter.encode())
                elif octets >= 73 and letter == "\\":
                    pieces.append(line[begin:at])
                    begin, octets = at, 2
        return "\r\n ".join([*pieces, line[begin:]])

    title = text(name)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tank fleet upkeep//EN", f"NAME:{title}"]
    lines.append(f"X-WR-CALNAME:{title}")
    for one in entries:
        lines += [
            "BEGIN:VEVENT",
            fold(f"UID:{one.uid}"),
            f"DTSTAMP{moment(one.modified_at)}",
            f"CREATED{moment(one.created_at)}",
            f"LAST-MODIFIED{moment(one.modified_at)}",
            f"SEQUENCE:{one.sequence}",
            f"DTSTART{moment(one.start)}",
            f"DTEND{moment(one.end)}",
            fold(f"SUMMARY:{text(one.summary)}"),
            fold(f"LOCATION:{text(one.location)}"),
            fold(f"DESCRIPTION:{text(one.description)}"),
            fold(f"CATEGORIES:{','.join(map(text, one.categories))}"),
            f"STATUS:{one.status}",
            f"TRANSP:{'OPAQUE' if one.busy else 'TRANSPARENT'}",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR\r\n")
    return "\r\n".join(lines).encode()


def same_content(one: bytes, other: bytes) -> bool:
    """Whether two feeds read alike, all properties of their events compared."""
    first, second = (
        {
            str(event["UID"]): {k: v.to_ical() for k, v in event.items()}
            for event in icalendar.Calendar.from_ical(f).events
        }
        for f in (one, other)
    )
    return first == second


def seconds(write: Callable[[str, list[Entry]], bytes], made: list[tuple[str, list[Entry]]]) -> float:
    gc.collect()
    begin = process_time()
    for name, entries in made:
        write(name, entries)
    return process_time() - begin


def peak_octets(write: Callable[[str, list[Entry]], bytes], count: int) -> int:
    """The most memory held while feeds are made and written one by one."""
    gc.collect()
    tracemalloc.start()
    for name, entries in feeds(count):
        write(name, entries)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def measure_feeds(count: int) -> None:
    made = list(feeds(count))
    sample = made[0]
    written = FeedWriter().feed(*sample)
    if not (same_content(written, by_library(*sample)) and same_content(written, by_f_strings(*sample))):
        raise SystemExit("the writers do not write the same content: nothing to compare")
    library, plain = seconds(by_library, made), seconds(by_f_strings, made)
    writer = FeedWriter()
    cold, warm = seconds(writer.feed, made), min(seconds(writer.feed, made) for _ in range(3))
    say(f"{count} feeds of {ENTRIES} entries, milliseconds a feed")
    say(f"  the library's ordinary writing  {library / count * 1e3:8.2f}")
    say(f"  plain f-strings                 {plain / count * 1e3:8.2f}")
    say(f"  ours, cold                      {cold / count * 1e3:8.2f}")
    say(f"  ours, warm                      {warm / count * 1e3:8.2f}")
    say(f"library / cold     {library / cold:6.1f}  target at least 5")
    say(f"library / warm     {library / warm:6.1f}  target at least 50")
    say(f"cold / f-strings   {cold / plain:6.2f}  target at most 2")
    del made, writer
    gc.collect()
    few = max(2, count // 50)
    FeedWriter(0).feed(*sample)
    one, many = peak_octets(FeedWriter(0).feed, 1), peak_octets(FeedWriter(0).feed, few)
    say(f"peak memory of {few} feeds one by one / of one feed  {many / one:.2f}  ({many / 1024:.0f} KiB)")
    say(f"the same, entries remembered for further feeds     {peak_octets(FeedWriter().feed, few) / one:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--small", action="store_true", help="a twentieth of the feeds")
    measure_feeds(50 if parser.parse_args().small else 1000)


if __name__ == "__main__":
    main()
