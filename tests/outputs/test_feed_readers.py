"""Calendars of other people's making read the feeds: all see the same entries, instants and texts.

Readers: ical.js (npm), libical (Debian: libical3), vdirsyncer subscribing over HTTP with khal on top, and Radicale, a
CalDAV store that is loaded and read back (all three from PyPI, in an environment of their own).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import http.server
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest

from fleet.outputs.calendar import Entry, feed_bytes

pytestmark = pytest.mark.slow

Row = tuple[str, str, str, str, str, str]
"""UID, start, end, summary, description, location; days as 20260522, instants as 20260522T130000Z."""

STAMP = datetime(2026, 3, 1, 6, 30, tzinfo=UTC)
BASE = Entry(
    "a@fleet.invalid", STAMP, STAMP + timedelta(hours=1), "Tank visit", "Two tasks.", "12 Harbour Street", ("Visit",),
    False, False, 2, STAMP, STAMP,
)  # fmt: skip

HOSTILE = (
    "a, b; c: d \\ e", "C:\\New pump \\N \\n", "one\r\ntwo\rthree\nfour", "🐟🐠 réef 漢字", "خزان الشعاب",
    "\u202eevol\u202c",
    "a\x00b\x07c\x1bd\x7fe\x85f\x9fg", "one\u2028two\u2029three", "<script>alert(1)</script>", "{{7*7}} ${7*7}",
    '=cmd()|"/c calc"!A1', "BEGIN:VEVENT\r\nUID:x", "&amp; <b>bold</b>", "\"quoted\" 'text'", "x" * 5000, "漢" * 5000,
    "\\" * 300,
    "\u3000" * 200 + "wide", " \t ",
)  # fmt: skip

WALL_CLOCKS = (
    ("America/New_York", datetime(2026, 3, 8, 3, 30)),  # noqa: DTZ001 - clocks go forward at 2:00
    ("America/New_York", datetime(2026, 11, 1, 9, 0)),  # noqa: DTZ001 - clocks went back at 2:00
    ("Europe/Berlin", datetime(2026, 3, 29, 9, 0)),  # noqa: DTZ001
    ("Europe/Berlin", datetime(2026, 10, 25, 3, 15)),  # noqa: DTZ001
    ("Australia/Melbourne", datetime(2026, 4, 5, 9, 0)),  # noqa: DTZ001 - southern autumn, clocks went back at 3:00
    ("Australia/Melbourne", datetime(2026, 10, 4, 9, 0)),  # noqa: DTZ001 - southern spring, clocks went forward
    ("America/Santiago", datetime(2026, 9, 6, 9, 0)),  # noqa: DTZ001
)
"""Visits by the clock on the wall on days on which the clocks change (IANA time zone database)."""


def hostile_feed() -> bytes:
    entries = [
        replace(BASE, uid=f"{n}@fleet.invalid", start=BASE.start + timedelta(days=n), end=BASE.end + timedelta(days=n),
                summary=f"Visit {text}", description=f"About {text}", location=f"At {text}")
        for n, text in enumerate(HOSTILE)
    ]  # fmt: skip
    return feed_bytes("Hostile \\N, <b>; 🐟", entries)


def clock_feed() -> bytes:
    starts = [wall.replace(tzinfo=ZoneInfo(zone)) for zone, wall in WALL_CLOCKS]
    timed = [
        replace(BASE, uid=f"{n}@fleet.invalid", start=start, end=start + timedelta(minutes=90), description=f"{n}")
        for n, start in enumerate(starts)
    ]
    days = [
        replace(BASE, uid=f"day-{start.date()}@fleet.invalid", start=start.date(), end=start.date() + timedelta(days=1))
        for start in starts
    ]
    return feed_bytes("Clocks", [*timed, *days])


@pytest.fixture(scope="session")
def demo_feeds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    from fleet.services.demo import STORY_DAY, run_demo

    folder = tmp_path_factory.mktemp("demo")
    written = run_demo(folder, database=None, today=STORY_DAY, who="test", now=datetime.now(UTC)).feeds
    return {path.name: path.read_bytes() for path in written}


@pytest.fixture(params=["hostile", "clocks", "fleet.ics", "site-QUIL.ics", "technician-T-DEV.ics"])
def feed(request: pytest.FixtureRequest) -> bytes:
    makers: dict[str, Callable[[], bytes]] = {"hostile": hostile_feed, "clocks": clock_feed}
    if request.param in makers:
        return makers[request.param]()
    found: bytes = request.getfixturevalue("demo_feeds")[request.param]
    return found


def missing(reason: str) -> None:
    if os.environ.get("FLEET_REQUIRE_READERS") == "1":
        pytest.fail(f"the calendar readers are required, but {reason}", pytrace=False)
    pytest.skip(f"no such reader: {reason}")


def moment(value: date) -> str:
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    return f"{value:%Y%m%d}"


def by_icalendar(feed: bytes) -> list[Row]:
    return sorted(
        (
            str(e["UID"]), moment(e["DTSTART"].dt), moment(e["DTEND"].dt), str(e["SUMMARY"]),
            str(e.get("DESCRIPTION", "")),
            str(e.get("LOCATION", "")),
        )
        for e in icalendar.Calendar.from_ical(feed).events
    )  # fmt: skip


def run(*words: str, cwd: Path | None = None, **environment: str) -> str:
    done = subprocess.run(
        words, capture_output=True, text=True, timeout=300, cwd=cwd, env={**os.environ, **environment}, check=False
    )
    assert done.returncode == 0, (words, done.stdout[-2000:], done.stderr[-2000:])
    return done.stdout


def installed(folder: Path, *steps: tuple[str, ...]) -> Path:
    """The folder, filled by the steps once and kept between runs; a step that fails leaves nothing behind."""
    if not (folder / "complete").exists():
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        for step in steps:
            done = subprocess.run(step, capture_output=True, text=True, timeout=600, cwd=folder, check=False)
            if done.returncode:
                missing(f"{' '.join(step)} failed: {done.stderr.strip()[-300:]}")
        (folder / "complete").touch()
    return folder


@pytest.fixture(scope="session")
def environment(request: pytest.FixtureRequest) -> Path:
    """The programs folder of an environment with khal, vdirsyncer and Radicale."""
    folder = request.config.cache.mkdir("feed-readers") / "python"
    programs = folder / "bin"
    packages = ("khal==0.14.*", "vdirsyncer==0.21.*", "radicale==3.*")
    installed(
        folder,
        (sys.executable, "-m", "venv", "."),
        (str(programs / "pip"), "install", "--quiet", "--disable-pip-version-check", *packages),
    )
    return programs


ICAL_JS = """
import ICAL from "ical.js";
import fs from "fs";
const root = new ICAL.Component(ICAL.parse(fs.readFileSync(process.argv[2], "utf8")));
const moment = (t) => t.isDate ? t.toICALString() : ICAL.Time.fromJSDate(t.toJSDate(), true).toICALString();
console.log(JSON.stringify(root.getAllSubcomponents("vevent").map((c) => new ICAL.Event(c)).map((e) =>
    [e.uid, moment(e.startDate), moment(e.endDate), e.summary, e.description ?? "", e.location ?? ""])));
"""


def test_ical_js_reads_what_icalendar_reads(feed: bytes, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    if shutil.which("node") is None or shutil.which("npm") is None:
        missing("node and npm are not installed")
    folder = installed(
        request.config.cache.mkdir("feed-readers") / "node",
        ("npm", "init", "--yes"),
        ("npm", "install", "--silent", "ical.js@2"),
    )
    (folder / "read.mjs").write_text(ICAL_JS)
    (tmp_path / "feed.ics").write_bytes(feed)
    rows = json.loads(run("node", str(folder / "read.mjs"), str(tmp_path / "feed.ics")))
    assert sorted(tuple(row) for row in rows) == by_icalendar(feed)


class IcalTime(ctypes.Structure):
    """struct icaltimetype of libical 3."""

    _fields_ = [
        *(
            (name, ctypes.c_int)
            for name in ("year", "month", "day", "hour", "minute", "second", "is_date", "is_daylight")
        ),
        ("zone", ctypes.c_void_p),
    ]


def test_libical_reads_what_icalendar_reads(feed: bytes) -> None:
    name = ctypes.util.find_library("ical")
    if name is None:
        missing("libical is not installed (Debian: libical3)")
    library: Any = ctypes.CDLL(name)
    pointer = ctypes.c_void_p
    library.icalparser_parse_string.restype = pointer
    library.icalparser_parse_string.argtypes = [ctypes.c_char_p]
    for step in ("first", "next"):
        walk = getattr(library, f"icalcomponent_get_{step}_component")
        walk.restype, walk.argtypes = pointer, [pointer, ctypes.c_int]
    for text in ("uid", "summary", "description", "location"):
        reader = getattr(library, f"icalcomponent_get_{text}")
        reader.restype, reader.argtypes = ctypes.c_char_p, [pointer]
    for bound in ("dtstart", "dtend"):
        reader = getattr(library, f"icalcomponent_get_{bound}")
        reader.restype, reader.argtypes = IcalTime, [pointer]
    library.icaltime_is_utc.argtypes = [IcalTime]
    library.icalcomponent_free.argtypes = [pointer]

    def when(t: IcalTime) -> str:
        day = f"{t.year:04}{t.month:02}{t.day:02}"
        utc = "Z" if library.icaltime_is_utc(t) else ""
        return day if t.is_date else f"{day}T{t.hour:02}{t.minute:02}{t.second:02}{utc}"

    def said(event: int, text: str) -> str:
        return (getattr(library, f"icalcomponent_get_{text}")(event) or b"").decode()

    vevent = 4  # ICAL_VEVENT_COMPONENT
    calendar = library.icalparser_parse_string(feed)
    rows, event = [], library.icalcomponent_get_first_component(calendar, vevent)
    while event:
        start, end = (when(getattr(library, f"icalcomponent_get_{bound}")(event)) for bound in ("dtstart", "dtend"))
        rows.append(
            (said(event, "uid"), start, end, *(said(event, text) for text in ("summary", "description", "location")))
        )
        event = library.icalcomponent_get_next_component(calendar, vevent)
    library.icalcomponent_free(calendar)
    assert sorted(rows) == by_icalendar(feed)


class Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def address(feed: bytes, tmp_path: Path) -> Iterator[str]:
    """The feed on a loopback address."""
    (tmp_path / "web").mkdir()
    (tmp_path / "web" / "feed.ics").write_bytes(feed)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path / "web")))
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/feed.ics"
    server.shutdown()
    thread.join()
    server.server_close()


KHAL_FIELDS = ("all-day", "start-long-full", "end-long-full", "title", "description", "location")


def test_a_subscription_by_vdirsyncer_shows_in_khal_what_icalendar_reads(
    feed: bytes, address: str, environment: Path, tmp_path: Path
) -> None:
    local = tmp_path / "calendar"
    local.mkdir()
    (tmp_path / "vdirsyncer").write_text(
        f'[general]\nstatus_path = "{tmp_path}/status"\n'
        '[pair feed]\na = "there"\nb = "here"\ncollections = null\n'
        f'[storage there]\ntype = "http"\nurl = "{address}"\n'
        f'[storage here]\ntype = "filesystem"\npath = "{local}"\nfileext = ".ics"\n'
    )
    (tmp_path / "khal").write_text(
        f"[calendars]\n[[feed]]\npath = {local}\n[sqlite]\npath = {tmp_path}/khal.db\n"
        "[locale]\nlocal_timezone = UTC\ndefault_timezone = UTC\ntimeformat = %H:%M:%S\ndateformat = %Y-%m-%d\n"
        "longdateformat = %Y-%m-%d\ndatetimeformat = %Y-%m-%d %H:%M:%S\nlongdatetimeformat = %Y-%m-%d %H:%M:%S\n"
    )
    for step in ("discover", "sync"):
        run(str(environment / "vdirsyncer"), "-c", str(tmp_path / "vdirsyncer"), step)
    expected = by_icalendar(feed)
    assert len(list(local.glob("*.ics"))) == len(expected)
    fields = [word for field in KHAL_FIELDS for word in ("--json", field)]
    said = run(
        str(environment / "khal"), "-c", str(tmp_path / "khal"), "list", "--once", *fields, "2026-01-01", "730d",
        HOME=str(tmp_path), XDG_CACHE_HOME=str(tmp_path), XDG_DATA_HOME=str(tmp_path),
    )  # fmt: skip
    shown = [entry for line in said.splitlines() if line.startswith("[") for entry in json.loads(line)]

    def when(entry: dict[str, str], bound: str) -> str:
        moment_shown = datetime.fromisoformat(entry[f"{bound}-long-full"])
        if entry["all-day"] != "True":
            return f"{moment_shown:%Y%m%dT%H%M%SZ}"
        return f"{moment_shown + timedelta(days=bound == 'end'):%Y%m%d}"  # its last day, ours the next

    rows = [
        (when(e, "start"), when(e, "end"), e["title"],
         e["description"], e["location"])
        for e in shown
    ]  # fmt: skip
    # vdirsyncer knows the items of a subscription by digests in the place of UIDs.
    assert sorted(rows) == sorted(tuple(text.strip() for text in row[1:]) for row in expected)


@pytest.fixture
def store(environment: Path, tmp_path: Path) -> Iterator[str]:
    """The address of a Radicale of this test's own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = (
        str(environment / "python"), "-m", "radicale", "--config", "", "--hosts", f"127.0.0.1:{port}", "--auth-type",
        "none", "--storage-filesystem-folder", str(tmp_path / "store"),
    )  # fmt: skip
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        for _ in range(300):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield f"http://127.0.0.1:{port}/keeper/feed/"
        server.terminate()


def asked(method: str, address: str, body: bytes | None = None) -> bytes:
    request = urllib.request.Request(address, body, {"Content-Type": "text/calendar; charset=utf-8"}, method=method)
    request.add_header("Authorization", "Basic a2VlcGVyOng=")
    with urllib.request.urlopen(request, timeout=60) as answer:
        content: bytes = answer.read()
        return content


def test_a_caldav_store_gives_back_what_icalendar_reads(feed: bytes, store: str) -> None:
    asked("PUT", store, feed)
    assert by_icalendar(asked("GET", store)) == by_icalendar(feed)
