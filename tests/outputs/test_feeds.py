"""Which entries stand in whose calendar, and that they stay the same entries when plans change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import icalendar
import recurring_ical_events

from fleet.outputs.feeds import all_feeds
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Revision
from fleet.values.vocabulary import TaskState

World = Any
TODAY = date(2026, 5, 20)


def feeds_of(world: World, plan: Plan | None = None, fleet: Fleet | None = None) -> dict[str, bytes]:
    return all_feeds(plan or world.plan, fleet or world.fleet, world.catalogue, world.revisions, today=TODAY)


def events(feed: bytes) -> dict[str, icalendar.Event]:
    return {str(event["UID"]): event for event in icalendar.Calendar.from_ical(feed).walk("VEVENT")}


def test_one_feed_for_the_fleet_and_for_each_site_technician_and_client(world: World) -> None:
    assert list(feeds_of(world)) == [
        "fleet.ics",
        "site-HARBOUR.ics",
        "site-SOUTH.ics",
        "client-OAKLEY.ics",
        "client-TIDE.ics",
        "technician-ROE.ics",
        "technician-SAM.ics",
    ]


def test_a_visit_reads_back_at_its_instant(world: World) -> None:
    event = events(feeds_of(world)["fleet.ics"])["V2M-0A1B.visit@fleet.invalid"]
    assert event.decoded("DTSTART") == datetime(2026, 5, 22, 13, tzinfo=UTC)
    assert event.decoded("DTEND") == datetime(2026, 5, 22, 15, 13, tzinfo=UTC)
    for key in world.plan.visits[0].tasks:
        assert key in str(event["DESCRIPTION"])


def test_a_task_without_a_visit_is_an_all_day_entry_that_leaves_the_day_free(world: World) -> None:
    event = events(feeds_of(world)["site-HARBOUR.ics"])["0RV-55XY.task@fleet.invalid"]
    assert event.decoded("DTSTART") == date(2026, 6, 2)
    assert event.decoded("DTEND") == date(2026, 6, 3)
    assert event["TRANSP"] == "TRANSPARENT"
    assert "margin on the hot day 12 % → −4 %" in event["DESCRIPTION"]


def test_a_visit_of_two_is_in_the_feeds_of_both(world: World) -> None:
    visit = replace(world.plan.visits[0], technician="ROE", persons=2, second_technician="SAM")
    feeds = feeds_of(world, replace(world.plan, visits=(visit,)))
    for name in ("technician-ROE.ics", "technician-SAM.ics"):
        event = events(feeds[name])[f"{visit.key}.visit@fleet.invalid"]
        assert event["TRANSP"] == "OPAQUE"
        assert f"By {world.fleet.technician_by_code['ROE'].name} and " in event["DESCRIPTION"]


def test_a_visit_blocks_the_time_of_its_technician_alone(world: World) -> None:
    feeds = feeds_of(world)
    busy = {
        name: events(feed)["V2M-0A1B.visit@fleet.invalid"]["TRANSP"]
        for name, feed in feeds.items()
        if "V2M-0A1B.visit@fleet.invalid" in events(feed)
    }
    assert busy == {
        "fleet.ics": "TRANSPARENT",
        "site-HARBOUR.ics": "TRANSPARENT",
        "client-OAKLEY.ics": "TRANSPARENT",
        "technician-ROE.ics": "OPAQUE",
    }


def test_what_the_people_on_site_do_is_one_entry_a_week(world: World) -> None:
    checklists = [
        event for event in events(feeds_of(world)["site-HARBOUR.ics"]).values() if ".checklist@" in str(event["UID"])
    ]
    assert len(checklists) == 1
    assert checklists[0].decoded("DTSTART") == date(2026, 5, 18)
    assert checklists[0].decoded("DTEND") == date(2026, 5, 25)
    assert "1 item" in checklists[0]["SUMMARY"]
    assert not any(".checklist@" in uid for uid in events(feeds_of(world)["fleet.ics"]))


def test_late_work_of_the_people_on_site_is_listed_in_the_week_of_the_plan(world: World) -> None:
    tasks = tuple(replace(task, due=date(2026, 3, 2)) if task.key == "1AA-0001" else task for task in world.plan.tasks)
    entries = events(feeds_of(world, replace(world.plan, tasks=tasks))["site-HARBOUR.ics"])
    days = [event.decoded("DTSTART") for uid, event in entries.items() if ".checklist@" in uid]
    assert days == [date(2026, 5, 18)]


def test_access_notes_stand_in_no_feed_at_all(world: World) -> None:
    for feed in feeds_of(world).values():
        text = feed.replace(b"\r\n ", b"").decode()
        assert world.door_code not in text
        assert "7391" not in text
        assert "5512" not in text


def test_a_feed_of_one_client_or_site_names_no_other(world: World) -> None:
    feeds = {name: feed.replace(b"\r\n ", b"").decode() for name, feed in feeds_of(world).items()}
    for name in ("site-SOUTH.ics", "client-TIDE.ics"):
        for word in ("Oakley", "Harbour", "Lobby", "REEF-1"):
            assert word not in feeds[name]
    for name in ("site-HARBOUR.ics", "client-OAKLEY.ics"):
        for word in ("Tidewater", "South campus", "GOLD-1"):
            assert word not in feeds[name]


def test_the_same_plan_gives_the_same_bytes(world: World) -> None:
    assert feeds_of(world) == feeds_of(world)


def test_a_moved_visit_keeps_its_identifier(world: World) -> None:
    visit = world.plan.visits[0]
    later = replace(visit, start=visit.start + timedelta(days=7), end=visit.end + timedelta(days=7))
    before = events(feeds_of(world)["technician-ROE.ics"])
    after = events(feeds_of(world, replace(world.plan, visits=(later,)))["technician-ROE.ics"])
    assert before.keys() == after.keys()
    assert after["V2M-0A1B.visit@fleet.invalid"].decoded("DTSTART") == datetime(2026, 5, 29, 13, tzinfo=UTC)


def test_stamps_and_sequence_are_those_of_the_saved_revision_rfc_5545_3_8_7(world: World) -> None:
    event = events(feeds_of(world)["fleet.ics"])["V2M-0A1B.visit@fleet.invalid"]
    assert event.decoded("SEQUENCE") == 2
    assert event.decoded("CREATED") == datetime(2026, 5, 1, 8, tzinfo=UTC)
    assert event.decoded("LAST-MODIFIED") == event.decoded("DTSTAMP") == datetime(2026, 5, 19, 6, 30, tzinfo=UTC)


def test_a_checklist_is_stamped_anew_exactly_when_its_text_changes(world: World) -> None:
    def checklist(plan: Plan, revisions: dict[str, Revision]) -> icalendar.Event:
        feed = all_feeds(plan, world.fleet, world.catalogue, revisions, today=TODAY)["site-HARBOUR.ics"]
        return next(event for uid, event in events(feed).items() if ".checklist@" in uid)

    before = checklist(world.plan, world.revisions)
    changed_at = datetime(2026, 5, 20, 9, tzinfo=UTC)
    new = world.make_task("1AA-0009", world.catalogue.rule_by_id["check-temperature"], "REEF-1", due=date(2026, 5, 23))
    after = checklist(
        replace(world.plan, tasks=(*world.plan.tasks, new)),
        {**world.revisions, new.key: Revision(new.key, 0, changed_at, changed_at)},
    )
    assert before["UID"] == after["UID"]
    assert before["DESCRIPTION"] != after["DESCRIPTION"]
    assert after.decoded("LAST-MODIFIED") == changed_at > before.decoded("LAST-MODIFIED")


def test_done_and_withdrawn_work_is_in_no_calendar(world: World) -> None:
    for state in (TaskState.DONE, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE):
        tasks = tuple(replace(task, state=state) if task.key == "0RV-55XY" else task for task in world.plan.tasks)
        feed = feeds_of(world, replace(world.plan, tasks=tasks))["fleet.ics"]
        assert "0RV-55XY.task@fleet.invalid" not in events(feed)


def test_entries_outside_the_window_are_left_out(world: World) -> None:
    review = world.plan.task_by_key["0RV-55XY"]
    for days, shown in ((-31, False), (-30, True), (180, True), (181, False)):
        moved = replace(review, due=TODAY + timedelta(days=days))
        feed = feeds_of(world, replace(world.plan, tasks=(moved,), visits=()))["fleet.ics"]
        assert ("0RV-55XY.task@fleet.invalid" in events(feed)) is shown, days


def test_a_feed_beyond_a_thousand_entries_goes_on_in_parts_and_loses_none(world: World) -> None:
    review = world.plan.task_by_key["0RV-55XY"]
    many = tuple(replace(review, key=f"{number:03d}-0000") for number in range(1500))
    feeds = feeds_of(world, replace(world.plan, tasks=many, visits=()))
    parts = [events(feed) for name, feed in feeds.items() if name.startswith("fleet")]
    assert len(parts) > 1
    assert all(len(part) <= 1000 for part in parts)
    assert sum(len(part) for part in parts) == len({uid for part in parts for uid in part}) == 1500


def test_an_expanding_reader_sees_every_entry_once(world: World) -> None:
    calendar = icalendar.Calendar.from_ical(feeds_of(world)["site-HARBOUR.ics"])
    found = recurring_ical_events.of(calendar).between(TODAY - timedelta(days=30), TODAY + timedelta(days=181))
    assert len(found) == len(calendar.walk("VEVENT")) == 3


def test_a_visit_nobody_makes_yet_says_so(world: World) -> None:
    visit = replace(world.plan.visits[0], technician=None)
    event = events(feeds_of(world, replace(world.plan, visits=(visit,)))["fleet.ics"])["V2M-0A1B.visit@fleet.invalid"]
    assert event["STATUS"] == "TENTATIVE"
    assert "no technician yet" in event["SUMMARY"]


def test_a_visit_is_stamped_anew_when_one_of_its_tasks_is_revised(world: World) -> None:
    def visit(revisions: dict[str, Revision]) -> icalendar.Event:
        feed = all_feeds(world.plan, world.fleet, world.catalogue, revisions, today=TODAY)["technician-ROE.ics"]
        return events(feed)["V2M-0A1B.visit@fleet.invalid"]

    revised_at = datetime(2026, 5, 20, 9, tzinfo=UTC)
    revised = replace(world.revisions["9ZZ-0007"], modified_at=revised_at)
    before, after = visit(world.revisions), visit({**world.revisions, "9ZZ-0007": revised})
    assert before.decoded("LAST-MODIFIED") < revised_at
    assert after.decoded("LAST-MODIFIED") == after.decoded("DTSTAMP") == revised_at
    assert before.decoded("SEQUENCE") == after.decoded("SEQUENCE")
