"""Need, capacity, margin and hours of a whole fleet against one minute-by-minute day of the same tanks.

    python tests/benchmarks/assess.py            10,000 tanks, a minute or so
    python tests/benchmarks/assess.py --small    1,000 tanks

The day is the run of day.py: 24 h in steps of 60 s with thermostats. Both count processor time, in one process.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from fleets import made_up  # noqa: E402

from fleet.thermal.assess import BATCH, assess, build  # noqa: E402
from fleet.thermal.cases import spread_over_cases  # noqa: E402
from fleet.thermal.day import Controls  # noqa: E402
from fleet.thermal.groups import batches  # noqa: E402
from fleet.thermal.traces import trace  # noqa: E402


def say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def timed(run: Callable[[], Any]) -> tuple[float, Any]:
    begin = time.process_time()
    found = run()
    return time.process_time() - begin, found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="1,000 tanks")
    count = 1_000 if parser.parse_args().small else 10_000
    fleet = made_up(count)
    codes = [tank.code for tank in fleet.tanks]
    built_s, _ = timed(lambda: [build(fleet, {}, some) for some in batches(fleet, codes, BATCH)])
    whole_s, rows = timed(lambda: assess(fleet, {}))
    short_s, _ = timed(lambda: assess(fleet, {}, with_hours=False))
    cases = spread_over_cases(build(fleet, {}, codes), np.array([1]), np.array([0]))
    links, fans = cases.model.devices.links, cases.model.devices.fans
    heads = np.bincount(links.machine, minlength=len(cases.model.devices.machines.codes))
    controls = Controls(links.duty[:, None], fans.duty[:, None], 1.0 / heads[links.machine])
    start_c, midnight = cases.model.tanks.target_c[:, None] + 0.1, np.zeros(1, dtype=np.intp)
    day_s, _ = timed(lambda: trace(cases, controls, start_c=start_c, start_hour=midnight, hours=24.0))
    say(f"{count:,d} tanks, {len(rows):,d} assessments of both scenarios; milliseconds of the processor for each tank:")
    for what, seconds in (
        ("arrays from the register", built_s),
        ("assess, hours to the limit left out", short_s),
        ("assess, whole", whole_s),
        ("a day of 60 s steps", day_s),
    ):
        say(f"  {what:36s} {1000.0 * seconds / count:7.3f}")
    say(f"ratio of assess to the day: {whole_s / day_s:.1f}, without the hours {short_s / day_s:.1f}   (target 2)")


if __name__ == "__main__":
    main()
