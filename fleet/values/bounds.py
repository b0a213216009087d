"""The lowest and highest value that a field of the register may hold.

Declared once: the import checks cells against them and the database carries them as CHECK constraints.
They keep out slips of the keyboard (a tank of 300 m, a lamp of −5 W); they are not judgements of the trade.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bound:
    """Closed range [low, high], in the unit of the field; `open_low` shuts out `low` itself."""

    low: float
    high: float
    open_low: bool = False

    def holds(self, value: float) -> bool:
        """False for NaN and for both infinities."""
        above = value > self.low if self.open_low else value >= self.low
        return above and value <= self.high


_AIR_C = Bound(-20.0, 60.0)
_WATER_C = Bound(0.0, 45.0)
_RISE_K = Bound(0.0, 40.0)
_LENGTH_M = Bound(0.0, 100.0, open_low=True)
_VOLUME_M3 = Bound(0.0, 50_000.0, open_low=True)
_POWER_W = Bound(0.0, 1_000_000.0)
_FLOW_M3_H = Bound(0.0, 1_000_000.0)
_LATITUDE = Bound(-90.0, 90.0)
_LONGITUDE = Bound(-180.0, 180.0)

BOUNDS: dict[str, dict[str, Bound]] = {
    "sites": {
        "latitude": _LATITUDE,
        "longitude": _LONGITUDE,
        "elevation_m": Bound(-430.0, 4500.0),
        "outdoor_design_peak_c": _AIR_C,
        "outdoor_daily_range_k": _RISE_K,
        "tariff_per_kwh": Bound(0.0, 1000.0),
    },
    "contacts": {"order": Bound(0, 99)},
    "rooms": {
        "hot_day_mean_c": _AIR_C,
        "hot_day_rise_k": _RISE_K,
        "relative_humidity": Bound(0.0, 1.0),
        "ac_off_mean_c": _AIR_C,
        "ac_off_rise_k": _RISE_K,
        "volume_m3": _VOLUME_M3,
        "ua_w_per_k": Bound(0.0, 1_000_000.0, open_low=True),
    },
    "tanks": {
        "length_m": _LENGTH_M,
        "width_m": _LENGTH_M,
        "height_m": _LENGTH_M,
        "target_c": _WATER_C,
        "wall_thickness_m": Bound(0.0, 3.0, open_low=True),
        "net_volume_m3": _VOLUME_M3,
        "sump_volume_m3": Bound(0.0, 50_000.0),
        "sump_area_m2": Bound(0.0, 10_000.0),
        "salinity_g_per_kg": Bound(0.0, 45.0),
        "stand_vent_flow_m3_h": _FLOW_M3_H,
        "watch_low_c": _WATER_C,
        "watch_high_c": _WATER_C,
        "act_low_c": _WATER_C,
        "act_high_c": _WATER_C,
        "wall_ua_w_per_k": Bound(0.0, 1_000_000.0, open_low=True),
    },
    "loads": {"power_w": _POWER_W, "hours_per_day": Bound(0.0, 24.0)},
    "animals": {"count": Bound(0, 10_000_000), "mass_kg": Bound(0.0, 1_000_000.0)},
    "devices": {
        "rated_cooling_w": Bound(0.0, 1_000_000.0, open_low=True),
        "rated_power_w": Bound(0.0, 1_000_000.0, open_low=True),
        "rated_horsepower_w": Bound(0.0, 1_000_000.0, open_low=True),
        "rated_volume_m3": _VOLUME_M3,
        "rated_pull_down_k": Bound(0.0, 40.0, open_low=True),
        "rated_water_temp_c": _WATER_C,
        "rated_air_temp_c": _AIR_C,
        "air_flow_m3_h": _FLOW_M3_H,
        "fan_diameter_m": Bound(0.0, 3.0, open_low=True),
        "charge_g": Bound(0.0, 1_000_000.0),
        "mass_kg": Bound(0.0, 100_000.0, open_low=True),
        "expected_life_years": Bound(0.0, 100.0, open_low=True),
    },
    "placements": {"clearance_m": Bound(0.0, 100.0)},
    "technicians": {
        "base_latitude": _LATITUDE,
        "base_longitude": _LONGITUDE,
        "lunch_minutes": Bound(0, 240),
    },
    "history": {"minutes": Bound(0, 10_000)},
}
"""Bounds by file and field; a field that is not listed has none of its own."""

READING_BOUNDS: dict[str, Bound] = {
    "water-temp": Bound(-2.0, 60.0),
    "room-temp": Bound(-30.0, 70.0),
    "intake-air-temp": Bound(-30.0, 90.0),
    "exhaust-air-temp": Bound(-30.0, 120.0),
    "water-in-temp": Bound(-2.0, 60.0),
    "water-out-temp": Bound(-2.0, 60.0),
    "flow": Bound(0.0, 1_000_000.0),
    "power": Bound(0.0, 1_000_000.0),
    "run-share-percent": Bound(0.0, 100.0),
    "running-hours": Bound(0.0, 1_000_000.0),
    "salinity": Bound(0.0, 60.0),
    "humidity-percent": Bound(0.0, 100.0),
    "topoff-l-per-day": Bound(0.0, 100_000.0),
    "copper-ug-per-l": Bound(0.0, 1_000_000.0),
    "oxygen-mg-per-l": Bound(0.0, 40.0),
    "rinse-ph": Bound(0.0, 14.0),
    "supply-ph": Bound(0.0, 14.0),
    "probe-offset": Bound(-20.0, 20.0),
    "trip-time-ms": Bound(0.0, 100_000.0),
    "alarm-minutes": Bound(0.0, 100_000.0),
}
"""Bounds of a reading by its quantity, in the unit of values.register.Reading."""
