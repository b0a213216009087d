"""CSV and workbooks as spreadsheets really write them, and files that are none."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput
from fleet.files.csv_files import csv_bytes, guarded, read_csv, unguarded
from fleet.files.register_files import read_register, write_register
from fleet.values.vocabulary import SubjectKind

Write = Callable[[Any], Path]


def read_clients(folder: Path, raw: bytes) -> Any:
    (folder / "clients.csv").write_bytes(raw)
    return read_register(folder, {}).clients


def errors_of(path: Path) -> list[str]:
    with pytest.raises(BadInput) as refused:
        read_register(path, {})
    return [str(error) for error in refused.value.errors]


def client_errors(folder: Path, raw: bytes) -> list[str]:
    (folder / "clients.csv").write_bytes(raw)
    return errors_of(folder)


@pytest.mark.parametrize(
    "raw",
    [
        b"code,name\nKELP,Blue Kelp\n",
        b"\xef\xbb\xbfcode,name\nKELP,Blue Kelp\n",
        b"code,name\r\nKELP,Blue Kelp\r\n",
        b"code;name\nKELP;Blue Kelp\n",
        b'"code";"name"\n"KELP";"Blue Kelp"\n',
        b"code,name\nKELP,Blue Kelp",
        b"code,name\nKELP,Blue Kelp\n\n,\n ,  \n",
        b"\n\ncode,name\nKELP,Blue Kelp\n",
        b" Code , NAME \nKELP, Blue Kelp \n",
        b"code,name,,\nKELP,Blue Kelp,,\n",
        b"name,code\nBlue Kelp,KELP\n",
    ],
)
def test_the_ways_spreadsheets_save_csv(tmp_path: Path, raw: bytes) -> None:
    (client,) = read_clients(tmp_path, raw)
    assert (client.code, client.name) == ("KELP", "Blue Kelp")


def test_lists_in_a_file_parted_by_semicolons_are_quoted(tmp_path: Path) -> None:
    (tmp_path / "technicians.csv").write_text('code;name;skills\nMARA;Mara;"keeper;technician"\n', encoding="utf-8")
    assert read_register(tmp_path, {}).technicians[0].skills == ("keeper", "technician")


def test_rows_are_counted_as_a_spreadsheet_shows_them(tmp_path: Path) -> None:
    """A note over two lines is one row, an empty line is a row."""
    raw = b'code,name,units,notes\nA,One,,"first\nsecond"\n\nB,Two,imperial,\n'
    assert client_errors(tmp_path, raw) == ["clients.csv row 4, units: 'imperial': expected one of us, metric"]


def test_quoted_newlines_are_kept_as_single_ones(tmp_path: Path) -> None:
    (client,) = read_clients(tmp_path, b'code,name,notes\r\nA,One,"first\r\nsecond"\r\n')
    assert client.notes == "first\nsecond"


def test_a_row_may_leave_out_its_last_empty_cells(tmp_path: Path) -> None:
    (client,) = read_clients(tmp_path, b"code,name,kind,notes\nA,One\n")
    assert (client.name, client.kind, client.notes) == ("One", None, None)


BAD_FILES = [
    (b"", "clients.csv row 1: '': expected a header row with code, name, kind, contact, email, phone, units, notes"),
    (b"code,name\nA,One,x\n", "clients.csv row 2: 'A': expected 2 cells, as in the header, not 3"),
    (b"code,kind,name\nA,home\n", "clients.csv row 2, name: '': expected a value: this column may not be empty"),
    (b"code,name,name\nA,One,Two\n", "clients.csv row 1, name: 'name': expected each column only once"),
    (b"code,name,,kind\nA,One,,home\n", "clients.csv row 1: '': expected a name for column 3 of the header"),
    (b"code\nA\n", "clients.csv row 1, name: '': expected this column, which every row needs"),
    (b"code,name,phon\nA,One,1\n", "clients.csv row 1: 'phon': expected a column of clients; the nearest is phone"),
    (b"code,name\nA,Caf\xe9\n", "clients.csv row 2: 'A,Café': expected text saved as UTF-8"),
    (b"code,name\nA,O\0ne\n", "clients.csv row 2: 'NUL': expected text without NUL characters"),
    (b"code,name\nA,O\x07ne\n", "clients.csv row 2, name: 'O\\x07ne': expected printable text"),
    (
        b'code,name\nA,"One\n',
        "clients.csv row 2: '': expected cells of CSV with paired quotation marks (unexpected end of data)",
    ),
]


@pytest.mark.parametrize(("raw", "line"), BAD_FILES)
def test_a_file_that_cannot_be_taken_is_told_in_one_line(tmp_path: Path, raw: bytes, line: str) -> None:
    assert client_errors(tmp_path, raw) == [line]


def test_text_in_utf_16_is_one_clear_error(tmp_path: Path) -> None:
    (line,) = client_errors(tmp_path, "code,name\nA,One\n".encode("utf-16"))
    assert line.endswith("expected text saved as UTF-8")


def test_a_file_that_cannot_be_read_brings_no_second_error(cells: Any, folder: Write) -> None:
    path = folder(cells)
    (path / "rooms.csv").write_bytes(b"code,site,name,hot_day_mean\nLOBBY,HARBOUR,\xff,78 F\n")
    (line,) = errors_of(path)
    assert "rooms.csv row 2" in line


def test_a_header_without_code_brings_no_second_error(cells: Any, folder: Write) -> None:
    cells["rooms"] = [{"kode": "LOBBY", "site": "HARBOUR", "name": "Lobby", "hot_day_mean": "78 F"}]
    assert errors_of(folder(cells)) == [
        "rooms.csv row 1: 'kode': expected a column of rooms; the nearest is code",
        "rooms.csv row 1, code: '': expected this column, which every row needs",
    ]


def test_an_unknown_csv_file_names_the_nearest_and_others_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "clients.csv").write_text("code,name\nA,One\n", encoding="utf-8")
    (tmp_path / "story.md").write_text("not ours", encoding="utf-8")
    assert len(read_register(tmp_path, {}).clients) == 1
    (tmp_path / "tank.csv").write_text("code\n", encoding="utf-8")
    (line,) = errors_of(tmp_path)
    assert line.startswith("tank.csv: 'tank.csv': expected one of clients.csv, sites.csv,")
    assert line.endswith("; the nearest is tanks")


def test_names_of_files_may_be_in_any_case_but_only_once(tmp_path: Path) -> None:
    (tmp_path / "Clients.CSV").write_text("code,name\nA,One\n", encoding="utf-8")
    assert len(read_register(tmp_path, {}).clients) == 1
    (tmp_path / "clients.csv").write_text("code,name\nB,Two\n", encoding="utf-8")
    assert errors_of(tmp_path) == ["clients.csv: 'clients': expected each file of the register only once"]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("nowhere", "expected a folder of CSV files, an .xlsx workbook or a CSV file"),
        ("empty", "expected CSV files of a register in it, such as tanks.csv"),
        ("notes.txt", "expected a file that ends in .xlsx or .csv, or a folder of CSV files"),
        ("broken.xlsx", "an .xlsx workbook that can be read"),
        ("blank.xlsx", "expected at least one sheet of a register with a header, such as tanks"),
    ],
)
def test_a_path_that_holds_no_register(tmp_path: Path, name: str, expected: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "notes.txt").write_text("x", encoding="utf-8")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04 not a workbook")
    openpyxl.Workbook().save(tmp_path / "blank.xlsx")
    with pytest.raises(BadInput) as refused:
        read_register(tmp_path / name, {})
    assert name in str(refused.value)
    assert expected in str(refused.value)


def workbook_of(path: Path, sheets: dict[str, list[list[Any]]]) -> Path:
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.worksheets[0])
    for name, rows in sheets.items():
        worksheet = workbook.create_sheet(name)
        for row in rows:
            worksheet.append(row)
    workbook.save(path)
    return path


def test_a_workbook_with_cells_of_its_own_kinds(tmp_path: Path) -> None:
    naive_moment = datetime.combine(date(2026, 7, 1), time(8))
    path = workbook_of(
        tmp_path / "register.xlsx",
        {
            "Clients": [["code", "name", "notes"], ["A", "One", "=1+1"]],
            "sites": [
                ["code", "client", "name", "time_zone", "latitude", "hot_season_start", "hot_season_end", "visit_from"],
                ["S", "A", "S", "Europe/London", -37.81, date(2026, 5, 15), date(2026, 9, 30), time(8, 30)],
            ],
            "rooms": [["code", "site", "name", "hot_day_mean", "air_conditioned"], ["R", "S", "R", "24 C", True]],
            "contacts": [
                ["site", "role", "name", "order", "tested_on"],
                [None, None, None, None, None],
                ["S", "vet", "Vera", 2, date(2026, 3, 4)],
            ],
            "events": [["subject", "event", "on"], ["R", "storm", date(2026, 3, 4)]],
            "readings": [
                ["subject", "quantity", "value", "taken_at"],
                ["R", "humidity-percent", 55.5, naive_moment],
            ],
        },
    )
    rows = read_register(path, {})
    assert rows.clients[0].notes == "=1+1"
    assert rows.sites[0].latitude == -37.81
    assert rows.sites[0].hot_seasons[0].last_day == 30
    assert rows.sites[0].visit_from == time(8, 30)
    assert rows.rooms[0].air_conditioned is True
    assert (rows.contacts[0].order, rows.contacts[0].tested_on) == (2, date(2026, 3, 4))
    assert (rows.readings[0].value, rows.readings[0].taken_at) == (55.5, datetime(2026, 7, 1, 7, tzinfo=UTC))


def test_a_bad_cell_of_a_workbook_is_named_with_its_sheet(tmp_path: Path) -> None:
    path = workbook_of(
        tmp_path / "register.xlsx",
        {"clients": [["code", "name", "units"], [], ["A", "One", "imperial"]], "Sheet2": [[]]},
    )
    assert errors_of(path) == ["register.xlsx clients row 3, units: 'imperial': expected one of us, metric"]


def test_an_unknown_sheet_names_the_nearest(tmp_path: Path) -> None:
    path = workbook_of(tmp_path / "register.xlsx", {"clients": [["code", "name"]], "tank": [["code"]]})
    (line,) = errors_of(path)
    assert line.startswith("register.xlsx tank: 'tank': expected one of clients, sites,")
    assert line.endswith("; the nearest is tanks")


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+1+cmd", "'+1+cmd"),
        ("@sum(A1)", "'@sum(A1)"),
        ("-1+2", "'-1+2"),
        ("\tx", "'\tx"),
        ("'=1+1", "''=1+1"),
        ("-73.94", "-73.94"),
        ("-5 C", "-5 C"),
        ("-1E-30", "-1E-30"),
        ("plain", "plain"),
        ("'quoted'", "'quoted'"),
    ],
)
def test_what_a_spreadsheet_would_run_is_written_behind_an_apostrophe(cell: str, written: str) -> None:
    assert guarded(cell) == written
    assert unguarded(written) == cell


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="'=+-@\t\r1 Ca", max_size=8) | st.text(max_size=20))
def test_the_apostrophe_comes_off_again(cell: str) -> None:
    written = guarded(cell)
    assert unguarded(written) == cell
    assert not written.startswith(("=", "+", "@", "\t", "\r"))


def test_no_cell_of_a_written_file_starts_a_formula(cells: Any, folder: Write, tmp_path: Path) -> None:
    cells["clients"][0] |= {"notes": "'=HYPERLINK(1)", "contact": "@Ada", "phone": "+1 555 0100"}
    rows = read_register(folder(cells), {})
    write_register(rows, tmp_path / "out")
    with (tmp_path / "out" / "clients.csv").open(encoding="utf-8", newline="") as file:
        (client,) = csv.DictReader(file)
    assert client["notes"] == "'=HYPERLINK(1)"
    assert client["phone"] == "'+1 555 0100"
    write_register(rows, tmp_path / "out.xlsx")
    kinds = {
        cell.data_type
        for worksheet in openpyxl.load_workbook(tmp_path / "out.xlsx").worksheets
        for row in worksheet.iter_rows()
        for cell in row
        if cell.value is not None
    }
    assert kinds == {"s"}
    assert read_register(tmp_path / "out", {}) == read_register(tmp_path / "out.xlsx", {}) == rows


def test_written_csv_is_what_the_standard_library_reads() -> None:
    rows = [["a,b", 'say "x"', "two\nlines"], ["", "ä", "x"]]
    text = io.StringIO(csv_bytes(["p", "q", "r"], rows).decode("utf-8"), newline="")
    assert list(csv.reader(text)) == [["p", "q", "r"], *rows]


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200) | st.text(alphabet='code,name;"\n\r\t =A1', max_size=80).map(str.encode))
def test_any_bytes_are_a_sheet_or_refused(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "clients.csv"
    path.write_bytes(raw)
    try:
        assert read_csv(path, "clients", ["code", "name"]).name == "clients"
        read_register(path, {"A": SubjectKind.CLIENT})
    except BadInput as refused:
        message = str(refused)
    else:
        message = "read"
    assert message


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_called_a_workbook_are_refused(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.xlsx"
    path.write_bytes(raw)
    with pytest.raises(BadInput, match="workbook that can be read"):
        read_register(path, {})


def test_a_damaged_workbook_is_refused_wherever_the_damage_is(cells: Any, folder: Write, tmp_path: Path) -> None:
    """Every hundredth byte turned over, one at a time: the archive, its XML or its numbers may break."""
    whole = tmp_path / "whole.xlsx"
    rows = read_register(folder(cells), {})
    write_register(rows, whole)
    raw = whole.read_bytes()
    outcomes = set()
    for place in range(0, len(raw), len(raw) // 100):
        damaged = tmp_path / "damaged.xlsx"
        damaged.write_bytes(raw[:place] + bytes([raw[place] ^ 0xFF]) + raw[place + 1 :])
        try:
            outcomes.add(read_register(damaged, {}) == rows)
        except BadInput:
            outcomes.add(None)
    assert outcomes <= {True, None}
    assert None in outcomes
