"""Tasks, visits and the plan that holds them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property

from fleet.values.vocabulary import CauseKind, PerformedBy, Skill, SubjectKind, TaskState, Tolerance


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a task exists. `text` is a sentence; `numbers` the figures in it, by name, for machines."""

    kind: CauseKind
    text: str
    numbers: dict[str, float | str | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AppliedFactor:
    """A condition that moved the interval of one task: which, by how much, and how it is known."""

    name: str
    multiplier: float
    reason: str


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work that is to be done on one subject.

    `rule` is the catalogue id. `occurrence` says which occurrence it is ("n3" the third by interval,
    "event:outage:2026-05-03", "season:hot:2026"); with subject and rule it makes the key. May be done from
    `earliest` to `latest`, both inside; `due` is the day aimed at, `due_at` the hour where one is set.
    `follows` is the completion that an interval task counts from, None where there is none on record.
    `visit` is the key of the visit that holds it. `earlier` are the days it was done on before, latest first.
    """

    key: str
    rule: str
    title: str
    subject: str
    subject_kind: SubjectKind
    site: str | None
    tank: str | None
    device: str | None
    occurrence: str
    due: date
    due_at: datetime | None
    earliest: date
    latest: date
    minutes: int
    persons: int
    skill: Skill
    performed_by: PerformedBy
    tolerance: Tolerance
    order: int
    state: TaskState
    cause: Cause
    follows: date | None = None
    factors: tuple[AppliedFactor, ...] = ()
    interval_days: float | None = None
    visit: str | None = None


@dataclass(frozen=True, slots=True)
class Visit:
    """One call at one site. Start and end are aware instants in UTC; `tasks` are keys in working order.

    `persons` is how many people its work takes at once. Where that is more than one and `second_technician` is None,
    nobody else was free: a second pair of hands has yet to be found.
    """

    key: str
    site: str
    technician: str | None
    start: datetime
    end: datetime
    minutes: int
    tasks: tuple[str, ...]
    day: date
    """The visit's day in the site's own zone."""
    persons: int = 1
    second_technician: str | None = None


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A visitor's task that no visit holds. `reason` is a code word, `text` the sentence for people."""

    key: str
    reason: str
    text: str


@dataclass(frozen=True, slots=True)
class Needed:
    """Work that a task needs first, and how it stands.

    `how` is one of: "in date" (done on `done_on`, and good until `until`, where known), "comes first" (planned on or
    before the day of the task, on `day`), "comes later" (planned on `day`, but the task cannot wait for it), "in no
    visit", "never recorded" (and not planned). `key` is that of the task that brings it, None where none does.
    """

    rule: str
    title: str
    subject: str | None
    how: str
    key: str | None = None
    visit: str | None = None
    day: date | None = None
    done_on: date | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """Why a task is done on its day and by whom, in clauses; the work that it `needs` first; and why no visit holds it,
    if none does: `day` is None then."""

    day: date | None
    why_day: tuple[str, ...] = ()
    who: tuple[str, ...] = ()
    needs: tuple[Needed, ...] = ()
    unplaced: Unplaced | None = None


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One difference from the plan before: a task's (or visit's) key, what it is, and why it changed."""

    key: str
    what: str
    reason: str


@dataclass(frozen=True, slots=True)
class PlanChanges:
    added: tuple[PlanChange, ...] = ()
    moved: tuple[PlanChange, ...] = ()
    dropped: tuple[PlanChange, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.added or self.moved or self.dropped)


@dataclass(frozen=True)
class Plan:
    """Everything to be done from `today` up to and including `through`, sorted by due day, site and key.

    `not_on_record` lists, for each site, the catalogue ids that are off because no subject of theirs is on record.
    `fingerprints` vouch for what the plan holds of each part of the fleet, by the name of the part: the next plan on
    the same day takes over what has the same fingerprint again. Whoever alters tasks or visits of a plan otherwise than
    by deciding on a task has to leave them out.
    """

    today: date
    through: date
    tasks: tuple[Task, ...] = ()
    visits: tuple[Visit, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    changes: PlanChanges = PlanChanges()
    not_on_record: dict[str, tuple[str, ...]] = field(default_factory=dict)
    fingerprints: dict[str, str] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def task_by_key(self) -> dict[str, Task]:
        return {task.key: task for task in self.tasks}

    @cached_property
    def visit_by_key(self) -> dict[str, Visit]:
        return {visit.key: visit for visit in self.visits}


@dataclass(frozen=True, slots=True)
class Backlog:
    """Work of visitors that is late, in minutes, and what becomes late if nobody comes before `until`.

    `becoming_late` are tasks that are not late yet, the gravest tolerance class first; `passing_limit` those that are
    past their last day by then, among them tasks that are late already.
    """

    until: date
    minutes: int
    becoming_late: tuple[Task, ...]
    passing_limit: tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class Revision:
    """How often and when a saved task or visit was changed: what a calendar needs to tell new from old."""

    key: str
    sequence: int
    created_at: datetime
    modified_at: datetime
