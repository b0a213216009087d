"""Ranges in which the formulas hold, and the wrapper that keeps callers inside them.

A formula is written once, on numpy arrays. Wrapped by `formula` it takes floats or arrays alike, gives the same
kind back and refuses what lies outside its range; `formula.on_arrays` is the bare formula for the time loop, whose
states are kept in range by construction.
"""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, ParamSpec, overload

import numpy as np
from numpy.typing import NDArray

from fleet.errors import OutOfRange, require_range

Array = NDArray[np.float64]
FloatOrArray = float | Array
P = ParamSpec("P")

LARGEST = 1.7e308


@dataclass(frozen=True, slots=True)
class Range:
    """Closed range of a named quantity."""

    quantity: str
    low: float
    high: float
    unit: str = ""

    def check(self, value: FloatOrArray) -> None:
        """Raises OutOfRange unless every element lies inside. NaN lies outside every range."""
        if isinstance(value, float | int):
            if not self.low <= value <= self.high:
                raise OutOfRange(self.quantity, float(value), self.low, self.high, self.unit)
            return
        array = np.asarray(value, dtype=float)
        if array.size and not (self.low <= array.min() and array.max() <= self.high):
            require_range(self.quantity, array, self.low, self.high, self.unit)


def positive(quantity: str, unit: str = "", high: float = LARGEST) -> Range:
    """Everything above zero (and finite)."""
    return Range(quantity, math.ulp(0.0), high, unit)


AIR_C = Range("air temperature", -20.0, 60.0, "°C")
WATER_C = Range("water temperature", 0.0, 45.0, "°C")
SALINITY = Range("salinity", 0.0, 45.0, "g/kg")
RELATIVE_HUMIDITY = Range("relative humidity", 0.0, 1.0)
PRESSURE_PA = Range("air pressure", 60_000.0, 110_000.0, "Pa")
AIR_SPEED = Range("air speed", 0.0, 5.0, "m/s")
CHILLER_WATER_C = Range("chiller water temperature", 8.0, 30.0, "°C")
CONDENSER_INLET_C = Range("condenser inlet air temperature", 15.0, 50.0, "°C")
AIRFLOW_FRACTION = Range("air flow over clean air flow", 0.2, 1.0)
FOULING = Range("fouling resistance", 0.0, 0.0008, "m2K/W")


def kind_of(result: Array, *inputs: FloatOrArray) -> FloatOrArray:
    """A Python float where every input was one, else the array."""
    if all(isinstance(value, float | int) for value in inputs):
        return float(result)
    return result


class Formula(Generic[P]):
    """A formula with the ranges of its arguments; call it with floats or arrays."""

    on_arrays: Callable[P, Array]

    def __init__(self, bare: Callable[P, Array], ranges: dict[str, Range]) -> None:
        self.on_arrays = bare
        self._signature = inspect.signature(bare)
        self._ranges = ranges
        functools.update_wrapper(self, bare)

    @overload
    def __call__(self, *args: float, **kwargs: float) -> float: ...  # type: ignore[overload-overlap]

    @overload
    def __call__(self, *args: FloatOrArray, **kwargs: FloatOrArray) -> Array: ...

    def __call__(self, *args: FloatOrArray, **kwargs: FloatOrArray) -> FloatOrArray:
        given = self._signature.bind(*args, **kwargs).arguments
        for name, limits in self._ranges.items():
            if name in given:
                limits.check(given[name])
        values = {
            name: value if isinstance(value, float | int) else np.asarray(value, dtype=float)
            for name, value in given.items()
        }
        return kind_of(self.on_arrays(**values), *given.values())  # type: ignore[arg-type,call-arg]


def formula(**ranges: Range) -> Callable[[Callable[P, Array]], Formula[P]]:
    """Makes a Formula of a function on arrays; each keyword is an argument's name with its range."""

    def wrap(bare: Callable[P, Array]) -> Formula[P]:
        return Formula(bare, ranges)

    return wrap
