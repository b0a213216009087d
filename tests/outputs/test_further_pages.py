"""The fleet today, reports, device cards and hand-over sheets: what their readers must find, and must never find."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.outputs.discretion import DiscreetLookup
from fleet.outputs.html import all_sheets, environment
from fleet.outputs.report_view import ReportMaker
from fleet.values.fleet import snapshot
from fleet.values.places import Places
from fleet.values.register import (
    Client,
    Closure,
    Contact,
    Duty,
    Event,
    Placement,
    Reading,
    ServiceRecord,
    Site,
    Technician,
)
from fleet.values.spread import Spread
from fleet.values.vocabulary import (
    ContactRole,
    EventKind,
    Finding,
    MarginState,
    ReadingQuantity,
    Role,
    Skill,
    TaskState,
    Tolerance,
    Where,
)

World = Any
CLOSED = Closure("HARBOUR", date(2026, 6, 1), date(2026, 6, 8), "holidays")
HOSTILE = "<script>alert(1)</script> {{7*7}} =cmd() \"' \N{RIGHT-TO-LEFT OVERRIDE}\x07"


def pages_of(world: World, facts: Any, rows: Any = None, **changes: Any) -> dict[str, str]:
    """Every page; with `rows` those of another register."""
    if rows is not None:
        facts = replace(facts, rows=rows, places=Places(rows))
    fleet = world.fleet if rows is None else snapshot(rows, world.today)
    return all_sheets(
        changes.get("plan", world.plan), fleet, world.catalogue, changes.get("assessments", world.assessments),
        today=world.today, facts=facts,
    )  # fmt: skip


def new_pages(pages: dict[str, str]) -> dict[str, str]:
    wanted = ("today", "report", "device", "handover")
    return {name: page for name, page in pages.items() if name.startswith(wanted)}


def test_each_site_client_device_and_closure_has_its_page(world, facts, rows):
    pages = pages_of(world, facts, replace(rows, closures=(CLOSED,)))
    assert sorted(new_pages(pages)) == [
        "device-CH-1.html", "device-FAN-1.html", "handover-HARBOUR-2026-06-01.html", "report-client-OAKLEY.html",
        "report-client-TIDE.html", "report-site-HARBOUR.html", "report-site-SOUTH.html", "today.html",
    ]  # fmt: skip


def test_without_their_facts_the_other_pages_are_as_they_were(world, facts):
    bare = all_sheets(world.plan, world.fleet, world.catalogue, world.assessments, today=world.today)
    assert not new_pages(bare)
    full = pages_of(world, facts)
    assert {name: full[name] for name in bare if name != "index.html"} == {
        name: page for name, page in bare.items() if name != "index.html"
    }


def test_the_index_leads_to_all_of_them_and_every_link_leads_somewhere(world, facts, rows, read):
    pages = pages_of(world, facts, replace(rows, closures=(CLOSED,)))
    assert set(new_pages(pages)) <= set(read(pages["index.html"]).links)
    for name, page in pages.items():
        assert set(read(page).links) <= set(pages), name


def test_pages_are_whole_need_no_script_and_skip_no_heading(world, facts, rows, read):
    for name, page in new_pages(pages_of(world, facts, replace(rows, closures=(CLOSED,)))).items():
        found = read(page)
        assert not found.tags & {"script", "iframe", "link", "img", "object", "form"}, name
        assert "http" not in page.replace("http-equiv", ""), name
        assert found.headings[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(found.headings)), name


def test_the_same_input_gives_the_same_bytes(world, facts):
    assert pages_of(world, facts) == pages_of(world, facts)


def test_texts_of_the_register_stay_text_on_every_page(world, facts, rows, read):
    hostile = replace(
        rows,
        sites=tuple(replace(row, name=HOSTILE, address=HOSTILE) for row in rows.sites),
        clients=tuple(replace(row, name=HOSTILE) for row in rows.clients),
        tanks=tuple(replace(row, name=HOSTILE) for row in rows.tanks),
        devices=tuple(replace(row, name=HOSTILE, plate=HOSTILE, notes=HOSTILE) for row in rows.devices),
        history=tuple(replace(row, note=HOSTILE, by=HOSTILE, finding=Finding.FAULT) for row in rows.history),
        events=(Event("REEF-1", EventKind.OTHER, world.today, note=HOSTILE),),
        closures=(replace(CLOSED, reason=HOSTILE),),
    )
    for name, page in new_pages(pages_of(world, facts, hostile)).items():
        found = read(page)
        assert "script" not in found.tags, name
        assert "49" not in found.text.replace("149", "").split(), name
        assert "<script>alert(1)</script>" in found.text, name


# The fleet today.


def late(world: World, key: str, tolerance: Tolerance, due: date) -> Any:
    task = world.plan.task_by_key["8AA-B1CD"]
    return replace(task, key=key, title=f"Task {key}", tolerance=tolerance, due=due, state=TaskState.LATE, visit=None)


def test_what_endangers_people_is_told_first_however_late_the_rest_is(world, facts, read):
    plan = replace(
        world.plan,
        tasks=(
            late(world, "ECONOMY", Tolerance.C, date(2024, 1, 1)),
            late(world, "ANIMALS", Tolerance.A, date(2025, 1, 1)),
            late(world, "PEOPLE", Tolerance.A0, date(2026, 5, 19)),
        ),
        visits=(),
    )
    text = read(pages_of(world, facts, plan=plan)["today.html"]).text
    places = [text.index(f"Task {key}") for key in ("PEOPLE", "ANIMALS", "ECONOMY")]
    assert places == sorted(places)
    assert "3 tasks are late, 1 of them for the safety of people: 6 h of work." in text
    assert "1 day ago" in text


def test_today_tells_backlog_visits_and_the_first_to_fail(world, facts, read):
    text = read(pages_of(world, facts)["today.html"]).text
    for words in (
        "1 task is late: 2 h of work.",
        "No visit today, 1 in the six days after.",
        "1 tank has too little to spare on a hot day, Lobby reef (REEF-1) the least.",
        "Without air conditioning Lobby reef (REEF-1) would be the first at its limit, within 9.0 h.",
        "On the checklists of the people on site 2 items are due by today, at 2 sites.",
        "Late work amounts to 2 h.",
        # Both units on a limit, the client's first.
        "85.1 °F (29.5 °C)",
    ):
        assert words in text, words


def test_two_weeks_without_a_visitor_are_told(world, facts, read):
    """By hand: two weeks end on 3 June. Three tasks are due before that, two of them (screen and GFCI test) have their
    last day on 1 June; the GFCI test is for the safety of people."""
    text = read(pages_of(world, facts)["today.html"]).text
    assert (
        "If nobody came until 3 Jun 2026, 3 more tasks would become late and 2 would pass their last day, 1 of them "
        "for the safety of people or animals." in text
    )


def test_tanks_that_fall_first_stand_first(world, facts, read):
    soon = replace(world.assessments[2], tank="GOLD-1", hours=replace(
        world.assessments[2].hours, ac_lost=world.assessments[2].hours.ac_and_cooling_lost))  # fmt: skip
    text = read(pages_of(world, facts, assessments=(soon, world.assessments[2]))["today.html"]).text
    order = text[text.index("When the air conditioning of its room fails") :]
    assert order.index("Goldfish") < order.index("Lobby reef")
    assert order.index("3.4 h") < order.index("9.0 h")


def test_a_fleet_without_anything_has_its_day_too(world, facts):
    empty = type(facts.rows)()
    plan = replace(world.plan, tasks=(), visits=(), unplaced=(), not_on_record={})
    bare = replace(facts, courses={}, forecasts={}, margin_steps=())
    pages = new_pages(pages_of(world, bare, empty, plan=plan, assessments=()))
    assert list(pages) == ["today.html"]
    assert "Nothing is late." in pages["today.html"]


# Reports.


def test_a_report_tells_what_was_done_found_measured_changed_and_comes_next(world, facts, read):
    text = read(pages_of(world, facts)["report-site-HARBOUR.html"]).text
    for words in (
        "Report for 20 May 2025 to 20 May 2026.",
        "2 pieces of work on 2 days, 27 min in all.",
        "1 finding other than sound.",
        "28 Apr 2026 Clean the intake screen Lobby chiller (CH-1) degraded much lint not looked at again",
        "water temperature 1 time 79.0 °F",
        "lights 250 W → lights 310 W 12 % (30 % likely), thin −4 % (10 % likely), short",
        "Fri 22 May 2026 3 tasks, 2 h 13 min",
        "the refrigerating circuit between 2027 and 2032 12 %",
        "Descale the exchanger, Lobby chiller (CH-1): was due Sat 10 Jan 2026",
    ):
        assert words in text, words


def test_the_next_look_at_a_finding_is_told(world, facts, rows, read):
    later = ServiceRecord("CH-1", "clean-intake-screen", date(2026, 5, 12), "ROE", Finding.SOUND, 10)
    text = read(pages_of(world, facts, replace(rows, history=(*rows.history, later)))["report-site-HARBOUR.html"]).text
    assert "degraded much lint sound on 12 May 2026" in text


@pytest.mark.parametrize(("shift", "shown"), [(-1, False), (0, True)])
def test_only_the_days_of_the_period_are_told_both_ends_inside(world, facts, rows, read, shift, shown):
    done = ServiceRecord("CH-1", "clean-intake-screen", facts.first_day + timedelta(days=shift), "ROE", Finding.FAULT)
    text = read(pages_of(world, facts, replace(rows, history=(done,)))["report-site-HARBOUR.html"]).text
    assert ("fault" in text) is shown


def test_work_counts_for_the_site_where_the_device_stood_that_day(world, facts, rows, read):
    """A spare that moved from one client to another brings nothing of the first to the second."""
    moved = replace(
        rows,
        placements=(
            Placement("CH-1", Where.IN_STAND, date(2025, 1, 1), stand_of="REEF-1", until=date(2026, 4, 1)),
            Placement("CH-1", Where.BESIDE_TANK, date(2026, 4, 1), room="LAB"),
        ),
        duties=(Duty("CH-1", "REEF-1", date(2025, 1, 1), Role.DUTY, until=date(2026, 4, 1)),
                Duty("CH-1", "GOLD-1", date(2026, 4, 1), Role.DUTY)),
    )  # fmt: skip
    pages = pages_of(world, facts, moved)
    first, second = (read(pages[f"report-site-{site}.html"]).text for site in ("HARBOUR", "SOUTH"))
    assert "31 Mar 2026" in first
    assert "28 Apr 2026" not in first
    assert "28 Apr 2026" in second
    assert "31 Mar 2026" not in second


def test_a_clients_report_leads_nowhere_and_the_services_own_leads_on(world, facts, read):
    pages = pages_of(world, facts)
    assert read(pages["report-client-OAKLEY.html"]).links == []
    assert "index.html" in read(pages["report-site-HARBOUR.html"]).links


def test_readings_outside_the_watch_band_are_pointed_out(world, facts, rows, read):
    hot = tuple(Reading("REEF-1", ReadingQuantity.WATER_TEMP, value, datetime(2026, 5, day, 14, tzinfo=UTC))
                for day, value in ((1, 26.0), (8, 28.5), (15, 29.0)))  # fmt: skip
    found = read(pages_of(world, facts, replace(rows, readings=hot))["report-site-HARBOUR.html"])
    assert all(after <= before + 1 for before, after in pairwise(found.headings))
    text = found.text
    assert "3 times 78.8 °F to 84.2 °F; 2 times outside the watch band" in text
    assert "Water temperature of Lobby reef (REEF-1)" in text


def test_only_water_that_moves_is_drawn(world, facts, read):
    level = tuple(replace(row, safe_c=(25.6,) * 49, likely_c=(25.55,) * 49) for row in facts.courses["REEF-1"])
    drawn, told = (
        read(pages_of(world, replace(facts, courses={"REEF-1": courses}))["report-site-HARBOUR.html"]).text
        for courses in (facts.courses["REEF-1"], level)
    )
    assert "Water of Lobby reef (REEF-1) from midnight to midnight" in drawn
    assert "Held level" not in drawn
    assert "from midnight to midnight Lines" not in told
    assert "Held level on both days: Lobby reef (REEF-1)." in told


SECRET = st.text(alphabet="abcdefghijklmnopqrstuvwxyz", min_size=3, max_size=9).map(lambda text: f"Zqx{text}")
"""Words that no page has of its own."""
NUMBER = st.text(alphabet="0123456789", min_size=7, max_size=11)
SHAPES = ("{}", "ask at {}, then go in", "({})", "see {}.", "{}!\n", "Key {}; back door")


def clients_report(world: World, facts: Any, rows: Any, client: str = "OAKLEY") -> str:
    """The client's copy alone, as all_sheets makes it."""
    facts = replace(facts, rows=rows, places=Places(rows))
    lookup = DiscreetLookup(snapshot(rows, world.today), world.catalogue, client)
    maker = ReportMaker(world.plan, lookup, world.assessments, facts, {})
    return environment().get_template("report.html").render(page=maker.of_client(client), written="today")


def with_text(where: str, text: str, day: date, rows: Any, facts: Any) -> tuple[Any, Any]:
    """The register and the facts with a text that somebody typed in one place or another."""
    if where == "note":
        record = ServiceRecord("CH-1", "clean-intake-screen", day, "ROE", Finding.DEGRADED, 5, text)
        return replace(rows, history=(*rows.history, record)), facts
    if where == "by":
        return replace(rows, history=(ServiceRecord("CH-1", "clean-intake-screen", day, text),)), facts
    if where == "event":
        return replace(rows, events=(Event("REEF-1", EventKind.LEAK, day, note=text),)), facts
    if where == "closure":
        return replace(rows, closures=(replace(CLOSED, reason=text),)), facts
    if where == "device":
        return replace(rows, devices=tuple(replace(row, name=text) for row in rows.devices)), facts
    if where == "equipment":
        return replace(rows, equipment=tuple(replace(row, name=text) for row in rows.equipment)), facts
    assert where == "change"
    return rows, replace(facts, margin_steps=(replace(facts.margin_steps[0], what=text),))


def test_the_clients_copy_is_the_one_among_the_pages(world, facts, rows):
    page = pages_of(world, facts)["report-client-OAKLEY.html"]
    assert clients_report(world, facts, rows).replace("today.", "Wednesday 20 May 2026.")[-60:] == page[-60:]


@pytest.mark.parametrize("where", ["note", "by", "event", "closure", "device", "equipment", "change"])
def test_a_clients_report_never_tells_of_others_of_ways_in_or_of_staff(world, facts, rows, where):
    @given(
        other=SECRET, other_site=SECRET, person=SECRET, words=SECRET, door=NUMBER, phone=NUMBER,
        shape=st.sampled_from(SHAPES), day=st.dates(date(2026, 4, 1), date(2026, 5, 1)),
    )  # fmt: skip
    @settings(deadline=None, max_examples=12)
    def check(other, other_site, person, words, door, phone, shape, day):
        register = replace(
            rows,
            clients=(*rows.clients, Client("OTHER", other, phone="+1 " + phone)),
            sites=(
                replace(rows.sites[0], access_notes=f"{words} with code {door}"),
                rows.sites[1],
                Site("ELSEWHERE", "OTHER", other_site, "UTC"),
            ),
            contacts=(*rows.contacts, Contact("HARBOUR", ContactRole.ON_CALL, "Somebody", phone, 3)),
            technicians=(*rows.technicians, Technician("PER", "Per", (Skill.KEEPER,), email=f"{person}@example.org")),
        )
        # Access notes are kept back as a whole and by their codes; a single common word of theirs may stand elsewhere.
        for secret in (other, other_site, phone, door, f"{person}@example.org", f"{words} with code {door}"):
            page = clients_report(world, *reversed(with_text(where, shape.format(secret), day, register, facts)))
            assert secret not in page, secret

    check()


def test_a_note_without_secrets_is_told_to_the_client(world, facts, read):
    assert "much lint" in read(pages_of(world, facts)["report-client-OAKLEY.html"]).text


def test_a_clients_report_names_nobody_of_the_other_client(world, facts):
    page = pages_of(world, facts)["report-client-TIDE.html"]
    for word in ("Oakley", "Harbour", "Lobby", "REEF-1", "CH-1", "+1 555", world.door_code, "5512", "roe@example.org"):
        assert word not in page, word


# Device cards.


def test_a_device_card_tells_plate_place_duty_state_forecast_and_history(world, facts, read):
    text = read(pages_of(world, facts)["device-CH-1.html"]).text
    for words in (
        "In stand, Lobby, Harbour Street clinic",
        "1/4 hp, 75 gal",
        "Rated motor 186.4 W",
        "Installed 1 Apr 2021",
        "In stand of Lobby reef (REEF-1), Harbour Street clinic, 2 in clear at the exhaust 1 Jun 2025 today",
        "Lobby reef (REEF-1), duty 1 Apr 2021 today",
        "403 W likely, 300 W to 600 W; duty",
        "50 % of the clean unit's, on the safe side",
        "It is likely to need replacing between 2027 and 2032, as likely as not by 2029.",
        "Within the next twelve months the chance is 12 %. A spare or a replacement belongs at hand",
        "Half of its kind last 8.2 years where it stands; the refrigerating circuit decides.",
        "In a closed stand, life × 0.75.",
        "28 Apr 2026 Clean the intake screen degraded 15 min Robin Roe much lint",
        # An unknown refrigerant counts as flammable.
        "counts as flammable",
        "10 Jan 2026 past limit Descale the exchanger",
    ):
        assert words in text, words


def test_places_of_the_past_stand_on_the_card_latest_first(world, facts, rows, read):
    before = Placement("CH-1", Where.BESIDE_TANK, date(2021, 4, 1), room="LOBBY", until=date(2025, 6, 1))
    text = read(pages_of(world, facts, replace(rows, placements=(before, *rows.placements)))["device-CH-1.html"]).text
    assert "Beside tank, Lobby, Harbour Street clinic 1 Apr 2021 1 Jun 2025" in text
    assert text.index("In stand of Lobby reef") < text.index("Beside tank, Lobby, Harbour")


def test_a_device_that_stands_nowhere_says_so_and_has_no_forecast(world, facts, rows, read):
    gone = replace(rows, placements=(), duties=())
    text = read(pages_of(world, replace(facts, forecasts={}), gone, assessments=())["device-CH-1.html"]).text
    assert "It stands nowhere on record today" in text
    assert "No forecast" in text


def test_air_rise_is_held_against_the_first_reading(world, facts, rows, read):
    """Exhaust less intake on the same day; 3 K over the clean unit asks for clean fins (common practice)."""
    readings = tuple(
        Reading("CH-1", quantity, value, datetime(2026, month, 1, 15, tzinfo=UTC))
        for month, intake, exhaust in ((1, 24.0, 32.0), (3, 25.0, 34.0), (5, 25.0, 37.0))
        for quantity, value in ((ReadingQuantity.INTAKE_AIR_TEMP, intake), (ReadingQuantity.EXHAUST_AIR_TEMP, exhaust))
    )
    text = read(pages_of(world, facts, replace(rows, readings=readings))["device-CH-1.html"]).text
    # In the client's degrees Fahrenheit: 8, 9 and 12 K are 14.4, 16.2 and 21.6 °F, and the limit 11 K is 19.8 °F.
    assert "3 readings, 14.4 °F to 21.6 °F; the last 21.6 °F on 1 May 2026; baseline 14.4 °F" in text
    assert "cleaning is due above 19.8 °F" in text


# Hand-over sheets.


def hand_over(world: World, facts: Any, rows: Any, read: Callable[[str], Any], closure: Closure = CLOSED) -> str:
    pages = pages_of(world, facts, replace(rows, closures=(closure,)))
    name = f"handover-{closure.site}-{closure.since.isoformat()}.html"
    return read(pages[name]).text


def test_a_hand_over_tells_tanks_limits_hours_checks_and_people(world, facts, rows, read):
    text = hand_over(world, facts, rows, read)
    for words in (
        "Closed Mon 1 Jun 2026 to Sun 7 Jun 2026, 7 days (holidays)",
        # Set point and limits in both units, the client's first.
        "78.1 °F (25.6 °C)",
        "below 71.6 °F (22.0 °C) or above 85.1 °F (29.5 °C)",
        "79.0 °F on 18 May 2026; short on a hot day",
        "5.2 h 9.0 h",
        "Pat Marlowe +1 555 0101",
        "Read the temperature, every day",
        "Do not open a case",
        "Do not switch off the air conditioning",
        "oxygen may fail long before",
        "Descale the exchanger Lobby chiller (CH-1) 8AA-B1CD",
        "Follow the maker's plate",
        "Estimates for planning",
        "Sun 7 Jun",
    ):
        assert words in text, words


def test_the_way_in_is_not_on_the_hand_over(world, facts, rows, read):
    assert world.door_code not in hand_over(world, facts, rows, read)


def test_a_school_keeps_pupils_away_and_a_sick_tank_is_last(world, facts, rows, read):
    sick = replace(rows, tanks=tuple(replace(row, health="sick") for row in rows.tanks))
    text = hand_over(world, facts, sick, read, replace(CLOSED, site="SOUTH"))
    assert "No pupil is at the tanks without an adult." in text
    assert "the sick and quarantined come last" in text
    assert "Lobby reef" not in text


@pytest.mark.parametrize(
    ("since", "until", "made"),
    [
        (date(2026, 6, 1), date(2026, 6, 4), True),
        (date(2026, 6, 1), date(2026, 6, 3), False),
        (date(2026, 5, 10), date(2026, 5, 21), True),
        (date(2026, 5, 10), date(2026, 5, 20), False),
        (date(2026, 11, 16), date(2026, 11, 30), True),
        (date(2026, 11, 17), date(2026, 11, 30), False),
        (date(2026, 6, 1), None, False),
    ],
)
def test_closures_of_three_days_and_more_that_are_not_past_are_handed_over(world, facts, rows, since, until, made):
    """Three days: common practice. The plan of the test looks ahead to 16 November."""
    pages = pages_of(world, facts, replace(rows, closures=(replace(CLOSED, since=since, until=until),)))
    assert any(name.startswith("handover") for name in pages) is made


def test_work_inside_the_closure_and_in_the_fortnight_before_are_told_apart(world, facts, rows, read):
    text = hand_over(world, facts, rows, read)
    inside = text[text.index("Falls into these days") : text.index("What not to do")]
    before = text[text.index("Before the closure") :]
    assert "Review the heat load" in inside
    assert "Clean the intake screen" in before
    assert "Review the heat load" not in before


def test_a_margin_that_nobody_knows_is_no_error(world, facts):
    unknown = tuple(replace(row, margin=None, available_w=None, state=MarginState.UNKNOWN) for row in world.assessments)
    endless = tuple(replace(row, margin=Spread(0.2, float("inf"), float("inf"))) for row in world.assessments)
    for assessments in (unknown, endless, ()):
        assert new_pages(pages_of(world, facts, assessments=assessments))
