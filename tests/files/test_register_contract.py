"""The rules of the register, one by one: what is accepted, and what a cell comes to mean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fleet.errors import BadInput
from fleet.files.columns import FILES, READING_FORMS
from fleet.files.register_files import cells_of, read_register, row_from_cells
from fleet.values.bounds import BOUNDS, READING_BOUNDS
from fleet.values.register import ALWAYS, NATURAL_KEYS, RegisterRows, YearSpan
from fleet.values.vocabulary import ReadingQuantity, Skill, SubjectKind

Write = Callable[[Any], Path]


def errors_of(path: Path, known: dict[str, SubjectKind] | None = None) -> list[tuple[str, int, str, str]]:
    with pytest.raises(BadInput) as refused:
        read_register(path, known or {})
    return [(error.file, error.row, error.column, error.expected) for error in refused.value.errors]


def test_every_file_and_field_has_its_column() -> None:
    assert list(FILES) == [field.name for field in fields(RegisterRows)] == list(NATURAL_KEYS)
    for name, spec in FILES.items():
        held = {column.field for column in spec.columns}
        if name == "sites":
            held = held - {"hot_season_start", "hot_season_end"} | {"hot_seasons"}
        assert held == {field.name for field in fields(spec.row_type)}


def test_a_column_is_required_exactly_where_its_field_has_no_default() -> None:
    for spec in FILES.values():
        without_default = {field.name for field in fields(spec.row_type) if field.default is MISSING}
        assert {column.field for column in spec.columns if column.required} == without_default


def test_every_bound_and_every_quantity_of_a_reading_is_used() -> None:
    for name, bounds in BOUNDS.items():
        assert {column.field for column in FILES[name].columns if column.bound} == set(bounds)
    assert set(READING_FORMS) == set(ReadingQuantity) == {ReadingQuantity(name) for name in READING_BOUNDS}


def test_a_whole_register_is_read(cells: Any, folder: Write) -> None:
    rows = read_register(folder(cells), {})
    assert all(len(getattr(rows, name)) == 1 for name in FILES)
    assert rows.tanks[0].net_volume_m3 == pytest.approx(0.283906, rel=1e-5)
    assert rows.animals[0].animal_class == "reef-corals"
    assert rows.equipment[0].serves == ("CH1", "REEF")
    assert rows.technicians[0].skills == (Skill.TECHNICIAN, Skill.ELECTRICIAN)
    assert rows.rooms[0].since == ALWAYS


def test_empty_means_unknown(cells: Any, folder: Write) -> None:
    cells["tanks"][0] |= {"sump_volume": "", "lid": "  ", "conditions": ""}
    (tank,) = read_register(folder(cells), {}).tanks
    assert (tank.sump_volume_m3, tank.lid, tank.conditions) == (None, None, ())


def test_missing_files_are_no_fault(cells: Any, folder: Write) -> None:
    rows = read_register(folder({name: cells[name] for name in ("clients", "sites")}), {})
    assert len(rows.sites) == 1
    assert rows.tanks == ()


def test_a_file_may_come_alone_later(cells: Any, folder: Write) -> None:
    path = folder({"loads": cells["loads"]}) / "loads.csv"
    assert read_register(path, {"REEF": SubjectKind.TANK}).loads[0].power_w == 250.0
    assert errors_of(path) == [("loads.csv", 2, "tank", "the code of a tank on record")]


def test_a_code_on_record_keeps_its_kind(cells: Any, folder: Write) -> None:
    path = folder({"clients": cells["clients"]})
    assert read_register(path, {"KELP": SubjectKind.CLIENT}).clients[0].code == "KELP"
    expected = "a code that is used only once; KELP is a tank"
    assert errors_of(path, {"KELP": SubjectKind.TANK}) == [("clients.csv", 2, "code", expected)]


def test_codes_are_unique_across_all_files(cells: Any, folder: Write) -> None:
    cells["technicians"][0]["code"] = "CH1"
    del cells["absences"]
    assert errors_of(folder(cells)) == [
        ("technicians.csv", 2, "code", "a code that is used only once; CH1 is a device")
    ]


def test_two_rows_with_one_key_are_refused(cells: Any, folder: Write) -> None:
    cells["loads"] += [dict(cells["loads"][0], power="310 W")]
    expected = "only one row with the same tank, name, since; row 2 has them too"
    assert errors_of(folder(cells)) == [("loads.csv", 3, "tank", expected)]


def test_a_later_row_of_a_tank_is_a_change_from_that_day(cells: Any, folder: Write) -> None:
    cells["tanks"] += [dict(cells["tanks"][0], target="77 F", since="2026-05-01")]
    tanks = read_register(folder(cells), {}).tanks
    assert [(tank.code, tank.since) for tank in tanks] == [("REEF", ALWAYS), ("REEF", date(2026, 5, 1))]


def test_limits_are_in_order_also_when_some_are_unknown() -> None:
    tank = {"code": "T", "room": "R", "name": "T", "kind": "reef", "length": "1 m", "width": "1 m", "height": "1 m"}
    known = {"R": SubjectKind.ROOM}
    good = tank | {"target": "25 C", "act_low": "21 C", "watch_low": "23 C", "watch_high": "28 C", "act_high": "30 C"}
    assert row_from_cells("tanks", good, known).act_high_c == 30.0
    for wrong in ({"watch_low": "20 C"}, {"act_high": "28 C"}, {"watch_low": "", "act_low": "25 C"}):
        with pytest.raises(BadInput, match=r"expected a temperature (above|below)"):
            row_from_cells("tanks", good | wrong, known)


SITE = {"code": "S", "client": "C", "name": "S", "time_zone": "Europe/London"}
CLIENT = {"C": SubjectKind.CLIENT}


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri", (0, 1, 2, 3, 4)),
        ("Mon;Wed", (0, 2)),
        ("Sat-Mon", (0, 5, 6)),
        ("mon - tue; Friday", (0, 1, 4)),
        ("Mon–Wed, Sun", (0, 1, 2, 6)),
        ("Sun", (6,)),
        ("", ()),
    ],
)
def test_visit_days(text: str, days: tuple[int, ...]) -> None:
    assert row_from_cells("sites", SITE | {"visit_days": text}, CLIENT).visit_days == days


def test_hot_seasons_come_in_pairs_and_may_wrap_the_year() -> None:
    site = row_from_cells("sites", SITE | {"hot_season_start": "05-15;11-01", "hot_season_end": "09-30;02-28"}, CLIENT)
    assert site.hot_seasons == (YearSpan(5, 15, 9, 30), YearSpan(11, 1, 2, 28))
    with pytest.raises(BadInput, match=r"one day for each in hot_season_start \(2\)"):
        row_from_cells("sites", SITE | {"hot_season_start": "05-15;11-01", "hot_season_end": "09-30"}, CLIENT)
    with pytest.raises(BadInput, match=r"one day for each in hot_season_start \(0\)"):
        row_from_cells("sites", SITE | {"hot_season_end": "09-30"}, CLIENT)


def test_a_site_in_full() -> None:
    site = row_from_cells(
        "sites",
        SITE
        | {
            "elevation": "650 ft",
            "outdoor_daily_range": "18 F",
            "visit_from": "8:30",
            "visit_to": "16:00",
            "tariff_per_kwh": "0,32",
            "currency": "gbp",
            "holiday_region": "gb-eng",
            "latitude": "-37.81",
        },
        CLIENT,
    )
    assert site.elevation_m == pytest.approx(198.12)
    assert site.outdoor_daily_range_k == pytest.approx(10.0)
    assert (site.visit_from, site.visit_to) == (time(8, 30), time(16))
    assert site.tariff_per_kwh == Decimal("0.32")
    assert (site.currency, site.holiday_region, site.latitude) == ("GBP", "GB-ENG", -37.81)
    with pytest.raises(BadInput, match=r"visit_to.*a time after visit_from \(08:30\)"):
        row_from_cells("sites", SITE | {"visit_from": "08:30", "visit_to": "08:30"}, CLIENT)


@pytest.mark.parametrize(
    ("file", "column", "text", "field", "value"),
    [
        ("rooms", "relative_humidity_percent", "55", "relative_humidity", 0.55),
        ("rooms", "relative_humidity_percent", "55 %", "relative_humidity", 0.55),
        ("rooms", "room_ua_w_per_k", "120 W/K", "ua_w_per_k", 120.0),
        ("tanks", "sump_area_m2", "0.3", "sump_area_m2", 0.3),
        ("tanks", "sump_area_m2", "3 sq ft", "sump_area_m2", 0.27870912),
        ("tanks", "salinity_g_per_kg", "35 ppt", "salinity_g_per_kg", 35.0),
        ("devices", "charge_g", "450", "charge_g", 450.0),
        ("devices", "charge_g", "450 g", "charge_g", 450.0),
        ("devices", "charge_g", "0.45 kg", "charge_g", 450.0),
        ("devices", "mass_kg", "22 lb", "mass_kg", 9.97903214),
        ("devices", "rated_cooling", "1200 Btu/h", "rated_cooling_w", 351.68528420666667),
        ("devices", "rated_pull_down", "10 F", "rated_pull_down_k", 5.555555555555555),
        ("devices", "expected_life_years", "8 years", "expected_life_years", 8.0),
    ],
)
def test_columns_named_for_their_unit_take_a_bare_number(
    cells: Any, file: str, column: str, text: str, field: str, value: float
) -> None:
    known = {"HARBOUR": SubjectKind.SITE, "LOBBY": SubjectKind.ROOM}
    row = row_from_cells(file, cells[file][0] | {column: text}, known)
    assert getattr(row, field) == value


@pytest.mark.parametrize(
    ("quantity", "text", "value"),
    [
        ("water-temp", "25.5 C", 25.5),
        ("intake-air-temp", "77 F", 25.0),
        ("probe-offset", "-0.9 F", -0.5),
        ("flow", "1000 L/h", 1.0),
        ("power", "0.35 kW", 350.0),
        ("run-share-percent", "62 %", 62.0),
        ("run-share-percent", "62", 62.0),
        ("running-hours", "1200 h", 1200.0),
        ("salinity", "35 g/kg", 35.0),
        ("topoff-l-per-day", "4.2 L/day", 4.2),
        ("copper-ug-per-l", "12 µg/L", 12.0),
        ("oxygen-mg-per-l", "6.5", 6.5),
        ("rinse-ph", "7.1 pH", 7.1),
        ("trip-time-ms", "24 ms", 24.0),
        ("alarm-minutes", "3", 3.0),
    ],
)
def test_a_reading_is_read_by_its_quantity(quantity: str, text: str, value: float) -> None:
    cells = {"subject": "T", "quantity": quantity, "value": text, "taken_at": "2026-07-01T08:00Z"}
    assert row_from_cells("readings", cells, {"T": SubjectKind.TANK}).value == value


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("2026-07-01T08:00-04:00", datetime(2026, 7, 1, 12, tzinfo=UTC)),
        ("2026-07-01T12:00Z", datetime(2026, 7, 1, 12, tzinfo=UTC)),
        ("2026-07-01 12:00:30+0000", datetime(2026, 7, 1, 12, 0, 30, tzinfo=UTC)),
        ("2026-07-01T08:00", datetime(2026, 7, 1, 12, tzinfo=UTC)),
        ("2026-01-01T08:00", datetime(2026, 1, 1, 13, tzinfo=UTC)),
        # Clocks in New York went back at 02:00 on 2026-11-01 (first 01:30 is EDT) and forward on 2026-03-08.
        ("2026-11-01T01:30", datetime(2026, 11, 1, 5, 30, tzinfo=UTC)),
        ("2026-03-08T02:30", datetime(2026, 3, 8, 7, 30, tzinfo=UTC)),
    ],
)
def test_times_of_readings_are_local_to_the_site_unless_they_say(
    cells: Any, folder: Write, text: str, instant: datetime
) -> None:
    cells["readings"][0]["taken_at"] = text
    (reading,) = read_register(folder(cells), {}).readings
    assert reading.taken_at == instant
    assert reading.taken_at.tzinfo is UTC


def test_a_reading_takes_the_zone_of_where_its_subject_stands(cells: Any, folder: Write) -> None:
    cells["sites"] += [{"code": "PIER", "client": "KELP", "name": "Pier", "time_zone": "Australia/Melbourne"}]
    cells["rooms"] += [{"code": "HALL", "site": "PIER", "name": "Hall", "hot_day_mean": "24 C"}]
    cells["devices"] += [{"code": "CH2", "kind": "chiller", "name": "Hall chiller"}]
    cells["placements"] += [{"device": "CH2", "where": "beside-tank", "room": "HALL", "since": "2024-01-01"}]
    reading = {"quantity": "power", "value": "300 W", "taken_at": "2026-07-01T08:00"}
    cells["readings"] = [reading | {"subject": code} for code in ("CH2", "CH1", "HALL", "MARA")]
    path = folder(cells)
    expected = "an offset, as the time zone of MARA is not known: 2026-07-01T08:00-04:00"
    assert errors_of(path) == [("readings.csv", 5, "taken_at", expected)]
    cells["readings"].pop()
    hours = [row.taken_at.isoformat() for row in read_register(folder(cells), {}).readings]
    assert hours == ["2026-06-30T22:00:00+00:00", "2026-07-01T12:00:00+00:00", "2026-06-30T22:00:00+00:00"]


def test_zones_on_record_serve_readings_that_come_alone(cells: Any, folder: Write) -> None:
    path = folder({"readings": cells["readings"]})
    known = {"REEF": SubjectKind.TANK, "HARBOUR": SubjectKind.SITE, "PIER": SubjectKind.SITE}
    (reading,) = read_register(path, known, {"HARBOUR": "America/New_York"}).readings
    assert reading.taken_at == datetime(2026, 7, 1, 12, tzinfo=UTC)
    with pytest.raises(BadInput, match="the time zone of REEF is not known"):
        read_register(path, known, {"HARBOUR": "America/New_York", "PIER": "Europe/London"})
    zones = {"HARBOUR": "America/New_York", "PIER": "Europe/London", "REEF": "Europe/London"}
    (reading,) = read_register(path, known, zones).readings
    assert reading.taken_at == datetime(2026, 7, 1, 7, tzinfo=UTC)


def test_words_are_taken_in_any_case_and_with_blanks() -> None:
    room = {"code": "R", "site": "S", "name": "R", "hot_day_mean": "24 C", "conditions": "Hard water; DUST;dust"}
    assert row_from_cells("rooms", room, {"S": SubjectKind.SITE}).conditions == ("hard-water", "dust")
    load = {"tank": "T", "name": "P", "kind": "Submerged pump", "power": "12 W", "since": "2024-01-01"}
    assert row_from_cells("loads", load, {"T": SubjectKind.TANK}).kind == "submerged-pump"


def test_formula_looking_text_stays_text(cells: Any, folder: Write) -> None:
    cells["clients"][0]["notes"] = "=1+1"
    assert read_register(folder(cells), {}).clients[0].notes == "=1+1"


def test_an_unknown_file_or_column_at_the_terminal_names_the_nearest() -> None:
    with pytest.raises(BadInput, match="the nearest is tanks"):
        row_from_cells("tank", {}, {})
    with pytest.raises(BadInput, match="expected a column of clients; the nearest is phone"):
        row_from_cells("clients", {"code": "C", "name": "C", "phon": "1"}, {})


def test_cells_of_a_row_make_the_row_again(cells: Any, folder: Write) -> None:
    rows = read_register(folder(cells), {})
    known = {row[0]["code"]: FILES[name].kind for name, row in cells.items() if "code" in row[0]}
    for name in FILES:
        (row,) = getattr(rows, name)
        texts = cells_of(name, row)
        assert list(texts) == [column.name for column in FILES[name].columns]
        assert row_from_cells(name, texts, known) == row


def test_one_cell_of_a_row_can_be_changed_at_the_terminal(cells: Any, folder: Write) -> None:
    (lamp,) = read_register(folder(cells), {}).loads
    changed = row_from_cells("loads", cells_of("loads", lamp) | {"power": "310 W"}, {"REEF": SubjectKind.TANK})
    assert (changed.power_w, changed.since) == (310.0, lamp.since)
