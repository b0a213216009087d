"""What can be said of a file of the register and of one of its columns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fleet.files.cells import Form
from fleet.values.bounds import Bound
from fleet.values.register import CODED, NATURAL_KEYS
from fleet.values.vocabulary import SubjectKind


@dataclass(frozen=True)
class Column:
    """`field` is the attribute of the row; `bound` is in the unit of that field."""

    name: str
    field: str
    form: Form
    required: bool = False
    bound: Bound | None = None


@dataclass(frozen=True)
class FileSpec:
    """One file: its columns in the order in which they are written, and the dataclass of its rows."""

    name: str
    row_type: type[Any]
    columns: tuple[Column, ...]

    @cached_property
    def kind(self) -> SubjectKind | None:
        """What the code of a row stands for; None where rows have no code of their own."""
        return SubjectKind(CODED[self.name]) if self.name in CODED else None

    @cached_property
    def key_fields(self) -> tuple[str, ...]:
        return NATURAL_KEYS[self.name]

    @cached_property
    def by_name(self) -> dict[str, Column]:
        return {column.name: column for column in self.columns}

    def column_of(self, field: str) -> str:
        """The name of the column that holds `field`."""
        return next(column.name for column in self.columns if column.field == field)
