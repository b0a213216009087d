"""What findings say of how often work is done: intervals to be made shorter or longer, for a person to decide.

The rules (common practice; that frequencies are adjusted by findings is an idea of ASHRAE/ACCA Standard 180 too): bad
twice running, a third shorter; sound three times running, a quarter longer; never outside the shortest and the
longest; what keeps people and animals safe is never lengthened. Nothing here changes an interval: a proposal becomes
one by an override that somebody signs.

A finding speaks of an interval only if the work was done after about that time. Found bad long after it was due, it
was late rather than too rare; found sound long before, nothing is known of the rest. So the findings that led to a new
interval do not count a second time, once it is in force.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from fleet.planning.own_rules import FOR_ALL, typical_words
from fleet.planning.subjects import Subjects
from fleet.planning.words import day_words, listed
from fleet.values.catalogue import Catalogue, Interval, Span, TaskRule
from fleet.values.overrides import RuleOverride
from fleet.values.register import ServiceRecord
from fleet.values.vocabulary import Finding, Tolerance

SHORTER, LONGER = 2 / 3, 5 / 4
BAD_RUN, SOUND_RUN = 2, 3
NEVER_LONGER = (Tolerance.A0, Tolerance.A)
"""Law and life safety; livestock and shock."""
LATE_FROM, EARLY_TO = 1.25, 0.85
"""Share of its interval after which work counts as late, and up to which as early. Between the two lies a change by
either rule: what was found under the old interval is late for the shorter one and early for the longer one."""
SMALLEST = 1e-6
"""What the arithmetic of spans leaves over from a whole number."""
MOST_TOLD = 8
"""Of the proposals in the reason of one task; the list is whole where they are decided."""
REVIEW_INTERVALS = "review-intervals"
"""Catalogue id of the task whose content the proposals are."""
BAD = (Finding.DEGRADED, Finding.FAULT)


@dataclass(frozen=True, slots=True)
class IntervalProposal:
    """That the interval of a rule on a subject be changed. `found` are the days and findings it rests on, oldest first;
    `reason` is a clause for people."""

    rule: str
    subject: str
    now: Interval
    proposed: Interval
    found: tuple[tuple[date, Finding], ...]
    reason: str

    def accepted(self, by: str) -> RuleOverride:
        """The override by which a person puts it in force."""
        return RuleOverride(self.rule, self.subject, interval=self.proposed, set_by=by, reason=self.reason)


def told_for(site: str, proposals: Sequence[IntervalProposal], subjects: Subjects, catalogue: Catalogue) -> list[str]:
    """The proposals about a site and what is there, as sentences for the task of reviewing its intervals."""
    there = [one for one in proposals if one.subject in subjects.by_code and subjects.by_code[one.subject].site == site]
    if not there:
        return []
    clauses = [f"{catalogue.rule_by_id[one.rule].title} on {one.subject}, {_change_words(one)}" for one in there]
    more = f"; and {len(clauses) - MOST_TOLD} more" if len(clauses) > MOST_TOLD else ""
    return [f"To decide: {'; '.join(clauses[:MOST_TOLD])}{more}"]


def _change_words(one: IntervalProposal) -> str:
    """ "40 days instead of 60 (found degraded on …)"."""
    return f"{typical_words(one.proposed, one.now)} ({one.reason})"


def reviewed_intervals(
    history: Iterable[ServiceRecord],
    catalogue: Catalogue,
    overrides: Iterable[RuleOverride] = (),
    belongs_to: Mapping[str, Sequence[str]] | None = None,
) -> tuple[IntervalProposal, ...]:
    """Every change that the findings speak for, by subject and rule.

    `belongs_to` are the codes that each subject is part of, nearest first, whose overrides hold for it too; without it
    only those of the subject itself and those for all do. Records of unknown rules say nothing, nor does work that
    could not be inspected.
    """
    found: dict[tuple[str, str], dict[date, Finding | None]] = defaultdict(dict)
    for row in history:
        if row.finding is not Finding.NOT_INSPECTED and row.task in catalogue.rule_by_id:
            found[row.subject, row.task][row.done_on] = row.finding
    own = {(one.rule, one.scope): one for one in overrides}
    proposals = []
    for (subject, rule_id), by_day in sorted(found.items()):
        rule = catalogue.rule_by_id[rule_id]
        scopes = dict.fromkeys((subject, *(belongs_to or {}).get(subject, ()), FOR_ALL))
        said = [own[rule_id, scope] for scope in scopes if (rule_id, scope) in own]
        if rule.interval is None or (said and not said[0].active):
            continue
        now = next((one.interval for one in said if one.interval is not None), rule.interval)
        proposal = _proposal(rule, subject, now, sorted(by_day.items()))
        if proposal is not None:
            proposals.append(proposal)
    return tuple(proposals)


def _proposal(
    rule: TaskRule, subject: str, now: Interval, rows: Sequence[tuple[date, Finding | None]]
) -> IntervalProposal | None:
    """Unknown findings are passed over between two bad ones, and end a run of sound ones: both to the safe side."""
    known: list[tuple[date, Finding]] = [(day, finding) for day, finding in rows if finding is not None]
    bad, sound = known[-BAD_RUN:], known[-SOUND_RUN:]
    shares = _shares_of_interval([day for day, _ in rows], now)
    if len(bad) == BAD_RUN and all(finding in BAD for _, finding in bad):
        found, share, in_time = bad, SHORTER, all(shares.get(day, 1.0) < LATE_FROM for day, _ in bad)
    elif _all_sound(rows[-SOUND_RUN:]) and rule.tolerance not in NEVER_LONGER:
        found, share, in_time = sound, LONGER, all(shares.get(day, 0.0) > EARLY_TO for day, _ in sound[1:])
    else:
        return None
    proposed = _moved(now, share)
    if not in_time or proposed is None:
        return None
    reason = f"found {listed(f'{finding} on {day_words(day)}' for day, finding in found)}"
    return IntervalProposal(rule.id, subject, now, proposed, tuple(found), reason)


def _all_sound(rows: Sequence[tuple[date, Finding | None]]) -> bool:
    return len(rows) == SOUND_RUN and all(finding is Finding.SOUND for _, finding in rows)


def _shares_of_interval(days: Sequence[date], interval: Interval) -> dict[date, float]:
    """After which share of the interval the work was done on each day; the first has nothing to be counted from."""
    return {day: (day - before).days / interval.typical.days for before, day in pairwise(days)}


def _moved(now: Interval, share: float) -> Interval | None:
    """The usual time moved by `share`, counted down to whole spans of the same unit, or to days where that is not even,
    between the shortest and the longest. None where it would stay where it is."""
    shortest, longest = now.minimum.days, now.maximum.days
    wanted = min(max(now.typical.days * share, shortest), longest)
    if abs(wanted - now.typical.days) < 1:
        return None
    unit = now.typical.unit
    counts = [days / Span(1, unit).days for days in (shortest, wanted, longest)]
    if any(abs(count - round(count)) > SMALLEST for count in counts):
        unit, counts = "day", [shortest, wanted, longest]
    least, usual, most = (
        math.ceil(counts[0] - SMALLEST),
        math.floor(counts[1] + SMALLEST),
        math.floor(counts[2] + SMALLEST),
    )
    return Interval(Span(min(least, usual), unit), Span(usual, unit), Span(most, unit))
