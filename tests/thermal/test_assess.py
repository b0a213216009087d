"""The door: states, margins, hours, devices and what is said to have been assumed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import pytest

from fleet.errors import NotFound
from fleet.thermal.assess import assess
from fleet.thermal.verdict import judge
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.register import (
    Animals,
    Device,
    Duty,
    Equipment,
    Load,
    Placement,
    Room,
    ServiceRecord,
    Site,
    Tank,
)
from fleet.values.spread import Spread
from fleet.values.vocabulary import (
    DeviceKind,
    EquipmentKind,
    LoadKind,
    MarginState,
    Reaches,
    Role,
    Stand,
    TankKind,
    Where,
)


def test_a_chiller_of_ample_size_holds_the_reef(bench, room, tank, loads, chiller):
    result = bench.on_hot_day(bench.one_room(room, [tank], loads, [chiller], [bench.beside()]))
    assert result.state is MarginState.AMPLE
    assert result.margin.low == pytest.approx(result.available_w.low / result.required_w - 1.0)
    assert result.margin.low < result.margin.mid < result.margin.high
    assert result.peak_c == pytest.approx(tank.target_c, abs=0.02)
    assert 0.0 < result.duty < 1.0
    assert result.n_minus_1_margin == -1.0


def test_without_a_device_a_tank_rides_or_is_short(bench, room, tank, loads):
    cool = bench.on_hot_day(bench.one_room(replace(room, hot_day_mean_c=21.0), [tank], loads[:1]))
    hot = bench.on_hot_day(bench.one_room(room, [tank], loads))
    assert cool.state in (MarginState.RIDES, MarginState.NONE_NEEDED)
    assert cool.peak_c <= 28.0
    assert hot.state is MarginState.SHORT
    assert hot.peak_c > 28.0
    assert hot.available_w is None
    assert hot.margin is None
    assert hot.n_minus_1_margin is None


def test_a_tank_that_only_loses_heat_needs_nothing(bench, room, tank, chiller):
    cold_room = replace(room, hot_day_mean_c=18.0)
    for devices in ([], [chiller]):
        result = bench.on_hot_day(bench.one_room(cold_room, [tank], [], devices))
        assert result.state is MarginState.NONE_NEEDED
        assert result.required_w <= 0.0
        assert result.margin is None


def test_a_plate_without_a_figure_leaves_the_margin_unknown(bench, room, tank, loads):
    bare = Device("chiller", DeviceKind.CHILLER, "Chiller", plate="Super Cool")
    result = bench.on_hot_day(bench.one_room(room, [tank], loads, [bare], [bench.beside()]))
    assert result.state is MarginState.UNKNOWN
    assert result.margin is None
    assert result.devices[0].capacity_w is None
    assert result.hours.ac_lost.reaches_limit is Reaches.UNKNOWN
    assert result.hours.all_cooling_lost.reaches_limit is Reaches.YES


def test_a_plate_with_only_a_volume_is_told_to_be_unverified(bench, room, tank, loads):
    bare = Device("chiller", DeviceKind.CHILLER, "Chiller", rated_volume_m3=0.8)
    result = bench.on_hot_day(bench.one_room(room, [tank], loads, [bare], [bench.beside()]))
    assert any("unverified" in note for note in result.notes)
    assert "unverified" in result.devices[0].plate_basis


def test_a_plate_in_watts_at_35_c_air_is_worth_more_in_a_cooler_room(bench, room, tank, loads, chiller):
    """AHRI 550/590 rates air-cooled packages at 95 °F (35 °C) entering air."""
    at_35 = replace(chiller, rated_air_temp_c=35.0, rated_water_temp_c=25.0)
    plain, stated = (
        bench.on_hot_day(bench.one_room(room, [tank], loads, [device], [bench.beside()])).available_w
        for device in (chiller, at_35)
    )
    assert stated.mid > plain.mid * 1.03


def test_a_choked_screen_trips_a_chiller_that_still_has_nominal_capacity(bench, room, tank, loads, chiller):
    """At 0.3 of its air flow a condenser with 30 °C about it passes the cut-out."""
    old = replace(chiller, installed=date(2020, 1, 1))
    history = (ServiceRecord("chiller", "clean-intake-screen", date(2024, 5, 4)),)
    hot = replace(room, hot_day_mean_c=32.0, hot_day_rise_k=2.0)
    fleet = bench.one_room(hot, [tank], loads, [old], [bench.beside()], history=history)
    result = bench.on_hot_day(fleet)
    assert result.devices[0].screen_airflow == 0.3
    assert result.state is MarginState.TRIPS
    assert result.available_w.low == 0.0
    assert result.devices[0].trips
    clean = (*history, ServiceRecord("chiller", "clean-intake-screen", bench.day))
    cleaned = bench.on_hot_day(bench.one_room(hot, [tank], loads, [old], [bench.beside()], history=clean))
    assert cleaned.state is not MarginState.TRIPS


@pytest.mark.parametrize("target_c", [6.0, 31.0])
def test_outside_the_range_of_its_curve_a_chiller_counts_as_nothing(bench, room, tank, loads, chiller, target_c):
    odd = replace(tank, target_c=target_c, watch_high_c=target_c + 1, act_high_c=target_c + 2)
    result = bench.on_hot_day(
        bench.one_room(replace(room, hot_day_mean_c=33.0), [odd], loads, [chiller], [bench.beside()])
    )
    assert result.state is MarginState.TRIPS
    assert any("8 to 30" in note for note in result.devices[0].notes)


def test_where_it_stands_decides_what_a_chiller_breathes(bench, room, tank, loads, chiller):
    site = Site("site", "client", "Harbour house", "Europe/London", outdoor_design_peak_c=38.0, elevation_m=0.0)
    closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=100.0)
    inlet = {
        where: bench.on_hot_day(
            bench.one_room(room, [closed], loads, [chiller], [bench.beside(where=where)], site=site)
        ).devices[0].condenser_inlet_c
        for where in (Where.IN_STAND, Where.IN_STAND_VENTED, Where.BESIDE_TANK, Where.THROUGH_PANEL, Where.OUTDOORS)
    }  # fmt: skip
    assert inlet[Where.THROUGH_PANEL] == pytest.approx(room.hot_day_mean_c, abs=0.1)
    assert inlet[Where.THROUGH_PANEL] < inlet[Where.BESIDE_TANK] < inlet[Where.IN_STAND]
    assert inlet[Where.IN_STAND_VENTED] < inlet[Where.IN_STAND]
    assert inlet[Where.OUTDOORS] > 38.0


def test_a_device_in_store_counts_for_nothing(bench, room, tank, loads, chiller):
    result = bench.on_hot_day(bench.one_room(room, [tank], loads, [chiller], [bench.beside(where=Where.STORE)]))
    assert result.devices == ()
    assert result.available_w is None


def test_a_chiller_on_two_tanks_is_shared_by_need(bench, room, tank, loads, chiller):
    big = replace(tank, code="big", length_m=1.8, net_volume_m3=0.4)
    more = [*loads, *(replace(load, tank="big", power_w=load.power_w * 2) for load in loads)]
    fleet = bench.one_room(room, [tank, big], more, [chiller], [bench.beside()])
    small_share, big_share = (bench.on_hot_day(fleet, code).devices[0].capacity_w.mid for code in ("tank", "big"))
    alone = bench.on_hot_day(bench.one_room(room, [tank], loads, [chiller], [bench.beside()]))
    assert small_share < big_share
    assert small_share + big_share == pytest.approx(alone.devices[0].capacity_w.mid, rel=0.01)


def test_the_coldest_tank_on_a_chiller_sets_its_capacity(bench, room, tank, loads, chiller):
    cold = replace(tank, code="cold", target_c=15.0)
    together = bench.one_room(room, [tank, cold], loads, [chiller], [bench.beside()])
    total = sum(bench.on_hot_day(together, code).devices[0].capacity_w.mid for code in ("tank", "cold"))
    alone = bench.on_hot_day(bench.one_room(room, [tank], loads, [chiller], [bench.beside()]))
    assert total < 0.85 * alone.devices[0].capacity_w.mid


def with_standby(bench, room, tank, loads, chiller, history=(), equipment=()):
    spare = replace(chiller, code="spare")
    return bench.one_room(
        room,
        [tank],
        loads,
        [chiller, spare],
        [bench.beside(), bench.beside("spare")],
        [Duty("chiller", "tank", date.min), Duty("spare", "tank", date.min, role=Role.STANDBY)],
        history=history,
        equipment=equipment,
    )


def test_a_standby_counts_only_when_another_fails_and_only_if_it_was_run(bench, room, tank, loads, chiller):
    untested = bench.on_hot_day(with_standby(bench, room, tank, loads, chiller))
    run = (ServiceRecord("spare", "run-idle-chiller", bench.day - timedelta(days=30)),)
    tested = bench.on_hot_day(with_standby(bench, room, tank, loads, chiller, run))
    stale = (ServiceRecord("spare", "run-idle-chiller", bench.day - timedelta(days=100)),)
    forgotten = bench.on_hot_day(with_standby(bench, room, tank, loads, chiller, stale))
    assert untested.available_w == tested.available_w
    assert untested.n_minus_1_margin == forgotten.n_minus_1_margin == -1.0
    assert tested.n_minus_1_margin == pytest.approx(tested.margin.low)
    assert [row.role for row in tested.devices] == [Role.DUTY, Role.STANDBY]
    assert tested.hours.largest_lost.reaches_limit is Reaches.NO
    assert untested.hours.largest_lost.reaches_limit is Reaches.YES
    assert any("twelve weeks" in note for note in untested.devices[1].notes)


def test_devices_on_one_outlet_fail_together(bench, room, tank, loads, chiller):
    run = (ServiceRecord("spare", "run-idle-chiller", bench.day - timedelta(days=30)),)
    outlet = (Equipment("gfci", EquipmentKind.GFCI, "Outlet", site="site", serves=("chiller", "spare")),)
    result = bench.on_hot_day(with_standby(bench, room, tank, loads, chiller, run, outlet))
    assert result.n_minus_1_margin == -1.0


def test_a_surface_fan_gives_what_leaves_with_it_less_what_leaves_without(bench, room, tank, loads):
    fan = Device("fan", DeviceKind.SURFACE_FAN, "Fan", air_flow_m3_h=100.0, fan_diameter_m=0.12, installed=bench.day)
    result = bench.on_hot_day(bench.one_room(room, [tank], loads, [fan]))
    assert result.devices[0].capacity_w.low > 0.0
    assert result.devices[0].condenser_inlet_c is None
    bare = bench.on_hot_day(bench.one_room(room, [tank], loads))
    assert result.required_w == pytest.approx(bare.required_w)
    assert result.evaporation_l_per_day > bare.evaporation_l_per_day * 0.5
    assert result.peak_c < bare.peak_c


def test_a_fan_is_not_relied_on_in_a_closed_room_of_unknown_size(bench, room, tank, loads):
    fan = Device("fan", DeviceKind.SURFACE_FAN, "Fan", air_flow_m3_h=100.0, fan_diameter_m=0.12, installed=bench.day)
    result = bench.with_ac_off(bench.one_room(replace(room, volume_m3=None), [tank], loads, [fan]))
    assert result.devices[0].capacity_w == Spread(0.0, 0.0, 0.0)
    assert result.state is MarginState.SHORT
    assert any("count as nothing" in note for note in result.notes)


def test_a_fan_warms_a_cold_tank_and_the_card_says_so(bench, room, tank, loads):
    fan = Device("fan", DeviceKind.SURFACE_FAN, "Fan", air_flow_m3_h=100.0, fan_diameter_m=0.12)
    cold = replace(tank, kind=TankKind.COLD_MARINE, target_c=12.0, act_high_c=16.0, watch_high_c=14.0)
    humid = replace(room, relative_humidity=0.65)
    result = bench.on_hot_day(bench.one_room(humid, [cold], loads, [fan]))
    assert result.devices[0].capacity_w.high == 0.0
    assert any("warms" in note for note in result.notes)


def test_a_stand_fan_helps_through_the_air_of_the_stand(bench, room, tank, loads, chiller):
    closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=10.0)
    fan = Device("fan", DeviceKind.STAND_FAN, "Fan", air_flow_m3_h=150.0, installed=bench.day)
    places = [bench.beside(where=Where.IN_STAND)]
    without = bench.on_hot_day(bench.one_room(room, [closed], loads, [chiller], places))
    helped = bench.on_hot_day(bench.one_room(room, [closed], loads, [chiller, fan], places))
    assert helped.margin.low > without.margin.low
    assert {row.device: row.capacity_w is None for row in helped.devices} == {"chiller": False, "fan": True}


def test_a_thermoelectric_cooler_fades_in_a_hot_room(bench, room, tank, loads):
    cooler = Device("cooler", DeviceKind.THERMOELECTRIC, "Cooler", rated_cooling_w=60.0, installed=bench.day)
    cool, hot = (
        bench.on_hot_day(bench.one_room(replace(room, hot_day_mean_c=t), [tank], loads, [cooler])) for t in (27.0, 38.0)
    )
    assert 0.0 < hot.available_w.low < 0.75 * cool.available_w.low


def test_a_stated_ac_off_temperature_below_the_outdoors_is_not_believed(bench, room, tank, loads):
    site = Site(
        "site", "client", "Harbour house", "Europe/London", outdoor_design_peak_c=38.0, outdoor_daily_range_k=10.0
    )
    fleet = bench.one_room(replace(room, ac_off_mean_c=28.0), [tank], loads, site=site)
    result = bench.with_ac_off(fleet)
    assert any("warmer is used" in note for note in result.notes)
    assert result.room_peak_c >= 35.0


def test_with_the_ac_off_the_heat_of_the_kit_warms_the_room(bench, room, tank, loads):
    site = Site(
        "site", "client", "Harbour house", "Europe/London", outdoor_design_peak_c=32.0, outdoor_daily_range_k=8.0
    )
    unknown = replace(room, ac_off_mean_c=None, ac_off_rise_k=None, ua_w_per_k=50.0)
    few, many = (
        bench.with_ac_off(
            bench.one_room(unknown, [tank], [*loads, Load("tank", "more", LoadKind.OTHER, watts, date.min)], site=site)
        ).room_peak_c
        for watts in (0.0, 500.0)
    )
    assert many - few == pytest.approx(10.0, abs=1e-6)


def test_each_default_is_named(bench, room, tank, loads, chiller):
    silent_tank = Tank("tank", "room", "Tank", TankKind.REEF, 1.2, 0.5, 0.5, 25.5, sump_volume_m3=0.08)
    silent_room = Room("room", "site", "Room", 25.0)
    silent_device = Device("chiller", DeviceKind.CHILLER, "Chiller", rated_cooling_w=500.0)
    lamp = Load("tank", "lamp", LoadKind.LIGHT, 200.0, date.min, hours_per_day=8.0)
    site = Site("site", "client", "Harbour house", "Europe/London")
    fleet = bench.one_room(
        silent_room,
        [silent_tank],
        [lamp],
        [silent_device],
        [Placement("chiller", Where.IN_STAND, date.min, stand_of="tank")],
        site=site,
    )
    said = bench.with_ac_off(fleet).assumed
    for phrase in (
        "lid: sealed",
        "salinity: 35 g/kg",
        "net volume: 85 % of the dimensions",
        "walls: glass",
        "stand: closed",
        "relative humidity: 65 %",
        "lamp: mounted in a sealed hood",
        "chiller: half of its air flow, no cleaning on record",
        "chiller: breathes 30 % of its own exhaust",
        "outdoor design day: peak 35 °C",
        "limits: those of reef corals",
        "elevation: sea level",
    ):
        assert phrase in said, phrase
    assert len(set(said)) == len(said)


def test_a_tank_that_states_everything_assumes_nothing(bench, room, tank, loads, chiller):
    lit = [replace(load, on_from=time(10)) for load in loads]
    fleet = bench.one_room(room, [tank], lit, [chiller], [bench.beside()])
    assert bench.on_hot_day(fleet).assumed == ()


def animal_class(code, watch, act):
    return AnimalClass(code, code, (), 20.0, 26.0, None, watch, None, act, None, None, False, "test")


def test_limits_come_from_the_tank_then_from_its_strictest_animals(bench, room, tank, loads):
    classes = {"hardy": animal_class("hardy", 29.0, 31.0), "tender": animal_class("tender", 27.0, 28.0)}
    stock = (Animals("tank", "a", date.min, "hardy"), Animals("tank", "b", date.min, "tender"))
    own = bench.one_room(room, [tank], loads, animals=stock)
    assert assess(own, classes)[0].limit_c == 29.5
    silent = bench.one_room(room, [replace(tank, act_high_c=None, watch_high_c=None)], loads, animals=stock)
    assert assess(silent, classes)[0].limit_c == 28.0
    assert assess(silent, {})[0].limit_c == 29.5


def test_results_come_by_tank_and_scenario_and_do_not_depend_on_company(bench, room, tank, loads, chiller):
    tanks = [replace(tank, code=code) for code in ("b", "a", "c")]
    kit = [replace(load, tank=code) for load in loads for code in ("c", "a", "b")]
    fleet = bench.one_room(room, tanks, kit, [chiller], [bench.beside()])
    together = assess(fleet, {})
    assert [(row.tank, row.scenario) for row in together] == sorted((row.tank, row.scenario) for row in together)
    assert len(together) == 6
    assert assess(fleet, {}, tanks=["b"]) == tuple(row for row in together if row.tank == "b")
    assert assess(fleet, {}) == together


def test_a_heater_on_record_keeps_a_tank_at_target_in_a_cool_room(bench, room, tank):
    cool = replace(room, hot_day_mean_c=18.0)
    heater = (Equipment("heater", EquipmentKind.HEATER, "Heater", tank="tank"),)
    without = bench.on_hot_day(bench.one_room(cool, [tank]))
    heated = bench.on_hot_day(bench.one_room(cool, [tank], equipment=heater))
    assert without.peak_c < 20.0
    assert heated.peak_c == pytest.approx(tank.target_c, abs=0.01)


def test_an_unknown_tank_is_named_with_the_nearest(bench, room, tank):
    with pytest.raises(NotFound, match="nearest is tank"):
        assess(bench.one_room(room, [tank]), {}, tanks=["tanc"])


def test_an_empty_fleet_has_nothing_to_say():
    assert assess(Fleet(date(2026, 5, 4)), {}) == ()


@pytest.mark.parametrize(
    ("low", "state"),
    [
        (-0.001, MarginState.SHORT),
        (0.0, MarginState.THIN),
        (0.149, MarginState.THIN),
        (0.151, MarginState.OK),
        (0.499, MarginState.OK),
        (0.501, MarginState.AMPLE),
    ],
)
def test_the_state_is_judged_on_the_low_end(low, state):
    found = judge(
        Spread(low, low + 0.2, low + 0.4),
        needed=True,
        has_cooling=True,
        all_unknown=False,
        trips=False,
        stays_inside_watch=True,
    )
    assert found.state is state
