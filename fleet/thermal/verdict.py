"""The figures that a tank is judged by under one scenario, and the state that they amount to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.capacity import AtPeak, Loss
from fleet.thermal.cases import Model
from fleet.thermal.margin import capacity_margin, duty
from fleet.thermal.properties import DEW_POINT_VAPOUR_PA, dew_point
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import SAFE
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState

AMPLE_OVER, OK_FROM = 0.5, 0.15


@dataclass(frozen=True)
class Figures:
    """Figures of one scenario: margin of each side's capacity against its own need [tank, side], duty and margin
    without the largest device [tank], dew point of the rooms [°C; room]."""

    margin: Array
    duty: list[float]
    left_margin: list[float]
    dew_point_c: list[float]


def figures_of(model: Model, peak: AtPeak, loss: Loss, scenario: int) -> Figures:
    required, available = peak.required_w, peak.available_w
    vapour = np.clip(model.rooms.vapour_pa[:, scenario], DEW_POINT_VAPOUR_PA.low, DEW_POINT_VAPOUR_PA.high)
    return Figures(
        capacity_margin(available, required),
        duty(available[:, SAFE], required[:, SAFE]).tolist(),
        capacity_margin(np.maximum(loss.left_w, 0.0), required[:, SAFE]).tolist(),
        dew_point(vapour).tolist(),
    )


@dataclass(frozen=True)
class Judged:
    """What a tank's figures amount to under one scenario."""

    state: MarginState
    margin: Spread | None


def judge(
    margin: Spread,
    *,
    needed: bool,
    has_cooling: bool,
    all_unknown: bool,
    trips: bool,
    stays_inside_watch: bool,
) -> Judged:
    """State and margin of a tank, judged on the low end.

    needed: heat has to be removed on some side of the estimate; has_cooling: something on duty counts as cooling;
    all_unknown: none of it says how much it cools.
    """
    if not needed:
        return Judged(MarginState.NONE_NEEDED, None)
    if not has_cooling:
        return Judged(MarginState.RIDES if stays_inside_watch else MarginState.SHORT, None)
    if all_unknown:
        return Judged(MarginState.UNKNOWN, None)
    if trips:
        state = MarginState.TRIPS
    elif margin.low < 0.0:
        state = MarginState.SHORT
    elif margin.low < OK_FROM:
        state = MarginState.THIN
    else:
        state = MarginState.OK if margin.low <= AMPLE_OVER else MarginState.AMPLE
    return Judged(state, margin)
