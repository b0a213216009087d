"""The tasks of one part of a fleet: every occurrence that is wanted, with its key and with what a person decided."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleet.planning.calls import Sources, calls_for
from fleet.planning.conditions import condition_reason
from fleet.planning.facts import Facts
from fleet.planning.interval_review import REVIEW_INTERVALS, reviewed_intervals, told_for
from fleet.planning.keys import KeyBook
from fleet.planning.margins import Margins
from fleet.planning.measurements import Measurements
from fleet.planning.occurrences import occurrences
from fleet.planning.own_rules import OwnRule, OwnRules
from fleet.planning.parts import Part
from fleet.planning.recurrence import state_on
from fleet.planning.seasons import VisitDays
from fleet.planning.situations import Occurrence, Situation
from fleet.planning.subjects import Subject, Subjects
from fleet.planning.triggers import Happenings
from fleet.planning.visit_rounds import LOOK_AHEAD_FOR_OPEN_DAYS
from fleet.values.catalogue import Catalogue, TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import AppliedFactor, Task
from fleet.values.register import Closure
from fleet.values.vocabulary import Finding, ReadingQuantity, TaskState, Tolerance

RUNNING_HOURS_FROM_DAYS = 400
DECIDED = (TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE)
"""States that a person gave a task and that planning leaves alone."""

Done = Mapping[tuple[str, str], Sequence[date]]
Before = Mapping[tuple[str, str], Mapping[str, Task]]
"""The tasks of the plan before by rule and subject, and there by occurrence."""


@dataclass(frozen=True, slots=True)
class PartTasks:
    """`subjects` are those of the part, `done` the days on which each rule's work was done on each, oldest first.
    `joined` has the keys of tasks of the plan before that another task now stands for, and the key of that."""

    tasks: list[Task]
    subjects: Subjects
    done: Done
    joined: dict[str, str]


def tasks_of(
    part: Part,
    catalogue: Catalogue,
    own_rules: OwnRules,
    before: Before,
    book: KeyBook,
    today: date,
    through: date,
) -> PartTasks:
    """The tasks in order of rule and subject, before they are bundled into visits."""
    fleet = part.fleet(today)
    subjects = Subjects(fleet)
    done = _completions(fleet, today)
    facts = Facts(fleet, subjects, catalogue.class_by_code, part.assessments, today)
    sources = Sources(
        Happenings(fleet, subjects, catalogue, today, through + timedelta(days=LOOK_AHEAD_FOR_OPEN_DAYS)),
        Measurements(fleet, done, part.output_shares),
        Margins(part.margin_changes, part.assessments),
        _taken_up(part, subjects, done),
        today,
        through,
    )
    closures = closures_by_site(fleet)
    visit_days = {site.code: VisitDays(site, closures.get(site.code, ())) for site in fleet.sites}
    belongs_to = {code: one.belongs_to for code, one in subjects.by_code.items()}
    proposals = reviewed_intervals(fleet.history, catalogue, own_rules.overrides, belongs_to)
    tasks: list[Task] = []
    joined: dict[str, str] = {}
    for rule in catalogue.rules:
        for subject in subjects.might_suit(rule.selector):
            if subject.code not in part.codes or not facts.suits(subject, rule.selector):
                continue
            known = before.get((rule.id, subject.code), {})
            own = own_rules.of(rule, subject)
            if own.off is not None:
                continue
            content: list[str] = []
            if rule.id == REVIEW_INTERVALS:
                content = told_for(subject.code, proposals, subjects, catalogue)
            for one in _occurrences(own, subject, facts, sources, done, known, visit_days, content):
                task = _task(one, known.get(one.name), book, today)
                tasks.append(task)
                joined |= {known[name].key: task.key for name in one.answers if name in known and name != one.name}
    return PartTasks(tasks, subjects, done, joined)


def _taken_up(part: Part, subjects: Subjects, done: Done) -> frozenset[str]:
    """The sites of whose work nothing is on record."""
    worked_on = (subjects.by_code.get(code) for code, _ in done)
    return frozenset(part.sites) - {subject.site for subject in worked_on if subject is not None}


def closures_by_site(fleet: Fleet) -> dict[str, list[Closure]]:
    closures: dict[str, list[Closure]] = defaultdict(list)
    for closure in fleet.closures:
        closures[closure.site].append(closure)
    return closures


def by_occurrence(tasks: Iterable[Task]) -> Before:
    before: dict[tuple[str, str], dict[str, Task]] = defaultdict(dict)
    for task in tasks:
        before[task.rule, task.subject][task.occurrence] = task
    return before


def _completions(fleet: Fleet, today: date) -> dict[tuple[str, str], list[date]]:
    """The days on which each rule's work was done on each subject, oldest first. Work that could not be inspected was
    not done."""
    done: dict[tuple[str, str], list[date]] = defaultdict(list)
    for row in fleet.history:
        if row.finding is not Finding.NOT_INSPECTED and row.done_on <= today:
            done[row.subject, row.task].append(row.done_on)
    return {pair: sorted(set(days)) for pair, days in done.items()}


def _occurrences(
    own: OwnRule,
    subject: Subject,
    facts: Facts,
    sources: Sources,
    done: Done,
    known: Mapping[str, Task],
    visit_days: Mapping[str, VisitDays],
    content: Sequence[str],
) -> list[Occurrence]:
    rule, site = own.rule, facts.fleet.site_by_code.get(subject.site or "")
    days = done.get((subject.code, rule.id), ())
    return occurrences(
        Situation(
            rule,
            subject,
            site,
            sources.today,
            sources.through,
            days,
            calls_for(rule, subject, site, days, known, sources),
            tuple(_factors(rule, subject, facts)),
            _hours_a_day(subject, sources) if rule.running_hours is not None else None,
            known,
            visit_days.get(subject.site or ""),
            own,
            content,
        )
    )


def _factors(rule: TaskRule, subject: Subject, facts: Facts) -> Iterator[AppliedFactor]:
    """The conditions that hold. Nothing lengthens the interval of a life-safety task."""
    for factor in rule.factors:
        if factor.multiplier > 1 and rule.tolerance is Tolerance.A0:
            continue
        reason = condition_reason(facts, subject, factor.condition)
        if reason is not None:
            yield AppliedFactor(factor.condition, factor.multiplier, reason)


def _hours_a_day(subject: Subject, sources: Sources) -> float | None:
    """How long the subject runs a day, by its counter; None where two readings a day apart are not on record."""
    rows = [
        row
        for row in sources.measurements.of(subject.code, ReadingQuantity.RUNNING_HOURS)
        if (sources.today - row.taken_at.date()).days <= RUNNING_HOURS_FROM_DAYS
    ]
    if len(rows) < 2:
        return None
    days = (rows[-1].taken_at - rows[0].taken_at) / timedelta(days=1)
    hours = rows[-1].value - rows[0].value
    return min(24.0, hours / days) if days >= 1 and hours > 0 else None


def _task(one: Occurrence, known: Task | None, book: KeyBook, today: date) -> Task:
    """The occurrence as a task; `known` is the task for it in the plan before, which has its key."""
    rule, subject = one.rule, one.subject
    task = Task(
        key=known.key if known is not None else book.key_for(f"{rule.id}|{subject.code}|{one.name}"),
        rule=rule.id,
        title=rule.title,
        subject=subject.code,
        subject_kind=subject.kind,
        site=subject.site,
        tank=subject.tank,
        device=subject.device,
        occurrence=one.name,
        due=one.window.due,
        due_at=None,
        earliest=one.window.earliest,
        latest=one.window.latest,
        minutes=rule.minutes_for(subject.device_kind),
        persons=rule.persons,
        skill=rule.skill,
        performed_by=rule.performed_by,
        tolerance=rule.tolerance,
        order=rule.order,
        state=state_on(today, one.window),
        cause=one.cause,
        follows=one.follows,
        factors=one.factors,
        interval_days=one.interval_days,
    )
    return task if known is None else _with_decision(task, known, today)


def _with_decision(task: Task, before: Task, today: date) -> Task:
    """Put off: the days agreed stand in place of the window. Halted, withdrawn and not applicable stay so."""
    if before.state in DECIDED:
        return replace(task, state=before.state)
    if before.state is TaskState.PUT_OFF and before.due >= today:
        earliest = min(max(before.earliest, today), before.due)
        return replace(task, due=before.due, earliest=earliest, latest=before.due, state=TaskState.PUT_OFF)
    return task
