"""Prints, for every tank of the sample fleet, the three sides by which it is judged beside random draws.

python tests/benchmarks/uncertainty.py [DRAWS]
"""

from __future__ import annotations

import math
import sys
from datetime import date
from pathlib import Path
from time import perf_counter

from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import read_register
from fleet.thermal.assess import assess
from fleet.thermal.uncertainty import draw_margins
from fleet.values.fleet import snapshot
from fleet.values.spread import Spread
from fleet.values.vocabulary import Scenario

SAMPLE = Path(__file__).parents[2] / "sample_data" / "register"


def say(text: str) -> None:
    sys.stdout.write(text + "\n")


def watts(spread: Spread | None) -> str:
    return "-" if spread is None else f"{spread.low:6.0f} {spread.mid:6.0f} {spread.high:6.0f}"


def share(value: float) -> str:
    return "any" if math.isinf(value) else f"{value:+.2f}"


def main() -> None:
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    fleet = snapshot(read_register(SAMPLE, {}), date(2026, 5, 20))
    classes = read_catalogue().class_by_code
    for scenario in Scenario:
        begun = perf_counter()
        sides = assess(fleet, classes, scenarios=(scenario,))
        between = perf_counter()
        drawn = draw_margins(fleet, classes, scenario=scenario, seed=1, draws=draws)
        done = perf_counter()
        say(
            f"\n{scenario}: sides {between - begun:.1f} s (with the day and the hours), "
            f"{draws} draws {done - between:.1f} s"
        )
        say(f"{'':11}need, sides {'':10}drawn {'':16}has, sides {'':11}drawn {'':16}margin low, sides and drawn")
        above = 0
        for one, other in zip(sides, drawn, strict=True):
            low = "none needed" if one.margin is None else share(one.margin.low)
            over = one.margin is not None and one.margin.low > other.margin.low + 0.01
            above += over
            say(
                f"{one.tank:11}{watts(one.required_spread_w):22}{watts(other.required_w):22}"
                f"{watts(one.available_w):22}{watts(other.available_w):22}{low:>12} {share(other.margin.low):>8}"
                f"{'  not on the safe side' if over else ''}"
            )
        say(f"{above} of {len(sides)} low margins lie over the 5 % point of the draws.")


if __name__ == "__main__":
    main()
