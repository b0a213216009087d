"""Water and moist air against printed tables and reference libraries; the source stands in each row."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from fleet.thermal.exchange import lewis_gamma
from fleet.thermal.properties import (
    dew_point,
    dry_air_density,
    humidity_ratio,
    latent_heat,
    pressure_at,
    saturation_pressure,
    volumetric_heat_capacity,
    water_activity,
    wet_bulb,
)

IAPWS = "IAPWS-95, computed with iapws 1.5.5"
TEOS = "TEOS-10, computed with gsw 3.6 (SA 35.165 g/kg)"
HYLAND_WEXLER = "ASHRAE Fundamentals (Hyland and Wexler), computed with psychrolib"
psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("temp_c", "salinity", "printed_mj", "source"),
    [
        (10.0, 0.0, 4.19391, IAPWS),
        (15.0, 0.0, 4.1847, IAPWS),
        (20.0, 0.0, 4.17655, IAPWS),
        (30.0, 0.0, 4.16164, IAPWS),
        (10.0, 35.0, 4.09761, TEOS),
        (15.0, 35.0, 4.0968, TEOS),
        (20.0, 35.0, 4.0951, TEOS),
        (25.0, 35.0, 4.09233, TEOS),
        (30.0, 35.0, 4.08848, TEOS),
    ],
)
def test_a_litre_of_water_holds_the_heat_of_the_reference_equations(temp_c, salinity, printed_mj, source):
    assert volumetric_heat_capacity(temp_c, salinity) / 1e6 == pytest.approx(printed_mj, abs=0.005), source


@pytest.mark.parametrize(
    ("salinity", "temp_c", "cp", "rho", "source"),
    [
        (34.7118, 28.7856, 4002.888003958537, 1021.840173185531, "TEOS-10 toolbox, example of cp and rho at 10 dbar"),
        (35.0256, 22.8103, 3995.546468894633, 1024.427715941676, "TEOS-10 toolbox, example of cp and rho at 125 dbar"),
    ],
)
def test_sea_water_of_the_toolbox_examples_holds_cp_times_rho(salinity, temp_c, cp, rho, source):
    """The fit is stated to 0.12 %; the examples lie under some pressure, which adds less than 0.06 %."""
    assert volumetric_heat_capacity(temp_c, salinity) == pytest.approx(cp * rho, rel=0.0018), source


@pytest.mark.parametrize(
    ("temp_c", "printed_pa", "rel", "source"),
    [
        (5.0, 872.5, 0.004, HYLAND_WEXLER),
        (20.0, 2338.8, 0.004, HYLAND_WEXLER),
        (30.0, 4246.0, 0.004, HYLAND_WEXLER),
        (40.0, 7383.5, 0.004, HYLAND_WEXLER),
        (27.0, 3567.3, 0.005, "worked sheet of a pool evaporation rate (second-hand)"),
        (25.0, 3169.0, 0.003, "steam table, quoted in thermodynamics notes of Penn State University"),
    ],
)
def test_saturation_pressure_agrees_with_print(temp_c, printed_pa, rel, source):
    assert saturation_pressure(temp_c) == pytest.approx(printed_pa, rel=rel), source


def test_saturation_pressure_follows_psychrolib_over_the_whole_span_of_rooms():
    temps = np.linspace(0.5, 45.0, 60)
    reference = np.array([psychrolib.GetSatVapPres(t) for t in temps])
    assert np.max(np.abs(saturation_pressure(temps) / reference - 1.0)) < 0.0026


def test_humidity_ratio_of_a_worked_example():
    """Penn State University, thermodynamics notes: 25 °C, 75 %, 100 kPa."""
    assert humidity_ratio(0.75 * saturation_pressure(25.0), 100_000.0) == pytest.approx(0.0152, abs=1e-4)


@pytest.mark.parametrize(
    ("temp_c", "printed_kj", "source"),
    [(20.0, 2453.55, "IAPWS-IF97, computed with iapws"), (30.0, 2429.84, "IAPWS-IF97, computed with iapws")],
)
def test_latent_heat_agrees_with_steam_tables(temp_c, printed_kj, source):
    assert latent_heat(temp_c) / 1000.0 == pytest.approx(printed_kj, rel=0.001), source


@pytest.mark.parametrize(
    ("temp_c", "humidity", "printed_c"),
    [
        (26.667, 0.40, 17.494),
        (26.667, 0.50, 19.26),
        (26.667, 0.60, 20.917),
        (35.0, 0.30, 21.524),
        (24.0, 0.80, 21.439),
    ],
)
def test_wet_bulb_is_the_thermodynamic_one(temp_c, humidity, printed_c):
    """Source of the figures: psychrolib (ASHRAE Fundamentals)."""
    assert wet_bulb(temp_c, humidity) == pytest.approx(printed_c, abs=0.05)


def test_wet_bulb_agrees_with_psychrolib_at_any_elevation():
    for temp_c, humidity, pressure_pa in ((10.0, 0.9, 101_325.0), (40.0, 0.15, 85_000.0), (30.0, 0.6, 70_000.0)):
        reference = psychrolib.GetTWetBulbFromRelHum(temp_c, humidity, pressure_pa)
        assert wet_bulb(temp_c, humidity, pressure_pa) == pytest.approx(reference, abs=0.05)


def test_wet_bulb_stays_within_the_stated_error_of_the_stull_fit():
    """Stull, J. Appl. Meteor. Climatol. 50 (2011), 2267: states -1 to +0.65 K, and 13.7 °C at 20 °C and 50 %."""
    temps, humidities = np.meshgrid(np.linspace(10.0, 40.0, 16), np.linspace(0.3, 0.9, 13))
    percent = humidities * 100.0
    fit = (
        temps * np.arctan(0.151977 * np.sqrt(percent + 8.313659))
        + np.arctan(temps + percent)
        - np.arctan(percent - 1.676331)
        + 0.00391838 * percent**1.5 * np.arctan(0.023101 * percent)
        - 4.686035
    )
    assert np.max(np.abs(fit - wet_bulb(temps, humidities))) < 1.0
    assert wet_bulb(20.0, 0.5) == pytest.approx(13.7, abs=0.15)


def test_dew_point_of_a_living_room():
    """24 °C and 50 %: 12.95 °C by psychrolib."""
    assert dew_point(0.5 * saturation_pressure(24.0)) == pytest.approx(12.95, abs=0.05)


def test_dry_air_density_of_a_warm_room():
    """28 °C and 50 %: 1.1503 kg/m3 by psychrolib."""
    assert dry_air_density(28.0, 0.5 * saturation_pressure(28.0)) == pytest.approx(1.1503, abs=0.001)


def test_sea_water_gives_off_a_little_less_vapour():
    """0.98138 at 35 g/kg from the chemical potentials of TEOS-10 (gsw)."""
    assert water_activity(35.0) == pytest.approx(0.98138, abs=5e-4)


def test_convection_over_evaporation_meets_the_psychrometer_constant():
    """FAO irrigation paper Y7223E: 0.000660 per °C of the air pressure, 66.9 Pa/K at sea level."""
    vapour_pa = 0.010 * 101_325.0 / (0.621945 + 0.010)
    assert float(lewis_gamma(np.array(25.0), np.array(vapour_pa))) == pytest.approx(66.9, rel=0.04)


@pytest.mark.parametrize("elevation_m", [0.0, 500.0, 1609.0, 3000.0])
def test_air_pressure_falls_with_elevation_as_in_the_standard_atmosphere(elevation_m):
    """Reference: psychrolib, ASHRAE Fundamentals."""
    assert float(pressure_at(elevation_m)) == pytest.approx(psychrolib.GetStandardAtmPressure(elevation_m), rel=1e-6)
