"""`plan --publish`: calendars show what was published, less what was done, until the next edition."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from .conftest import as_json

pytestmark = pytest.mark.slow
"""Every step plans the whole register anew."""


def stamps(folder: Path) -> dict[str, tuple[str, str, str]]:
    """Start, SEQUENCE and DTSTAMP of every entry of the fleet's feed, by UID."""
    text = (folder / "fleet.ics").read_text().replace("\n ", "")
    found = {}
    for entry in text.split("BEGIN:VEVENT")[1:]:
        values = dict(re.findall(r"^([A-Z]+)(?:;[^:\n]*)?:(.*)$", entry, re.MULTILINE))
        found[values["UID"].strip()] = tuple(values[name].strip() for name in ("DTSTART", "SEQUENCE", "DTSTAMP"))
    return found


@pytest.fixture
def feeds(stocked, tmp_path):
    def write(day: str) -> dict[str, tuple[str, str, str]]:
        stocked("feeds", str(tmp_path / "feeds"), day=day)
        return stamps(tmp_path / "feeds")

    return write


def test_before_the_first_edition_calendars_show_the_plan_as_saved(stocked, feeds):
    saved = as_json(stocked("plan", "--json"))
    assert saved["since_published"] is None
    shown = feeds("2026-05-20")
    assert {f"{visit['key']}.visit@fleet.invalid" for visit in saved["visits"]} <= shown.keys()
    stocked("plan", "--publish")
    assert feeds("2026-05-20") == shown


def test_calendars_keep_the_edition_while_plans_move_on(stocked, feeds):
    published = as_json(stocked("plan", "--publish", "--json"))
    assert published["published"] is True
    before = feeds("2026-05-20")
    first = min(visit["start"][:10] for visit in published["visits"])
    later = as_json(stocked("plan", "--json", day="2026-06-20"))
    assert first < "2026-06-20"
    assert later["since_published"]["moved"] or later["since_published"]["dropped"]
    after = feeds("2026-06-20")
    assert {uid: after[uid][:2] for uid in before if uid in after} == {
        uid: before[uid][:2] for uid in before if uid in after
    }
    stocked("plan", "--publish", day="2026-06-20")
    assert feeds("2026-06-20") != after
    assert as_json(stocked("plan", "--json", day="2026-06-20"))["since_published"] == {
        "added": [], "moved": [], "dropped": [],
    }  # fmt: skip


def test_work_done_leaves_the_calendar_at_once(stocked, feeds):
    visit = min(as_json(stocked("plan", "--publish", "--json"))["visits"], key=lambda visit: visit["start"])
    uid = f"{visit['key']}.visit@fleet.invalid"
    before = feeds("2026-05-20")
    *some, last = visit["tasks"]
    if some:
        stocked("done", *some)
        during = feeds("2026-05-20")
        assert during[uid][:2] == before[uid][:2]
        assert during[uid][2] > before[uid][2]
    stocked("done", last)
    assert uid not in feeds("2026-05-20")


def test_what_is_told_about_publishing(stocked):
    assert "Nothing is published yet" in stocked("plan").stdout
    assert "Published: calendars show this plan" in stocked("plan", "--publish").stdout
    assert "does not differ from it" in stocked("plan").stdout
    assert "Published. Since the edition of 20 May 2026: nothing" in stocked("plan", "--publish").stdout


def visits(stocked, *options: str) -> dict[str, tuple[str, str | None]]:
    rows = as_json(stocked("plan", *options, "--json"))["visits"]
    return {row["key"]: (row["start"], row["technician"]) for row in rows}


def test_news_moves_the_agreed_visit_that_it_touches_and_no_other(stocked):
    before = visits(stocked, "--publish")
    rows = as_json(stocked("plan", "--json"))["visits"]
    row = next(row for row in sorted(rows, key=lambda row: row["start"]) if row["start"][:10] > "2026-05-22")
    day = date.fromisoformat(row["start"][:10])
    closed = [f"since={day}", f"until={day + timedelta(days=1)}", "reason=stocktaking"]
    stocked("add", "closure", row["site"], *closed, day=None)
    after = visits(stocked)
    assert after[row["key"]][0][:10] != day.isoformat()
    assert {key: after[key] for key in before if key != row["key"]} == {
        key: before[key] for key in before if key != row["key"]
    }


def test_frozen_days_stand_whatever_the_news(stocked):
    before = visits(stocked, "--publish")
    key = min((key for key in before if before[key][0] > "2026-05-21"), key=lambda key: before[key])
    day = before[key][0][:10]
    site = next(row["site"] for row in as_json(stocked("plan", "--json"))["visits"] if row["key"] == key)
    stocked("add", "closure", site, f"since={day}", "until=2026-12-01", "reason=flood", day=None)
    through = f"{int(day[:4]) + 1}-01-01"
    assert visits(stocked, "--freeze", through)[key] == before[key]
    assert visits(stocked).get(key, ("", None))[0][:10] != day
