"""What dated changes do to margins: worked out from the rows around a tank alone, and kept on the trail."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fleet.db.repository import MarginCheck, Register
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import read_register
from fleet.services.context import words_of
from fleet.services.margins_changed import margin_changes
from fleet.services.plan import plan_and_save
from fleet.services.register import add_row, import_register
from fleet.thermal.assess import assess
from fleet.values.fleet import snapshot
from fleet.values.links import neighbourhoods, together
from fleet.values.register import Load, RegisterRows
from fleet.values.vocabulary import LoadKind, Scenario

ROOT = Path(__file__).parents[2]
PIER, SAMPLE = ROOT / "tests" / "data" / "pier_register", ROOT / "sample_data" / "register"
TODAY = date(2026, 5, 20)
NOW = datetime(2026, 5, 20, 9, tzinfo=UTC)
CATALOGUE = read_catalogue()


@pytest.fixture(scope="module")
def rows() -> RegisterRows:
    return read_register(SAMPLE, {}, {}, words_of(CATALOGUE), None)


def test_a_margin_worked_out_from_the_rows_around_a_tank_is_that_of_the_whole_register(rows: RegisterRows) -> None:
    fleet = snapshot(rows, TODAY)
    found = margin_changes(rows, fleet, CATALOGUE, TODAY + timedelta(days=60))
    assert found
    for change in found:
        for day, told in ((change.day - timedelta(days=1), change.before), (change.day, change.after)):
            whole = snapshot(rows, day)
            tanks = [change.tank] if change.tank in whole.tank_by_code else []
            results = assess(whole, CATALOGUE.class_by_code, scenarios=(Scenario.HOT_DAY,), tanks=tanks)
            assert (told,) == (results or (None,))


def test_neighbourhoods_share_nothing_and_leave_out_nobody(rows: RegisterRows) -> None:
    tanks = {tank.code for tank in rows.tanks}
    around = neighbourhoods(rows, tanks)
    parts = list({id(part): part for part in around.values()}.values())
    assert len(parts) > 5
    whole = together(parts)
    for file in ("sites", "rooms", "tanks", "loads", "animals", "devices", "duties", "placements", "history"):
        some = [row for part in parts for row in getattr(part, file)]
        assert len(some) == len(set(some)), "no row is in two"
        assert sorted(map(repr, getattr(whole, file))) == sorted(map(repr, some))
    assert set(whole.loads) == set(rows.loads)
    assert set(whole.tanks) == set(rows.tanks)


def test_a_tank_whose_room_is_not_on_record_yet_has_no_margin_then(rows: RegisterRows) -> None:
    changed = {change.tank for change in snapshot(rows, TODAY).changes if change.on > TODAY - timedelta(days=30)}
    tank = sorted(changed & {one.code for one in rows.tanks})[0]
    room = next(one.room for one in rows.tanks if one.code == tank)
    later = tuple(replace(one, since=date(2026, 6, 30)) if one.code == room else one for one in rows.rooms)
    found = margin_changes(replace(rows, rooms=later), snapshot(rows, TODAY), CATALOGUE, TODAY)
    assert {(one.before, one.after) for one in found if one.tank == tank} == {(None, None)}


@pytest.fixture
def pier(tmp_path: Path) -> tuple[Path, str]:
    """A folder of the pier register that a test may change, and the database it was imported into."""
    folder = Path(shutil.copytree(PIER, tmp_path / "pier_register"))
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    import_register(url, folder, only_check=False, who="Ida Lund", now=NOW)
    return folder, url


def checks(url: str) -> tuple[MarginCheck, ...]:
    with Register.open(url, read_only=True) as register:
        return register.margin_checks()


def test_setting_up_is_no_change(pier: tuple[Path, str]) -> None:
    assert not checks(pier[1])


def test_a_plan_keeps_the_margins_that_it_rests_on(pier: tuple[Path, str]) -> None:
    _, url = pier
    with Register.open(url) as register:
        lamp = Load(register.rows().tanks[0].code, "new lamp", LoadKind.LIGHT, 300.0, date(2026, 5, 19))
        register.save_rows(RegisterRows(loads=(lamp,)), who="Ida Lund", now=NOW, reason="a test")
    outlook = plan_and_save(url, today=TODAY, through=None, now=NOW).outlook
    kept = checks(url)
    assert [(one.tank, one.day, one.cause) for one in kept] == [
        (lamp.tank, date(2026, 5, 18), "before changes on 2026-05-19"),
        (lamp.tank, date(2026, 5, 19), "after changes on 2026-05-19"),
    ]
    (change,) = outlook.margin_changes
    assert change.after is not None
    assert (kept[1].required_w, kept[1].state) == (change.after.required_w, change.after.state)
    plan_and_save(url, today=TODAY, through=None, now=NOW)
    assert checks(url) == kept


def test_a_change_that_comes_with_an_import_is_kept_before_and_after_at_once(pier: tuple[Path, str]) -> None:
    folder, url = pier
    path = folder / "loads.csv"
    head, *lines = path.read_text(encoding="utf-8").splitlines()
    columns = head.split(",")
    lamp = next(line.split(",") for line in lines if line.split(",")[columns.index("kind")] == "light")
    began = list(lamp)
    lamp[columns.index("until")] = began[columns.index("since")] = "2026-05-18"
    began[columns.index("power")] = "400 W"
    path.write_text("\n".join([head, ",".join(lamp), ",".join(began)]) + "\n", encoding="utf-8")
    import_register(url, path, only_check=False, who="Ida Lund", now=NOW)
    tank = lamp[columns.index("tank")]
    kept = [one for one in checks(url) if one.tank == tank]
    assert [(one.day, one.cause) for one in kept] == [
        (date(2026, 5, 17), "before changes on 2026-05-18"),
        (date(2026, 5, 18), "after changes on 2026-05-18"),
    ]
    assert kept[1].required_w > kept[0].required_w
    import_register(url, path, only_check=False, who="Ida Lund", now=NOW)
    assert [one for one in checks(url) if one.tank == tank] == kept


def test_a_row_typed_in_keeps_its_margins_too(pier: tuple[Path, str]) -> None:
    _, url = pier
    with Register.open(url, read_only=True) as register:
        tank = register.rows().tanks[0].code
    cells = {"tank": tank, "name": "new lamp", "kind": "light", "power": "300 W", "since": "2026-05-19"}
    add_row(url, "loads", cells, who="Ida Lund", now=NOW)
    assert {(one.tank, one.day) for one in checks(url)} >= {(tank, date(2026, 5, 18)), (tank, date(2026, 5, 19))}
