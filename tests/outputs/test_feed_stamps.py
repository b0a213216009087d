"""When the stamps of a calendar entry move: exactly when what its reader sees has changed (RFC 5545, 3.8.7)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import icalendar
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.outputs.calendar import Entry
from fleet.outputs.feed_stamps import PERSONAL, StampBook
from fleet.outputs.feeds import USUAL, FeedOptions, feed_files, feeds_of_plan, with_stamps
from fleet.values.feeds import FeedMemory, ItemStamp
from fleet.values.plan import Plan

World = Any
TODAY = date(2026, 5, 20)
NOW = datetime(2026, 5, 20, 12, tzinfo=UTC)
VISIT = "V2M-0A1B.visit@fleet.invalid"


class Exports:
    """Exports of one fleet, each remembering the ones before it."""

    def __init__(self, world: World) -> None:
        self.world, self.memory, self.now = world, FeedMemory(), NOW

    def __call__(self, plan: Plan | None = None, options: FeedOptions = USUAL, **changes: Any) -> dict[str, bytes]:
        fleet = replace(self.world.fleet, **changes)
        feeds = feeds_of_plan(
            plan or self.world.plan, fleet, self.world.catalogue, self.world.revisions, today=TODAY, options=options
        )
        stamped, news = with_stamps(feeds, self.memory, self.now)
        self.memory = FeedMemory({**self.memory.stamps, **news.stamps}, {**self.memory.titles, **news.titles})
        self.now += timedelta(hours=1)
        return dict(feed_files(stamped))


def event(feed: bytes, uid: str = VISIT) -> icalendar.Event:
    return next(found for found in icalendar.Calendar.from_ical(feed).events if str(found["UID"]) == uid)


def test_an_export_without_changes_gives_the_same_bytes_at_any_later_hour(world: World) -> None:
    export = Exports(world)
    assert export() == export()


def test_a_renamed_site_stamps_its_entries_anew_without_counting_a_revision(world: World) -> None:
    export = Exports(world)
    before = event(export()["site-HARBOUR.ics"])
    sites = tuple(replace(site, name="Quay clinic") if site.code == "HARBOUR" else site for site in world.fleet.sites)
    after = event(export(sites=sites)["site-HARBOUR.ics"])
    assert "Quay clinic" in after["SUMMARY"]
    assert after.decoded("LAST-MODIFIED") == after.decoded("DTSTAMP") == NOW + timedelta(hours=1)
    assert before.decoded("LAST-MODIFIED") < after.decoded("LAST-MODIFIED")
    assert (after["SEQUENCE"], after["CREATED"].dt) == (before["SEQUENCE"], before["CREATED"].dt)


def test_a_feed_keeps_the_name_that_calendars_know_it_by_rfc_7986_5_1(world: World) -> None:
    export = Exports(world)
    export()
    sites = tuple(replace(site, name="Quay clinic") for site in world.fleet.sites)
    calendar = icalendar.Calendar.from_ical(export(sites=sites)["site-HARBOUR.ics"])
    assert calendar["X-WR-CALNAME"] == calendar["NAME"] == "Tank upkeep: Harbour Street clinic"


def test_a_moved_visit_counts_a_revision_though_its_record_does_not_rfc_5546_2_1_4(world: World) -> None:
    export = Exports(world)
    before = event(export()["fleet.ics"])
    visit = world.plan.visits[0]
    later = replace(visit, start=visit.start + timedelta(days=1), end=visit.end + timedelta(days=1))
    feeds = export(replace(world.plan, visits=(later,)))
    assert event(feeds["fleet.ics"])["SEQUENCE"] == before["SEQUENCE"] + 1
    assert event(feeds["technician-ROE.ics"])["SEQUENCE"] == before["SEQUENCE"] + 1


def test_reminders_that_come_or_go_stamp_the_feed_of_the_technician_alone(world: World) -> None:
    export = Exports(world)
    silent = export()
    ringing = export(options=FeedOptions(alarm_minutes=60))
    silent_again = export()
    for name in silent:
        assert (silent[name] != ringing[name]) is (name == "technician-ROE.ics"), name
    stamps = [event(feeds["technician-ROE.ics"]).decoded("LAST-MODIFIED") for feeds in (silent, ringing, silent_again)]
    assert stamps == sorted(set(stamps))


def test_a_checklist_that_loses_an_item_is_stamped_anew(world: World) -> None:
    extra = world.make_task(
        "1AA-0009", world.catalogue.rule_by_id["check-temperature"], "REEF-1", due=date(2026, 5, 21)
    )
    export = Exports(world)
    longer = export(replace(world.plan, tasks=(*world.plan.tasks, extra)))["site-HARBOUR.ics"]
    uid = next(str(e["UID"]) for e in icalendar.Calendar.from_ical(longer).events if ".checklist@" in str(e["UID"]))
    shorter = export()["site-HARBOUR.ics"]
    assert event(longer, uid)["DESCRIPTION"] != event(shorter, uid)["DESCRIPTION"]
    assert event(longer, uid).decoded("LAST-MODIFIED") < event(shorter, uid).decoded("LAST-MODIFIED")


def test_no_stamp_lies_in_the_future_where_the_day_has_begun_east_of_greenwich(world: World) -> None:
    revisions = {key: replace(r, modified_at=NOW + timedelta(hours=9)) for key, r in world.revisions.items()}
    feeds = feeds_of_plan(world.plan, world.fleet, world.catalogue, revisions, today=TODAY)
    stamped, _ = with_stamps(feeds, FeedMemory(), NOW)
    assert event(dict(feed_files(stamped))["fleet.ics"]).decoded("LAST-MODIFIED") == NOW


START = datetime(2026, 5, 22, 13, tzinfo=UTC)
STATES = st.tuples(st.integers(0, 2), st.sampled_from("ab"), st.booleans(), st.booleans())


@settings(max_examples=80, deadline=None)
@given(
    history=st.lists(st.tuples(STATES, st.integers(-5, 5), st.integers(0, 3), st.booleans()), min_size=2, max_size=12)
)
def test_stamps_never_go_back_and_move_exactly_with_the_content(
    history: list[tuple[tuple[int, str, bool, bool], int, int, bool]],
) -> None:
    """Also where the clock stands still or is set back, and where the record tells too little."""
    known: dict[tuple[str, str], ItemStamp] = {}
    shown: dict[str, Entry] = {}
    now = NOW
    for (day, text, cancelled, rings), seconds, sequence, personal in history:
        now += timedelta(seconds=seconds)
        start = START + timedelta(days=day)
        entry = Entry(
            "a@b", start, start + timedelta(hours=1), text, text, "", ("Visit",), False, False, sequence, NOW, NOW,
            cancelled,
        )  # fmt: skip
        book = StampBook(known, now)
        variants = {"all": book.stamped(entry)}
        if personal:
            own = replace(entry, busy=True, alarm_minutes=30 if rings else None)
            variants[PERSONAL] = book.stamped(own, PERSONAL)
            assert variants[PERSONAL].sequence == variants["all"].sequence
        known |= book.news
        for audience, after in variants.items():
            before = shown.get(audience)
            if before is not None:
                same = replace(after, **{name: getattr(before, name) for name in ("sequence", "modified_at")}) == before
                ring_unheard = cancelled and before.cancelled
                if same and after.sequence == before.sequence:
                    assert after == before
                elif not ring_unheard:
                    assert after.modified_at > before.modified_at
                assert after.sequence >= before.sequence
                if (after.start, after.status) != (before.start, before.status):
                    assert after.sequence > before.sequence
            shown[audience] = after
