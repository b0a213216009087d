"""How far it is from place to place, and how long it takes."""

from __future__ import annotations

import math

EARTH_RADIUS_KM = 6371.0
DETOUR = 1.3
SPEED_KM_H = 45.0
PARKING_MINUTES = 10.0
SAME_PLACE_KM = 0.05
Place = tuple[float, float]
"""Latitude and longitude in degrees."""


def great_circle_km(one: Place, other: Place) -> float:
    """Distance over the globe between two (latitude, longitude) in degrees. [km]

    Haversine formula: R. W. Sinnott, Sky and Telescope 68 (1984) 158; mean Earth radius 6371 km (IUGG).
    """
    (lat_1, lon_1), (lat_2, lon_2) = ((math.radians(angle) for angle in place) for place in (one, other))
    half = math.sin((lat_2 - lat_1) / 2) ** 2 + math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(half)))


def travel_minutes(one: Place | None, other: Place | None) -> int:
    """Driving between two sites, with parking; 0 at the same place or where one is unknown."""
    if one is None or other is None:
        return 0
    apart = great_circle_km(one, other)
    return 0 if apart < SAME_PLACE_KM else math.ceil(apart * DETOUR / SPEED_KM_H * 60 + PARKING_MINUTES)


def place(latitude: float | None, longitude: float | None) -> Place | None:
    """The place, None where it is not known."""
    return None if latitude is None or longitude is None else (latitude, longitude)
