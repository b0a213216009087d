"""What the plate of a device on record says of its cooling."""

from __future__ import annotations

from fleet.thermal.coolers import (
    BTU_PER_H,
    BTU_PER_HOUR_W,
    HORSEPOWER,
    PULL_DOWN_K,
    REFERENCE_AIR_C,
    REFERENCE_WATER_C,
    VOLUME,
    VOLUME_PULL_DOWN,
    WATTS,
    chiller_capacity_factor,
    plate_to_watts,
)
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C
from fleet.values.register import Device
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind

BARE_VOLUME_BASIS = "bare volume on the plate, unverified"


def device_plate(device: Device) -> tuple[Spread | None, str]:
    """Cooling of a device at 25 °C water and 30 °C air by the best figure on its plate, and which figure that was.

    The order is watts or Btu/h, motor size, volume with a pull-down, bare volume. None where nothing usable is printed.
    Where the plate states the water and air that a cooling figure holds for, it is carried to the reference.
    """
    if device.rated_cooling_w is not None:
        at_reference = device.rated_cooling_w / _printed_condition_factor(device)
        if device.plate is not None and "btu" in device.plate.lower():
            return plate_to_watts(BTU_PER_H, at_reference / BTU_PER_HOUR_W), "Btu/h on the plate"
        return plate_to_watts(WATTS, at_reference), "watts of cooling on the plate"
    if device.rated_horsepower_w is not None:
        return plate_to_watts(HORSEPOWER, device.rated_horsepower_w), "motor size on the plate"
    if device.rated_volume_m3 is not None:
        if device.rated_pull_down_k is not None and PULL_DOWN_K.low <= device.rated_pull_down_k <= PULL_DOWN_K.high:
            spread = plate_to_watts(VOLUME_PULL_DOWN, device.rated_volume_m3, device.rated_pull_down_k)
            return spread, "volume and pull-down on the plate"
        return plate_to_watts(VOLUME, device.rated_volume_m3), BARE_VOLUME_BASIS
    return None, "nothing usable on the plate"


def _printed_condition_factor(device: Device) -> float:
    """Capacity factor at the printed water and air temperatures of a chiller; one where they are not printed."""
    water_c, air_c = device.rated_water_temp_c, device.rated_air_temp_c
    if device.kind is not DeviceKind.CHILLER or (water_c is None and air_c is None):
        return 1.0
    water_c = REFERENCE_WATER_C if water_c is None else water_c
    air_c = REFERENCE_AIR_C if air_c is None else air_c
    inside_water = CHILLER_WATER_C.low <= water_c <= CHILLER_WATER_C.high
    if not (inside_water and CONDENSER_INLET_C.low <= air_c <= CONDENSER_INLET_C.high):
        return 1.0
    factor: float = chiller_capacity_factor(water_c, air_c)
    return max(factor, 0.1)
