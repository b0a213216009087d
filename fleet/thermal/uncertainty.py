"""How sure the need, the capacity and the margin of a tank are: many draws of what is not known, at the same balance.

`assess` does not draw. It works out three sides of each tank, with everything at once on the safe side, in the middle
and on the kind side: three balances and no random numbers. That cheaper method stands because its low margin, by which
a tank is judged, was compared with the 5 % point of the draws (tests/thermal/test_uncertainty.py holds it, and
tests/benchmarks/uncertainty.py prints it):

- Margin. On the sample fleet and 300 generated tanks, in both scenarios, the sides' low margin lay above the 5 % point
  of the draws for one tank in seventy, and never for one that is judged thin or ok: those tanks are hopelessly short
  anyway (fans with the A/C off, whose humidity the sides do not spread) or have several times what they need.
- Need. By itself it is not always on the safe side: where one unknown rules (the walls of a cold tank, which the sides
  move by one sigma; the pumps of a sealed one, which they do not move), the 95 % point lies over the sides' high end,
  by up to a tenth. On the hot day that is so in one tank of four, with the A/C off in three of five. It decides nothing
  alone: the low end of the plate, which stands against it, is further off. Of some 1500 generated tanks one was judged
  to need nothing where the 95 % point asked for 2 W. Whoever wants the need's own 5 to 95 % span draws it here.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.assess import BATCH, build
from fleet.thermal.capacity import HOURS, AtPeak, at_peak
from fleet.thermal.cases import Model, spread_over_cases
from fleet.thermal.full_duty import at_full_duty
from fleet.thermal.groups import batches, is_placed
from fleet.thermal.margin import capacity_margin
from fleet.thermal.properties import saturation_pressure
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import SCENARIOS
from fleet.thermal.tanks import BINS_PER_HOUR, MID, SIDES
from fleet.values.assessment import DrawnMargin
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.spread import Spread
from fleet.values.vocabulary import LoadKind, Scenario

AGITATION_SIGMA = 0.25
"""Of the still-air evaporation: ripple of pumps and overflows is the largest unknown of a tank. Derived here."""
WALL_SIGMA = 0.12
PUMP_SIGMA = 0.10
"""What a pump draws against what is printed on it: from memory."""
HUMIDITY_SIGMA = 0.07
"""What a room's humidity is against what was stated. A default is already its safe end: the 95 % point."""
SHARES = (0.05, 0.50, 0.95)
SAFE_END_SIGMAS = 1.645
PUMPS = (LoadKind.SUBMERGED_PUMP, LoadKind.EXTERNAL_PUMP, LoadKind.UV)


@dataclass(frozen=True)
class Drawn:
    """5, 50 and 95 % points [tank, 3] of need and capacity [W] at the hour that counts, and of the margin."""

    required_w: Array
    available_w: Array
    margin: Array


def triangular(generator: np.random.Generator, ends: Array, draws: int) -> Array:
    """Draws [row, draw] from triangles over the three values of each row of `ends`; the mode is the middle one.

    The ends may stand in either order; a row whose ends are equal gives that value.
    """
    low, high = ends.min(axis=-1, keepdims=True), ends.max(axis=-1, keepdims=True)
    mode = np.clip(ends[..., 1:2], low, high)
    span = high - low
    share = generator.random((*ends.shape[:-1], draws))
    rising = low + np.sqrt(share * span * (mode - low))
    falling = high - np.sqrt((1.0 - share) * span * (high - mode))
    result: Array = np.where(share * span < mode - low, rising, falling)
    return result


def lognormal(generator: np.random.Generator, sigma: float, shape: tuple[int, ...]) -> Array:
    """Draws of a factor about one that cannot change its sign; `sigma` is its relative spread."""
    return np.exp(generator.normal(0.0, sigma, shape))


def pump_heat_w(fleet: Fleet, codes: tuple[str, ...]) -> Array:
    """Heat of the pumps of each tank to its water, on the mean of the day. [W]"""
    heat = np.zeros(len(codes))
    for i, code in enumerate(codes):
        for load in fleet.loads_by_tank.get(code, ()):
            if load.kind in PUMPS:
                share = defaults.EXTERNAL_PUMP_TO_WATER[MID] if load.kind is LoadKind.EXTERNAL_PUMP else 1.0
                hours = 24.0 if load.hours_per_day is None else min(load.hours_per_day, 24.0)
                heat[i] += load.power_w * share * hours / 24.0
    return heat


def draw_margins(
    fleet: Fleet,
    classes: Mapping[str, AnimalClass],
    *,
    scenario: Scenario,
    tanks: Collection[str] | None = None,
    seed: int = 0,
    draws: int = 1000,
) -> tuple[DrawnMargin, ...]:
    """5, 50 and 95 % points of need, capacity and margin of every tank (or of those named), sorted by tank.

    The same seed gives the same figures; tanks must be on record with their rooms. Arguments as in `assess`.
    """
    wanted = {tank.code for tank in fleet.tanks if is_placed(fleet, tank.code)} if tanks is None else set(tanks)
    found: list[DrawnMargin] = []
    c = SCENARIOS.index(scenario)
    for codes in batches(fleet, wanted, BATCH):
        model = build(fleet, classes, codes)
        drawn = draw(fleet, model, c, at_peak(model, c), seed=seed, draws=draws)
        for i, code in enumerate(model.tanks.codes):
            if code in wanted:
                required, available, margin = (
                    Spread(*(float(value) for value in points[i]))
                    for points in (drawn.required_w, drawn.available_w, drawn.margin)
                )
                found.append(DrawnMargin(code, scenario, required, available, margin, draws))
    return tuple(sorted(found, key=lambda row: row.tank))


def drawn_model(fleet: Fleet, model: Model, scenario: int, generator: np.random.Generator, draws: int) -> Model:
    """The model with one case for each draw: its axes of sides and of scenarios both run over the draws.

    Every draw is a case with its own side and its own scenario, so wherever both axes meet only the diagonal is read.
    """
    tanks, rooms, devices = model.tanks, model.rooms, model.devices
    count = len(tanks.codes)

    def spread(sides: Array) -> Array:
        return triangular(generator, sides, draws)

    def same(values: Array) -> Array:
        return np.broadcast_to(values[:, None], (values.shape[0], draws))

    def on_diagonal(values: Array) -> Array:
        return np.broadcast_to(values[:, :, None], (*values.shape, draws))

    own_log = model.calibrated
    scale = np.where(
        own_log[:, None], spread(model.loss_scale[:, :, scenario]), model.loss_scale[:, MID, scenario, None]
    )
    agitation = np.where(own_log[:, None], 1.0, lognormal(generator, AGITATION_SIGMA, (count, draws)))
    walls = np.where(own_log[:, None], 1.0, lognormal(generator, WALL_SIGMA, (count, draws)))
    saturated = saturation_pressure.on_arrays(np.clip(rooms.mean_c[:, scenario], -20.0, 60.0))
    stated = np.array([fleet.room_by_code[code].relative_humidity is not None for code in rooms.codes], dtype=bool)
    shift = generator.normal(0.0, HUMIDITY_SIGMA, (len(rooms.codes), draws))
    shift -= np.where(stated, 0.0, SAFE_END_SIGMAS * HUMIDITY_SIGMA)[:, None]
    reference = saturation_pressure.on_arrays(rooms.mean_c[:, 0])[:, None]
    vapour = np.clip(rooms.vapour_pa[:, scenario, None] + shift * reference, 0.0, saturated[:, None])
    machines, fans = devices.machines, devices.fans
    return replace(
        model,
        tanks=replace(
            tanks,
            open_fraction=spread(tanks.open_fraction),
            fan_open_fraction=spread(tanks.fan_open_fraction),
            heat_capacity_j_k=spread(tanks.heat_capacity_j_k),
            stand_flow_m3_h=spread(tanks.stand_flow_m3_h),
        ),
        rooms=replace(
            rooms,
            mean_c=same(rooms.mean_c[:, scenario]),
            half_range_k=same(rooms.half_range_k[:, scenario]),
            peak_hour=same(rooms.peak_hour[:, scenario]),
            vapour_pa=vapour,
            fans_count=same(rooms.fans_count[:, scenario]),
        ),
        devices=replace(
            devices,
            machines=replace(
                machines,
                reference_w=spread(machines.reference_w),
                reference_power_w=spread(machines.reference_power_w),
                span_k=spread(machines.span_k),
                airflow=spread(machines.airflow),
                scale_factor=spread(machines.scale_factor),
                sun_k=spread(machines.sun_k),
            ),
            fans=replace(fans, speed_m_s=spread(fans.speed_m_s)),
            stand_flow_m3_h=spread(devices.stand_flow_m3_h),
        ),
        wall_ua=on_diagonal(model.wall_ua[:, MID, scenario, None] * walls),
        agitation=on_diagonal(agitation),
        pane_gain_w=same(model.pane_gain_w[:, scenario]),
        loss_scale=on_diagonal(scale),
    )


def draw(fleet: Fleet, model: Model, scenario: int, peak: AtPeak, *, seed: int, draws: int = 1000) -> Drawn:
    """Need, capacity and margin of every tank of the model at its own hour that counts (`peak`), drawn `draws` times.

    The same seed gives the same figures. Surface ripple, walls, pumps and humidity spread by the sigmas above;
    light fractions, ratings, dirt, scale, fans and leakage as triangles over their three sides.
    """
    generator = np.random.default_rng(seed)
    tanks, links, fans = model.tanks, model.devices.links, model.devices.fans
    count = len(tanks.codes)
    each = np.arange(draws)
    cases = spread_over_cases(drawn_model(fleet, model, scenario, generator, draws), each, each)

    def at_own_hour(table: Array) -> Array:
        hourly = table.reshape(count, SIDES, HOURS, BINS_PER_HOUR).mean(axis=-1)
        return np.take_along_axis(hourly, peak.hour[:, None, None], axis=2)[:, :, 0]

    pumps = pump_heat_w(fleet, tanks.codes) * ~model.calibrated
    gain = triangular(generator, at_own_hour(tanks.gain_w), draws)
    gain += pumps[:, None] * generator.normal(0.0, PUMP_SIGMA, (count, draws))
    stand_gain = triangular(generator, at_own_hour(tanks.stand_gain_w), draws)

    required, available = np.zeros((count, draws)), np.zeros((count, draws))
    for hour in np.unique(peak.hour):
        full = at_full_duty(cases, np.full(draws, hour + 0.5), gain, stand_gain)
        runs = (~full.trips & model.devices.machines.usable[:, None])[links.machine]
        link_w = np.where(runs, full.output.cooling_w[links.machine] * peak.share[:, None], 0.0)
        cooling = np.zeros((count, draws))
        np.add.at(cooling, links.tank[links.duty], link_w[links.duty])
        np.add.at(cooling, fans.tank[fans.duty], np.maximum(full.fan_w, 0.0)[fans.duty])
        here = peak.hour == hour
        required[here], available[here] = full.required_w[here], cooling[here]

    def points(values: Array) -> Array:
        result: Array = np.moveaxis(np.quantile(values, SHARES, axis=1, method="lower"), 0, -1)
        return result

    return Drawn(points(required), points(available), points(capacity_margin.on_arrays(available, required)))
