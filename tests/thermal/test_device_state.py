"""From the service record to the state of a device. The pace of dirt is policy; the heat balance is physics."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.thermal.device_state import (
    FOULING_CITY,
    FOULING_HARD,
    FOULING_SEA,
    fouling_resistance,
    measured_output,
    screen_airflow,
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
