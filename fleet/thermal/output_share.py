"""What cooling devices delivered, day by day, over what they deliver when clean, under like conditions.

A heat balance of the water tells what a device takes out; how much that should be depends on the water and on the air
it draws. Each output is therefore divided by the capacity that the device's curve gives for its own water and air, and
then by the same quotient of the clean device. Heat capacity and calibration of the thermometer cancel; what remains is
how well readings are repeated.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.thermal import defaults
from fleet.thermal.coolers import chiller_capacity_factor, thermoelectric_capacity
from fleet.thermal.device_state import CLEANING_TASKS, DESCALING_TASKS
from fleet.thermal.plates import BARE_VOLUME_BASIS, device_plate
from fleet.thermal.properties import volumetric_heat_capacity
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C
from fleet.values.assessment import OutputShare
from fleet.values.fleet import Fleet
from fleet.values.register import ALWAYS, Device, Reading, ServiceRecord
from fleet.values.vocabulary import DeviceKind, Finding, ReadingQuantity, TankKind

REPEATED_K = 0.03
"""One standard deviation of the difference of two temperatures, both read three times with one thermometer that shows
0.1 K: 0.1 / sqrt(12) x sqrt(2) / sqrt(3) is 0.024 K."""
REPEATED_FLOW = 0.03
"""The same of a flow timed three times with bucket and stopwatch, as a share of it: from memory."""
CLEAN_FOR_DAYS = 14
"""So long after a cleaning, an installation or a move an output counts as that of the clean device."""
NEW_BASELINE_TASKS = ("recommission-after-move",)
"""From the day of this work on a device is another one: what it delivered before is no measure of it."""
SEA_G_PER_KG = 35.0
SALTY = (TankKind.TROPICAL_MARINE, TankKind.REEF, TankKind.COLD_MARINE)
MACHINES = (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)


@dataclass(frozen=True, slots=True)
class _Output:
    """A heat balance. `at_reference_w` is what the device would have delivered at 25 °C water and 30 °C air in the
    state it was in; `error` one standard deviation as a share, from repeating."""

    on: date
    watts: float
    at_reference_w: float
    error: float


def output_shares(fleet: Fleet) -> tuple[OutputShare, ...]:
    """Every output up to the fleet's day that can be told as a share of the clean device's, by device and day.

    Needed of one day: water in, water out, flow, and intake air (else the air of its room). The measure is the first
    output within 14 days after a recorded cleaning, the installation or the last move; without one the plate, where it
    states watts or Btu/h. Outputs outside the range of the curve, and devices without a measure, are left out.
    """
    return tuple(share for device in fleet.devices if device.kind in MACHINES for share in _shares_of(device, fleet))


def _shares_of(device: Device, fleet: Fleet) -> Iterable[OutputShare]:
    readings = fleet.readings_by_subject.get(device.code, ())
    room = fleet.room_of(device.code)
    of_room = fleet.readings_by_subject.get(room, ()) if room is not None else ()
    outputs = _outputs(device, readings, of_room, _salinity(device, fleet), fleet.day)
    history = fleet.history_by_subject.get(device.code, ())
    begun = max(_days_of(history, NEW_BASELINE_TASKS, fleet.day), default=ALWAYS)
    outputs = [one for one in outputs if one.on >= begun]
    if not outputs:
        return
    clean = _clean_output(outputs, _clean_days(device, history, fleet.day))
    if clean is not None:
        measure_w, error, basis = clean.at_reference_w, clean.error, f"the clean unit on {clean.on.isoformat()}"
    else:
        plate, basis = device_plate(device)
        if device.rated_cooling_w is None or plate is None or basis == BARE_VOLUME_BASIS:
            return
        measure_w, error = plate.mid, 0.0
    for one in outputs:
        share = one.at_reference_w / measure_w
        yield OutputShare(device.code, one.on, one.watts, share, share * one.error, share * error, basis)


def _outputs(
    device: Device, readings: Sequence[Reading], of_room: Sequence[Reading], salinity_g_per_kg: float, day: date
) -> list[_Output]:
    """Every whole heat balance inside the range of the device's curve, oldest first."""
    room_air = {row.taken_at.date(): row.value for row in of_room if row.quantity is ReadingQuantity.ROOM_TEMP}
    by_day: dict[date, dict[ReadingQuantity, float]] = defaultdict(dict)
    for row in readings:
        by_day[row.taken_at.date()][row.quantity] = row.value
    found = (
        _output(device, taken, values, room_air.get(taken), salinity_g_per_kg)
        for taken, values in sorted(by_day.items())
        if taken <= day
    )
    return [one for one in found if one is not None]


def _output(
    device: Device,
    on: date,
    values: Mapping[ReadingQuantity, float],
    room_air_c: float | None,
    salinity_g_per_kg: float,
) -> _Output | None:
    water_in, water_out = values.get(ReadingQuantity.WATER_IN_TEMP), values.get(ReadingQuantity.WATER_OUT_TEMP)
    flow = values.get(ReadingQuantity.FLOW)
    air = values.get(ReadingQuantity.INTAKE_AIR_TEMP, values.get(ReadingQuantity.ROOM_TEMP, room_air_c))
    if water_in is None or water_out is None or flow is None or air is None:
        return None
    drop = water_in - water_out
    inside = CHILLER_WATER_C.low <= water_in <= CHILLER_WATER_C.high
    if drop <= 0.0 or flow <= 0.0 or not (inside and CONDENSER_INLET_C.low <= air <= CONDENSER_INLET_C.high):
        return None
    heat_capacity: float = volumetric_heat_capacity(water_in, salinity_g_per_kg)
    watts = heat_capacity * flow / 3600.0 * drop
    factor = _capacity_factor(device.kind, water_in, air)
    if factor <= 0.0:
        return None
    return _Output(on, watts, watts / factor, math.hypot(REPEATED_K / drop, REPEATED_FLOW))


def _capacity_factor(kind: DeviceKind, water_c: float, air_c: float) -> float:
    if kind is DeviceKind.CHILLER:
        return float(chiller_capacity_factor(water_c, air_c))
    span = defaults.THERMOELECTRIC_SPAN_K[1]
    at_reference = float(thermoelectric_capacity(1.0, span, 25.0, 30.0))  # type: ignore[arg-type]
    return float(thermoelectric_capacity(1.0, span, water_c, air_c)) / at_reference  # type: ignore[arg-type]


def _clean_days(device: Device, history: Sequence[ServiceRecord], day: date) -> list[date]:
    days = _days_of(history, (*CLEANING_TASKS[device.kind], *DESCALING_TASKS, *NEW_BASELINE_TASKS), day)
    return days if device.installed is None else [*days, device.installed]


def _clean_output(outputs: Sequence[_Output], clean_days: Sequence[date]) -> _Output | None:
    def is_clean(one: _Output) -> bool:
        return any(0 <= (one.on - cleaned).days <= CLEAN_FOR_DAYS for cleaned in clean_days)

    return next((one for one in outputs if is_clean(one)), None)


def _days_of(history: Iterable[ServiceRecord], tasks: Sequence[str], day: date) -> list[date]:
    return [
        row.done_on
        for row in history
        if row.task in tasks and row.done_on <= day and row.finding is not Finding.NOT_INSPECTED
    ]


def _salinity(device: Device, fleet: Fleet) -> float:
    """Salt in the water of the first tank it serves, g/kg: as recorded, else that of sea water for a marine tank."""
    for code in fleet.tanks_of(device.code):
        tank = fleet.tank_by_code.get(code)
        if tank is not None:
            recorded = tank.salinity_g_per_kg
            return recorded if recorded is not None else SEA_G_PER_KG if tank.kind in SALTY else 0.0
    return 0.0
