"""Findings feed the review of intervals: what is proposed, what is not, and who decides."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.interval_review import REVIEW_INTERVALS, IntervalProposal, reviewed_intervals
from fleet.values.catalogue import Catalogue, Interval, Span, TaskRule
from fleet.values.overrides import RuleOverride
from fleet.values.register import ServiceRecord
from fleet.values.vocabulary import Finding, SubjectKind, Tolerance

SOUND, DEGRADED, FAULT = Finding.SOUND, Finding.DEGRADED, Finding.FAULT
LAST = date(2026, 5, 10)


def records(trade: Any, findings: Sequence[Finding | None], every: int = 60) -> tuple[ServiceRecord, ...]:
    """One record each so many days, the last of them on 10 May 2026."""
    first = LAST - timedelta(days=every * (len(findings) - 1))
    return tuple(
        trade.done(first + timedelta(days=every * number), finding=finding) for number, finding in enumerate(findings)
    )


def days(shortest: int, usual: int, longest: int) -> Interval:
    return Interval(Span(shortest, "day"), Span(usual, "day"), Span(longest, "day"))


def review(
    trade: Any, findings: Sequence[Finding | None], rule: TaskRule | None = None, every: int = 60, **more: Any
) -> list[IntervalProposal]:
    catalogue = Catalogue((rule or trade.rule(interval=days(20, 60, 90)),), (), (), ())
    return list(reviewed_intervals(records(trade, findings, every), catalogue, **more))


def test_two_bad_findings_in_a_row_make_the_interval_a_third_shorter(trade: Any) -> None:
    (proposal,) = review(trade, [SOUND, DEGRADED, FAULT])
    assert (proposal.now, proposal.proposed) == (days(20, 60, 90), days(20, 40, 90))
    assert proposal.reason == "found degraded on 11 March 2026 and fault on 10 May 2026"
    assert proposal.accepted("Ida Lund") == RuleOverride(
        "clean-screen", "C1", interval=days(20, 40, 90), set_by="Ida Lund", reason=proposal.reason
    )


def test_three_sound_findings_in_a_row_make_the_interval_a_quarter_longer(trade: Any) -> None:
    (proposal,) = review(trade, [SOUND, SOUND, SOUND])
    assert proposal.proposed == days(20, 75, 90)


@pytest.mark.parametrize(
    ("findings", "rule", "proposed"),
    [
        ([FAULT, FAULT], {"interval": days(50, 60, 90)}, days(50, 50, 90)),
        ([SOUND] * 3, {"interval": days(20, 60, 70)}, days(20, 70, 70)),
        ([FAULT, FAULT], {"interval": days(60, 60, 90)}, None),
        ([SOUND] * 3, {"interval": days(60, 60, 60)}, None),
    ],
    ids=["not below the shortest", "not above the longest", "already the shortest", "already the longest"],
)
def test_an_interval_stays_inside_its_bounds(trade: Any, findings: Any, rule: Any, proposed: Interval | None) -> None:
    assert [one.proposed for one in review(trade, findings, trade.rule(**rule))] == ([proposed] if proposed else [])


@pytest.mark.parametrize("tolerance", list(Tolerance))
def test_what_keeps_people_and_animals_safe_is_never_made_rarer_but_may_be_made_more_frequent(
    trade: Any, tolerance: Tolerance
) -> None:
    rule = trade.rule(interval=days(20, 60, 90), tolerance=tolerance)
    assert bool(review(trade, [SOUND] * 4, rule)) is (tolerance not in (Tolerance.A0, Tolerance.A))
    assert [one.proposed.typical.count for one in review(trade, [FAULT] * 2, rule)] == [40]


@pytest.mark.parametrize(
    ("findings", "changes"),
    [
        ([FAULT], 0),
        ([FAULT, SOUND, FAULT], 0),
        ([FAULT, None, FAULT], 1),
        ([FAULT, Finding.NOT_INSPECTED, FAULT], 1),
        ([SOUND, SOUND, None, SOUND], 0),
        ([SOUND, Finding.NOT_INSPECTED, SOUND, SOUND], 1),
        ([SOUND, SOUND], 0),
        ([None, None, None], 0),
    ],
)
def test_what_counts_as_in_a_row(trade: Any, findings: Any, changes: int) -> None:
    """A finding nobody wrote down speaks for no longer interval; what could not be inspected says nothing."""
    every = 35 if findings[0] is FAULT else 60  # so that a time left out makes nothing late
    assert len(review(trade, findings, every=every)) == changes


def test_work_done_late_or_early_says_nothing_of_its_interval(trade: Any) -> None:
    """Found bad after 80 days it was late for 60; found sound after 40, nothing is known of the other 20."""
    assert not review(trade, [FAULT, FAULT], every=80)
    assert not review(trade, [SOUND] * 3, every=40)


@pytest.mark.parametrize("findings", [[FAULT, FAULT], [SOUND] * 3])
def test_findings_do_not_count_again_once_the_proposal_is_in_force(trade: Any, findings: Any) -> None:
    (proposal,) = review(trade, findings)
    assert not review(trade, findings, overrides=(proposal.accepted("Ida Lund"),))


def test_an_interval_set_for_the_site_is_the_one_that_is_reviewed(trade: Any) -> None:
    own = RuleOverride("clean-screen", "S", interval=days(20, 66, 99))
    (proposal,) = review(trade, [FAULT, FAULT], overrides=(own,), belongs_to={"C1": ("T1", "R", "S", "CL")})
    assert (proposal.now.typical.count, proposal.proposed.typical.count) == (66, 44)
    off = RuleOverride("clean-screen", "C1", active=False)
    assert not review(trade, [FAULT, FAULT], overrides=(own, off), belongs_to={"C1": ("T1", "R", "S", "CL")})


def test_months_stay_months_where_they_come_out_even(trade: Any) -> None:
    rule = trade.rule(interval=trade.interval(3, 6, 12, "month"))
    (shorter,) = review(trade, [FAULT, FAULT], rule, every=180)
    assert shorter.proposed == trade.interval(3, 4, 12, "month")
    (longer,) = review(trade, [SOUND] * 3, rule, every=180)
    assert longer.proposed == days(92, 228, 365), "seven months and a half"


@given(
    findings=st.lists(st.sampled_from([None, *Finding]), max_size=8),
    gaps=st.lists(st.integers(1, 200), min_size=8, max_size=8),
    bounds=st.lists(st.integers(1, 400), min_size=3, max_size=3).map(sorted),
    unit=st.sampled_from(["day", "week", "month"]),
    tolerance=st.sampled_from(list(Tolerance)),
)
@settings(max_examples=150, deadline=None)
def test_no_proposal_leaves_the_bounds_or_lengthens_what_is_safety(
    trade: Any, findings: Any, gaps: Any, bounds: list[int], unit: str, tolerance: Tolerance
) -> None:
    interval = Interval(*(Span(count, unit) for count in bounds))
    rule = trade.rule(interval=interval, tolerance=tolerance)
    history, day = [], date(2020, 1, 1)
    for finding, gap in zip(findings, gaps, strict=False):
        day += timedelta(days=gap)
        history.append(trade.done(day, finding=finding))
    for one in reviewed_intervals(reversed(history), Catalogue((rule,), (), (), ())):
        new = one.proposed
        assert new.minimum.days <= new.typical.days <= new.maximum.days
        assert interval.minimum.days <= new.typical.days <= interval.maximum.days
        assert new.maximum.days <= interval.maximum.days
        assert new.typical.days != interval.typical.days
        if tolerance in (Tolerance.A0, Tolerance.A):
            assert new.typical.days < interval.typical.days


def test_the_task_of_reviewing_intervals_says_what_there_is_to_decide(trade: Any) -> None:
    """Nothing is changed by itself: the interval in force stays until a person signs another."""
    screen = trade.rule(interval=days(20, 60, 90))
    site_review = trade.rule(REVIEW_INTERVALS, selector=trade.on(SubjectKind.SITE), interval=days(20, 90, 180))
    rows = trade.rows(tanks=2, history=records(trade, [FAULT, FAULT]))
    plan = trade.plan(rows, screen, site_review)
    first, *later = trade.tasks(plan, REVIEW_INTERVALS, "S")
    assert first.cause.text.endswith(
        " To decide: Clean screen on C1, 40 days instead of 60 (found fault on 11 March 2026 and fault on 10 May 2026)."
    )
    assert later
    assert all("To decide" not in task.cause.text for task in later)
    assert trade.first(plan).interval_days == 60.0
    assert trade.plan(rows, screen, site_review, previous=plan).tasks == plan.tasks
    signed = reviewed_intervals(rows.history, Catalogue((screen,), (), (), ()))[0].accepted("Ida Lund")
    decided = trade.plan(rows, screen, site_review, previous=plan, overrides=(signed,))
    assert trade.first(decided).interval_days == 40.0
    assert "To decide" not in trade.first(decided, REVIEW_INTERVALS, "S").cause.text
