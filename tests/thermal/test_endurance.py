"""Hours to the limit when something fails, and days that repeat."""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fleet.thermal.assess import assess, build
from fleet.thermal.capacity import at_peak
from fleet.thermal.day import Controls, simulate
from fleet.thermal.endurance import repeating_day
from fleet.values.register import (
    Duty,
    Load,
    Reading,
    ServiceRecord,
)
from fleet.values.vocabulary import (
    Lid,
    LoadKind,
    ReadingQuantity,
    Role,
    Scenario,
)


def test_hours_shrink_with_less_water_and_grow_with_a_higher_limit(bench, room, tank, loads, chiller):
    def hours(changed):
        return bench.on_hot_day(bench.one_room(room, [changed], loads, [chiller])).hours.all_cooling_lost.low

    assert hours(replace(tank, net_volume_m3=0.15)) < hours(tank) < hours(replace(tank, net_volume_m3=0.6))
    assert hours(tank) < hours(replace(tank, act_high_c=30.5))


def test_losing_more_never_gives_more_time(bench, room, tank, loads, chiller):
    for scenario in Scenario:
        result = assess(bench.one_room(room, [tank], loads, [chiller], [bench.beside()]), {}, scenarios=(scenario,))[0]
        both = result.hours.ac_and_cooling_lost.low
        assert both <= (result.hours.all_cooling_lost.low or math.inf)
        assert both <= (result.hours.ac_lost.low or math.inf)


def test_hours_are_in_order_and_begin_from_a_recent_warm_reading(bench, room, tank, loads, chiller):
    def hours(value, days_ago):
        taken = datetime(2026, 5, 4, 6, tzinfo=UTC) - timedelta(days=days_ago)
        readings = (Reading("tank", ReadingQuantity.WATER_TEMP, value, taken),)
        fleet = bench.one_room(room, [tank], loads, [chiller], readings=readings)
        return bench.on_hot_day(fleet).hours.all_cooling_lost

    plain = hours(25.0, 1)
    assert plain.low <= plain.mid <= plain.high
    assert hours(28.5, 1).low < plain.low
    assert hours(28.5, 10).low == plain.low
    assert hours(29.6, 0).low == 0.0


def test_a_room_without_air_conditioning_has_none_to_lose(bench, room, tank, loads, chiller):
    fleet = bench.one_room(replace(room, air_conditioned=False), [tank], loads, [chiller])
    hot, off = bench.on_hot_day(fleet), bench.with_ac_off(fleet)
    assert hot.hours.ac_lost is None
    assert hot.hours.ac_and_cooling_lost == hot.hours.all_cooling_lost
    assert off.required_w == pytest.approx(hot.required_w)


def test_the_largest_tanks_are_followed_until_their_day_repeats(bench, room, tank):
    """50 m3 behind an own wall figure: a quarter of its rise shows in a day, the repeating day shows all of it."""
    plain = replace(
        tank, length_m=8.0, width_m=3.0, height_m=2.1, net_volume_m3=50.0, wall_ua_w_per_k=150.0, lid=Lid.OPEN
    )
    pumps = Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, 6000.0, date.min)
    result = bench.on_hot_day(bench.one_room(room, [plain], [pumps]))
    assert result.peak_c == pytest.approx(result.equilibrium_c, abs=0.15)
    assert result.peak_c > tank.target_c + 4.0


def test_a_chiller_that_stands_by_for_a_warmer_tank_does_not_cool_the_better_for_it(bench, room, tank, loads, chiller):
    """Only the water that runs through it counts: a standby duty adds nothing while it stands by (common practice)."""
    warm = replace(tank, code="warm", target_c=28.0, act_high_c=33.0)
    lit = (*loads, *(replace(load, tank="warm", power_w=2.0 * load.power_w) for load in loads))
    own = replace(chiller, code="own", rated_cooling_w=900.0)
    small = replace(chiller, rated_cooling_w=250.0, rated_power_w=90.0)
    duties = [Duty("chiller", "tank", date.min), Duty("own", "warm", date.min)]
    standing_by = Duty("chiller", "warm", date.min, role=Role.STANDBY)

    def of_the_tank(*more):
        fleet = bench.one_room(
            room,
            [tank, warm],
            lit,
            [small, own],
            [bench.beside(), bench.beside("own")],
            [*duties, *more],
            history=(ServiceRecord("chiller", "run-idle-chiller", bench.day - timedelta(days=7)),),
        )
        return next(row for row in assess(fleet, {}) if row.tank == "tank" and row.scenario is Scenario.AC_OFF)

    alone, with_standby = of_the_tank(), of_the_tank(standing_by)
    assert with_standby.peak_c == pytest.approx(alone.peak_c, abs=0.02)
    assert with_standby.hours.ac_lost.low == pytest.approx(alone.hours.ac_lost.low, abs=0.05)


@pytest.fixture(scope="module")
def made_up():
    """The register of any size that the benchmarks measure with."""
    path = Path(__file__).parents[1] / "benchmarks" / "fleets.py"
    spec = importlib.util.spec_from_file_location("benchmarks_fleets", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.made_up


def test_a_tank_gets_the_same_figures_alone_and_among_a_fleet(made_up):
    """Twelve rooms of ten tanks; only what shares a room or a device with a tank may count for it."""
    fleet = made_up(120, seed=3)
    whole = {(row.tank, row.scenario): row for row in assess(fleet, {})}
    for code in ("t2", "t45", "t102"):
        for row in assess(fleet, {}, tanks=[code]):
            other = whole[row.tank, row.scenario]
            assert row.state is other.state
            for field in ("required_w", "peak_c", "equilibrium_c", "evaporation_l_per_day"):
                assert getattr(row, field) == pytest.approx(getattr(other, field), rel=1e-9, abs=1e-9), field
            mine, others = (
                [getattr(one.hours, name).low for name in ("all_cooling_lost", "ac_lost", "ac_and_cooling_lost")]
                for one in (row, other)
            )
            assert mine == [value if value is None else pytest.approx(value, rel=1e-9) for value in others]


def test_the_day_that_repeats_itself_does_so_for_chillers_that_trip_in_their_stands_too(made_up):
    """One more day from its end ends where it began. Some of these machines trip only at the steps of ten minutes."""
    fleet = made_up(120, seed=3)
    model = build(fleet, {}, [tank.code for tank in fleet.tanks])
    day = repeating_day(model, at_peak(model, 0).share)
    cases, links, fans = day.cases, model.devices.links, model.devices.fans
    controls = Controls(
        np.repeat(links.duty[:, None], cases.side.size, axis=1),
        np.repeat(fans.duty[:, None], cases.side.size, axis=1),
        at_peak(model, 0).share,
    )
    after = simulate(
        cases, controls, start_c=day.course.end_c, start_hour=np.zeros(cases.side.size, dtype=np.intp), hours=24.0
    )
    assert np.abs(after.end_c - day.course.end_c).max() < 0.02
    assert after.peak_c == pytest.approx(day.course.peak_c, abs=0.02)
