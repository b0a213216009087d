"""What is asked of the planner for one rule on one subject, and what comes of it: calls, situations, occurrences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from fleet.planning.own_rules import OwnRule
from fleet.planning.recurrence import Window
from fleet.planning.seasons import VisitDays
from fleet.planning.subjects import Subject
from fleet.values.catalogue import TaskRule
from fleet.values.plan import AppliedFactor, Cause, Task
from fleet.values.register import Site
from fleet.values.vocabulary import PerformedBy

FREQUENT_DAYS = 7
"""What site staff look at so often, and have not recorded yet, is due at once; what is rarer is spread."""
FIRST_DUE = "first_due"
"""Name, among a cause's numbers, of the first due day of work that was never recorded."""
OWN_DUE = "own_due"
"""Among a cause's numbers: the day on which the interval alone has work due that follows late work and was called
forward."""
STANDS_FOR, NAMES_APART = "stands_for", "; "
"""Name, among a cause's numbers, of the calls that one piece of work answers, and what parts them."""
Numbers = dict[str, float | str | None]


@dataclass(frozen=True, slots=True)
class Call:
    """A reason to do the work in a window of its own: an event, a condition, a season.

    `clauses` say what happened, `changed_on` when the tank changed by it, `look` which look at it this is if not the
    first. `answers` are the names of the calls that it stands for, where it stands for several. `only_pulls`: it makes
    work that comes back come sooner, and never later.
    """

    occurrence: str
    window: Window
    cause: Cause
    clauses: tuple[str, ...]
    changed_on: tuple[date, ...] = ()
    look: str = ""
    answers: tuple[str, ...] = ()
    only_pulls: bool = False


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One piece of work that is wanted, before it has a key."""

    rule: TaskRule
    subject: Subject
    name: str
    window: Window
    cause: Cause
    follows: date | None = None
    factors: tuple[AppliedFactor, ...] = ()
    interval_days: float | None = None
    answers: tuple[str, ...] = ()
    """Names of the occurrences that this one stands for, where it stands for several."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What has to be known of one rule on one subject. `done` are the days of its completions, oldest first;
    `hours_a_day` how long the device runs, where readings tell; `before` the tasks of the previous plan by
    occurrence; `visit_days` the days on which its site can be visited; `own` what a person set in place of the
    catalogue's, which `rule` has in it already; `content` what is to be done this time, as sentences for the next
    occurrence."""

    rule: TaskRule
    subject: Subject
    site: Site | None
    today: date
    through: date
    done: Sequence[date] = ()
    calls: Sequence[Call] = ()
    factors: tuple[AppliedFactor, ...] = ()
    hours_a_day: float | None = None
    before: Mapping[str, Task] = field(default_factory=dict)
    visit_days: VisitDays | None = None
    own: OwnRule | None = None
    content: Sequence[str] = ()


def names_known(before: Mapping[str, Task]) -> frozenset[str]:
    """Every occurrence that the tasks of the plan before are, and every call that they answer."""
    answered = (task.cause.numbers.get(STANDS_FOR) for task in before.values())
    return frozenset(before).union(*(names.split(NAMES_APART) for names in answered if isinstance(names, str)))


def is_frequent_look(performed_by: PerformedBy, interval_days: float | None) -> bool:
    """Whether it is work of the site's own staff that comes back within a week."""
    return performed_by is PerformedBy.SITE_STAFF and interval_days is not None and interval_days <= FREQUENT_DAYS
