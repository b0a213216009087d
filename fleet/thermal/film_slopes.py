"""How the losses of a water answer to a warmer water and to warmer air when the films answer as well.

A surface that hardly rises over its air has films that grow steeply with every tenth of a kelvin: there the losses
change by twice what films that stay as they are would tell.
"""

from __future__ import annotations

import numpy as np

from fleet.thermal.balance import Air, Losses
from fleet.thermal.cases import Cases, Sumps
from fleet.thermal.exchange import FAN_LATENT, LID_U_VALUE, SECONDS_PER_HOUR, SHAH_ROOM_DRAUGHT, air_side, longwave_film
from fleet.thermal.properties import (
    DRY_AIR_GAS_CONSTANT,
    ZERO_C_IN_K,
    dry_air_density,
    latent_heat,
    saturation_slope,
)
from fleet.thermal.ranges import Array
from fleet.thermal.stand import LEAST_AIR_KG_S

SMOOTHED_OVER_K = 0.1
"""The cube root of Shah's buoyancy is infinitely steep where a surface begins to rise; its slope is read so much on."""


def film_growth(
    air_density: Array,
    air_c: Array,
    water_c: Array,
    water_pa: Array,
    latent: Array,
    agitation: Array,
    pressure_pa: Array,
) -> tuple[Array, Array]:
    """Growth of a surface's latent coefficient over itself, with the water and with the air. [1/K]

    air_density: of its dry part [kg/m3]; latent: that coefficient [W/(m2 Pa)]. None where Shah's floor for room
    draughts holds. The change of the latent heat, 0.1 %/K, is left out.
    """
    kelvin = water_c + ZERO_C_IN_K
    density = pressure_pa - water_pa
    density /= DRY_AIR_GAS_CONSTANT * kelvin
    rises = saturation_slope(water_c, water_pa)
    rises /= DRY_AIR_GAS_CONSTANT
    rises += density
    rises /= kelvin
    lift = air_density - density
    lift += SMOOTHED_OVER_K * rises
    floor = (1.0 + 1e-9) * SHAH_ROOM_DRAUGHT / SECONDS_PER_HOUR * agitation * latent_heat.on_arrays(water_c)
    above_floor = latent > floor
    third = above_floor / np.maximum(3.0 * lift, 1e-9)
    with_water = third * rises
    with_water -= above_floor / kelvin
    third *= air_density
    third /= -(air_c + ZERO_C_IN_K)
    return with_water, third


def stand_vapour_follows(sumps: Sumps, vapour_kg_s_m2_pa: Array) -> Array:
    """By how much of a rise of the sump's vapour pressure that of the stand's air rises, once mixed. [-]"""
    pull = sumps.m2 * vapour_kg_s_m2_pa
    found: Array = pull / (np.maximum(sumps.stand_kg_s, LEAST_AIR_KG_S) * 0.622 / sumps.pressure_pa + pull)
    return found


def further_slopes(
    cases: Cases,
    water_c: Array,
    air: Air,
    stand_c: Array,
    stand_vapour_pa: Array,
    leaving: Losses,
) -> tuple[Array, Array, Array]:
    """Of the losses `leaving` at this state, [tank, case]: what their slope against the water lacks [W/K], how they
    fall with warmer air of the rooms, which is that of open stands too [W/K], and the whole slope of the open surface
    against the water [W/(m2 K)].

    The vapour in closed stands follows the water of the sump; that of rooms stays.
    """
    open_stand, pressure = ~cases.model.tanks.stand_closed, cases.model.tanks.pressure_pa[:, None]
    side = air_side(air.room_c, air.vapour_pa, pressure) if air.side is None else air.side
    over = water_c - air.room_c
    longwave, latent = leaving.longwave_w_m2_k, leaving.latent_w_m2_pa
    growth, growth_in_air = film_growth(
        side.density, side.air_c, water_c, leaving.vapour_pa, latent, cases.agitation, pressure
    )
    steeper = over * longwave
    by_film = leaving.open_w_m2 - steeper
    steeper *= 3.0 / (water_c + air.room_c + 2.0 * ZERO_C_IN_K)
    more = growth * by_film
    more += steeper
    surface = saturation_slope(water_c, leaving.vapour_pa)
    surface += leaving.gamma
    surface *= latent
    surface += longwave
    surface += more
    more *= cases.open_m2
    growth_in_air *= by_film
    kept = latent * leaving.gamma
    kept += longwave
    kept -= growth_in_air
    kept -= steeper
    kept *= cases.open_m2
    kept += cases.wall_ua
    kept += cases.lid_ua
    some = cases.sumps.tank
    opened = open_stand[:, None] * leaving.stand_w_per_k
    if some.size:
        sumps, water, stand, water_pa = cases.sumps, water_c[some], stand_c[some], leaving.vapour_pa[some]
        latent, dry, vapour_pa = leaving.sump_latent_w_m2_pa, leaving.sump_dry_w_m2_k, stand_vapour_pa[some]
        density = dry_air_density.on_arrays(stand, vapour_pa, sumps.pressure_pa)
        growth, growth_in_air = film_growth(density, stand, water, water_pa, latent, sumps.agitation, sumps.pressure_pa)
        over = water - stand
        steeper = longwave_film(water, stand)
        by_dry_film, by_film = (dry - steeper) * over, latent * (water_pa - vapour_pa)
        steeper *= 3.0 * over / (water + stand + 2.0 * ZERO_C_IN_K)
        opened[some] -= open_stand[some, None] * sumps.m2 * (growth_in_air * (by_film + by_dry_film) + steeper)
        follows = stand_vapour_follows(sumps, latent / latent_heat.on_arrays(water))
        by_film *= 1.0 - follows
        more[some] += sumps.m2 * (growth * (by_film + by_dry_film) + steeper)
        more[some] -= sumps.m2 * follows * latent * saturation_slope(water, water_pa)
    kept += opened
    return more, kept, surface


def fan_slope(cases: Cases, water_c: Array, leaving: Losses, surface_slope: Array) -> Array:
    """Slope of what each surface fan takes from the water against the water's temperature; [fan, case] in W/K.

    surface_slope: that of the open surface, from `further_slopes`.
    """
    tank = cases.model.devices.fans.tank
    blown = cases.fan_blown_m2 * FAN_LATENT * cases.fan_speed
    found = saturation_slope(water_c[tank], leaving.vapour_pa[tank])
    found += leaving.gamma[tank]
    found *= blown
    found += cases.fan_opened_m2 * (surface_slope[tank] - LID_U_VALUE)
    found *= cases.fans_count[tank]
    return found
