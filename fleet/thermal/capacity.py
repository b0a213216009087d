"""Need and capacity of tanks at the hour that counts, and what is left when the largest device fails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleet.thermal.balance import Output
from fleet.thermal.cases import Cases, Model, spread_over_cases
from fleet.thermal.full_duty import at_full_duty
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BINS_PER_HOUR, SAFE, SIDES, BoolArray, IntArray
from fleet.values.fleet import Fleet

HOURS = 24


def machine_shares(model: Model, need_w: Array) -> Array:
    """Share of its machine that each link gets, by the need [tank] of those it serves; [link].

    Links on duty divide a machine among themselves; a standby's share counts everybody on it.
    """
    links = model.devices.links
    count = len(model.devices.machines.codes)
    need = np.maximum(need_w, 0.0)[links.tank]

    def divided(among: BoolArray) -> Array:
        total = np.bincount(links.machine, weights=need * among, minlength=count)[links.machine]
        heads = np.bincount(links.machine, weights=among.astype(float), minlength=count)[links.machine]
        shares: Array = np.where(total > 0.0, need / np.where(total > 0.0, total, 1.0), 1.0 / np.maximum(heads, 1.0))
        return shares

    return np.where(links.duty, divided(links.duty), divided(np.ones_like(links.duty)))


@dataclass(frozen=True)
class AtPeak:
    """One scenario at each tank's own hour that counts.

    required_w and available_w [tank, side]; link_w [link, side] and fan_w [fan, side] what each device gives (0 where
    it trips); inlet_c, condensing_c, power_w [link], trips [link] on the safe side; hour [tank]; share [link].
    """

    required_w: Array
    available_w: Array
    link_w: Array
    fan_w: Array
    inlet_c: Array
    condensing_c: Array
    power_w: Array
    trips: BoolArray
    hour: IntArray
    share: Array


def at_peak(model: Model, scenario: int) -> AtPeak:
    """Balances every hour of the day at target, and picks for each tank the hour at which cooling is shortest."""
    side = np.repeat(np.arange(SIDES), HOURS)
    hour = np.tile(np.arange(HOURS, dtype=float), SIDES)
    cases: Cases = spread_over_cases(model, side, np.full(side.shape, scenario))
    tanks, links, fans = model.tanks, model.devices.links, model.devices.fans
    count = len(tanks.codes)
    gain, stand_gain = (
        table.reshape(count, SIDES, HOURS, BINS_PER_HOUR).mean(axis=-1).reshape(count, -1)
        for table in (tanks.gain_w, tanks.stand_gain_w)
    )
    full = at_full_duty(cases, hour + 0.5, gain, stand_gain)

    def by_hour(values: Array) -> Array:
        return values.reshape(values.shape[0], SIDES, HOURS)

    required = by_hour(full.required_w)
    share = machine_shares(model, required[:, SAFE].max(axis=1))
    output: Output = full.output
    usable = (~full.trips & model.devices.machines.usable[:, None])[links.machine]
    link_w = by_hour(np.where(usable, output.cooling_w[links.machine] * share[:, None], 0.0))
    fan_w = by_hour(np.maximum(full.fan_w, 0.0))
    available = np.zeros((count, SIDES, HOURS))
    np.add.at(available, links.tank[links.duty], link_w[links.duty])
    np.add.at(available, fans.tank[fans.duty], fan_w[fans.duty])
    peak = np.argmax(required[:, SAFE] - available[:, SAFE], axis=1)

    def picked(values: Array, hours: IntArray) -> Array:
        return np.take_along_axis(values, hours[:, None, None], axis=2)[:, :, 0]

    link_hour = peak[links.tank]

    def of_machine(values: Array) -> Array:
        return picked(by_hour(values[links.machine]), link_hour)[:, SAFE]

    return AtPeak(
        required_w=picked(required, peak),
        available_w=picked(available, peak),
        link_w=picked(link_w, link_hour),
        fan_w=picked(fan_w, peak[fans.tank]),
        inlet_c=of_machine(output.inlet_c),
        condensing_c=of_machine(output.condensing_c),
        power_w=of_machine(output.power_w),
        trips=of_machine(full.trips.astype(float)) > 0.5,
        hour=peak,
        share=share,
    )


@dataclass(frozen=True)
class Loss:
    """What goes when the largest device of each tank fails, or the largest group that hangs on one thing.

    links_left [link] and fans_left [fan]: what still runs for its tank, tested standbys included; left_w [tank] what
    that gives on the safe side; whether a tank has anything to lose.
    """

    links_left: BoolArray
    fans_left: BoolArray
    left_w: Array
    any_device: BoolArray


def common_failures(fleet: Fleet) -> dict[str, list[frozenset[str]]]:
    """For each device, the sets of devices that stop together with it: one outlet, pump or supply serves them."""
    together: dict[str, list[frozenset[str]]] = {}
    for item in fleet.equipment:
        served = frozenset(code for code in item.serves if code in fleet.device_by_code)
        if len(served) > 1:
            for code in served:
                together.setdefault(code, []).append(served)
    return together


def largest_loss(model: Model, peak: AtPeak, together: dict[str, list[frozenset[str]]]) -> Loss:
    """The worst single failure of each tank at its hour that counts, judged on the safe side."""
    machines, links, fans = model.devices.machines, model.devices.links, model.devices.fans
    pools: list[dict[str, float]] = [{} for _ in model.tanks.codes]
    link_codes = [machines.codes[i] for i in links.machine]
    link_counts, fan_counts = links.duty | links.spare, fans.duty | fans.spare

    def gather(codes: Sequence[str], tank: IntArray, counts: BoolArray, watts: Array) -> None:
        for code, place, counted, gives in zip(codes, tank, counts, watts, strict=True):
            if counted:
                pools[place][code] = float(gives)

    gather(link_codes, links.tank, link_counts, peak.link_w[:, SAFE])
    gather(fans.codes, fans.tank, fan_counts, peak.fan_w[:, SAFE])
    lost: list[frozenset[str]] = []
    left = np.zeros(len(pools))
    for place, pool in enumerate(pools):
        candidates = {frozenset((code,)) for code in pool}
        candidates.update(frozenset(served & pool.keys()) for code in pool for served in together.get(code, ()))
        worst = max(candidates, key=lambda some: (sum(pool[code] for code in some), sorted(some)), default=frozenset())
        lost.append(worst)
        left[place] = sum(watts for code, watts in pool.items() if code not in worst)
    links_left = np.array(
        [
            bool(counted) and code not in lost[place]
            for code, place, counted in zip(link_codes, links.tank, link_counts, strict=True)
        ],
        dtype=bool,
    )
    fans_left = np.array(
        [
            bool(counted) and code not in lost[place]
            for code, place, counted in zip(fans.codes, fans.tank, fan_counts, strict=True)
        ],
        dtype=bool,
    )
    return Loss(links_left, fans_left, left, np.array([bool(pool) for pool in pools], dtype=bool))
