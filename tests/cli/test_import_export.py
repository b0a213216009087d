"""The register in and out by the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import as_json


def test_a_register_that_is_not_the_sample_comes_in_though_files_are_missing(fleet, pier):
    assert "31 added, 0 changed, 0 the same" in fleet("import", str(pier)).stdout


def test_the_second_import_says_all_the_same(stocked, pier):
    assert "0 added, 0 changed, 31 the same" in stocked("import", str(pier)).stdout


@pytest.mark.parametrize("name", ["out", "out.xlsx"])
def test_what_is_exported_is_the_same_register(stocked, tmp_path, name):
    stocked("export", str(tmp_path / name))
    assert "0 added, 0 changed, 31 the same" in stocked("import", str(tmp_path / name)).stdout


def test_a_check_writes_nothing_not_even_a_database(fleet, pier, database):
    assert "31 would be added" in fleet("import", str(pier), "--check").stdout
    assert not Path(database).exists()


def test_one_file_alone_may_change_rows_by_their_code(stocked, pier):
    lamp = "tank,name,kind,power,since\nGUP,hood,light,40 W,2023-01-01\n"
    (pier / "loads.csv").write_text(lamp)
    assert "0 added, 1 changed, 0 the same" in stocked("import", str(pier / "loads.csv")).stdout


BAD = (
    # file, a good cell, the bad one in its place, what the message says was expected
    ("clients.csv", "company", "firm", "one of company, aquarium, school, home"),
    ("clients.csv", "ATTIC,The", "AT TIC,The", "a code of 1 to 24 letters, digits"),
    ("sites.csv", "Europe/Lisbon", "Lisbon", "time zone"),
    ("sites.csv", "06-01", "6/1", "MM-DD"),
    ("sites.csv", "Mon-Thu", "weekdays", "Mon-Fri"),
    ("sites.csv", "08:00", "8 o'clock", "08:30"),
    ("sites.csv", "38.70", "138.70", "between -90 and 90"),
    ("sites.csv", "0.22", "22 cents", "plain number"),
    ("rooms.csv", "76 F", "76", "78 F or 25.5 C"),
    ("rooms.csv", "no,27 C", "perhaps,27 C", "yes or no"),
    ("rooms.csv", ",35,", ",135,", "between 0 and 100"),
    ("tanks.csv", "REEF,LOFT,Corner reef,reef,4 ft,2 ft,20 in,glass,12 mm,90 gal,35,open,closed,25.5", "REEF,LOFTY,Corner reef,reef,4 ft,2 ft,20 in,glass,12 mm,90 gal,35,open,closed,25.5", "the nearest is LOFT"),  # noqa: E501
    ("tanks.csv", "240 cm", "240 kg", "length"),
    ("tanks.csv", "1100 L", "-1100 L", "zero or more"),
    ("tanks.csv", "12 C", "120 C", "between"),
    ("tanks.csv", "cold-marine,240", "lagoon,240", "one of tropical-fresh"),
    ("loads.csv", "180 W", "lots", "120 W"),
    ("loads.csv", ",9,10:00", ",25,10:00", "between 0 and 24"),
    ("loads.csv", "2022-02-01", "01/02/2022", "2022"),
    ("devices.csv", "2022-01-15", "2022-02-30", "day"),
    ("devices.csv", "C-LOB,chiller", "C-LOB,cooler", "one of chiller"),
    ("duties.csv", "C-REEF,REEF", "C-REEF,LOFT", "code of a tank"),
    ("placements.csv", "in-stand,,REEF,4 in,2023-01-01,", "in-stand,,REEF,4 in,2023-01-01,2022-01-01", "after"),
    ("history.csv", "descale-exchanger-inside", "descale-exchanger", "the nearest is descale-exchanger-inside"),
)  # fmt: skip


@pytest.mark.parametrize(("file", "good", "bad", "expected"), BAD, ids=[f"{b[0]}-{b[2][:12]}" for b in BAD])
def test_a_bad_cell_is_told_with_file_row_value_and_what_was_expected(fleet, pier, database, file, good, bad, expected):
    text = (pier / file).read_bytes().decode()
    assert good in text
    (pier / file).write_bytes(text.replace(good, bad, 1).encode())
    result = fleet("import", str(pier), code=2)
    assert result.stdout == ""
    assert file in result.stderr
    assert "row " in result.stderr
    assert "Traceback" not in result.stderr
    assert expected in result.stderr
    referred_to = bad.startswith("AT TIC")  # the site that names the client is then at fault too
    assert len(result.stderr.strip().splitlines()) == (2 if referred_to else 1)
    assert not Path(database).exists()


def test_all_bad_cells_are_told_at_once_and_nothing_changes(stocked, pier):
    for file, good, bad, _ in (BAD[0], BAD[8], BAD[16], BAD[23]):
        text = (pier / file).read_bytes().decode()
        (pier / file).write_bytes(text.replace(good, bad, 1).encode())
    result = stocked("import", str(pier), code=2)
    assert [line.count("expected") for line in result.stderr.strip().splitlines()] == [1, 1, 1, 1]
    assert [row["code"] for row in as_json(stocked("show", "tanks", "--json"))] == ["GUP", "LOB", "MUS", "REEF"]
    assert as_json(stocked("show", "clients", "--json"))[1]["kind"] == "company"


def test_an_unknown_column_names_the_nearest_known_one(fleet, pier):
    (pier / "loads.csv").write_text("tank,name,kind,pwer,since\nGUP,hood,light,40 W,2023-01-01\n")
    result = fleet("import", str(pier), code=2)
    assert "pwer" in result.stderr
    assert "the nearest is power" in result.stderr


def test_a_path_that_is_not_there_is_one_clear_line(fleet, tmp_path):
    result = fleet("import", str(tmp_path / "nowhere"), code=2)
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_row_typed_at_the_terminal_by_the_columns_names(stocked):
    stocked("add", "tank", "NEW", "room=LOFT", "name=Nano", "kind=reef", "length=12in", "width=12in",
            "--height", "12 in", "target=77F")  # fmt: skip
    tank = next(row for row in as_json(stocked("show", "tanks", "--json")) if row["code"] == "NEW")
    assert tank["length_m"] == pytest.approx(0.3048)  # 1 in = 25.4 mm exactly, NIST SP 811
    assert tank["target_c"] == 25.0


def test_a_bad_cell_typed_at_the_terminal_is_refused(stocked):
    result = stocked("add", "tank", "NEW", "room=LOFT", "name=Nano", "kind=reef", "length=12", code=2)
    assert "length" in result.stderr
    assert "Traceback" not in result.stderr


def test_commands_that_need_a_register_say_how_to_begin(fleet):
    for words in (["margin"], ["plan"], ["due"], ["why", "7K3-Q9MD"], ["show", "tanks"], ["verify"]):
        assert "fleet import" in fleet(*words, code=2).stderr
