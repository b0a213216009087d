"""Writes what people hold in their hands: calendar feeds and service sheets."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from fleet.db.repository import Register
from fleet.errors import BadInput
from fleet.outputs.feeds import USUAL, FeedOptions
from fleet.outputs.html import all_sheets, sheet_visits
from fleet.outputs.names import file_names
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.returns import return_names, return_sheet
from fleet.services.edition import Edition, edition_in_force
from fleet.services.feeds import feed_files_in_force
from fleet.services.outage import outages_by_site
from fleet.services.outlook import Outlook
from fleet.services.pages import page_facts, report_period
from fleet.services.paper import browser, printed
from fleet.services.plan import plan_and_save
from fleet.values.vocabulary import UnitSystem

LISTING = ".written-by-fleet"
"""Names the files of the last run, so that the next one can take away those that are no longer true."""


@dataclass(frozen=True, slots=True)
class SheetChoice:
    """Which visits get a sheet, from `first` (else today) to `last` (else `days` on), at one `site` or all; the address
    that their pages will have, where known; whether they are printed to PDF too."""

    days: int
    first: date | None = None
    last: date | None = None
    site: str | None = None
    base_url: str | None = None
    pdf: bool = False


def write_feeds(
    url: str, folder: Path, *, today: date, now: datetime, options: FeedOptions = USUAL
) -> tuple[Path, ...]:
    """Saves the plan as of `today` and writes the calendar feeds of the edition in force; returns the files."""
    outlook, edition = planned(url, today=today, now=now)
    return write_all(folder, feed_files_in_force(url, outlook, edition, today=today, now=now, options=options))


def write_sheets(
    url: str,
    folder: Path,
    *,
    today: date,
    now: datetime,
    choice: SheetChoice,
    report_from: date | None = None,
    report_to: date | None = None,
) -> tuple[Path, ...]:
    """Saves the plan as of `today` and writes every page of the edition in force.

    Reports tell of the days from `report_from` to `report_to`, of the year before `today` without them. Raises BadInput
    for a site that is not on record, days in the wrong order, and a PDF that cannot be made.
    """
    period = report_period(today, report_from, report_to)
    first, last = choice.first or today, choice.last or today + timedelta(days=choice.days)
    if last < max(first, today):
        raise BadInput(f"--to {last}: expected a day not before {max(first, today)}")
    if choice.pdf:
        browser()
    outlook, edition = planned(url, today=today, now=now)
    if choice.site is not None and choice.site not in outlook.fleet.site_by_code:
        raise BadInput(f"--site {choice.site}: no such site on record")
    files = sheets_of(
        outlook,
        edition,
        today,
        (last - today).days,
        page_facts(url, outlook, period),
        first=first,
        only_site=choice.site,
        base_url=choice.base_url,
    )
    if choice.pdf:
        names = file_names("visit", (row.key for row in sheet_visits(edition.plan, first, last, choice.site)), "html")
        pages = {name: files[name] for name in names.values()}
        files |= printed(pages, {name: _paper(outlook, edition, key) for key, name in names.items()})
    return write_all(folder, files)


def _paper(outlook: Outlook, edition: Edition, visit: str) -> str:
    """Letter for clients who read US units, A4 for all others."""
    fleet = outlook.fleet
    client = fleet.client_by_code.get(fleet.site_by_code[edition.plan.visit_by_key[visit].site].client)
    return "letter" if client is not None and client.units is UnitSystem.US else "A4"


def planned(url: str, *, today: date, now: datetime, publish: bool = False) -> tuple[Outlook, Edition]:
    """The outlook on `today`, its plan saved (and published, if so asked), and the edition in force beside it."""
    outlook = plan_and_save(url, today=today, through=None, now=now, publish=publish).outlook
    with Register.open(url, read_only=True) as register:
        return outlook, edition_in_force(register, outlook.plan)


def sheets_of(
    outlook: Outlook,
    edition: Edition,
    today: date,
    days: int,
    facts: PageFacts | None = None,
    *,
    first: date | None = None,
    only_site: str | None = None,
    base_url: str | None = None,
) -> dict[str, bytes]:
    """The pages of an edition by file name, as of `today`, and a return sheet for each visit; reports, device cards and
    the like with `facts` only."""
    pages = all_sheets(
        replace(edition.plan, today=today),
        outlook.fleet,
        outlook.catalogue,
        outlook.assessments,
        today=today,
        days=days,
        outages=outages_by_site(outlook.fleet, outlook.catalogue),
        facts=facts,
        first=first,
        only_site=only_site,
        base_url=base_url,
    )
    made = {name: page.encode() for name, page in pages.items()}
    visits = sheet_visits(edition.plan, first or today, today + timedelta(days=days), only_site)
    for key, name in return_names(visits).items():
        visit = edition.plan.visit_by_key[key]
        made[name] = return_sheet(visit, edition.plan, outlook.fleet, outlook.catalogue)
    return made


def write_all(folder: Path, files: Mapping[str, bytes] | Iterable[tuple[str, bytes]]) -> tuple[Path, ...]:
    """Writes the files, all or none, and removes those of an earlier run that are gone.

    Contents are taken one at a time and put beside their places; only when all are there do they take them.
    """
    waiting: dict[Path, Path] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        listing = folder / LISTING
        earlier = listing.read_text(encoding="utf-8").splitlines() if listing.exists() else []
        names = []
        for name, content in files.items() if isinstance(files, Mapping) else files:
            names.append(name)
            _put_beside(folder / name, content, waiting)
        _put_beside(listing, "\n".join(sorted(names)).encode(), waiting)
        for path, beside in waiting.items():
            os.replace(beside, path)
        for name in set(earlier) - set(names):
            (folder / Path(name).name).unlink(missing_ok=True)
    except OSError as error:
        raise BadInput(f"cannot write to {folder}: {error.strerror}") from error
    finally:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
    return tuple(folder / name for name in sorted(names))


def _put_beside(path: Path, content: bytes, waiting: dict[Path, Path]) -> None:
    """An unchanged file keeps its time of writing, so that readers that look at it see no change."""
    if path.exists() and path.read_bytes() == content:
        return
    beside = path.with_name(f".{path.name}.part")
    waiting[path] = beside
    beside.write_bytes(content)
