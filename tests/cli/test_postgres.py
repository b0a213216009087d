"""The same commands on a PostgreSQL server."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from fleet.cli.main import app

from .conftest import PIER, TODAY, as_json

pytestmark = pytest.mark.slow


@pytest.fixture
def served(postgres_database):
    """Runs a command on an empty database of a server."""
    with postgres_database() as address:

        def run(*words: str, code: int = 0):
            takes_day = words[0] not in ("import", "export", "verify")
            day = ["--today", TODAY] if takes_day else []
            result = CliRunner().invoke(app, [*words, "--database", address, *day])
            assert result.exit_code == code, (words, result.stdout, result.stderr)
            return result

        yield run


def test_a_register_goes_in_is_planned_worked_on_and_comes_out_on_a_server(served, tmp_path):
    assert "31 added" in served("import", str(PIER)).stdout
    assert "0 added, 0 changed, 31 the same" in served("import", str(PIER)).stdout
    first, second = as_json(served("plan", "--json")), as_json(served("plan", "--json"))
    assert second["changes"] == {"added": [], "moved": [], "dropped": []}
    assert second["tasks"] == first["tasks"]
    served("done", next(task["key"] for task in first["tasks"] if task["visit"]), "--finding", "sound")
    served("change", "load", "REEF", "lamp", "power=400 W")
    served("feeds", str(tmp_path / "feeds"))
    served("export", str(tmp_path / "out"))
    assert "the same" in served("import", str(tmp_path / "out")).stdout
    assert "Sound" in served("verify").stdout


def test_the_answers_are_those_of_a_file(served, stocked):
    served("import", str(PIER))
    for words in (["margin", "--json"], ["due", "--json"], ["show", "tanks", "--json"]):
        assert as_json(served(*words)) == as_json(stocked(*words))
