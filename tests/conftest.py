"""A PostgreSQL of the test session's own, for the tests that need one."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url


def _server_programs() -> Path | None:
    """The folder that holds initdb and pg_ctl, newest release first."""
    on_path = shutil.which("initdb")
    if on_path is not None:
        return Path(on_path).resolve().parent
    found = sorted(
        (folder for folder in Path("/usr/lib/postgresql").glob("*/bin") if (folder / "initdb").exists()),
        key=lambda folder: int(folder.parent.name),
    )
    return found[-1] if found else None


def _no_server(reason: str) -> str:
    if os.environ.get("FLEET_REQUIRE_POSTGRES") == "1":
        pytest.fail(f"a PostgreSQL server is required, but {reason}", pytrace=False)
    pytest.skip(f"no PostgreSQL server: {reason}")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The address of a server's own database: the one named in the environment, else one started for this run."""
    given = os.environ.get("FLEET_TEST_POSTGRES_URL")
    if given:
        yield given.replace("postgresql+psycopg://", "postgresql://")
        return
    programs = _server_programs()
    if programs is None:
        yield _no_server("neither FLEET_TEST_POSTGRES_URL nor initdb was found")
        return
    # The path of a Unix socket may hold 107 bytes at most, so pytest's own long folders will not do.
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="fleetpg", dir=memory if os.access(memory, os.W_OK) else "/tmp"))
    # initdb refuses to run as root.
    user = "postgres" if os.getuid() == 0 else None
    try:
        if user is not None:
            shutil.chown(folder, user)

        def run(*arguments: str) -> None:
            subprocess.run(arguments, check=True, capture_output=True, cwd=folder, user=user, timeout=60)

        data = folder / "data"
        run(str(programs / "initdb"), "-D", str(data), "-U", "fleet", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
        run(
            str(programs / "pg_ctl"), "-D", str(data), "-w", "-l", str(folder / "log"), "-o",
            f"-k {folder} -c listen_addresses='' -c fsync=off", "start",
        )  # fmt: skip
        try:
            yield f"postgresql://fleet@/postgres?host={folder}"
        finally:
            run(str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
    except (subprocess.CalledProcessError, KeyError, LookupError) as failure:
        said = failure.stderr.decode() if isinstance(failure, subprocess.CalledProcessError) else str(failure)
        yield _no_server(f"it does not start: {said}")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _address(server: str, name: str) -> str:
    return make_url(server).set(database=name).render_as_string(hide_password=False)


@contextmanager
def _postgres_database(server: str, template: str = "template1") -> Iterator[str]:
    name = f"fleet_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
    try:
        yield _address(server, name)
    finally:
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


MakeDatabase = Callable[..., AbstractContextManager[str]]


@pytest.fixture(scope="session")
def postgres_database(postgres_server: str) -> MakeDatabase:
    """Makes a database on the session's server, as a copy of `template`; gives its address and drops it at the end."""

    def make(template: str = "template1") -> AbstractContextManager[str]:
        return _postgres_database(postgres_server, template)

    return make
