"""Water followed minute by minute with switching thermostats, against closed forms and scipy's solve_ivp.

Long because the closed forms, the solvers and the laws are held against one engine with the same small fleets.
"""

from __future__ import annotations

import importlib.util
import itertools
import math
import sys
from dataclasses import replace
from datetime import date, time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import OutOfRange
from fleet.thermal.assess import build
from fleet.thermal.balance import air_at, losses, stand_state
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.day import Controls, simulate
from fleet.thermal.machinery import Thermostat
from fleet.thermal.parts import part_of, split
from fleet.thermal.records import Keep
from fleet.thermal.traces import trace
from fleet.values.register import Device, Duty, Load, Placement
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Stand, Where

pytestmark = pytest.mark.slow

MIDNIGHT = np.zeros(1, dtype=np.intp)


@pytest.fixture(scope="module")
def yardstick() -> SimpleNamespace:
    """The event-driven run and the made-up register that the benchmark uses."""
    folder = Path(__file__).parents[1] / "benchmarks"
    found = {}
    for name in ("event_driven", "fleets"):
        spec = importlib.util.spec_from_file_location(f"benchmarks_{name}", folder / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        found[name] = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = found[name]
        spec.loader.exec_module(found[name])
    return SimpleNamespace(**found)


def cases_of(fleet, side=1, scenario=0):
    model = build(fleet, {}, [tank.code for tank in fleet.tanks])
    return spread_over_cases(model, np.array([side]), np.array([scenario]))


def everything(cases):
    """Controls with all devices on duty, machines divided evenly."""
    links, fans = cases.model.devices.links, cases.model.devices.fans
    heads = np.bincount(links.machine, minlength=len(cases.model.devices.machines.codes))
    return Controls(links.duty[:, None], fans.duty[:, None], 1.0 / heads[links.machine])


def from_target(cases, above_k=0.0):
    return cases.model.tanks.target_c[:, None] + above_k + np.zeros(cases.open_m2.shape)


def run(cases, hours=24.0, **more):
    given_ = {"start_c": from_target(cases), "start_hour": np.zeros(cases.side.size, dtype=np.intp), **more}
    return trace(cases, given_.pop("controls", everything(cases)), hours=hours, **given_)


def bare(cases, heat_capacity_j_k, conductance_w_k):
    """The same cases with nothing but a wall of constant conductance to the room, and no limit to the water."""
    tanks = replace(cases.model.tanks, target_c=np.full(1, 44.0))
    nothing = np.zeros((1, 1))
    return replace(
        cases,
        model=replace(cases.model, tanks=tanks),
        open_m2=nothing,
        lid_ua=nothing,
        stand_side_ua=nothing,
        pane_gain_w=nothing,
        wall_ua=np.full((1, 1), conductance_w_k),
        heat_capacity_j_k=np.full((1, 1), heat_capacity_j_k),
    )


@pytest.mark.parametrize("step_s", [20, 60, 300, 600])
def test_constant_coefficients_follow_the_closed_form_whatever_the_step(bench, room, tank, step_s):
    """C 1.3e6 J/K, UA 25 W/K, 150 W from 26 °C in a 26 °C room: 30.8609199 °C after 24 h, analytic."""
    pump = Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, 150.0, date.min)
    cases = bare(cases_of(bench.one_room(replace(room, hot_day_mean_c=26.0), [tank], [pump])), 1.3e6, 25.0)
    found = run(cases, step_s=step_s, start_c=np.full((1, 1), 26.0))
    exact = 26.0 + 150.0 / 25.0 * -math.expm1(-25.0 / 1.3e6 * 86_400.0)
    assert exact == pytest.approx(30.8609199, abs=5e-8)
    assert float(found.end_c[0, 0]) == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize("minute", [0, 5, 7, 10, 15, 33])
def test_a_lamp_that_switches_between_the_steps_gives_its_heat_from_that_moment(bench, room, tank, minute):
    """A lamp on from 09:mm for 1 h 25 min, against the closed form piece by piece (analytic)."""
    lamp = Load(
        "tank", "lamp", LoadKind.LIGHT, 400.0, date.min, hours_per_day=85.5 / 60.0, on_from=time(9, minute),
        mounting=Mounting.IN_WATER,
    )  # fmt: skip
    cases = bare(cases_of(bench.one_room(replace(room, hot_day_mean_c=26.0), [tank], [lamp])), 1.3e6, 25.0)
    found = run(cases, hours=12.0, keep=[Keep.WATER], start_c=np.full((1, 1), 26.0))
    begin, tau = 9.0 * 3600.0 + 60.0 * minute, 1.3e6 / 25.0
    t = found.hours * 3600.0
    lit = np.clip(t - begin, 0.0, 85.5 * 60.0)
    exact = 26.0 + 16.0 * -np.expm1(-lit / tau) * np.exp(-np.maximum(t - begin - 85.5 * 60.0, 0.0) / tau)
    assert found.water_c is not None
    assert found.water_c[0, 0] == pytest.approx(exact, abs=1e-5)


def at_rest(cases):
    links, fans = cases.model.devices.links, cases.model.devices.fans
    return Controls(
        np.zeros((links.tank.size, 1), dtype=bool), np.zeros((fans.tank.size, 1), dtype=bool), np.ones(links.tank.size)
    )


def by_solver(yardstick, fleet, cases, controls, start_c, at_s, hours=24.0, **more):
    """Each group of tanks by solve_ivp from event to event; water and stands [tank, time], and the runs."""
    water, stand = np.zeros((2, len(cases.model.tanks.codes), len(at_s)))
    runs = []
    for part in split(cases, 1):
        group = yardstick.event_driven.Group(fleet, cases, controls, part.tanks)
        one = yardstick.event_driven.EventRun(group, start_c[part.tanks, 0], 0.0, 0.25, 180.0)
        water[part.tanks], stand[part.tanks] = one.go(hours, at_s, **{"rtol": 1e-8, "atol": 1e-8, **more})
        runs.append((part, one))
    return water, stand, runs


def test_two_nodes_without_thermostat_meet_solve_ivp_and_converge_with_the_step(yardstick):
    """Forty tanks left to themselves for a day: scipy's LSODA, rtol 1e-8. Within 0.001 K whatever the step, since films
    are read every quarter of an hour at least; half of that, less than half the error, down to what single precision
    keeps."""
    fleet = yardstick.fleets.made_up(40)
    cases = cases_of(fleet)
    start = from_target(cases)
    at_s = np.arange(0, 86_401, 600.0)
    exact, stands, _ = by_solver(yardstick, fleet, cases, at_rest(cases), start, at_s)
    errors = {}
    for step_s in (600, 300, 60, 30, 15):
        found = run(cases, controls=at_rest(cases), step_s=step_s, keep=[Keep.WATER, Keep.STAND])
        errors[step_s] = np.abs(found.water_c[:, 0, :: 600 // step_s] - exact).max()
        off = np.nanmax(np.abs(found.stand_c[:, 0, :: 600 // step_s] - stands))
        assert off < 0.02 * min(step_s, 60) / 60.0
    assert max(errors[step_s] for step_s in (600, 300, 60)) < 0.001
    assert errors[300] == pytest.approx(errors[60], abs=4e-6)
    assert errors[30] < 0.5 * errors[60] + 2e-6
    assert errors[15] < 0.5 * errors[30] + 2e-6


def test_extremes_are_those_of_the_course_though_it_turns_between_readings(yardstick):
    """Forty tanks left to themselves for a day, against their own course every 20 s, which reads four minutes apart."""
    cases = cases_of(yardstick.fleets.made_up(40))
    found = run(cases, controls=at_rest(cases))
    course = run(cases, controls=at_rest(cases), step_s=20, keep=[Keep.WATER]).water_c
    assert found.peak_c == pytest.approx(course.max(axis=-1), abs=1e-3)
    assert found.lowest_c == pytest.approx(course.min(axis=-1), abs=1e-3)
    assert found.mean_c == pytest.approx(course.mean(axis=-1, dtype=float), abs=1e-3)


def kit(bench, room, tank, loads, **facts):
    """A tank of each make-up that matters to a thermostat, each in its own group, and a chiller on two of them."""
    sizes = {
        "beside": replace(tank, code="beside"),
        "stand": replace(tank, code="stand", stand=Stand.CLOSED, stand_vent_flow_m3_h=120.0),
        "sump": replace(tank, code="sump", stand=Stand.CLOSED, sump_area_m2=0.25, sump_volume_m3=0.06),
        "fan": replace(tank, code="fan", lid=Lid.LOOSE),
        "peltier": replace(tank, code="peltier", net_volume_m3=0.12),
        "first": replace(tank, code="first"),
        "second": replace(tank, code="second", net_volume_m3=0.5, target_c=tank.target_c + 0.5),
    }

    def chiller(code, watts=700.0):
        return Device(
            code, DeviceKind.CHILLER, code, rated_cooling_w=watts, rated_power_w=watts / 3.0, installed=bench.day
        )

    devices = [
        chiller("c-beside"),
        chiller("c-stand"),
        chiller("c-sump"),
        chiller("c-two", 1200.0),
        Device("f", DeviceKind.SURFACE_FAN, "f", rated_power_w=8.0, air_flow_m3_h=150.0, fan_diameter_m=0.12),
        Device("p", DeviceKind.THERMOELECTRIC, "p", rated_cooling_w=500.0, rated_power_w=700.0),
    ]
    where = {"c-stand": Where.IN_STAND}
    placements = [
        Placement(
            device.code,
            where.get(device.code, Where.BESIDE_TANK),
            date.min,
            room="room",
            stand_of="stand" if device.code in where else None,
            clearance_m=0.5,
        )
        for device in devices
    ]
    served = [
        ("c-beside", "beside"), ("c-stand", "stand"), ("c-sump", "sump"), ("f", "fan"), ("p", "peltier"),
        ("c-two", "first"), ("c-two", "second"),
    ]  # fmt: skip
    duties = [Duty(device, code, date.min) for device, code in served]
    rows = [replace(load, tank=code) for code in sizes for load in loads]
    lamps = [replace(load, on_from=time(9, 13)) if load.kind is LoadKind.LIGHT else load for load in rows]
    return bench.one_room(room, list(sizes.values()), lamps, devices, placements, duties, **facts)


def test_switching_thermostats_meet_the_event_driven_solver(bench, yardstick, room, tank, loads):
    """Chillers beside the tank, in a closed stand, with a sump and on two tanks, a fan, a thermoelectric cooler, over a
    day of cycles: scipy's LSODA stopped at every event, rtol 1e-8. Within 0.006 K at 60 s, starts agree;
    0.01 K where two valves on one chiller shift each other's cycles, so that small errors grow."""
    fleet = kit(bench, replace(room, hot_day_rise_k=1.5), tank, loads)
    cases = cases_of(fleet)
    start = from_target(cases, 0.1)
    at_s = np.arange(0, 86_401, 60.0)
    exact, stands, runs = by_solver(yardstick, fleet, cases, everything(cases), start, at_s)
    found = run(cases, start_c=start, keep=[Keep.WATER, Keep.STAND])
    error = np.abs(found.water_c[:, 0] - exact).max(axis=1)
    alone = np.array([code not in ("first", "second") for code in cases.model.tanks.codes])
    assert error[alone].max() < 0.006, dict(zip(cases.model.tanks.codes, error, strict=True))
    assert error.max() < 0.01
    assert np.nanmax(np.abs(found.stand_c[:, 0] - stands)) < 0.1
    starts = sum(one.starts for _part, one in runs)
    assert starts > 30
    assert found.starts.sum() == starts
    finer = run(cases, start_c=start, step_s=20, keep=[Keep.WATER])
    assert np.abs(finer.water_c[:, 0, ::3] - exact).max() < 0.6 * error.max()


def test_a_chiller_that_trips_in_its_own_heat_trips_when_the_solver_says(bench, yardstick, room, tank, loads, chiller):
    closed = replace(tank, stand=Stand.CLOSED, stand_vent_flow_m3_h=20.0)
    fleet = bench.one_room(room, [closed], loads[:1], [chiller], [bench.beside(where=Where.IN_STAND)])
    cases = cases_of(fleet)
    start = from_target(cases, 2.0)
    at_s = np.arange(0, 21_601, 60.0)
    exact, _stands, runs = by_solver(yardstick, fleet, cases, everything(cases), start, at_s, hours=6.0)
    found = run(cases, hours=6.0, start_c=start, keep=[Keep.WATER, Keep.COOLING])
    assert runs[0][1].lost == [True]
    assert np.abs(found.water_c[:, 0] - exact).max() < 0.01
    cooled = np.flatnonzero(found.step_cooling_w[0, 0])
    assert cooled.size < 300
    assert found.step_cooling_w[0, 0, cooled[-1] + 1 :].max() == 0.0


def test_a_recorded_trace_closes_its_energy(bench, yardstick, room, tank, loads):
    """Heat stored = heat released - losses - cooling, with losses by independent scalar formulas over the recorded
    temperatures and Simpson's rule; to 0.1 % of the heat released."""
    from scipy.integrate import simpson

    fleet = kit(bench, replace(room, hot_day_rise_k=1.5), tank, loads)
    cases = cases_of(fleet)
    found = run(cases, start_c=from_target(cases, 0.1), keep=list(Keep))
    for part in split(cases, 1):
        group = yardstick.event_driven.Group(fleet, cases, at_rest(cases), part.tanks)
        still = yardstick.event_driven.EventRun(group, [0.0] * len(part.tanks), 0.0, 0.25, 180.0)
        for place, i in enumerate(part.tanks):
            state = np.zeros((group.size, found.hours.size))
            state[: len(part.tanks)] = found.water_c[part.tanks, 0]
            for other, at in enumerate(group.stand_at):
                if at >= 0:
                    state[at] = found.stand_c[part.tanks[other], 0]
            capacity = group.tanks[place].heat_capacity
            seconds = found.hours * 3600.0
            leaving = [
                -capacity * still.flow([(0.0, 0.0)] * len(part.tanks), [])(t, state[:, k])[place]
                for k, t in enumerate(seconds)
            ]
            lost = simpson(np.array(leaving), x=seconds)
            lamp = sum(watts * hours for _start, hours, watts, _stand in group.tanks[place].lamps) * 3600.0
            released = group.tanks[place].water_w * 86_400.0 + lamp
            cooled = found.step_cooling_w[i, 0].sum(dtype=float) * 60.0
            stored = capacity * float(found.water_c[i, 0, -1] - found.water_c[i, 0, 0])
            assert released - lost - cooled == pytest.approx(stored, abs=1e-3 * released), cases.model.tanks.codes[i]
            assert found.cooling_w[i, 0] * 86_400.0 == pytest.approx(cooled, rel=1e-5)


def test_a_settled_tank_gives_off_what_it_takes_in(bench, room, tank):
    """Constant heat in a constant room, closed stand and sump: after sixty days gains and losses meet to 1e-9."""
    closed = replace(tank, stand=Stand.CLOSED, sump_area_m2=0.25, sump_volume_m3=0.06, net_volume_m3=0.1)
    heat = (
        Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, 80.0, date.min),
        Load("tank", "return", LoadKind.EXTERNAL_PUMP, 40.0, date.min),
    )
    cases = cases_of(bench.one_room(room, [closed], heat))
    settled = run(cases, hours=60 * 24.0, step_s=600).end_c
    gain, stand_gain = cases.model.tanks.gain_w[:, 1, :1], cases.model.tanks.stand_gain_w[:, 1, :1]
    air = air_at(cases, np.zeros(1))
    stand = (air.room_c, air.vapour_pa)
    for _ in range(60):
        stand = stand_state(cases, settled, air, stand_gain, *stand)
    assert losses(cases, settled, air, *stand).watts == pytest.approx(gain, rel=1e-9)


def test_a_compressor_rests_three_minutes_between_runs(bench, room, tank, loads, chiller):
    """A chiller far too large on little water would start every minute; the rest that compressors need stops it."""
    small = replace(tank, net_volume_m3=0.15)
    big = replace(chiller, rated_cooling_w=3000.0)
    cases = cases_of(bench.one_room(room, [small], loads, [big], [bench.beside()]))
    for least_off_s in (180.0, 600.0):
        limits = Thermostat(band_k=0.02, least_off_s=least_off_s)
        found = run(cases, 6.0, thermostat=limits, step_s=2, keep=[Keep.COOLING], start_hour=MIDNIGHT + 11)
        idle = 1.0 - found.step_cooling_w[0, 0] / found.step_cooling_w.max()
        runs = np.flatnonzero(idle < 0.999)
        breaks = np.split(runs, np.flatnonzero(np.diff(runs) > 1) + 1)
        rests = [idle[a[-1] : b[0] + 1].sum() * 2.0 for a, b in itertools.pairwise(breaks)]
        assert len(rests) > 20
        assert least_off_s - 0.5 < min(rests) < least_off_s + 4.0
    free = run(cases, 6.0, thermostat=Thermostat(band_k=0.02, least_off_s=0.0), step_s=20, start_hour=MIDNIGHT + 11)
    assert free.starts[0, 0] > 1.5 * found.starts[0, 0]


def test_both_engines_tell_the_same_day(yardstick):
    """Averaged thermostats and switching ones on sixty tanks, on the second day. The mean of each tank within the band
    and of all to 0.03 K; tanks without cooling to 0.02 K. A machine on several tanks the averaged run divides by fixed
    shares, the switching one among those that call: never warmer."""
    fleet = yardstick.fleets.made_up(60, seed=3)
    cases = cases_of(fleet)
    links, fans = cases.model.devices.links, cases.model.devices.fans
    first = run(cases, hours=24.0)
    switched = run(cases, hours=24.0, start_c=first.end_c)
    averaged = simulate(cases, everything(cases), start_c=first.end_c, start_hour=MIDNIGHT, hours=24.0, keep=True)
    off = switched.mean_c - averaged.temps_c.mean(axis=-1)
    cools, shared = np.zeros(60, dtype=bool), np.zeros(60, dtype=bool)
    cools[links.tank] = True
    cools[fans.tank] = True
    shared[links.tank] = (np.bincount(links.machine) > 1)[links.machine]
    assert shared.sum() >= 2
    assert np.abs(off[~shared]).max() < 0.25
    assert abs(off[~shared].mean()) < 0.03
    assert np.abs(off[~cools]).max() < 0.02
    assert off[shared].max() < 0.1
    assert np.abs((switched.peak_c - averaged.peak_c)[~shared]).max() < 0.3


def test_parts_give_what_the_whole_gives(yardstick):
    fleet = yardstick.fleets.made_up(50, seed=5)
    cases = spread_over_cases(build(fleet, {}, [tank.code for tank in fleet.tanks]), np.arange(3), np.array([0, 1, 0]))
    links, fans = cases.model.devices.links, cases.model.devices.fans
    controls = Controls(
        np.repeat(links.duty[:, None], 3, axis=1),
        np.repeat(fans.duty[:, None], 3, axis=1),
        np.full(links.tank.size, 0.5),
    )
    hour = np.array([0, 6, 12], dtype=np.intp)
    options = {"start_c": from_target(cases, 0.1), "start_hour": hour, "hours": 6.0, "keep": list(Keep)}
    whole = trace(cases, controls, **options)
    parted = trace(cases, controls, **options, tanks_at_once=9)
    for name in (
        "end_c",
        "mean_c",
        "peak_c",
        "lowest_c",
        "duty",
        "cooling_w",
        "evaporation_kg_s",
        "running",
        "power_w",
    ):
        assert getattr(parted, name) == pytest.approx(getattr(whole, name), rel=1e-9, abs=1e-9), name
    assert np.array_equal(parted.starts, whole.starts)
    assert np.array_equal(parted.water_c, whole.water_c)
    assert whole.water_c.shape == (50, 3, 361)
    assert whole.water_c.dtype == np.float32
    one = part_of(cases, np.array([split(cases, 1)[0].tanks[0]]))
    assert one.cases.model.tanks.codes == (cases.model.tanks.codes[one.tanks[0]],)


def test_a_machine_on_two_tanks_runs_while_either_calls(bench, room, tank, loads, chiller):
    warm, held = replace(tank, code="warm"), replace(tank, code="held")
    both = [replace(load, tank=code) for load in loads for code in ("warm", "held")]
    cases = cases_of(bench.one_room(room, [warm, held], both, [chiller], [bench.beside()]))
    start = from_target(cases) + np.array([[2.0], [-0.2]])
    found = run(cases, hours=0.5, start_c=start, keep=[Keep.COOLING])
    assert found.step_cooling_w[1, 0].max() == 0.0
    assert found.running[0, 0] == pytest.approx(1.0)
    alone = float(found.step_cooling_w[0, 0, 5])
    shared = run(cases, hours=0.5, start_c=from_target(cases, 2.0), keep=[Keep.COOLING])
    first, second = shared.step_cooling_w[:, 0, 5]
    assert first == second == pytest.approx(alone / 2.0, rel=0.03)


def test_a_heater_holds_the_target_and_never_fights_the_chiller(bench, room, tank, chiller):
    heater = Load("tank", "heater", LoadKind.HEATER, 300.0, date.min)
    cold = replace(room, hot_day_mean_c=18.0)
    alone = cases_of(bench.one_room(cold, [tank], [heater]))
    held = run(alone, start_c=from_target(alone))
    assert held.lowest_c[0, 0] == pytest.approx(tank.target_c, abs=1e-6)
    both = cases_of(bench.one_room(cold, [tank], [heater], [chiller], [bench.beside()]))
    found = run(both, start_c=from_target(both))
    assert found.lowest_c[0, 0] == pytest.approx(tank.target_c - 0.25, abs=1e-6)
    assert found.cooling_w[0, 0] == 0.0
    assert found.heating_w[0, 0] > 0.0


@settings(max_examples=12, deadline=None)
@given(mean_c=st.floats(20.0, 32.0), warmer_k=st.floats(0.1, 6.0), watts=st.sampled_from((0.0, 150.0)))
def test_a_warmer_room_never_makes_a_cooler_peak(mean_c, warmer_k, watts, yardstick):
    """Without cooling strictly. Where a chiller switches, by no more than its swing of 0.5 K: a chiller that is too
    small starts from wherever in its band the lamps find it. Tank t0, 150 W, by this run and by scipy's LSODA at rtol
    1e-8: peak 26.356 °C in a room of 28.25 °C, 26.298 and 26.297 °C in one of 28.5 °C."""
    fleet = yardstick.fleets.made_up(12, seed=7)

    def peaks(mean):
        rooms = tuple(replace(room, hot_day_mean_c=mean) for room in fleet.rooms)
        cases = cases_of(replace(fleet, rooms=rooms))
        devices = cases.model.devices
        machines = replace(devices.machines, reference_w=devices.machines.reference_w * 0.0 + watts)
        cases = replace(cases, model=replace(cases.model, devices=replace(devices, machines=machines)))
        controls = everything(cases) if watts else at_rest(cases)
        return run(cases, controls=controls, step_s=300).peak_c

    assert (peaks(mean_c + warmer_k) >= peaks(mean_c) - (0.5 if watts else 0.0)).all()


def test_a_chiller_that_is_too_small_may_peak_lower_in_a_warmer_room_as_the_solver_says(yardstick):
    """By where in its band the lamps find the water; scipy's LSODA, rtol 1e-8, within 0.001 K."""
    fleet = yardstick.fleets.made_up(12, seed=7)
    for mean_c in (28.25, 28.5):
        rooms = tuple(replace(room, hot_day_mean_c=mean_c) for room in fleet.rooms)
        warm = replace(fleet, rooms=rooms)
        cases = cases_of(warm)
        devices = cases.model.devices
        machines = replace(devices.machines, reference_w=devices.machines.reference_w * 0.0 + 150.0)
        cases = replace(cases, model=replace(cases.model, devices=replace(devices, machines=machines)))
        start = from_target(cases)
        group = yardstick.event_driven.Group(warm, cases, everything(cases), [0])
        one = yardstick.event_driven.EventRun(group, start[:1, 0], 0.0, 0.25, 180.0)
        exact, _stands = one.go(24.0, np.arange(0, 86_401, 60.0), 1e-8, 1e-8)
        assert float(run(cases).peak_c[0, 0]) == pytest.approx(float(exact.max()), abs=1e-3)


@pytest.mark.parametrize("step_s", [0, -60, 7, 700])
def test_a_step_that_does_not_divide_ten_minutes_is_refused(bench, room, tank, step_s):
    cases = cases_of(bench.one_room(room, [tank]))
    with pytest.raises(OutOfRange, match="divisor of 600"):
        run(cases, step_s=step_s)


def test_a_thermostat_without_a_band_is_refused_since_it_would_switch_without_end(bench, room, tank):
    with pytest.raises(OutOfRange, match="band of the thermostats"):
        run(cases_of(bench.one_room(room, [tank])), thermostat=Thermostat(band_k=0.0))


def test_a_tank_is_followed_alike_alone_and_among_others(yardstick):
    """Runs with a limit let go of tanks that are done; hours stay those of each group run alone, and so do the ends of
    those that do not pass it: the others are followed no further, some of them in company for a while."""
    fleet = yardstick.fleets.made_up(30, seed=9)
    cases = cases_of(fleet, scenario=1)
    limit = cases.model.tanks.target_c + np.linspace(0.5, 12.0, 30)
    options = {"start_hour": MIDNIGHT + 8, "hours": 240.0}
    start, links_off = from_target(cases), at_rest(cases)
    together = simulate(cases, links_off, start_c=start, limit_c=limit, **options)
    assert np.isinf(together.passed_after_h).any()
    assert np.isfinite(together.passed_after_h).any()
    for part in split(cases, 1):
        alone = simulate(
            part.cases, at_rest(part.cases), start_c=start[part.tanks], limit_c=limit[part.tanks], **options
        )
        assert alone.passed_after_h == pytest.approx(together.passed_after_h[part.tanks], abs=1e-9)
        kept = np.isinf(alone.passed_after_h)
        assert alone.end_c[kept] == pytest.approx(together.end_c[part.tanks][kept], abs=0.02)
