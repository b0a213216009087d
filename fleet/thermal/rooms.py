"""The air of the rooms over a day: on the design hot day, and with the air conditioning failed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.exchange import surface_films
from fleet.thermal.properties import latent_heat, pressure_at, saturation_pressure
from fleet.thermal.ranges import AIR_C, Array
from fleet.thermal.stand import AIR_DENSITY, mixed_vapour
from fleet.thermal.tanks import MID, TankArrays
from fleet.values.fleet import Fleet
from fleet.values.register import Room, Site
from fleet.values.vocabulary import Scenario

PEAK_HOUR = 15.0
SCENARIOS = (Scenario.HOT_DAY, Scenario.AC_OFF)
HOT, AC_OFF = 0, 1


@dataclass(frozen=True)
class Rooms:
    """Daily course of the air in each room: mean + half_range · cos of the time since the peak hour.

    Arrays [room, scenario] in the order of SCENARIOS; vapour pressures in Pa, held over the day. `outdoor_*` are those
    of each room's site, with the sun that falls on a unit left out. `fans_count` tells whether evaporation by fans may
    be relied on.
    """

    codes: tuple[str, ...]
    mean_c: Array
    half_range_k: Array
    peak_hour: Array
    vapour_pa: Array
    fans_count: Array
    outdoor_mean_c: Array
    outdoor_half_range_k: Array
    outdoor_known: tuple[bool, ...]
    air_conditioned: tuple[bool, ...]
    assumed: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    notes: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]

    def outdoor_c(self, hour: Array) -> Array:
        """Outdoor air of each room's site; [room, case]."""
        phase = 2.0 * np.pi * (hour[None, :] - PEAK_HOUR) / 24.0
        course = self.outdoor_mean_c[:, None] + self.outdoor_half_range_k[:, None] * np.cos(phase)
        return np.clip(course, AIR_C.low, AIR_C.high)


@dataclass(frozen=True)
class _AcOff:
    mean_c: float
    half_range_k: float
    peak_hour: float
    assumed: tuple[str, ...]
    notes: tuple[str, ...]


def outdoors(site: Site) -> tuple[float, float, bool]:
    """Mean and half range of the outdoor design day [°C, K], and whether the site states its peak."""
    peak = defaults.OUTDOOR_PEAK_C if site.outdoor_design_peak_c is None else site.outdoor_design_peak_c
    span = defaults.OUTDOOR_RANGE_K if site.outdoor_daily_range_k is None else site.outdoor_daily_range_k
    return peak - span / 2.0, span / 2.0, site.outdoor_design_peak_c is not None


def room_conductance(room: Room) -> tuple[float, str | None]:
    """Heat that a room loses to the outdoors [W/K], and the phrase of the default, if one was taken."""
    if room.ua_w_per_k is not None:
        return room.ua_w_per_k, None
    ua = defaults.ROOM_UA_W_PER_K if room.volume_m3 is None else defaults.ROOM_UA_PER_M3 * room.volume_m3
    return ua, f"room's heat loss: {ua:.0f} W/K"


def _with_ac_off(room: Room, site: Site, heat_w: float, hot_rise_k: float) -> _AcOff:
    """The room's course with the A/C failed: what is stated, what the outdoors and the heat in it make of it, and the
    hot day itself, whichever is warmest."""
    assumed: list[str] = []
    notes: list[str] = []
    outdoor_mean, outdoor_half_range, known = outdoors(site)
    conductance, phrase = room_conductance(room)
    warmed = outdoor_mean + (heat_w + defaults.OCCUPANTS_W) / conductance
    if room.ac_off_mean_c is not None:
        rise = room.ac_off_rise_k
        if rise is None:
            rise = max(defaults.AC_OFF_RISE_K, hot_rise_k)
            assumed.append(f"room's rise with the A/C off: {rise:g} K")
        mean, peak_hour = room.ac_off_mean_c, PEAK_HOUR
        lowest = warmed if room.ua_w_per_k is not None else outdoor_mean
        if known and mean < lowest - 0.05:
            notes.append(
                f"The stated room temperature with the A/C off ({mean:.1f} °C) lies below what the outdoors and the "
                f"heat in the room make of it ({lowest:.1f} °C); the warmer is used."
            )
            mean = lowest
    else:
        mean, rise, peak_hour = warmed, outdoor_half_range, PEAK_HOUR + defaults.ROOM_LAG_H
        assumed.append("people in the room: 100 W")
        if phrase is not None:
            assumed.append(phrase)
        if not known:
            assumed.append("outdoor design day: peak 35 °C")
        if site.outdoor_daily_range_k is None:
            assumed.append("outdoor daily range: 10 K")
    if mean < room.hot_day_mean_c:
        mean = room.hot_day_mean_c
    return _AcOff(mean, max(rise, hot_rise_k), peak_hour, tuple(assumed), tuple(notes))


def gather_rooms(fleet: Fleet, codes: Sequence[str], tanks: TankArrays, device_power_w: Array) -> Rooms:
    """The rooms of these codes; `device_power_w` is the electric power of the cooling devices that heat each room."""
    rooms = [fleet.room_by_code[code] for code in codes]
    count = len(rooms)
    heat_w = np.bincount(tanks.room, weights=tanks.electric_mean_w, minlength=count) + device_power_w
    mean, half, peak_hour, vapour = (np.zeros((count, 2)) for _ in range(4))
    fans_count = np.ones((count, 2))
    outdoor_mean, outdoor_half = np.zeros(count), np.zeros(count)
    known: list[bool] = []
    conditioned: list[bool] = []
    assumed: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    notes: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    for i, room in enumerate(rooms):
        site = fleet.site_by_code[room.site]
        common: list[str] = []
        rise = room.hot_day_rise_k
        if rise is None:
            rise = defaults.HOT_DAY_RISE_K
            common.append(f"room's rise on the hot day: {rise:g} K")
        humidity = room.relative_humidity
        if humidity is None:
            humidity = defaults.RELATIVE_HUMIDITY
            common.append("relative humidity: 65 %")
        if room.air_conditioned is None:
            common.append("room: air-conditioned")
        if site.elevation_m is None:
            common.append("elevation: sea level")
        conditioned.append(room.air_conditioned is not False)
        if conditioned[-1]:
            failed = _with_ac_off(room, site, float(heat_w[i]), rise)
        else:
            failed = _AcOff(room.hot_day_mean_c, rise, PEAK_HOUR, (), ())
        mean[i] = room.hot_day_mean_c, failed.mean_c
        half[i] = rise, failed.half_range_k
        peak_hour[i] = PEAK_HOUR, failed.peak_hour
        saturated: float = saturation_pressure(room.hot_day_mean_c)
        vapour[i] = humidity * saturated
        with_ac_off = list(failed.assumed)
        if conditioned[-1] and room.volume_m3 is None:
            warm: float = saturation_pressure(min(failed.mean_c, AIR_C.high))
            vapour[i, AC_OFF] = humidity * warm
            fans_count[i, AC_OFF] = 0.0
            with_ac_off.append("room volume unknown: humidity kept as a share, surface fans count as nothing")
        outdoor_mean[i], outdoor_half[i], is_known = outdoors(site)
        known.append(is_known)
        assumed.append((tuple(common), (*common, *with_ac_off)))
        notes.append(((), failed.notes))
    mean = np.minimum(mean, AIR_C.high)
    volumes = np.array([np.nan if room.volume_m3 is None else room.volume_m3 for room in rooms])
    closed_up = np.isfinite(volumes) & np.array(conditioned, dtype=bool)
    if closed_up.any():
        pressure = pressure_at(np.array([fleet.site_by_code[room.site].elevation_m or 0.0 for room in rooms]))
        moist = room_vapour(tanks, mean[:, AC_OFF], vapour[:, HOT], np.where(closed_up, volumes, 1.0), pressure)
        vapour[:, AC_OFF] = np.where(closed_up, moist, vapour[:, AC_OFF])
    return Rooms(
        codes=tuple(codes),
        mean_c=mean,
        half_range_k=half,
        peak_hour=peak_hour,
        vapour_pa=vapour,
        fans_count=fans_count,
        outdoor_mean_c=outdoor_mean,
        outdoor_half_range_k=outdoor_half,
        outdoor_known=tuple(known),
        air_conditioned=tuple(conditioned),
        assumed=tuple(assumed),
        notes=tuple(notes),
    )


def room_vapour(tanks: TankArrays, room_c: Array, supply_pa: Array, volume_m3: Array, pressure_pa: Array) -> Array:
    """Vapour pressure of each room when its tanks evaporate into it and only leakage carries the moisture away. [Pa]

    0.3 air changes an hour bring in air of the vapour pressure that the room had; the tanks stand at their targets.
    At most saturation. Arrays over rooms.
    """
    air_kg_s = AIR_DENSITY * defaults.AIR_CHANGES_PER_HOUR * volume_m3 / 3600.0
    saturated = saturation_pressure.on_arrays(room_c)
    water_pa = tanks.activity * saturation_pressure.on_arrays(tanks.target_c)
    wet_m2 = tanks.surface_m2 * tanks.open_fraction[:, MID] + tanks.sump_m2
    vapour = supply_pa
    for _ in range(8):
        latent, _gamma, _radiative = surface_films(
            tanks.target_c, room_c[tanks.room], water_pa, vapour[tanks.room], 1.0, tanks.pressure_pa
        )
        conductance = wet_m2 * latent / latent_heat.on_arrays(tanks.target_c)
        total = np.bincount(tanks.room, weights=conductance, minlength=len(room_c)).astype(float)
        mixed_water = np.bincount(tanks.room, weights=conductance * water_pa, minlength=len(room_c))
        mean_water_pa = mixed_water / np.maximum(total, 1e-30)
        balanced = mixed_vapour(supply_pa, mean_water_pa, air_kg_s, total, pressure_pa)
        vapour = 0.5 * vapour + 0.5 * np.minimum(balanced, saturated)
    return np.minimum(vapour, saturated)
