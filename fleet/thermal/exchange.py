"""Heat and vapour between a tank and the air: water surface, lid, walls."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from fleet.thermal.properties import (
    DRY_AIR_GAS_CONSTANT,
    STANDARD_PRESSURE_PA,
    WATER_OVER_AIR_MOLAR,
    ZERO_C_IN_K,
    dry_air_density,
    humidity_ratio,
    latent_heat,
    saturation_pressure,
    water_activity,
)
from fleet.thermal.ranges import (
    AIR_C,
    AIR_SPEED,
    PRESSURE_PA,
    RELATIVE_HUMIDITY,
    SALINITY,
    WATER_C,
    Array,
    FloatOrArray,
    Range,
    formula,
    kind_of,
    positive,
)

STEFAN_BOLTZMANN = 5.670374e-8
WATER_EMISSIVITY = 0.95
SHAH_BUOYANT = 35.0
"""kg/(m2 h) per unit of Shah's buoyancy term: from memory; it meets nine rows of his look-up table to 0.6 %."""
SHAH_ROOM_DRAUGHT = 5e-5
"""kg/(m2 h Pa), Shah's floor for rooms with some air movement: from memory, not confirmed in print."""
FAN_LATENT = 0.07815
"""W/(m2 Pa) per m/s: speed term of the pool equation (ASHRAE Handbook HVAC Applications, natatoriums)."""
SECONDS_PER_HOUR = 3600.0
LID_U_VALUE = 5.0
"""W/(m2 K) of a closed lid with the air gap under it, frame and dry zones: derived from film values."""
BOTTOM_U_VALUE = 2.0
"""W/(m2 K) of a bottom on a board, to the air of the stand: from memory (1 to 3)."""

AGITATION = positive("agitation of the surface")
NUSSELT_RAYLEIGH = Range("Rayleigh number", 0.0, 1e14)


@dataclass(frozen=True)
class AirSide:
    """Air over a water surface, with what the film makes of it alone.

    air_c [°C]; vapour_pa [Pa]; density of its dry part [kg/m3]; buoyancy, Shah's buoyancy term without the water's
    temperature and the lift; moist_heat, gamma [Pa/K] times the latent heat of the water [J/kg].
    """

    air_c: Array
    vapour_pa: Array
    density: Array
    buoyancy: Array
    moist_heat: Array

    def of_rows(self, rows: NDArray[np.intp]) -> AirSide:
        """The air over some rows, in their order."""
        return AirSide(*(getattr(self, each.name)[rows] for each in fields(self)))


def air_side(air_c: Array, vapour_pa: Array, pressure_pa: Array | float = STANDARD_PRESSURE_PA) -> AirSide:
    """What a film needs of the air. No range checks; arrays that broadcast against each other."""
    dry_pa = pressure_pa - vapour_pa
    return AirSide(
        air_c,
        vapour_pa,
        dry_air_density.on_arrays(air_c, vapour_pa, pressure_pa),
        SHAH_BUOYANT * WATER_OVER_AIR_MOLAR * pressure_pa / (DRY_AIR_GAS_CONSTANT * dry_pa),
        _moist_heat(vapour_pa, pressure_pa),
    )


def _moist_heat(vapour_pa: Array, pressure_pa: Array | float) -> Array:
    """Heat capacity of moist air over what a pressure of vapour adds to its moisture. [J Pa/(kg K)]"""
    specific: Array = 1006.0 + 1860.0 * humidity_ratio.on_arrays(vapour_pa, pressure_pa)
    return specific * (pressure_pa / WATER_OVER_AIR_MOLAR)


def lewis_gamma(water_c: Array, air_vapour_pa: Array, pressure_pa: Array | float = STANDARD_PRESSURE_PA) -> Array:
    """Convective over latent coefficient at a Lewis factor of one. [Pa/K]

    With this factor the limit of any fan without radiation is the thermodynamic wet bulb.
    """
    return _moist_heat(air_vapour_pa, pressure_pa) / latent_heat.on_arrays(water_c)


def _shah_coefficient(water_c: Array, water_vapour_pa: Array, air: AirSide, pressure_pa: Array | float) -> Array:
    """Shah's evaporation per vapour pressure difference. [kg/(m2 h Pa)]

    The buoyancy term is divided by the pressure difference in closed form, so it stays smooth where both meet.
    """
    water_density = dry_air_density.on_arrays(water_c, water_vapour_pa, pressure_pa)
    lift = np.maximum(air.density - water_density, 0.0)
    buoyant = air.buoyancy * np.cbrt(lift) / (water_c + ZERO_C_IN_K)
    evaporating = water_vapour_pa > air.vapour_pa
    result: Array = np.where(evaporating, np.maximum(buoyant, SHAH_ROOM_DRAUGHT), SHAH_ROOM_DRAUGHT)
    return result


@formula(
    water_c=WATER_C,
    air_c=AIR_C,
    relative_humidity=RELATIVE_HUMIDITY,
    salinity_g_per_kg=SALINITY,
    pressure_pa=PRESSURE_PA,
)
def still_evaporation(
    water_c: Array,
    air_c: Array,
    relative_humidity: Array,
    salinity_g_per_kg: Array | float = 0.0,
    pressure_pa: Array | float = STANDARD_PRESSURE_PA,
) -> Array:
    """Water that leaves an undisturbed surface in a room; negative where vapour condenses on it. [kg/(m2 s)]

    water_c: 0 to 45 °C; air_c: -20 to 60 °C; relative_humidity: 0 to 1; salinity_g_per_kg: 0 to 45;
    pressure_pa: 60 to 110 kPa. Raises OutOfRange beyond. The larger of a buoyancy term and a floor for room
    draughts; only the floor counts where the air holds more vapour than the water gives.
    Source: Shah, ASHRAE Transactions 120(2) (2014), SE-14-001; both constants from memory.
    """
    water_pa = water_activity.on_arrays(np.asarray(salinity_g_per_kg)) * saturation_pressure.on_arrays(water_c)
    air_pa = relative_humidity * saturation_pressure.on_arrays(air_c)
    per_pa = _shah_coefficient(water_c, water_pa, air_side(air_c, air_pa, pressure_pa), pressure_pa)
    return per_pa * (water_pa - air_pa) / SECONDS_PER_HOUR


@formula(
    water_c=WATER_C,
    air_c=AIR_C,
    relative_humidity=RELATIVE_HUMIDITY,
    air_speed_m_s=AIR_SPEED,
    salinity_g_per_kg=SALINITY,
)
def carrier_evaporation(
    water_c: Array,
    air_c: Array,
    relative_humidity: Array,
    air_speed_m_s: Array,
    salinity_g_per_kg: Array | float = 0.0,
) -> Array:
    """Evaporation of an occupied pool by the classic equation, for comparison only. [kg/(m2 s)]

    water_c: 0 to 45 °C; air_c: -20 to 60 °C; relative_humidity: 0 to 1; air_speed_m_s: 0 to 5;
    salinity_g_per_kg: 0 to 45. Raises OutOfRange beyond. For still air it is 1.5 to 2 times `still_evaporation`.
    Source: ASHRAE Handbook HVAC Applications, natatoriums.
    """
    water_pa = water_activity.on_arrays(np.asarray(salinity_g_per_kg)) * saturation_pressure.on_arrays(water_c)
    air_pa = relative_humidity * saturation_pressure.on_arrays(air_c)
    return (0.0887 + FAN_LATENT * air_speed_m_s) * (water_pa - air_pa) / latent_heat.on_arrays(water_c)


def surface_films(
    water_c: Array,
    air_c: Array,
    water_vapour_pa: Array,
    air_vapour_pa: Array,
    agitation: Array | float,
    pressure_pa: Array | float = STANDARD_PRESSURE_PA,
) -> tuple[Array, Array, Array]:
    """Latent coefficient of still air [W/(m2 Pa)], gamma [Pa/K], long-wave coefficient [W/(m2 K)]; no range checks."""
    air = air_side(air_c, air_vapour_pa, pressure_pa)
    return films_under(air, water_c, water_vapour_pa, latent_heat.on_arrays(water_c), agitation, pressure_pa)


def films_under(
    air: AirSide,
    water_c: Array,
    water_vapour_pa: Array,
    latent_heat_j_kg: Array,
    agitation: Array | float,
    pressure_pa: Array | float,
) -> tuple[Array, Array, Array]:
    """`surface_films` under air that is known already, of water whose latent heat is."""
    per_pa = _shah_coefficient(water_c, water_vapour_pa, air, pressure_pa)
    latent = agitation * per_pa * (latent_heat_j_kg / SECONDS_PER_HOUR)
    return latent, air.moist_heat / latent_heat_j_kg, longwave_film(water_c, air.air_c)


def longwave_film(water_c: Array, air_c: Array) -> Array:
    """Long-wave exchange of a water surface with surroundings at air temperature. [W/(m2 K)]"""
    mean_k = (water_c + air_c) / 2.0 + ZERO_C_IN_K
    found: Array = 4.0 * WATER_EMISSIVITY * STEFAN_BOLTZMANN * (mean_k * mean_k * mean_k)
    return found


def surface_coefficients(
    water_c: FloatOrArray,
    air_c: FloatOrArray,
    relative_humidity: FloatOrArray,
    air_speed_m_s: FloatOrArray = 0.0,
    salinity_g_per_kg: FloatOrArray = 0.0,
    agitation: FloatOrArray = 1.0,
) -> tuple[FloatOrArray, FloatOrArray, FloatOrArray]:
    """Coefficients of a water surface: latent [W/(m2 Pa)], convective [W/(m2 K)], radiative [W/(m2 K)].

    water_c: 0 to 45 °C; air_c: -20 to 60 °C; relative_humidity: 0 to 1; air_speed_m_s: 0 to 5, added by a fan;
    salinity_g_per_kg: 0 to 45; agitation: above 0, factor on the still-air coefficient (0.8 to 1.5 is usual).
    Raises OutOfRange beyond. Sources: Shah 2014 for still air, the speed term of the ASHRAE pool equation for
    a fan (good to about a third), Lewis factor one for convection.
    """
    for limits, value in (
        (WATER_C, water_c),
        (AIR_C, air_c),
        (RELATIVE_HUMIDITY, relative_humidity),
        (AIR_SPEED, air_speed_m_s),
        (SALINITY, salinity_g_per_kg),
        (AGITATION, agitation),
    ):
        limits.check(value)
    water, air, humidity, speed, salinity, ripple = (
        np.asarray(value, dtype=float)
        for value in (water_c, air_c, relative_humidity, air_speed_m_s, salinity_g_per_kg, agitation)
    )
    water_pa = water_activity.on_arrays(salinity) * saturation_pressure.on_arrays(water)
    air_pa = humidity * saturation_pressure.on_arrays(air)
    latent, gamma, radiative = surface_films(water, air, water_pa, air_pa, ripple)
    latent, gamma, radiative = np.broadcast_arrays(latent + FAN_LATENT * speed, gamma, radiative)
    inputs = (water_c, air_c, relative_humidity, air_speed_m_s, salinity_g_per_kg, agitation)
    return kind_of(latent, *inputs), kind_of(latent * gamma, *inputs), kind_of(radiative, *inputs)


@formula(rayleigh=NUSSELT_RAYLEIGH, prandtl=positive("Prandtl number"))
def vertical_plate_nusselt(rayleigh: Array, prandtl: Array) -> Array:
    """Mean Nusselt number of a warm or cold vertical plate in still fluid. [-]

    rayleigh: 0 to 1e14 (the authors tested it to about 1e12); prandtl: above 0. Raises OutOfRange beyond.
    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975), 1323-1329.
    """
    result: Array = (
        0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    ) ** 2
    return result


GRAVITY = 9.81


def air_film(film_c: Array, difference_k: Array, height_m: Array) -> Array:
    """Natural convection of air at a vertical plate. [W/(m2 K)]

    Viscosity by Sutherland's formula, conductivity by the US Standard Atmosphere 1976, both within 1 % here.
    """
    kelvin = film_c + ZERO_C_IN_K
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10.0 ** (-12.0 / kelvin))
    density = STANDARD_PRESSURE_PA / (DRY_AIR_GAS_CONSTANT * kelvin)
    kinematic, diffusivity = viscosity / density, conductivity / (density * 1007.0)
    rayleigh = GRAVITY / kelvin * np.abs(difference_k) * height_m**3 / (kinematic * diffusivity)
    result: Array = vertical_plate_nusselt.on_arrays(rayleigh, kinematic / diffusivity) * conductivity / height_m
    return result


def water_film(film_c: Array, difference_k: Array, height_m: Array) -> Array:
    """Natural convection of fresh water at a vertical plate. [W/(m2 K)]

    Viscosity by Vogel's formula; conductivity and expansion are our own fits to IAPWS values (0 to 40 °C). The
    expansion is kept above that of 5 °C: near 4 °C water hardly rises, and sea water does so more than the fit says.
    """
    density = 998.0
    viscosity = 2.414e-5 * 10.0 ** (247.8 / (film_c + ZERO_C_IN_K - 140.0))
    conductivity = 0.561 + 0.00195 * film_c - 5e-6 * film_c**2
    expansion = np.maximum(-0.64 + 0.158 * film_c - 0.00112 * film_c**2, 0.15) * 1e-4
    kinematic, diffusivity = viscosity / density, conductivity / (density * 4183.0)
    rayleigh = GRAVITY * expansion * np.abs(difference_k) * height_m**3 / (kinematic * diffusivity)
    result: Array = vertical_plate_nusselt.on_arrays(rayleigh, kinematic / diffusivity) * conductivity / height_m
    return result


@formula(
    water_c=WATER_C,
    air_c=AIR_C,
    height_m=positive("height of the wall", "m"),
    thickness_m=positive("thickness of the wall", "m"),
    conductivity_w_mk=positive("conductivity of the wall", "W/(m K)"),
    emissivity=Range("emissivity", 0.0, 1.0),
)
def wall_u_value(
    water_c: Array,
    air_c: Array,
    height_m: Array,
    thickness_m: Array,
    conductivity_w_mk: Array,
    emissivity: Array | float = 0.9,
) -> Array:
    """Heat through a tank wall from water to room air, per area and difference. [W/(m2 K)]

    water_c: 0 to 45 °C; air_c: -20 to 60 °C; height, thickness and conductivity above 0; emissivity 0 to 1.
    Raises OutOfRange beyond. Both films are found together with the wall's surface temperatures; pumped water
    adds about 3 %, which is left out.
    Source: Churchill and Chu 1975 for both films; long-wave exchange with surfaces at air temperature.
    """
    difference = water_c - air_c
    u_value = np.zeros(np.broadcast(difference, height_m, thickness_m, conductivity_w_mk).shape) + 6.0
    inner, outer = u_value * 0.0 + 150.0, u_value * 0.0 + 7.5
    for _ in range(12):
        flux = u_value * difference
        inner_drop, outer_drop = flux / inner, flux / outer
        inner = water_film(np.maximum(water_c - inner_drop / 2.0, 0.0), inner_drop, height_m)
        plate_k = air_c + outer_drop + ZERO_C_IN_K
        longwave = 4.0 * emissivity * STEFAN_BOLTZMANN * ((plate_k + air_c + ZERO_C_IN_K) / 2.0) ** 3
        outer = air_film(air_c + outer_drop / 2.0, outer_drop, height_m) + longwave
        u_value = 1.0 / (1.0 / inner + thickness_m / conductivity_w_mk + 1.0 / outer)
    return u_value
