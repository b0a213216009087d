"""A tank's own log against its model: one scale on its losses and one on its gains, with their spread, or a refusal.

What is fitted is the course of the logged water in the logged room air, by the same balance and the same steps as
everywhere else. The scale on the losses multiplies everything that the water exchanges by itself with room and stand
(walls, lid, surface, evaporation, bottom, sump); the scale on the gains multiplies lamps, pumps and stock. A steady
tank tells only their quotient; that its lamps and its room go up and down is what tells them apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from fleet.thermal.balance import Air, air_at, heat_into_stands, losses, machine_output, stand_state
from fleet.thermal.cases import Cases, Model, spread_over_cases
from fleet.thermal.day import exponential_step
from fleet.thermal.logs import Log, Refusal, find_log
from fleet.thermal.properties import saturation_pressure
from fleet.thermal.ranges import WATER_C, Array
from fleet.thermal.rooms import HOT
from fleet.thermal.tanks import BINS, KIND, MID, SAFE
from fleet.values.fleet import Fleet
from fleet.values.spread import Spread

LARGEST_RESIDUAL_K = 0.3
SCALE_LOW, SCALE_HIGH = 0.4, 2.5
LARGEST_ERROR = 0.25
"""Of either scale, 90 % confidence; where a log leaves more open, it does not tell losses and gains apart."""
WORST_CONDITION = 1e12
START_K = 1.0
"""How far the water at the start of the log may lie from its first reading."""
THERMOMETER_K = 0.05
"""A residual smaller than this is the thermometer's luck."""
SIGMAS_OF_90_PERCENT = 1.645
STATED_VOLUME_ERROR, ASSUMED_VOLUME_ERROR = 0.05, 0.10
"""An error in the volume of water is an error of the same share in both scales."""
STEP_S = 1800.0


@dataclass(frozen=True, slots=True)
class Calibration:
    """Scales on a tank's computed losses and gains (5, 50 and 95 % points), and how well they meet the log."""

    tank: str
    on: date
    readings: int
    residual_k: float
    losses: Spread
    gains: Spread

    def sentence(self) -> str:
        """For the tank's card."""
        return f"Calibrated on {self.on.isoformat()} ({self.readings} readings, residual {self.residual_k:.2f} K)."


class _Course:
    """Simulates the water of one tank in its logged air, several scales at once, and reads it at the log's times."""

    def __init__(self, model: Model, log: Log, cases: int) -> None:
        self.log = log
        side, scenario = np.full(cases, MID), np.full(cases, HOT)
        self.cases = spread_over_cases(model, side, scenario)
        duration = float(log.water_s[-1])
        steps = max(math.ceil(duration / STEP_S), 1)
        self.edges = np.linspace(0.0, duration, steps + 1)
        middle = (self.edges[:-1] + self.edges[1:]) / 2.0
        self.hours = (log.start_hour + middle / 3600.0) % 24.0
        self.room_c = np.interp(middle, log.room_s, log.room_c)
        self.share = np.interp(middle, log.run_s, log.run_share) if log.run_s.size else np.zeros(steps)
        # A log's air holds its vapour over the day, as the rooms of the model do.
        self.vapour_pa = log.relative_humidity * float(saturation_pressure.on_arrays(np.array(self.room_c.mean())))
        self.gain_w, self.stand_gain_w = (
            self._mean_over_steps(table[0, MID]) for table in (model.tanks.gain_w, model.tanks.stand_gain_w)
        )
        self.removed_w = 0.0

    def _mean_over_steps(self, by_bin: Array) -> Array:
        """Mean of a table of the day over each step, by the integral of the table."""
        bin_s = 86_400.0 / BINS
        total = np.concatenate([[0.0], np.cumsum(by_bin) * bin_s])

        def integral(seconds: Array) -> Array:
            days, rest = np.divmod(seconds, 86_400.0)
            result: Array = days * total[-1] + np.interp(rest, np.arange(BINS + 1) * bin_s, total)
            return result

        clock = self.log.start_hour * 3600.0 + self.edges
        result: Array = np.diff(integral(clock)) / np.diff(self.edges)
        return result

    def water_c(self, loss_scale: Array, gain_scale: Array, start_c: Array) -> Array:
        """Water at the times of the readings; [case, reading]. The three arguments are [case]."""
        cases = _scaled(self.cases, loss_scale)
        machines, links = cases.model.devices.machines, cases.model.devices.links
        rooms, tanks = cases.model.rooms, cases.model.tanks
        count = loss_scale.size
        temp = start_c[None, :].copy()
        course = [temp[0]]
        stand_c, stand_vapour = np.full((1, count), self.room_c[0]), np.full((1, count), self.vapour_pa)
        ratio = np.ones((len(machines.codes), count))
        heat = np.zeros_like(ratio)
        own_room = np.arange(len(rooms.codes))[:, None] == tanks.room[0]
        removed = 0.0
        for i, seconds in enumerate(np.diff(self.edges)):
            design = air_at(cases, np.full(count, self.hours[i]))
            room_c = np.full((1, count), self.room_c[i])
            vapour = np.minimum(self.vapour_pa, saturation_pressure.on_arrays(room_c))
            air = Air(np.where(own_room, self.room_c[i], design.rooms_c), design.outdoor_c, room_c, vapour)
            stand_heat = heat_into_stands(cases, heat, np.full((1, count), self.stand_gain_w[i]))
            stand_c, stand_vapour = stand_state(cases, temp, air, stand_heat, stand_c, stand_vapour)
            leaving = losses(cases, temp, air, stand_c, stand_vapour)
            cooled = np.zeros((1, count))
            if machines.codes and self.share[i] > 0.0:
                output = machine_output(cases, np.repeat(temp, len(machines.codes), axis=0), air, stand_c, ratio)
                on_duty = np.isin(np.arange(len(machines.codes)), links.machine[links.duty])[:, None]
                drawn = output.cooling_w * self.share[i] * on_duty
                cooled = drawn.sum(axis=0, keepdims=True)
                heat = drawn + output.power_w * self.share[i] * on_duty
                ratio = output.load_ratio
                removed += float(cooled[0, 0]) * seconds
            rate = (gain_scale * self.gain_w[i] - leaving.watts - cooled) / cases.heat_capacity_j_k
            decay = leaving.slope_w_per_k / cases.heat_capacity_j_k
            temp = np.clip(exponential_step(temp, rate, decay, float(seconds)), WATER_C.low, WATER_C.high)
            course.append(temp[0])
        self.removed_w = removed / float(self.edges[-1])
        found = np.stack(course, axis=-1)
        return np.stack([np.interp(self.log.water_s, self.edges, one) for one in found])


def _scaled(cases: Cases, scale: Array) -> Cases:
    return replace(
        cases,
        open_m2=cases.open_m2 * scale,
        lid_ua=cases.lid_ua * scale,
        wall_ua=cases.wall_ua * scale,
        pane_gain_w=cases.pane_gain_w * scale,
        stand_side_ua=cases.stand_side_ua * scale,
        sump_m2=cases.sump_m2 * scale,
    )


NUDGE = 1e-3


def calibrate(model: Model, log: Log) -> Calibration | Refusal:
    """Scales on losses and gains that meet a log best, by least squares on the water's course, or why they are refused.

    model: of this tank alone. The start of the course is fitted with them. Refused where the residual is over 0.3 K,
    where a scale ends at its bounds (0.4 and 2.5), and where the 90 % error of either is over a quarter, which is how
    a log shows that it does not tell losses and gains apart. The error counts neighbouring residuals as one where
    they hang together, adds the error of the volume, and that of the plate for what a cooler took out.
    """
    from scipy.optimize import least_squares

    course = _Course(model, log, cases=4)
    first = float(log.water_c[0])
    seen: dict[bytes, tuple[Array, Array]] = {}

    def run(x: Array) -> tuple[Array, Array]:
        key = x.tobytes()
        if key not in seen:
            nudged = x[:, None] + np.concatenate([np.zeros((3, 1)), NUDGE * np.eye(3)], axis=1)
            water = course.water_c(nudged[0], nudged[1], first + nudged[2])
            seen[key] = water[0] - log.water_c, (water[1:] - water[0]).T / NUDGE
        return seen[key]

    fit = least_squares(
        lambda x: run(x)[0],
        np.array([1.0, 1.0, 0.0]),
        jac=lambda x: run(x)[1],
        bounds=([SCALE_LOW, SCALE_LOW, -START_K], [SCALE_HIGH, SCALE_HIGH, START_K]),
        xtol=1e-6,
        ftol=1e-8,
        max_nfev=40,
    )
    residuals, slopes = run(fit.x)
    loss, gain = float(fit.x[0]), float(fit.x[1])
    count = residuals.size
    residual_k = math.sqrt(float(residuals @ residuals) / (count - 3))
    reason = _unfit(fit.x, slopes, residuals, residual_k)
    if reason is not None:
        return Refusal(log.tank, reason)
    errors = _errors(fit.x, slopes, residuals, residual_k)
    volume = STATED_VOLUME_ERROR if log.volume_stated else ASSUMED_VOLUME_ERROR
    plate = _plate_error(model) * course.removed_w / max(gain * float(course.gain_w.mean()), 1.0)
    loss_error, gain_error = (math.hypot(float(error), volume, plate) for error in errors[:2])
    if plate > LARGEST_ERROR:
        return Refusal(log.tank, "what its cooler took out is known too poorly from its plate")
    return Calibration(
        log.tank,
        log.on,
        count,
        residual_k,
        Spread(loss * (1.0 - loss_error), loss, loss * (1.0 + loss_error)),
        Spread(gain * (1.0 - gain_error), gain, gain * (1.0 + gain_error)),
    )


def _errors(found: Array, slopes: Array, residuals: Array, residual_k: float) -> Array:
    """Relative 90 % errors of the two scales; infinite where the log has no word on one."""
    information = slopes.T @ slopes
    if np.linalg.cond(information) > WORST_CONDITION:
        return np.full(2, np.inf)
    variance = max(residual_k, THERMOMETER_K) ** 2 * _hanging_together(residuals)
    result: Array = SIGMAS_OF_90_PERCENT * np.sqrt(np.diag(np.linalg.inv(information)) * variance)[:2] / found[:2]
    return result


def _unfit(found: Array, slopes: Array, residuals: Array, residual_k: float) -> str | None:
    """Why a fit is not to be used; None where it is. The first reason that holds is the one that explains the rest."""
    fits = residual_k <= LARGEST_RESIDUAL_K
    if fits and _errors(found, slopes, residuals, residual_k).max() > LARGEST_ERROR:
        return "the log does not tell losses and gains apart"
    at_bounds = [
        f"{scale:.1f} times the computed {what}"
        for scale, what in zip(found[:2], ("losses", "gains"), strict=True)
        if not SCALE_LOW * 1.01 < scale < SCALE_HIGH * 0.99
    ]
    if not fits:
        even = f", even with {' and '.join(at_bounds)}" if at_bounds else ""
        return f"the model misses the log by {residual_k:.2f} K{even}; at most {LARGEST_RESIDUAL_K} K is allowed"
    if at_bounds:
        return f"the log asks for {' and '.join(at_bounds)} or beyond, which is past belief"
    return None


def _hanging_together(residuals: Array) -> float:
    """How many neighbouring residuals count as one, from their correlation with the next (first-order process)."""
    total = float(residuals @ residuals)
    if total == 0.0:
        return 1.0
    correlation = min(max(float(residuals[:-1] @ residuals[1:]) / total, 0.0), 0.95)
    return (1.0 + correlation) / (1.0 - correlation)


def _plate_error(model: Model) -> float:
    """Half the span of the duty machine's rating over its middle; 0 where there is none."""
    machines = model.devices.machines
    middle = machines.reference_w[:, MID].sum()
    if middle <= 0.0:
        return 0.0
    return float((machines.reference_w[:, KIND] - machines.reference_w[:, SAFE]).sum() / 2.0 / middle)


def with_logs(fleet: Fleet, model: Model, alone: Callable[[str], Model]) -> Model:
    """The model with the scales of every tank whose log is accepted, and a word on every log.

    alone: gives the model of one tank by itself, not calibrated. A tank without a log costs a look-up.
    """
    found: list[Calibration] = []
    words: list[str | None] = [None] * len(model.tanks.codes)
    for i, code in enumerate(model.tanks.codes):
        log = find_log(fleet, code)
        if log is None:
            continue
        outcome = log if isinstance(log, Refusal) else calibrate(alone(code), log)
        if isinstance(outcome, Calibration):
            found.append(outcome)
            words[i] = outcome.sentence()
        else:
            words[i] = f"Its log does not calibrate it: {outcome.reason}."
    if not any(words):
        return model
    return replace(calibrated(model, found), log_notes=tuple(words))


def calibrated(model: Model, found: Sequence[Calibration]) -> Model:
    """The model with these scales: the spread that they have takes the place of that of surface, walls and gains.

    The safe side has the higher gains, and the losses at the end at which less heat leaves the water (the higher one
    where the water gains from its room).
    """
    if not found:
        return model
    tanks = model.tanks
    hour = np.full(2, 15.0)
    cases = spread_over_cases(model, np.full(2, MID), np.arange(2))
    air = air_at(cases, hour)
    target = np.broadcast_to(tanks.target_c[:, None], air.room_c.shape)
    leaving = losses(cases, target, air, air.room_c, air.vapour_pa).watts
    wall_ua, agitation, loss_scale = model.wall_ua.copy(), model.agitation.copy(), model.loss_scale.copy()
    known, gain_w = model.calibrated.copy(), tanks.gain_w.copy()
    switchings = tanks.switchings
    switched = switchings.water_w.copy()
    for one in found:
        i = tanks.codes.index(one.tank)
        known[i] = True
        wall_ua[i] = wall_ua[i, MID]
        agitation[i] = agitation[i, MID, HOT]
        scales = np.array([one.losses.low, one.losses.mid, one.losses.high])
        for scenario in range(2):
            loss_scale[i, :, scenario] = scales if leaving[i, scenario] >= 0.0 else scales[::-1]
        gains = np.array([one.gains.high, one.gains.mid, one.gains.low])
        gain_w[i] = gains[:, None] * tanks.gain_w[i, MID]
        own = switchings.tank == i
        switched[own] = gains * switchings.water_w[own][:, MID : MID + 1]
    return replace(
        model,
        tanks=replace(tanks, gain_w=gain_w, switchings=replace(switchings, water_w=switched)),
        wall_ua=wall_ua,
        agitation=agitation,
        loss_scale=loss_scale,
        calibrated=known,
    )
