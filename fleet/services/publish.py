"""Writes what people hold in their hands: calendar feeds and service sheets."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

from fleet.db.repository import Register
from fleet.errors import BadInput
from fleet.outputs.feeds import USUAL, FeedOptions
from fleet.outputs.html import all_sheets, sheet_visits
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.returns import return_names, return_sheet
from fleet.services.edition import Edition, edition_in_force
from fleet.services.feeds import feed_files_in_force
from fleet.services.outage import outages_by_site
from fleet.services.outlook import Outlook
from fleet.services.pages import page_facts, report_period
from fleet.services.plan import plan_and_save

LISTING = ".written-by-fleet"
"""Names the files of the last run, so that the next one can take away those that are no longer true."""


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
    days: int,
    report_from: date | None = None,
    report_to: date | None = None,
) -> tuple[Path, ...]:
    """Saves the plan as of `today` and writes every page of the edition in force.

    Reports tell of the days from `report_from` to `report_to`, of the year before `today` without them.
    """
    period = report_period(today, report_from, report_to)
    outlook, edition = planned(url, today=today, now=now)
    return write_all(folder, sheets_of(outlook, edition, today, days, page_facts(url, outlook, period)))


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
