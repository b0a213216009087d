"""One file of the register as plain text cells, before anybody asks what they mean."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sheet:
    """`rows` holds (row number as a spreadsheet shows it, cells) without the blank rows; `label` names it to people.

    A row may be longer or shorter than the header: that is for the reader of the rows to judge.
    """

    name: str
    label: str
    header_row: int
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def sheet_of(name: str, label: str, records: list[tuple[int, tuple[str, ...]]]) -> Sheet:
    """A sheet from numbered records; the first that is not blank is the header, blank ones are left out."""
    filled = [(number, cells) for number, cells in records if any(cell.strip() for cell in cells)]
    if not filled:
        return Sheet(name, label, 1, (), ())
    header_row, names = filled[0]
    header = tuple(cell.strip().lower() for cell in names)
    while header and not header[-1]:
        header = header[:-1]
    return Sheet(name, label, header_row, header, tuple(filled[1:]))
