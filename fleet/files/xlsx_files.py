"""Workbooks (.xlsx) as sheets of text, both ways. Loaded only when one is read or written."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from fleet.errors import BadInput, CellError
from fleet.files.sheets import Sheet, sheet_of


def read_workbook(path: Path) -> list[Sheet]:
    """Every sheet of the workbook that is not empty, in its order, cells as text.

    Formulas stay text: nothing is computed. Dates become ISO 8601, yes/no cells "yes" and "no".
    Raises BadInput when the file is no workbook.
    """
    import openpyxl

    try:
        with warnings.catch_warnings():
            # A register needs nothing of what openpyxl warns that it leaves out (drop-down lists, print settings).
            warnings.simplefilter("ignore")
            _check_archive(path)
            workbook = openpyxl.load_workbook(path, read_only=True, data_only=False)
            try:
                sheets = [_read_sheet(worksheet, path.name) for worksheet in workbook.worksheets]
            finally:
                workbook.close()
    except Exception as failure:
        # A damaged archive fails anywhere in zipfile, the XML parser or openpyxl, with whatever they raise there.
        error = CellError(path.name, 0, "", str(path), f"an .xlsx workbook that can be read ({failure})")
        raise BadInput(str(error), [error]) from failure
    return [sheet for sheet in sheets if sheet.header]


def _check_archive(path: Path) -> None:
    """Raises BadZipFile when a part fails its checksum; openpyxl would pass over a sheet whose name is damaged."""
    with zipfile.ZipFile(path) as archive:
        if (part := archive.testzip()) is not None:
            raise zipfile.BadZipFile(f"its part {part} is damaged")


def _read_sheet(worksheet: Any, book: str) -> Sheet:
    records = [
        (number, tuple(_cell_text(value) for value in values))
        for number, values in enumerate(worksheet.iter_rows(values_only=True), start=1)
    ]
    sheet = sheet_of(worksheet.title.strip().lower(), f"{book} {worksheet.title}", records)
    width = len(sheet.header)
    padded = tuple((number, cells + ("",) * (width - len(cells))) for number, cells in sheet.rows)
    return Sheet(sheet.name, sheet.label, sheet.header_row, sheet.header, padded)


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, timedelta) and timedelta(0) <= value < timedelta(days=1):
        return f"{value.seconds // 3600:02d}:{value.seconds // 60 % 60:02d}"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return str(value)


def write_workbook(path: Path, sheets: Iterable[tuple[str, Sequence[str], Iterable[Sequence[str]]]]) -> None:
    """Writes (name, header, rows) as text cells, so that nothing in them is ever taken for a formula or a number."""
    import openpyxl
    from openpyxl.cell import WriteOnlyCell

    workbook = openpyxl.Workbook(write_only=True)
    for name, header, rows in sheets:
        worksheet = workbook.create_sheet(name)
        worksheet.freeze_panes = "A2"
        worksheet.append(list(header))
        for row in rows:
            cells = []
            for text in row:
                cell = WriteOnlyCell(worksheet, value=text or None)
                if text:
                    cell.data_type = "s"
                cells.append(cell)
            worksheet.append(cells)
    workbook.save(path)
