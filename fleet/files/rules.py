"""What must hold between the cells of one row. Values go by field, in SI, before they become a row."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import date
from itertools import pairwise
from typing import Any

from fleet.files.columns import FILES, HOT_SEASON_FIRST, HOT_SEASON_LAST
from fleet.values.register import ALWAYS, YearSpan

Fault = tuple[str, str]
"""(field, what was expected of it)."""

_FROM_BEFORE_TO = {"sites": ("visit_from", "visit_to"), "technicians": ("work_from", "work_to")}
_TEMPERATURES_IN_ORDER = ("act_low_c", "watch_low_c", "target_c", "watch_high_c", "act_high_c")


def row_faults(file: str, values: Mapping[str, Any], unread: Collection[str] = ()) -> Iterator[Fault]:
    """Every rule between cells that the row breaks; cells that are unknown, or `unread` for a fault of their own (by
    field), break none."""
    since, until = values.get("since"), values.get("until")
    if since is not None and until is not None and until <= since:
        yield "until", f"a day after since ({since}), the first on which it no longer holds"
    if file in _FROM_BEFORE_TO:
        first, last = (values.get(field) for field in _FROM_BEFORE_TO[file])
        if first is not None and last is not None and last <= first:
            yield _FROM_BEFORE_TO[file][1], f"a time after {_FROM_BEFORE_TO[file][0]} ({first:%H:%M})"
    if file == "tanks":
        yield from _temperatures_out_of_order(values)
    if file == "sites":
        starts, ends = (values.get(field, ()) for field in (HOT_SEASON_FIRST, HOT_SEASON_LAST))
        if len(starts) != len(ends) and HOT_SEASON_FIRST not in unread:
            yield HOT_SEASON_LAST, f"one day for each in {HOT_SEASON_FIRST} ({len(starts)}), separated by ;"


def _temperatures_out_of_order(values: Mapping[str, Any]) -> Iterator[Fault]:
    """act_low < watch_low < target < watch_high < act_high, of those that are given; the limit is at fault."""
    given = [field for field in _TEMPERATURES_IN_ORDER if values.get(field) is not None]
    for lower, higher in pairwise(given):
        if values[lower] < values[higher]:
            continue
        at_fault, anchor, side = (higher, lower, "above") if "low" not in lower else (lower, higher, "below")
        column = FILES["tanks"].column_of(anchor)
        yield at_fault, f"a temperature {side} {column} ({values[anchor]:.6g} C)"


def join_seasons(values: dict[str, Any]) -> None:
    """Puts the two columns of days into hot_seasons."""
    starts, ends = values.pop(HOT_SEASON_FIRST, ()), values.pop(HOT_SEASON_LAST, ())
    values["hot_seasons"] = tuple(YearSpan(*first, *last) for first, last in zip(starts, ends, strict=True))


def part_seasons(seasons: tuple[YearSpan, ...]) -> dict[str, tuple[tuple[int, int], ...]]:
    """The two columns of days out of hot_seasons."""
    return {
        HOT_SEASON_FIRST: tuple((span.first_month, span.first_day) for span in seasons),
        HOT_SEASON_LAST: tuple((span.last_month, span.last_day) for span in seasons),
    }


def natural_key(file: str, values: Mapping[str, Any]) -> tuple[Any, ...] | None:
    """What tells the row from the others of its file; None while a cell of it cannot be read."""
    key = tuple(values.get(field, ALWAYS if field == "since" else None) for field in FILES[file].key_fields)
    return None if None in key else key


def key_text(key: tuple[Any, ...]) -> str:
    """The key as a person would say it; a row that has always held shows no day."""
    return " ".join(part.isoformat() if isinstance(part, date) else str(part) for part in key if part != ALWAYS)
