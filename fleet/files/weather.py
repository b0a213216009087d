"""Hourly weather files: TMY3, TMY2 and EPW, read by pvlib into one whole year of temperatures."""

from __future__ import annotations

import io
import re
import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fleet.errors import BadInput, FleetError
from fleet.values.climate import WeatherStation

LARGEST_BYTES = 20_000_000
"""A year of hours takes about 1.7 MB in each of the three forms."""
DAYS, HOURS = 365, 24
COLDEST_C, HOTTEST_C = -90.0, 60.0
"""Beyond what was ever measured outdoors (−89.2 °C and 56.7 °C by the World Meteorological Organization's archive);
the forms mark what is missing by figures beyond it: 99.9, 999.9, −9900."""
LONGEST_REASON = 80

Floats = NDArray[np.float64]
Parts = tuple[dict[str, Any], Floats, Floats, Floats, Floats]
"""What the file says of its place; month, day, hour and temperature [°C] of every row."""

_TMY2_HEADER = re.compile(
    r" ?(?P<code>\d{5}) (?P<city>\S.*?) +(?P<rest>[A-Z]{2} +[-+]?\d+ +[NS] +\d+ +\d+ +[EW] +\d+ +\d+ +[-+]?\d+)\s*"
)


@dataclass(frozen=True, slots=True)
class WeatherYear:
    """`dry_bulb_c` holds the air temperature [day, hour]: 365 days from 1 January by 24 hours of standard time [°C]."""

    station: WeatherStation
    dry_bulb_c: Floats


def read_weather(path: Path) -> WeatherYear:
    """One year of hourly temperatures from a TMY3, TMY2 or EPW file; the form is told from what is in it.

    A 29 February is left out. Raises BadInput where the file is none of them, holds less or more than one whole year,
    or lacks a temperature; FleetError where pvlib is not installed.
    """
    text = _text_of(path)
    form, parse = _form_of(path, text)
    try:
        import pvlib.iotools
    except ModuleNotFoundError as missing:
        raise FleetError("to read weather files, install the extra: pip install 'fleet[weather]'") from missing
    try:
        with warnings.catch_warnings():
            # What the libraries have to say about their own future is no message for a person with a weather file.
            warnings.simplefilter("ignore")
            place, months, days, hours, temps_c = parse(pvlib.iotools, text)
    except Exception as error:
        # The libraries let any exception of a half-read table through.
        reason = " ".join(str(error).split())[:LONGEST_REASON]
        raise BadInput(f"{path}: cannot be read as a weather file of the form {form} ({reason})") from error
    name = str(place["name"]).strip().strip('"').strip()
    stated_by, stated_peak, stated_range = _stated_in(text) if form == "EPW" else ("", None, None)
    station = WeatherStation(
        form=form,
        name=name or path.name,
        latitude=_within(place["latitude"], -90.0, 90.0),
        longitude=_within(place["longitude"], -180.0, 180.0),
        elevation_m=_within(place["altitude"], -500.0, 9000.0),
        utc_offset_h=_within(place["TZ"], -12.0, 14.0),
        stated_peak_c=stated_peak,
        stated_range_k=stated_range,
        stated_by=stated_by,
    )
    return WeatherYear(station, _whole_year(path, months, days, hours, temps_c))


def _text_of(path: Path) -> str:
    if not path.is_file():
        raise BadInput(f"{path}: expected a weather file (TMY3, TMY2 or EPW)")
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise BadInput(f"{path}: expected one year of hours, under {LARGEST_BYTES // 1_000_000} MB")
        raw = path.read_bytes()
    except OSError as error:
        raise BadInput(f"{path}: cannot be read ({error.strerror or error})") from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _form_of(path: Path, text: str) -> tuple[str, Callable[[Any, str], Parts]]:
    first, _, rest = text[:20_000].partition("\n")
    second = rest.partition("\n")[0]
    if first.upper().startswith("LOCATION,"):
        return "EPW", _read_epw
    if "Date (MM/DD/YYYY)" in second:
        return "TMY3", _read_tmy3
    if _TMY2_HEADER.fullmatch(first):
        return "TMY2", _read_tmy2
    raise BadInput(f"{path}: expected a weather file of the form TMY3, TMY2 or EPW, by its first lines")


def _read_epw(iotools: Any, text: str) -> Parts:
    # Months come from different years; a leap year holds the 29 February of any of them.
    table, place = iotools.read_epw(io.StringIO(text, newline=None), coerce_year=2000)
    months, days, hours, temps_c = (_numbers(table[column]) for column in ("month", "day", "hour", "temp_air"))
    return {**place, "name": place["city"]}, months, days, hours, temps_c


def _stated_in(text: str) -> tuple[str, float | None, float | None]:
    """By whom, design peak and daily range in the head of an EPW file, which the reader passes over.

    After the word Cooling stand the hottest month, its daily range and the annual 0.4 % dry-bulb temperature
    (EnergyPlus Auxiliary Programs, DESIGN CONDITIONS).
    """
    cells = [cell.strip() for cell in text[:20_000].partition("\n")[2].partition("\n")[0].split(",")]
    if cells[0].upper() != "DESIGN CONDITIONS" or "Cooling" not in cells[:-3]:
        return "", None, None
    at = cells.index("Cooling")
    try:
        return cells[2], _within(cells[at + 3], COLDEST_C, HOTTEST_C), _within(cells[at + 2], 0.0, 40.0)
    except ValueError:
        return "", None, None


def _read_tmy3(iotools: Any, text: str) -> Parts:
    table, place = iotools.read_tmy3(io.StringIO(text, newline=None), map_variables=False)
    dates = table["Date (MM/DD/YYYY)"].astype(str).str.split("/")
    hours = table["Time (HH:MM)"].astype(str).str.split(":").str[0]
    place = {**place, "name": place["Name"]}
    temps_c = _numbers(table["Dry-bulb (C)"])
    return place, _numbers(dates.str[0]), _numbers(dates.str[1]), _numbers(hours), temps_c


def _read_tmy2(iotools: Any, text: str) -> Parts:
    """The reader takes a file by name, and a place for one word: blanks in it are filled before, and opened after."""
    first, _, rest = text.partition("\n")
    header = _TMY2_HEADER.fullmatch(first)
    assert header is not None
    city = "_".join(header["city"].split())
    with tempfile.TemporaryDirectory(prefix="fleet-weather-") as folder:
        copy = Path(folder) / "year.tm2"
        copy.write_text(f" {header['code']} {city} {header['rest']}\n{rest}", encoding="utf-8")
        table, place = iotools.read_tmy2(copy)
    place = {**place, "name": place["City"].replace("_", " ")}
    temps_c = _numbers(table["DryBulb"]) / 10.0
    return place, _numbers(table["month"]), _numbers(table["day"]), _numbers(table["hour"]), temps_c


def _numbers(column: Any) -> Floats:
    """The column as floats, NaN where it holds something else."""
    import pandas

    numbers: Floats = pandas.to_numeric(column, errors="coerce").to_numpy(dtype=float)
    return numbers


def _within(value: Any, low: float, high: float) -> float | None:
    """The value where it is a number in [low, high]."""
    number = float(value)
    return number if low <= number <= high else None


def _whole_year(path: Path, months: Floats, days: Floats, hours: Floats, temps_c: Floats) -> Floats:
    """The temperatures by day and hour, wherever in the year the file begins."""
    kept = ~((months == 2) & (days == 29))
    months, days, hours, temps_c = months[kept], days[kept], hours[kept], temps_c[kept]
    if len(temps_c) != DAYS * HOURS:
        raise BadInput(f"{path}: expected {DAYS * HOURS} hours, one whole year; it holds {len(temps_c)}")
    begins = date(2001, 1, 1)
    calendar = [begins + timedelta(days=day) for day in range(DAYS)]
    number_of = {(day.month, day.day): number for number, day in enumerate(calendar)}
    # Hours are counted from 1 to 24 by the hour that ends, or from 0 to 23.
    from_0 = hours - hours.min()
    grid = np.full((DAYS, HOURS), np.nan)
    seen = np.zeros((DAYS, HOURS), dtype=bool)
    for row, (month, day, hour) in enumerate(zip(months, days, from_0, strict=True), start=1):
        number = number_of.get((month, day))
        if number is None or hour not in range(HOURS):
            raise BadInput(f"{path}: expected a day and hour of the year in every row; hour {row} of it has none")
        if seen[number, int(hour)]:
            when = f"{calendar[number]:%m-%d}"
            raise BadInput(f"{path}: expected every hour of the year once; one of {when} is there twice")
        seen[number, int(hour)] = True
        grid[number, int(hour)] = temps_c[row - 1]
    missing = ~((grid >= COLDEST_C) & (grid <= HOTTEST_C))
    if missing.any():
        number, hour = (int(place) for place in np.argwhere(missing)[0])
        raise BadInput(
            f"{path}: expected an air temperature in every hour; {int(missing.sum())} have none, "
            f"the first on {calendar[number]:%m-%d} in hour {hour + 1}"
        )
    if np.ptp(grid) == 0.0:
        raise BadInput(f"{path}: expected temperatures that change; every hour has {grid[0, 0]:g} °C")
    return grid
