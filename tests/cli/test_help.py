"""Help: every command has it, with an example, and it answers without loading the rest of the program."""

from __future__ import annotations

import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner

from fleet.cli.main import app

COMMANDS = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
HEAVY = (
    "sqlmodel", "sqlalchemy", "pydantic", "alembic", "psycopg", "numpy", "scipy", "jinja2", "icalendar", "pint",
    "openpyxl", "dateutil", "fastapi", "uvicorn", "fleet.web", "fleet.db", "fleet.files",
    "fleet.thermal", "fleet.planning", "fleet.outputs", "fleet.services",
)  # fmt: skip


def test_the_commands_of_the_handbook_are_there():
    assert COMMANDS == [
        "add", "advise", "backup", "change", "correct", "demo", "done", "due", "export", "feeds", "import", "margin",
        "outage", "plan", "put-off", "report", "serve", "share", "sheets", "show", "start", "verify", "why", "withdraw",
    ]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_an_example(command):
    result = CliRunner().invoke(app, [command, "--help"])
    assert result.exit_code == 0
    assert f"Example: fleet {command}" in result.stdout
    assert typer.main.get_command(app).commands[command].get_short_help_str(60)  # type: ignore[attr-defined]


def test_help_loads_nothing_heavy():
    program = "import sys, fleet.cli.main; print(*sys.modules)"
    loaded = set(
        subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.split()
    )
    assert loaded.isdisjoint(HEAVY), sorted(loaded.intersection(HEAVY))


def test_a_wrong_option_ends_with_code_2():
    assert CliRunner().invoke(app, ["margin", "--colour"]).exit_code == 2


def test_an_unknown_command_ends_with_code_2():
    assert CliRunner().invoke(app, ["margins"]).exit_code == 2
