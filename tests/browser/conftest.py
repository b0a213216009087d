"""A real browser, and the pages of two fleets: the demo's, and one whose every name is hostile."""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from fleet.cli.main import app

SAMPLE = Path(__file__).parents[2] / "sample_data" / "register"
TODAY = "2026-05-20"
HOSTILE = (
    '<script>window.caught = 1</script><img src="http://198.51.100.7/x" onerror="window.caught = 1">'
    '"; } </style> {{7*7}} =cmd() \u202eright to left\u202c 🐠 réef ' + "x" * 40
)
LONGEST_TEXT = 200
"""Characters that every one of these columns takes."""

FREE_TEXT = {"name", "notes", "plate", "address", "access_notes", "group", "maker", "model", "note"}


def _missing(what: str) -> None:
    if os.environ.get("FLEET_REQUIRE_BROWSER") == "1":
        pytest.fail(f"a browser is required, but {what}", pytrace=False)
    pytest.skip(f"no browser: {what}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A Chromium driven by Playwright."""
    path = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
    if path is None:
        _missing("there is no chromium on the path")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("playwright is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def _made(folder: Path, register: Path) -> Path:
    database = str(folder / "fleet.db")
    for words in (["import", str(register)], ["sheets", str(folder / "sheets"), "--days", "60", "--today", TODAY]):
        result = CliRunner().invoke(app, [*words, "--database", database])
        assert result.exit_code == 0, result.stderr
    return folder / "sheets"


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample fleet's pages."""
    return _made(tmp_path_factory.mktemp("pages"), SAMPLE)


@pytest.fixture(scope="session")
def hostile_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of the same fleet with every free text followed by markup, style ends, formulas and long words."""
    folder = tmp_path_factory.mktemp("hostile")
    register = Path(shutil.copytree(SAMPLE, folder / "register"))
    for path in register.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        for row in rows:
            for name in FREE_TEXT & row.keys():
                if row[name]:
                    row[name] = f"{row[name][:9]} {HOSTILE}"[:LONGEST_TEXT]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)
    return _made(folder, register)
