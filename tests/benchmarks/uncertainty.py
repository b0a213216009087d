"""Prints the three sides by which tanks are judged beside random draws, and the shares in which they differ.

python tests/benchmarks/uncertainty.py [DRAWS]     every tank of the sample fleet, shares also of 300 made-up tanks
python tests/benchmarks/uncertainty.py --small     the shares of the sample fleet only
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from time import perf_counter

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from fleets import made_up  # noqa: E402

from fleet.files.catalogue_files import read_catalogue  # noqa: E402
from fleet.files.register_files import read_register  # noqa: E402
from fleet.thermal.assess import assess  # noqa: E402
from fleet.thermal.uncertainty import draw_margins  # noqa: E402
from fleet.values.assessment import Assessment, DrawnMargin  # noqa: E402
from fleet.values.fleet import snapshot  # noqa: E402
from fleet.values.spread import Spread  # noqa: E402
from fleet.values.vocabulary import MarginState, Scenario  # noqa: E402

SAMPLE = Path(__file__).parents[2] / "sample_data" / "register"


def say(text: str) -> None:
    sys.stdout.write(text + "\n")


def watts(spread: Spread | None) -> str:
    return "-" if spread is None else f"{spread.low:6.0f} {spread.mid:6.0f} {spread.high:6.0f}"


def share(value: float) -> str:
    return "any" if math.isinf(value) else f"{value:+.2f}"


def table(sides: Sequence[Assessment], drawn: Sequence[DrawnMargin]) -> None:
    say(f"{'':11}need, sides {'':10}drawn {'':16}has, sides {'':11}drawn {'':16}margin low, sides and drawn")
    for one, other in zip(sides, drawn, strict=True):
        low = "none needed" if one.margin is None else share(one.margin.low)
        say(
            f"{one.tank:11}{watts(one.required_spread_w):22}{watts(other.required_w):22}"
            f"{watts(one.available_w):22}{watts(other.available_w):22}{low:>12} {share(other.margin.low):>8}"
            f"{'  not on the safe side' if over_margin(one, other) else ''}"
        )


def over_margin(one: Assessment, other: DrawnMargin) -> bool:
    return one.margin is not None and one.margin.low > other.margin.low + 0.01


def shares(sides: Sequence[Assessment], drawn: Sequence[DrawnMargin]) -> None:
    """How often the draws leave the sides, by more than a hundredth and half a watt."""
    pairs = list(zip(sides, drawn, strict=True))
    past = [(other.required_w.high - one.required_spread_w.high, other.required_w.high) for one, other in pairs]
    beyond = [(more, need) for more, need in past if more > max(0.5, 0.01 * abs(need))]
    unsafe = [one for one, other in pairs if over_margin(one, other)]
    changed = [one for one in unsafe if one.state in (MarginState.THIN, MarginState.OK)]
    missed = [one for one, other in pairs if one.state is MarginState.NONE_NEEDED and other.required_w.high > 0.0]
    most = max((more for more, _need in beyond), default=0.0)
    needed = max((more / need for more, need in beyond if need > 50.0), default=0.0)
    say(f"  need: 95 % of the draws over the high end in {len(beyond)} of {len(pairs)} tanks, by {most:.0f} W at most")
    say(f"        and by {100.0 * needed:.0f} % at most of a need over 50 W")
    say(f"  margin: low end over 5 % of the draws in {len(unsafe)}, {len(changed)} of them judged thin or ok")
    say(f"  none needed, and over 5 % of the draws need some: {len(missed)} {[one.tank for one in missed]}")


def main() -> None:
    small = "--small" in sys.argv
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    draws = numbers[0] if numbers else 1000
    sample = snapshot(read_register(SAMPLE, {}), date(2026, 5, 20))
    fleets = [("sample fleet", sample, read_catalogue().class_by_code)]
    if not small:
        fleets.append(("300 made-up tanks", made_up(300), {}))
    for name, fleet, classes in fleets:
        for scenario in Scenario:
            begun = perf_counter()
            sides = assess(fleet, classes, scenarios=(scenario,), with_hours=False)
            between = perf_counter()
            drawn = draw_margins(fleet, classes, scenario=scenario, seed=1, draws=draws)
            done = perf_counter()
            say(
                f"\n{name}, {scenario}: sides {between - begun:.1f} s (with the day), "
                f"{draws} draws {done - between:.1f} s"
            )
            if fleet is sample and not small:
                table(sides, drawn)
            shares(sides, drawn)


if __name__ == "__main__":
    main()
