"""Carries the sample register from files to feeds and sheets, so that a newcomer sees the whole job once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from fleet import resources
from fleet.db.engine import place_of
from fleet.errors import BadInput
from fleet.services.feeds import feed_files_in_force
from fleet.services.outlook import Outlook
from fleet.services.pages import page_facts, report_period
from fleet.services.publish import planned, sheets_of, write_all
from fleet.services.register import ImportResult, import_register

STORY_DAY = date(2026, 5, 20)
"""The day on which the story of the sample register is told; a later day would find everything late."""

SHEET_DAYS = 28


@dataclass(frozen=True, slots=True)
class DemoResult:
    database: str
    """Its address without a password."""
    feeds: tuple[Path, ...]
    sheets: tuple[Path, ...]
    imported: ImportResult
    outlook: Outlook


def run_demo(folder: Path, *, database: str | None, today: date, who: str, now: datetime) -> DemoResult:
    """Writes database, feeds and sheets into `folder` and returns what was found on the way.

    `database` is the address of another place for the register; a file in the folder otherwise.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"cannot write to {folder}: {error.strerror}") from error
    url = database or str(folder / "fleet.db")
    register_folder = resources.sample_data() / "register"
    imported = import_register(url, register_folder, only_check=False, who=who, now=now)
    outlook, edition = planned(url, today=today, now=now, publish=True)
    feeds = write_all(folder / "feeds", feed_files_in_force(url, outlook, edition, today=today, now=now))
    facts = page_facts(url, outlook, report_period(today, None, None))
    sheets = write_all(folder / "sheets", sheets_of(outlook, edition, today, SHEET_DAYS, facts))
    return DemoResult(place_of(url).shown, feeds, sheets, imported, outlook)
