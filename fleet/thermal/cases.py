"""The facts of many tanks as arrays, and the readings of them that a balance is made for.

A case is one reading of the facts: a side of the estimate and a scenario, and whatever hour or failure the caller
gives it. Arrays are [tank, case].
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.devices import FROM_OUTDOORS, FROM_STAND, DeviceArrays
from fleet.thermal.exchange import LID_U_VALUE, air_film, surface_films, wall_u_value
from fleet.thermal.properties import STANDARD_PRESSURE_PA, saturation_pressure, wet_bulb
from fleet.thermal.ranges import WATER_C, Array
from fleet.thermal.rooms import Rooms
from fleet.thermal.stand import (
    AIR_DENSITY,
    AIR_W_PER_K_PER_M3_H,
)
from fleet.thermal.tanks import OPEN_AIR_W_PER_K, BoolArray, IntArray, TankArrays

OUTSIDE_FILM_W_M2K = 8.0


@dataclass(frozen=True)
class Model:
    """The facts of some tanks with their rooms and devices, and what follows from them for each scenario and side.

    wall_ua, agitation and loss_scale, the factor on all that a tank exchanges with its surroundings by itself (one
    unless its own log says otherwise), are [tank, side, scenario]; pane_gain_w, the heat of vapour that condenses on
    cold panes, is [tank, scenario].
    """

    tanks: TankArrays
    rooms: Rooms
    devices: DeviceArrays
    wall_ua: Array
    agitation: Array
    pane_gain_w: Array
    loss_scale: Array
    calibrated: BoolArray
    """Tanks whose loss_scale and gains come from their own log."""
    log_notes: tuple[str | None, ...]
    """What each tank's log says of it, in a sentence; None without a log."""


def build_model(tanks: TankArrays, rooms: Rooms, devices: DeviceArrays) -> Model:
    """Walls and surface agitation of each side and scenario, from the design temperatures of the rooms."""
    room_c = rooms.mean_c[tanks.room]
    vapour = rooms.vapour_pa[tanks.room]
    target = tanks.target_c[:, None]
    u_value = wall_u_value.on_arrays(
        target + np.zeros_like(room_c),
        room_c,
        tanks.wall_height_m[:, None],
        tanks.wall_thickness_m[:, None],
        tanks.wall_conductivity[:, None],
    )
    given = tanks.wall_ua_given[:, None]
    ua = np.where(np.isnan(given), u_value * tanks.wall_m2[:, None], given)
    gaining = room_c > target
    scale = np.asarray(defaults.WALL_SPREAD)
    wall_ua = ua[:, None, :] * np.where(gaining[:, None, :], scale[::-1][None, :, None], scale[None, :, None])

    humidity = np.clip(vapour / saturation_pressure.on_arrays(room_c), 0.0, 1.0)
    below_wet_bulb = target < wet_bulb.on_arrays(room_c, humidity, tanks.pressure_pa[:, None])
    losing, warming = np.asarray(defaults.AGITATION), np.asarray(defaults.AGITATION_WHERE_IT_WARMS)
    agitation = np.where(below_wet_bulb[:, None, :], warming[None, :, None], losing[None, :, None])

    pane_c = room_c + (target - room_c) * np.clip(u_value / OUTSIDE_FILM_W_M2K, 0.0, 1.0)
    convective = air_film(
        (pane_c + room_c) / 2.0, room_c - pane_c, tanks.wall_height_m[:, None] + np.zeros_like(room_c)
    )
    _latent, gamma, _radiative = surface_films(
        np.clip(pane_c, WATER_C.low, WATER_C.high), room_c, vapour, vapour, 1.0, tanks.pressure_pa[:, None]
    )
    wetting_pa = np.maximum(vapour - saturation_pressure.on_arrays(pane_c), 0.0)
    pane_gain = convective / gamma * wetting_pa * tanks.wall_m2[:, None]
    return Model(
        tanks,
        rooms,
        devices,
        wall_ua,
        agitation,
        pane_gain,
        np.ones_like(wall_ua),
        np.zeros(len(tanks.codes), dtype=bool),
        (None,) * len(tanks.codes),
    )


def without_devices(model: Model) -> Model:
    """The model with nothing that cools. What ventilates a stand stays."""
    devices = model.devices
    bare: dict[str, Any] = {
        name: replace(rows, **{each.name: getattr(rows, each.name)[:0] for each in fields(rows)})
        for name, rows in (("machines", devices.machines), ("links", devices.links), ("fans", devices.fans))
    }
    return replace(model, devices=replace(devices, **bare))


@dataclass(frozen=True)
class Cases:
    """The facts of a model spread over cases; [tank, case] unless the name says otherwise.

    Surfaces and conductances of the water (`open_m2` to `sump_m2`) include the factor on a tank's losses.
    """

    model: Model
    side: IntArray
    scenario: IntArray
    open_m2: Array
    lid_ua: Array
    wall_ua: Array
    agitation: Array
    pane_gain_w: Array
    stand_side_ua: Array
    sump_m2: Array
    stand_w_per_k: Array
    stand_kg_s: Array
    heat_capacity_j_k: Array
    fans_count: Array
    fan_speed: Array
    fan_blown_m2: Array
    fan_opened_m2: Array

    @functools.cached_property
    def room_course(self) -> RoomCourse:
        """The rooms as each case's scenario has them."""
        rooms, tanks = self.model.rooms, self.model.tanks
        pressure = np.full(len(rooms.codes), STANDARD_PRESSURE_PA)
        pressure[tanks.room] = tanks.pressure_pa
        return RoomCourse(
            rooms.mean_c[:, self.scenario],
            rooms.half_range_k[:, self.scenario],
            rooms.peak_hour[:, self.scenario],
            rooms.vapour_pa[:, self.scenario],
            pressure[:, None],
        )

    @functools.cached_property
    def sumps(self) -> Sumps:
        """The tanks that have a sump."""
        some = np.flatnonzero(self.model.tanks.sump_m2 > 0.0)
        return Sumps(
            some,
            self.sump_m2[some],
            self.agitation[some],
            self.stand_kg_s[some],
            self.model.tanks.pressure_pa[some, None],
        )

    @functools.cached_property
    def machine_facts(self) -> MachineFacts:
        """The machines as each case's side of the estimate has them."""
        machines, side = self.model.devices.machines, self.side
        airflow = machines.airflow[:, side]
        screen = machines.screen_capacity[:, side]
        reference, reference_power = machines.reference_w[:, side], machines.reference_power_w[:, side]
        return MachineFacts(
            reference_w=reference,
            reference_power_w=reference_power,
            full_w=np.maximum(reference + reference_power, 1e-9),
            clean_share=screen * machines.scale_factor[:, side],
            screen_share=screen,
            power_share=machines.screen_power[:, side],
            airflow=airflow,
            root_airflow=np.sqrt(airflow),
            span_k=machines.span_k[:, side],
            from_outdoors=np.flatnonzero(machines.intake == FROM_OUTDOORS),
            from_stand=np.flatnonzero(machines.intake == FROM_STAND),
            thermoelectric=np.flatnonzero(~machines.is_chiller),
            sun_k=machines.sun_k[:, side],
            in_stand=np.flatnonzero(machines.heats_stand),
        )


@dataclass(frozen=True)
class RoomCourse:
    """Daily course of the air of rooms, as in rooms.Rooms, and their air pressure; [room, case] or [room, 1]."""

    mean_c: Array
    half_range_k: Array
    peak_hour: Array
    vapour_pa: Array
    pressure_pa: Array


@dataclass(frozen=True)
class Sumps:
    """Surfaces of the sumps, as in Cases; [sump, case], `tank` [sump]."""

    tank: IntArray
    m2: Array
    agitation: Array
    stand_kg_s: Array
    pressure_pa: Array


@dataclass(frozen=True)
class MachineFacts:
    """Ratings and state of machines [machine, case], as in devices.Machines, and which of them are of what kind.

    full_w: heat that the condenser gives off at the reference; clean_share: capacity over that when clean.
    """

    reference_w: Array
    reference_power_w: Array
    full_w: Array
    clean_share: Array
    screen_share: Array
    power_share: Array
    airflow: Array
    root_airflow: Array
    span_k: Array
    from_outdoors: IntArray
    from_stand: IntArray
    thermoelectric: IntArray
    sun_k: Array
    in_stand: IntArray


def spread_over_cases(model: Model, side: IntArray, scenario: IntArray) -> Cases:
    """One case for each pair of a side of the estimate and a scenario; both arrays [case]."""
    tanks, fans = model.tanks, model.devices.fans
    open_m2 = tanks.open_fraction[:, side] * tanks.surface_m2[:, None]
    flow = tanks.stand_flow_m3_h[:, side] + model.devices.stand_flow_m3_h[:, side]
    closed = tanks.stand_closed[:, None]
    exchange = flow * AIR_W_PER_K_PER_M3_H + tanks.stand_wall_ua[:, None]
    fan_surface = tanks.surface_m2[fans.tank][:, None]
    fan_open = tanks.fan_open_fraction[fans.tank][:, side]
    opened = np.maximum(fan_open * fan_surface - open_m2[fans.tank], 0.0) * fans.opens_share[:, None]
    scale = model.loss_scale[:, side, scenario]
    return Cases(
        model=model,
        side=side,
        scenario=scenario,
        open_m2=open_m2 * scale,
        lid_ua=(tanks.surface_m2[:, None] - open_m2) * LID_U_VALUE * scale,
        wall_ua=model.wall_ua[:, side, scenario] * scale,
        agitation=model.agitation[:, side, scenario],
        pane_gain_w=model.pane_gain_w[:, scenario] * scale,
        stand_side_ua=(tanks.bottom_ua + tanks.sump_wall_ua)[:, None] * scale,
        sump_m2=tanks.sump_m2[:, None] * scale,
        stand_w_per_k=np.where(closed, exchange, OPEN_AIR_W_PER_K),
        stand_kg_s=np.where(closed, flow * AIR_DENSITY / 3600.0, OPEN_AIR_W_PER_K),
        heat_capacity_j_k=tanks.heat_capacity_j_k[:, side],
        fans_count=model.rooms.fans_count[tanks.room][:, scenario],
        fan_speed=fans.speed_m_s[:, side],
        fan_blown_m2=np.minimum(fans.cover[:, None], fan_open) * fan_surface,
        fan_opened_m2=opened,
    )
