"""What somebody types for a service task: an interval, minutes, a switch."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput, FleetError
from fleet.files.catalogue_files import read_catalogue
from fleet.files.own_rules import read_own_rule
from fleet.values.catalogue import Interval, Span
from fleet.values.overrides import RuleOverride, check_overrides
from fleet.values.vocabulary import Tolerance

CATALOGUE = read_catalogue()
SCREEN = CATALOGUE.rule_by_id["clean-intake-screen"]
"""Every 1/4/8 weeks."""
OWN = RuleOverride(SCREEN.id, "PIER")


def spans(*counts: int, unit: str) -> Interval:
    return Interval(*(Span(count, unit) for count in counts))


@pytest.mark.parametrize(
    ("text", "interval"),
    [
        ("2/3/6 weeks", spans(2, 3, 6, unit="week")),
        ("2 weeks", spans(1, 2, 8, unit="week")),
        ("30 days", spans(7, 30, 56, unit="day")),
        ("12 weeks", spans(1, 12, 12, unit="week")),
        ("3 days", spans(3, 3, 56, unit="day")),
        ("1 month", spans(1, 1, 1, unit="month")),
    ],
)
def test_a_usual_interval_takes_its_ends_from_the_catalogues(text, interval):
    assert read_own_rule({"interval": text}, OWN, SCREEN).interval == interval


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from([rule for rule in CATALOGUE.rules if rule.interval is not None]),
    st.integers(1, 400),
    st.sampled_from(["hour", "day", "week", "month"]),
)
def test_the_ends_never_lie_further_out_than_the_catalogues_unless_the_usual_one_does(rule, count, unit):
    interval = read_own_rule({"interval": f"{count} {unit}s"}, RuleOverride(rule.id), rule).interval
    assert interval.typical == Span(count, unit)
    assert interval.minimum.days <= interval.typical.days <= interval.maximum.days
    assert interval.maximum.days <= max(rule.interval.maximum.days, interval.typical.days) + 1e-9
    longer = interval.typical.days > rule.interval.typical.days
    try:
        check_overrides([RuleOverride(rule.id, interval=interval)], CATALOGUE)
    except FleetError:
        assert rule.tolerance is Tolerance.A0
        assert longer
    else:
        assert rule.tolerance is not Tolerance.A0 or not longer


def test_what_is_set_is_set_beside_what_was_set_before_and_an_empty_cell_takes_it_back():
    both = read_own_rule({"minutes": "25"}, read_own_rule({"interval": "2 weeks"}, OWN, SCREEN), SCREEN)
    assert both.minutes == 25
    assert both.interval is not None
    assert read_own_rule({"interval": ""}, both, SCREEN) == RuleOverride(SCREEN.id, "PIER", minutes=25)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"interval": "often"}, "interval: 'often': expected the usual interval, such as 30 days"),
        ({"interval": "8/4/1 weeks"}, "interval: '8/4/1 weeks'"),
        ({"interval": "0 days"}, "interval: '0 days'"),
        ({"minutes": "ten"}, "minutes: 'ten': expected a whole number"),
        ({"active": "maybe"}, "active: 'maybe': expected yes or no"),
        ({"intervall": "2 weeks"}, "the nearest is interval"),
    ],
)
def test_what_makes_no_sense_is_told_with_what_was_expected(cells, told):
    with pytest.raises(BadInput) as refused:
        read_own_rule(cells, OWN, SCREEN)
    assert told in str(refused.value)
