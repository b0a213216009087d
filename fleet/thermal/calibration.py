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

from fleet.thermal.balance import air_at, losses
from fleet.thermal.cases import Model, spread_over_cases
from fleet.thermal.logged_courses import LoggedCourses
from fleet.thermal.logs import Log, Refusal, find_log
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import HOT
from fleet.thermal.tanks import KIND, MID, SAFE
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
FIRST_DAMPING, LEAST_DAMPING, MOST_DAMPING = 1e-6, 1e-9, 1e8
SETTLED = 1e-7
"""A step smaller than this, of the scales and of the start in K, ends a fit."""
MOST_RUNS = 60


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


NUDGE = 1e-3
LOWEST, HIGHEST = np.array([SCALE_LOW, SCALE_LOW, -START_K]), np.array([SCALE_HIGH, SCALE_HIGH, START_K])


@dataclass(frozen=True)
class _Fit:
    """Scales on losses and gains and the start [K from the first reading], residuals [K] and their slopes, and the heat
    that a cooler took out on the mean [W]."""

    found: Array
    residuals: Array
    slopes: Array
    removed_w: float


def _fits(courses: LoggedCourses) -> list[_Fit]:
    """Least squares of each log by itself, all of them in the same runs (Levenberg and Marquardt, inside bounds).

    A bound that a step would leave holds its unknown there; the step is then that of the others.
    """
    logs = courses.logs
    first = np.array([log.water_c[0] for log in logs])

    def run(x: Array) -> list[_Fit]:
        nudged = x[:, :, None] + np.concatenate([np.zeros((3, 1)), NUDGE * np.eye(3)], axis=1)
        water = courses.water_c(nudged[:, 0], nudged[:, 1], first[:, None] + nudged[:, 2])
        return [
            _Fit(x[i], one[0] - log.water_c, (one[1:] - one[0]).T / NUDGE, float(courses.removed_w[i]))
            for i, (log, one) in enumerate(zip(logs, water, strict=True))
        ]

    best = run(np.tile(np.array([1.0, 1.0, 0.0]), (len(logs), 1)))
    damping = np.full(len(logs), FIRST_DAMPING)
    done = np.zeros(len(logs), dtype=bool)
    for _ in range(MOST_RUNS):
        wanted = np.stack([_step_of(fit, damping[i]) for i, fit in enumerate(best)])
        done |= np.abs(wanted - [fit.found for fit in best]).max(axis=1) < SETTLED
        done |= damping > MOST_DAMPING
        if done.all():
            break
        for i, fit in enumerate(run(wanted)):
            if done[i]:
                continue
            better = float(fit.residuals @ fit.residuals) < float(best[i].residuals @ best[i].residuals)
            damping[i] = max(damping[i] / 10.0, LEAST_DAMPING) if better else damping[i] * 10.0
            best[i] = fit if better else best[i]
    return best


def _step_of(fit: _Fit, damping: float) -> Array:
    """Where the next step leads, inside the bounds."""
    normal, slope = fit.slopes.T @ fit.slopes, fit.slopes.T @ fit.residuals
    held = ((fit.found <= LOWEST) & (slope > 0.0)) | ((fit.found >= HIGHEST) & (slope < 0.0))
    free = np.flatnonzero(~held)
    there = fit.found.copy()
    if free.size:
        part = normal[np.ix_(free, free)]
        ridge = damping * np.diag(part) + 1e-12 * max(float(np.trace(part)), 1e-30)
        there[free] -= np.linalg.solve(part + np.diag(ridge), slope[free])
    result: Array = np.clip(there, LOWEST, HIGHEST)
    return result


def calibrate(model: Model, logs: Sequence[Log]) -> list[Calibration | Refusal]:
    """Scales on losses and gains that meet each log best, by least squares on the water's course, or why they are
    refused; in the order of the logs.

    model: of these tanks alone, in the same order. The start of the course is fitted with the scales. Refused where the
    residual is over 0.3 K, where a scale ends at its bounds (0.4 and 2.5), and where the 90 % error of either is over a
    quarter, which is how a log shows that it does not tell losses and gains apart. The error counts neighbouring
    residuals as one where they hang together, adds the error of the volume, and that of the plate for what a cooler
    took out.
    """
    if not logs:
        return []
    courses = LoggedCourses(model, logs, cases=4)
    fits = _fits(courses)
    plate = _plate_errors(model)
    return [
        _outcome(log, fit, float(plate[i]) * fit.removed_w / max(float(fit.found[1] * courses.mean_gain_w[i]), 1.0))
        for i, (log, fit) in enumerate(zip(logs, fits, strict=True))
    ]


def _outcome(log: Log, fit: _Fit, plate: float) -> Calibration | Refusal:
    """plate: error of the heat that a cooler took out, over the gains."""
    loss, gain = float(fit.found[0]), float(fit.found[1])
    count = fit.residuals.size
    residual_k = math.sqrt(float(fit.residuals @ fit.residuals) / (count - 3))
    reason = _unfit(fit.found, fit.slopes, fit.residuals, residual_k)
    if reason is None and plate > LARGEST_ERROR:
        reason = "what its cooler took out is known too poorly from its plate"
    if reason is not None:
        return Refusal(log.tank, log.on, reason)
    errors = _errors(fit.found, fit.slopes, fit.residuals, residual_k)
    volume = STATED_VOLUME_ERROR if log.volume_stated else ASSUMED_VOLUME_ERROR
    loss_error, gain_error = (math.hypot(float(error), volume, plate) for error in errors[:2])
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


def _plate_errors(model: Model) -> Array:
    """Half the span of the rating of the machine on duty over its middle; 0 where there is none; [tank]."""
    machines, links = model.devices.machines, model.devices.links
    duty, count = links.duty, len(model.tanks.codes)

    def total(watts: Array) -> Array:
        result: Array = np.bincount(links.tank[duty], weights=watts[links.machine[duty]], minlength=count).astype(float)
        return result

    middle = total(machines.reference_w[:, MID])
    half = total(machines.reference_w[:, KIND] - machines.reference_w[:, SAFE]) / 2.0
    result: Array = np.where(middle > 0.0, half / np.where(middle > 0.0, middle, 1.0), 0.0)
    return result


def judge_logs(
    fleet: Fleet, codes: Sequence[str], alone: Callable[[Sequence[str]], Model]
) -> list[Calibration | Refusal]:
    """What comes of the logs of these tanks; nothing for a tank that nobody logged, which costs a look-up.

    alone: gives the model of some tanks by themselves, not calibrated, in their order.
    """
    found = [log for code in codes if (log := find_log(fleet, code)) is not None]
    logs = [log for log in found if isinstance(log, Log)]
    refused: list[Calibration | Refusal] = [log for log in found if isinstance(log, Refusal)]
    return refused + (calibrate(alone([log.tank for log in logs]), logs) if logs else [])


def with_logs(fleet: Fleet, model: Model, alone: Callable[[Sequence[str]], Model]) -> Model:
    """The model with the scales of every tank whose log is accepted, and a word on every log; `alone` as above."""
    outcomes = judge_logs(fleet, model.tanks.codes, alone)
    if not outcomes:
        return model
    words = {outcome.tank: outcome.sentence() for outcome in outcomes}
    found = [outcome for outcome in outcomes if isinstance(outcome, Calibration)]
    return replace(calibrated(model, found), log_notes=tuple(words.get(code) for code in model.tanks.codes))


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
