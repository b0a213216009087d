"""What people hold in their hands: feeds, sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    Database,
    Json,
    Today,
    a_day,
    an_optional_day,
    print_json,
    right_now,
)


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("feeds", epilog="Example: fleet feeds out/feeds")(feeds)
    app.command("sheets", epilog="Example: fleet sheets out/sheets --days 14")(sheets)


def feeds(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the .ics files go; made if need be.")],
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Write calendar feeds.

    One for the fleet, and one for each site, client and technician.
    """
    from fleet.services.publish import write_feeds

    written = write_feeds(database, folder, today=a_day(today), now=right_now())
    if json:
        print_json({"files": [str(path) for path in written]})
    else:
        typer.echo(f"{len(written)} calendar feeds in {folder}")


def sheets(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the pages go; made if need be.")],
    days: Annotated[int, typer.Option("--days", min=1, max=366, help="How many days of visits.")] = 28,
    report_from: Annotated[
        str | None,
        typer.Option(
            "--report-from", metavar="DATE", help="First day of the reports; a year before the last otherwise."
        ),
    ] = None,
    report_to: Annotated[
        str | None, typer.Option("--report-to", metavar="DATE", help="Last day of the reports; today otherwise.")
    ] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Write service sheets, cards, checklists, reports.

    As web pages that print well and need no network: also the fleet today, device cards, and a hand-over sheet for each
    closure to come.
    """
    from fleet.services.publish import write_sheets

    written = write_sheets(
        database,
        folder,
        today=a_day(today),
        now=right_now(),
        days=days,
        report_from=an_optional_day(report_from, "--report-from"),
        report_to=an_optional_day(report_to, "--report-to"),
    )
    if json:
        print_json({"files": [str(path) for path in written]})
    else:
        typer.echo(f"{len(written)} pages in {folder}; begin with {folder / 'index.html'}")
