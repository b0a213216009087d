"""Five years of tasks for companies of any size: the first plan, the plan after news, growth, memory.

    python tests/benchmarks/plan.py            10,000 tanks, over a million tasks; Linux only, for the memory
    python tests/benchmarks/plan.py --small    about a minute: a tenth of that

Times are processor seconds of the planner alone, each size in a process of its own: registers, heat balances and the
database are not in them. News is planned from the plan before; its yardstick is the first plan of the same run.
"""

from __future__ import annotations

import argparse
import gc
import itertools
import json
import math
import platform
import random
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from time import process_time
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from companies import DAY, company, first_rows, with_changes  # noqa: E402

from fleet.files.catalogue_files import read_catalogue  # noqa: E402
from fleet.planning.plan import make_plan  # noqa: E402
from fleet.values.catalogue import Catalogue  # noqa: E402
from fleet.values.fleet import Fleet, snapshot  # noqa: E402
from fleet.values.plan import Plan  # noqa: E402
from fleet.values.register import RegisterRows, Tank  # noqa: E402

FIVE_YEARS = timedelta(days=1826)
SIZES = (8, 80, 770, 7_700)
"""Tanks that have about 1,000 to 1,000,000 tasks in five years."""
TANKS = 10_000
TARGET = 0.05


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def memory_mb(name: str) -> float:
    """Memory of this process as Linux tells it: VmRSS now, VmHWM the most so far."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024.0


def planned(fleet: Fleet, catalogue: Catalogue, previous: Plan | None) -> tuple[Plan, float]:
    gc.collect()
    begin = process_time()
    plan = make_plan(
        fleet,
        catalogue,
        assessments=(),
        margin_changes=(),
        previous=previous,
        today=DAY,
        through=DAY + FIVE_YEARS,
    )
    return plan, process_time() - begin


def measure(tanks: int, news: bool) -> None:
    """One company in a process of its own, so that its peak memory is its own; the answer goes out as JSON."""
    catalogue = read_catalogue()
    rows = company(tanks, catalogue)
    fleet = snapshot(rows, DAY)
    bare = memory_mb("VmRSS")
    plan, first_s = planned(fleet, catalogue, None)
    found: dict[str, Any] = {
        "tanks": len(fleet.tanks),
        "sites": len(fleet.sites),
        "tasks": len(plan.tasks),
        "visits": len(plan.visits),
        "unplaced": len(plan.unplaced),
        "first_s": first_s,
        "peak_mb": memory_mb("VmHWM") - bare,
    }
    if news:
        found["news"] = [news_of(words, new, catalogue, plan) for words, new in kinds_of_news(rows)]
    say(json.dumps(found))


def kinds_of_news(rows: RegisterRows) -> list[tuple[str, RegisterRows]]:
    """Nothing new; the round of one day at one site in a hundred; one tank in a hundred, here and there."""
    dice = random.Random(3)
    tanks = first_rows(rows.tanks)
    site_of = {room.code: room.site for room in rows.rooms}
    some = set(dice.sample([site.code for site in rows.sites], max(1, len(rows.sites) // 100)))
    at_sites: list[Tank] = [tank for tank in tanks if site_of[tank.room] in some]
    scattered = dice.sample(tanks, max(1, len(tanks) // 100))
    return [
        ("nothing new", rows),
        ("every tank of 1 % of the sites", with_changes(rows, at_sites)),
        ("1 % of the tanks, here and there", with_changes(rows, scattered)),
    ]


def news_of(words: str, rows: RegisterRows, catalogue: Catalogue, before: Plan) -> dict[str, Any]:
    plan, seconds = planned(snapshot(rows, DAY), catalogue, before)
    changes = plan.changes
    counted = len(changes.added), len(changes.moved), len(changes.dropped)
    return {"words": words, "s": seconds, "changes": counted}


def in_own_process(tanks: int, *more: str) -> dict[str, Any]:
    command = [sys.executable, str(Path(__file__).resolve()), "--measure", str(tanks), *more]
    found: dict[str, Any] = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return found


def tell_news(row: dict[str, Any]) -> None:
    say(f"{row['tanks']:,d} tanks at {row['sites']:,d} sites, {row['tasks']:,d} tasks, {row['visits']:,d} visits")
    say(f"({row['unplaced']:,d} tasks are in no visit for want of an open day or of somebody with room):")
    say(f"  first plan                          {row['first_s']:8.2f} s")
    for news in row["news"]:
        share = f"{100 * news['s'] / row['first_s']:5.1f} % of the first (target {100 * TARGET:.0f} %)"
        added, moved, dropped = news["changes"]
        say(f"  {news['words']:34s}  {news['s']:8.2f} s   {share}   {added} added, {moved} moved, {dropped} dropped")


def tell_growth(rows: list[dict[str, Any]]) -> None:
    say("growth of the first plan, each size in a process of its own:")
    for row in rows:
        thousands = row["tasks"] / 1000
        say(
            f"  {row['tanks']:7,d} tanks {row['tasks']:11,d} tasks   {1000 * row['first_s'] / thousands:6.1f} ms and "
            f"{row['peak_mb'] / thousands:5.2f} MB at the peak per 1,000 tasks"
        )
    for less, more in itertools.pairwise(rows):
        decade = math.log10(more["tasks"] / less["tasks"])
        time, memory = (math.log10(more[name] / max(less[name], 1e-9)) / decade for name in ("first_s", "peak_mb"))
        say(f"  slope {less['tasks']:,d} to {more['tasks']:,d} tasks: time {time:.2f}, memory {memory:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="about a minute")
    parser.add_argument("--measure", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--news", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        measure(given.measure, given.news)
        return
    say(f"Python {platform.python_version()}, {platform.machine()}")
    largest = in_own_process(TANKS // 10 if given.small else TANKS, "--news")
    tell_news(largest)
    tell_growth([in_own_process(size) for size in (SIZES[:3] if given.small else SIZES)])


if __name__ == "__main__":
    main()
