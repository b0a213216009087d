"""When something fails: who crosses a limit, and when.

Long because every kind of failure is held against the same laws on the same small fleet.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput, NotFound
from fleet.thermal.assess import assess
from fleet.thermal.calibration import Calibration
from fleet.thermal.crossing import first_crossing
from fleet.thermal.failures import ranked_failures
from fleet.thermal.outage import outage
from fleet.thermal.properties import volumetric_heat_capacity
from fleet.values.fleet import snapshot
from fleet.values.outage import Failure
from fleet.values.register import (
    Animals,
    Client,
    Duty,
    Equipment,
    Load,
    Placement,
    Reading,
    RegisterRows,
    Room,
    ServiceRecord,
    Site,
    Tank,
)
from fleet.values.spread import Spread
from fleet.values.vocabulary import (
    DeviceKind,
    EquipmentKind,
    Lid,
    LoadKind,
    Mounting,
    Reaches,
    ReadingQuantity,
    Role,
    Scenario,
    Stand,
    TankKind,
    Where,
)

pytestmark = pytest.mark.slow

FEW = settings(max_examples=5, deadline=None)
AC_OFF = Failure(ac_off=("room",))


def low(result, tank="tank"):
    (row,) = [row for row in result.rows if row.tank == tank]
    return math.inf if row.hours.low is None else row.hours.low


def one(fleet, failure, **options):
    (row,) = outage(fleet, {}, failure, **options).rows
    return row


def three(chiller):
    return [
        replace(chiller, code=code, rated_cooling_w=watts) for code, watts in (("a", 250.0), ("b", 200.0), ("c", 150.0))
    ]


@pytest.fixture
def slab(tank):
    """Almost all of its exchange goes through walls of a given conductance: the open surface is 1/20000 of it."""
    return replace(
        tank,
        length_m=0.05,
        width_m=0.05,
        height_m=4.0,
        net_volume_m3=0.3,
        wall_ua_w_per_k=60.0,
        lid=Lid.SEALED,
        stand=Stand.NONE,
        target_c=25.0,
        act_low_c=20.0,
    )


def test_a_bare_tank_in_constant_air_crosses_when_the_closed_form_says(bench, room, slab):
    """t = -tau ln((limit - room) / (start - room)), tau = C / UA: Newton's law of cooling, analytic."""
    steady = replace(room, ac_off_mean_c=34.0, ac_off_rise_k=0.0, ua_w_per_k=None)
    row = one(bench.one_room(steady, [slab]), AC_OFF)
    tau_h = volumetric_heat_capacity(25.0, 35.0) * 0.3 / 60.0 / 3600.0
    assert row.hours.mid == pytest.approx(-tau_h * math.log((29.5 - 34.0) / (25.5 - 34.0)), rel=2e-3)
    assert row.hours.low < row.hours.mid < row.hours.high
    assert (row.falls, row.limit_c) == (False, 29.5)
    assert row.peak_c == pytest.approx(34.0, abs=0.05)


def test_a_bare_tank_without_power_in_a_cold_room_falls_as_the_closed_form_says(bench, room, slab):
    """The same law downwards, from target less band to the lower limit; the heater on record stands still."""
    heater = Load("tank", "heater", LoadKind.HEATER, 300.0, date.min)
    row = one(bench.one_room(room, [slab], [heater]), Failure(power_out=("site",), air_c=10.0))
    tau_h = volumetric_heat_capacity(25.0, 35.0) * 0.3 / 60.0 / 3600.0
    assert row.hours.mid == pytest.approx(-tau_h * math.log((20.0 - 10.0) / (24.5 - 10.0)), rel=2e-3)
    assert row.hours.low < row.hours.mid < row.hours.high
    assert (row.falls, row.limit_c) == (True, 20.0)
    assert row.peak_c < 20.0


def test_with_power_a_heater_holds_the_tank_in_the_same_cold_room(bench, room, slab, chiller):
    heater = Load("tank", "heater", LoadKind.HEATER, 2000.0, date.min)
    fleet = bench.one_room(room, [slab], [heater], [chiller])
    assert one(fleet, Failure(lost=("chiller",), air_c=10.0)).hours.reaches_limit is Reaches.NO


def test_the_crossing_of_a_straight_line_is_exact():
    hours = np.array([0.0, 1.0, 3.0])
    temps = np.array([[20.0, 21.0, 25.0], [20.0, 19.0, 15.0]])
    assert first_crossing(temps, hours, np.array([23.0, 23.0]), falling=False) == pytest.approx([2.0, np.inf])
    assert first_crossing(temps, hours, np.array([17.0, 17.0]), falling=True) == pytest.approx([np.inf, 2.0])
    assert first_crossing(temps, hours, np.array([20.0, 20.0]), falling=False) == pytest.approx([0.0, 0.0])
    assert np.isinf(first_crossing(temps, hours, np.array([-np.inf, -np.inf]), falling=True)).all()


def test_an_outage_agrees_with_the_hours_that_every_assessment_tells(bench, room, tank, loads, chiller):
    fleet = bench.one_room(room, [tank], loads, [replace(chiller, rated_cooling_w=300.0)], [bench.beside()])
    hours = assess(fleet, {}, scenarios=(Scenario.HOT_DAY,))[0].hours
    for failure, told in (
        (AC_OFF, hours.ac_lost),
        (Failure(lost=("chiller",)), hours.all_cooling_lost),
        (Failure(ac_off=("room",), lost=("chiller",)), hours.ac_and_cooling_lost),
    ):
        found = one(fleet, failure).hours
        assert found.reaches_limit is told.reaches_limit
        for side in ("low", "mid", "high"):
            if getattr(told, side) is None:
                assert getattr(found, side) is None
            else:
                # The two interpolate alike; the kept course holds the ends of steps only.
                assert getattr(found, side) == pytest.approx(getattr(told, side), abs=0.02)


def test_what_a_log_told_of_a_tank_holds_in_its_failures_too(monkeypatch, bench, room, tank, loads, chiller):
    """A tank that was found to shed half as much heat again has longer without its chiller, and cools faster without
    power; the log is that of the fleet unharmed, whatever has failed since."""
    fleet = bench.one_room(room, [replace(tank, act_low_c=20.0)], loads, [chiller], [bench.beside()])

    def found(scale):
        told = Calibration("tank", bench.day, 100, 0.05, Spread(scale, scale, scale), Spread(1.0, 1.0, 1.0))
        monkeypatch.setattr("fleet.thermal.outage.calibrations_of", lambda *_: (told,))
        lost = one(fleet, Failure(lost=("chiller",)))
        dark = one(fleet, Failure(power_out=("site",), air_c=10.0))
        return lost, dark

    (lost, dark), (shedding_lost, shedding_dark) = found(1.0), found(1.5)
    assert shedding_lost.peak_c < lost.peak_c
    assert shedding_dark.hours.mid == pytest.approx(dark.hours.mid / 1.5, rel=0.05)


def test_losing_more_never_gives_more_time(bench, room, tank, loads, chiller):
    devices = three(chiller)
    fleet = bench.one_room(room, [tank], loads, devices, [bench.beside(device.code) for device in devices])
    time_left = {
        some: low(outage(fleet, {}, Failure(lost=some)))
        for size in (1, 2, 3)
        for some in itertools.combinations("abc", size)
    }
    for fewer, more in itertools.product(time_left, repeat=2):
        if set(fewer) < set(more):
            assert time_left[more] <= time_left[fewer]
    for some in (("a",), ("a", "b", "c")):
        assert low(outage(fleet, {}, Failure(lost=some, ac_off=("room",)))) <= time_left[some]
    assert time_left["a", "b", "c"] < math.inf


def test_no_hour_of_the_day_is_worse_than_the_worst(bench, room, tank, loads, chiller):
    fleet = bench.one_room(room, [tank], loads, [chiller])
    worst = low(outage(fleet, {}, Failure(lost=("chiller",))))
    for hour in (0, 8, 16):
        assert low(outage(fleet, {}, Failure(lost=("chiller",), at=time(hour)))) >= worst


def test_between_two_full_hours_the_worse_of_both_counts(bench, room, tank, loads, chiller):
    fleet = bench.one_room(room, [tank], loads, [chiller])

    def at(hour, minute=0):
        return low(outage(fleet, {}, Failure(lost=("chiller",), at=time(hour, minute))))

    assert at(9, 30) == min(at(9), at(10))
    assert at(23, 30) == min(at(23), at(0))


def test_a_tested_standby_steps_in_and_an_untested_one_does_not(bench, room, tank, loads, chiller):
    standby = replace(chiller, code="standby")
    placements = [bench.beside(), bench.beside("standby")]
    duties = [Duty("chiller", "tank", date.min), Duty("standby", "tank", date.min, Role.STANDBY)]

    def row(*tested):
        history = tuple(ServiceRecord("standby", "run-idle-chiller", day) for day in tested)
        hot = replace(room, hot_day_mean_c=31.0)
        fleet = bench.one_room(hot, [tank], loads, [chiller, standby], placements, duties, history=history)
        return one(fleet, Failure(lost=("chiller",)))

    ready, never, long_ago = row(bench.day - timedelta(days=10)), row(), row(bench.day - timedelta(days=100))
    assert ready.hours.reaches_limit is Reaches.NO
    assert ready.stepped_in == ("standby",)
    assert ready.n_minus_1_after == -1.0
    for untested in (never, long_ago):
        assert untested.hours.reaches_limit is Reaches.YES
        assert untested.stepped_in == ()


def test_what_hangs_on_one_pump_fails_with_it(bench, room, tank, loads, chiller):
    devices = three(chiller)
    pump = Equipment("pump", EquipmentKind.PUMP, "Loop pump", serves=("a", "b"))
    fleet = bench.one_room(room, [tank], loads, devices, equipment=(pump,))
    both = outage(fleet, {}, Failure(lost=("a", "b")))
    assert outage(fleet, {}, Failure(lost=("pump",))).rows == both.rows
    assert outage(fleet, {}, Failure(flow_lost=("pump",))).rows == both.rows


def test_the_margin_that_one_more_loss_leaves(bench, room, tank, loads, chiller):
    devices = three(chiller)
    fleet = bench.one_room(room, [tank], loads, devices, [bench.beside(device.code) for device in devices])
    alone = bench.on_hot_day(bench.one_room(room, [tank], loads, devices[2:], [bench.beside("c")]))
    assert one(fleet, Failure(lost=("a",))).n_minus_1_after == pytest.approx(alone.margin.low, abs=1e-6)
    assert one(fleet, Failure(lost=("a", "b"))).n_minus_1_after == -1.0


def test_only_the_room_whose_air_conditioning_fails_warms(bench, room, tank, loads):
    next_room = replace(room, code="next", name="Next door")
    neighbour = replace(tank, code="neighbour", room="next")
    fleet = bench.one_room(room, [tank, neighbour], loads)
    fleet = replace(fleet, rooms=(*fleet.rooms, next_room))
    assert [row.tank for row in outage(fleet, {}, AC_OFF).rows] == ["tank"]
    both = outage(fleet, {}, Failure(ac_off=("site",)))
    assert {row.tank for row in both.rows} == {"tank", "neighbour"}
    assert low(both) == pytest.approx(low(outage(fleet, {}, AC_OFF)))


def test_a_tank_suffers_when_the_room_of_its_chiller_warms(bench, room, tank, loads, chiller):
    plant = replace(room, code="plant", name="Plant room", ac_off_mean_c=52.0)
    placement = Placement("chiller", Where.OTHER_ROOM, date.min, room="plant", clearance_m=0.5)
    fleet = bench.one_room(replace(room, hot_day_mean_c=31.0), [tank], loads, [chiller], [placement])
    fleet = replace(fleet, rooms=(*fleet.rooms, plant))
    row = one(fleet, Failure(ac_off=("plant",)))
    assert row.tank == "tank"
    assert row.hours.reaches_limit is Reaches.YES


def test_without_power_the_heat_of_pumps_and_lamps_stops_too(bench, room, tank, loads, chiller):
    fleet = bench.one_room(replace(room, ac_off_mean_c=30.0), [tank], loads, [chiller])
    dark = one(fleet, Failure(power_out=("site",)))
    cooling_only = one(fleet, Failure(lost=("chiller",), ac_off=("room",)))
    assert dark.peak_c < cooling_only.peak_c
    assert dark.spare is None


def test_animals_go_on_giving_heat_without_power(bench, room, tank):
    closed = replace(tank, lid=Lid.SEALED)
    crowd = (Animals("tank", "fish", date.min, mass_kg=60.0),)
    empty, full = (
        one(bench.one_room(room, [closed], animals=animals), Failure(power_out=("site",))) for animals in ((), crowd)
    )
    assert full.peak_c > empty.peak_c + 0.3


def test_the_moment_is_told_on_the_clock_of_the_site_across_a_change_of_clocks(bench, room, tank, loads):
    """In Europe/London clocks went forward at 01:00 UTC on 29 March 2026 (IANA time zone data)."""
    fleet = replace(bench.one_room(room, [tank], loads), day=date(2026, 3, 28))
    row = one(fleet, Failure(ac_off=("room",), at=time(22)))
    assert row.begins_at.isoformat() == "2026-03-28T22:00:00+00:00"
    assert row.hours.low > 3.0
    assert row.limit_at.utcoffset() == timedelta(hours=1)
    assert row.limit_at.astimezone(UTC) - row.begins_at.astimezone(UTC) == timedelta(hours=row.hours.low)


def test_a_recent_reading_says_where_it_begins(bench, room, tank, loads):
    def begun_from(value):
        taken = datetime(2026, 5, 3, 6, tzinfo=UTC)
        readings = (Reading("tank", ReadingQuantity.WATER_TEMP, value, taken),)
        return bench.one_room(room, [tank], loads, readings=readings)

    assert low(outage(begun_from(28.5), {}, AC_OFF)) < low(outage(begun_from(25.0), {}, AC_OFF))
    assert low(outage(begun_from(29.6), {}, AC_OFF)) == 0.0
    cold = Failure(power_out=("site",), air_c=12.0)
    marked = replace(tank, act_low_c=20.0)

    def falls_from(value):
        fleet = begun_from(value)
        return low(outage(replace(fleet, tanks=(marked,)), {}, cold))

    assert falls_from(22.0) < falls_from(26.0)


def test_a_chiller_that_never_stops_takes_the_tank_to_its_lower_limit(bench, room, tank, loads, chiller):
    marked = replace(tank, act_low_c=21.0)

    def hours(watts):
        fleet = bench.one_room(room, [marked], loads, [replace(chiller, rated_cooling_w=watts)], [bench.beside()])
        return one(fleet, Failure(stuck_on=("chiller",)))

    small, large = hours(600.0), hours(1200.0)
    assert small.falls
    assert small.limit_c == 21.0
    assert large.hours.low < small.hours.low
    assert hours(100.0).hours.reaches_limit is Reaches.NO


def test_without_a_lower_limit_nobody_can_say_when_a_stuck_chiller_does_harm(bench, room, tank, loads, chiller):
    row = one(bench.one_room(room, [tank], loads, [chiller], [bench.beside()]), Failure(stuck_on=("chiller",)))
    assert row.hours.reaches_limit is Reaches.UNKNOWN
    assert any("no lower limit" in note for note in row.notes)


def test_a_heater_that_never_stops_warms_the_tank(bench, room, tank):
    def row(watts):
        heater = Load("tank", "heater", LoadKind.HEATER, watts, date.min)
        item = Equipment("heater", EquipmentKind.HEATER, "Heater", tank="tank")
        return one(bench.one_room(room, [tank], [heater], equipment=(item,)), Failure(stuck_on=("heater",)))

    assert row(600.0).hours.low < row(300.0).hours.low
    assert row(10.0).hours.reaches_limit is Reaches.NO


def test_what_still_runs_but_says_nothing_of_itself_leaves_the_end_unknown(bench, room, tank, loads, chiller):
    blank = replace(chiller, code="blank", rated_cooling_w=None, rated_power_w=None)
    hot = replace(room, hot_day_mean_c=31.0)
    row = one(bench.one_room(hot, [tank], loads, [chiller, blank]), Failure(lost=("chiller",)))
    assert row.hours.reaches_limit is Reaches.UNKNOWN
    assert (row.hours.mid, row.hours.high) == (None, None)
    assert row.hours.low is not None, "counted as nothing, it still says the soonest"
    assert one(bench.one_room(hot, [tank], loads, [chiller, blank]), Failure(lost=("blank",))).hours.reaches_limit in (
        Reaches.YES,
        Reaches.NO,
    )


def test_the_most_urgent_comes_first(bench, room, tank, loads):
    small = replace(tank, code="small", net_volume_m3=0.05)
    large = replace(tank, code="large", net_volume_m3=1.0)
    safe = replace(tank, code="safe", act_high_c=40.0, watch_high_c=39.0)
    heat = [replace(load, tank=code) for load in loads for code in ("tank", "small", "large", "safe")]
    rows = outage(bench.one_room(room, [large, safe, tank, small], heat), {}, AC_OFF).rows
    assert [row.tank for row in rows] == ["small", "tank", "large", "safe"]
    assert rows[-1].hours.reaches_limit is Reaches.NO
    assert rows[-1].limit_at is None


def test_what_cannot_fail_is_refused_in_one_line(bench, room, tank, loads, chiller):
    heater = Equipment("heater", EquipmentKind.HEATER, "Heater", tank="tank")
    alarm = Equipment("alarm", EquipmentKind.ALARM, "Alarm", tank="tank")
    fan = replace(chiller, code="fan", kind=DeviceKind.SURFACE_FAN)
    cool = replace(room, air_conditioned=False)
    fleet = bench.one_room(cool, [tank], loads, [chiller, fan], equipment=(heater, alarm))
    for failure, error, words in (
        (Failure(), BadInput, "nothing fails"),
        (Failure(lost=("chilller",)), NotFound, "the nearest is chiller"),
        (Failure(lost=("site",)), BadInput, "expected a device"),
        (Failure(lost=("alarm",)), BadInput, "no cooling device hangs on alarm"),
        (Failure(ac_off=("room",)), BadInput, "no air conditioning"),
        (Failure(power_out=("room",)), BadInput, "expected a site"),
        (Failure(stuck_on=("fan",)), BadInput, "runs all the time"),
        (Failure(stuck_on=("heater",)), BadInput, "power of the heater of tank is not on record"),
        (Failure(stuck_on=("alarm",)), BadInput, "on record as alarm"),
        (Failure(lost=("chiller",), air_c=150.0), BadInput, "-20 to 60"),
    ):
        with pytest.raises(error, match=words):
            outage(fleet, {}, failure)
    for watts in (0.0, -5.0, 1e9, math.nan):
        with pytest.raises(BadInput, match="a spare of"):
            outage(fleet, {}, Failure(lost=("chiller",)), spare_w=watts)


def test_a_plant_lost_ranks_before_each_of_its_machines(bench, room, tank, loads, chiller):
    devices = three(chiller)
    hot = replace(room, hot_day_mean_c=31.0)
    placements = [bench.beside(device.code) for device in devices]
    pump = Equipment("pump", EquipmentKind.PUMP, "Loop pump", serves=("a", "b"))
    fleet = bench.one_room(hot, [tank], loads, devices, placements, equipment=(pump,))
    ranked = ranked_failures(fleet, {}, "site")
    order = [each.failure.lost for each in ranked]
    assert order.index(("a", "b", "c")) < order.index(("a", "b")) < min(order.index((code,)) for code in "abc")
    kinds = {each.kind for each in ranked}
    assert kinds == {"plant", "together", "device", "room-ac", "power"}
    firsts = [math.inf if each.rows[0].hours.low is None else each.rows[0].hours.low for each in ranked]
    assert firsts == sorted(firsts)
    with pytest.raises(NotFound):
        ranked_failures(fleet, {}, "nowhere")


@FEW
@given(st.floats(24.0, 40.0), st.floats(0.05, 3.0))
def test_a_warmer_room_and_less_water_never_give_more_time(warm_c, volume_m3):
    def hours(air_c, water_m3):
        room = Room("room", "site", "Hall", hot_day_mean_c=23.0, ac_off_mean_c=air_c, ac_off_rise_k=1.0)
        tank = Tank("tank", "room", "Reef", TankKind.REEF, 1.2, 0.5, 0.5, 25.0, net_volume_m3=water_m3, act_high_c=29.5)
        pump = Load("tank", "pump", LoadKind.OTHER, 60.0, date.min, mounting=Mounting.IN_WATER)
        rows = RegisterRows(
            clients=(Client("client", "Harbour"),),
            sites=(Site("site", "client", "Harbour", "UTC"),),
            rooms=(room,),
            tanks=(tank,),
            loads=(pump,),
        )
        return low(outage(snapshot(rows, date(2026, 5, 4)), {}, AC_OFF))

    assert hours(warm_c + 2.0, volume_m3) <= hours(warm_c, volume_m3) + 1e-6
    assert hours(warm_c, volume_m3 / 2.0) <= hours(warm_c, volume_m3) + 1e-6
