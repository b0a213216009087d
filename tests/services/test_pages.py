"""The period of reports, and the margins before and after changes that they tell of."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.db.repository import MarginCheck
from fleet.errors import BadInput
from fleet.services.outlook import Outlook
from fleet.services.pages import margin_steps, report_period
from fleet.thermal.assess import assess
from fleet.values.assessment import MarginChange
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import snapshot
from fleet.values.plan import Plan
from fleet.values.register import Client, Device, Duty, Load, Placement, RegisterRows, Room, Site, Tank
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind, LoadKind, MarginState, Scenario, TankKind, Where

TODAY = date(2026, 5, 20)
CHANGED = date(2026, 3, 2)
YEAR = (TODAY - timedelta(days=365), TODAY)


@pytest.mark.parametrize(
    ("first", "last", "period"),
    [
        (None, None, YEAR),
        (date(2026, 1, 1), None, (date(2026, 1, 1), TODAY)),
        (None, date(2026, 3, 31), (date(2025, 3, 31), date(2026, 3, 31))),
        (TODAY, TODAY, (TODAY, TODAY)),
    ],
)
def test_reports_tell_of_the_year_before_unless_told_otherwise(first, last, period):
    assert report_period(TODAY, first, last) == period


@pytest.mark.parametrize(
    ("first", "last", "message"),
    [
        (None, TODAY + timedelta(days=1), "a day that is not after 2026-05-20"),
        (date(2026, 4, 2), date(2026, 4, 1), "in order"),
    ],
)
def test_a_period_that_cannot_be_told_of_is_refused(first, last, message):
    with pytest.raises(BadInput, match=message):
        report_period(TODAY, first, last)


@pytest.fixture
def rows() -> RegisterRows:
    """A tank whose lights were doubled on the second of March."""
    return RegisterRows(
        clients=(Client("CLIENT", "Client"),),
        sites=(Site("SITE", "CLIENT", "Site", "UTC"),),
        rooms=(Room("ROOM", "SITE", "Room", 26.0, True),),
        tanks=(Tank("TANK", "ROOM", "Tank", TankKind.REEF, 1.2, 0.5, 0.5, 25.0),),
        loads=(
            Load("TANK", "pump", LoadKind.SUBMERGED_PUMP, 40.0, date(2024, 1, 1)),
            Load("TANK", "lamp", LoadKind.LIGHT, 150.0, date(2024, 1, 1), 10.0, until=CHANGED),
            Load("TANK", "lamp", LoadKind.LIGHT, 300.0, CHANGED, 10.0),
        ),
        devices=(Device("CH", DeviceKind.CHILLER, "Chiller", rated_cooling_w=500.0, installed=date(2024, 1, 1)),),
        placements=(Placement("CH", Where.BESIDE_TANK, date(2024, 1, 1), room="ROOM", clearance_m=0.5),),
        duties=(Duty("CH", "TANK", date(2024, 1, 1)),),
    )


def outlook(rows: RegisterRows, *changes: MarginChange) -> Outlook:
    fleet, catalogue = snapshot(rows, TODAY), Catalogue((), (), (), ())
    return Outlook(fleet, catalogue, (), tuple(changes), Plan(TODAY, TODAY))


def hot_day(rows: RegisterRows, day: date):
    return assess(snapshot(rows, day), {}, scenarios=(Scenario.HOT_DAY,))[0]


def test_a_change_is_told_with_the_margin_of_the_day_before_and_of_the_day_itself(rows):
    (step,) = margin_steps(rows, outlook(rows), (), *YEAR)
    before, after = hot_day(rows, CHANGED - timedelta(days=1)), hot_day(rows, CHANGED)
    assert (step.tank, step.day, step.what) == ("TANK", CHANGED, "lights 150 W, 10 h a day → lights 300 W, 10 h a day")
    assert (step.before, step.state_before) == (before.margin, before.state)
    assert (step.after, step.state_after) == (after.margin, after.state)
    assert step.after.low < step.before.low


@pytest.mark.parametrize(("first", "last", "count"), [(CHANGED, CHANGED, 1), (CHANGED + timedelta(days=1), TODAY, 0)])
def test_only_changes_of_the_period_are_told(rows, first, last, count):
    assert len(margin_steps(rows, outlook(rows), (), first, last)) == count


def test_what_the_outlook_has_worked_out_is_not_worked_out_again(rows):
    known = hot_day(rows, CHANGED)
    marked = replace(known, margin=Spread(0.1, 0.2, 0.3))
    (step,) = margin_steps(rows, outlook(rows, MarginChange("TANK", CHANGED, marked, known)), (), *YEAR)
    assert step.before == Spread(0.1, 0.2, 0.3)


def check(cause: str, low: float, day: date = CHANGED) -> MarginCheck:
    margin = Spread(low, low + 0.2, low + 0.4)
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    return MarginCheck("TANK", "hot-day", day, cause, 300.0, margin, margin, "ok", "digest", at)


def test_margins_on_the_trail_outrank_those_worked_out_anew(rows):
    trail = (check("before change of load TANK lamp from 2026-03-02", 0.3, TODAY),
             check("after change of load TANK lamp from 2026-03-02", 0.1, TODAY))  # fmt: skip
    (step,) = margin_steps(rows, outlook(rows), trail, *YEAR)
    assert (step.day, step.before.low, step.after.low) == (CHANGED, 0.3, 0.1)
    assert step.what.startswith("lights")


def test_a_cause_that_is_no_change_of_the_tank_is_told_in_its_own_words(rows):
    trail = (check("before new weather for SITE", 0.3, TODAY), check("after new weather for SITE", 0.1, TODAY))
    steps = margin_steps(rows, outlook(rows), trail, *YEAR)
    assert [(step.day, step.what) for step in steps][1:] == [(TODAY, "new weather for SITE")]
    assert steps[1].state_after is MarginState.OK
