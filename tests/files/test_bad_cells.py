"""Each kind of slip in a cell, with the exact line that the person gets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fleet.errors import BadInput
from fleet.files.register_files import read_register, row_from_cells

BAD_CELLS = [
    ("tanks", "length", "48", "a length with its unit, such as 18 in or 45 cm"),
    ("tanks", "length", "48 L", "a length with its unit, such as 18 in or 45 cm"),
    ("tanks", "length", "", "a value: this column may not be empty"),
    ("tanks", "length", "300 m", "above 0 m and up to 100 m"),
    ("tanks", "target", "780 F", "between 0 C and 45 C; this is 415.5556 C"),
    ("tanks", "target", "298 K", "a temperature with its unit, such as 78 F or 25.5 C"),
    (
        "tanks",
        "net_volume",
        "1,200 gal",
        "a number without a comma between thousands, such as 75 gal (US), 62 imp gal or 284 L",
    ),
    ("tanks", "room", "LOBBI", "the code of a room on record; the nearest is LOBBY"),
    ("tanks", "room", "HARBOUR", "the code of a room; HARBOUR is a site"),
    (
        "tanks",
        "kind",
        "reff",
        "one of tropical-fresh, tropical-marine, reef, cold-fresh, cold-marine, other; the nearest is reef",
    ),
    ("tanks", "code", "REEF 1", "a code of 1 to 24 letters, digits, - _ ."),
    ("tanks", "code", "X" * 25, "a code of 1 to 24 letters, digits, - _ ."),
    ("tanks", "code", "LOBBY", "a code that is used only once; LOBBY is a room"),
    ("tanks", "watch_high", "77 F", "a temperature above target (25.5556 C)"),
    ("tanks", "watch_low", "80 F", "a temperature below target (25.5556 C)"),
    ("tanks", "sump_area_m2", "4 gal", "an area with its unit, such as 6 sq ft or 0.5 m2"),
    ("tanks", "salinity_g_per_kg", "1.025 sg", "a plain number, such as 12 or 0.35, or with its unit: 12 g/kg"),
    ("tanks", "salinity_g_per_kg", "350", "between 0 and 45"),
    ("tanks", "conditions", "salt;wet & cold", "words separated by ;, such as dust;pets"),
    ("tanks", "name", "Two\x07lines", "printable text"),
    ("rooms", "air_conditioned", "true", "yes or no"),
    ("rooms", "relative_humidity_percent", "130", "between 0 and 100"),
    ("rooms", "hot_day_rise", "5", "a temperature difference with its unit, such as 9 F or 5 K"),
    (
        "sites",
        "time_zone",
        "America/NewYork",
        "an IANA time zone, such as America/New_York; the nearest is America/New_York",
    ),
    ("sites", "visit_days", "Mon-Foo", "days of the week, such as Mon-Fri or Mon;Wed"),
    ("sites", "visit_from", "25:00", "a time of day as HH:MM, such as 08:30"),
    ("sites", "hot_season_start", "02-30", "a day of every year as MM-DD, such as 05-15; several with ;"),
    ("sites", "tariff_per_kwh", "0.32 $", "an amount as a plain number, such as 0.32"),
    ("sites", "currency", "dollars", "a currency of ISO 4217, such as USD"),
    ("sites", "holiday_region", "USA", "a country or region of ISO 3166, such as US or US-FL"),
    ("sites", "holiday_region", "ZZ", "a country of ISO 3166 whose public holidays are known, such as US or US-FL"),
    ("sites", "holiday_region", "US-BY", "US, or one of its regions, such as US-AK"),
    ("sites", "holiday_region", "SG-01", "SG, which has no regions"),
    ("sites", "latitude", "95", "between -90 and 90"),
    ("contacts", "order", "first", "a whole number, such as 3"),
    ("contacts", "tested_on", "03/04/2026", "a day as YYYY-MM-DD, such as 2026-07-01"),
    ("contacts", "tested_on", "2026-02-30", "a day that exists, such as 2026-07-01"),
    ("contacts", "tested_on", "0206-02-03", "a day of the years 1900 to 2200, such as 2026-07-01"),
    ("loads", "until", "2024-01-01", "a day after since (2024-01-01), the first on which it no longer holds"),
    ("loads", "hours_per_day", "25", "between 0 and 24"),
    ("animals", "class", "Reef/corals", "a word of letters, digits and hyphens, such as reef-corals"),
    ("animals", "mass_kg", "5 L", "a mass with its unit, such as 11 lb or 5 kg"),
    ("equipment", "serves", "CH1;MARA", "the code of a tank or a device or equipment; MARA is a technician"),
    ("equipment", "serves", "CH1 REEF", "codes separated by ;, each a code of 1 to 24 letters, digits, - _ ."),
    ("technicians", "email", "mara at example", "an e-mail address, such as desk@example.org"),
    ("technicians", "skills", "plumber", "one of keeper, technician, refrigeration, electrician"),
    ("events", "subject", "RAEF", "a code on record; the nearest is REEF"),
    ("history", "task", "Clean the screen", "the id of a task of the catalogue, such as clean-intake-screen"),
    ("readings", "value", "78.4", "for water-temp: a temperature with its unit, such as 78 F or 25.5 C"),
    ("readings", "value", "300 F", "for water-temp: between -2 C and 60 C; this is 148.8889 C"),
    (
        "readings",
        "taken_at",
        "2026-07-01",
        "a date and time, such as 2026-07-01T08:00 (local to the site) or 2026-07-01T08:00-04:00",
    ),
]


@pytest.mark.parametrize(("file", "column", "value", "expected"), BAD_CELLS)
def test_a_bad_cell_is_named_with_what_was_expected(
    cells: Any, folder: Callable[[Any], Path], file: str, column: str, value: str, expected: str
) -> None:
    cells[file][0][column] = value
    with pytest.raises(BadInput) as refused:
        read_register(folder(cells), {})
    own = [error for error in refused.value.errors if (error.file, error.column) == (f"{file}.csv", column)]
    assert [(error.row, error.value, error.expected) for error in own] == [(2, value, expected)]
    assert f"{file}.csv row 2, {column}: {value!r}: expected {expected}" in str(refused.value).splitlines()


def test_a_cell_typed_at_the_terminal_is_named_without_a_row() -> None:
    with pytest.raises(BadInput) as refused:
        row_from_cells("clients", {"code": "KELP", "name": "Blue Kelp", "units": "imperial"}, {})
    assert str(refused.value) == "clients, units: 'imperial': expected one of us, metric"


def test_every_error_is_found_and_the_message_tells_fifty(cells: Any, folder: Callable[[Any], Path]) -> None:
    lamp = cells["loads"][0]
    cells["loads"] = [{**lamp, "name": f"Lamp {number}", "power": "250"} for number in range(70)]
    with pytest.raises(BadInput) as refused:
        read_register(folder(cells), {})
    lines = str(refused.value).splitlines()
    assert len(refused.value.errors) == 70
    assert len(lines) == 51
    assert lines[-1] == "and 20 more"


def test_errors_come_in_the_order_of_files_and_rows(cells: Any, folder: Callable[[Any], Path]) -> None:
    cells["readings"][0]["value"] = "hot"
    cells["sites"][0]["latitude"] = "north"
    cells["tanks"] += [{**cells["tanks"][0], "length": "long"}]
    with pytest.raises(BadInput) as refused:
        read_register(folder(cells), {})
    places = [(error.file, error.row) for error in refused.value.errors]
    assert places == [("sites.csv", 2), ("tanks.csv", 3), ("tanks.csv", 3), ("readings.csv", 2)]


def test_one_slip_is_not_told_twice(cells: Any, folder: Callable[[Any], Path]) -> None:
    """A tank with a bad length still exists, so what refers to it is not at fault; nor are readings of a bad zone."""
    cells["tanks"][0]["length"] = "48"
    cells["sites"][0]["time_zone"] = "Nowhere/Land"
    with pytest.raises(BadInput) as refused:
        read_register(folder(cells), {})
    assert [(error.file, error.column) for error in refused.value.errors] == [
        ("sites.csv", "time_zone"),
        ("tanks.csv", "length"),
    ]


def test_a_long_cell_is_cut_in_the_message(cells: Any, folder: Callable[[Any], Path]) -> None:
    cells["clients"][0]["name"] = "x" * 500
    with pytest.raises(BadInput) as refused:
        read_register(folder(cells), {})
    (error,) = refused.value.errors
    assert error.expected == "at most 200 characters, not 500"
    assert len(error.value) == 80
