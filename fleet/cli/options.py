"""Options that many commands share, and what they are turned into."""

from __future__ import annotations

import getpass
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Annotated, Any

import typer

from fleet.errors import BadInput

Database = Annotated[
    str,
    typer.Option(
        "--database",
        envvar="FLEET_DATABASE_URL",
        show_envvar=False,
        metavar="URL",
        help="A file, or a postgresql:// address (also FLEET_DATABASE_URL).",
    ),
]
Today = Annotated[
    str | None, typer.Option("--today", metavar="DATE", help="Work as if on this day; the real day otherwise.")
]
Json = Annotated[bool, typer.Option("--json", help="Machine-readable output.")]
AnyDay = Annotated[
    str | None,
    typer.Option("--today", metavar="DATE", help="Taken as everywhere; this command does the same on any day."),
]
Strict = Annotated[bool, typer.Option("--strict", help="Exit 1 if it finds what it looks for.")]
By = Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who did it; your login name otherwise.")]

DEFAULT_DATABASE = "fleet.db"


def a_day(text: str | None, option: str = "--today") -> date:
    """The day named by an option; the real day where it was left out."""
    if text is None:
        return datetime.now().astimezone().date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput(f"{option} {text!r}: expected a day such as 2026-05-20") from None


def an_optional_day(text: str | None, option: str) -> date | None:
    """The day named by an option, None where it was left out."""
    return None if text is None else a_day(text, option)


def right_now() -> datetime:
    """The instant that records are stamped with."""
    return datetime.now(UTC)


def local_time_zone() -> str:
    """The IANA name of the machine's time zone; New York's where the machine does not say."""
    named = os.environ.get("TZ", "").removeprefix(":")
    link = os.path.realpath("/etc/localtime").partition("zoneinfo/")[2]
    found = next((name for name in (named, link) if "/" in name and not name.startswith("/")), "")
    return found if found and not found.startswith("Etc/") else "America/New_York"


def person(by: str | None) -> str:
    """Who is to be named in the records."""
    if by:
        return by
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def on_a_terminal() -> bool:
    """Whether results go to a terminal that may be given colour (https://no-color.org is respected)."""
    return sys.stdout.isatty() and "NO_COLOR" not in os.environ


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None] | None]:
    """What long work is to tell its progress to, drawn on the terminal; None where stderr is none."""
    if not sys.stderr.isatty():
        yield None
        return
    with typer.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def draw(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield draw


def print_json(record: Any) -> None:
    """Prints one JSON document; no NaN, no Infinity."""
    typer.echo(json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False))
