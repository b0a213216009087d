"""When an event is reported, the stop rules that name it or the work it causes are told, and no others."""

from __future__ import annotations

import pytest

from fleet.files.catalogue_files import read_catalogue
from fleet.values.vocabulary import EventKind

CATALOGUE = read_catalogue()


def signs(event: EventKind, *caused: str) -> str:
    return " ".join(row.sign for row in CATALOGUE.stop_rules_on(event, caused))


# What each event asks people to look out for is common practice.
@pytest.mark.parametrize(
    ("event", "sign"),
    [
        (EventKind.OUTAGE, "act limit"),
        (EventKind.ROOM_AC_CHANGED, "act limit"),
        (EventKind.STORM, "GFCI/RCD"),
        (EventKind.DEATH, "unexplained deaths"),
        (EventKind.LEAK, "Water inside a powered case"),
    ],
)
def test_each_event_tells_what_to_look_out_for(event, sign):
    assert sign in signs(event)


def test_the_work_that_an_event_causes_brings_its_own_stop_rules():
    assert signs(EventKind.OTHER) == ""
    assert "GFCI/RCD" in signs(EventKind.OTHER, "press-gfci-after-storm")


def test_every_stop_rule_that_is_told_names_somebody_to_call():
    for event in EventKind:
        for row in CATALOGUE.stop_rules_on(event, ()):
            assert row.call
            assert row.roles
