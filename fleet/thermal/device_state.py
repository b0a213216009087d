"""From the service record of a device to the state it is in: air flow through its screen, scale, measured output.

Policy (how dirt grows with time) and physics (what dirt does, in coolers.py) are kept apart. Everything here is policy
except two heat balances: of a measured output, and of the warming of the air through a condenser.

How a run share is used, and how not: the share of the time that a chiller runs is need over capacity, and a room that
is 1 K warmer moves the need of a usual tank by as much as half the air flow lost moves the capacity (some 8 %). Over
its own baseline it therefore tells nothing of the screen; together with logged temperatures it tells how much heat left
the water, and calibration.py takes it so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.thermal.properties import volumetric_heat_capacity
from fleet.thermal.ranges import AIRFLOW_FRACTION
from fleet.values.register import Device, Reading, ServiceRecord
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind, Finding, ReadingQuantity

DAYS_PER_MONTH = 30.4375
AIRFLOW_NEVER_CLEANED = Spread(0.5, 0.65, 0.8)
AIRFLOW_FAN_NEVER_CLEANED = Spread(0.8, 0.85, 0.9)
AIRFLOW_FLOOR = 0.3
AIRFLOW_LOSS_PER_MONTH = Spread(0.02, 0.04, 0.06)
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

AIR_RISE_DAYS = 90
BASELINE_DAYS = 7
LEAST_AIR_RISE_K = 3.0
AIR_RISE_OUTLET_ERROR = 0.10
"""Exhaust air is uneven over an outlet: two readings at one place of it agree to about this share, from memory."""
SCALE_SHARE = (0.5, 0.75, 1.0)
"""Share of the table's scale that is there: kindest, middle and safe side. Design tables are generous."""


def last_done(history: Iterable[ServiceRecord], tasks: Sequence[str], day: date) -> date | None:
    """The last day, up to `day`, on which one of these tasks was done (not merely left uninspected)."""
    days = [
        row.done_on
        for row in history
        if row.task in tasks and row.done_on <= day and row.finding is not Finding.NOT_INSPECTED
    ]
    return max(days, default=None)


def _cleaned_on(device: Device, history: Sequence[ServiceRecord], day: date) -> date | None:
    """The last day on which the screen was clean: a recorded cleaning, or the installation within half a year."""
    cleaned = last_done(history, CLEANING_TASKS[device.kind], day)
    if cleaned is None and device.installed is not None and timedelta(0) <= day - device.installed <= FRESH:
        return device.installed
    return cleaned


def _clogged(start: Spread, days: int, conditions: Sequence[str]) -> Spread:
    """Air flow that is left some days after it was `start`; the floor never lifts a start that lies below it."""
    dusty = 1.0 + DUSTIER_BY * sum(condition in DUSTY_CONDITIONS for condition in set(conditions))
    months = days / DAYS_PER_MONTH

    def left(flow: float, loss: float) -> float:
        return max(flow - loss * dusty * months, min(AIRFLOW_FLOOR, flow))

    loss = AIRFLOW_LOSS_PER_MONTH
    return Spread(left(start.low, loss.high), left(start.mid, loss.mid), left(start.high, loss.low))


def screen_airflow_spread(
    device: Device,
    history: Sequence[ServiceRecord],
    conditions: Sequence[str],
    day: date,
    readings: Sequence[Reading] = (),
) -> Spread:
    """Air flow over clean air flow, 0.2 to 1: low, middle and high estimate. [-]

    Policy: one when cleaned, then 6 % of it lost a month on the safe side (4 % in the middle, 2 % at best), half as
    fast again for each of dust, pets, carpet and salt, never below 0.3. Where no cleaning is on record it is 0.5, 0.65
    or 0.8 (0.8, 0.85 or 0.9 for a fan without a condenser behind it), unless the device was installed within half a
    year, which counts as a cleaning. Physics outranks it: where the air's own warming tells of the screen
    (`airflow_from_air_rise`), the policy goes on from that day. `readings` are those of the device, oldest first.
    """
    cleaned = _cleaned_on(device, history, day)
    told = airflow_from_air_rise(device, history, readings, day)
    if told is not None:
        return _clogged(told.airflow, (day - told.on).days, conditions)
    if cleaned is None:
        return AIRFLOW_FAN_NEVER_CLEANED if device.kind in FANS else AIRFLOW_NEVER_CLEANED
    return _clogged(Spread(1.0, 1.0, 1.0), (day - cleaned).days, conditions)


def screen_airflow(device: Device, history: Sequence[ServiceRecord], conditions: Sequence[str], day: date) -> float:
    """Air flow over clean air flow on the safe side, by the policy alone: low end of `screen_airflow_spread`. [-]"""
    return screen_airflow_spread(device, history, conditions, day).low


@dataclass(frozen=True, slots=True)
class ToldAirflow:
    """Air flow over clean air flow as the warming of the air told it on a day."""

    airflow: Spread
    on: date


def airflow_from_air_rise(
    device: Device, history: Sequence[ServiceRecord], readings: Sequence[Reading], day: date
) -> ToldAirflow | None:
    """Air flow from the warming of the air through a condenser over that of the same condenser when clean. [-]

    Physics: heat rejected = air flow x heat capacity of air x warming, so at the same rejected heat the air flow over
    clean is the clean warming over the warming. Limits: the rejected heat is taken as the same, which holds to 5 %
    between half and full air flow (less capacity and more power nearly cancel) and to 10 % over 10 K of room and 3 K of
    water; both readings of a pair, intake and exhaust, must be of one day; the baseline must be read within a week of
    the last recorded cleaning, the pair within 90 days of `day` and after it; nothing is told by a clean warming under
    3 K (then the thermometers' error is the result). Only machines that reject heat have it: a fan does not.
    """
    if device.kind in FANS or not readings:
        return None
    cleaned = last_done(history, CLEANING_TASKS[device.kind], day)
    if cleaned is None:
        return None
    rises = _air_rises(readings)
    clean = [(taken, rise) for taken, rise in rises if timedelta(0) <= taken - cleaned <= timedelta(BASELINE_DAYS)]
    later = [(taken, rise) for taken, rise in rises if cleaned + timedelta(BASELINE_DAYS) < taken <= day]
    if not clean or not later or (day - later[-1][0]).days > AIR_RISE_DAYS:
        return None
    baseline_k, (taken, rise_k) = clean[0][1], later[-1]
    if baseline_k < LEAST_AIR_RISE_K or rise_k < LEAST_AIR_RISE_K:
        return None
    errors = (THERMOMETER_ERROR_K / baseline_k, THERMOMETER_ERROR_K / rise_k, AIR_RISE_OUTLET_ERROR)
    error = sum(part**2 for part in errors) ** 0.5
    share = baseline_k / rise_k

    def kept(value: float) -> float:
        return min(max(value, AIRFLOW_FRACTION.low), AIRFLOW_FRACTION.high)

    return ToldAirflow(Spread(kept(share * (1.0 - error)), kept(share), kept(share * (1.0 + error))), taken)


def _air_rises(readings: Sequence[Reading]) -> list[tuple[date, float]]:
    """Warming of the air by day, oldest first, where both ends were read on that day."""
    by_day: dict[date, dict[ReadingQuantity, float]] = {}
    for row in readings:
        if row.quantity in (ReadingQuantity.INTAKE_AIR_TEMP, ReadingQuantity.EXHAUST_AIR_TEMP):
            by_day.setdefault(row.taken_at.date(), {})[row.quantity] = row.value
    return [
        (taken, ends[ReadingQuantity.EXHAUST_AIR_TEMP] - ends[ReadingQuantity.INTAKE_AIR_TEMP])
        for taken, ends in sorted(by_day.items())
        if len(ends) == 2
    ]


def cleaning_on_record(device: Device, history: Sequence[ServiceRecord], day: date) -> bool:
    """Whether `screen_airflow` rests on a recorded day rather than on the default."""
    return _cleaned_on(device, history, day) is not None


def fouling_resistance(
    device: Device, history: Sequence[ServiceRecord], conditions: Sequence[str], marine: bool, day: date
) -> float:
    """Resistance of the scale in the water side of a chiller on the safe side, 0 to 0.00053. [m2K/W]

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


def fouling_spread(
    device: Device, history: Sequence[ServiceRecord], conditions: Sequence[str], marine: bool, day: date
) -> Spread:
    """Resistance of the scale: half, three quarters and the whole of `fouling_resistance`. [m2K/W]"""
    full = fouling_resistance(device, history, conditions, marine, day)
    low, mid, high = (full * share for share in SCALE_SHARE)
    return Spread(low, mid, high)


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
