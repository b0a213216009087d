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
    app.command("feeds", epilog="Example: fleet feeds out/feeds --alarm")(feeds)
    app.command("sheets", epilog="Example: fleet sheets out/sheets --days 14")(sheets)


def feeds(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the .ics files go; made if need be.")],
    days_back: Annotated[int, typer.Option("--back", min=0, max=3660, help="How many days before today.")] = 30,
    days_ahead: Annotated[int, typer.Option("--ahead", min=0, max=180, help="How many days after today.")] = 180,
    alarm: Annotated[bool, typer.Option("--alarm", help="Add reminders an hour before each visit.")] = False,
    alarm_minutes: Annotated[
        int | None,
        typer.Option("--alarm-minutes", min=1, max=10080, metavar="N", help="Add them N minutes before instead."),
    ] = None,
    tanks: Annotated[bool, typer.Option("--tanks", help="Write one for each tank too.")] = False,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Write calendar feeds.

    One for the fleet, and one for each site, client and technician. Only the feeds of technicians get reminders. A
    visit that was taken back at short notice stays until its day is over, marked as cancelled.
    """
    from fleet.outputs.feeds import FeedOptions
    from fleet.services.publish import write_feeds

    minutes = alarm_minutes if alarm_minutes is not None else 60 if alarm else None
    options = FeedOptions(days_back, days_ahead, minutes, tanks)
    written = write_feeds(database, folder, today=a_day(today), now=right_now(), options=options)
    if json:
        print_json({"files": [str(path) for path in written]})
    else:
        typer.echo(f"{len(written)} calendar feeds in {folder}")


def sheets(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the pages go; made if need be.")],
    days: Annotated[int, typer.Option("--days", min=1, max=366, help="How many days of visits.")] = 28,
    first: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="First day of visits; today otherwise.")
    ] = None,
    last: Annotated[
        str | None, typer.Option("--to", metavar="DATE", help="Last day of visits, in place of --days.")
    ] = None,
    site: Annotated[
        str | None, typer.Option("--site", metavar="CODE", help="Service sheets for this site's visits only.")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Print the service sheets to PDF too; takes a Chromium.")] = False,
    address: Annotated[
        str | None,
        typer.Option("--address", metavar="URL", help="Where DIR will be found; pages carry it as a QR code."),
    ] = None,
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
    closure to come. Beside each service sheet lies returns-KEY.csv, to fill in and hand to `fleet done --file`.
    """
    from fleet.services.publish import SheetChoice, write_sheets

    choice = SheetChoice(days, an_optional_day(first, "--from"), an_optional_day(last, "--to"), site, address, pdf)
    written = write_sheets(
        database,
        folder,
        today=a_day(today),
        now=right_now(),
        choice=choice,
        report_from=an_optional_day(report_from, "--report-from"),
        report_to=an_optional_day(report_to, "--report-to"),
    )
    if json:
        print_json({"files": [str(path) for path in written]})
    else:
        pages = sum(path.suffix == ".html" for path in written)
        typer.echo(f"{pages} pages in {folder}; begin with {folder / 'index.html'}")
