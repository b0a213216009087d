"""The command line as a person uses it, on a register that is not the sample."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from fleet.cli.main import app

PIER = Path(__file__).parents[1] / "data" / "pier_register"
TODAY = "2026-05-20"


@pytest.fixture
def pier(tmp_path: Path) -> Path:
    """A copy of the pier register that a test may spoil."""
    return Path(shutil.copytree(PIER, tmp_path / "pier_register"))


@pytest.fixture
def database(tmp_path: Path) -> str:
    return str(tmp_path / "fleet.db")


Fleet = Callable[..., Result]


@pytest.fixture
def fleet(database: str) -> Fleet:
    """Runs one command on the test's own database, on a fixed day; expects exit code 0 unless told otherwise."""
    runner = CliRunner()

    def run(*words: str, code: int = 0, day: str | None = TODAY) -> Result:
        takes_day = words[0] not in ("import", "export", "add", "backup", "verify")
        options = ["--today", day] if day and takes_day else []
        result = runner.invoke(app, [*words, "--database", database, *options])
        assert result.exit_code == code, (words, result.exit_code, result.stdout, result.stderr)
        return result

    return run


@pytest.fixture(scope="session")
def imported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database that holds the pier register, made once."""
    path = tmp_path_factory.mktemp("imported") / "fleet.db"
    result = CliRunner().invoke(app, ["import", str(PIER), "--database", str(path)])
    assert result.exit_code == 0, result.stderr
    return path


@pytest.fixture
def stocked(fleet: Fleet, imported: Path, database: str) -> Fleet:
    """The command, on a database of the test's own that already holds the pier register."""
    shutil.copy(imported, database)
    return fleet


def as_json(result: Result) -> Any:
    """What a command printed with --json; fails on NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    return json.loads(result.stdout, parse_constant=refuse)
