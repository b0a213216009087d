"""Reads rows typed at the terminal: names of files in the singular or plural, cells as column=value."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from fleet.errors import BadInput

FIRST_COLUMNS = {
    "clients": "code",
    "sites": "code",
    "contacts": "site",
    "rooms": "code",
    "tanks": "code",
    "loads": "tank",
    "animals": "tank",
    "devices": "code",
    "placements": "device",
    "duties": "device",
    "equipment": "code",
    "technicians": "code",
    "absences": "technician",
    "closures": "site",
    "events": "subject",
    "history": "subject",
    "readings": "subject",
}
SINGULARS = {"duty": "duties", "record": "history", "animal": "animals", "place": "placements"}


def file_named(word: str) -> tuple[str, str]:
    """The register's file for a word such as tank or tanks, and the column that CODE goes into."""
    for file in (word, f"{word}s", SINGULARS.get(word, "")):
        if file in FIRST_COLUMNS:
            return file, FIRST_COLUMNS[file]
    near = difflib.get_close_matches(word, list(FIRST_COLUMNS), n=1)
    hint = f"; nearest is {near[0]}" if near else ""
    raise BadInput(f"{word!r}: expected one of {', '.join(FIRST_COLUMNS)}{hint}")


def cells_from(args: Sequence[str], flags: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Splits what was typed into plain words and cells (column=value, --column=value or --column value).

    `flags` are the options without a value that may stand among them; they come back among the words.
    """
    words: list[str] = []
    cells: dict[str, str] = {}
    rest = list(args)
    while rest:
        word = rest.pop(0)
        if word in flags:
            words.append(word)
        elif word.startswith("--"):
            column, equals, value = word[2:].partition("=")
            if not equals:
                if not rest:
                    raise BadInput(f"{word}: expected a value after it")
                value = rest.pop(0)
            _put(cells, column.replace("-", "_"), value)
        elif "=" in word:
            column, _, value = word.partition("=")
            _put(cells, column.strip(), value)
        else:
            words.append(word)
    return words, cells


def _put(cells: dict[str, str], column: str, value: str) -> None:
    if column in cells:
        raise BadInput(f"{column} is given twice")
    cells[column] = value
