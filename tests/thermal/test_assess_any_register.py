"""Whatever a register may hold, the door answers with finite figures, and its work grows with the fleet."""

from __future__ import annotations

import math
from datetime import date

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fleet.thermal.assess import assess
from fleet.values.fleet import snapshot
from fleet.values.register import (
    Client,
    Device,
    Duty,
    Load,
    Placement,
    RegisterRows,
    Room,
    Site,
    Tank,
)
from fleet.values.vocabulary import (
    DeviceKind,
    Lid,
    LoadKind,
    Mounting,
    Reaches,
    Stand,
    TankKind,
    Where,
)

maybe = st.none
positive = st.floats(0.01, 5.0)
tank_values = st.builds(
    Tank,
    st.just("tank"),
    st.just("room"),
    st.just("Tank"),
    st.sampled_from(TankKind),
    positive,
    positive,
    positive,
    st.floats(0.0, 45.0),
    net_volume_m3=maybe() | st.floats(1e-4, 100.0),
    sump_volume_m3=maybe() | st.floats(0.0, 10.0),
    sump_area_m2=maybe() | st.floats(0.0, 10.0),
    salinity_g_per_kg=maybe() | st.floats(0.0, 45.0),
    lid=maybe() | st.sampled_from(Lid),
    stand=maybe() | st.sampled_from(Stand),
    stand_vent_flow_m3_h=maybe() | st.floats(0.0, 1000.0),
    act_high_c=maybe() | st.floats(0.0, 45.0),
    wall_ua_w_per_k=maybe() | st.floats(0.01, 1e5),
)
room_values = st.builds(
    Room,
    st.just("room"),
    st.just("site"),
    st.just("Room"),
    st.floats(-20.0, 60.0),
    air_conditioned=maybe() | st.booleans(),
    hot_day_rise_k=maybe() | st.floats(0.0, 40.0),
    relative_humidity=maybe() | st.floats(0.0, 1.0),
    ac_off_mean_c=maybe() | st.floats(-20.0, 60.0),
    volume_m3=maybe() | st.floats(1.0, 1e4),
    ua_w_per_k=maybe() | st.floats(0.5, 1e4),
)
load_values = st.builds(
    Load,
    st.just("tank"),
    st.just("load"),
    st.sampled_from(LoadKind),
    st.floats(0.0, 5000.0),
    st.just(date.min),
    hours_per_day=maybe() | st.floats(0.0, 24.0),
    on_from=maybe() | st.times(),
    mounting=maybe() | st.sampled_from(Mounting),
)
device_values = st.builds(
    Device,
    st.just("device"),
    st.sampled_from(DeviceKind),
    st.just("Device"),
    rated_cooling_w=maybe() | st.floats(1.0, 5000.0),
    rated_power_w=maybe() | st.floats(1.0, 2000.0),
    rated_volume_m3=maybe() | st.floats(0.01, 10.0),
    rated_water_temp_c=maybe() | st.floats(0.0, 45.0),
    rated_air_temp_c=maybe() | st.floats(-20.0, 60.0),
    air_flow_m3_h=maybe() | st.floats(0.0, 1000.0),
)


@pytest.mark.slow
@settings(max_examples=25, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(
    tank_values, room_values, load_values, device_values, st.sampled_from(Where), maybe() | st.floats(-430.0, 4500.0)
)
def test_whatever_a_register_may_hold_gives_finite_figures(tank, room, load, device, where, elevation):
    rows = RegisterRows(
        clients=(Client("client", "Client"),),
        sites=(Site("site", "client", "Site", "UTC", elevation_m=elevation),),
        rooms=(room,),
        tanks=(tank,),
        loads=(load,),
        devices=(device,),
        placements=(Placement("device", where, date.min, clearance_m=0.2),),
        duties=(Duty("device", "tank", date.min),),
    )
    for row in assess(snapshot(rows, date(2026, 5, 4)), {}):
        figures = [row.required_w, row.peak_c, row.limit_c, row.room_peak_c, row.equilibrium_c]
        figures += [row.evaporation_l_per_day, row.dew_point_c]
        for spread in (row.required_spread_w, row.available_w, row.margin):
            if spread is not None:
                assert spread.low <= spread.mid <= spread.high
                figures += [spread.low, spread.mid, spread.high]
        assert all(math.isfinite(figure) for figure in figures)
        assert 0.0 <= row.peak_c <= 45.0
        for hours in (row.hours.all_cooling_lost, row.hours.ac_lost, row.hours.largest_lost):
            if hours is not None and hours.low is not None:
                assert hours.low >= 0.0
                assert hours.reaches_limit is Reaches.YES
