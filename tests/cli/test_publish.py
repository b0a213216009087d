"""`feeds`, `sheets`, `backup`, `verify`, `demo`."""

from __future__ import annotations

import csv
import shutil

import icalendar
import pytest
from typer.testing import CliRunner

from fleet.cli.main import app

from .conftest import as_json


def test_feeds_for_the_fleet_and_each_site(stocked, tmp_path):
    stocked("feeds", str(tmp_path / "feeds"))
    names = {path.name for path in (tmp_path / "feeds").glob("*.ics")}
    assert {"fleet.ics", "site-PIER-Q.ics", "site-ATTIC-1.ics"} <= names
    events = icalendar.Calendar.from_ical((tmp_path / "feeds" / "fleet.ics").read_bytes()).events
    planned = as_json(stocked("plan", "--json"))["visits"]
    assert len([event for event in events if "visit" in str(event["UID"])]) == len(planned)


def test_written_again_nothing_changed_means_the_same_bytes(stocked, tmp_path):
    stocked("feeds", str(tmp_path / "a"))
    stocked("feeds", str(tmp_path / "b"))
    stocked("sheets", str(tmp_path / "a"))
    stocked("sheets", str(tmp_path / "b"))
    files = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert files == sorted(path.name for path in (tmp_path / "b").iterdir())
    for name in files:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


def test_one_sheet_for_each_visit_and_one_card_for_each_tank(stocked, tmp_path):
    stocked("sheets", str(tmp_path), "--days", "200")
    names = {path.name for path in tmp_path.glob("*.html")}
    assert "index.html" in names
    assert {f"tank-{code}.html" for code in ("GUP", "LOB", "MUS", "REEF")} <= names
    for visit in as_json(stocked("plan", "--json"))["visits"]:
        assert f"visit-{visit['key']}.html" in names


def test_a_sheet_that_is_no_longer_true_is_taken_away_and_other_files_stay(stocked, tmp_path):
    folder = tmp_path / "sheets"
    stocked("sheets", str(folder))
    (folder / "mine.html").write_text("mine")
    gone = next(folder.glob("visit-*.html"))
    shutil.copy(gone, folder / "copy-of-a-sheet.html")
    stocked("done", "--visit", gone.stem.removeprefix("visit-"))
    stocked("sheets", str(folder))
    assert not gone.exists()
    assert (folder / "mine.html").exists()
    assert (folder / "copy-of-a-sheet.html").exists()


def test_a_folder_that_cannot_be_written_is_one_clear_line(stocked, tmp_path):
    (tmp_path / "file").write_text("in the way")
    result = stocked("feeds", str(tmp_path / "file" / "below"), code=2)
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_backup_is_a_whole_register_and_never_overwrites(stocked, tmp_path, database):
    copy = tmp_path / "copy.db"
    stocked("backup", str(copy))
    runner = CliRunner()
    assert "Sound" in runner.invoke(app, ["verify", "--database", str(copy)]).stdout
    assert stocked("backup", str(copy), code=3).stderr


def test_what_is_no_database_is_refused_with_code_3(fleet, tmp_path, database):
    with open(database, "wb") as file:
        file.write(b"this is not a database, it is a shopping list" * 100)
    for command in ("margin", "verify", "plan"):
        result = fleet(command, code=3)
        assert "Traceback" not in result.stderr


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "out"
    result = CliRunner().invoke(app, ["demo", str(folder)])
    assert result.exit_code == 0, result.stderr
    return folder, result.stdout


@pytest.mark.slow
def test_the_demo_writes_database_feeds_and_sheets_and_says_where(demo):
    folder, text = demo
    assert (folder / "fleet.db").exists()
    assert (folder / "feeds" / "fleet.ics").exists()
    assert (folder / "sheets" / "index.html").exists()
    assert str(folder / "sheets" / "index.html") in text


@pytest.mark.slow
def test_the_demo_says_which_tanks_are_short_and_what_is_late(demo):
    _, text = demo
    for tank in ("DENT-REEF", "THIS-GOLD", "QUIL-REEF"):
        assert tank in text
    assert "late" in text


@pytest.mark.slow
def test_the_demo_runs_again_in_the_same_folder(demo):
    folder, _ = demo
    before = {path.name: path.read_bytes() for path in (folder / "feeds").glob("*.ics")}
    assert CliRunner().invoke(app, ["demo", str(folder)]).exit_code == 0
    assert {path.name: path.read_bytes() for path in (folder / "feeds").glob("*.ics")} == before


def test_reports_cards_and_the_day_come_with_the_sheets(stocked, tmp_path):
    stocked("sheets", str(tmp_path))
    names = {path.name for path in tmp_path.glob("*.html")}
    assert {"today.html", "report-site-PIER-Q.html", "report-site-ATTIC-1.html"} <= names
    assert any(name.startswith("device-") for name in names)
    assert any(name.startswith("report-client-") for name in names)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--report-from", "2026-05-02", "--report-to", "2026-05-01"), "expected them in order"),
        (("--report-to", "2199-01-01"), "expected a day that is not after"),
        (("--report-from", "May"), "expected a day such as"),
    ],
)
def test_a_report_period_that_makes_no_sense_is_one_clear_line(stocked, tmp_path, options, words):
    result = stocked("sheets", str(tmp_path / "out"), *options, code=2)
    assert words in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_return_sheet_lies_beside_each_service_sheet_and_is_taken_back(stocked, tmp_path):
    folder = tmp_path / "sheets"
    stocked("sheets", str(folder), "--days", "60")
    sheets = sorted(path.stem.removeprefix("visit-") for path in folder.glob("visit-*.html"))
    assert sheets
    assert sheets == sorted(path.stem.removeprefix("returns-") for path in folder.glob("returns-*.csv"))
    sheet = folder / f"returns-{sheets[0]}.csv"
    head, first, *_ = sheet.read_text(encoding="utf-8").splitlines()
    cells = dict(zip(head.split(","), next(csv.reader([first])), strict=True))
    cells |= {"done_on": "2026-05-20", "finding": "sound"}
    sheet.write_text(head + "\n" + ",".join(f'"{cells[name]}"' for name in head.split(",")) + "\n", encoding="utf-8")
    assert cells["key"] in stocked("done", "--file", str(sheet)).stdout


def test_service_sheets_of_one_site_between_two_days(stocked, tmp_path):
    visits = as_json(stocked("plan", "--json"))["visits"]
    one = visits[0]
    day = one["start"][:10]
    stocked("sheets", str(tmp_path), "--site", one["site"], "--from", day, "--to", day)
    wanted = {f"visit-{row['key']}.html" for row in visits if row["site"] == one["site"] and row["start"][:10] == day}
    assert {path.name for path in tmp_path.glob("visit-*.html")} == wanted


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--to", "2026-05-01"), "--to 2026-05-01: expected a day not before 2026-05-20"),
        (("--from", "2026-06-02", "--to", "2026-06-01"), "--to 2026-06-01: expected a day not before 2026-06-02"),
        (("--site", "NOWHERE"), "--site NOWHERE: no such site on record"),
    ],
)
def test_a_choice_of_sheets_that_cannot_be_is_one_clear_line(stocked, tmp_path, words, told):
    result = stocked("sheets", str(tmp_path / "sheets"), *words, code=2)
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "sheets").exists()


def test_without_a_chromium_pdf_is_refused_in_one_line_and_nothing_written(stocked, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    result = stocked("sheets", str(tmp_path / "sheets"), "--pdf", code=2)
    assert "--pdf: no Chromium found" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "sheets").exists()


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="there is no chromium on the path")
def test_sheets_are_printed_to_pdf(stocked, tmp_path):
    stocked("sheets", str(tmp_path), "--days", "14", "--pdf")
    names = {path.stem for path in tmp_path.glob("visit-*.html")}
    assert names
    assert names == {path.stem for path in tmp_path.glob("*.pdf")}
    assert all(path.read_bytes().startswith(b"%PDF-") for path in tmp_path.glob("*.pdf"))
