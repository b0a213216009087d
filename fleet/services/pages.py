"""Gathers what reports, device cards and hand-over sheets tell beyond a plan: design days, lives, margins over time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from fleet.db.repository import MarginCheck, Register
from fleet.errors import BadInput
from fleet.outputs.page_facts import PageFacts
from fleet.planning.backlog import backlog
from fleet.planning.replacement import forecasts
from fleet.services.outlook import Outlook
from fleet.thermal.assess import assess
from fleet.thermal.courses import day_courses
from fleet.thermal.groups import is_placed
from fleet.values.assessment import Assessment, MarginStep
from fleet.values.changes import Change
from fleet.values.courses import DayCourse
from fleet.values.fleet import Fleet, snapshot
from fleet.values.places import Places
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import ChangeKind, MarginState, Scenario

REPORT_DAYS = 365
"""A report tells of the year before unless told otherwise."""
MOST_DAYS_WORKED_OUT = 60
"""Margins of so many days with changes, the latest, are worked out anew; older ones are told where they are on
record."""

KINDS = {ChangeKind.ANIMALS: "animals ", ChangeKind.DUTY: "devices "}
"""What stands before the words of a change that do not say it themselves."""


def report_period(today: date, first: date | None, last: date | None) -> tuple[date, date]:
    """First and last day of the reports; raises BadInput for a period that ends before it begins or in the future."""
    until = last if last is not None else today
    since = first if first is not None else until - timedelta(days=REPORT_DAYS)
    if until > today:
        raise BadInput(f"reports to {until.isoformat()}: expected a day that is not after {today.isoformat()}")
    if since > until:
        raise BadInput(f"reports from {since.isoformat()} to {until.isoformat()}: expected them in order")
    return since, until


def page_facts(url: str, outlook: Outlook, period: tuple[date, date]) -> PageFacts:
    """The facts as of the outlook's day, for reports on a period, both ends inside."""
    fleet = outlook.fleet
    since, until = period
    with Register.open(url, read_only=True) as register:
        rows, checks = register.rows(), register.margin_checks()
    courses: dict[str, list[DayCourse]] = defaultdict(list)
    for course in day_courses(fleet, outlook.catalogue.class_by_code):
        courses[course.tank].append(course)
    return PageFacts(
        rows=rows,
        places=Places(rows),
        courses={tank: tuple(found) for tank, found in courses.items()},
        forecasts=forecasts(fleet, rows),
        margin_steps=margin_steps(rows, outlook, checks, since, until),
        backlog=backlog(outlook.plan),
        first_day=since,
        last_day=until,
    )


def margin_steps(
    rows: RegisterRows, outlook: Outlook, checks: Iterable[MarginCheck], since: date, until: date
) -> tuple[MarginStep, ...]:
    """What the changes of a period did to hot-day margins: as it stands on the trail, else worked out anew."""
    on_trail = _on_trail(checks)
    known = {(change.tank, change.day): (change.before, change.after) for change in outlook.margin_changes}
    changed: dict[date, dict[str, list[Change]]] = defaultdict(lambda: defaultdict(list))
    for change in outlook.fleet.changes:
        if since <= change.on <= until:
            changed[change.on][change.tank].append(change)
    found: list[MarginStep] = []
    told: set[tuple[str, str]] = set()
    worked_out = 0
    for day, tanks in sorted(changed.items(), reverse=True):
        missing = []
        for tank, changes in tanks.items():
            kept = [key for key, step in on_trail.items() if _is_of(key, step, tank, day)]
            told.update(kept)
            if kept:
                found.append(replace(on_trail[kept[-1]], day=day, subject=_subject(changes), what=_words(changes)))
            elif (tank, day) in known:
                found.append(_step(tank, day, changes, *known[tank, day]))
            else:
                missing.append(tank)
        if missing and worked_out < MOST_DAYS_WORKED_OUT:
            worked_out += 1
            before = _hot_day(snapshot(rows, day - timedelta(days=1)), outlook, missing)
            after = _hot_day(snapshot(rows, day), outlook, missing)
            found += [_step(tank, day, tanks[tank], before.get(tank), after.get(tank)) for tank in missing]
    found += [step for key, step in on_trail.items() if key not in told and since <= step.day <= until]
    return tuple(sorted(found, key=lambda step: (step.day, step.tank, step.what)))


def _words(changes: Iterable[Change]) -> str:
    return "; ".join(f"{KINDS.get(change.kind, '')}{change.before} → {change.after}" for change in changes)


def _subject(changes: Sequence[Change]) -> str:
    """What changed, where it was one thing; else the tank."""
    subjects = {change.subject for change in changes}
    return subjects.pop() if len(subjects) == 1 else changes[0].tank


def _step(
    tank: str, day: date, changes: Sequence[Change], before: Assessment | None, after: Assessment | None
) -> MarginStep:
    return MarginStep(
        tank,
        day,
        _subject(changes),
        _words(changes),
        before.margin if before is not None else None,
        after.margin if after is not None else None,
        before.state if before is not None else None,
        after.state if after is not None else None,
    )


def _on_trail(checks: Iterable[MarginCheck]) -> dict[tuple[str, str], MarginStep]:
    """Hot-day checks that were kept before and after one cause, by tank and cause."""
    before: dict[tuple[str, str], MarginCheck] = {}
    found: dict[tuple[str, str], MarginStep] = {}
    for check in checks:
        when, _, cause = check.cause.partition(" ")
        key = check.tank, cause
        if check.scenario != Scenario.HOT_DAY:
            continue
        if when == "before":
            before[key] = check
        elif when == "after" and key in before:
            first = before[key]
            states = MarginState(first.state), MarginState(check.state)
            found[key] = MarginStep(check.tank, check.day, check.tank, cause, first.margin, check.margin, *states)
    return found


def _is_of(key: tuple[str, str], step: MarginStep, tank: str, day: date) -> bool:
    """Whether a step of the trail is about what changed on the tank that day; it may have been entered later."""
    return step.tank == tank and (step.day == day or day.isoformat() in key[1])


def _hot_day(fleet: Fleet, outlook: Outlook, tanks: Iterable[str]) -> dict[str, Assessment]:
    standing = [tank for tank in tanks if tank in fleet.tank_by_code and is_placed(fleet, tank)]
    classes = outlook.catalogue.class_by_code
    rows = assess(fleet, classes, scenarios=(Scenario.HOT_DAY,), tanks=standing, with_hours=False)
    return {row.tank: row for row in rows}
