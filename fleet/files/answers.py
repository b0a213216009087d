"""Checks single answers typed at a terminal as the cells that they will become."""

from __future__ import annotations

import re

from fleet.errors import BadInput
from fleet.files.columns import FILES
from fleet.files.rows import check_cell

_PART = re.compile(r"\s*(?:x|×|\*|by)\s*", re.IGNORECASE)
_UNIT = re.compile(r"[A-Za-z\"']+\s*$")
SIZE_EXPECTED = "length x width x height with a unit, such as 48 x 18 x 20 in or 120 x 45 x 50 cm"


def check_answer(file: str, column: str, text: str) -> None:
    """Raises ValueError, saying what was expected, for a text that the column cannot take. References to codes are not
    looked up."""
    found = FILES[file].by_name[column]
    if not text:
        if found.required:
            raise ValueError("an answer: this may not stay empty")
        return
    check_cell(found, text)


def read_size(text: str) -> tuple[str, str, str]:
    """Length, width and height of a tank's water as cells with units; a unit given once holds for all three.

    Raises ValueError with what was expected.
    """
    parts = _PART.split(text.strip())
    unit = _UNIT.search(parts[-1])
    if len(parts) != 3 or unit is None:
        raise ValueError(SIZE_EXPECTED)
    length, width, height = (part if _UNIT.search(part) else f"{part} {unit.group().strip()}" for part in parts)
    for column, cell in (("length", length), ("width", width), ("height", height)):
        try:
            check_answer("tanks", column, cell)
        except (ValueError, BadInput) as error:
            raise ValueError(f"for the {column} {error}") from None
    return length, width, height


def read_plate(text: str) -> dict[str, str]:
    """What a chiller's plate says, as cells of the device: horsepower or cooling power, beside the printed text.

    Raises ValueError with what was expected; an empty text is an unknown plate.
    """
    if not text:
        return {}
    column = "rated_horsepower" if re.search(r"hp|horse", text, re.IGNORECASE) else "rated_cooling"
    try:
        check_answer("devices", column, text)
    except ValueError:
        raise ValueError("cooling power or horsepower off the plate, such as 1/10 hp, 300 W or 1200 Btu/h") from None
    return {column: text, "plate": text}
