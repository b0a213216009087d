"""How a reading, and the band that it is expected in, are written in a client's units."""

from __future__ import annotations

from collections.abc import Callable

from fleet.outputs.lookup import Lookup
from fleet.outputs.words import plain, short_day
from fleet.units import Display
from fleet.values.catalogue import ReadingSpec
from fleet.values.plan import Task
from fleet.values.register import Reading
from fleet.values.vocabulary import ReadingQuantity

TEMPERATURES = frozenset(quantity for quantity in ReadingQuantity if quantity.endswith("-temp"))
UNITS = {
    ReadingQuantity.RUN_SHARE_PERCENT: "%",
    ReadingQuantity.RUNNING_HOURS: "h",
    ReadingQuantity.SALINITY: "g/kg",
    ReadingQuantity.HUMIDITY_PERCENT: "%",
    ReadingQuantity.COPPER_UG_PER_L: "µg/L",
    ReadingQuantity.OXYGEN_MG_PER_L: "mg/L",
    ReadingQuantity.RINSE_PH: "",
    ReadingQuantity.SUPPLY_PH: "",
    ReadingQuantity.TRIP_TIME_MS: "ms",
    ReadingQuantity.ALARM_MINUTES: "min",
}
NAMES = {
    ReadingQuantity.RUN_SHARE_PERCENT: "run share",
    ReadingQuantity.HUMIDITY_PERCENT: "humidity",
    ReadingQuantity.TOPOFF_L_PER_DAY: "top-off",
    ReadingQuantity.COPPER_UG_PER_L: "copper",
    ReadingQuantity.OXYGEN_MG_PER_L: "oxygen",
    ReadingQuantity.RINSE_PH: "rinse pH",
    ReadingQuantity.SUPPLY_PH: "supply pH",
    ReadingQuantity.TRIP_TIME_MS: "trip time",
    ReadingQuantity.ALARM_MINUTES: "alarm answered in",
}
OF_WHAT = {
    "baseline": "its own clean baseline",
    "target": "the target",
    "room-temp": "the room air",
    "supply-ph": "the supply's pH",
}


def quantity_name(quantity: ReadingQuantity) -> str:
    """water temperature, run share, rinse pH."""
    return NAMES.get(quantity) or plain(quantity).replace(" temp", " temperature")


def value_words(reading: Reading, display: Display) -> str:
    """The value with its unit."""
    quantity, value = reading.quantity, reading.value
    if quantity in TEMPERATURES:
        return display.temperature(value)
    if quantity is ReadingQuantity.PROBE_OFFSET:
        return display.difference(value)
    if quantity is ReadingQuantity.FLOW:
        return display.water_flow(value)
    if quantity is ReadingQuantity.POWER:
        return display.power(value)
    if quantity is ReadingQuantity.TOPOFF_L_PER_DAY:
        return display.volume_per_day(value)
    return f"{value:g} {UNITS.get(quantity, '')}".rstrip()


def last_words(task: Task, spec: ReadingSpec, lookup: Lookup) -> str:
    """The last such reading with its day, where the register has a column for it."""
    if spec.quantity is None:
        return ""
    reading = lookup.reading_before(task, spec.quantity)
    if reading is None:
        return "none on record"
    day = reading.taken_at.astimezone(lookup.zone(task.site)).date()
    return f"{value_words(reading, lookup.display(task.site))}, {short_day(day)}"


def expected_words(task: Task, spec: ReadingSpec, lookup: Lookup) -> str:
    """The band that the reading is expected in. A band about the target is written as temperatures; the water of a
    tank without a band in the catalogue is held against the tank's own watch band."""
    display = lookup.display(task.site)
    tank = lookup.fleet.tank_by_code.get(task.tank or "")
    low, high = spec.low, spec.high
    if tank is not None and spec.relative_to == "target" and spec.unit in ("°C", "C", "K"):
        return _between(
            None if low is None else tank.target_c + low, None if high is None else tank.target_c + high,
            display.temperature,
        )  # fmt: skip
    if low is None and high is None:
        if tank is not None and spec.quantity is ReadingQuantity.WATER_TEMP:
            band = lookup.band(tank)
            words = _between(band.watch_low_c, band.watch_high_c, display.temperature)
            return f"target {display.temperature(tank.target_c)}" + (f", watch band {words}" if words else "")
        known = spec.quantity is not None and lookup.reading_before(task, spec.quantity) is not None
        return "compare with the last" if known else ""
    write = _writer(spec, display)
    if spec.relative_to is None:
        return _between(low, high, write)
    return _relative(low, high, write, spec)


def _writer(spec: ReadingSpec, display: Display) -> Callable[[float], str]:
    if spec.unit == "K" or (spec.relative_to is not None and spec.unit in ("°C", "C")):
        return display.difference
    if spec.unit in ("°C", "C"):
        return display.temperature
    if spec.unit == "W":
        return display.power
    if spec.unit in ("m3/h", "m³/h"):
        return display.water_flow
    unit = "" if spec.unit == "pH" else spec.unit
    return lambda value: f"{value:g} {unit}".rstrip()


def _between(low: float | None, high: float | None, write: Callable[[float], str]) -> str:
    if low is not None and high is not None:
        return f"±{write(high)}" if low == -high else f"{write(low)} to {write(high)}"
    if high is not None:
        return f"at most {write(high)}"
    return f"at least {write(low)}" if low is not None else ""


def _relative(low: float | None, high: float | None, write: Callable[[float], str], spec: ReadingSpec) -> str:
    of_what = OF_WHAT.get(spec.relative_to or "", plain(spec.relative_to or ""))
    if spec.unit == "%":
        return f"{_between(low, high, write)} of {of_what}"
    if low is not None and high is not None and low == -high:
        return f"within {write(high)} of {of_what}"
    if low is not None and high is not None:
        return f"{write(low)} to {write(high)} above {of_what}"
    return f"{_between(low, high, write)} above {of_what}"
