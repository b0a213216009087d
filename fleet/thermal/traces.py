"""The water of a whole fleet minute by minute, with thermostats that switch: what a logger in each tank would record.

Two nodes for each tank, water and stand. Every quarter of an hour at most the films of the surfaces, the rooms and the
devices' curves are read anew, with what they answer to water and air; in between the balance is linear and followed in
closed form from switch to switch: of a thermostat, a lamp, a compressor that has rested, a machine that trips. A step
is only the distance of what is kept (records.py); with steps below a minute the films are read more often.

`day.simulate` follows the same balance with thermostats averaged over a step of ten minutes or more. It is for what
days and weeks amount to: peaks, repeating days, hours to a limit, over many cases. This is for what one sees at the
tank: cycles, starts, run time, the swing of a closed stand. Their daily means agree.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fleet.errors import OutOfRange
from fleet.thermal.cases import Cases
from fleet.thermal.day import Controls
from fleet.thermal.loads import BIN_S
from fleet.thermal.machinery import Thermostat
from fleet.thermal.parts import each_part
from fleet.thermal.ranges import Array
from fleet.thermal.records import Keep, Recorder
from fleet.thermal.stepping import Stepper
from fleet.thermal.tanks import IntArray

TRACE_STEP_S, SCREENING_STEP_S = 60, 300
TANKS_AT_ONCE = 10_000
"""Tanks times cases that are stepped together: enough to spread the cost of a call, few enough for the cache."""
MOST_STEPS_BETWEEN, LONGEST_BETWEEN_S = 15, 900
"""Films and curves are read anew after so many steps and so long at most, and with every hour of the clock."""
LEAST_BAND_K = 1e-3
USUAL = Thermostat()


@dataclass(frozen=True)
class Trace:
    """What a run gives, [tank, case] unless said otherwise.

    mean_c, lowest_c, peak_c, end_c: of the water, whatever the step; duty: share of the time that its
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
    thermostat: Thermostat = USUAL,
    step_s: int = TRACE_STEP_S,
    keep: Collection[Keep] = (),
    tanks_at_once: int = TANKS_AT_ONCE,
) -> Trace:
    """Follows every tank in every case from `start_c` [tank, case] at a full hour of the day [case].

    step_s: whole seconds that divide ten minutes, 60 for traces and 300 for screening; raises OutOfRange otherwise, and
    for a thermostat without a band.
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
    if not thermostat.band_k >= LEAST_BAND_K:
        raise OutOfRange("band of the thermostats", thermostat.band_k, LEAST_BAND_K, np.inf, "K")
    shape, seconds = cases.open_m2.shape, float(steps * step_s)
    machines = (len(cases.model.devices.machines.codes), shape[1])
    found = {name: np.zeros(shape) for name in _OF_TANKS} | {name: np.zeros(machines) for name in _OF_MACHINES}
    kept = {
        each: np.empty((steps + (each is not Keep.COOLING), *shape), dtype=np.float32) for each in Keep if each in keep
    }
    most = min(MOST_STEPS_BETWEEN, LONGEST_BETWEEN_S // step_s)
    between = next(count for count in range(most, 0, -1) if 3600 // step_s % count == 0)
    for part in each_part(cases, max(tanks_at_once // max(shape[1], 1), 1)):
        part_controls = Controls(controls.links_on[part.links], controls.fans_on[part.fans], controls.share[part.links])
        run = Stepper(part, part_controls, thermostat, start_c[part.tanks], start_hour)
        run.go(steps, step_s, between, Recorder(kept, part.tanks, step_s, between) if kept else None)
        means, of_machines = run.sums.of_tanks / seconds, run.sums.of_machines / seconds
        state = run.state
        for names, values, places in (
            (_OF_TANKS, (state.water_c, state.lowest_c, state.peak_c, run.evaporated_kg / seconds, *means), part.tanks),
            (_OF_MACHINES, (state.starts, *of_machines), part.machines),
        ):
            for name, value in zip(names, values, strict=True):
                found[name][places] = value.reshape(-1, shape[1])

    def of_steps(each: Keep) -> Array | None:
        return np.moveaxis(kept[each], 0, -1) if each in kept else None

    return Trace(
        **found,
        hours=np.arange(steps + 1) * step_s / 3600.0,
        water_c=of_steps(Keep.WATER),
        stand_c=of_steps(Keep.STAND),
        step_cooling_w=of_steps(Keep.COOLING),
    )


_OF_TANKS = ("end_c", "lowest_c", "peak_c", "evaporation_kg_s", "mean_c", "duty", "cooling_w", "heating_w")
_OF_MACHINES = ("starts", "running", "power_w")
