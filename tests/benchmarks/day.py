"""A day of a whole fleet against scipy's event-driven solver: speed, error, memory, growth.

    python tests/benchmarks/day.py            a few minutes; Linux only, for the memory
    python tests/benchmarks/day.py --small    under a minute: fewer tanks by solver, no fleet of 100,000

Both sides follow the same tanks for 24 h with thermostats of ±0.25 K and compressors that rest three minutes, in one
process each; times are per tank. Building the arrays from a register is told apart from running them.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import platform
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import scipy

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from event_driven import EventRun, Group  # noqa: E402
from fleets import made_up  # noqa: E402

from fleet.thermal.assess import build  # noqa: E402
from fleet.thermal.cases import spread_over_cases  # noqa: E402
from fleet.thermal.day import Controls  # noqa: E402
from fleet.thermal.machinery import Thermostat  # noqa: E402
from fleet.thermal.parts import split  # noqa: E402
from fleet.thermal.records import Keep  # noqa: E402
from fleet.thermal.traces import trace  # noqa: E402

THERMOSTAT = Thermostat()
SIZES = (1_000, 10_000, 100_000)
TOLERANCES = ((1e-6, 1e-6), (1e-8, 1e-8))
AT_S = np.arange(0.0, 86_401.0, 60.0)


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def prepared(tanks: int) -> tuple[Any, Any, Controls, Any]:
    fleet = made_up(tanks)
    cases = spread_over_cases(build(fleet, {}, [tank.code for tank in fleet.tanks]), np.array([1]), np.array([0]))
    links, fans = cases.model.devices.links, cases.model.devices.fans
    heads = np.bincount(links.machine, minlength=len(cases.model.devices.machines.codes))
    controls = Controls(links.duty[:, None], fans.duty[:, None], 1.0 / heads[links.machine])
    return fleet, cases, controls, cases.model.tanks.target_c[:, None] + 0.1


def timed(cases: Any, controls: Controls, start_c: Any, times: int, **more: Any) -> tuple[float, Any]:
    best, found = math.inf, None
    for _ in range(times):
        begin = time.perf_counter()
        found = trace(cases, controls, start_c=start_c, start_hour=np.zeros(1, dtype=np.intp), hours=24.0, **more)
        best = min(best, time.perf_counter() - begin)
    return best, found


def measure(tanks: int) -> None:
    """One fleet in a process of its own, so that its peak memory is its own; the answer goes out as JSON."""
    bare = memory_mb("VmRSS")
    begin = time.perf_counter()
    _fleet, cases, controls, start_c = prepared(tanks)
    built_s = time.perf_counter() - begin
    held = memory_mb("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")
    seconds, _ = timed(cases, controls, start_c, 2 if tanks <= 10_000 else 1)
    run_mb = memory_mb("VmHWM") - held
    say(json.dumps({"tanks": tanks, "built_s": built_s, "run_s": seconds, "held_mb": held - bare, "run_mb": run_mb}))


def memory_mb(name: str) -> float:
    """Memory of this process as Linux tells it: VmRSS now, VmHWM the most so far."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024.0


def by_solver(fleet: Any, cases: Any, controls: Controls, start_c: Any, parts: list[Any]) -> list[dict[str, Any]]:
    rows = []
    for part in parts:
        row: dict[str, Any] = {"part": part}
        for rtol, atol in TOLERANCES:
            group = Group(fleet, cases, controls, part.tanks)
            run = EventRun(group, start_c[part.tanks, 0], 0.0, THERMOSTAT.band_k, THERMOSTAT.least_off_s)
            begin = time.perf_counter()
            water, _stand = run.go(24.0, AT_S, rtol, atol)
            row[rtol] = (time.perf_counter() - begin, water, run)
        rows.append(row)
    return rows


def compare(fleet: Any, cases: Any, controls: Controls, start_c: Any, per_tank_s: float, sample: int) -> None:
    parts = split(cases, 1)
    picked = [parts[i] for i in np.sort(np.random.default_rng(7).permutation(len(parts))[:sample])]
    rows = by_solver(fleet, cases, controls, start_c, picked)
    count = sum(row["part"].tanks.size for row in rows)
    say(f"solve_ivp, LSODA, restarted at every switch, on {count} of the same tanks, water every 60 s:")
    for rtol, atol in TOLERANCES:
        one = sum(row[rtol][0] for row in rows) / count
        ratio = one / per_tank_s
        say(f"  rtol {rtol:g} atol {atol:g}   {1000 * one:6.2f} ms/tank   ratio {ratio:5.0f} x   (target 150 x)")
    for step_s in (60, 300):
        tell_errors(rows, step_s, timed(cases, controls, start_c, 1, step_s=step_s, keep=[Keep.WATER])[1])
    coarse, fine = (rtol for rtol, _atol in TOLERANCES)
    unsure = sum(int(np.abs(row[coarse][1] - row[fine][1]).max() > 0.01) for row in rows)
    say(f"  groups on which the solver differs from itself by over 0.01 K between the two tolerances: {unsure}")


def tell_errors(rows: list[dict[str, Any]], step_s: int, found: Any) -> None:
    """Largest error over the day of each tank. One that trips in one run only is told apart: it grazed its cut-out."""
    errors: dict[str, list[float]] = {"a machine of its own or none": [], "a machine on several tanks": []}
    apart: list[float] = []
    every = step_s // 60
    for row in rows:
        tanks, (_, exact, run) = row["part"].tanks, row[TOLERANCES[-1][0]]
        error = np.abs(found.water_c[tanks, 0] - exact[:, ::every]).max(axis=1).tolist()
        if max(error) > 0.1 and any(run.lost):
            apart += error
        else:
            errors["a machine on several tanks" if tanks.size > 1 else "a machine of its own or none"] += error
    target = "; target 0.01 K" if step_s == 60 else ""
    say(f"error of {step_s} s steps against rtol {TOLERANCES[-1][0]:g}, largest of each tank's day{target}:")
    for kind, values in errors.items():
        if values:
            middle, most = np.percentile(values, (50, 99))
            say(f"  {kind:30s} median {middle:.5f}  99 % {most:.5f}  largest {max(values):.5f} K   of {len(values)}")
    say(f"  told apart, a chiller that trips in one run only: {len(apart)} {[round(value, 3) for value in apart]}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="under a minute")
    parser.add_argument("--sample", type=int, help="groups of tanks to follow by solve_ivp")
    parser.add_argument("--measure", type=int, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        measure(given.measure)
        return
    say(f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, {platform.machine()}")
    fleet, cases, controls, start_c = prepared(10_000)
    say("10,000 tanks, 24 h, thermostat ±0.25 K, rest 180 s, two nodes:")
    seconds, found = timed(cases, controls, start_c, 3)
    say(f"  60 s steps    {seconds:6.2f} s   {1e5 * seconds / 1e6:.3f} ms/tank   {found.starts.sum():.0f} starts")
    screening, _ = timed(cases, controls, start_c, 3, step_s=300)
    say(f"  300 s steps   {screening:6.2f} s")
    compare(fleet, cases, controls, start_c, seconds / 10_000, given.sample or (80 if given.small else 400))

    say("growth, each size in a process of its own, summaries only:")
    rows = []
    for size in SIZES[: 2 if given.small else 3]:
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


if __name__ == "__main__":
    main()
