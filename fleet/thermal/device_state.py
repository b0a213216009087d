"""From the service record of a device to the state it is in: air flow through its screen, scale, measured output.

Policy (how dirt grows with time) and physics (what dirt does, in coolers.py) are kept apart. Everything here is policy
except the heat balance of a measured output.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.thermal.properties import volumetric_heat_capacity
from fleet.values.register import Device, Reading, ServiceRecord
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind, Finding, ReadingQuantity

DAYS_PER_MONTH = 30.4375
AIRFLOW_NEVER_CLEANED = 0.5
AIRFLOW_FAN_NEVER_CLEANED = 0.8
AIRFLOW_FLOOR = 0.3
AIRFLOW_LOSS_PER_MONTH = 0.06
DUSTY_CONDITIONS = ("dust", "pets", "carpet", "salt")
DUSTIER_BY = 0.5
"""Each dusty condition adds this share to the monthly loss."""
FRESH = timedelta(days=180)
"""A new device counts as cleaned on the day it was installed for so long."""
FANS = (DeviceKind.SURFACE_FAN, DeviceKind.STAND_FAN)
CLEANING_TASKS = {
    DeviceKind.CHILLER: ("clean-intake-screen", "clean-condenser-fins", "prepare-for-hot-season"),
    DeviceKind.THERMOELECTRIC: ("clean-heatsink", "prepare-for-hot-season"),
    DeviceKind.SURFACE_FAN: ("clean-surface-fan", "prepare-for-hot-season", "replace-fan"),
    DeviceKind.STAND_FAN: ("clean-stand-fan-filter", "prepare-for-hot-season", "replace-fan"),
}

FOULING_SEA, FOULING_CITY, FOULING_HARD = 8.8e-5, 1.76e-4, 5.28e-4
"""m2K/W in tubes, sea water, treated city water and hard water below 52 °C: TEMA-type table, second-hand."""
FOULING_MONTHS = 48.0
DESCALING_TASKS = ("descale-exchanger-inside",)

MEASURED_DAYS = 365
THERMOMETER_ERROR_K = 0.14
"""Of a difference of two readings good to 0.1 K each."""
LARGEST_MEASURED_ERROR = 0.5


def last_done(history: Iterable[ServiceRecord], tasks: Sequence[str], day: date) -> date | None:
    """The last day, up to `day`, on which one of these tasks was done (not merely left uninspected)."""
    days = [
        row.done_on
        for row in history
        if row.task in tasks and row.done_on <= day and row.finding is not Finding.NOT_INSPECTED
    ]
    return max(days, default=None)


def screen_airflow(device: Device, history: Sequence[ServiceRecord], conditions: Sequence[str], day: date) -> float:
    """Air flow over clean air flow, 0.3 to 1. [-]

    Policy: one when cleaned, then 6 % of it lost a month, half as fast again for each of dust, pets, carpet and salt,
    never below 0.3. Where no cleaning is on record it is 0.5 (0.8 for a fan without a condenser behind it), unless the
    device was installed within half a year, which counts as a cleaning.
    """
    cleaned = last_done(history, CLEANING_TASKS[device.kind], day)
    if cleaned is None and device.installed is not None and timedelta(0) <= day - device.installed <= FRESH:
        cleaned = device.installed
    if cleaned is None:
        return AIRFLOW_FAN_NEVER_CLEANED if device.kind in FANS else AIRFLOW_NEVER_CLEANED
    months = (day - cleaned).days / DAYS_PER_MONTH
    dusty = sum(condition in DUSTY_CONDITIONS for condition in set(conditions))
    return max(1.0 - AIRFLOW_LOSS_PER_MONTH * (1.0 + DUSTIER_BY * dusty) * months, AIRFLOW_FLOOR)


def cleaning_on_record(device: Device, history: Sequence[ServiceRecord], day: date) -> bool:
    """Whether `screen_airflow` rests on a recorded day rather than on the default."""
    if last_done(history, CLEANING_TASKS[device.kind], day) is not None:
        return True
    return device.installed is not None and timedelta(0) <= day - device.installed <= FRESH


def fouling_resistance(
    device: Device, history: Sequence[ServiceRecord], conditions: Sequence[str], marine: bool, day: date
) -> float:
    """Resistance of the scale in the water side of a chiller, 0 to 0.00053. [m2K/W]

    Policy: grows evenly for 48 months after a descaling (or installation) to the table value of sea water, hard water
    (condition hard-water) or city water, and stays there; the full value where neither day is on record.
    """
    full = FOULING_SEA if marine else FOULING_HARD if "hard-water" in conditions else FOULING_CITY
    begun = last_done(history, DESCALING_TASKS, day)
    if begun is None and device.installed is not None and device.installed <= day:
        begun = device.installed
    if begun is None:
        return full
    return full * min((day - begun).days / DAYS_PER_MONTH / FOULING_MONTHS, 1.0)


@dataclass(frozen=True, slots=True)
class MeasuredOutput:
    """Output found from water in, water out and flow, and the temperatures it was found at. W, °C."""

    watts: Spread
    on: date
    water_in_c: float
    intake_air_c: float | None


def measured_output(readings: Sequence[Reading], salinity_g_per_kg: float, day: date) -> MeasuredOutput | None:
    """The latest heat balance of a device's water, at most a year old; None where one of the three readings is missing.

    The three must be of one day. The spread is that of a difference read to 0.14 K, at most a half either way.
    `readings` are those of the device, oldest first.
    """
    by_day: dict[date, dict[ReadingQuantity, float]] = {}
    for row in readings:
        by_day.setdefault(row.taken_at.date(), {})[row.quantity] = row.value
    for taken, values in sorted(by_day.items(), reverse=True):
        if taken > day or (day - taken).days > MEASURED_DAYS:
            continue
        water_in, water_out = values.get(ReadingQuantity.WATER_IN_TEMP), values.get(ReadingQuantity.WATER_OUT_TEMP)
        flow = values.get(ReadingQuantity.FLOW)
        if water_in is None or water_out is None or flow is None or not 0.0 <= water_in <= 45.0:
            continue
        drop = water_in - water_out
        if drop <= 0.0 or flow <= 0.0:
            continue
        heat_capacity: float = volumetric_heat_capacity(water_in, salinity_g_per_kg)
        watts = heat_capacity * flow / 3600.0 * drop
        error = min(THERMOMETER_ERROR_K / drop, LARGEST_MEASURED_ERROR)
        spread = Spread(watts * (1.0 - error), watts, watts * (1.0 + error))
        return MeasuredOutput(spread, taken, water_in, values.get(ReadingQuantity.INTAKE_AIR_TEMP))
    return None
