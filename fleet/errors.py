"""Every error that a person may meet, and the exit code it ends a command with.

FleetError                    one clear line for the person; exit code 2 unless said otherwise
├── BadInput                  cells, options or codes that cannot be taken; holds every CellError found
├── OutOfRange                a physical quantity outside the range its formula is valid in (also a ValueError)
├── NotFound                  a code or key that is not on record; names the nearest one
├── NotAllowed                the trade's rules forbid it (putting off a life-safety task)
└── StoreRefused              the database is locked, damaged, newer or older than this program; exit code 3
    └── StaleWrite            somebody changed the same row in between; shows both values
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    FloatOrArray = float | np.ndarray


class FleetError(Exception):
    """Something a person can put right. The message is one complete line without a trailing stop."""

    exit_code = 2


@dataclass(frozen=True)
class CellError:
    """One cell that cannot be taken: where it stands, what it holds, what was expected."""

    file: str
    row: int
    column: str
    value: str
    expected: str

    def __str__(self) -> str:
        place = f"{self.file} row {self.row}" if self.row else self.file
        column = f", {self.column}" if self.column else ""
        return f"{place}{column}: {self.value!r}: expected {self.expected}"


class BadInput(FleetError):
    """Input that cannot be taken. `errors` holds every cell at fault, in file and row order."""

    def __init__(self, message: str, errors: Sequence[CellError] = ()) -> None:
        super().__init__(message)
        self.errors = tuple(errors)


class OutOfRange(FleetError, ValueError):
    """A quantity outside the range in which its formula holds."""

    def __init__(self, quantity: str, value: float, low: float, high: float, unit: str = "") -> None:
        self.quantity, self.value, self.low, self.high, self.unit = quantity, value, low, high, unit
        tail = f" {unit}" if unit else ""
        super().__init__(f"{quantity} is {value:g}{tail}: expected {low:g} to {high:g}{tail}")


class NotFound(FleetError):
    """A code or key that is not on record."""


class NotAllowed(FleetError):
    """Something the rules of the trade forbid."""


class StoreRefused(FleetError):
    """The database cannot be used as it is."""

    exit_code = 3


class StaleWrite(StoreRefused):
    """Two people changed the same row; the later one is refused and both values are shown."""


def require_range(quantity: str, value: FloatOrArray, low: float, high: float, unit: str = "") -> None:
    """Raises OutOfRange unless every element of `value` lies in [low, high]. NaN is outside every range."""
    if isinstance(value, (int, float)):
        if not (low <= value <= high):
            raise OutOfRange(quantity, float(value), low, high, unit)
        return
    import numpy as np

    array = np.asarray(value, dtype=float)
    outside = ~((array >= low) & (array <= high))
    if outside.any():
        first = float(array[outside].flat[0])
        raise OutOfRange(quantity, first, low, high, unit)


def require_positive(quantity: str, value: FloatOrArray, unit: str = "") -> None:
    """Raises OutOfRange unless every element of `value` is finite and above zero."""
    require_range(quantity, value, math.ulp(0.0), 1.7e308, unit)
