"""The water of a whole fleet minute by minute, with thermostats that switch: what a logger in each tank would record.

Two nodes for each tank, water and stand. Each step is exponential in the time constants of the moment
(Rosenbrock-Euler), exact where the coefficients are constant. The films of the surfaces, the room and the devices'
curves are read anew every few minutes at most and held as straight lines in between; their own curvature over such a
time is far below a hundredth of a kelvin. Where a thermostat, a lamp or the least time off switches inside a step, the
step counts the share of it.

`day.simulate` follows the same balance with thermostats averaged over a step of ten minutes or more. It is for what
days and weeks amount to: peaks, repeating days, hours to a limit, over many cases. This is for what one sees at the
tank: cycles, starts, run time, the swing of a closed stand. Their daily means agree.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from fleet.errors import OutOfRange
from fleet.thermal import defaults
from fleet.thermal.balance import HOTTEST_AIR_C, Cases, Output, air_at, fan_cooling, losses, machine_output, sump_films
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.day import Controls
from fleet.thermal.devices import FROM_STAND
from fleet.thermal.parts import Part, split
from fleet.thermal.properties import latent_heat, saturation_pressure
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.stand import mixed_vapour
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, BoolArray, IntArray

TRACE_STEP_S, SCREENING_STEP_S = 60, 300
BIN_S = 3600 // BINS_PER_HOUR
RENEWED_EVERY_S, MOST_STEPS_BETWEEN = 300, 5
"""Films and curves are read anew after so long, and after so many steps, whichever comes first."""
TANKS_AT_ONCE = 2000
"""Tanks times cases that are stepped together: as many as fit into the processor's cache."""
LEAST_SHARE = 1e-6
SLOTS = 12
"""Parts of a step in which the valves of a machine on several tanks are told apart."""
PROBE_K = 0.25
"""Warming by which the slopes of the machines' curves are read."""


@dataclass(frozen=True)
class Thermostat:
    """Cooling begins `band_k` above target and ends as far below; a compressor that stopped rests `least_off_s`.

    Half a kelvin from on to off and three minutes of rest are usual: from memory.
    """

    band_k: float = 0.25
    least_off_s: float = 180.0


class Keep(Enum):
    """What may be kept of every step: water and stands [°C] at its end, cooling [W] as the mean over it."""

    WATER = auto()
    STAND = auto()
    COOLING = auto()


@dataclass(frozen=True)
class Trace:
    """What a run gives, [tank, case] unless said otherwise.

    mean_c, lowest_c, peak_c, end_c: of the water, at the ends of the steps; duty: share of the time that its
    thermostat calls for cooling; cooling_w, heating_w: mean heat taken out by devices and put in by heaters;
    evaporation_kg_s: mean, fans in the lid included. [machine, case]: running, the share of the time that it runs;
    starts; power_w, its mean electric power.

    water_c and stand_c [tank, case, step] in single precision, with the start as step 0, and step_cooling_w
    [tank, case, step] from step 1, only where they were asked for; hours [step] since the start.
    """

    end_c: Array
    mean_c: Array
    lowest_c: Array
    peak_c: Array
    duty: Array
    cooling_w: Array
    heating_w: Array
    evaporation_kg_s: Array
    running: Array
    starts: Array
    power_w: Array
    hours: Array
    water_c: Array | None = None
    stand_c: Array | None = None
    step_cooling_w: Array | None = None


def trace(
    cases: Cases,
    controls: Controls,
    *,
    start_c: Array,
    start_hour: IntArray,
    hours: float,
    thermostat: Thermostat = Thermostat(),
    step_s: int = TRACE_STEP_S,
    keep: Collection[Keep] = (),
    tanks_at_once: int = TANKS_AT_ONCE,
) -> Trace:
    """Follows every tank in every case from `start_c` [tank, case] at a full hour of the day [case].

    step_s: whole seconds that divide ten minutes, 60 for traces and 300 for screening; raises OutOfRange otherwise.
    Every thermostat begins at rest. Where a tank has several devices they answer one thermostat; a machine on several
    tanks runs while any of them calls and divides its cooling among those by their share of it. A heater holds the
    target, or the lower end of the band where something cools. A machine that trips stays off to the end of the run.
    Without `keep` memory does not grow with the length of the run.
    """
    if not 1 <= step_s <= BIN_S or BIN_S % step_s:
        raise OutOfRange("step (a divisor of 600)", float(step_s), 1.0, float(BIN_S), "s")
    steps = round(hours * 3600.0 / step_s)
    if steps < 1:
        raise OutOfRange("length of the run", hours, step_s / 3600.0, np.inf, "h")
    model, shape = cases.model, cases.open_m2.shape
    per_tank: dict[str, Array] = {name: np.zeros(shape) for name in _OF_TANKS}
    per_machine: dict[str, Array] = {
        name: np.zeros((len(model.devices.machines.codes), shape[1])) for name in _OF_MACHINES
    }
    kept = {
        each: np.empty((steps + (each is not Keep.COOLING), *shape), dtype=np.float32) for each in Keep if each in keep
    }
    for part in split(cases, max(tanks_at_once // max(shape[1], 1), 1)):
        part_controls = Controls(controls.links_on[part.links], controls.fans_on[part.fans], controls.share[part.links])
        run = _Run(part, part_controls, thermostat, start_c[part.tanks], start_hour, step_s)
        record = {each: np.empty((values.shape[0], *run.water_c.shape), np.float32) for each, values in kept.items()}
        run.go(steps, record)
        for name, values in per_tank.items():
            values[part.tanks] = getattr(run, name)
        for name, values in per_machine.items():
            values[part.machines] = getattr(run, name)
        for each, values in kept.items():
            values[:, part.tanks] = record[each]

    def of_steps(each: Keep) -> Array | None:
        return np.moveaxis(kept[each], 0, -1) if each in kept else None

    return Trace(
        **{name: values / (steps if name in _SUMMED else 1.0) for name, values in (per_tank | per_machine).items()},
        hours=np.arange(steps + 1) * step_s / 3600.0,
        water_c=of_steps(Keep.WATER),
        stand_c=of_steps(Keep.STAND),
        step_cooling_w=of_steps(Keep.COOLING),
    )


_OF_TANKS = ("end_c", "mean_c", "lowest_c", "peak_c", "duty", "cooling_w", "heating_w", "evaporation_kg_s")
_OF_MACHINES = ("running", "starts", "power_w")
_SUMMED = ("mean_c", "duty", "cooling_w", "heating_w", "evaporation_kg_s", "running", "power_w")


class _Sums:
    """Sums, or largest values, of rows by the item that each row belongs to."""

    def __init__(self, index: IntArray, size: int) -> None:
        self.size = size
        self.order = np.argsort(index, kind="stable")
        ordered = index[self.order]
        self.first = np.flatnonzero(np.diff(ordered, prepend=-1))
        self.rows = ordered[self.first]
        self.alone = self.rows.size == index.size
        self.same = self.alone and size == index.size and bool(np.all(index == np.arange(size)))

    def __call__(self, values: Array, by: np.ufunc = np.add) -> Array:
        if self.same:
            return values
        found = np.zeros((self.size, values.shape[1]))
        if self.alone:
            found[self.rows] = values[self.order]
        elif self.rows.size:
            found[self.rows] = by.reduceat(values[self.order], self.first, axis=0)
        return found


class _Run:
    """The state of a part of the fleet, and one step of it after the other.

    Sums over the steps carry the names of the fields of Trace that they become.
    """

    def __init__(
        self,
        part: Part,
        controls: Controls,
        thermostat: Thermostat,
        start_c: Array,
        start_hour: IntArray,
        step_s: int,
    ) -> None:
        self.cases, self.controls, self.step_s = part.cases, controls, float(step_s)
        model = part.cases.model
        self.tanks, self.machines = model.tanks, model.devices.machines
        self.links, self.fans = model.devices.links, model.devices.fans
        self.start_hour = start_hour
        self.steps_in_bin = BIN_S // step_s
        self.steps_between = max(min(MOST_STEPS_BETWEEN, RENEWED_EVERY_S // step_s), 1)
        self.shape = part.cases.open_m2.shape
        of_machines = (len(self.machines.codes), self.shape[1])
        target = self.tanks.target_c[:, None]
        self.high, self.low = target + thermostat.band_k, target - thermostat.band_k

        self.water_c = np.clip(np.array(start_c, dtype=float), WATER_C.low, WATER_C.high)
        air = air_at(self.cases, start_hour.astype(float))
        self.stand_c, self.stand_vapour_pa = air.room_c.copy(), air.vapour_pa.copy()
        self.calling: BoolArray = np.zeros(self.shape, dtype=bool)
        self.on: BoolArray = np.zeros(of_machines, dtype=bool)
        self.ready_s = np.zeros(of_machines)
        self.rest_s = np.where(self.machines.is_chiller, thermostat.least_off_s, 0.0)
        self.load_ratio = np.ones(of_machines)
        in_range = (self.machines.set_point_c >= CHILLER_WATER_C.low) & (
            self.machines.set_point_c <= CHILLER_WATER_C.high
        )
        lost = ~self.machines.usable | (self.machines.is_chiller & ~in_range)
        self.out_of_use: BoolArray = np.repeat(lost[:, None], self.shape[1], axis=1)

        self.to_tank = _Sums(self.links.tank, self.shape[0])
        self.to_machine = _Sums(self.links.machine, of_machines[0])
        on_link = controls.links_on.any(axis=1)
        heads = np.bincount(self.links.machine, weights=on_link, minlength=of_machines[0])
        self.shared = np.flatnonzero((heads > 1)[self.links.machine] & on_link)
        self.share = np.maximum(controls.share, LEAST_SHARE)[:, None]
        self.in_stand = np.flatnonzero((self.machines.intake == FROM_STAND) & (self.machines.stand >= 0))
        self.heats_stand = np.flatnonzero(self.machines.heats_stand & (self.machines.stand >= 0))
        self.closed = bool(self.tanks.stand_closed.any())
        self.stand_j_k = defaults.STAND_HEAT_CAPACITY_J_K_PER_M * self.tanks.length_m[:, None]
        cools = np.zeros(self.shape, dtype=bool)
        np.logical_or.at(cools, self.links.tank, controls.links_on)
        np.logical_or.at(cools, self.fans.tank, controls.fans_on)
        self.heater_w = np.broadcast_to(self.tanks.heater_w[:, None], self.shape)
        self.heated = bool(self.heater_w.any())
        self.heater_c = np.where(cools, self.low, target)

        self.stand_rise_k = np.zeros(self.shape)
        self.last_cooling_w, self.last_rise_k = np.zeros(self.shape), np.zeros(self.shape)
        self.peak_c, self.lowest_c = self.water_c.copy(), self.water_c.copy()
        self.mean_c, self.duty, self.cooling_w, self.heating_w, self.evaporation_kg_s = (
            np.zeros(self.shape) for _ in range(5)
        )
        self.running, self.starts, self.power_w = (np.zeros(of_machines) for _ in range(3))

    @property
    def end_c(self) -> Array:
        return self.water_c

    def go(self, steps: int, record: dict[Keep, Array]) -> None:
        """Runs the steps; `record` [step, tank, case] takes what is to be kept."""
        if Keep.WATER in record:
            record[Keep.WATER][0] = self.water_c
        if Keep.STAND in record:
            record[Keep.STAND][0] = self.stand_c
        for k in range(steps):
            if k % self.steps_between == 0:
                self.renew(k)
            if k % self.steps_in_bin == 0:
                self.take_heat(k)
            cooling = self.step(k)
            if Keep.WATER in record:
                record[Keep.WATER][k + 1] = self.water_c
            if Keep.STAND in record:
                record[Keep.STAND][k + 1] = self.stand_c
            if Keep.COOLING in record:
                record[Keep.COOLING][k] = cooling

    def take_heat(self, k: int) -> None:
        """Heat of the loads in the ten minutes that begin with step k, and what switches in the midst of them."""
        cases, off_grid = self.cases, self.tanks.switchings
        bins = (self.start_hour * BINS_PER_HOUR + k // self.steps_in_bin) % BINS
        self.gain_w = self.tanks.gain_w[:, cases.side, bins]
        self.stand_gain_w = self.tanks.stand_gain_w[:, cases.side, bins]
        self.switching: list[tuple[IntArray, int, Array, Array, Array]] = []
        for case, place in enumerate(bins):
            begin, end = np.searchsorted(off_grid.second, (place * BIN_S, (place + 1) * BIN_S))
            if begin < end:
                some = slice(begin, end)
                self.switching.append(
                    (
                        off_grid.tank[some],
                        case,
                        off_grid.second[some] - place * BIN_S,
                        off_grid.water_w[some, cases.side[case]],
                        off_grid.stand_w[some, cases.side[case]],
                    )
                )

    def heat_in_step(self, k: int) -> tuple[Array, Array]:
        """Heat to water and stands over step k: the mean of its ten minutes, put right where loads switch in them."""
        if not self.switching:
            return self.gain_w, self.stand_gain_w
        gain, stand_gain = self.gain_w.copy(), self.stand_gain_w.copy()
        end = (k % self.steps_in_bin + 1) * self.step_s
        for tank, case, second, water_w, stand_w in self.switching:
            share = np.clip((end - second) / self.step_s, 0.0, 1.0) - (BIN_S - second) / BIN_S
            np.add.at(gain[:, case], tank, water_w * share)
            np.add.at(stand_gain[:, case], tank, stand_w * share)
        return gain, stand_gain

    def renew(self, k: int) -> None:
        """Reads films, rooms and devices anew, for the middle of the time until the next reading.

        The water is taken as it will be then if it goes on as in the last step: films that always trailed the water
        would hasten both its cooling and its warming.
        """
        cases, tanks = self.cases, self.tanks
        middle_h = (k + self.steps_between / 2.0) * self.step_s / 3600.0
        self.air = air = air_at(cases, np.asarray((self.start_hour + middle_h) % 24.0, dtype=np.float64))
        water = self.water_c + self.last_rise_k * (self.steps_between / 2.0)
        water_pa = tanks.activity[:, None] * saturation_pressure.on_arrays(water)
        latent, _dry = sump_films(cases, water, water_pa, self.stand_c, self.stand_vapour_pa)
        vapour = mixed_vapour(
            air.vapour_pa,
            water_pa,
            cases.stand_kg_s,
            tanks.sump_m2[:, None] * latent / latent_heat.on_arrays(water),
            tanks.pressure_pa[:, None],
        )
        self.stand_vapour_pa = np.minimum(vapour, saturation_pressure.on_arrays(self.stand_c))
        leaving = losses(cases, water, air, self.stand_c, self.stand_vapour_pa)
        self.slope, self.to_stand = leaving.slope_w_per_k, leaving.stand_w_per_k
        self.constant_w = self.slope * water - self.to_stand * self.stand_c - leaving.watts
        decay = self.slope * self.step_s / cases.heat_capacity_j_k
        self.reach = -np.expm1(-decay) / self.slope
        exchange = cases.stand_w_per_k + self.to_stand
        self.stand_share = -np.expm1(-exchange * self.step_s / self.stand_j_k)
        self.stand_weight, self.stand_room = 1.0 / exchange, cases.stand_w_per_k * air.room_c
        self.evaporation_kg_s += leaving.evaporation_kg_s * self.steps_between
        self.fan_w: Array | None = None
        if self.fans.tank.size:
            fan_w, vapour_w = fan_cooling(cases, water, air, leaving)
            useful = self.controls.fans_on & (fan_w > 0.0)
            self.fan_w, self.fan_vapour_kg_s = np.zeros(self.shape), np.zeros(self.shape)
            np.add.at(self.fan_w, self.fans.tank, fan_w * useful)
            np.add.at(
                self.fan_vapour_kg_s, self.fans.tank, vapour_w * useful / latent_heat.on_arrays(water[self.fans.tank])
            )
        if self.links.tank.size:
            self.read_machines()

    def read_machines(self) -> None:
        """Output of the machines now, and how it moves with the water and with the air of a stand that they breathe."""
        weights = self.share * self.controls.links_on
        total = self.to_machine(weights)
        self.mixing = weights / np.where(total > 0.0, total, 1.0)[self.links.machine]
        self.read_water_c = self.water_c
        mixed = self.to_machine(self.mixing * self.water_c[self.links.tank])
        self.machine_water_c = water = np.where(total > 0.0, mixed, self.machines.set_point_c[:, None])
        read = self.now = machine_output(self.cases, water, self.air, self.stand_c, self.load_ratio)
        self.load_ratio = read.load_ratio
        warmer = machine_output(self.cases, water + PROBE_K, self.air, self.stand_c, self.load_ratio)
        self.cooling_slope = (warmer.cooling_w - read.cooling_w) / PROBE_K
        self.power_slope = (warmer.power_w - read.power_w) / PROBE_K
        self.read_over_k = self.over_k = self.over(read)
        some = self.in_stand
        if some.size:
            warmer = machine_output(self.cases, water, self.air, self.stand_c + PROBE_K, self.load_ratio)
            self.read_stand_c = self.stand_c[self.machines.stand[some]]
            self.stand_slopes = tuple(
                (after - before)[some] / PROBE_K
                for before, after in (
                    (read.cooling_w, warmer.cooling_w),
                    (read.power_w, warmer.power_w),
                    (self.over_k, self.over(warmer)),
                )
            )

    def over(self, output: Output) -> Array:
        """By how much machines are past what they stand, inlet air or cut-out [K]; above 0 they trip."""
        chiller = self.machines.is_chiller[:, None]
        condensing = np.where(chiller, output.condensing_c - CUT_OUT_C, -np.inf)
        too_cold = chiller & (self.machine_water_c < CHILLER_WATER_C.low)
        past: Array = np.maximum(output.inlet_c - CONDENSER_INLET_C.high, condensing)
        return np.where(too_cold, np.inf, past)

    def follow_machines(self, free: Array, stand_c: Array) -> None:
        """Brings the machines to the water and the air of their stands (`stand_c`) in the middle of this step."""
        middle = self.water_c + 0.5 * (free - self.last_cooling_w * self.reach) - self.read_water_c
        change = self.to_machine(self.mixing * middle[self.links.tank])
        cooling, power = self.now.cooling_w + self.cooling_slope * change, self.now.power_w + self.power_slope * change
        some = self.in_stand
        if some.size:
            change = stand_c[self.machines.stand[some]] - self.read_stand_c
            cooling[some] += self.stand_slopes[0] * change
            power[some] += self.stand_slopes[1] * change
            self.over_k = self.read_over_k.copy()
            now = self.stand_c[self.machines.stand[some]] - self.read_stand_c
            self.over_k[some] += self.stand_slopes[2] * now
        self.power_full_w = power
        self.link_full_w = np.maximum(cooling, 0.0)[self.links.machine]

    def step(self, k: int) -> Array:
        """One step; gives the mean cooling over it [W]."""
        step_s, reach = self.step_s, self.reach
        gain, stand_gain = self.heat_in_step(k)
        stand_c = self.stand_c + 0.5 * self.stand_rise_k
        free = (gain + self.constant_w - self.slope * self.water_c + self.to_stand * stand_c) * reach
        after = self.water_c + free
        called = self.calling.astype(float)
        begins = np.nonzero((after >= self.high) & ~self.calling)
        if begins[0].size:
            over = (after - np.broadcast_to(self.high, self.shape))[begins]
            called[begins] = np.clip(over / np.maximum(free[begins], 1e-12), 0.0, 1.0)
            self.calling[begins] = True

        cooling = np.zeros(self.shape) if self.fan_w is None else self.fan_w * called
        runs = self.links.tank.size > 0
        if runs:
            self.follow_machines(free, stand_c)
            self.link_on = (self.controls.links_on & ~self.out_of_use[self.links.machine]).astype(float)
            ready = np.clip((k + 1) - self.ready_s / step_s, 0.0, 1.0)
            on = np.minimum(called[self.links.tank], ready[self.links.machine]) * self.link_on
            on = self.trip(on)
            given = self.given(on)
            cooling = cooling + self.to_tank(given)
        after -= cooling * reach

        ended = (after <= self.low) & self.calling
        ends = np.nonzero(ended)
        if ends[0].size:
            cut, full = np.zeros(self.shape), np.zeros(self.shape)
            if runs:
                which = np.nonzero(ended[self.links.tank])
                at_tank = (self.links.tank[which[0]], which[1])
                np.add.at(full, at_tank, self.link_end_w[which] * (on[which] > 0.0))
            if self.fan_w is not None:
                full[ends] += self.fan_w[ends]
            falling = full[ends] * reach[ends] - free[ends]
            under = np.broadcast_to(self.low, self.shape)[ends] - after[ends]
            cut[ends] = np.where(falling > 0.0, np.clip(under / np.maximum(falling, 1e-12), 0.0, 1.0), 0.0)
            spared = np.zeros(self.shape)
            if self.fan_w is not None:
                spared[ends] = self.fan_w[ends] * np.minimum(cut[ends], called[ends])
            if runs:
                less = np.minimum(cut[at_tank], on[which])
                on[which] -= less
                given[which] -= less * self.link_end_w[which]
                np.add.at(spared, at_tank, less * self.link_end_w[which])
            after[ends] += spared[ends] * reach[ends]
            cooling[ends] -= spared[ends]
            called[ends] = np.maximum(called[ends] - cut[ends], 0.0)
            self.calling[ends] = False
            if runs and self.shared.size:
                passed_on = self.pass_on(which, less * self.link_end_w[which])
                given += passed_on
                more = self.to_tank(passed_on)
                cooling += more
                after -= more * reach

        if self.heated:
            heating = np.clip((self.heater_c - after) / reach, 0.0, self.heater_w)
            after += heating * reach
            self.heating_w += heating
        np.clip(after, WATER_C.low, WATER_C.high, out=after)

        machine_heat = None
        if runs:
            machine_on = self.to_machine(on, np.maximum)
            calls = self.calling[self.links.tank] & (self.link_on > 0.0)
            still = calls if self.to_machine.same else self.to_machine(calls.astype(float), np.maximum) > 0.0
            self.starts += (machine_on > 0.0) & ~self.on
            if ends[0].size:
                stopped_s = (k + 1 - cut[at_tank]) * step_s
                at_machine = (self.links.machine[which[0]], which[1])
                stops = ((machine_on[at_machine] > 0.0) | self.on[at_machine]) & ~still[at_machine]
                at_machine, stopped_s = (at_machine[0][stops], at_machine[1][stops]), stopped_s[stops]
                np.maximum.at(self.ready_s, at_machine, stopped_s + self.rest_s[at_machine[0]])
            self.on = (machine_on > 0.0) & still & ~self.out_of_use
            power = machine_on * self.power_full_w
            self.running += machine_on
            self.power_w += power
            if self.heats_stand.size:
                some = self.heats_stand
                machine_heat = self.to_machine(given)[some] + power[some]
        if self.closed:
            heat = stand_gain
            if machine_heat is not None:
                heat = stand_gain.copy()
                np.add.at(heat, self.machines.stand[self.heats_stand], machine_heat)
            middle = (self.water_c + after) / 2.0
            rest = (heat + self.stand_room + self.to_stand * middle) * self.stand_weight
            self.stand_rise_k = (rest - self.stand_c) * self.stand_share
            self.stand_c = np.minimum(self.stand_c + self.stand_rise_k, HOTTEST_AIR_C)
        else:
            self.stand_c = self.air.room_c

        self.mean_c += (self.water_c + after) / 2.0
        self.last_rise_k = after - self.water_c
        self.water_c = after
        np.maximum(self.peak_c, after, out=self.peak_c)
        np.minimum(self.lowest_c, after, out=self.lowest_c)
        self.duty += called
        self.cooling_w += cooling
        self.last_cooling_w = cooling
        if self.fan_w is not None:
            self.evaporation_kg_s += self.fan_vapour_kg_s * called
        return cooling

    def given(self, on: Array) -> Array:
        """Mean cooling that each link gives when it is on for the last share `on` of the step [W].

        A machine on several tanks divides its cooling at each moment among those that are on, by their shares of it.
        """
        self.link_end_w = self.link_full_w
        given = on * self.link_full_w
        some = self.shared
        if some.size:
            machine = self.links.machine[some]
            slots = np.clip(np.arange(1, SLOTS + 1) - SLOTS * (1.0 - on[some][..., None]), 0.0, 1.0)
            weights = self.share[some][..., None] * slots
            among = np.zeros((*self.ready_s.shape, SLOTS))
            np.add.at(among, machine, weights)
            busiest = np.zeros_like(among)
            np.maximum.at(busiest, machine, slots)
            part = np.divide(weights, among[machine], out=np.zeros_like(weights), where=weights > 0.0)
            given[some] = self.link_full_w[some] * (part * busiest[machine]).mean(axis=-1)
            self.link_end_w = self.link_full_w.copy()
            self.link_end_w[some] *= part[..., -1]
        return given

    def pass_on(self, which: tuple[IntArray, ...], spared_w: Array) -> Array:
        """What links whose valve closed inside the step leave to the others that still call on their machine [W]."""
        links = self.links
        calls = self.share * self.link_on * self.calling[links.tank]
        among, left = np.zeros_like(self.ready_s), np.zeros_like(self.ready_s)
        np.add.at(among, links.machine, calls)
        np.add.at(left, (links.machine[which[0]], which[1]), spared_w)
        part = np.divide(left, among, out=np.zeros_like(left), where=among > 0.0)
        result: Array = calls * part[links.machine]
        return result

    def trip(self, on: Array) -> Array:
        """Takes out of use what would run and pass its limit within the step; gives the shares of time that are left.

        How the limit comes nearer is taken from how the stand warmed in the step before.
        """
        rise = np.zeros_like(self.over_k)
        if self.in_stand.size:
            stands = self.machines.stand[self.in_stand]
            rise[self.in_stand] = self.stand_slopes[2] * np.maximum(self.stand_rise_k[stands], 0.0)
        stops = self.over_k + rise > 0.0
        if not stops.any():
            return on
        stops &= self.to_machine(on, np.maximum) > 0.0
        self.out_of_use |= stops
        left = np.clip(-self.over_k / np.maximum(rise, 1e-12), 0.0, 1.0)
        return on * np.where(stops, left, 1.0)[self.links.machine]
