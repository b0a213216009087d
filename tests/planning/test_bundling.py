"""Fewest calls for the windows of a site's tasks."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.bundling import Item, allot, best_day, call_days, stab
from fleet.planning.seasons import OpenDays
from fleet.values.register import Site

DAY_0 = date(2026, 5, 18)
EVERY_DAY = OpenDays(
    Site("S", "CL", "Site", "Etc/UTC", visit_days=tuple(range(7))), (), DAY_0, DAY_0 + timedelta(days=90)
)


def at(number: int) -> date:
    return DAY_0 + timedelta(days=number)


@st.composite
def some_items(draw: st.DrawFn, most: int = 6, horizon: int = 9) -> list[Item]:
    items = []
    for number in range(draw(st.integers(1, most))):
        first = draw(st.integers(0, horizon))
        last = draw(st.integers(first, horizon))
        items.append(Item(f"K{number}", at(first), at(last), at(draw(st.integers(first, last)))))
    return items


def fewest_by_trying_all(items: list[Item]) -> int:
    days = sorted({day for item in items for day in (item.first, item.last)})
    for count in range(1, len(days) + 1):
        for chosen in combinations(days, count):
            if all(any(item.first <= day <= item.last for day in chosen) for item in items):
                return count
    raise AssertionError("no choice of days serves every item")


def most_disjoint(items: list[Item]) -> int:
    for count in range(len(items), 0, -1):
        for chosen in combinations(sorted(items, key=lambda one: one.first), count):
            if all(one.last < other.first for one, other in pairwise(chosen)):
                return count
    return 0


@given(some_items())
@settings(max_examples=150, deadline=None)
def test_the_greedy_choice_makes_as_few_calls_as_trying_everything(items: list[Item]) -> None:
    assert len(stab(items)) == fewest_by_trying_all(items)


def made_up(dice: random.Random, most: int, horizon: int) -> list[Item]:
    """Windows of one day to the whole of the horizon."""
    items = []
    for number in range(dice.randint(1, most)):
        first, last = sorted((dice.randrange(horizon), dice.randrange(horizon)))
        items.append(Item(f"K{number}", at(first), at(last), at(dice.randint(first, last))))
    return items


def test_calls_are_the_fewest_there_can_be_in_each_of_1200_small_cases() -> None:
    """Against every choice of days there is."""
    dice = random.Random(1)
    for _ in range(1200):
        items = made_up(dice, 6, 10)
        calls = call_days(items, EVERY_DAY)
        assert len(calls) == fewest_by_trying_all(items)
        assert all(item.first <= day <= item.last for day, some in calls.items() for item in some)


def fewest_by_last_day_chosen(items: list[Item]) -> int:
    """A dynamic programme over the last of the days chosen: none of the windows may lie between two chosen days."""
    days = sorted({day for item in items for day in (item.first, item.last)})
    best: dict[date, int] = {}
    for number, day in enumerate(days):
        counts = [best[one] + 1 for one in days[:number] if one in best and not any(
            one < item.first and item.last < day for item in items
        )]  # fmt: skip
        if not any(item.last < day for item in items):
            counts.append(1)
        if counts:
            best[day] = min(counts)
    return min(count for day, count in best.items() if not any(day < item.first for item in items))


def test_calls_are_the_fewest_there_can_be_in_each_of_200_large_cases() -> None:
    dice = random.Random(2)
    for _ in range(200):
        items = made_up(dice, 40, 80)
        assert len(call_days(items, EVERY_DAY)) == fewest_by_last_day_chosen(items)


def test_the_two_ways_to_find_the_fewest_agree() -> None:
    dice = random.Random(3)
    for _ in range(200):
        items = made_up(dice, 6, 10)
        assert fewest_by_last_day_chosen(items) == fewest_by_trying_all(items)


@given(some_items(), st.integers(0, 9), st.integers(0, 9))
@settings(max_examples=100, deadline=None)
def test_one_more_task_never_means_fewer_calls_and_at_most_one_more(items: list[Item], one: int, other: int) -> None:
    first, last = sorted((one, other))
    more = [*items, Item("NEW", at(first), at(last), at(first))]
    assert len(stab(items)) <= len(stab(more)) <= len(stab(items)) + 1


@given(some_items(), st.data())
@settings(max_examples=100, deadline=None)
def test_a_wider_window_never_means_more_calls(items: list[Item], data: st.DataObject) -> None:
    wider = [
        replace(item, first=item.first - timedelta(days=data.draw(st.integers(0, 3))),
                last=item.last + timedelta(days=data.draw(st.integers(0, 3))))
        for item in items
    ]  # fmt: skip
    assert len(stab(wider)) <= len(stab(items))


@given(some_items())
@settings(max_examples=150, deadline=None)
def test_the_fewest_calls_are_as_many_as_windows_that_share_no_day(items: list[Item]) -> None:
    """For intervals on a line the piercing number equals the number of disjoint intervals (T. Gallai; A. Hajnal and
    J. Suranyi, Ann. Univ. Sci. Budapest. 1 (1958) 113; from memory)."""
    assert len(stab(items)) == most_disjoint(items)


@given(some_items(most=12, horizon=25))
@settings(max_examples=100, deadline=None)
def test_no_task_is_lost_or_doubled_and_every_day_suits_its_tasks(items: list[Item]) -> None:
    days = call_days(items, EVERY_DAY)
    assert sorted(item.key for placed in days.values() for item in placed) == sorted(item.key for item in items)
    assert all(item.first <= day <= item.last for day, placed in days.items() for item in placed)
    assert len(days) == len(stab(items))


@given(some_items(most=8, horizon=20), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_of_the_tasks_does_not_matter(items: list[Item], shuffled_by: object) -> None:
    shuffled = list(items)
    shuffled_by.shuffle(shuffled)  # type: ignore[attr-defined]
    by_day = [
        {day: {one.key for one in put} for day, put in call_days(some, EVERY_DAY).items()} for some in (items, shuffled)
    ]
    assert by_day[0] == by_day[1]


@given(some_items(most=8, horizon=20))
@settings(max_examples=60, deadline=None)
def test_bundling_again_with_the_days_of_before_moves_nothing(items: list[Item]) -> None:
    first = call_days(items, EVERY_DAY)
    kept = {item.key: day for day, placed in first.items() for item in placed}
    again = call_days(items, EVERY_DAY, kept)
    assert {item.key: day for day, placed in again.items() for item in placed} == kept


def test_a_new_task_joins_a_call_that_is_planned_already() -> None:
    old = [Item("A", at(0), at(10), at(5)), Item("B", at(30), at(40), at(35))]
    kept = {"A": at(5), "B": at(35)}
    days = call_days([*old, Item("C", at(3), at(38), at(20))], EVERY_DAY, kept)
    assert set(days) == {at(5), at(35)}


def test_a_call_is_made_on_the_due_day_and_not_as_late_as_is_just_allowed() -> None:
    item = Item("A", at(0), at(30), at(12))
    assert best_day([item], EVERY_DAY) == at(12)


def test_days_late_weigh_more_than_days_early() -> None:
    """Ten days late for one weigh more than ten days early for two."""
    dues = {"A": 10, "B": 20, "C": 20}
    assert best_day([Item(key, at(0), at(30), at(due)) for key, due in dues.items()], EVERY_DAY) == at(10)


def test_a_task_goes_to_the_call_nearest_to_its_due_day() -> None:
    put = allot([Item("A", at(0), at(30), at(19))], [at(5), at(16), at(25)])
    assert list(put) == [at(16)]
