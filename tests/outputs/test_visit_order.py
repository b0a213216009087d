"""Gathering the tasks of a visit: nothing lost, the order on each tank kept, the same work together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.outputs.visit_order import stretches


@dataclass(frozen=True)
class Piece:
    key: int
    tank: str | None
    rule: str
    order: int


RULES = {"screen": 10, "fins": 20, "output": 30, "descale": 40, "test": 90}
HEALTH = {"A": "clean", "B": "clean", "C": "clean", "S": "sick"}


def pieces(*parts: tuple[str | None, str]) -> list[Any]:
    return [Piece(number, tank, rule, RULES[rule]) for number, (tank, rule) in enumerate(parts)]


def shape(tasks: list[Any]) -> list[list[tuple[str, str]]]:
    return [
        [(group[0].rule, "".join(task.tank or "-" for task in group)) for group in stretch.groups]
        for stretch in stretches(tasks, lambda code: HEALTH.get(code))
    ]


def test_the_same_work_on_tanks_of_like_health_comes_together() -> None:
    tasks = pieces(("A", "screen"), ("A", "output"), ("B", "screen"), ("B", "descale"), ("C", "fins"))
    assert shape(tasks) == [[("screen", "AB"), ("output", "A"), ("descale", "B")], [("fins", "C")]]


def test_a_sick_tank_keeps_its_own_work_and_its_place() -> None:
    """Working order by health: what is carried from a sick system must not reach a clean one (common practice)."""
    tasks = pieces(("A", "screen"), ("S", "screen"))
    assert shape(tasks) == [[("screen", "A")], [("screen", "S")]]


def test_tests_of_protection_that_come_after_all_wet_work_stay_there() -> None:
    tasks = pieces(("A", "descale"), ("B", "descale"), ("A", "test"), ("B", "test"))
    assert shape(tasks) == [[("descale", "AB")], [("test", "AB")]]


@settings(deadline=None, max_examples=150)
@given(st.lists(st.tuples(st.sampled_from([None, "A", "B", "C", "S"]), st.sampled_from(sorted(RULES))), max_size=14))
def test_no_task_is_lost_and_none_on_a_tank_changes_places(parts: list[tuple[str | None, str]]) -> None:
    tasks = pieces(*parts)
    after = [task for stretch in stretches(tasks, lambda code: HEALTH.get(code)) for task in stretch.tasks]
    assert sorted(task.key for task in after) == [task.key for task in tasks]
    for tank in (None, "A", "B", "C", "S"):
        mine = [task.key for task in after if task.tank == tank]
        assert mine == sorted(mine)
