"""From the service record to the state of a device. The pace of dirt is policy; the heat balance is physics."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.thermal.coolers import screen_capacity_factor, screen_power_factor
from fleet.thermal.device_state import (
    FOULING_CITY,
    FOULING_HARD,
    FOULING_SEA,
    airflow_from_air_rise,
    fouling_resistance,
    fouling_spread,
    measured_output,
    screen_airflow,
    screen_airflow_spread,
)
from fleet.values.register import Device, Reading, ServiceRecord
from fleet.values.vocabulary import DeviceKind, Finding, ReadingQuantity

DAY = date(2026, 5, 4)
CHILLER = Device("chiller", DeviceKind.CHILLER, "Chiller")


def done(task, days_ago, finding=None):
    return ServiceRecord("chiller", task, DAY - timedelta(days=days_ago), finding=finding)


def test_a_screen_never_recorded_clean_passes_half_its_air():
    assert screen_airflow(CHILLER, [], [], DAY) == 0.5


def test_a_screen_just_cleaned_passes_all_its_air():
    assert screen_airflow(CHILLER, [done("clean-intake-screen", 0)], [], DAY) == 1.0


def test_a_screen_that_was_only_left_uninspected_is_not_clean():
    assert screen_airflow(CHILLER, [done("clean-intake-screen", 0, Finding.NOT_INSPECTED)], [], DAY) == 0.5


def test_air_flow_falls_with_months_and_never_below_the_floor():
    flows = [screen_airflow(CHILLER, [done("clean-intake-screen", days)], [], DAY) for days in range(0, 900, 30)]
    assert flows == sorted(flows, reverse=True)
    assert flows[-1] == 0.3


def test_dust_pets_carpet_and_salt_clog_it_faster():
    record = [done("clean-intake-screen", 60)]
    clean = screen_airflow(CHILLER, record, [], DAY)
    assert screen_airflow(CHILLER, record, ["pets"], DAY) < clean
    assert screen_airflow(CHILLER, record, ["carpet", "pets"], DAY) < screen_airflow(CHILLER, record, ["pets"], DAY)
    assert screen_airflow(CHILLER, record, ["humid"], DAY) == clean


def test_a_device_installed_last_month_counts_as_clean_on_that_day():
    new = Device("chiller", DeviceKind.CHILLER, "Chiller", installed=DAY - timedelta(days=30))
    old = Device("chiller", DeviceKind.CHILLER, "Chiller", installed=DAY - timedelta(days=400))
    assert screen_airflow(new, [], [], DAY) > 0.9
    assert screen_airflow(old, [], [], DAY) == 0.5


def test_cleaning_in_the_future_has_not_happened():
    assert screen_airflow(CHILLER, [done("clean-intake-screen", -10)], [], DAY) == 0.5


@pytest.mark.parametrize(
    ("marine", "conditions", "full", "source"),
    [
        (True, [], FOULING_SEA, "TEMA-type table (second-hand): sea water"),
        (False, [], FOULING_CITY, "TEMA-type table (second-hand): treated city water"),
        (False, ["hard-water"], FOULING_HARD, "TEMA-type table (second-hand): hard water"),
    ],
)
def test_scale_never_taken_off_is_that_of_the_table(marine, conditions, full, source):
    assert fouling_resistance(CHILLER, [], conditions, marine, DAY) == full, source


def test_scale_grows_from_the_descaling():
    assert fouling_resistance(CHILLER, [done("descale-exchanger-inside", 0)], [], True, DAY) == 0.0
    half = fouling_resistance(CHILLER, [done("descale-exchanger-inside", 730)], [], True, DAY)
    assert half == pytest.approx(FOULING_SEA / 2.0, rel=0.01)


def reading(quantity, value, days_ago, hour=10):
    return Reading("chiller", quantity, value, datetime(2026, 5, 4, hour, tzinfo=UTC) - timedelta(days=days_ago))


def measured_on(days_ago, drop=1.5):
    return [
        reading(ReadingQuantity.WATER_IN_TEMP, 25.0, days_ago),
        reading(ReadingQuantity.WATER_OUT_TEMP, 25.0 - drop, days_ago, 11),
        reading(ReadingQuantity.FLOW, 0.36, days_ago, 12),
    ]


def test_output_is_flow_times_the_fall_in_temperature():
    """0.1 L/s by 1.5 K of fresh water: 4186 W per L/s and K (handbook heat balance), 628 W."""
    found = measured_output(measured_on(30), 0.0, DAY)
    assert found is not None
    assert found.watts.mid == pytest.approx(4186 * 0.1 * 1.5, rel=0.005)
    assert found.watts.low == pytest.approx(found.watts.mid * (1 - 0.14 / 1.5))


def test_a_small_fall_in_temperature_says_little():
    found = measured_output(measured_on(30, drop=0.3), 0.0, DAY)
    assert found is not None
    assert found.watts.low / found.watts.mid < 0.6


def test_a_year_old_output_and_one_without_flow_do_not_count():
    assert measured_output(measured_on(400), 0.0, DAY) is None
    assert measured_output(measured_on(30)[:2], 0.0, DAY) is None
    assert measured_output(measured_on(30, drop=-0.5), 0.0, DAY) is None


def test_the_spread_of_a_screen_holds_its_safe_side_at_the_low_end():
    """Policy: 6, 4 and 2 % of the air flow lost a month."""
    flow = screen_airflow_spread(CHILLER, [done("clean-intake-screen", 61)], [], DAY)
    months = 61 / 30.4375
    assert (flow.low, flow.mid, flow.high) == pytest.approx((1 - 0.06 * months, 1 - 0.04 * months, 1 - 0.02 * months))
    assert screen_airflow(CHILLER, [done("clean-intake-screen", 61)], [], DAY) == flow.low
    never = screen_airflow_spread(CHILLER, [], [], DAY)
    assert never.low < never.mid < never.high < 1.0


def test_scale_may_be_half_of_what_the_table_says():
    scale = fouling_spread(CHILLER, [], [], True, DAY)
    assert (scale.low, scale.mid, scale.high) == pytest.approx((FOULING_SEA / 2, FOULING_SEA * 0.75, FOULING_SEA))


def air_rise(kelvin, days_ago, intake_c=26.0):
    return [
        reading(ReadingQuantity.INTAKE_AIR_TEMP, intake_c, days_ago),
        reading(ReadingQuantity.EXHAUST_AIR_TEMP, intake_c + kelvin, days_ago, 11),
    ]


CLEANED = [done("clean-intake-screen", 100)]


def test_air_that_warms_twice_as_much_as_when_clean_is_half_the_air():
    """Heat rejected = air flow x heat capacity x warming (heat balance)."""
    told = airflow_from_air_rise(CHILLER, CLEANED, [*air_rise(8.0, 98), *air_rise(16.0, 10)], DAY)
    assert told is not None
    assert told.on == DAY - timedelta(days=10)
    assert told.airflow.mid == pytest.approx(0.5)
    assert 0.42 < told.airflow.low < 0.46
    assert 0.54 < told.airflow.high < 0.58


def test_the_heat_that_a_condenser_rejects_hardly_depends_on_its_screen():
    """What the reading of the air's warming rests on: at a COP of 3 the heat rejected stays within 6 % from half to
    full air flow, by the capacity and power factors of a dirty screen."""
    for flow in (0.5, 0.6, 0.7, 0.8, 0.9, 1.0):
        rejected = (3.0 * screen_capacity_factor(flow) + screen_power_factor(flow)) / 4.0
        assert rejected == pytest.approx(1.0, abs=0.06)


def test_what_the_air_told_outranks_the_policy_which_goes_on_from_there():
    readings = [*air_rise(8.0, 98), *air_rise(8.2, 10)]
    policy = screen_airflow_spread(CHILLER, CLEANED, [], DAY)
    told = screen_airflow_spread(CHILLER, CLEANED, [], DAY, readings)
    assert told.low > policy.low
    assert told.mid == pytest.approx(8.0 / 8.2 - 0.04 * 10 / 30.4375)
    clogged = screen_airflow_spread(CHILLER, CLEANED, [], DAY, [*air_rise(8.0, 98), *air_rise(25.0, 10)])
    assert clogged.high < policy.low


@pytest.mark.parametrize(
    ("readings", "why"),
    [
        ([*air_rise(8.0, 60), *air_rise(16.0, 10)], "no baseline within a week of the cleaning"),
        (air_rise(8.0, 98), "nothing after the baseline"),
        ([*air_rise(8.0, 120), *air_rise(16.0, 110)], "all of it before the last cleaning"),
        ([*air_rise(2.0, 98), *air_rise(4.0, 10)], "a clean warming within the error of the thermometers"),
        ([*air_rise(8.0, 98), reading(ReadingQuantity.EXHAUST_AIR_TEMP, 40.0, 10)], "only one end was read"),
        ([*air_rise(8.0, 98), *air_rise(-3.0, 10)], "exhaust colder than intake: the ends were changed over"),
    ],
)
def test_the_warming_of_the_air_tells_nothing_without_its_own_baseline(readings, why):
    assert airflow_from_air_rise(CHILLER, CLEANED, readings, DAY) is None, why


def test_an_air_rise_of_last_winter_tells_nothing_of_today():
    long_ago = [done("clean-intake-screen", 200)]
    assert airflow_from_air_rise(CHILLER, long_ago, [*air_rise(8.0, 198), *air_rise(16.0, 100)], DAY) is None
    assert airflow_from_air_rise(CHILLER, [], [*air_rise(8.0, 98), *air_rise(16.0, 10)], DAY) is None


def test_an_output_far_above_the_plate_is_taken_for_a_slip(bench, room, tank, loads, chiller):
    """A plate of 600 W and a reading of 0.1 L/s by 9 K, 3.8 kW: no unit gives six times its plate (common practice)."""
    slip = tuple(measured_on(30, drop=9.0))
    fair = tuple(measured_on(30, drop=1.5))
    plate, believed, refused = (
        bench.on_hot_day(bench.one_room(room, [tank], loads, [chiller], readings=readings))
        for readings in ((), fair, slip)
    )
    assert refused.available_w == plate.available_w
    assert believed.available_w != plate.available_w
    assert any("measure again" in note for note in refused.devices[0].notes)
