"""Logs made with known scales give those scales back; logs that cannot are refused, with the reason in words."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from fleet.thermal.assess import assess, build
from fleet.thermal.balance import Air, losses, machine_output
from fleet.thermal.calibration import Calibration, calibrate
from fleet.thermal.capacity import at_peak
from fleet.thermal.cases import spread_over_cases
from fleet.thermal.logs import Refusal, find_log
from fleet.thermal.properties import saturation_pressure
from fleet.thermal.tanks import SAFE
from fleet.values.register import Load, Reading
from fleet.values.vocabulary import LoadKind, Mounting, ReadingQuantity

BEGUN = datetime(2026, 4, 20, 6, 0, tzinfo=UTC)
LAMP_ON, LAMP_HOURS, LAMP_W, PUMPS_W = 10.0, 9.0, 250.0, 105.0
"""Hours are local to a house in London, which in April is an hour ahead of UTC."""


@pytest.fixture
def lamps():
    """As the reef of the fixtures, with the hour at which its lamps go on."""
    return (
        Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, PUMPS_W, date.min),
        Load("tank", "light", LoadKind.LIGHT, LAMP_W, date.min, LAMP_HOURS, time(int(LAMP_ON)), Mounting.RIM),
    )


def room_at(seconds):
    """A room that swings over the day and drifts over the week, 23.5 to 27 °C."""
    return 25.0 + 1.2 * math.sin(2 * math.pi * (seconds / 86_400.0 - 0.2)) + 0.6 * math.sin(seconds / 150_000.0)


def made_log(
    fleet, *, loss=1.0, gain=1.0, days=3.0, every_s=1800.0, noise_k=0.05, seed=1, lit=True, room=room_at, share=None
):
    """Readings of a tank whose losses and gains are those of the model times known scales.

    Its water follows scipy's LSODA (rtol 1e-8), not the steps of the model. share: hours -> run share of its chiller.
    """
    model = build(fleet, {}, ["tank"])
    cases = spread_over_cases(model, np.array([1]), np.array([0]))
    humidity = 0.5
    times = np.arange(0.0, days * 86_400.0 + 1.0, every_s)
    rooms_c = np.array([room(second) for second in times])
    vapour = np.full((1, 1), humidity * saturation_pressure(float(rooms_c.mean())))

    def rate(second, water_c):
        room_c = np.full((1, 1), room(second))
        air = Air(room_c, room_c, room_c, vapour)
        water = np.array([[water_c[0]]])
        local = (7.0 + second / 3600.0) % 24.0
        lamp_w = 0.5 * LAMP_W if lit and LAMP_ON <= local < LAMP_ON + LAMP_HOURS else 0.0
        away = loss * float(losses(cases, water, air, room_c, vapour).watts[0, 0])
        if share is not None:
            away += share(local) * float(machine_output(cases, water, air, room_c, np.ones((1, 1))).cooling_w[0, 0])
        return [(gain * (PUMPS_W + lamp_w) - away) / float(cases.heat_capacity_j_k[0, 0])]

    found = solve_ivp(
        rate, (0.0, times[-1]), [25.8], t_eval=times, method="LSODA", rtol=1e-8, atol=1e-8, max_step=900.0
    )
    noise = np.random.default_rng(seed).normal(0.0, noise_k, (2, times.size))
    rows = []
    for i, second in enumerate(times):
        taken = BEGUN + timedelta(seconds=float(second))
        rows.append(Reading("tank", ReadingQuantity.WATER_TEMP, float(found.y[0][i] + noise[0, i]), taken))
        rows.append(Reading("room", ReadingQuantity.ROOM_TEMP, float(rooms_c[i] + noise[1, i]), taken))
        if share is not None:
            percent = 100.0 * share((7.0 + second / 3600.0) % 24.0)
            rows.append(Reading("chiller", ReadingQuantity.RUN_SHARE_PERCENT, percent, taken))
    return tuple(rows)


def fitted(fleet):
    log = find_log(fleet, "tank")
    assert log is not None
    return log if isinstance(log, Refusal) else calibrate(build(replace(fleet, readings=()), {}, ["tank"]), [log])[0]


@pytest.fixture
def bare(bench, room, tank, lamps):
    return bench.one_room(room, [tank], lamps)


@pytest.mark.parametrize(("loss", "gain"), [(1.0, 1.0), (1.35, 1.1), (0.75, 0.85), (1.2, 0.8)])
def test_a_log_gives_back_the_scales_that_it_was_made_with(bare, loss, gain):
    found = fitted(replace(bare, readings=made_log(bare, loss=loss, gain=gain)))
    assert isinstance(found, Calibration), found
    assert found.losses.low < loss < found.losses.high
    assert found.gains.low < gain < found.gains.high
    assert found.losses.mid == pytest.approx(loss, rel=0.10)
    assert found.gains.mid == pytest.approx(gain, rel=0.06)
    assert found.residual_k < 0.08
    assert found.readings == 145


@pytest.mark.slow
def test_the_stated_error_holds_over_many_logs(bare):
    """Of 20 logs with noise of 0.1 K, the 90 % span of each scale holds its true value in at least 15 (the chance of
    fewer, were the span exactly 90 %, is 1.1 %)."""
    losses_held = gains_held = 0
    for seed in range(20):
        found = fitted(replace(bare, readings=made_log(bare, loss=1.2, gain=0.9, noise_k=0.1, seed=seed)))
        assert isinstance(found, Calibration), found
        losses_held += found.losses.low < 1.2 < found.losses.high
        gains_held += found.gains.low < 0.9 < found.gains.high
    assert losses_held >= 15
    assert gains_held >= 15


def test_the_heat_that_a_chiller_took_out_is_counted_by_its_run_share(bench, room, tank, lamps, chiller):
    known = replace(chiller, rated_cooling_w=300.0)
    fleet = bench.one_room(room, [tank], lamps, [known], [bench.beside()])

    def share(hour):
        return 0.45 if LAMP_ON <= hour < LAMP_ON + LAMP_HOURS else 0.2

    found = fitted(replace(fleet, readings=made_log(fleet, loss=1.15, gain=1.05, share=share)))
    assert isinstance(found, Calibration), found
    assert found.losses.low < 1.15 < found.losses.high
    assert found.gains.low < 1.05 < found.gains.high


def test_an_accepted_log_speaks_on_the_card_and_narrows_the_need(bare):
    fleet = replace(bare, readings=made_log(bare))
    before, after = (assess(one, {}, tanks=["tank"])[1] for one in (bare, fleet))
    assert any(note.startswith("Calibrated on 2026-04-23 (145 readings, residual 0.0") for note in after.notes)
    assert not any("alibrate" in note for note in before.notes)

    def width(row):
        return row.required_spread_w.high - row.required_spread_w.low

    assert width(after) < 0.7 * width(before)
    assert after.required_spread_w.low < after.required_spread_w.mid < after.required_spread_w.high
    assert after.required_spread_w.mid == pytest.approx(before.required_spread_w.mid, abs=0.5 * width(before))


def test_a_tank_that_loses_more_than_computed_needs_less(bench, room, tank, lamps):
    """The room stands below the target, so losses help."""
    cool = replace(room, hot_day_mean_c=22.0)
    fleet = bench.one_room(cool, [tank], lamps)
    leaky, tight = (
        float(at_peak(build(replace(fleet, readings=made_log(fleet, loss=s)), {}, ["tank"]), 0).required_w[0, SAFE])
        for s in (1.3, 0.8)
    )
    assert leaky < tight


def test_of_a_tank_colder_than_its_room_the_safe_side_gains_more(bench, room, tank, lamps):
    cold = replace(tank, target_c=18.0)
    fleet = bench.one_room(room, [cold], lamps)
    spread = assess(replace(fleet, readings=made_log(fleet)), {}, tanks=["tank"])[0].required_spread_w
    assert spread.low < spread.mid < spread.high


def reasons(fleet):
    found = fitted(fleet)
    assert isinstance(found, Refusal), found
    return found.reason


def test_a_short_log_is_refused(bare):
    assert reasons(replace(bare, readings=made_log(bare, days=0.4, every_s=900.0))) == (
        "it spans 9 h without a gap of over 6 h or a change of the tank, at least 24 are needed"
    )


def test_a_thin_log_is_refused(bare):
    assert "13 readings of the water" in reasons(replace(bare, readings=made_log(bare, days=3.0, every_s=21_600.0)))


def without_hours(rows, first, last, subjects=("tank", "room")):
    return tuple(
        row
        for row in rows
        if row.subject not in subjects or not first * 3600 < (row.taken_at - BEGUN).total_seconds() < last * 3600
    )


def test_a_hole_parts_a_log_and_what_is_left_after_it_must_be_long_enough(bare):
    rows = made_log(bare)
    assert fitted(replace(bare, readings=without_hours(rows, 30, 42))).readings == 61
    late = without_hours(without_hours(rows, 20, 32), 50, 80)
    assert reasons(replace(bare, readings=late)).startswith("it spans 18 h without a gap of over 6 h")


def test_a_hole_in_the_log_of_the_room_refuses_it(bare):
    rows = without_hours(made_log(bare), 30, 42, subjects=("room",))
    assert reasons(replace(bare, readings=rows)) == "the log of the room has a gap of 12 h, at most 6 are allowed"


def test_readings_of_later_visits_leave_a_log_as_it_was(bare):
    rows = made_log(bare)
    visits = tuple(
        Reading("tank", ReadingQuantity.WATER_TEMP, 26.0, BEGUN + timedelta(days=5 + day)) for day in range(9)
    )
    late = replace(bare, day=BEGUN.date() + timedelta(days=30))
    assert fitted(replace(late, readings=rows + visits)) == fitted(replace(late, readings=rows))


def test_a_tank_that_was_changed_after_its_log_says_so(bench, room, tank, lamps):
    newer = replace(lamps[1], name="more light", since=date(2026, 4, 25))
    fleet = bench.one_room(room, [tank], (*lamps, newer))
    found = find_log(replace(fleet, readings=made_log(bench.one_room(room, [tank], lamps))), "tank")
    assert isinstance(found, Refusal)
    assert found.sentence() == (
        "Its log of 2026-04-23 does not calibrate it: the tank was changed on 2026-04-25, after it."
    )


def test_logs_that_are_judged_together_give_what_each_gives_alone(bench, room, tank, lamps):
    """One ends after two days, the other after three, and one is past belief."""
    others = [replace(tank, code=code, name=code) for code in ("other", "odd")]
    loads = [replace(load, tank=one.code) for one in (tank, *others) for load in lamps]
    fleet = bench.one_room(room, [tank, *others], loads)
    bare = bench.one_room(room, [tank], lamps)
    made = {
        "tank": made_log(bare, loss=1.2, gain=0.9, days=3.0),
        "other": made_log(bare, loss=0.8, gain=1.1, days=2.0, seed=2),
        "odd": made_log(bare, loss=2.7, gain=2.7, days=2.5, seed=3),
    }
    rooms = [row for row in made["tank"] if row.subject == "room"]
    waters = [replace(row, subject=code) for code, rows in made.items() for row in rows if row.subject == "tank"]
    logged = replace(fleet, readings=tuple(rooms + waters))
    logs = [find_log(logged, code) for code in made]
    plain = replace(logged, readings=())
    together = calibrate(build(plain, {}, list(made)), logs)
    for log, one in zip(logs, together, strict=True):
        (alone,) = calibrate(build(plain, {}, [log.tank]), [log])
        if isinstance(alone, Refusal):
            assert one == alone
        else:
            assert (one.losses.mid, one.gains.mid) == pytest.approx((alone.losses.mid, alone.gains.mid), rel=1e-6)
            assert one.residual_k == pytest.approx(alone.residual_k, rel=1e-6)
    assert [isinstance(one, Refusal) for one in together] == [False, False, True]


def test_a_log_without_its_room_is_refused(bare):
    rows = tuple(row for row in made_log(bare) if row.subject == "tank")
    assert reasons(replace(bare, readings=rows)).startswith("0 readings of the room")


def test_a_log_that_the_model_cannot_follow_is_refused(bare):
    """Somebody poured in cold water on the second day."""
    rows = tuple(
        replace(row, value=row.value - 4.0)
        if row.subject == "tank" and timedelta(hours=30) < row.taken_at - BEGUN < timedelta(hours=40)
        else row
        for row in made_log(bare)
    )
    assert "the model misses the log by" in reasons(replace(bare, readings=rows))


def test_scales_beyond_belief_are_refused(bare):
    """Sizes or loads on record that are not those of the tank."""
    found = reasons(replace(bare, readings=made_log(bare, loss=2.7, gain=2.7)))
    assert found == (
        "the log asks for 2.5 times the computed losses and 2.5 times the computed gains or beyond, "
        "which is past belief"
    )
    found = reasons(replace(bare, readings=made_log(bare, gain=3.5)))
    assert "even with 2.5 times the computed gains" in found


def test_a_steady_tank_in_a_steady_room_does_not_tell_losses_from_gains(bench, room, tank):
    """Only the quotient shows: pumps that run all day in air of constant temperature, from near the rest."""
    pumps = (Load("tank", "pumps", LoadKind.SUBMERGED_PUMP, PUMPS_W, date.min),)
    fleet = bench.one_room(room, [tank], pumps)
    rows = made_log(fleet, lit=False, room=lambda second: 25.0, days=6.0, noise_k=0.1)
    settled = tuple(row for row in rows if row.taken_at - BEGUN > timedelta(days=4))
    assert reasons(replace(fleet, readings=settled)) == "the log does not tell losses and gains apart"


def test_a_log_from_before_the_last_change_does_not_count(bench, room, tank, lamps):
    older = replace(lamps[1], since=date(2026, 1, 1), until=date(2026, 4, 22))
    newer = replace(lamps[1], name="new light", power_w=350.0, since=date(2026, 4, 22))
    fleet = bench.one_room(room, [tank], (lamps[0], older, newer))
    assert fleet.changes
    found = find_log(replace(fleet, readings=made_log(bench.one_room(room, [tank], lamps))), "tank")
    assert not isinstance(found, Refusal)
    assert found is not None
    assert found.water_s.size < 145


def test_a_chiller_of_unknown_run_share_a_fan_and_a_heater_at_work_refuse_the_log(bench, room, tank, lamps, chiller):
    rows = made_log(bench.one_room(room, [tank], lamps))
    with_chiller = bench.one_room(room, [tank], lamps, [chiller], [bench.beside()])
    assert "run share is not on record" in reasons(replace(with_chiller, readings=rows))
    fan = replace(chiller, code="fan", kind="surface-fan", rated_cooling_w=None)
    assert "a fan blew" in reasons(replace(bench.one_room(room, [tank], lamps, [fan]), readings=rows))
    heater = Load("tank", "heater", LoadKind.HEATER, 200.0, date.min)
    warm = replace(tank, target_c=27.0)
    assert "heater may have run" in reasons(replace(bench.one_room(room, [warm], (*lamps, heater)), readings=rows))


def test_a_refusal_is_told_and_changes_nothing(bare):
    fleet = replace(bare, readings=tuple(row for row in made_log(bare) if row.subject == "tank"))
    before, after = (assess(one, {}, tanks=["tank"])[1] for one in (bare, fleet))
    assert before.required_spread_w == after.required_spread_w
    assert any(
        note.startswith("Its log of 2026-04-23 does not calibrate it: 0 readings of the room") for note in after.notes
    )


def test_the_readings_of_visits_are_no_log(bench, bare):
    visits = tuple(
        Reading("tank", ReadingQuantity.WATER_TEMP, 25.6, BEGUN - timedelta(days=7 * week)) for week in range(30)
    )
    assert find_log(replace(bare, readings=visits), "tank") is None
    assert find_log(bare, "tank") is None
