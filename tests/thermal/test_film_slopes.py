"""What further_slopes adds to the slopes of the losses, against differences of the losses themselves."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.thermal.assess import build
from fleet.thermal.balance import air_at, losses, sump_films, water_at
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.film_slopes import further_slopes
from fleet.thermal.properties import latent_heat
from fleet.thermal.stand import mixed_vapour
from fleet.values.register import Load
from fleet.values.vocabulary import LoadKind, Stand

STEP_K = 1e-4


def made(bench, room, tank):
    """Cases of an open tank, one with a sump in a closed stand and one with a sump in an open one."""
    sump = {"sump_area_m2": 0.3, "sump_volume_m3": 0.06}
    tanks = [
        tank,
        replace(tank, code="closed", stand=Stand.CLOSED, stand_vent_flow_m3_h=80.0, **sump),
        replace(tank, code="sump", **sump),
    ]
    pumps = [Load(each.code, "pumps", LoadKind.SUBMERGED_PUMP, 50.0, date.min) for each in tanks]
    model = build(bench.one_room(room, tanks, pumps), {}, [each.code for each in tanks])
    return spread_over_cases(model, np.arange(3), np.zeros(3, dtype=np.intp))


def settled_vapour(cases, water, air, stand):
    """Vapour in the stands that has mixed with what the sumps give; found by iteration. [Pa]"""
    vapour = air.vapour_pa
    for _ in range(60):
        latent, _dry = sump_films(cases, water, water_at(cases, water).vapour_pa, stand, vapour)
        tanks = cases.model.tanks
        pull = cases.sump_m2 * latent / latent_heat.on_arrays(water)
        vapour = mixed_vapour(
            air.vapour_pa, water_at(cases, water).vapour_pa, cases.stand_kg_s, pull, tanks.pressure_pa[:, None]
        )
    return vapour


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(water_over_k=st.floats(-4.0, 8.0), stand_over_k=st.floats(-3.0, 12.0), hour=st.floats(0.0, 23.9))
def test_the_slopes_are_those_of_the_losses(bench, room, tank, water_over_k, stand_over_k, hour):
    """Within 4 % of the slope at films as they are wherever the surface is a tenth of a kelvin away from where it
    begins to rise; central differences over 0.1 mK."""
    cases = made(bench, replace(room, hot_day_rise_k=2.0), tank)
    air = air_at(cases, np.full(3, hour))
    opened = ~cases.model.tanks.stand_closed[:, None]
    water = air.room_c + water_over_k
    stand = np.where(opened, air.room_c, air.room_c + stand_over_k)
    vapour = settled_vapour(cases, water, air, stand)
    leaving = losses(cases, water, air, stand, vapour)
    more, kept, _surface = further_slopes(cases, water, air, stand, vapour, leaving)

    def watts(water_k=0.0, air_k=0.0):
        warmer = replace(air, room_c=air.room_c + air_k, side=None)
        moist = settled_vapour(cases, water + water_k, warmer, stand + air_k * opened)
        return losses(cases, water + water_k, warmer, stand + air_k * opened, moist).watts

    def difference(**of):
        return watts(**of) - watts(**{name: -by for name, by in of.items()})

    slope = leaving.slope_w_per_k
    exact = difference(water_k=STEP_K) / (2.0 * STEP_K) - slope
    kept_exact = -difference(air_k=STEP_K) / (2.0 * STEP_K)
    bend = np.abs(watts(water_k=0.1) + watts(water_k=-0.1) - 2.0 * leaving.watts) / 0.1
    smooth = bend < 0.05 * slope
    assert (np.abs(more - exact) < 0.04 * slope)[smooth].all()
    assert (np.abs(kept - kept_exact) < 0.04 * slope)[smooth].all()
    assert np.isfinite(more).all()
    assert np.isfinite(kept).all()


def test_a_surface_that_hardly_rises_answers_far_more_steeply_than_its_films_as_they_are(bench, room, tank):
    """The cube root of Shah's buoyancy (ASHRAE Transactions 120(2), 2014): slope a quarter more at the least within 2 K
    below the room."""
    cases = made(bench, room, tank)
    air = air_at(cases, np.full(3, 12.0))
    shares = []
    for under_k in np.linspace(0.0, 4.0, 41):
        water = air.room_c - under_k
        leaving = losses(cases, water, air, air.room_c, air.vapour_pa)
        more, _kept, _surface = further_slopes(cases, water, air, air.room_c, air.vapour_pa, leaving)
        shares.append(float((more / leaving.slope_w_per_k)[0, 1]))
    assert max(shares) > 0.25
