"""Prints pages to PDF with a Chromium that is found on this machine; nothing is fetched."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from fleet.errors import BadInput

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
OPTIONS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic", "--no-pdf-header-footer",
)  # fmt: skip
LONGEST_PRINT_S = 120


def browser() -> str:
    """The path of a Chromium. Raises BadInput where none is found."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        raise BadInput(f"--pdf: no Chromium found (looked for {', '.join(BROWSERS)}); install one or leave --pdf out")
    return found


def printed(pages: Mapping[str, bytes], paper: Mapping[str, str]) -> dict[str, bytes]:
    """The PDF of each page, by the page's name with .pdf for .html; `paper` names A4 or letter for each.

    A PDF holds the time of its making: other than the pages it is not the same bytes each time.
    """
    program = browser()
    made = {}
    with tempfile.TemporaryDirectory(prefix="fleet-print-") as folder:
        for name, page in pages.items():
            source, target = Path(folder) / "page.html", Path(folder) / "page.pdf"
            source.write_bytes(page.replace(b"size: auto;", f"size: {paper[name]};".encode(), 1))
            target.unlink(missing_ok=True)
            command = [program, *OPTIONS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={target}"]
            try:
                subprocess.run([*command, source.as_uri()], capture_output=True, timeout=LONGEST_PRINT_S, check=False)
            except (OSError, subprocess.TimeoutExpired) as error:
                raise BadInput(f"--pdf: {program} did not print {name}") from error
            if not target.exists():
                raise BadInput(f"--pdf: {program} did not print {name}")
            made[name.removesuffix(".html") + ".pdf"] = target.read_bytes()
    return made
