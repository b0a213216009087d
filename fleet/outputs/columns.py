"""Text in aligned columns for a terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.outputs.cleaning import one_line

BOLD = "1"
RED = "1;31"
YELLOW = "33"
FAINT = "2"
LONGEST_CELL = 60


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its text, a terminal style (an SGR code, empty for none), and the side it is set to."""

    text: str
    style: str = ""
    right: bool = False


Row = Sequence[str | Cell]


def width_of(text: str) -> int:
    """Columns that the text takes on a terminal: wide East Asian characters two, combining marks none."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def in_columns(rows: Sequence[Row], *, indent: int = 0, colour: bool = False, longest: int = LONGEST_CELL) -> list[str]:
    """The rows as lines, each column as wide as its widest cell, two blanks between columns, none at line ends.
    A cell beyond `longest` characters is cut."""
    cells = [[_cell(cell, longest) for cell in row] for row in rows]
    count = max((len(row) for row in cells), default=0)
    widths = [max((width_of(row[i].text) for row in cells if i < len(row)), default=0) for i in range(count)]
    lines = []
    for row in cells:
        parts = []
        for cell, width in zip(row, widths, strict=False):
            blanks = " " * (width - width_of(cell.text))
            text = painted(cell.text, cell.style if colour else "")
            parts.append(blanks + text if cell.right else text + blanks)
        lines.append((" " * indent + "  ".join(parts)).rstrip())
    return lines


def _cell(cell: str | Cell, longest: int) -> Cell:
    made = Cell(cell) if isinstance(cell, str) else cell
    return Cell(typed(made.text, longest), made.style, made.right)


def painted(text: str, style: str) -> str:
    """The text between the terminal codes of a style."""
    return f"\x1b[{style}m{text}\x1b[0m" if style and text else text


def typed(text: str, longest: int = LONGEST_CELL) -> str:
    """Text for a terminal: one line, no control characters, and a minus sign that every code page has."""
    return one_line(text, longest).replace("\N{MINUS SIGN}", "-")
