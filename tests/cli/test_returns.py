"""`done --file`: a day's work comes back on one sheet, whole or not at all, and only once."""

from __future__ import annotations

import csv

import pytest

from .conftest import as_json

HEADER = "key,done_on,by,finding,minutes,reading,note\n"


@pytest.fixture
def keys(stocked):
    """Keys of a few tasks of the pier, by catalogue id and subject."""
    rows = as_json(stocked("plan", "--json"))["tasks"]
    first: dict[tuple[str, str], str] = {}
    for row in rows:
        first.setdefault((row["task"], row["subject"]), row["key"])
    return first


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "returns.csv"

    def write(*lines: str, header: str = HEADER):
        path.write_text(header + "".join(f"{line}\n" for line in lines))
        return str(path)

    return write


def work(stocked):
    return [row for row in as_json(stocked("show", "history", "--json")) if row["done_on"] >= "2026-05-01"]


def test_a_sheet_is_taken_once(stocked, keys, sheet):
    screen, fins = keys["clean-intake-screen", "C-LOB"], keys["clean-condenser-fins", "C-LOB"]
    other = keys["clean-intake-screen", "C-REEF"]
    path = sheet(
        f"{screen},2026-05-19,Ines,sound,12,LOB:water-temp=54F; power=1050 W,",
        f'{fins.lower()},2026-05-20,,degraded,,,"bent fins, left"',
        f"{other},,,,,,nobody there",
    )
    first = as_json(stocked("done", "--file", path, "--by", "desk", "--json"))
    assert (first["done"], first["known_before"], first["not_done"], first["readings"]) == ([screen, fins], 0, 1, 2)
    rows = {row["task"]: row for row in work(stocked)}
    assert (rows["clean-intake-screen"]["by"], rows["clean-intake-screen"]["minutes"]) == ("Ines", 12)
    assert (rows["clean-condenser-fins"]["by"], rows["clean-condenser-fins"]["note"]) == ("desk", "bent fins, left")
    readings = as_json(stocked("show", "readings", "--json"))
    assert {row["subject"] for row in readings} == {"LOB", "C-LOB"}

    again = as_json(stocked("done", "--file", path, "--by", "somebody else", "--json"))
    assert (again["done"], again["known_before"], again["readings"]) == ([], 2, 0)
    assert "0 recorded, 2 on record already, 1 not done." in stocked("done", "--file", path).stdout
    assert len(work(stocked)) == 2
    assert as_json(stocked("show", "readings", "--json")) == readings


def test_every_fault_is_told_with_its_place_and_nothing_is_taken(stocked, keys, sheet):
    key = keys["clean-intake-screen", "C-LOB"]
    path = sheet(
        f"{key},2026-05-19,,sound,12,,",
        "ZZZ-ZZZZ,2026-05-19,,,,,",
        f"{keys['clean-condenser-fins', 'C-LOB']},2026-05-21,,,,,",
        f"{keys['clean-intake-screen', 'C-REEF']},19/5/2026,,fine,-3,,",
        f"{keys['clean-condenser-fins', 'C-REEF']},2026-05-19,,,,power=lots; colour=blue; 5,",
        f"{key},,,sound,,,",
        f"{key},2026-05-19,,fault,12,,",
    )
    said = stocked("done", "--file", path, code=2).stderr
    for told in (
        "returns.csv row 3, key: 'ZZZ-ZZZZ': expected the key of a task",
        "returns.csv row 4, done_on: '2026-05-21': expected a day up to today",
        "returns.csv row 5, done_on: '19/5/2026': expected a day as YYYY-MM-DD",
        "returns.csv row 5, finding: 'fine': expected one of sound",
        "returns.csv row 5, minutes: '-3': expected between 0 and 10000",
        "returns.csv row 6, reading: 'power=lots'",
        "returns.csv row 6, reading: 'colour=blue'",
        "returns.csv row 6, reading: '5': expected [SUBJECT:]QUANTITY=VALUE",
        "returns.csv row 7, done_on: '': expected the day it was done",
        "returns.csv row 8, key: '" + key + "': expected one row for the same work on one day; row 2",
    ):
        assert told in said, told
    assert "Traceback" not in said
    assert work(stocked) == []


def test_work_on_record_with_other_words_is_not_written_over(stocked, keys, sheet):
    key = keys["clean-intake-screen", "C-LOB"]
    stocked("done", key, "--finding", "sound", "--by", "Ines", "--on", "2026-05-19")
    said = stocked("done", "--file", sheet(f"{key},2026-05-19,Ines,fault,,,"), code=2).stderr
    assert "as done on 2026-05-19 by Ines (sound); `fleet correct` changes what it says" in said


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("key,finding\n", "done_on"),
        ("key,done_on,findings\n", "the nearest is finding"),
        ("key,done_on,key\n", "each column only once"),
        ("", "this column, which every row needs"),
    ],
)
def test_a_header_that_cannot_be_taken_is_refused(stocked, sheet, header, told):
    assert told in stocked("done", "--file", sheet("a,b,c", header=header), code=2).stderr


def test_a_sheet_goes_alone(stocked, sheet):
    assert "leave out keys" in stocked("done", "7K3-Q9MD", "--file", sheet(), code=2).stderr
    assert "CSV" in stocked("done", "--file", "returns.xlsx", code=2).stderr


@pytest.mark.slow
def test_the_sheet_of_a_visit_comes_back_as_it_was_handed_out(stocked, sheet, database, tmp_path):
    from datetime import date

    from fleet.db.repository import Register
    from fleet.outputs.returns import return_sheet
    from fleet.services.outlook import look_ahead

    stocked("plan", "--publish")
    with Register.open(database, read_only=True) as register:
        outlook = look_ahead(register, date(2026, 5, 20))
    visit = max(outlook.plan.visits, key=lambda visit: len(visit.tasks))
    path = tmp_path / "out.csv"
    path.write_bytes(return_sheet(visit, outlook.plan, outlook.fleet, outlook.catalogue))
    assert as_json(stocked("done", "--file", str(path), "--json"))["not_done"] == len(visit.tasks)
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["key"] for row in rows] == list(visit.tasks)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows({**row, "done_on": "2026-05-20", "finding": "sound"} for row in rows)
    assert as_json(stocked("done", "--file", str(path), "--json"))["done"] == list(visit.tasks)


@pytest.mark.slow
def test_work_done_by_a_printed_sheet_is_taken_though_the_plan_has_moved_on(stocked, keys, sheet):
    """The task has left the plan since, because the same work came in by another way with a later day."""
    stocked("plan", "--publish")
    key = keys["clean-condenser-fins", "C-LOB"]
    row = ["subject=C-LOB", "task=clean-condenser-fins", "done_on=2026-05-20", "by=desk"]
    stocked("add", "history", "C-LOB", *row[1:], day=None)
    assert key not in {task["key"] for task in as_json(stocked("plan", "--json"))["tasks"]}
    taken = as_json(stocked("done", "--file", sheet(f"{key},2026-05-12,Ines,sound,,,"), "--json"))
    assert taken["done"] == [key]
