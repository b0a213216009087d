"""The one entry point of planning: a fleet, its catalogue and its history into tasks and visits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from fleet.planning.calls import Sources, calls_for
from fleet.planning.conditions import condition_reason
from fleet.planning.differences import plan_changes
from fleet.planning.facts import Facts
from fleet.planning.keys import KeyBook
from fleet.planning.occurrences import Occurrence, Situation, occurrences
from fleet.planning.recurrence import state_on
from fleet.planning.seasons import VisitDays
from fleet.planning.subjects import Subject, Subjects, rules_not_on_record
from fleet.planning.triggers import Happenings, Margins, Measurements
from fleet.planning.visit_rounds import LOOK_AHEAD_FOR_OPEN_DAYS, planned_visits
from fleet.values.assessment import Assessment, MarginChange
from fleet.values.catalogue import Catalogue, TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import AppliedFactor, Plan, Task
from fleet.values.register import Closure
from fleet.values.vocabulary import Finding, ReadingQuantity, TaskState, Tolerance

RUNNING_HOURS_FROM_DAYS = 400
DECIDED = (TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE)
"""States that a person gave a task and that planning leaves alone."""

Done = Mapping[tuple[str, str], Sequence[date]]
Before = Mapping[tuple[str, str], Mapping[str, Task]]


def make_plan(
    fleet: Fleet,
    catalogue: Catalogue,
    *,
    assessments: Sequence[Assessment],
    margin_changes: Sequence[MarginChange],
    previous: Plan | None,
    today: date,
    through: date,
) -> Plan:
    """Every task due from today up to and including `through`, what is still open from before, and the visits.

    `fleet` is the snapshot of `today`. With the plan before in `previous` keys are kept, and nothing moves but what
    news touches. The result depends on the values alone, not on their order.
    """
    subjects = Subjects(fleet)
    done = _completions(fleet, today)
    before = _by_occurrence(previous)
    facts = Facts(fleet, subjects, catalogue.class_by_code, assessments, today)
    sources = Sources(
        Happenings(fleet, subjects, catalogue, today, through + timedelta(days=LOOK_AHEAD_FOR_OPEN_DAYS)),
        Measurements(fleet),
        Margins(margin_changes),
        today,
        through,
    )
    closures = _closures(fleet)
    visit_days = {site.code: VisitDays(site, closures.get(site.code, ())) for site in fleet.sites}
    wanted = [
        occurrence
        for rule in sorted(catalogue.rules, key=lambda rule: rule.id)
        for subject in subjects.might_suit(rule.selector)
        if facts.suits(subject, rule.selector)
        for occurrence in _occurrences(rule, subject, facts, sources, done, before, visit_days)
    ]
    tasks = _with_keys(wanted, previous, before, today)
    tasks, visits, unplaced = planned_visits(tasks, fleet, catalogue, subjects, closures, previous, today)
    tasks.sort(key=lambda task: (task.due, task.site or "", task.key))
    changes = plan_changes(
        previous, tasks, visits, through, done, catalogue.rule_by_id.keys(), subjects.by_code.keys(),
        _joined(wanted, tasks, before),
    )  # fmt: skip
    return Plan(
        today, through, tuple(tasks), tuple(visits), tuple(unplaced), changes,
        rules_not_on_record(catalogue.rules, subjects),
    )  # fmt: skip


def _completions(fleet: Fleet, today: date) -> dict[tuple[str, str], list[date]]:
    """The days on which each rule's work was done on each subject, oldest first. Work that could not be inspected was
    not done."""
    done: dict[tuple[str, str], list[date]] = defaultdict(list)
    for row in fleet.history:
        if row.finding is not Finding.NOT_INSPECTED and row.done_on <= today:
            done[row.subject, row.task].append(row.done_on)
    return {pair: sorted(set(days)) for pair, days in done.items()}


def _by_occurrence(previous: Plan | None) -> dict[tuple[str, str], dict[str, Task]]:
    before: dict[tuple[str, str], dict[str, Task]] = defaultdict(dict)
    for task in previous.tasks if previous is not None else ():
        before[task.rule, task.subject][task.occurrence] = task
    return before


def _closures(fleet: Fleet) -> dict[str, list[Closure]]:
    closures: dict[str, list[Closure]] = defaultdict(list)
    for closure in fleet.closures:
        closures[closure.site].append(closure)
    return closures


def _occurrences(
    rule: TaskRule,
    subject: Subject,
    facts: Facts,
    sources: Sources,
    done: Done,
    before: Before,
    visit_days: Mapping[str, VisitDays],
) -> Iterator[Occurrence]:
    site = facts.fleet.site_by_code.get(subject.site or "")
    days = done.get((subject.code, rule.id), ())
    known = before.get((rule.id, subject.code), {})
    yield from occurrences(
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


def _with_keys(wanted: Iterable[Occurrence], previous: Plan | None, before: Before, today: date) -> list[Task]:
    """Tasks with keys and states; what a person decided about one in the plan before is carried on."""
    ordered = sorted(wanted, key=lambda one: (one.rule.id, one.subject.code, one.name))
    tasks_before = previous.tasks if previous is not None else ()
    visits_before = previous.visits if previous is not None else ()
    book = KeyBook(
        {_text(task.rule, task.subject, task.occurrence): task.key for task in tasks_before},
        (visit.key for visit in visits_before),
    )
    tasks = []
    for one in ordered:
        task = _task(one, book.key_for(_text(one.rule.id, one.subject.code, one.name)), today)
        known = before.get((task.rule, task.subject), {}).get(task.occurrence)
        tasks.append(task if known is None else _with_decision(task, known, today))
    return tasks


def _joined(wanted: Iterable[Occurrence], tasks: Iterable[Task], before: Before) -> dict[str, str]:
    """Keys of tasks of the plan before that another task now stands for, and the key of that."""
    key_of = {(task.rule, task.subject, task.occurrence): task.key for task in tasks}
    joined = {}
    for one in wanted:
        known = before.get((one.rule.id, one.subject.code), {})
        for name in one.answers:
            if name in known and name != one.name:
                joined[known[name].key] = key_of[one.rule.id, one.subject.code, one.name]
    return joined


def _text(rule: str, subject: str, occurrence: str) -> str:
    return f"{rule}|{subject}|{occurrence}"


def _task(one: Occurrence, key: str, today: date) -> Task:
    rule, subject = one.rule, one.subject
    return Task(
        key=key,
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


def _with_decision(task: Task, before: Task, today: date) -> Task:
    """Put off: the day agreed stands in place of the window. Halted, withdrawn and not applicable stay so."""
    if before.state in DECIDED:
        return replace(task, state=before.state)
    if before.state is TaskState.PUT_OFF and before.due >= today:
        earliest = min(max(task.earliest, today), before.due)
        return replace(task, due=before.due, earliest=earliest, latest=before.due, state=TaskState.PUT_OFF)
    return task
