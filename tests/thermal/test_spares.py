"""Spares in store: which count, what each gives, and which goes where."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.thermal.outage import outage
from fleet.thermal.spares import HORIZON_H, Trial, assign
from fleet.values.assessment import HoursToLimit
from fleet.values.outage import Failure, SpareGives
from fleet.values.register import Placement, ServiceRecord
from fleet.values.spread import Spread
from fleet.values.vocabulary import Finding, Reaches, Where

AC_OFF = Failure(ac_off=("room",))


@pytest.fixture
def stored(bench, room, tank, loads, chiller):
    """A small and a large tank that a failed A/C takes over their limits, and spares of these watts in store."""

    def make(*spares, history=None):
        small = replace(tank, code="small", net_volume_m3=0.1)
        devices = [replace(chiller, code=code, rated_cooling_w=watts) for code, watts in spares]
        tested = tuple(
            ServiceRecord(device.code, "rotate-spare-units", bench.day - timedelta(days=20), finding=Finding.SOUND)
            for device in devices
        )
        placements = [Placement(device.code, Where.STORE, date.min, room="room") for device in devices]
        heat = [replace(load, tank=code) for load in loads for code in ("tank", "small")]
        records = tested if history is None else history
        return bench.one_room(room, [tank, small], heat, devices, placements, duties=(), history=records)

    return make


def spares_by_tank(result):
    return {row.tank: row.spare for row in result.rows}


def test_a_spare_that_is_large_enough_holds_the_most_urgent_tank(stored):
    given_to = spares_by_tank(outage(stored(("spare", 1500.0)), {}, AC_OFF))
    assert given_to["tank"] is None
    assert given_to["small"].device == "spare"
    assert given_to["small"].hours.reaches_limit is Reaches.NO
    assert given_to["small"].capacity_w.low > 0.0


def test_each_spare_goes_to_one_tank_and_each_tank_gets_one(stored):
    given_to = spares_by_tank(outage(stored(("one", 1500.0), ("two", 1500.0), ("three", 1500.0)), {}, AC_OFF))
    assert len({spare.device for spare in given_to.values()}) == len(given_to) == 2


def test_a_spare_never_shortens(stored):
    plain = {row.tank: row.hours for row in outage(stored(), {}, AC_OFF).rows}
    for watts in (50.0, 150.0, 400.0):
        for row in outage(stored(), {}, AC_OFF, spare_w=watts).rows:
            if row.spare is not None:
                assert row.spare.hours.low is None or row.spare.hours.low >= plain[row.tank].low
                assert row.spare.rated_w == watts
                assert row.spare.device is None


def test_a_larger_spare_never_gives_less(stored):
    def gives(watts):
        rows = outage(stored(), {}, AC_OFF, spare_w=watts).rows
        return {row.tank: math.inf if row.spare and row.spare.hours.low is None else row.spare for row in rows}

    def hours(spare):
        return spare if isinstance(spare, float) else 0.0 if spare is None else spare.hours.low

    before = {"tank": 0.0, "small": 0.0}
    for watts in (100.0, 300.0, 1500.0):
        now = {tank: hours(spare) for tank, spare in gives(watts).items()}
        assert all(now[tank] >= before[tank] for tank in now)
        before = now
    assert set(before.values()) == {math.inf}


def test_a_spare_that_was_not_run_lately_or_failed_does_not_count_and_is_named(bench, stored):
    def left_out(*records):
        result = outage(stored(("spare", 1500.0), history=records), {}, AC_OFF)
        assert all(row.spare is None for row in result.rows)
        return dict(result.spares_left_out)["spare"]

    def run(days, finding=None, task="run-idle-chiller"):
        return ServiceRecord("spare", task, bench.day - timedelta(days=days), finding=finding)

    assert left_out() == "never run on record"
    assert left_out(run(10, task="clean-intake-screen")) == "never run on record"
    assert left_out(run(85)) == "not run within twelve weeks"
    assert left_out(run(30, Finding.SOUND), run(5, Finding.FAULT)) == "found at fault when it was last run"
    ready = outage(stored(("spare", 1500.0), history=(run(84),)), {}, AC_OFF)
    assert ready.spares_left_out == ()


def test_a_spare_too_far_or_too_late_is_not_sent(stored):
    fleet = stored(("spare", 1500.0))
    soonest = min(row.hours.low for row in outage(fleet, {}, AC_OFF).rows)
    for carrying, expected in ((None, False), (1000.0, False), (soonest / 2.0, True)):
        result = outage(fleet, {}, AC_OFF, carrying_h=lambda device, tank, hours=carrying: hours)
        assert any(row.spare is not None for row in result.rows) is expected


def test_no_spare_runs_where_there_is_no_power(stored):
    rows = outage(stored(("spare", 1500.0)), {}, Failure(power_out=("site",))).rows
    assert all(row.spare is None for row in rows)


def make_trial(device, tank, before, after):
    def hours(value):
        return HoursToLimit(value, value, value, Reaches.NO if value is None else Reaches.YES)

    return Trial(tank, hours(before), SpareGives(device, None, Spread(1.0, 1.0, 1.0), hours(after)), 0.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.5, 60.0), min_size=1, max_size=3),
    st.data(),
)
def test_the_assignment_is_as_good_as_trying_every_other(before, data):
    """Against all permutations of up to three spares on up to three tanks."""
    spares = data.draw(st.integers(1, 3))
    gain = st.one_of(st.none(), st.floats(0.0, 100.0))
    trials = [
        make_trial(f"s{s}", f"t{t}", hours, None if (more := data.draw(gain)) is None else hours + more)
        for s in range(spares)
        for t, hours in enumerate(before)
    ]
    worth = {(trial.gives.device, trial.tank): trial.worth for trial in trials}
    found = assign(trials)
    assert len({gives.device for gives in found.values()}) == len(found)
    total = sum(worth[gives.device, tank] for tank, gives in found.items())
    places = [f"t{t}" for t in range(len(before))] + ["store"] * spares
    best = max(
        sum(worth.get((f"s{s}", place), 0.0) for s, place in enumerate(order))
        for order in itertools.permutations(places, spares)
    )
    assert total == pytest.approx(best)


def test_time_gained_beyond_a_week_counts_no_more():
    holds, long = make_trial("s", "t", 10.0, None), make_trial("s", "t", 10.0, 500.0)
    assert holds.gained_h == long.gained_h == HORIZON_H - 10.0
