"""Weather files: what TMY3, TMY2 and EPW hold, read whole or refused in one line."""

from __future__ import annotations

import builtins
import csv
import random
from collections.abc import Callable, Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fleet.errors import BadInput, FleetError
from fleet.files.weather import LARGEST_BYTES, read_weather

pvlib = pytest.importorskip("pvlib")
DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO, SAND_POINT, MIAMI = DATA / "723170TYA.CSV", DATA / "703165TY.csv", DATA / "12839.tm2"
YEAR = [date(2001, 1, 1) + timedelta(days=day) for day in range(365)]


def tmy3_temperatures(path: Path) -> np.ndarray:
    """By the csv module. Column: Wilcox and Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008)."""
    with path.open(encoding="ascii", newline="") as lines:
        next(lines)
        return np.array([float(row["Dry-bulb (C)"]) for row in csv.DictReader(lines)])


def tmy2_temperatures(path: Path) -> np.ndarray:
    """By columns 68 to 71, tenths of °C: Marion and Urban, User's Manual for TMY2s, NREL/SP-463-7668 (1995)."""
    return np.array([int(line[67:71]) / 10.0 for line in path.read_text(encoding="ascii").splitlines()[1:]])


def epw_text(temps_c: Iterable[float], days: Iterable[date] = YEAR, city: str = "Skerrin Head") -> str:
    """Header and fields as in the EnergyPlus Auxiliary Programs document: 8 lines, then 35 fields, hours 1 to 24."""
    head = [
        f"LOCATION,{city},-,GBR,own,031710,55.42,-1.60,0.0,12.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
    ]
    head += ["GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,invented", "COMMENTS 2,"]
    head += ["DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"]
    hours = ((day, hour) for day in days for hour in range(1, 25))
    rest = ",".join(["0"] * 28)
    rows = [
        f"1999,{day.month},{day.day},{hour},60,?9,{temp:.1f},{rest}"
        for (day, hour), temp in zip(hours, temps_c, strict=False)
    ]
    return "\n".join([*head, *rows, ""])


Write = Callable[..., Path]


@pytest.fixture
def written(tmp_path: Path) -> Write:
    def write(text: str | bytes, name: str = "year.epw") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


@pytest.mark.parametrize(
    ("path", "form", "name", "place", "elevation_m", "offset_h", "temperatures"),
    [
        (GREENSBORO, "TMY3", "GREENSBORO PIEDMONT TRIAD INT", (36.1, -79.95), 273.0, -5.0, tmy3_temperatures),
        (SAND_POINT, "TMY3", "SAND POINT", (55.317, -160.517), 7.0, -9.0, tmy3_temperatures),
        (MIAMI, "TMY2", "MIAMI", (25.0 + 48.0 / 60.0, -(80.0 + 16.0 / 60.0)), 2.0, -5.0, tmy2_temperatures),
    ],
)
def test_a_file_of_the_weather_service_is_read_as_a_plain_reader_reads_it(
    path: Path, form: str, name: str, place: Any, elevation_m: float, offset_h: float, temperatures: Any
) -> None:
    year = read_weather(path)
    station = year.station
    assert (station.form, station.name, station.elevation_m, station.utc_offset_h) == (
        form,
        name,
        elevation_m,
        offset_h,
    )
    assert (station.latitude, station.longitude) == pytest.approx(place)
    assert year.dry_bulb_c.shape == (365, 24)
    assert np.allclose(year.dry_bulb_c.ravel(), temperatures(path), rtol=0.0, atol=1e-9)


def test_the_same_hours_written_as_epw_read_the_same(written: Write) -> None:
    temps = tmy3_temperatures(GREENSBORO)
    year = read_weather(written(epw_text(temps)))
    assert (year.station.form, year.station.name) == ("EPW", "Skerrin Head")
    assert (year.station.latitude, year.station.longitude) == (55.42, -1.6)
    assert (year.station.elevation_m, year.station.utc_offset_h) == (12.0, 0.0)
    assert np.array_equal(year.dry_bulb_c.ravel(), temps)


@pytest.mark.parametrize(
    ("head", "stated"),
    [
        ("DESIGN CONDITIONS,1,Own Handbook,,Heating,1,-7,-5,-11,80,Cooling,7,8.5,27.5,19.5,25.5,Extremes,13",
         ("Own Handbook", 27.5, 8.5)),
        ("DESIGN CONDITIONS,1,Own Handbook,,Heating,1,Cooling,7,much,hot,19.5", ("", None, None)),
        ("DESIGN CONDITIONS,1,Own Handbook,,Heating,1,Cooling,7", ("", None, None)),
        ("DESIGN CONDITIONS,1,Own Handbook,,Cooling,7,8.5,275,1", ("Own Handbook", None, 8.5)),
    ],
)  # fmt: skip
def test_what_the_head_of_an_epw_file_states_from_a_handbook_is_told(written: Write, head: str, stated: Any) -> None:
    """Order of the fields: EnergyPlus Auxiliary Programs, DESIGN CONDITIONS."""
    station = read_weather(written(epw_text(STEADY).replace("DESIGN CONDITIONS,0", head))).station
    assert (station.stated_by, station.stated_peak_c, station.stated_range_k) == stated


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_letters_beyond_ascii_and_either_line_ending_are_taken(written: Write, encoding: str, ending: str) -> None:
    text = epw_text(tmy3_temperatures(GREENSBORO), city="São Jorge").replace("\n", ending)
    year = read_weather(written(text.encode(encoding)))
    assert year.station.name == "São Jorge"
    assert year.station.elevation_m == 12.0


def test_a_tmy2_place_of_several_words_is_read(written: Write) -> None:
    text = MIAMI.read_text().replace("MIAMI            ", "PORT OF AVERIL   ", 1)
    year = read_weather(written(text, "port.tm2"))
    assert (year.station.name, year.station.latitude) == ("PORT OF AVERIL", 25.8)
    assert np.array_equal(year.dry_bulb_c, read_weather(MIAMI).dry_bulb_c)


def test_a_leap_day_is_left_out(written: Write) -> None:
    leap_year = [date(2000, 1, 1) + timedelta(days=day) for day in range(366)]
    temps = [float(day.timetuple().tm_yday % 40) for day in leap_year for _ in range(24)]
    year = read_weather(written(epw_text(temps, leap_year)))
    assert year.dry_bulb_c[58, 0] == 59 % 40
    assert year.dry_bulb_c[59, 0] == 61 % 40


def test_a_file_that_begins_in_july_is_put_in_order(written: Write) -> None:
    days = YEAR[181:] + YEAR[:181]
    year = read_weather(written(epw_text([float(day.month) for day in days for _ in range(24)], days)))
    assert [row[0] for row in year.dry_bulb_c] == [float(day.month) for day in YEAR]


def changed_cell(row: int, value: str) -> str:
    lines = epw_text(20.0 + hour % 24 / 10.0 for hour in range(8760)).splitlines()
    cells = lines[8 + row].split(",")
    cells[6] = value
    lines[8 + row] = ",".join(cells)
    return "\n".join(lines)


STEADY = [20.0 + hour % 24 / 10.0 for hour in range(8760)]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "expected a weather file of the form TMY3, TMY2 or EPW"),
        ("\n\n\n", "expected a weather file of the form TMY3, TMY2 or EPW"),
        ("code,name\nT1,Lagoon\n", "expected a weather file of the form TMY3, TMY2 or EPW"),
        (b"\x00\xff\xfe" * 500, "expected a weather file of the form TMY3, TMY2 or EPW"),
        ("LOCATION,only\n", "cannot be read as a weather file of the form EPW"),
        ("LOCATION,a,b,c,d,e,north,1,0,0\n" + "x\n" * 9, "cannot be read as a weather file of the form EPW"),
        ("1,A,B,0,1,1,1\nDate (MM/DD/YYYY),Time (HH:MM)\n01/01/1999,01:00\n", "of the form TMY3"),
        (MIAMI.read_text()[:5000], "cannot be read as a weather file of the form TMY2"),
        (epw_text(STEADY[:8759]), "expected 8760 hours, one whole year; it holds 8759"),
        (epw_text(STEADY * 2, YEAR * 2), "expected 8760 hours, one whole year; it holds 17520"),
        (epw_text(STEADY, [YEAR[0], *YEAR[:364]]), "every hour of the year once; one of 01-01 is there twice"),
        (epw_text([20.0] * 8760), "every hour has 20 °C"),
        (changed_cell(30, ""), "1 have none, the first on 01-02 in hour 7"),
        (changed_cell(0, "nan"), "the first on 01-01 in hour 1"),
        (changed_cell(8759, "inf"), "the first on 12-31 in hour 24"),
        (changed_cell(5, "99.9"), "the first on 01-01 in hour 6"),
        (changed_cell(5, "warm"), "the first on 01-01 in hour 6"),
    ],
)
def test_what_is_no_whole_year_is_refused_in_one_line(written: Write, text: str | bytes, told: str) -> None:
    path = written(text, "year.dat")
    with pytest.raises(BadInput) as refused:
        read_weather(path)
    assert told in str(refused.value)
    assert str(refused.value).startswith(str(path))
    assert "\n" not in str(refused.value)


def test_what_is_no_file_or_too_large_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.epw", Path("/dev/zero")):
        with pytest.raises(BadInput, match="expected a weather file"):
            read_weather(path)
    large = tmp_path / "large.epw"
    with large.open("wb") as sparse:
        sparse.truncate(LARGEST_BYTES + 1)
    with pytest.raises(BadInput, match="under 20 MB"):
        read_weather(large)


def test_a_file_spoiled_anywhere_is_read_or_refused_in_one_line(written: Write) -> None:
    """Any bytes overwritten with any others: never another exception than ours."""
    chance = random.Random(5)
    for source in (GREENSBORO, MIAMI):
        whole = source.read_bytes()
        for _ in range(4):
            spoiled = bytearray(whole)
            for _ in range(3):
                at = chance.choice((chance.randrange(200), chance.randrange(len(whole))))
                junk = chance.choice((b"\n", b",,", b"\x00", b'"', b"-9900", b"\xff", b"9" * 400))
                spoiled[at : at + len(junk)] = junk
            path = written(bytes(spoiled), "spoiled.dat")
            refusal = ""
            try:
                temps_c = read_weather(path).dry_bulb_c
            except BadInput as refused:
                refusal = str(refused)
            assert refusal.startswith(str(path)) if refusal else np.isfinite(temps_c).all()
            assert "\n" not in refusal


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    usual = builtins.__import__

    def without_pvlib(name: str, *rest: Any, **named: Any) -> Any:
        if name.partition(".")[0] == "pvlib":
            raise ModuleNotFoundError("No module named 'pvlib'", name="pvlib")
        return usual(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without_pvlib)
    with pytest.raises(FleetError, match=r"pip install 'fleet\[weather\]'"):
        read_weather(MIAMI)
