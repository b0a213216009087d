"""What a chiller cools at the reference, clean: as its plate says or, better, as was measured on it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleet.thermal.coolers import (
    REFERENCE_AIR_C,
    chiller_capacity_factor,
    fouling_capacity_factor,
    screen_capacity_factor,
)
from fleet.thermal.device_state import (
    CLEANING_TASKS,
    DESCALING_TASKS,
    MeasuredOutput,
    fouling_spread,
    last_done,
    measured_output,
    screen_airflow_spread,
)
from fleet.thermal.plates import BARE_VOLUME_BASIS
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C
from fleet.values.register import Device, Reading, ServiceRecord
from fleet.values.spread import Spread

BELIEVED_OVER_PLATE = 1.25
"""A measured output further above the high end of the plate is taken for a slip with flow or thermometer: policy."""


def rated_or_measured(
    plate: Spread | None,
    basis: str,
    device: Device,
    history: Sequence[ServiceRecord],
    readings: Sequence[Reading],
    conditions: Sequence[str],
    salty: bool,
    day: date,
) -> tuple[Spread | None, str, tuple[str, ...]]:
    """Cooling at 25 °C water and 30 °C air [W], what it rests on, and notes for people.

    A measured output outranks the plate, unless it is so far above it that it must be a slip.
    """
    measured = measured_output(readings, 35.0 if salty else 0.0, day)
    if measured is None:
        return plate, basis, ()
    airflow_then = screen_airflow_spread(device, history, conditions, measured.on, readings)
    fouling_then = fouling_spread(device, history, conditions, salty, measured.on)
    serviced = last_done(history, (*CLEANING_TASKS[device.kind], *DESCALING_TASKS), day)
    found = _at_reference(measured, airflow_then, fouling_then, serviced is not None and serviced > measured.on)
    if found is None:
        return plate, basis, ()
    if _beyond_plate(found, plate, basis):
        slip = (
            f"The output measured on {measured.on.isoformat()} is far above what its plate allows "
            f"({found.mid:.0f} W when clean): not counted; measure again."
        )
        return plate, basis, (slip,)
    return found, f"output measured on {measured.on.isoformat()}", ()


def _beyond_plate(found: Spread, plate: Spread | None, basis: str) -> bool:
    return plate is not None and basis != BARE_VOLUME_BASIS and found.low > BELIEVED_OVER_PLATE * plate.high


def _at_reference(measured: MeasuredOutput, airflow: Spread, fouling: Spread, serviced_since: bool) -> Spread | None:
    """A measured output carried to clean condition at 25 °C water and 30 °C air, given the dirt of that day.

    Dirt that is still there cancels, each side with itself; where it was taken off since, the low end takes the least
    dirt of that day, which makes the clean device smallest. None where it was measured outside the range of the curve.
    Unknown intake air is taken as the reference.
    """
    water_c = measured.water_in_c
    air_c = REFERENCE_AIR_C if measured.intake_air_c is None else measured.intake_air_c
    water_inside = CHILLER_WATER_C.low <= water_c <= CHILLER_WATER_C.high
    if not (water_inside and CONDENSER_INLET_C.low <= air_c <= CONDENSER_INLET_C.high):
        return None
    curve: float = chiller_capacity_factor(water_c, air_c)
    flows = (airflow.low, airflow.mid, airflow.high)
    scales = (fouling.high, fouling.mid, fouling.low)
    if serviced_since:
        flows, scales = flows[::-1], scales[::-1]
    printed = (measured.watts.low, measured.watts.mid, measured.watts.high)
    watts = [
        watt / (curve * float(screen_capacity_factor(flow)) * float(fouling_capacity_factor(scale)))
        for watt, flow, scale in zip(printed, flows, scales, strict=True)
    ]
    return Spread(*sorted(watts))
