"""Walls and natural convection against independent calculations with reference libraries, over grids."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from fleet.thermal.exchange import air_film, vertical_plate_nusselt, wall_u_value, water_film

convection = pytest.importorskip("ht.conv_free_immersed")
coolprop = pytest.importorskip("CoolProp.CoolProp")

GRAVITY, SIGMA = 9.81, 5.670374e-8


def film_of(fluid, film_c, difference_k, height_m):
    """Natural convection at a vertical plate: Nusselt by the ht library, properties by CoolProp. [W/(m2 K)]"""
    kelvin = film_c + 273.15
    density, viscosity, conductivity, heat, expansion = (
        coolprop.PropsSI(name, "T", kelvin, "P", 101_325.0, fluid)
        for name in ("D", "V", "L", "C", "ISOBARIC_EXPANSION_COEFFICIENT")
    )
    kinematic, prandtl = viscosity / density, viscosity * heat / conductivity
    grashof = GRAVITY * abs(expansion * difference_k) * height_m**3 / kinematic**2
    return convection.Nu_vertical_plate_Churchill(prandtl, grashof) * conductivity / height_m


def u_value_of(water_c, air_c, height_m, thickness_m, conductivity):
    """Wall of two films, solved for the heat flux by bracketing (the package iterates on the films)."""

    def left_over(flux):
        inner_drop = flux / film_of("Water", water_c - flux / 300.0, flux / 150.0 or 1e-6, height_m)
        inner_drop = flux / film_of("Water", water_c - inner_drop / 2.0, inner_drop, height_m)
        plate_c = water_c - inner_drop - flux * thickness_m / conductivity
        rise = plate_c - air_c
        mean_k = (plate_c + air_c) / 2.0 + 273.15
        outer = film_of("Air", (plate_c + air_c) / 2.0, rise, height_m) + 4.0 * 0.9 * SIGMA * mean_k**3
        return outer * rise - flux

    difference = water_c - air_c
    low, high = sorted((0.2 * difference, 15.0 * difference))
    return brentq(left_over, low, high, xtol=1e-3) / difference


def test_nusselt_numbers_of_a_plate_in_air_and_water():
    for prandtl in (0.7, 1.0, 5.0, 9.0):
        rayleigh = np.logspace(2, 12, 21)
        reference = [convection.Nu_vertical_plate_Churchill(prandtl, value / prandtl) for value in rayleigh]
        assert vertical_plate_nusselt(rayleigh, prandtl) == pytest.approx(np.array(reference), rel=1e-9)


def test_air_films_with_reference_properties():
    """Properties by fits that are within 1 %: 1.5 % on the film."""
    for film_c in (0.0, 15.0, 30.0, 45.0):
        for difference_k in (0.5, 2.0, 8.0, 20.0):
            for height_m in (0.2, 0.5, 1.5):
                ours = float(air_film(np.array(film_c), np.array(difference_k), np.array(height_m)))
                assert ours == pytest.approx(film_of("Air", film_c, difference_k, height_m), rel=0.015)


def test_water_films_with_reference_properties():
    """From 10 to 35 °C. Below that the package keeps the expansion above that of 5 °C on purpose."""
    for film_c in (10.0, 15.0, 20.0, 25.0, 30.0, 35.0):
        for difference_k in (0.05, 0.3, 1.0):
            for height_m in (0.3, 0.5, 1.5):
                ours = float(water_film(np.array(film_c), np.array(difference_k), np.array(height_m)))
                assert ours == pytest.approx(film_of("Water", film_c, difference_k, height_m), rel=0.03)


WALLS = [
    pytest.param(0.006, 1.0, id="glass 6 mm"),
    pytest.param(0.010, 1.0, id="glass 10 mm"),
    pytest.param(0.0127, 0.19, id="acrylic 12.7 mm"),
    pytest.param(0.050, 0.19, id="acrylic 50 mm"),
    pytest.param(0.200, 1.4, id="concrete 200 mm"),
]


@pytest.mark.parametrize(("thickness_m", "conductivity"), WALLS)
def test_u_value_of_walls_warmer_and_colder_than_their_room(thickness_m, conductivity):
    """Within 1 % (4 % is claimed); water 11 to 33 °C, air 18 to 35 °C, either side the warmer."""
    for air_c in (18.0, 25.0, 35.0):
        for difference_k in (-14.0, -7.0, -2.0, 1.0, 4.0, 8.0):
            water_c = air_c + difference_k
            if 10.0 <= water_c <= 35.0:
                for height_m in (0.4, 1.0):
                    ours = wall_u_value(water_c, air_c, height_m, thickness_m, conductivity)
                    reference = u_value_of(water_c, air_c, height_m, thickness_m, conductivity)
                    assert ours == pytest.approx(reference, rel=0.01)
