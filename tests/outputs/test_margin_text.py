"""What `fleet margin` prints: order, hours, notes, and each thing that was assumed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fleet.outputs.text import margin_table
from fleet.values.assessment import HoursToLimit
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Reaches, Scenario

World = Any


@pytest.fixture
def reef(world: World) -> Any:
    return next(row for row in world.assessments if row.tank == "REEF-1")


def tanks_in_order(text: str) -> list[str]:
    lines = text.splitlines()
    return [line.split()[0] for line in lines[3 : lines.index("", 3)]]


def test_of_one_tank_it_tells_hours_notes_and_assumptions_once(world: World, reef: Any) -> None:
    text = margin_table([reef, replace(reef, scenario=Scenario.AC_OFF)], world.fleet)
    lines = text.splitlines()
    at = lines.index("Time to the limit, when that is lost:")
    assert lines[at + 1].split("  ")[-1].strip() == "Room A/C off"
    assert "Room A/C and all cooling lost  about 4.4 h (3.4 h to 6.0 h)" in text
    assert lines.count("  The chiller warms its own stand.") == 1
    assert lines.count("  CH-1: The intake screen has not been cleaned for four weeks.") == 1
    assumed = lines.index("Assumed, as it is not on record:")
    assert lines[assumed + 1 : assumed + 3] == ["  relative humidity: 65 %", ""]


def test_of_several_tanks_it_counts_what_was_assumed_the_commonest_first(world: World, reef: Any) -> None:
    own = ("lid: sealed", "CH-1: half of its air flow, no cleaning on record")
    other = replace(reef, tank="GOLD-1", assumed=("lid: sealed",))
    text = " ".join(margin_table([replace(reef, assumed=own), other], world.fleet).split())
    told = "lid: sealed (2 tanks); half of its air flow, no cleaning on record (1 tank)."
    assert f"Assumed, as it is not on record: {told}" in text
    assert "Time to the limit, when" not in text


def test_where_all_is_on_record_nothing_is_said_to_be_assumed(world: World, reef: Any) -> None:
    known = replace(reef, assumed=())
    for rows in ([known], [known, replace(known, tank="GOLD-1")]):
        assert "Assumed" not in margin_table(rows, world.fleet)


def test_trips_short_and_thin_come_before_what_holds(world: World, reef: Any) -> None:
    order = ("trips", "short", "thin", "unknown", "ok", "ample", "rides", "none-needed")
    rows = [replace(reef, tank=f"T-{state}", state=MarginState(state)) for state in sorted(order)]
    assert tanks_in_order(margin_table(rows, world.fleet)) == [f"T-{state}" for state in order]


def test_among_equals_the_tank_that_reaches_its_limit_first_comes_first(world: World, reef: Any) -> None:
    def made(tank: str, margin: Spread | None, hours: float) -> Any:
        lost = HoursToLimit(hours, None, None, Reaches.YES)
        return replace(reef, tank=tank, margin=margin, hours=replace(reef.hours, all_cooling_lost=lost, ac_lost=None))

    nothing_left = Spread(-1.0, -0.9, -0.5)
    rows = [
        made("SLOW", nothing_left, 20.0),
        made("HALF", Spread(-0.5, -0.4, -0.3), 0.5),
        made("FAST", nothing_left, 2.0),
        made("BARE", None, 9.0),
    ]
    assert tanks_in_order(margin_table(rows, world.fleet)) == ["FAST", "BARE", "SLOW", "HALF"]


def test_it_shows_what_is_left_when_the_largest_device_fails(world: World, reef: Any) -> None:
    spared = replace(reef, n_minus_1_margin=0.12)
    heading, row = margin_table([spared], world.fleet).splitlines()[2:4]
    assert heading.index("less largest") + len("less largest") == row.index("12 %") + len("12 %")
