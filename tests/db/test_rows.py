"""What goes into the register comes out of it, on both engines."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest

from fleet.db.mapping import FILES
from fleet.db.repository import Register, SaveCount
from fleet.errors import BadInput, NotFound, StaleWrite
from fleet.values.register import (
    ALWAYS,
    NATURAL_KEYS,
    Client,
    Duty,
    Equipment,
    Load,
    Reading,
    RegisterRows,
    ServiceRecord,
    Tank,
)
from fleet.values.vocabulary import EquipmentKind, LoadKind, ReadingQuantity, SubjectKind, TankKind

LATER = datetime(2026, 5, 5, 12, 0, tzinfo=UTC)


def in_key_order(rows: RegisterRows) -> RegisterRows:
    return RegisterRows(
        **{
            file: tuple(sorted(getattr(rows, file), key=lambda row: [getattr(row, name) for name in key]))
            for file, key in NATURAL_KEYS.items()
        }
    )


def row_count(rows: RegisterRows) -> int:
    return sum(len(getattr(rows, field.name)) for field in fields(rows))


def test_every_file_has_a_table_with_the_fields_of_its_value_class():
    assert set(FILES) == {field.name for field in fields(RegisterRows)}
    for entry in FILES.values():
        bookkeeping = {"id", "version", "withdrawn_at", "task_key", "recorded_at"}
        assert {column.name for column in entry.table.columns} - bookkeeping == set(entry.names)
        for name in entry.names:
            wants_nothing = entry.row_class.__dataclass_fields__[name].default is None
            assert entry.table.c[name].nullable is wants_nothing, (entry.file, name)


def test_the_example_fills_every_column(rows):
    for file, entry in FILES.items():
        for name in entry.names:
            if (file, name) not in {("placements", "room"), ("placements", "stand_of")}:
                assert getattr(getattr(rows, file)[0], name) is not None, (file, name)


def test_a_saved_register_comes_back_equal(database, rows):
    with Register.open(database, read_only=True) as register:
        assert register.rows() == in_key_order(rows)


def test_a_tariff_keeps_its_digits_and_an_instant_its_zone(database):
    with Register.open(database, read_only=True) as register:
        found = register.rows()
    assert str(found.sites[0].tariff_per_kwh) == "0.10"
    assert found.sites[0].tariff_per_kwh == Decimal("0.1")
    assert found.readings[0].taken_at.tzinfo is UTC
    assert found.tanks[0].since is not None
    assert found.tanks[0].since == ALWAYS


def test_saving_the_same_register_again_changes_nothing(database, rows):
    with Register.open(database) as register:
        before = register.change_log()
        count = register.save_rows(rows, who="ada", now=LATER, reason="again")
        assert count == SaveCount(0, 0, row_count(rows))
        assert register.change_log() == before


def test_an_instant_in_another_zone_is_the_same_reading(database, rows):
    reading = rows.readings[0]
    elsewhere = replace(reading, taken_at=reading.taken_at.astimezone(timezone(timedelta(hours=-4))))
    with Register.open(database) as register:
        count = register.save_rows(RegisterRows(readings=(elsewhere,)), who="ada", now=LATER, reason="again")
    assert count == SaveCount(0, 0, 1)


def test_one_changed_row_is_changed_and_one_new_row_added(database, rows):
    taller = replace(rows.tanks[0], height_m=0.6, notes=None)
    second = Tank("T-2", "R-1", "Reef", TankKind.REEF, 1.0, 0.5, 0.5, 25.0)
    with Register.open(database) as register:
        count = register.save_rows(RegisterRows(tanks=(taller, second)), who="bo", now=LATER, reason="measured")
    assert count == SaveCount(1, 1, 0)
    with Register.open(database, read_only=True) as register:
        assert register.rows().tanks == (taller, second)
        assert register.known_codes()["T-2"] is SubjectKind.TANK
        assert register.time_zones() == {"LAG-1": "America/New_York"}
        changed = register.change_log(subject="T-1")[0]
        added = register.change_log(subject="T-2")[0]
    assert (changed.before, changed.after) == (
        {"height_m": 0.55, "notes": "Old pane, left"},
        {"height_m": 0.6, "notes": None},
    )
    assert (changed.who, changed.reason, changed.at, changed.file) == ("bo", "measured", LATER, "tanks")
    assert added.before is None
    assert added.after is not None
    assert added.after["kind"] == "reef"


def test_the_trail_is_found_by_subject_file_and_instant(database, rows, now):
    with Register.open(database) as register:
        client = replace(rows.clients[0], notes="moved")
        register.save_rows(RegisterRows(clients=(client,)), who="bo", now=LATER, reason="call")
        assert len(register.change_log()) == row_count(rows) + 1
        assert [entry.file for entry in register.change_log(subject="LAGUNE")] == ["clients", "clients"]
        assert len(register.change_log(file="rooms")) == 2
        assert [entry.reason for entry in register.change_log(since=now + timedelta(seconds=1))] == ["call"]
        assert len(register.change_log(limit=3)) == 3


def test_a_snapshot_holds_what_is_in_force_on_the_day(database):
    with Register.open(database, read_only=True) as register:
        before, after = register.snapshot(date(2026, 2, 1)), register.snapshot(date(2026, 6, 1))
    assert before.rooms[0].hot_day_mean_c == 25.0
    assert after.rooms[0].hot_day_mean_c == 27.0
    assert before.placement_by_device["C-1"].stand_of == "T-1"
    assert after.loads_by_tank["T-1"][0].power_w == 250.0


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (RegisterRows(clients=(Client("T-1", "Another"),)), "already a tank"),
        (RegisterRows(duties=(Duty("C-1", "T-9", date(2026, 1, 1)),)), "'T-9': expected a code on record"),
        (RegisterRows(duties=(Duty("C-1", "R-1", date(2026, 2, 1)),)), "the code of a tank: it is a room"),
        (
            RegisterRows(equipment=(Equipment("G-2", EquipmentKind.UPS, "Battery", serves=("NONE",)),)),
            "'NONE': expected a code on record",
        ),
        (
            RegisterRows(
                loads=(Load("T-1", "uv", LoadKind.UV, 9.0, ALWAYS), Load("T-1", "uv", LoadKind.UV, 8.0, ALWAYS))
            ),
            "found 2 with the same key",
        ),
        (
            RegisterRows(clients=(Client("NEW", "One"),), tanks=(Tank("NEW", "R-1", "X", TankKind.REEF, 1, 1, 1, 25),)),
            "already a client",
        ),
    ],
)
def test_codes_and_references_that_cannot_be_are_refused_before_anything_is_written(database, wrong, said):
    with Register.open(database) as register:
        with pytest.raises(BadInput) as caught:
            register.save_rows(wrong, who="ada", now=LATER, reason="x")
        assert said in str(caught.value.errors[0])
        assert said in str(caught.value)
    with Register.open(database, read_only=True) as register:
        assert "NEW" not in register.known_codes()


def test_every_fault_of_an_import_is_named(database):
    duties = tuple(Duty("C-1", f"T-{n}", date(2026, 1, 1)) for n in range(2, 9))
    with Register.open(database) as register, pytest.raises(BadInput) as caught:
        register.save_rows(RegisterRows(duties=duties), who="ada", now=LATER, reason="x")
    assert [error.value for error in caught.value.errors] == [f"T-{n}" for n in range(2, 9)]


def test_a_value_out_of_bounds_is_refused_by_the_database_and_nothing_is_kept(database, rows):
    good = replace(rows.clients[0], notes="kept?")
    bad = replace(rows.tanks[0], height_m=300.0)
    with pytest.raises(BadInput, match="ck_tank_height_m_range"), Register.open(database) as register:
        register.save_rows(RegisterRows(clients=(good,), tanks=(bad,)), who="ada", now=LATER, reason="slip")
    with Register.open(database, read_only=True) as register:
        assert register.rows() == in_key_order(rows)


def test_an_open_fact_ends_once(database):
    key = ("C-1", date(2026, 3, 1))
    with Register.open(database) as register:
        ended = register.end_fact("placements", key, date(2026, 5, 1), who="ada", now=LATER, reason="moved")
        assert ended.until == date(2026, 5, 1)
        assert register.rows().placements[1] == ended
        assert register.change_log(subject="C-1")[0].after == {"until": "2026-05-01"}
        with pytest.raises(BadInput, match="already ended on 2026-05-01"):
            register.end_fact("placements", key, date(2026, 6, 1), who="ada", now=LATER, reason="moved")


def test_a_fact_that_is_not_there_or_has_no_end_cannot_be_ended(database):
    with Register.open(database) as register:
        with pytest.raises(NotFound, match="duties C-1 T-1 2020-01-01 is not on record"):
            register.end_fact(
                "duties", ("C-1", "T-1", date(2020, 1, 1)), date(2026, 1, 1), who="a", now=LATER, reason="x"
            )
        with pytest.raises(BadInput, match="rows have no end"):
            register.end_fact("clients", ("LAGUNE",), date(2026, 1, 1), who="a", now=LATER, reason="x")
        with pytest.raises(BadInput, match="expected a day after 2026-03-01"):
            register.end_fact(
                "placements", {"device": "C-1", "since": date(2026, 3, 1)}, date(2026, 3, 1),
                who="a", now=LATER, reason="x",
            )  # fmt: skip
        with pytest.raises(BadInput, match="no file of the register"):
            register.end_fact("pumps", ("C-1",), date(2026, 3, 1), who="a", now=LATER, reason="x")


def test_work_recorded_twice_is_one_record_and_keeps_the_task_it_closed(database, raw):
    record = ServiceRecord("C-1", "measure-cooling-output", date(2026, 5, 4), "ADA")
    reading = Reading("C-1", ReadingQuantity.WATER_OUT_TEMP, 13.1, datetime(2026, 5, 4, 10, tzinfo=UTC))
    task_keys = {("C-1", "measure-cooling-output", date(2026, 5, 4)): "7K3-Q9"}
    with Register.open(database) as register:
        count = register.add_service_records([record], [reading], task_keys=task_keys, who="ada", now=LATER)
        assert count == SaveCount(2, 0, 0)
        corrected = replace(record, minutes=25)
        assert register.add_service_records([corrected], who="ada", now=LATER) == SaveCount(0, 1, 0)
        assert corrected in register.rows().history
        assert register.record_of_task("7K3-Q9") == corrected
        assert register.record_of_task("7K3-QA") is None
    table = FILES["history"].table
    with raw.connect() as connection:
        closed = connection.execute(table.select().where(table.c.task == "measure-cooling-output")).mappings().one()
    assert (closed["task_key"], closed["recorded_at"], closed["version"]) == ("7K3-Q9", LATER, 2)


def test_a_record_entered_by_mistake_is_withdrawn_and_can_be_put_back(database, rows):
    key = ("C-1", "clean-intake-screen", date(2026, 4, 2))
    with Register.open(database) as register:
        register.withdraw("history", key, who="bo", now=LATER, reason="wrong chiller")
        assert register.rows().history == ()
        assert register.change_log(subject="C-1")[0].reason == "wrong chiller"
        with pytest.raises(NotFound):
            register.withdraw("history", key, who="bo", now=LATER, reason="again")
        assert register.save_rows(rows, who="bo", now=LATER, reason="right after all").changed == 1
        assert register.rows().history == rows.history


def test_the_only_row_of_a_code_cannot_be_withdrawn_but_a_later_one_can(database):
    with Register.open(database) as register:
        with pytest.raises(BadInput, match="only row of that tank"):
            register.withdraw("tanks", ("T-1", ALWAYS), who="bo", now=LATER, reason="x")
        with pytest.raises(BadInput, match="only row of that client"):
            register.withdraw("clients", ("LAGUNE",), who="bo", now=LATER, reason="x")
        register.withdraw("rooms", ("R-1", date(2026, 4, 1)), who="bo", now=LATER, reason="x")
        assert [room.hot_day_mean_c for room in register.rows().rooms] == [25.0]


def test_an_edit_of_a_row_that_changed_in_between_is_refused_and_shows_both_values(database, rows):
    with Register.open(database, read_only=True) as register:
        seen = register.versions("tanks")
    theirs = RegisterRows(tanks=(replace(rows.tanks[0], target_c=13.0),))
    mine = RegisterRows(tanks=(replace(rows.tanks[0], target_c=15.0),))
    with Register.open(database) as register:
        register.save_rows(theirs, who="bo", now=LATER, reason="colder", expected={"tanks": seen})
    with (
        pytest.raises(StaleWrite, match=r"target_c is now 13\.0, you enter 15\.0"),
        Register.open(database) as register,
    ):
        register.save_rows(mine, who="ada", now=LATER, reason="warmer", expected={"tanks": seen})
    with Register.open(database, read_only=True) as register:
        assert register.rows().tanks == theirs.tanks


def test_an_error_inside_the_block_rolls_everything_back(database, rows):
    def fail() -> None:
        with Register.open(database) as register:
            changed = replace(rows.clients[0], name="Other")
            register.save_rows(RegisterRows(clients=(changed,)), who="ada", now=LATER, reason="x")
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError, match="power cut"):
        fail()
    with Register.open(database, read_only=True) as register:
        assert register.rows().clients == rows.clients


@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_text_that_the_server_cannot_hold_is_refused_in_one_line(database, rows):
    """PostgreSQL's text holds no null character (its manual, 8.3)."""
    changed = replace(rows.clients[0], notes="a\x00b")
    with pytest.raises(BadInput, match="NUL") as caught, Register.open(database) as register:
        register.save_rows(RegisterRows(clients=(changed,)), who="ada", now=LATER, reason="x")
    assert "\n" not in str(caught.value)
