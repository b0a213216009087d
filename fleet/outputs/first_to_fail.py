"""Which tank passes its limit first when a room's air conditioning or a plant fails, over the whole fleet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from fleet.outputs.lookup import Lookup
from fleet.outputs.outage_view import TODAY_H
from fleet.outputs.words import duration_words, soonest_words
from fleet.values.assessment import Assessment, HoursToLimit
from fleet.values.vocabulary import Reaches, Role

MOST_IN_ORDER = 12
"""Tanks named in each outage order; the rest are counted."""


@dataclass(frozen=True, slots=True)
class OrderLine:
    tank: str
    card: str
    where: str
    soonest: str
    likely: str
    limit: str


@dataclass(frozen=True, slots=True)
class OutageOrder:
    """Tanks in the order in which they pass their limit. `rest` counts those that are not named."""

    title: str
    lines: tuple[OrderLine, ...]
    rest: str


@dataclass(frozen=True, slots=True)
class PlantLine:
    device: str
    where: str
    order: str


def crossing(
    rows: Sequence[Assessment], of: Callable[[Assessment], HoursToLimit | None]
) -> list[tuple[Assessment, HoursToLimit]]:
    """The tanks that can pass their limit, the soonest first."""
    found = []
    for row in rows:
        hours = of(row)
        if hours is not None and hours.reaches_limit is Reaches.YES and hours.low is not None:
            found.append((row, hours))
    return sorted(
        found,
        key=lambda item: (item[1].low or 0.0, item[1].mid if item[1].mid is not None else inf, item[0].tank),
    )


def outage_orders(hot: Sequence[Assessment], lookup: Lookup, cards: Mapping[str, str]) -> tuple[OutageOrder, ...]:
    """Who is first without air conditioning, and who is first without cooling; `hot` are assessments of the hot day,
    `cards` the pages of tanks by code."""
    kinds: tuple[tuple[str, Callable[[Assessment], HoursToLimit | None]], ...] = (
        ("When the air conditioning of its room fails", lambda row: row.hours.ac_lost),
        ("When a tank loses all its cooling", lambda row: row.hours.all_cooling_lost if row.devices else None),
    )
    made = []
    for title, of in kinds:
        concerned = [row for row in hot if of(row) is not None]
        falling = crossing(concerned, of)
        if falling:
            lines = tuple(_order_line(row, hours, lookup, cards) for row, hours in falling[:MOST_IN_ORDER])
            made.append(OutageOrder(title, lines, _rest(falling[MOST_IN_ORDER:], concerned, of)))
    return tuple(made)


def _order_line(row: Assessment, hours: HoursToLimit, lookup: Lookup, cards: Mapping[str, str]) -> OrderLine:
    fleet = lookup.fleet
    site = fleet.site_of(row.tank)
    return OrderLine(
        tank=lookup.label(row.tank),
        card=cards.get(row.tank, ""),
        where=", ".join(lookup.name(code) for code in (fleet.tank_by_code[row.tank].room, site) if code),
        soonest=soonest_words(hours),
        likely=duration_words(hours.mid) if hours.mid is not None else "perhaps never",
        limit=lookup.display(site).both_temperatures(row.limit_c),
    )


def _rest(
    unnamed: Sequence[tuple[Assessment, HoursToLimit]],
    concerned: Sequence[Assessment],
    of: Callable[[Assessment], HoursToLimit | None],
) -> str:
    parts = []
    within_a_day = sum((hours.low or 0.0) <= TODAY_H for _, hours in unnamed)
    if within_a_day:
        parts.append(f"{within_a_day} more within a day")
    if len(unnamed) > within_a_day:
        parts.append(f"{len(unnamed) - within_a_day} later")
    for reaches, words in ((Reaches.NO, "never"), (Reaches.UNKNOWN, "not known")):
        count = sum(1 for row in concerned if (hours := of(row)) is not None and hours.reaches_limit is reaches)
        if count:
            parts.append(f"{count} {words}")
    return f"Of the others: {', '.join(parts)}." if parts else ""


def plants(hot: Sequence[Assessment], lookup: Lookup) -> tuple[PlantLine, ...]:
    """Devices that cool several tanks, those whose first tank falls soonest first."""
    served: dict[str, list[Assessment]] = defaultdict(list)
    for row in hot:
        for capacity in row.devices:
            if capacity.role == Role.DUTY:
                served[capacity.device].append(row)
    found = []
    for device, rows in sorted(served.items()):
        if len(rows) < 2:
            continue
        falling = crossing(rows, lambda row: row.hours.largest_lost)
        names = [f"{lookup.label(row.tank)} {soonest_words(hours)}" for row, hours in falling]
        for reaches, words in ((Reaches.NO, "inside the limit without it"), (Reaches.UNKNOWN, "not known")):
            count = sum(
                row.hours.largest_lost is not None and row.hours.largest_lost.reaches_limit is reaches for row in rows
            )
            if count:
                names.append(f"{count} {words}")
        site = lookup.fleet.site_of(device)
        soonest = (falling[0][1].low or 0.0) if falling else inf
        line = PlantLine(lookup.label(device), lookup.name(site) if site else "", "; ".join(names))
        found.append((soonest, device, line))
    return tuple(line for _, _, line in sorted(found, key=lambda item: item[:2]))
