"""Readings of one kind over time: what is drawn, and what a line of a table says of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.outputs.charts_readings import Series
from fleet.outputs.lookup import Lookup
from fleet.outputs.readings import TEMPERATURES, UNITS, quantity_name, value_words
from fleet.outputs.words import capital, count_words, short_day
from fleet.units import L_PER_US_GALLON, Display
from fleet.values.register import Reading
from fleet.values.vocabulary import ReadingQuantity

TO_A_TENTH = (
    ReadingQuantity.SALINITY,
    ReadingQuantity.OXYGEN_MG_PER_L,
    ReadingQuantity.RINSE_PH,
    ReadingQuantity.SUPPLY_PH,
)
PAIRED_WITHIN = timedelta(days=1)
RISE_ALLOWED_K = 3.0
"""An air rise more than this over that of the clean unit asks for clean fins (common practice, as the catalogue)."""


@dataclass(frozen=True, slots=True)
class MeasuredRow:
    """All readings of one quantity on one subject within a period. `watch` says where a temperature left its band."""

    subject: str
    quantity: str
    count: str
    span: str
    last: str
    watch: str


def measured_row(subject: str, readings: Sequence[Reading], lookup: Lookup, site: str | None) -> MeasuredRow:
    """One row; `readings` are of one quantity on one subject, oldest first."""
    display, zone = lookup.display(site), lookup.zone(site)
    low, high = min(readings, key=lambda row: row.value), max(readings, key=lambda row: row.value)
    last = readings[-1]
    span = value_words(low, display)
    if value_words(high, display) != span:
        span += f" to {value_words(high, display)}"
    return MeasuredRow(
        subject=subject,
        quantity=quantity_name(last.quantity),
        count=count_words(len(readings), "time"),
        span=span,
        last=f"{value_words(last, display)}, {short_day(last.taken_at.astimezone(zone).date())}",
        watch=_outside(readings, lookup),
    )


def _outside(readings: Sequence[Reading], lookup: Lookup) -> str:
    tank = lookup.fleet.tank_by_code.get(readings[0].subject)
    if tank is None or readings[0].quantity is not ReadingQuantity.WATER_TEMP:
        return ""
    band = lookup.band(tank)
    outside = sum(
        (band.watch_high_c is not None and row.value > band.watch_high_c)
        or (band.watch_low_c is not None and row.value < band.watch_low_c)
        for row in readings
    )
    return f"{count_words(outside, 'time')} outside the watch band" if outside else ""


@dataclass(frozen=True, slots=True)
class Shown:
    """How values of one quantity are shown to a client: unit, decimals, and the way there from the value on record."""

    unit: str
    decimals: int
    scale: float = 1.0
    offset: float = 0.0

    def value(self, value: float) -> float:
        return value * self.scale + self.offset

    def write(self, value: float) -> str:
        """A shown value with its unit."""
        return f"{value:z.{self.decimals}f} {self.unit}".rstrip()


def shown_as(quantity: ReadingQuantity, display: Display) -> Shown:
    """How the quantity is shown in the client's units."""
    if quantity in TEMPERATURES:
        return Shown("°F", 1, 1.8, 32.0) if display.us else Shown("°C", 1)
    if quantity is ReadingQuantity.PROBE_OFFSET:
        return difference_shown(display)
    if quantity is ReadingQuantity.FLOW:
        return Shown("gph", 0, 1000.0 / L_PER_US_GALLON) if display.us else Shown("m³/h", 1)
    if quantity is ReadingQuantity.TOPOFF_L_PER_DAY:
        return Shown("gal/day", 1, 1.0 / L_PER_US_GALLON) if display.us else Shown("L/day", 1)
    if quantity is ReadingQuantity.POWER:
        return Shown("W", 0)
    return Shown(UNITS.get(quantity, ""), 1 if quantity in TO_A_TENTH else 0)


def difference_shown(display: Display) -> Shown:
    """How differences of temperature are shown."""
    return Shown("°F", 1, 1.8) if display.us else Shown("K", 1)


def water_series(tank: str, readings: Sequence[Reading], lookup: Lookup) -> Series:
    """The water of a tank over the days, held against its watch band."""
    row = lookup.fleet.tank_by_code[tank]
    band, display = lookup.band(row), lookup.display(lookup.fleet.site_of(tank))
    shown = shown_as(ReadingQuantity.WATER_TEMP, display)
    ends = [
        f"{side} {display.temperature(limit)}"
        for side, limit in (("below", band.watch_low_c), ("above", band.watch_high_c))
        if limit is not None
    ]
    return Series(
        title=f"Water temperature of {lookup.label(tank)}",
        what="Water temperature",
        points=_points(readings, shown, lookup, tank),
        write=shown.write,
        unit=shown.unit,
        low=None if band.watch_low_c is None else shown.value(band.watch_low_c),
        high=None if band.watch_high_c is None else shown.value(band.watch_high_c),
        limit="watch",
        band=f"watch {' or '.join(ends)}" if ends else "",
    )


def series_of(subject: str, lookup: Lookup) -> tuple[Series, ...]:
    """Every quantity read on a subject, in the order of ReadingQuantity; where intake and exhaust air were read
    together, how much the air warms through the condenser comes first, held against the first such reading."""
    readings = lookup.fleet.readings_by_subject.get(subject, ())
    display = lookup.display(lookup.fleet.site_of(subject))
    rise = _air_rise(subject, readings, lookup, display)
    found = [] if rise is None else [rise]
    for quantity in ReadingQuantity:
        mine = [row for row in readings if row.quantity is quantity]
        if mine:
            shown = shown_as(quantity, display)
            what = capital(quantity_name(quantity))
            title = f"{what} of {lookup.label(subject)}"
            found.append(Series(title, what, _points(mine, shown, lookup, subject), shown.write, shown.unit))
    return tuple(found)


def _points(readings: Sequence[Reading], shown: Shown, lookup: Lookup, subject: str) -> tuple[tuple[date, float], ...]:
    zone = lookup.zone(lookup.fleet.site_of(subject))
    return tuple((row.taken_at.astimezone(zone).date(), shown.value(row.value)) for row in readings)


def _air_rise(subject: str, readings: Sequence[Reading], lookup: Lookup, display: Display) -> Series | None:
    intakes = [row for row in readings if row.quantity is ReadingQuantity.INTAKE_AIR_TEMP]
    zone, shown = lookup.zone(lookup.fleet.site_of(subject)), difference_shown(display)
    points = []
    for exhaust in readings:
        if exhaust.quantity is ReadingQuantity.EXHAUST_AIR_TEMP:
            near = [row for row in intakes if abs(row.taken_at - exhaust.taken_at) <= PAIRED_WITHIN]
            if near:
                day = exhaust.taken_at.astimezone(zone).date()
                points.append((day, shown.value(exhaust.value - near[-1].value)))
    if not points:
        return None
    allowed = points[0][1] + shown.value(RISE_ALLOWED_K)
    return Series(
        title=f"How much the air warms through the condenser of {lookup.label(subject)}",
        what="How much the air warms through the condenser",
        points=tuple(points),
        write=shown.write,
        unit=shown.unit,
        baseline=points[0][1],
        high=allowed,
        limit="due at",
        band=f"cleaning is due above {shown.write(allowed)}",
    )
