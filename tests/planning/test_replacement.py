"""Lives of devices: Weibull arithmetic against published figures and scipy, and what shortens a life."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import weibull_min

from fleet.errors import OutOfRange
from fleet.planning.replacement import (
    CHILLER,
    DAYS_PER_YEAR,
    FAN_FRESH,
    FAN_MARINE,
    IN_STAND,
    LIKELY,
    chance_within,
    forecasts,
    life_reached,
    weibull_scale,
)
from fleet.values.fleet import snapshot
from fleet.values.register import (
    Client,
    Device,
    Duty,
    Equipment,
    Placement,
    RegisterRows,
    Room,
    ServiceRecord,
    Site,
    Tank,
)
from fleet.values.vocabulary import DeviceKind, EquipmentKind, TankKind, Where

DAY = date(2026, 5, 20)
AN_AGE, A_MEDIAN, A_SHAPE = (st.floats(*bounds) for bounds in ((0.0, 40.0), (0.5, 40.0), (0.7, 5.0)))


@pytest.mark.parametrize(("shape", "times_median"), [(2.0, 1.20), (3.0, 1.13)])
def test_the_scale_is_the_median_over_the_root_of_ln_2(shape, times_median):
    """Arithmetic printed beside the trade's table of lives: 1.20 × the median at shape 2, 1.13 × at shape 3."""
    assert weibull_scale(10.0, shape) == pytest.approx(10.0 * times_median, abs=0.05)


@pytest.mark.parametrize(
    ("age", "shape", "scale", "printed", "source"),
    [
        (105.0, 20.0, 100.0, 0.929581, "example in Microsoft's documentation of the worksheet function WEIBULL"),
        (10.0, 2.0, 10.0, 0.632, "example in the documentation of stdlib's weibull cdf"),
        (8.0, 2.0, 10.0, 0.473, "example in the documentation of stdlib's weibull cdf"),
    ],
)
def test_a_new_unit_fails_by_an_age_with_the_published_chance(age, shape, scale, printed, source):
    median = scale * math.log(2.0) ** (1.0 / shape)
    digits = len(str(printed)) - 2
    assert chance_within(age, 0.0, median, shape) == pytest.approx(printed, abs=0.5 * 10.0**-digits), source
    assert life_reached(printed, 0.0, median, shape) == pytest.approx(age, rel=1e-3), source


@given(age=AN_AGE, median=A_MEDIAN, shape=A_SHAPE, chance=st.floats(0.01, 0.99))
@settings(deadline=None, max_examples=150)
def test_the_age_reached_is_scipys_conditional_quantile(age, median, shape, chance):
    law = weibull_min(shape, scale=weibull_scale(median, shape))
    left = law.sf(age)
    if left < 1e-200:
        return
    assert life_reached(chance, age, median, shape) == pytest.approx(law.isf(left * (1.0 - chance)), rel=1e-8)


@given(age=AN_AGE, median=A_MEDIAN, shape=A_SHAPE, span=st.floats(0.0, 30.0))
@settings(deadline=None, max_examples=150)
def test_the_chance_within_a_span_is_scipys_conditional_one_and_undoes_the_age_reached(age, median, shape, span):
    law = weibull_min(shape, scale=weibull_scale(median, shape))
    chance = chance_within(span, age, median, shape)
    assert chance == pytest.approx(-math.expm1(law.logsf(age + span) - law.logsf(age)), rel=1e-8, abs=1e-12)
    if 1e-6 < chance < 0.999:
        assert life_reached(chance, age, median, shape) == pytest.approx(age + span, rel=1e-7)


@given(age=AN_AGE, median=A_MEDIAN)
@settings(deadline=None, max_examples=50)
def test_with_a_shape_of_one_age_says_nothing(age, median):
    assert life_reached(0.5, age, median, 1.0) - age == pytest.approx(median, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("chance", "age", "median"), [(1.0, 1.0, 10.0), (0.5, -1.0, 10.0), (0.5, math.nan, 10.0),
                                                       (0.5, 1.0, 0.0), (-0.1, 1.0, 10.0)])  # fmt: skip
def test_lives_that_make_no_sense_are_refused(chance, age, median):
    with pytest.raises(OutOfRange):
        life_reached(chance, age, median, 2.5)


def a_register(*devices: Device, kind: TankKind = TankKind.COLD_FRESH, **more: object) -> RegisterRows:
    base = RegisterRows(
        clients=(Client("CLIENT", "Client"),),
        sites=(Site("SITE", "CLIENT", "Site", "UTC"),),
        rooms=(Room("ROOM", "SITE", "Room", 24.0),),
        tanks=(Tank("TANK", "ROOM", "Tank", kind, 1.0, 0.5, 0.5, 20.0),),
        devices=devices,
        placements=tuple(Placement(row.code, Where.BESIDE_TANK, date(2020, 1, 1), room="ROOM") for row in devices),
        duties=tuple(Duty(row.code, "TANK", date(2020, 1, 1)) for row in devices),
    )
    return replace(base, **more)  # type: ignore[arg-type]


def of(rows: RegisterRows, code: str = "UNIT", day: date = DAY):
    return forecasts(snapshot(rows, day), rows).get(code)


NEW_CHILLER = Device("UNIT", DeviceKind.CHILLER, "Chiller", installed=DAY)


def test_half_of_new_chillers_last_their_median_life_and_two_in_three_end_in_the_likely_span():
    found = of(a_register(NEW_CHILLER))
    law = weibull_min(CHILLER.shape, scale=weibull_scale(CHILLER.median_years, CHILLER.shape))
    for day, chance in ((found.middle, 0.5), (found.earliest, LIKELY[0]), (found.latest, LIKELY[1])):
        assert (day - DAY).days == pytest.approx(law.ppf(chance) * DAYS_PER_YEAR, abs=1.0)
    assert found.chance_in_a_year == pytest.approx(law.cdf(1.0), rel=1e-9)


def test_a_chiller_in_a_closed_stand_lives_three_quarters_as_long():
    """Common practice; a year there wears as much as four thirds of a year elsewhere."""
    here = (Placement("UNIT", Where.IN_STAND, DAY, stand_of="TANK"),)
    free, built_in = of(a_register(NEW_CHILLER)), of(a_register(NEW_CHILLER, placements=here))
    assert (built_in.middle - DAY).days == pytest.approx((free.middle - DAY).days * IN_STAND, abs=1.0)
    assert built_in.median_years == pytest.approx(CHILLER.median_years * IN_STAND)
    assert "in a closed stand, life × 0.75" in built_in.influences


def test_years_before_a_move_count_as_they_were_lived():
    since, moved = DAY - timedelta(days=3653), DAY - timedelta(days=365)
    device = replace(NEW_CHILLER, installed=since)
    free = Placement("UNIT", Where.BESIDE_TANK, since, room="ROOM", until=moved)
    stand = Placement("UNIT", Where.IN_STAND, moved, stand_of="TANK")
    always_in = of(a_register(device, placements=(replace(stand, since=since),)))
    moved_in = of(a_register(device, placements=(free, stand)))
    never_in = of(a_register(device, placements=(replace(free, until=None),)))
    assert always_in.middle < moved_in.middle < never_in.middle
    assert "time in earlier places is counted as it was lived there" in moved_in.influences
    # By hand: nine years free and one in the stand are 9 + 1/0.75 = 10.33 years of the usual life.
    age = (moved - since).days / DAYS_PER_YEAR + 365 / DAYS_PER_YEAR / IN_STAND
    law = weibull_min(CHILLER.shape, scale=weibull_scale(CHILLER.median_years, CHILLER.shape))
    left = (law.isf(law.sf(age) / 2.0) - age) * IN_STAND * DAYS_PER_YEAR
    assert (moved_in.middle - DAY).days == pytest.approx(left, abs=1.0)


def test_a_fan_over_sea_water_wears_out_sooner():
    fan = Device("UNIT", DeviceKind.SURFACE_FAN, "Fan", installed=DAY)
    assert of(a_register(fan, kind=TankKind.REEF)).median_years == FAN_MARINE.median_years
    assert of(a_register(fan)).median_years == FAN_FRESH.median_years


def test_the_expected_life_on_record_outranks_the_usual_one():
    found = of(a_register(replace(NEW_CHILLER, expected_life_years=6.0), kind=TankKind.REEF))
    assert found.median_years == 6.0
    assert found.influences == ()
    assert "on record" in found.basis


def test_a_replaced_fan_is_new_again():
    fan = Device("UNIT", DeviceKind.SURFACE_FAN, "Fan", installed=date(2019, 1, 1))
    renewed = a_register(fan, history=(ServiceRecord("UNIT", "replace-fan", date(2026, 5, 1)),))
    assert of(renewed).begun == date(2026, 5, 1)
    assert of(renewed).middle > of(a_register(fan)).middle


def test_without_an_installation_day_the_age_is_at_least_that_of_the_first_record():
    found = of(a_register(replace(NEW_CHILLER, installed=None)))
    assert (found.begun, found.begun_known) == (date(2020, 1, 1), False)


def test_a_device_that_stands_nowhere_any_more_has_no_forecast():
    ended = (Placement("UNIT", Where.BESIDE_TANK, date(2020, 1, 1), room="ROOM", until=date(2024, 1, 1)),)
    assert of(a_register(NEW_CHILLER, placements=ended, duties=())) is None


def test_a_probe_is_replaced_when_it_fails_and_a_battery_by_age():
    items = (
        Equipment("PROBE", EquipmentKind.PROBE, "Probe", tank="TANK", installed=DAY),
        Equipment("UPS", EquipmentKind.UPS, "Battery", tank="TANK", installed=DAY),
        Equipment("ALARM", EquipmentKind.ALARM, "Alarm", tank="TANK", installed=DAY),
    )
    rows = a_register(equipment=items)
    assert not of(rows, "PROBE").by_age
    assert of(rows, "UPS").by_age
    assert of(rows, "ALARM") is None


@given(
    years=st.floats(0.0, 60.0),
    life=st.none() | st.floats(0.1, 100.0),
    kind=st.sampled_from(DeviceKind),
    where=st.sampled_from(Where),
)
@settings(deadline=None, max_examples=100)
def test_any_device_is_forecast_in_order_and_not_before_today(years, life, kind, where):
    installed = DAY - timedelta(days=round(years * DAYS_PER_YEAR))
    device = Device("UNIT", kind, "Unit", installed=installed, expected_life_years=life)
    found = of(a_register(device, placements=(Placement("UNIT", where, installed, room="ROOM"),)))
    assert DAY <= found.earliest <= found.middle <= found.latest
    assert 0.0 <= found.chance_in_a_year <= 1.0
