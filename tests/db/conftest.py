"""Both engines for every test of the database: SQLite always, PostgreSQL where there is one."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, make_url

from fleet.db.engine import _postgresql_engine, _sqlite_engine, place_of
from fleet.db.repository import Register
from fleet.values import register as values
from fleet.values import vocabulary as words


@pytest.fixture(params=["sqlite", "postgresql"], scope="session")
def engine_name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def url(engine_name: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of an empty database of this test's own."""
    if engine_name == "sqlite":
        yield str(tmp_path / "fleet.db")
        return
    with request.getfixturevalue("postgres_database")() as address:
        yield address


MakeDatabase = Callable[..., AbstractContextManager[str]]
NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture(scope="session")
def rows() -> values.RegisterRows:
    """A small register with at least one row in every file and something in every column."""
    return values.RegisterRows(
        clients=(
            values.Client(
                "LAGUNE", "Lagune House", words.ClientKind.AQUARIUM, "Front desk", "desk@lagune.example",
                "+1 555 0100", words.UnitSystem.US, "Bills in June",
            ),
        ),
        sites=(
            values.Site(
                "LAG-1", "LAGUNE", "Lagune, harbour side", "America/New_York", "1 Quay", 40.7, -74.0, 3.0,
                (values.YearSpan(6, 1, 9, 15), values.YearSpan(12, 20, 1, 5)), 35.0, 11.1, (0, 2, 4),
                time(8, 0), time(17, 30), Decimal("0.10"), "USD", "US-NY", "Key under the third stone",
            ),
        ),
        contacts=(
            values.Contact("LAG-1", words.ContactRole.ON_CALL, "Night desk", "+1 555 0101", 1, date(2026, 3, 1)),
        ),
        rooms=(
            values.Room("R-1", "LAG-1", "Gallery", 25.0, True, 1.5, 0.55, 28.0, 4.0, 240.0, 60.0, ("dust", "salt")),
            values.Room("R-1", "LAG-1", "Gallery", 27.0, True, since=date(2026, 4, 1)),
        ),
        tanks=(
            values.Tank(
                "T-1", "R-1", "Kelp tank", words.TankKind.COLD_MARINE, 1.2, 0.6, 0.55, 14.0, words.Wall.ACRYLIC, 0.02,
                0.35, 0.06, 0.24, 35.0, words.Lid.LOOSE, words.Stand.CLOSED, 40.0, 12.0, 16.0, 11.0, 18.0,
                words.Health.CLEAN, 12.5, ("hard-water",), values.ALWAYS, "Old pane, left",
            ),
        ),
        loads=(
            values.Load("T-1", "lamp", words.LoadKind.LIGHT, 120.0, date(2026, 1, 1), 9.5, time(10, 0),
                        words.Mounting.RIM, date(2026, 6, 1)),
            values.Load("T-1", "lamp", words.LoadKind.LIGHT, 250.0, date(2026, 6, 1)),
        ),
        animals=(values.Animals("T-1", "rockfish", date(2026, 1, 1), "cold-marine-fish", 6, 2.4, date(2026, 7, 1)),),
        devices=(
            values.Device(
                "C-1", words.DeviceKind.CHILLER, "Main chiller", "Nordmole", "NM 4", "0042", "230 V 1.9 A\nR290",
                790.0, 410.0, 248.6, 0.6, 10.0, 20.0, 28.0, 250.0, 0.2, "R290", 95.0, "titanium", 21.0,
                date(2022, 2, 2), date(2027, 2, 2), 10.0, values.ALWAYS, "loud",
            ),
        ),
        placements=(
            values.Placement("C-1", words.Where.IN_STAND, date(2026, 1, 1), None, "T-1", 0.05, date(2026, 3, 1)),
            values.Placement("C-1", words.Where.BESIDE_TANK, date(2026, 3, 1), "R-1", None, 0.3),
        ),
        duties=(values.Duty("C-1", "T-1", date(2026, 1, 1), words.Role.DUTY, date(2027, 1, 1)),),
        equipment=(
            values.Equipment("G-1", words.EquipmentKind.GFCI, "Left outlet", "T-1", "LAG-1", ("C-1", "T-1"),
                             date(2024, 1, 1), "behind the panel"),
        ),
        technicians=(
            values.Technician("ADA", "Ada Quill", (words.Skill.TECHNICIAN, words.Skill.ELECTRICIAN), "EL-7",
                              date(2028, 1, 1), 40.8, -74.1, (0, 1, 2, 3), time(7, 0), time(15, 0), 30,
                              "ada@quill.example"),
        ),
        absences=(values.Absence("ADA", date(2026, 8, 1), date(2026, 8, 15), "leave"),),
        closures=(values.Closure("LAG-1", date(2026, 12, 24), date(2027, 1, 2), "winter break"),),
        events=(values.Event("LAG-1", words.EventKind.STORM, date(2026, 5, 1), "Night desk", "lights flickered"),),
        history=(
            values.ServiceRecord("C-1", "clean-intake-screen", date(2026, 4, 2), "ADA", words.Finding.SOUND, 12, "dry"),
        ),
        readings=(
            values.Reading("T-1", words.ReadingQuantity.WATER_TEMP, 14.2, datetime(2026, 5, 1, 6, 15, tzinfo=UTC),
                           "ADA", "glass thermometer"),
        ),
    )  # fmt: skip


def _fill(url: str, rows: values.RegisterRows) -> str:
    with Register.open(url, create=True) as register:
        register.save_rows(rows, who="ada", now=NOW, reason="first import")
    return url


@pytest.fixture(scope="session")
def filled_file(rows: values.RegisterRows, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(_fill(str(tmp_path_factory.mktemp("filled") / "fleet.db"), rows))


@pytest.fixture(scope="session")
def filled_address(rows: values.RegisterRows, postgres_database: MakeDatabase) -> Iterator[str]:
    """The address of a filled database on the server."""
    with postgres_database() as address:
        yield _fill(address, rows)


@pytest.fixture(scope="session")
def filled_template(filled_address: str) -> str:
    """Its name: each test gets a copy, which is quicker than filling one anew."""
    return str(make_url(filled_address).database)


@pytest.fixture(scope="session")
def shared_url(engine_name: str, request: pytest.FixtureRequest) -> str:
    """The address of one filled database for all tests, each of which must roll back what it does there."""
    if engine_name == "sqlite":
        return str(request.getfixturevalue("filled_file"))
    return str(request.getfixturevalue("filled_address"))


@pytest.fixture
def database(engine_name: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of a database of this test's own that holds `rows`."""
    if engine_name == "sqlite":
        yield str(shutil.copy(request.getfixturevalue("filled_file"), tmp_path / "fleet.db"))
        return
    with request.getfixturevalue("postgres_database")(request.getfixturevalue("filled_template")) as address:
        yield address


def plain_engine(url: str) -> Engine:
    """An engine with this program's settings but the driver's own errors."""
    place = place_of(url)
    if place.file is not None:
        return _sqlite_engine(place.file, read_only=False, wait_s=10.0, foreign_keys=True)
    return _postgresql_engine(place.url, read_only=False, wait_s=10.0)


@pytest.fixture
def raw(database: str) -> Iterator[Engine]:
    """A plain engine on this test's own filled database."""
    engine = plain_engine(database)
    yield engine
    engine.dispose()


@pytest.fixture
def trial(shared_url: str) -> Iterator[Connection]:
    """A connection to the shared database; whatever the test does is rolled back."""
    engine = plain_engine(shared_url)
    with engine.connect() as connection:
        connection.begin()
        yield connection
        connection.rollback()
    engine.dispose()
