"""Cases of a public aquarium: a plant on many tanks, several devices on one, walls by their UA, concrete, 50 m3."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fleet.thermal.assess import build
from fleet.thermal.balance import equilibrium
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.day import Controls, periodic_day, simulate
from fleet.thermal.tanks import MID
from fleet.values.register import Device, Duty, Load, Room, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, MarginState, Reaches, Stand, TankKind, Wall, Where

pytestmark = pytest.mark.slow

SEA_RHO_CP = 4.0923e6
"""J/(m3 K) at 25 °C and 35 g/kg: TEOS-10 (toolbox gsw), as the project's table of water properties holds it."""


@pytest.fixture
def gallery() -> Room:
    """A large hall whose air is the same at every hour."""
    return Room(
        "room",
        "site",
        "Deep gallery",
        hot_day_mean_c=24.0,
        air_conditioned=True,
        hot_day_rise_k=0.0,
        relative_humidity=0.55,
        ac_off_mean_c=30.0,
        ac_off_rise_k=3.0,
        volume_m3=3000.0,
        ua_w_per_k=2000.0,
    )


@pytest.fixture
def basin() -> Tank:
    """50 m3 of sea water behind walls whose heat the builder has stated."""
    return Tank(
        "tank",
        "room",
        "Shelf sea",
        TankKind.TROPICAL_MARINE,
        length_m=6.0,
        width_m=3.6,
        height_m=2.6,
        target_c=25.0,
        wall=Wall.CONCRETE,
        wall_thickness_m=0.25,
        wall_ua_w_per_k=120.0,
        net_volume_m3=50.0,
        salinity_g_per_kg=35.0,
        lid=Lid.OPEN,
        stand=Stand.NONE,
        watch_high_c=27.0,
        act_high_c=28.0,
    )


@pytest.fixture
def pumps() -> tuple[Load, ...]:
    return (Load("tank", "circulation", LoadKind.SUBMERGED_PUMP, 6000.0, date.min),)


def plant(code: str = "chiller", watts: float = 20_000.0, **facts: object) -> Device:
    base = Device(code, DeviceKind.CHILLER, "Plant", rated_cooling_w=watts, rated_power_w=watts / 3.0)
    return replace(base, **facts)  # type: ignore[arg-type]


def clean(bench, *devices):
    return [replace(device, installed=bench.day) for device in devices]


def outdoors(bench, code="chiller"):
    return bench.beside(code, where=Where.OUTDOORS, room=None)


def three_basins(basin, pumps):
    tanks = [
        replace(basin, code=code, target_c=target_c, watch_high_c=target_c + 2.0, act_high_c=target_c + 3.0)
        for code, target_c in (("north", 11.0), ("shelf", 15.0), ("reef", 25.0))
    ]
    return tanks, [replace(pumps[0], tank=tank.code) for tank in tanks]


def test_one_plant_on_three_set_points_gives_what_it_gives_at_the_lowest(bench, gallery, basin, pumps):
    """Common practice: one loop of water serves the coldest tank; the warm ones mix it down."""
    tanks, loads = three_basins(basin, pumps)
    devices, places = clean(bench, plant()), [outdoors(bench)]
    together = bench.one_room(gallery, tanks, loads, devices, places)
    shared = {tank.code: bench.on_hot_day(together, tank.code).devices[0].capacity_w for tank in tanks}
    alone = {
        tank.code: bench.on_hot_day(bench.one_room(gallery, [tank], loads, devices, places), tank.code)
        .devices[0]
        .capacity_w
        for tank in tanks
    }
    for end in ("low", "mid", "high"):
        total = sum(getattr(capacity, end) for capacity in shared.values())
        assert total == pytest.approx(getattr(alone["north"], end), rel=1e-6)
        assert total < 0.8 * getattr(alone["reef"], end)


def test_tanks_on_one_plant_have_one_margin_until_a_colder_one_joins_and_lowers_it(bench, gallery, basin, pumps):
    tanks, loads = three_basins(basin, pumps)
    devices, places = clean(bench, plant(watts=40_000.0)), [outdoors(bench)]
    full = bench.one_room(gallery, tanks, loads, devices, places)
    margins = [bench.on_hot_day(full, tank.code).margin.low for tank in tanks]
    assert margins == pytest.approx([margins[0]] * 3, rel=1e-6)
    without = bench.on_hot_day(bench.one_room(gallery, tanks[1:], loads[1:], devices, places), "reef")
    assert margins[2] < without.margin.low


def test_tanks_on_one_plant_lose_it_together(bench, gallery, basin, pumps):
    tanks, loads = three_basins(basin, pumps)
    fleet = bench.one_room(gallery, tanks, loads, clean(bench, plant(watts=40_000.0)), [outdoors(bench)])
    for tank in tanks:
        assert bench.on_hot_day(fleet, tank.code).n_minus_1_margin == -1.0


def test_several_plants_on_one_tank_add_up_and_the_largest_is_the_one_to_lose(bench, gallery, basin, pumps):
    devices = clean(bench, plant("a", 4000.0), plant("b", 6000.0), plant("c", 9000.0))
    places = [outdoors(bench, device.code) for device in devices]
    result = bench.on_hot_day(bench.one_room(gallery, [basin], pumps, devices, places))
    lows = {row.device: row.capacity_w.low for row in result.devices}
    assert result.available_w.low == pytest.approx(sum(lows.values()))
    assert lows["c"] / lows["a"] == pytest.approx(9.0 / 4.0, rel=1e-6)
    assert result.n_minus_1_margin == pytest.approx((lows["a"] + lows["b"]) / result.required_w - 1.0)


def test_one_of_several_plants_may_serve_another_tank_too(bench, gallery, basin, pumps):
    other = replace(basin, code="other")
    loads = [*pumps, replace(pumps[0], tank="other")]
    devices = clean(bench, plant("own", 10_000.0), plant("both", 10_000.0))
    places = [outdoors(bench, device.code) for device in devices]
    duties = [Duty("own", "tank", date.min), Duty("both", "tank", date.min), Duty("both", "other", date.min)]
    fleet = bench.one_room(gallery, [basin, other], loads, devices, places, duties)
    first, second = (bench.on_hot_day(fleet, code) for code in ("tank", "other"))
    watts = {row.device: row.capacity_w.low for row in first.devices}
    assert watts["both"] == pytest.approx(watts["own"] / 2.0, rel=1e-6)
    assert second.devices[0].capacity_w.low == pytest.approx(watts["both"], rel=1e-6)
    assert first.n_minus_1_margin == pytest.approx(watts["both"] / first.required_w - 1.0)


@pytest.mark.parametrize(("target_c", "more_ua"), [(12.0, 200.0), (25.0, 200.0), (25.0, 50.0)])
def test_a_stated_ua_of_the_walls_carries_ua_times_the_difference_to_the_room(
    bench, gallery, basin, pumps, target_c, more_ua
):
    """Q = UA (T room − T water), by definition of UA; on the middle estimate."""
    cold = replace(basin, target_c=target_c)
    thick = bench.on_hot_day(bench.one_room(gallery, [cold], pumps))
    thin = replace(cold, wall_ua_w_per_k=cold.wall_ua_w_per_k + more_ua)
    leaky = bench.on_hot_day(bench.one_room(gallery, [thin], pumps))
    gained = leaky.required_spread_w.mid - thick.required_spread_w.mid
    assert gained == pytest.approx(more_ua * (gallery.hot_day_mean_c - target_c), rel=1e-6)


def test_a_stated_ua_outranks_what_the_walls_are_made_of(bench, gallery, basin, pumps):
    needs = {
        bench.on_hot_day(
            bench.one_room(gallery, [replace(basin, wall=wall, wall_thickness_m=thickness)], pumps)
        ).required_spread_w.mid
        for wall, thickness in ((Wall.CONCRETE, 0.25), (Wall.GLASS, 0.04), (Wall.ACRYLIC, 0.2), (None, None))
    }
    assert max(needs) == pytest.approx(min(needs), rel=1e-9)


@pytest.mark.parametrize("thickness_m", [None, 0.3])
def test_concrete_without_a_stated_ua_is_named_among_the_assumptions(bench, gallery, basin, pumps, thickness_m):
    bare = replace(basin, wall_ua_w_per_k=None, wall_thickness_m=thickness_m)
    told = bench.on_hot_day(bench.one_room(gallery, [bare], pumps)).assumed
    assert any("concrete walls" in phrase for phrase in told)
    assert any("wall thickness" in phrase for phrase in told) is (thickness_m is None)
    stated = bench.on_hot_day(bench.one_room(gallery, [basin], pumps)).assumed
    assert not any("wall" in phrase for phrase in stated)


def test_concrete_lets_less_heat_through_than_glass_of_an_aquarium(bench, gallery, basin, pumps):
    cold = replace(basin, wall_ua_w_per_k=None, target_c=12.0)
    concrete, glass = (
        bench.on_hot_day(bench.one_room(gallery, [replace(cold, wall=wall, wall_thickness_m=thick)], pumps))
        for wall, thick in ((Wall.CONCRETE, 0.25), (Wall.GLASS, 0.012))
    )
    assert concrete.required_w < glass.required_w


def runs(bench, room, tank, loads):
    """The tank's cases on the middle estimate of the hot day, without devices: cases, controls, rest °C, tau s."""
    model = build(bench.one_room(room, [tank], loads), {}, ["tank"])
    cases = spread_over_cases(model, np.array([MID]), np.array([0]))
    controls = Controls(np.zeros((0, 1), dtype=bool), np.zeros((0, 1), dtype=bool), np.zeros(0))
    gain, stand = (table.mean(axis=-1)[:, cases.side] for table in (model.tanks.gain_w, model.tanks.stand_gain_w))
    rest, tau = equilibrium(cases, gain, stand)
    return cases, controls, rest, tau


def test_fifty_cubic_metres_show_but_a_share_of_their_rise_in_a_day_and_all_of_it_in_the_repeating_day(
    bench, gallery, basin, pumps
):
    """First-order lag: after 24 h the share 1 − exp(−24 h/tau) of the way to equilibrium is gone."""
    cases, controls, rest, tau = runs(bench, gallery, basin, pumps)
    tau_h = float(tau[0, 0]) / 3600.0
    assert 60.0 < tau_h < 240.0
    start = np.full((1, 1), basin.target_c)
    day = simulate(cases, controls, start_c=start, start_hour=np.zeros(1, dtype=int), hours=24.0)
    rise, whole = float(day.end_c[0, 0]) - basin.target_c, float(rest[0, 0]) - basin.target_c
    assert whole > 2.0
    assert rise / whole == pytest.approx(-math.expm1(-24.0 / tau_h), abs=0.03)
    repeating = periodic_day(cases, controls, guess_c=start, time_constant_s=tau)
    assert float(repeating.end_c[0, 0]) == pytest.approx(float(rest[0, 0]), abs=0.05)


def test_the_peak_without_cooling_is_that_of_the_repeating_day_and_not_of_the_first(bench, gallery, basin, pumps):
    result = bench.on_hot_day(bench.one_room(gallery, [basin], pumps))
    assert result.state is MarginState.SHORT
    assert result.peak_c == pytest.approx(result.equilibrium_c, abs=0.1)
    assert result.peak_c > basin.target_c + 2.0


def test_a_daily_wave_in_the_gallery_is_all_but_flattened_by_so_much_water(bench, gallery, basin, pumps):
    """Closed form of a first-order lag: amplitude 1/sqrt(1 + (2 pi tau/24 h)^2) of that of its rest temperature, which
    itself moves by no more than the air."""
    wavy = replace(gallery, hot_day_rise_k=3.0)
    cases, controls, rest, tau = runs(bench, wavy, basin, pumps)
    settled = periodic_day(cases, controls, guess_c=rest, time_constant_s=tau)
    damped = 3.0 / math.hypot(1.0, 2.0 * math.pi * float(tau[0, 0]) / 86_400.0)
    assert 0.0 < float(settled.peak_c[0, 0] - rest[0, 0]) <= damped + 0.05


def test_hours_of_a_large_tank_run_on_for_days_and_agree_with_the_secant_closed_form(bench, gallery, basin, pumps):
    """t = −tau ln((limit − rest)/(start − rest)) with tau = C (rest − start)/q at the start."""
    devices = clean(bench, plant(watts=30_000.0))
    result = bench.on_hot_day(bench.one_room(gallery, [basin], pumps, devices, [outdoors(bench)]))
    lost = result.hours.all_cooling_lost
    assert lost.reaches_limit is Reaches.YES
    start_c = basin.target_c + 0.5
    _, _, rest, _ = runs(bench, gallery, basin, pumps)
    rest_c = float(rest[0, 0])
    warmer = replace(basin, target_c=start_c)
    flow_w = bench.on_hot_day(bench.one_room(gallery, [warmer], pumps)).required_spread_w.mid
    tau_h = SEA_RHO_CP * basin.net_volume_m3 * (rest_c - start_c) / flow_w / 3600.0
    expected_h = -tau_h * math.log((basin.act_high_c - rest_c) / (start_c - rest_c))
    assert expected_h > 24.0
    assert lost.mid == pytest.approx(expected_h, rel=0.05)
    assert lost.low < lost.mid


@pytest.mark.parametrize(("power_w", "comes"), [(13_000.0, False), (16_000.0, True)])
def test_a_limit_that_lies_beyond_a_week_is_found_where_the_water_comes_to_rest_above_it(
    bench, gallery, basin, pumps, power_w, comes
):
    """Three time constants are run where they are longer than a week."""
    deep = replace(basin, length_m=12.0, width_m=6.0, height_m=5.0, net_volume_m3=330.0, wall_ua_w_per_k=250.0)
    loads = [replace(pumps[0], power_w=power_w)]
    _, _, rest, tau = runs(bench, gallery, deep, loads)
    assert (float(rest[0, 0]) > deep.act_high_c) is comes
    assert float(tau[0, 0]) > 86_400.0 * 7.0 / 3.0
    devices = clean(bench, plant(watts=60_000.0))
    lost = bench.on_hot_day(bench.one_room(gallery, [deep], loads, devices, [outdoors(bench)])).hours.all_cooling_lost
    assert (lost.mid is not None) is comes
    if lost.mid is not None:
        assert lost.mid > 168.0
