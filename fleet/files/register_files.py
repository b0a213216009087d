"""The register as files: a folder of CSV files, one .xlsx workbook, or one CSV file of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from fleet.errors import BadInput, CellError
from fleet.files.cells import nearest
from fleet.files.columns import FILES
from fleet.files.csv_files import csv_bytes, read_csv
from fleet.files.replace import replace_file, replace_files
from fleet.files.rows import Context, Words, cell_error, read_row, write_cells
from fleet.files.rules import key_text, natural_key
from fleet.files.sheets import Sheet
from fleet.files.specification import FileSpec
from fleet.files.whereabouts import PARENT_FIELDS, Whereabouts
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import SubjectKind, UnitSystem

Progress = Callable[[int, int], None]
ROWS_BETWEEN_WORD = 500

SHOWN_ERRORS = 50
"""How many errors a message tells in full."""

_OTHER_TABLES = frozenset({".xls", ".xlsm", ".xlsb", ".ods", ".csv", ".tsv", ".zip"})


def read_register(
    path: Path,
    known: Mapping[str, SubjectKind],
    time_zones: Mapping[str, str] | None = None,
    words: Words | None = None,
    progress: Progress | None = None,
) -> RegisterRows:
    """The rows of every file at `path`: a folder of CSV files, an .xlsx workbook, or a single CSV file.

    known: codes already on record, with what they stand for; references may name them too.
    time_zones: IANA zone by code (of sites, or of any subject) already on record, for readings in local time.
    words: the only words that a column may have, by file and column, where somebody else owns them (animal classes,
    task ids); a column that is not in it may have any.
    progress: told every so often how many rows of how many are read.
    Raises BadInput with one CellError for every cell, row, column and file at fault; then nothing has been read.
    """
    sheets, errors = _load(path)
    reading = _RegisterReading(known, time_zones or {}, words or {}, complete=not errors)
    errors += reading.take_in(sheets)
    told = _Counter(sum(len(sheet.rows) for sheet in sheets), progress)
    rows = {sheet.name: reading.rows_of(sheet, errors, told) for sheet in sheets if sheet.name in FILES}
    if errors:
        raise bad_input(errors, [sheet.label for sheet in sheets])
    return RegisterRows(**rows)


def row_from_cells(
    file: str,
    cells: Mapping[str, str],
    known: Mapping[str, SubjectKind],
    time_zones: Mapping[str, str] | None = None,
    words: Words | None = None,
) -> Any:
    """One row of `file` ("tanks") from its cells by column name, as typed at the terminal; the file's dataclass.

    Raises BadInput with every cell at fault; row numbers are 0.
    """
    if file not in FILES:
        raise BadInput(f"{file!r}: expected one of {', '.join(FILES)}{nearest(file, FILES)}")
    spec = FILES[file]
    named = {name.strip().lower(): value for name, value in cells.items()}
    errors = _unknown_columns(spec, file, 0, list(named))
    own = {named["code"].strip(): spec.kind} if spec.kind is not None and "code" in named else {}
    context = Context({**own, **known}, time_zones or {}, words=words or {})
    result = read_row(spec, file, 0, named, context)
    errors += result.errors
    if errors:
        raise bad_input(errors)
    return result.row


def cells_of(file: str, row: Any, units: UnitSystem | None = None) -> dict[str, str]:
    """The text of every column of one row, "" for what is unknown; `row_from_cells` reads it back to the same row."""
    return write_cells(FILES[file], row, units)


def write_register(rows: RegisterRows, path: Path) -> None:
    """Writes every file that has rows to a folder of CSV files, or to a workbook when `path` ends in .xlsx.

    Quantities stand in the units of the row's client where a short number in them is exact, so that reading back gives
    exactly the same rows. An earlier export is replaced as a whole; with no rows at all, every file gets its header.
    Raises BadInput, with nothing changed, when `path` cannot be written or holds CSV files that are no register's.
    """
    suffix = path.suffix.lower()
    if suffix in _OTHER_TABLES:
        raise BadInput(f"{path}: expected a folder, or a file that ends in .xlsx")
    tables = _tables(rows)
    try:
        if suffix == ".xlsx":
            from fleet.files.xlsx_files import write_workbook

            replace_file(path, lambda target: write_workbook(target, tables))
        else:
            _write_folder(tables, path)
    except OSError as error:
        raise BadInput(f"{path}: cannot be written ({error.strerror or error})") from error


def bad_input(errors: Iterable[CellError], labels: Iterable[str] = ()) -> BadInput:
    """The errors as one exception: sorted by file (in the order of `labels`) and row, the first ones told in full."""
    order = {label: number for number, label in enumerate(labels)}
    found = sorted(errors, key=lambda error: (order.get(error.file, -1), error.row))
    lines = [str(error) for error in found[:SHOWN_ERRORS]]
    if len(found) > SHOWN_ERRORS:
        lines.append(f"and {len(found) - SHOWN_ERRORS} more")
    return BadInput("\n".join(lines), found)


def _load(path: Path) -> tuple[list[Sheet], list[CellError]]:
    """The sheets that can be read as text, in the order of the register, and what is wrong with the others."""
    if path.is_dir():
        files = sorted(entry for entry in path.iterdir() if entry.suffix.lower() == ".csv" and entry.is_file())
    elif not path.is_file():
        raise BadInput(f"{path}: expected a folder of CSV files, an .xlsx workbook or a CSV file")
    elif path.suffix.lower() == ".xlsx":
        from fleet.files.xlsx_files import read_workbook

        sheets, errors = _known_sheets(read_workbook(path))
        if not sheets and not errors:
            raise BadInput(f"{path}: expected at least one sheet of a register with a header, such as tanks")
        return sheets, errors
    elif path.suffix.lower() == ".csv":
        files = [path]
    else:
        raise BadInput(f"{path}: expected a file that ends in .xlsx or .csv, or a folder of CSV files")
    if not files:
        raise BadInput(f"{path}: expected CSV files of a register in it, such as tanks.csv")
    sheets, errors = [], []
    for file in files:
        name = file.stem.lower()
        if name not in FILES:
            errors.append(CellError(file.name, 0, "", file.name, _expected_name(name, ".csv")))
            continue
        try:
            sheets.append(read_csv(file, name, list(FILES[name].by_name)))
        except BadInput as refused:
            errors += refused.errors
    known, more = _known_sheets(sheets)
    return known, errors + more


def _known_sheets(sheets: list[Sheet]) -> tuple[list[Sheet], list[CellError]]:
    errors = [
        CellError(sheet.label, 0, "", sheet.name, _expected_name(sheet.name, ""))
        for sheet in sheets
        if sheet.name not in FILES
    ]
    by_name: dict[str, Sheet] = {}
    for sheet in sheets:
        if sheet.name in by_name:
            errors.append(CellError(sheet.label, 0, "", sheet.name, "each file of the register only once"))
        elif sheet.name in FILES:
            by_name[sheet.name] = sheet
    return [by_name[name] for name in FILES if name in by_name], errors


def _expected_name(name: str, suffix: str) -> str:
    return f"one of {', '.join(f'{known}{suffix}' for known in FILES)}{nearest(name, FILES)}"


def _unknown_columns(spec: FileSpec, label: str, row: int, header: Iterable[str]) -> list[CellError]:
    return [
        CellError(label, row, "", name, f"a column of {spec.name}{nearest(name, spec.by_name)}")
        for name in header
        if name and name not in spec.by_name
    ]


class _Counter:
    """Tells somebody who waits how many rows are read, now and then."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self.total, self.progress, self.count = total, progress, 0

    def one_more(self) -> None:
        self.count += 1
        if self.progress is not None and (self.count % ROWS_BETWEEN_WORD == 0 or self.count == self.total):
            self.progress(self.count, self.total)


class _RegisterReading:
    """Reads sheets that refer to each other: first what every code stands for, then every cell."""

    def __init__(
        self, known: Mapping[str, SubjectKind], time_zones: Mapping[str, str], words: Words, *, complete: bool
    ) -> None:
        self.kinds = dict(known)
        self.zones = dict(time_zones)
        self.context = Context(self.kinds, self.zones, Whereabouts(), complete, words=words)

    def take_in(self, sheets: Iterable[Sheet]) -> list[CellError]:
        """Learns codes, references and time zones of every sheet; gives what is wrong with the headers."""
        errors: list[CellError] = []
        for sheet in sheets:
            spec = FILES[sheet.name]
            errors += self._header_errors(spec, sheet)
            if spec.kind is not None and "code" not in sheet.header:
                self.context.complete = False
            if spec.kind is None and sheet.name not in PARENT_FIELDS:
                continue
            for _, cells in sheet.rows:
                self._learn(spec, dict(zip(sheet.header, cells, strict=False)))
        return errors

    def _learn(self, spec: FileSpec, cells: Mapping[str, str]) -> None:
        code = cells.get("code", "").strip()
        if spec.kind is not None and code:
            self.kinds.setdefault(code, spec.kind)
            zone = spec.by_name.get("time_zone")
            if zone is not None and self.kinds[code] is spec.kind:
                try:
                    self.zones[code] = zone.form.read(cells.get(zone.name, "").strip())
                except ValueError:
                    # The cell is refused below; until then any zone will do, so that its readings are not blamed too.
                    self.zones[code] = "UTC"
        self.context.whereabouts.learn(spec.name, lambda name: cells.get(name, "").strip())

    @staticmethod
    def _header_errors(spec: FileSpec, sheet: Sheet) -> list[CellError]:
        label, row = sheet.label, sheet.header_row
        if not sheet.header:
            return [CellError(label, row, "", "", f"a header row with {', '.join(spec.by_name)}")]
        errors = _unknown_columns(spec, label, row, sheet.header)
        for place, name in enumerate(sheet.header, start=1):
            if not name:
                errors.append(CellError(label, row, "", "", f"a name for column {place} of the header"))
            elif name in sheet.header[: place - 1]:
                errors.append(CellError(label, row, name, name, "each column only once"))
        for column in spec.columns:
            if column.required and column.name not in sheet.header:
                errors.append(CellError(label, row, column.name, "", "this column, which every row needs"))
        return errors

    def rows_of(self, sheet: Sheet, errors: list[CellError], told: _Counter) -> tuple[Any, ...]:
        """The rows of one sheet that could be read; adds what is wrong with the others to `errors`."""
        spec, width = FILES[sheet.name], len(sheet.header)
        absent = {column.name for column in spec.columns if column.required and column.name not in sheet.header}
        rows: list[Any] = []
        first_with: dict[tuple[Any, ...], int] = {}
        for number, cells in sheet.rows:
            told.one_more()
            # A row typed by hand often leaves out its last, empty cells; one with more than the header is out of step.
            if any(cell.strip() for cell in cells[width:]):
                expected = f"{width} cells, as in the header, not {len(cells)}"
                errors.append(cell_error(sheet.label, number, "", cells[0] if cells else "", expected))
                continue
            result = read_row(spec, sheet.label, number, dict(zip(sheet.header, cells, strict=False)), self.context)
            errors += [error for error in result.errors if error.column not in absent]
            key = natural_key(sheet.name, result.values)
            if key is not None and (first := first_with.setdefault(key, number)) != number:
                columns = ", ".join(spec.column_of(name) for name in spec.key_fields)
                expected = f"only one row with the same {columns}; row {first} has them too"
                errors.append(
                    CellError(sheet.label, number, spec.column_of(spec.key_fields[0]), key_text(key), expected)
                )
            rows.append(result.row)
        return tuple(rows)


def _tables(rows: RegisterRows) -> list[tuple[str, list[str], list[list[str]]]]:
    """(file, header, cells) of every file that has rows; of every file when none has."""
    units = _UnitsOfRows(rows)
    tables = []
    for name, spec in FILES.items():
        file_rows = getattr(rows, name)
        cells = [list(write_cells(spec, row, units.of(row)).values()) for row in file_rows]
        tables.append((name, list(spec.by_name), cells))
    return [table for table in tables if table[2]] or tables


class _UnitsOfRows:
    """The units of the client that a row belongs to, found through its references."""

    _SUBJECT_FIELDS = ("code", "device", "tank", "site", "technician", "subject")

    def __init__(self, rows: RegisterRows) -> None:
        self._clients: dict[str, UnitSystem | None] = {client.code: client.units for client in rows.clients}
        self._whereabouts = Whereabouts()
        self._found: dict[str, UnitSystem | None] = {}
        for name in PARENT_FIELDS:
            for row in getattr(rows, name):
                self._whereabouts.learn(name, lambda field, row=row: getattr(row, field))  # type: ignore[misc]

    def of(self, row: Any) -> UnitSystem | None:
        subject: str = next(getattr(row, field) for field in self._SUBJECT_FIELDS if hasattr(row, field))
        if subject not in self._found:
            self._found[subject] = self._whereabouts.find(subject, self._clients)
        return self._found[subject]


def _write_folder(tables: list[tuple[str, list[str], list[list[str]]]], path: Path) -> None:
    ours = [f"{name}.csv" for name in FILES]
    if path.exists():
        if not path.is_dir():
            raise BadInput(f"{path}: expected a folder, or a file that ends in .xlsx")
        foreign = sorted(entry.name for entry in path.glob("*.csv") if entry.name not in ours)
        if foreign:
            raise BadInput(f"{path}: expected a folder without other CSV files; it holds {', '.join(foreign[:3])}")
    written = {f"{name}.csv": csv_bytes(header, cells) for name, header, cells in tables}
    replace_files(path, {name: written.get(name) for name in ours})
