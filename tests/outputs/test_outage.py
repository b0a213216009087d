"""Outage lists: what a person reads at night, what a machine reads, and the page by the telephone."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleet.outputs.html import all_sheets
from fleet.outputs.lookup import Lookup
from fleet.outputs.outage_records import outage_records, ranked_records
from fleet.outputs.outage_text import outage_text, ranking_text
from fleet.outputs.outage_view import outage_list
from fleet.outputs.records import dumps
from fleet.values.assessment import HoursToLimit
from fleet.values.outage import Failure, Outage, OutageRow, RankedFailure, SpareGives
from fleet.values.register import Contact, Equipment
from fleet.values.spread import Spread
from fleet.values.vocabulary import ContactRole, EquipmentKind, Reaches

World = Any
NEVER = HoursToLimit(None, None, None, Reaches.NO)


@pytest.fixture
def tank(world: World) -> Any:
    return world.fleet.tanks[0]


@pytest.fixture
def row(world: World, tank: Any) -> OutageRow:
    site = world.fleet.site_of(tank.code)
    zone = ZoneInfo(world.fleet.site_by_code[site].time_zone)
    begins = datetime(2026, 5, 20, 20, tzinfo=zone)
    return OutageRow(
        tank=tank.code,
        site=site,
        room=tank.room,
        hours=HoursToLimit(3.5, 5.0, None, Reaches.YES),
        begins_at=begins,
        limit_at=begins + timedelta(hours=3.5),
        peak_c=31.5,
        limit_c=29.5,
        falls=False,
        n_minus_1_after=-1.0,
        spare=None,
    )


def shown(world: World, failure: Failure, *rows: OutageRow, **more: Any) -> str:
    return outage_text(Outage(failure, rows, **more), world.fleet, world.catalogue)


def test_the_first_column_is_the_time_that_is_left_and_the_last_what_to_do(world: World, row: OutageRow) -> None:
    lines = shown(world, Failure(ac_off=(row.room,)), row).splitlines()
    place = next(i for i, line in enumerate(lines) if "do first" in line)
    heading, first = lines[place : place + 2]
    assert heading.split()[:2] == ["within", "tank"]
    assert first.split()[:2] == ["3.5", "h"]
    assert row.tank in first


def test_the_moment_names_its_day_once_it_is_another(world: World, row: OutageRow) -> None:
    later = replace(row, limit_at=row.begins_at + timedelta(hours=7))
    failure = Failure(ac_off=(row.room,))
    at_eight = replace(failure, at=row.begins_at.time())
    assert "23:30 if from 20:00" in shown(world, failure, row)
    assert "03:00 +1 day if from 20:00" in shown(world, failure, later)
    assert "Thu 21, 03:00" in shown(world, at_eight, later)
    assert "Begun at 20:00 on the clock of the site" in shown(world, at_eight, row)


def test_air_comes_before_temperature_when_the_power_is_out(world: World, row: OutageRow) -> None:
    failure = Failure(power_out=(row.site,))
    text = shown(world, failure, row)
    assert text.index("oxygen") < text.index("do first")
    assert "air: none on record" in text
    pump = Equipment("AP-1", EquipmentKind.AIR_PUMP, "Battery air", tank=row.tank)
    generator = Equipment("GEN", EquipmentKind.GENERATOR, "Yard generator", site=row.site)
    supplied = replace(world, fleet=replace(world.fleet, equipment=(*world.fleet.equipment, pump, generator)))
    text = shown(supplied, failure, row)
    assert "air: AP-1" in text
    assert "Yard generator (GEN)" in text
    assert "outdoors only" in text


def test_water_that_stops_while_the_compressor_runs_is_told_of_the_ice_first(world: World, row: OutageRow) -> None:
    device = world.fleet.duties_by_tank[row.tank][0].device
    text = shown(world, Failure(flow_lost=(device,)), row)
    assert text.index("freeze") < text.index("do first")
    assert "compressor off" in text


def test_a_spare_is_told_with_what_it_gives(world: World, row: OutageRow) -> None:
    capacity = Spread(300.0, 330.0, 350.0)
    failure = Failure(ac_off=(row.room,))
    holds = replace(row, spare=SpareGives("SP-1", None, capacity, NEVER))
    gives = replace(row, spare=SpareGives("SP-1", None, capacity, HoursToLimit(9.0, None, None, Reaches.YES)))
    thought_of = replace(row, spare=SpareGives(None, 400.0, capacity, NEVER))
    assert "bring SP-1: holds" in shown(world, failure, holds)
    assert "bring SP-1: gives 9.0 h" in shown(world, failure, gives)
    assert "a unit of" in shown(world, failure, thought_of)
    assert "never run on record" in shown(world, failure, row, spares_left_out=(("SP-2", "never run on record"),))


def test_what_is_not_known_is_marked_and_explained(world: World, row: OutageRow) -> None:
    doubtful = replace(row, hours=HoursToLimit(3.5, None, None, Reaches.UNKNOWN))
    text = shown(world, Failure(ac_off=(row.room,)), doubtful)
    assert "3.5 h?" in text
    assert "counted as nothing" in text


def test_people_concerned_are_called_first(world: World, row: OutageRow) -> None:
    roles = (ContactRole.CLIENT, ContactRole.REFRIGERATION, ContactRole.POWER_COMPANY, ContactRole.ON_CALL)
    people = tuple(Contact(row.site, role, f"who is {role}", "0") for role in roles)
    lookup = Lookup(replace(world.fleet, contacts=people), world.catalogue)

    def called(failure: Failure) -> list[str]:
        ((_site, contacts),) = outage_list(Outage(failure, (row,)), lookup).calls
        return [contact.name.removeprefix("who is ") for contact in contacts]

    assert called(Failure(power_out=(row.site,))) == ["on-call", "power-company", "client", "refrigeration"]
    assert called(Failure(lost=("X",))) == ["on-call", "refrigeration", "client", "power-company"]


def test_a_failure_that_concerns_nobody_says_so(world: World) -> None:
    text = shown(world, Failure(lost=("NOTHING",)))
    assert "No tank is concerned." in text
    assert "do first" not in text


def test_a_typed_name_cannot_command_the_terminal(world: World, row: OutageRow) -> None:
    bad = "\x1b[2Jgone\r\nnext"
    fleet = replace(
        world.fleet,
        tanks=tuple(replace(tank, name=bad) for tank in world.fleet.tanks),
        sites=tuple(replace(site, name=bad) for site in world.fleet.sites),
        rooms=tuple(replace(room, name=bad) for room in world.fleet.rooms),
        contacts=tuple(replace(contact, name=bad) for contact in world.fleet.contacts),
    )
    marked = replace(row, notes=(bad,))
    for failure in (Failure(ac_off=(row.room,)), Failure(power_out=(row.site,))):
        text = outage_text(Outage(failure, (marked,)), fleet, world.catalogue)
        assert "\x1b" not in text
        assert "\r" not in text
    ranked = (RankedFailure("room-ac", Failure(ac_off=(row.room,)), None, (marked,), 1),)
    assert "\x1b" not in ranking_text(ranked, row.site, fleet, world.catalogue)


def test_the_record_holds_the_agreed_keys_and_the_offset_of_the_site(world: World, row: OutageRow) -> None:
    (record,) = json.loads(dumps(outage_records(Outage(Failure(ac_off=(row.room,)), (row,)))))
    assert list(record) == [
        "tank", "site", "room", "hours", "reaches_limit", "limit_at", "peak_c", "limit_c", "n_minus_1_after", "spare",
    ]  # fmt: skip
    assert record["hours"] == {"low": 3.5, "mid": 5.0, "high": None}
    assert datetime.fromisoformat(record["limit_at"]) == row.limit_at
    assert datetime.fromisoformat(record["limit_at"]).utcoffset() == row.limit_at.utcoffset()
    endless = replace(row, n_minus_1_after=float("inf"), hours=NEVER, limit_at=None)
    (record,) = json.loads(dumps(outage_records(Outage(Failure(ac_off=(row.room,)), (endless,)))))
    assert (record["n_minus_1_after"], record["limit_at"], record["reaches_limit"]) == (None, None, "no")


def test_the_ranking_says_what_fails_and_whom_it_hits_first(world: World, row: OutageRow) -> None:
    device = world.fleet.devices[0].code
    ranked = (
        RankedFailure("device", Failure(lost=(device,)), None, (row,), 1),
        RankedFailure("power", Failure(power_out=(row.site,)), None, (replace(row, hours=NEVER, limit_at=None),), 0),
    )
    text = ranking_text(ranked, row.site, world.fleet, world.catalogue)
    assert text.index(device) < text.index("the power")
    (first, second) = ranked_records(ranked)
    assert (first["kind"], first["tank"], first["tanks_within_24_h"]) == ("device", row.tank, 1)
    assert second["hours"]["reaches_limit"] == "no"
    assert "Nothing on record" in ranking_text((), row.site, world.fleet, world.catalogue)


def test_a_page_for_each_site_that_the_index_leads_to(world: World, row: OutageRow) -> None:
    outages = {row.site: (Outage(Failure(power_out=(row.site,)), (row,)), Outage(Failure(ac_off=(row.site,)), (row,)))}
    options = {"today": world.today, "outages": outages}
    pages = all_sheets(world.plan, world.fleet, world.catalogue, world.assessments, **options)
    name = f"outage-{row.site}.html"
    assert f'href="{name}"' in pages["index.html"]
    assert f'href="tank-{row.tank}.html"' in pages[name]
    assert pages[name].index("oxygen") < pages[name].index("Do first")
    assert pages[name] == all_sheets(world.plan, world.fleet, world.catalogue, world.assessments, **options)[name]
    without = all_sheets(world.plan, world.fleet, world.catalogue, world.assessments, today=world.today)
    assert not [page for page in without if page.startswith("outage-")]
    assert "Outage list" not in without["index.html"]


def test_what_somebody_typed_is_escaped_on_the_page(world: World, row: OutageRow) -> None:
    fleet = replace(world.fleet, tanks=tuple(replace(tank, name="<b>x</b>") for tank in world.fleet.tanks))
    outages = {row.site: (Outage(Failure(power_out=(row.site,)), (row,)),)}
    pages = all_sheets(world.plan, fleet, world.catalogue, (), today=world.today, outages=outages)
    assert "<b>x</b>" not in pages[f"outage-{row.site}.html"]
