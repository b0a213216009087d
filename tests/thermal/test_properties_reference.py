"""Water and moist air against reference libraries over the whole span of tanks and rooms.

Tolerances are the stated errors of the formulas: saturation pressure 0.24 % (0.3 % allowed), heat capacity by volume
0.12 %, latent heat 0.05 % from 10 to 30 °C, wet bulb and dew point by the saturation pressure's error.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleet.thermal.properties import (
    dew_point,
    dry_air_density,
    humidity_ratio,
    latent_heat,
    saturation_pressure,
    volumetric_heat_capacity,
    water_activity,
    wet_bulb,
)

psychrolib = pytest.importorskip("psychrolib")
gsw = pytest.importorskip("gsw")
iapws = pytest.importorskip("iapws")

SA_OVER_SP = 35.16504 / 35.0
"""Absolute over practical salinity of reference sea water (TEOS-10)."""
GAS_CONSTANT_OF_WATER = 461.52364
PRESSURES_PA = (101_325.0, 85_000.0, 70_000.0)


@pytest.fixture(autouse=True)
def si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.fixture(scope="module")
def rooms():
    """Air of -5 to 45 °C and 0 to 100 %: [humidity, temperature]."""
    return np.meshgrid(np.linspace(-5.0, 45.0, 26), np.linspace(0.0, 1.0, 21))


def over(function, *grids):
    return np.vectorize(function, otypes=[float])(*grids)


def hyland_wexler_pa(temp_c):
    """Saturation over liquid water, also below freezing: ASHRAE Fundamentals, Psychrometrics, eq. 6 (1983, Hyland and
    Wexler), which psychrolib holds only from 0.01 °C up; below it gives that over ice."""
    kelvin = temp_c + 273.15
    return np.exp(
        -5.8002206e3 / kelvin
        + 1.3914993
        - 4.8640239e-2 * kelvin
        + 4.1764768e-5 * kelvin**2
        - 1.4452093e-8 * kelvin**3
        + 6.5459673 * np.log(kelvin)
    )


def test_saturation_pressure_from_minus_5_to_45_c():
    temps = np.linspace(0.02, 45.0, 90)
    reference = over(psychrolib.GetSatVapPres, temps)
    assert saturation_pressure(temps) == pytest.approx(reference, rel=0.003)
    assert hyland_wexler_pa(temps) == pytest.approx(reference, rel=1e-6)
    supercooled = np.linspace(-5.0, 0.0, 11)
    assert saturation_pressure(supercooled) == pytest.approx(hyland_wexler_pa(supercooled), rel=0.003)


@pytest.mark.parametrize("pressure_pa", PRESSURES_PA)
def test_humidity_ratio_of_any_air(rooms, pressure_pa):
    temps, humidities = rooms
    ours = humidity_ratio(humidities * saturation_pressure(temps), pressure_pa)
    reference = over(lambda t, h: psychrolib.GetHumRatioFromRelHum(t, h, pressure_pa), temps, humidities)
    liquid = temps > 0.01
    assert ours[liquid] == pytest.approx(reference[liquid], rel=0.004, abs=2e-7)


@pytest.mark.parametrize("pressure_pa", PRESSURES_PA)
def test_wet_bulb_of_any_air(rooms, pressure_pa):
    """psychrolib goes over to ice below 0 °C, so the comparison holds where the wet bulb is above."""
    temps, humidities = rooms
    reference = over(lambda t, h: psychrolib.GetTWetBulbFromRelHum(t, h, pressure_pa), temps, humidities)
    above = reference > 0.01
    assert above.sum() > 300
    assert wet_bulb(temps, humidities, pressure_pa)[above] == pytest.approx(reference[above], abs=0.05)


def test_dew_point_of_any_air(rooms):
    temps, humidities = rooms
    moist = humidities >= 0.05
    temps, humidities = temps[moist], humidities[moist]
    reference = over(psychrolib.GetTDewPointFromRelHum, temps, humidities)
    above = reference > 0.01
    assert above.sum() > 250
    assert dew_point(humidities * saturation_pressure(temps))[above] == pytest.approx(reference[above], abs=0.05)


@pytest.mark.parametrize("pressure_pa", PRESSURES_PA)
def test_dry_air_density_of_any_air(rooms, pressure_pa):
    temps, humidities = rooms
    reference = over(
        lambda t, h: (
            1.0 / psychrolib.GetMoistAirVolume(t, psychrolib.GetHumRatioFromRelHum(t, h, pressure_pa), pressure_pa)
        ),
        temps,
        humidities,
    )
    ours = dry_air_density(temps, humidities * saturation_pressure(temps), pressure_pa)
    assert ours == pytest.approx(reference, rel=5e-4)


def test_fresh_water_holds_heat_as_iapws_95_says():
    temps = np.linspace(5.0, 35.0, 16)
    states = [iapws.IAPWS95(T=t + 273.15, P=0.101325) for t in temps]
    reference = np.array([state.rho * state.cp * 1000.0 for state in states])
    assert volumetric_heat_capacity(temps) == pytest.approx(reference, rel=0.0013)


def test_sea_water_of_any_salinity_holds_heat_as_teos_10_says():
    temps, salinities = np.meshgrid(np.linspace(5.0, 35.0, 16), np.linspace(1.0, 40.0, 14))
    absolute = salinities * SA_OVER_SP
    reference = gsw.rho_t_exact(absolute, temps, 0.0) * gsw.cp_t_exact(absolute, temps, 0.0)
    assert volumetric_heat_capacity(temps, salinities) == pytest.approx(reference, rel=0.0013)


def test_water_activity_of_any_sea_water_follows_its_chemical_potential():
    """ln a = (mu(S) - mu(0)) / (R T), potentials of TEOS-10."""
    temps, salinities = np.meshgrid(np.linspace(5.0, 35.0, 7), np.linspace(1.0, 45.0, 12))
    salty = gsw.chem_potential_water_t_exact(salinities * SA_OVER_SP, temps, 0.0)
    fresh = gsw.chem_potential_water_t_exact(0.0 * salinities, temps, 0.0)
    joules_per_kg = 1000.0 * (salty - fresh)
    reference = np.exp(joules_per_kg / (GAS_CONSTANT_OF_WATER * (temps + 273.15)))
    assert water_activity(salinities) == pytest.approx(reference, abs=5e-4)


def test_latent_heat_follows_iapws_95():
    temps = np.linspace(1.0, 45.0, 23)
    vapour, liquid = (np.array([iapws.IAPWS95(T=t + 273.15, x=x).h for t in temps]) for x in (1, 0))
    reference = 1000.0 * (vapour - liquid)
    middle = (temps >= 10.0) & (temps <= 30.0)
    assert latent_heat(temps)[middle] == pytest.approx(reference[middle], rel=5e-4)
    assert latent_heat(temps) == pytest.approx(reference, rel=1e-3)


@pytest.mark.parametrize(
    ("salinity", "temp_c", "dbar", "cp", "rho"),
    [
        (34.7118, 28.7856, 10.0, 4002.888003958537, 1021.840173185531),
        (34.8915, 28.4329, 50.0, 4000.980283927373, None),
        (35.0256, 22.8103, 125.0, 3995.546468894633, 1024.427715941676),
        (34.8472, 10.2600, 250.0, 3985.07676902137, None),
    ],
)
def test_the_reference_library_meets_the_printed_examples_of_teos_10(salinity, temp_c, dbar, cp, rho):
    """TEOS-10 toolbox, documentation of gsw_cp_t_exact and gsw_rho_t_exact. A check of the yardstick itself."""
    assert gsw.cp_t_exact(salinity, temp_c, dbar) == pytest.approx(cp, rel=1e-9)
    if rho is not None:
        assert gsw.rho_t_exact(salinity, temp_c, dbar) == pytest.approx(rho, rel=1e-9)


def test_the_reference_library_meets_the_printed_table_of_iapws_if97():
    """IAPWS R7-97, table 5: 0.100215168e-2 m3/kg at 300 K and 3 MPa (from memory). A check of the yardstick itself."""
    assert iapws.IAPWS97(T=300.0, P=3.0).v == pytest.approx(0.00100215168, abs=1e-11)


def test_a_litre_of_fresh_water_at_20_c_weighs_998_g():
    """IAPWS-95 998.207 kg/m3. A check of the yardstick itself."""
    assert iapws.IAPWS95(T=293.15, P=0.101325).rho == pytest.approx(998.207, abs=0.01)
