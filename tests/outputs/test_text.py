"""What a terminal shows: the urgent first, aligned, and nothing that somebody typed can command the terminal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from fleet.outputs.card_text import card_text, list_text, rule_text, rules_text
from fleet.outputs.columns import Cell, in_columns, width_of
from fleet.outputs.due_text import due_table
from fleet.outputs.text import (
    change_text,
    changes_text,
    demo_text,
    done_text,
    margin_table,
    visits_table,
)
from fleet.outputs.why_text import why_text
from fleet.values.plan import Needed, Placement, PlanChanges

World = Any


def test_columns_are_as_wide_as_their_widest_cell() -> None:
    assert in_columns([["a", "bb"], ["ccc", "d"]]) == ["a    bb", "ccc  d"]
    assert in_columns([[Cell("7", right=True), "x"], [Cell("12", right=True), "y"]]) == [" 7  x", "12  y"]


def test_wide_characters_take_two_columns_unicode_annex_11() -> None:
    assert width_of("漢字") == 4
    assert width_of("e\u0301") == 1
    assert in_columns([["漢字", "x"], ["abcd", "y"]]) == ["漢字  x", "abcd  y"]


def test_colour_only_when_asked(world: World) -> None:
    assert "\x1b" not in due_table(world.plan, world.fleet) + margin_table(world.assessments, world.fleet)
    assert "\x1b[1;31mpast limit\x1b[0m" in due_table(world.plan, world.fleet, colour=True)


def test_a_typed_name_cannot_command_the_terminal(world: World) -> None:
    bad = "\x1b[2Jgone\r\nnext"
    fleet = replace(
        world.fleet,
        tanks=tuple(replace(tank, name=bad, notes=bad) for tank in world.fleet.tanks),
        sites=tuple(replace(site, name=bad) for site in world.fleet.sites),
        devices=tuple(replace(device, name=bad, plate=bad) for device in world.fleet.devices),
        technicians=tuple(replace(row, name=bad) for row in world.fleet.technicians),
        history=tuple(replace(record, note=bad, by=bad) for record in world.fleet.history),
    )
    task = world.plan.task_by_key["8AA-B1CD"]
    task = replace(task, title=bad, cause=replace(task.cause, text=bad))
    plan = replace(world.plan, tasks=(task, *world.plan.tasks[1:]))
    shown = [
        due_table(plan, fleet, site_staff=True),
        visits_table(plan, fleet),
        changes_text(plan),
        why_text(task, world.catalogue.rule_by_id[task.rule], fleet.history, fleet, plan),
        done_text((task,), (task,), 0),
        margin_table(world.assessments, fleet),
        change_text(world.assessments, world.assessments, (task,), fleet),
        demo_text(plan, fleet, world.assessments, folder=Path("out"), database="out/fleet.db", feeds=1, sheets=1),
        *(
            card_text(code, {"notes": bad}, plan, fleet, world.catalogue, world.assessments)
            for code in fleet.kind_by_code
        ),
        list_text("tanks", [{"code": "REEF-1", "name": bad}]),
    ]
    for text in shown:
        assert "\x1b" not in text
        assert "\r" not in text


def test_the_most_urgent_tank_comes_first_in_its_clients_units(world: World) -> None:
    lines = margin_table(world.assessments, world.fleet).splitlines()
    assert lines[0] == "Hot day: 1 short, 1 rides"
    assert lines[3].split()[:2] == ["REEF-1", "short"]
    assert "82.2 °F" in lines[3]
    assert "22.0 °C" in lines[4]
    assert "5.2 h" in lines[3]
    assert "-40 % (-4 % likely)" in lines[3]


def test_nothing_due_says_so(world: World) -> None:
    assert "nothing is due" in due_table(replace(world.plan, tasks=()), world.fleet)
    assert visits_table(replace(world.plan, visits=()), world.fleet) == "No visit is planned."
    assert margin_table((), world.fleet) == "No tank on record."


def test_visits_are_told_in_the_clock_time_of_the_site(world: World) -> None:
    assert "Fri 22 May 2026  09:00 to 11:13" in visits_table(world.plan, world.fleet)


def test_changes_say_what_and_why(world: World) -> None:
    shown = changes_text(world.plan)
    assert "New: 1" in shown
    assert "first planned" in shown
    assert "the site is closed from 30 May to 5 June 2026" in shown
    same = replace(world.plan, changes=PlanChanges())
    assert "Nothing has changed since the plan before." in changes_text(same)


def test_why_tells_rule_factors_window_and_history(world: World) -> None:
    task = world.plan.task_by_key["8AA-B1CD"]
    rule = world.catalogue.rule_by_id[task.rule]
    shown = why_text(task, rule, world.fleet.history_by_subject["CH-1"], world.fleet, world.plan)
    for words in (
        "x 0.7",
        "hard water",
        "from 1 Dec 2025 to 1 Mar 2026",
        "10 Jan 2022",
        "every 48 months",
        "much lint",
    ):
        assert words in shown, words


def test_the_numbers_of_a_change_stand_in_its_reason(world: World) -> None:
    task = world.plan.task_by_key["0RV-55XY"]
    shown = why_text(task, world.catalogue.rule_by_id[task.rule], (), world.fleet, world.plan)
    assert "lights 250 W → 310 W on 3 May 2026: margin on the hot day 12 % → -4 %." in shown


def test_done_says_when_each_comes_up_again(world: World) -> None:
    tasks = world.plan.tasks
    shown = done_text(tasks[:2], [tasks[-1], None], 1)
    assert f"next due Tue 2 Jun 2026, {tasks[-1].key}" in shown
    assert "no further one planned" in shown
    assert "1 reading recorded." in shown


def test_a_change_shows_the_margin_before_and_after(world: World) -> None:
    after = (world.assessments[2],)
    before = (replace(after[0], required_w=300.0, state="ample"),)
    shown = change_text(before, after, world.plan.tasks[-1:], world.fleet)
    assert "ample" in shown
    assert "short" in shown
    assert "300 W to 420 W" in shown
    assert "Review the heat load" in shown


def test_the_demonstration_says_what_it_found_and_where_to_look(world: World) -> None:
    shown = demo_text(
        world.plan, world.fleet, world.assessments, folder=Path("out"), database="out/fleet.db", feeds=7, sheets=6
    )
    for words in ("2 tanks and 2 cooling devices at 2 sites", "REEF-1", "index.html", "7 calendar feeds", "6 pages"):
        assert words in shown, words


@pytest.mark.parametrize("code", ["OAKLEY", "HARBOUR", "LOBBY", "REEF-1", "CH-1", "GF-1", "ROE"])
def test_every_kind_of_subject_has_a_card(world: World, code: str) -> None:
    shown = card_text(code, {}, world.plan, world.fleet, world.catalogue, world.assessments)
    assert code in shown.splitlines()[0]
    assert "None" not in shown


def test_a_card_lists_what_is_and_what_is_not_on_record(world: World) -> None:
    cells = {"code": "REEF-1", "target": "78.1 F", "wall": "", "wall_thickness": "", "since": ""}
    shown = card_text("REEF-1", cells, world.plan, world.fleet, world.catalogue, world.assessments)
    assert "  target  78.1 F" in shown
    assert "Not on record: wall, wall thickness\n" in shown
    assert "All cooling of the tank lost" in shown


def test_a_tanks_card_lists_the_work_on_its_devices_too(world: World) -> None:
    shown = card_text("REEF-1", {}, world.plan, world.fleet, world.catalogue, world.assessments)
    for key in ("8AA-B1CD", "9ZZ-0007", "1AA-0001"):
        assert key in shown, key


def test_the_catalogue_is_listed_and_each_task_of_it_told_whole(world: World) -> None:
    assert "descale-exchanger-inside" in rules_text(world.catalogue)
    shown = rule_text(world.catalogue.rule_by_id["descale-exchanger-inside"], world.catalogue)
    assert "white vinegar, 4 L" in shown
    assert "12 months / 48 months / 60 months" in shown
    assert "Acid turns bleach into chlorine gas." in shown


def test_why_tells_the_reasons_for_day_and_people_in_whole_sentences(world: World) -> None:
    task = world.plan.task_by_key["8AA-B1CD"]
    placement = Placement(
        date(2026, 5, 22),
        (
            "2 days before its due day, 24 May 2026",
            "all 3 tasks of the visit can be done from 20 May 2026 to 22 May 2026",
        ),
        ("Rowan Fells has the skill technician and is at work that day",),
        (
            Needed("fins", "Clean the fins", "CH-1", "comes first", "AAA-1111", "V-9", date(2026, 5, 21)),
            Needed("screen", "Clean the screen", "CH-1", "comes first", "BBB-2222", task.visit, date(2026, 5, 22)),
            Needed("ice", "Check at the ice point", None, "never recorded"),
        ),
    )
    rule = world.catalogue.rule_by_id[task.rule]
    shown = why_text(task, rule, (), world.fleet, world.plan, placement)
    assert "…" not in shown
    for words in (
        "That day: 2 days before its due day, 24 May 2026; all 3 tasks of the visit can be done from",
        "Who: Rowan Fells has the skill technician and is at work that day.",
        "waits for AAA-1111, planned Thu 21 May",
        "Check at the ice point; not on record and not planned",
    ):
        assert words in shown, words


def test_why_says_in_a_sentence_why_no_visit_holds_a_task(world: World) -> None:
    task = world.plan.task_by_key["0RV-55XY"]
    shown = why_text(task, world.catalogue.rule_by_id[task.rule], (), world.fleet, world.plan)
    assert "In no visit: the site is closed from 30 May to 5 June 2026" in shown


@pytest.mark.parametrize(
    ("changes", "who"),
    [
        ({}, "{ROE}"),
        ({"technician": None}, "nobody yet"),
        ({"persons": 2, "second_technician": "SAM"}, "{ROE} and {SAM}"),
        ({"persons": 2}, "{ROE}, second to be found"),
    ],
)
def test_the_visits_tell_who_comes_and_whether_somebody_is_lacking(world: World, changes: Any, who: str) -> None:
    visit = replace(world.plan.visits[0], **{"technician": "ROE", **changes})
    names = {code: world.fleet.technician_by_code[code].name for code in ("ROE", "SAM")}
    shown = visits_table(replace(world.plan, visits=(visit,)), world.fleet).splitlines()[1]
    assert f"  {who.format(**names)}  " in shown
