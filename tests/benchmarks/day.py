"""A day of a whole fleet against scipy's event-driven solver: speed, error, memory, growth.

    python tests/benchmarks/day.py            some minutes; Linux only, for the memory
    python tests/benchmarks/day.py --small    two minutes: fewer tanks by solver, no fleet of 100,000

The job is a planner's: every tank in six cases at once, on the hot day and with the air conditioning failed, each with
the safe, the middle and the kind side of the estimate; 24 h, thermostats of ±0.25 K, compressors that rest three
minutes, water every 60 s. The solver follows the same tanks in the same cases. Times are those of the processor, of one
thread on both sides, for each tank and case. Building the arrays from a register is told apart from running them.
"""

from __future__ import annotations

import os

for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_threads] = "1"

import argparse  # noqa: E402
import itertools  # noqa: E402
import json  # noqa: E402
import math  # noqa: E402
import platform  # noqa: E402
import subprocess  # noqa: E402
import sys  # noqa: E402
import time  # noqa: E402
from dataclasses import dataclass  # noqa: E402
from pathlib import Path  # noqa: E402
from typing import Any  # noqa: E402

import numpy as np  # noqa: E402
import scipy  # noqa: E402

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from event_driven import EventRun, Group  # noqa: E402
from fleets import made_up  # noqa: E402

from fleet.thermal.assess import build  # noqa: E402
from fleet.thermal.cases import spread_over_cases  # noqa: E402
from fleet.thermal.day import Controls  # noqa: E402
from fleet.thermal.machinery import Thermostat  # noqa: E402
from fleet.thermal.parts import split  # noqa: E402
from fleet.thermal.ranges import WATER_C  # noqa: E402
from fleet.thermal.records import Keep  # noqa: E402
from fleet.thermal.traces import trace  # noqa: E402

THERMOSTAT = Thermostat()
SIDES, SCENARIOS = np.array([0, 1, 2, 0, 1, 2]), np.array([0, 0, 0, 1, 1, 1])
CASES = SIDES.size
COMPARED, SIZES = 10_000, (1_000, 10_000, 100_000)
COARSE, FINE = 1e-6, 1e-8
LOOSER = (1e-3, 1e-4, 1e-5)
AGREES_WITHIN_K, TARGET_K, TARGET_RATIO = 0.005, 0.01, 150.0
AT_S = np.arange(0.0, 86_401.0, 60.0)


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


@dataclass
class Job:
    """A made-up fleet in all cases, with everything on duty and machines divided evenly."""

    fleet: Any
    cases: Any
    controls: Controls
    start_c: Any

    @classmethod
    def of(cls, tanks: int) -> Job:
        fleet = made_up(tanks)
        model = build(fleet, {}, [tank.code for tank in fleet.tanks])
        cases = spread_over_cases(model, SIDES, SCENARIOS)
        links, fans = model.devices.links, model.devices.fans
        heads = np.bincount(links.machine, minlength=len(model.devices.machines.codes))
        on, blowing = (np.repeat(each.duty[:, None], CASES, axis=1) for each in (links, fans))
        start_c = np.repeat(model.tanks.target_c[:, None] + 0.1, CASES, axis=1)
        return cls(fleet, cases, Controls(on, blowing, 1.0 / heads[links.machine]), start_c)

    def run(self, times: int = 1, **more: Any) -> tuple[float, Any]:
        """The least processor time of some runs [s], and what the last gave."""
        best, found = math.inf, None
        for _ in range(times):
            found = None
            begin = time.process_time()
            midnight = np.zeros(CASES, dtype=np.intp)
            found = trace(self.cases, self.controls, start_c=self.start_c, start_hour=midnight, hours=24.0, **more)
            best = min(best, time.process_time() - begin)
        return best, found


@dataclass
class Solved:
    """A group of tanks in one case by solver: processor time [s] and water [tank, time] by tolerance."""

    tanks: Any
    case: int
    seconds: dict[float, float]
    water_c: dict[float, Any]


def solved(job: Job, tanks: Any, case: int, tolerances: tuple[float, ...]) -> Solved:
    seconds, water = {}, {}
    for tolerance in tolerances:
        group = Group(job.fleet, job.cases, job.controls, tanks, case)
        run = EventRun(group, job.start_c[tanks, case], 0.0, THERMOSTAT.band_k, THERMOSTAT.least_off_s)
        begin = time.process_time()
        water[tolerance], _stand = run.go(24.0, AT_S, tolerance, tolerance)
        seconds[tolerance] = time.process_time() - begin
    return Solved(tanks, case, seconds, water)


def largest(some: Any, other: Any) -> Any:
    """Largest difference of the day; [tank]."""
    return np.abs(some - other).max(axis=1)


def compare(job: Job, per_case_s: float, bare_s: float, found: Any, sample: int) -> None:
    parts = split(job.cases, 1)
    picked = np.sort(np.random.default_rng(7).permutation(len(parts))[:sample])
    rows = [solved(job, parts[i].tanks, case, (COARSE, FINE)) for i in picked for case in range(CASES)]
    count = sum(row.tanks.size for row in rows)
    say(f"solve_ivp, LSODA, restarted at every switch, {count} of the same tanks and cases, water every 60 s:")
    for tolerance in (COARSE, FINE):
        one = sum(row.seconds[tolerance] for row in rows) / count
        say(
            f"  rtol = atol = {tolerance:g}   {1000 * one:6.2f} ms   ratio {one / per_case_s:4.0f} x with water kept,"
            f" {one / bare_s:4.0f} x summaries only   (target {TARGET_RATIO:.0f} x)"
        )
    ours = tell_errors(rows, found)
    match_accuracy(job, rows, per_case_s, ours)


def tell_errors(rows: list[Solved], found: Any) -> float:
    """Prints the largest error of each tank's day, apart by what it can mean; gives the 99 % of the well-posed ones."""
    posed: dict[str, list[float]] = {"own machine or none": [], "machine on several": []}
    apart: list[float] = []
    beyond = 0
    for row in rows:
        exact = row.water_c[FINE]
        if exact.max() > WATER_C.high:
            beyond += row.tanks.size
            continue
        error = largest(found.water_c[row.tanks, row.case], exact).tolist()
        if largest(row.water_c[COARSE], exact).max() > AGREES_WITHIN_K:
            apart += error
        else:
            posed["machine on several" if row.tanks.size > 1 else "own machine or none"] += error
    say(f"error at 60 s against rtol {FINE:g}, largest of each tank's day in each case (target {TARGET_K} K):")
    for kind, values in posed.items():
        if values:
            middle, most = np.percentile(values, (50, 99))
            say(f"  {kind:20s} median {middle:.5f}  99 % {most:.5f}  largest {max(values):.5f} K   of {len(values)}")
    errors = ", ".join(f"{value:.3f}" for value in sorted(apart, reverse=True)[:6])
    say(
        f"  told apart, the solver differs from itself by over {AGREES_WITHIN_K} K between the two tolerances:"
        f" {len(apart)}" + (f", errors {errors} K" if apart else "")
    )
    say(f"  told apart, water beyond {WATER_C.high:.0f} °C, where the formulas end: {beyond}")
    return float(np.percentile(list(itertools.chain(*posed.values())), 99))


def match_accuracy(job: Job, rows: list[Solved], per_case_s: float, ours: float) -> None:
    """How fast the solver is where its own error is about ours."""
    some = [row for row in rows if row.water_c[FINE].max() <= WATER_C.high][:: max(len(rows) // 120, 1)]
    say(f"solver with looser tolerances, {len(some)} groups and cases; error that 99 % keep, ours is {ours:.4f} K:")
    for tolerance in LOOSER:
        looser = [solved(job, row.tanks, row.case, (tolerance,)) for row in some]
        error = np.concatenate(
            [largest(each.water_c[tolerance], row.water_c[FINE]) for each, row in zip(looser, some, strict=True)]
        )
        one = sum(each.seconds[tolerance] for each in looser) / error.size
        say(
            f"  rtol = atol = {tolerance:g}   {1000 * one:6.2f} ms   error {np.percentile(error, 99):.4f} K"
            f"   ratio {one / per_case_s:4.0f} x"
        )


def memory_mb(name: str) -> float:
    """Memory of this process as Linux tells it: VmRSS now, VmHWM the most so far."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024.0


def measure(tanks: int) -> None:
    """One fleet in a process of its own, so that its peak memory is its own; the answer goes out as JSON."""
    bare = memory_mb("VmRSS")
    begin = time.process_time()
    job = Job.of(tanks)
    built_s = time.process_time() - begin
    held = memory_mb("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")
    seconds, _ = job.run(2 if tanks <= 10_000 else 1)
    run_mb = memory_mb("VmHWM") - held
    say(json.dumps({"tanks": tanks, "built_s": built_s, "run_s": seconds, "held_mb": held - bare, "run_mb": run_mb}))


def tell_growth(sizes: tuple[int, ...]) -> None:
    say(f"growth, tanks in {CASES} cases each, every size in a process of its own, summaries only:")
    rows = []
    for size in sizes:
        command = [sys.executable, str(Path(__file__).resolve()), "--measure", str(size)]
        rows.append(json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout))
        row = rows[-1]
        say(
            f"  {size:7,d} tanks   build {row['built_s']:6.1f} s, {row['held_mb']:6.0f} MB held"
            f"   run {row['run_s']:7.2f} s, {row['run_mb']:6.0f} MB more at its peak"
        )
    for less, more in itertools.pairwise(rows):
        decade = math.log10(more["tanks"] / less["tanks"])
        grown = {
            "time": math.log10(more["run_s"] / less["run_s"]) / decade,
            "peak memory": math.log10(total_mb(more) / total_mb(less)) / decade,
        }
        slopes = ", ".join(f"{name} {slope:.2f}" for name, slope in grown.items())
        say(f"  slope {less['tanks']:,d} to {more['tanks']:,d}: {slopes}   (target 0.9 to 1.1)")


def total_mb(row: dict[str, float]) -> float:
    return row["held_mb"] + row["run_mb"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="two minutes")
    parser.add_argument("--sample", type=int, help="groups of tanks to follow by solve_ivp")
    parser.add_argument("--measure", type=int, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        measure(given.measure)
        return
    say(f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, {platform.machine()}")
    tanks = COMPARED // 4 if given.small else COMPARED
    job = Job.of(tanks)
    count = tanks * CASES
    say(f"{tanks:,d} tanks in {CASES} cases each, 24 h, thermostat ±0.25 K, rest 180 s, two nodes, one thread:")
    bare_s, _ = job.run(3)
    kept_s, found = job.run(3, keep=[Keep.WATER])
    starts = found.starts.sum() / count
    say(f"  summaries only          {bare_s:6.2f} s   {1000 * bare_s / count:.4f} ms for a tank and case")
    say(f"  water kept every 60 s   {kept_s:6.2f} s   {1000 * kept_s / count:.4f} ms   {starts:.1f} starts a day")
    compare(job, kept_s / count, bare_s / count, found, given.sample or (25 if given.small else 150))
    tell_growth(SIZES[: 2 if given.small else 3])


if __name__ == "__main__":
    main()
