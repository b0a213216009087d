"""A quantity with its honest spread."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Spread:
    """Low, middle and high estimate of one quantity; decisions use whichever end is the safe one."""

    low: float
    mid: float
    high: float
