"""The course of a tank through its design days: closed, at one with the assessment, and as the physics wants it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from fleet.errors import NotFound
from fleet.thermal.assess import assess
from fleet.thermal.courses import day_courses
from fleet.values.vocabulary import Lid, Scenario

HOT, OFF = Scenario.HOT_DAY, Scenario.AC_OFF


@pytest.fixture
def cooled(bench, room, tank, loads, chiller):
    return bench.one_room(room, [tank], loads, [chiller], [bench.beside()])


def course(fleet, scenario, tank="tank"):
    return next(row for row in day_courses(fleet, {}, tanks=[tank]) if row.scenario is scenario)


def test_a_course_runs_from_midnight_to_midnight_and_closes(cooled):
    for row in day_courses(cooled, {}):
        assert (row.hours[0], row.hours[-1], len(row.hours)) == (0.0, 24.0, 49)
        for values in (row.safe_c, row.likely_c, row.room_c):
            assert len(values) == 49
            assert values[0] == pytest.approx(values[-1], abs=0.02)


def test_its_peak_is_the_one_that_the_assessment_names(cooled, bench, room, tank, loads):
    warm = bench.one_room(room, [tank], loads)
    for fleet in (cooled, warm):
        for found in assess(fleet, {}):
            row = course(fleet, found.scenario)
            assert max(row.safe_c) == pytest.approx(found.peak_c, abs=0.05)
            assert max(row.room_c) == pytest.approx(found.room_peak_c, abs=0.05)


def test_a_chiller_large_enough_holds_the_target_all_day(cooled, tank):
    """Law of the thermostat: what is wanted is delivered where there is more of it."""
    assert course(cooled, HOT).safe_c == pytest.approx([tank.target_c] * 49, abs=0.05)


def test_without_lights_pumps_and_swing_of_the_room_the_water_stands_still(bench, room, tank):
    fleet = bench.one_room(room, [replace(tank, lid=Lid.SEALED)])
    row = course(fleet, HOT)
    assert max(row.safe_c) - min(row.safe_c) < 0.02
    assert row.room_c == pytest.approx([room.hot_day_mean_c] * 49)


def test_the_water_is_warmest_while_or_just_after_the_lights_burn(bench, room, tank, loads):
    """Lights from 9 h on for 9 h: the water of an uncooled tank in a steady room peaks as they go out."""
    timed = tuple(replace(load, on_from=time(9)) if load.hours_per_day else load for load in loads)
    row = course(bench.one_room(room, [tank], timed), HOT)
    assert row.hours[row.safe_c.index(max(row.safe_c))] == pytest.approx(18.0, abs=1.0)
    assert row.hours[row.safe_c.index(min(row.safe_c))] == pytest.approx(9.0, abs=1.0)


def test_no_air_conditioning_makes_it_warmer_and_the_safe_side_is_not_colder(bench, room, tank, loads):
    fleet = bench.one_room(room, [tank], loads)
    assert min(a - b for a, b in zip(course(fleet, OFF).safe_c, course(fleet, HOT).safe_c, strict=True)) > 0.0
    for row in day_courses(fleet, {}):
        assert all(safe >= likely - 1e-9 for safe, likely in zip(row.safe_c, row.likely_c, strict=True))


def test_only_the_tanks_asked_for_are_told_of(bench, room, tank, loads):
    fleet = bench.one_room(room, [tank, replace(tank, code="other")], loads)
    assert {row.tank for row in day_courses(fleet, {}, tanks=["other"])} == {"other"}
    with pytest.raises(NotFound):
        day_courses(fleet, {}, tanks=["nowhere"])
