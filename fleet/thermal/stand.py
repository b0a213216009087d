"""The air in a stand, and what a device breathes there."""

from __future__ import annotations

import numpy as np

from fleet.thermal.ranges import AIR_C, Array, Range, formula, positive

AIR_DENSITY, AIR_HEAT_CAPACITY = 1.17, 1007.0
"""kg/m3 and J/(kg K) of room air near 28 °C."""
LEAST_AIR_KG_S = 1e-9
"""No stand is tighter than this, so that its air has a vapour pressure even where nothing evaporates into it."""
AIR_W_PER_K_PER_M3_H = AIR_DENSITY * AIR_HEAT_CAPACITY / 3600.0


@formula(heat_w=Range("heat", 0.0, 1e9, "W"), rise_k=positive("temperature rise", "K"))
def ventilation_flow(heat_w: Array, rise_k: Array) -> Array:
    """Air flow that carries a heat away at a given warming of the air. [m3/h]

    heat_w: at or above 0; rise_k: above 0. Raises OutOfRange beyond. Source: heat balance.
    """
    return heat_w / (AIR_W_PER_K_PER_M3_H * rise_k)


@formula(
    stand_air_c=AIR_C,
    recirculated_fraction=Range("recirculated fraction", 0.0, 0.9),
    air_rise_k=Range("warming of the air through the condenser", 0.0, 60.0, "K"),
)
def recirculated_inlet(stand_air_c: Array, recirculated_fraction: Array, air_rise_k: Array) -> Array:
    """Air that enters a condenser which draws part of its own exhaust. [°C]

    stand_air_c: air around it, -20 to 60 °C; recirculated_fraction: 0 to 0.9 of the exhaust that comes back;
    air_rise_k: warming through the condenser, 0 to 60 K. Raises OutOfRange beyond. Source: heat balance.
    """
    return stand_air_c + recirculated_fraction / (1.0 - recirculated_fraction) * air_rise_k


def stand_air(room_c: Array, water_c: Array, heat_w: Array, air_exchange_w_per_k: Array, water_w_per_k: Array) -> Array:
    """Steady temperature of the air in a stand between room and water. [°C]

    heat_w: released in the stand; air_exchange_w_per_k: ventilation and the stand's own walls to the room;
    water_w_per_k: tank bottom, sump walls and sump surface. Source: heat balance.
    """
    return (heat_w + air_exchange_w_per_k * room_c + water_w_per_k * water_c) / (air_exchange_w_per_k + water_w_per_k)


def mixed_vapour(
    air_vapour_pa: Array, water_vapour_pa: Array, air_kg_s: Array, vapour_kg_s_pa: Array, pressure_pa: Array
) -> Array:
    """Steady vapour pressure of air that a water surface evaporates into, not yet capped at saturation. [Pa]

    air_kg_s: air exchanged; vapour_kg_s_pa: evaporation per pressure difference. Source: mass balance.
    """
    carried = np.maximum(air_kg_s, LEAST_AIR_KG_S) * 0.622 / pressure_pa
    result: Array = (carried * air_vapour_pa + vapour_kg_s_pa * water_vapour_pa) / (carried + vapour_kg_s_pa)
    return result
