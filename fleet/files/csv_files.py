"""CSV files as sheets of text, both ways.

A cell that a spreadsheet would take for a formula (it begins with = + - @ or a tab) is written with an apostrophe
before it, and that apostrophe is taken off again on reading. Plain negative numbers and quantities stay as they are.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from fleet.errors import BadInput, CellError
from fleet.files.sheets import Sheet, sheet_of

SEPARATORS = (",", ";")

_FORMULA_START = re.compile(r"'*[=+\-@\t\r]")
_GUARDED_START = re.compile(r"'+[=+\-@\t\r]")
_NEGATIVE = re.compile(r"-\d+(\.\d+)?([eE][+-]?\d+)?( [A-Za-z]+[23]?(/[A-Za-z]+)?)?", re.ASCII)


def guarded(cell: str) -> str:
    """`cell` so that no spreadsheet runs it; `unguarded` gives it back unchanged."""
    return f"'{cell}" if _FORMULA_START.match(cell) and not _NEGATIVE.fullmatch(cell) else cell


def unguarded(cell: str) -> str:
    return cell[1:] if _GUARDED_START.match(cell) else cell


def read_csv(path: Path, name: str, columns: Sequence[str]) -> Sheet:
    """The cells of one file. `columns` (the known names) tell which separator the header uses.

    Raises BadInput with one CellError when the file as a whole cannot be taken: not readable, not UTF-8, NUL
    characters, quotation marks that do not pair.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise _refused(path.name, 0, str(path), f"a file that can be read ({error.strerror})") from None
    try:
        text = raw.removeprefix(codecs.BOM_UTF8).decode("utf-8")
    except UnicodeDecodeError as error:
        before = error.object[: error.end]
        row = before.count(b"\n") + 1
        seen = before.rpartition(b"\n")[2][-20:].decode("latin-1")
        raise _refused(path.name, row, seen, "text saved as UTF-8") from None
    if "\0" in text:
        row = text[: text.index("\0")].count("\n") + 1
        raise _refused(path.name, row, "NUL", "text without NUL characters")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text, columns), strict=True)
    records: list[tuple[int, tuple[str, ...]]] = []
    try:
        for record in reader:
            records.append((len(records) + 1, tuple(map(unguarded, record))))
    except csv.Error as error:
        raise _refused(path.name, len(records) + 1, "", f"cells of CSV with paired quotation marks ({error})") from None
    return sheet_of(name, path.name, records)


def _separator(text: str, columns: Sequence[str]) -> str:
    first_line = next((line for line in text.splitlines() if line.strip()), "")

    def known(separator: str) -> int:
        return len({cell.strip(' "').lower() for cell in first_line.split(separator)} & set(columns))

    return max(SEPARATORS, key=known)


def _refused(file: str, row: int, value: str, expected: str) -> BadInput:
    error = CellError(file, row, "", value, expected)
    return BadInput(str(error), [error])


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with a comma between cells and CR LF after each row (RFC 4180)."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8")
