"""What a user gets who never sees the checkout: the wheel, in an environment and a folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)],
        check=True,
        capture_output=True,
    )
    (built,) = folder.glob("fleet-*.whl")
    return built


@pytest.mark.slow
def test_the_wheel_holds_pages_sample_catalogue_and_migrations(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for wanted in (
        "fleet/templates/index.html",
        "fleet/templates/style.css",
        "fleet/sample_data/story.md",
        "fleet/sample_data/register/tanks.csv",
        "fleet/catalogue/chiller.toml",
        "fleet/db/migrations/env.py",
        "fleet/db/migrations/versions/v0001_register.py",
    ):
        assert wanted in names
    assert not [name for name in names if name.startswith("tests/")]


@pytest.mark.slow
def test_the_demo_runs_from_the_wheel_in_an_empty_folder(wheel, tmp_path):
    home = tmp_path / "home"
    subprocess.run([sys.executable, "-m", "venv", str(home)], check=True)
    subprocess.run([home / "bin" / "pip", "install", "--quiet", str(wheel)], check=True, capture_output=True)
    empty = tmp_path / "empty"
    empty.mkdir()
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("FLEET_", "PYTHON"))}
    result = subprocess.run(
        [home / "bin" / "fleet", "demo"], cwd=empty, env=environment, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stderr
    assert (empty / "fleet-demo" / "sheets" / "index.html").exists()
    assert (empty / "fleet-demo" / "feeds" / "fleet.ics").exists()
    assert (empty / "fleet-demo" / "fleet.db").exists()
