"""Random draws of what is not known, and the three sides by which tanks are judged."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import triang

from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import read_register
from fleet.thermal.assess import build
from fleet.thermal.balance import equilibrium
from fleet.thermal.capacity import at_peak
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.full_duty import at_full_duty
from fleet.thermal.margin import capacity_margin
from fleet.thermal.tanks import KIND, MID, SAFE
from fleet.thermal.uncertainty import PUMP_SIGMA, draw, draw_margins, drawn_model, pump_heat_w, triangular
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
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Scenario, Stand, TankKind, Wall, Where

SAMPLE = Path(__file__).parents[2] / "sample_data" / "register"
STATES = (0.0, 0.15, 0.5)
"""Margins at which a state ends: short, thin, ok, ample."""


@pytest.fixture(scope="module")
def sample_fleet():
    return snapshot(read_register(SAMPLE, {}), date(2026, 5, 20))


def generated_fleet(count, seed):
    """Tanks of every kind, size, lid and load in rooms of every warmth, with a chiller or a fan of some size."""
    draw_of = np.random.default_rng(seed)

    def one_of(choices):
        return choices[int(draw_of.integers(len(choices)))]

    def between(low, high):
        return float(draw_of.uniform(low, high))

    rooms, tanks, loads, devices, placements, duties = [], [], [], [], [], []
    for i in range(count):
        room, tank, device = f"room-{i}", f"tank-{i}", f"device-{i}"
        rooms.append(
            Room(
                room,
                "site",
                room,
                hot_day_mean_c=between(20.0, 32.0),
                air_conditioned=True,
                hot_day_rise_k=between(0.0, 4.0),
                relative_humidity=one_of([None, between(0.3, 0.8)]),
                ac_off_mean_c=between(30.0, 38.0),
                volume_m3=between(30.0, 400.0),
            )
        )
        kind = one_of(list(TankKind))
        cold = kind in (TankKind.COLD_FRESH, TankKind.COLD_MARINE)
        length, width, height = between(0.4, 3.0), between(0.3, 1.2), between(0.3, 0.9)
        litres = 1000.0 * length * width * height
        tanks.append(
            Tank(
                tank,
                room,
                tank,
                kind,
                length,
                width,
                height,
                between(8.0, 18.0) if cold else between(23.0, 28.0),
                wall=one_of([Wall.GLASS, Wall.ACRYLIC]),
                lid=one_of(list(Lid)),
                stand=one_of(list(Stand)),
                sump_area_m2=one_of([None, 0.3]),
            )
        )
        mounting = one_of([Mounting.RIM, Mounting.SUSPENDED, Mounting.SEALED_HOOD])
        pump_w, light_w = litres * between(0.03, 0.4), length * width * between(20.0, 400.0)
        loads.append(Load(tank, "pump", LoadKind.SUBMERGED_PUMP, pump_w, date.min))
        loads.append(Load(tank, "light", LoadKind.LIGHT, light_w, date.min, hours_per_day=9.0, mounting=mounting))
        chiller = one_of([True, True, False])
        devices.append(
            Device(
                device,
                DeviceKind.CHILLER if chiller else DeviceKind.SURFACE_FAN,
                device,
                rated_cooling_w=litres * between(0.3, 3.0) if chiller else None,
                installed=one_of([None, date(2026, 4, 1)]),
            )
        )
        placements.append(Placement(device, Where.BESIDE_TANK, date.min, room=room, clearance_m=0.5))
        duties.append(Duty(device, tank, date.min))
    return snapshot(
        RegisterRows(
            clients=(Client("client", "Client"),),
            sites=(Site("site", "client", "Site", "UTC"),),
            rooms=tuple(rooms),
            tanks=tuple(tanks),
            loads=tuple(loads),
            devices=tuple(devices),
            placements=tuple(placements),
            duties=tuple(duties),
        ),
        date(2026, 5, 4),
    )


@pytest.mark.parametrize("ends", [(1.0, 2.0, 5.0), (5.0, 2.0, 1.0), (1.0, 1.0, 3.0), (3.0, 3.0, 1.0)])
def test_draws_between_three_values_follow_the_triangular_distribution(ends):
    """Reference: scipy.stats.triang."""
    found = np.sort(triangular(np.random.default_rng(1), np.array([ends]), 20_000)[0])
    low, high = min(ends), max(ends)
    reference = triang((ends[1] - low) / (high - low), loc=low, scale=high - low)
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        assert np.quantile(found, share) == pytest.approx(reference.ppf(share), abs=0.05)
    assert found.min() >= low
    assert found.max() <= high


def test_three_equal_values_leave_nothing_to_draw():
    assert np.all(triangular(np.random.default_rng(1), np.array([[2.0, 2.0, 2.0]]), 50) == 2.0)


def test_the_same_seed_draws_the_same_and_another_nearly_so(bench, room, tank, loads, chiller):
    fleet = bench.one_room(room, [tank], loads, [chiller], [bench.beside()])
    one, again, other = (draw_margins(fleet, {}, scenario=Scenario.HOT_DAY, seed=seed) for seed in (1, 1, 2))
    assert one == again
    assert one != other
    assert one[0].required_w.high == pytest.approx(other[0].required_w.high, rel=0.05)
    assert one[0].margin.low == pytest.approx(other[0].margin.low, abs=0.05)


def test_where_only_the_pumps_count_the_need_spreads_as_their_draw(bench, room, tank):
    """Closed form: 5 kW of pumps whose draw is known to 10 % makes 1.645 x 10 % of it, 823 W, from the middle to the
    95 % point; everything else is a few watts."""
    pump = Load("tank", "pump", LoadKind.SUBMERGED_PUMP, 5000.0, date.min)
    fleet = bench.one_room(room, [tank], [pump])
    found = draw_margins(fleet, {}, scenario=Scenario.HOT_DAY, draws=4000)[0].required_w
    assert found.high - found.mid == pytest.approx(1.645 * PUMP_SIGMA * 5000.0, rel=0.06)
    assert found.mid - found.low == pytest.approx(1.645 * PUMP_SIGMA * 5000.0, rel=0.06)


def test_an_external_pump_gives_half_of_its_heat_to_the_water(bench, room, tank):
    pumps = [
        Load("tank", "return", LoadKind.EXTERNAL_PUMP, 100.0, date.min),
        Load("tank", "wave", LoadKind.SUBMERGED_PUMP, 40.0, date.min, hours_per_day=12.0),
    ]
    assert pump_heat_w(bench.one_room(room, [tank], pumps), ("tank",))[0] == pytest.approx(70.0)


def reef_in_draws(bench, room, tank, loads, draws=3000):
    """Rise over an 80 °F room without cooling [°F] and mean heat to remove at 10 °F under the room [W], in points."""
    each = np.arange(draws)
    generator = np.random.default_rng(3)
    fleet = bench.one_room(room, [tank], loads)
    model = build(fleet, {}, ["tank"])
    cases = spread_over_cases(drawn_model(fleet, model, 0, generator, draws), each, each)
    gain = triangular(generator, model.tanks.gain_w.mean(axis=-1), draws)
    gain += 105.0 * generator.normal(0.0, PUMP_SIGMA, (1, draws))
    nothing = np.zeros((1, draws))
    rest, _tau = equilibrium(cases, gain, nothing)
    rise = (rest[0] - room.hot_day_mean_c) * 1.8
    colder = bench.one_room(room, [replace(tank, target_c=room.hot_day_mean_c - 10.0 / 1.8)], loads)
    held = spread_over_cases(drawn_model(colder, build(colder, {}, ["tank"]), 0, generator, draws), each, each)
    required = at_full_duty(held, np.full(draws, 15.0), gain, nothing).required_w[0]
    return tuple(np.quantile(values, (0.05, 0.5, 0.95)) for values in (rise, required))


def test_the_75_gallon_reef_spreads_as_a_prototype_of_this_balance_did(bench, room, tank, loads):
    """An earlier prototype, written apart from this program, drew 1.7, 4.1 and 6.6 °F over the room and 208, 239 and
    272 W at 10 °F under it (5, 50 and 95 %; from memory of its runs, not printed anywhere). The model gives 1.4, 3.6
    and 5.7 °F with an open sump of 0.3 m2 and 213, 237 and 263 W without a sump; with one the need is 250, 276 and
    304 W, without one the rise is 4.0, 6.8 and 9.7 °F. So the prototype's two rows are not of one and the same sump;
    its spreads of some 5 °F and 30 W either way are met by both."""
    rise, required_with_sump = reef_in_draws(bench, room, replace(tank, sump_area_m2=0.30, sump_volume_m3=0.075), loads)
    rise_without, required = reef_in_draws(bench, room, tank, loads)
    assert rise == pytest.approx([1.7, 4.1, 6.6], abs=1.0)
    assert required == pytest.approx([208.0, 239.0, 272.0], rel=0.04)
    for points in (rise, rise_without):
        assert points[2] - points[0] == pytest.approx(4.9, abs=1.0)
    for points in (required, required_with_sump):
        assert points[2] - points[0] == pytest.approx(64.0, rel=0.25)


def compared(fleet, scenario, draws=400):
    """For each tank: low margin by the sides, 5 % point of the drawn one, high need by the sides, its 95 % point."""
    classes = read_catalogue().class_by_code
    model = build(fleet, classes, [tank.code for tank in fleet.tanks])
    peak = at_peak(model, scenario)
    drawn = draw(fleet, model, scenario, peak, seed=1, draws=draws)
    sides = capacity_margin(np.maximum(peak.available_w[:, SAFE], 0.0), peak.required_w[:, SAFE])
    return model, peak, sides, drawn


@pytest.mark.parametrize("scenario", [0, 1], ids=["hot day", "A/C off"])
@pytest.mark.parametrize("which", ["sample", "generated"])
def test_no_tank_is_judged_better_by_the_sides_than_by_the_draws(sample_fleet, which, scenario):
    """The low margin by the sides is on the safe side of the 5 % point: no tank has a better state by it. It is higher
    in one tank of twenty-eight (most often, one in eight, in the sample fleet with the A/C off), and all of those are
    hopelessly short (-0.85 or less) or have more than three times what they need."""
    fleet = sample_fleet if which == "sample" else generated_fleet(150, 5)
    _model, peak, sides, drawn = compared(fleet, scenario)
    judged = (peak.available_w.max(axis=1) > 0.0) & (peak.required_w[:, SAFE] > 0.0)
    by_sides, by_draws = sides[judged], drawn.margin[judged, 0]
    assert np.all(np.digitize(by_draws, STATES) >= np.digitize(by_sides, STATES))
    above = by_sides > by_draws + 0.01
    assert above.mean() < 1.0 / 8.0
    assert np.all((by_sides[above] < -0.85) | (by_sides[above] > 2.0))


@pytest.mark.parametrize("scenario", [0, 1], ids=["hot day", "A/C off"])
def test_disagreement_the_need_alone_is_not_always_on_the_safe_side(sample_fleet, scenario):
    """Where one unknown rules, the 95 % point of the need lies over the sides' high end: the walls of a cold tank,
    which the sides move by one sigma, and pumps, which they do not move. By how much: at most 8 % or 10 W."""
    _model, peak, _sides, drawn = compared(sample_fleet, scenario)
    over = drawn.required_w[:, 2] - peak.required_w[:, SAFE]
    assert (over > 0.0).any()
    assert np.all(over < np.maximum(10.0, 0.10 * np.abs(peak.required_w[:, SAFE])))


def test_the_middle_of_the_draws_is_the_middle_side(sample_fleet):
    _model, peak, _sides, drawn = compared(sample_fleet, 0)
    for points, sides in ((drawn.required_w, peak.required_w), (drawn.available_w, peak.available_w)):
        half = np.abs(sides[:, SAFE] - sides[:, KIND]) / 2.0
        assert np.all(np.abs(points[:, 1] - sides[:, MID]) < 0.25 * half + 3.0)


def test_a_tank_with_a_log_draws_from_its_scales(bench, room, tank, loads):
    """Narrow scales make a narrow need: only the room's humidity is left."""
    fleet = bench.one_room(room, [tank], loads)
    model = build(fleet, {}, ["tank"])
    known = replace(
        model,
        calibrated=np.array([True]),
        tanks=replace(model.tanks, gain_w=np.repeat(model.tanks.gain_w[:, MID : MID + 1], 3, axis=1)),
    )
    peak = at_peak(model, 0)
    wide, narrow = (draw(fleet, one, 0, peak, seed=1).required_w[0] for one in (model, known))
    assert narrow[2] - narrow[0] < 0.5 * (wide[2] - wide[0])
