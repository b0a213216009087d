"""The lines of a report: days of work, findings, margins before and after, visits to come."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.outputs.lookup import Lookup
from fleet.outputs.words import (
    capital,
    count_words,
    day_words,
    in_display_units,
    margin_words,
    minutes_words,
    plain,
    short_day,
)
from fleet.values.assessment import MarginStep
from fleet.values.plan import Plan, Visit
from fleet.values.register import Event, ServiceRecord
from fleet.values.spread import Spread
from fleet.values.vocabulary import Finding, MarginState, Where

PLACES = frozenset(Where)


@dataclass(frozen=True, slots=True)
class DayRow:
    """The work of one day: each kind of work once, with what it was done on."""

    day: str
    by: str
    work: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KindRow:
    title: str
    times: str
    last: str


@dataclass(frozen=True, slots=True)
class FoundRow:
    """Something that was not as it should be. `since` tells what the next look found."""

    day: str
    what: str
    subject: str
    finding: str
    note: str
    since: str


@dataclass(frozen=True, slots=True)
class StepRow:
    day: str
    tank: str
    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class NextRow:
    day: str
    work: str
    tasks: tuple[str, ...]


def day_rows(records: Iterable[ServiceRecord], lookup: Lookup) -> Iterator[DayRow]:
    """A row for each day with work, latest first."""
    by_day: dict[date, list[ServiceRecord]] = defaultdict(list)
    for record in records:
        by_day[record.done_on].append(record)
    for day, rows in sorted(by_day.items(), reverse=True):
        people = dict.fromkeys(lookup.note(lookup.name(row.by)) for row in rows if row.by)
        work = _work_lines(((lookup.title(row.task), row.subject) for row in rows), lookup)
        yield DayRow(day_words(day), ", ".join(people), work)


def _work_lines(pairs: Iterable[tuple[str, str]], lookup: Lookup) -> tuple[str, ...]:
    """Work of one call as lines, from pairs of a title and a subject: by subject where those are fewer."""
    by_title: dict[str, list[str]] = defaultdict(list)
    by_subject: dict[str, list[str]] = defaultdict(list)
    for title, subject in pairs:
        label = lookup.label(subject)
        if label not in by_title[title]:
            by_title[title].append(label)
            by_subject[label].append(title)
    if len(by_subject) < len(by_title):
        return tuple(f"{label}: {', '.join(_small(titles))}" for label, titles in by_subject.items())
    return tuple(f"{title}: {', '.join(labels)}" for title, labels in by_title.items())


def _small(titles: Sequence[str]) -> Iterator[str]:
    """Titles within a sentence: a small first letter, but for names such as GFCI."""
    for title in titles:
        yield title if title[1:2].isupper() else title[:1].lower() + title[1:]


def kind_rows(records: Iterable[ServiceRecord], lookup: Lookup) -> Iterator[KindRow]:
    """A row for each kind of work, the most frequent first."""
    kinds: dict[str, list[date]] = defaultdict(list)
    for row in records:
        kinds[row.task].append(row.done_on)
    for task, days in sorted(kinds.items(), key=lambda item: (-len(item[1]), item[0])):
        yield KindRow(lookup.title(task), count_words(len(days), "time"), short_day(max(days)))


def found_rows(records: Iterable[ServiceRecord], events: Iterable[Event], lookup: Lookup) -> tuple[FoundRow, ...]:
    """Findings other than sound, and events, latest first."""
    found: list[tuple[date, FoundRow]] = []
    for row in records:
        if row.finding is not None and row.finding is not Finding.SOUND:
            line = FoundRow(
                day=short_day(row.done_on),
                what=lookup.title(row.task),
                subject=lookup.label(row.subject),
                finding=plain(row.finding),
                note=lookup.note(row.note),
                since=_since(row, lookup),
            )
            found.append((row.done_on, line))
    for event in events:
        what, note = capital(plain(event.event)), lookup.note(event.note)
        found.append((event.on, FoundRow(short_day(event.on), what, lookup.label(event.subject), "event", note, "")))
    return tuple(line for _, line in sorted(found, key=lambda item: item[0], reverse=True))


def _since(record: ServiceRecord, lookup: Lookup) -> str:
    """What the next look at the same thing found."""
    later = [row for row in lookup.records(record.subject, record.task) if row.done_on > record.done_on]
    if not later:
        return "not looked at again"
    return f"{plain(later[-1].finding or 'done')} on {short_day(later[-1].done_on)}"


def step_row(step: MarginStep, lookup: Lookup) -> StepRow:
    """A change with the margin before and after it."""
    display = lookup.display(lookup.fleet.site_of(step.tank))
    what = _with_names(in_display_units(step.what, display), lookup)
    if step.subject != step.tank:
        what = f"{lookup.label(step.subject)}: {what}"
    return StepRow(
        day=short_day(step.day),
        tank=lookup.label(step.tank),
        what=lookup.note(what),
        before=_margin(step.before, step.state_before),
        after=_margin(step.after, step.state_after),
    )


def _with_names(text: str, lookup: Lookup) -> str:
    """The words of a change with names for codes, and without the hyphens of the register's words."""

    def spoken(found: re.Match[str]) -> str:
        word = found.group()
        if word in lookup.fleet.kind_by_code:
            return lookup.name(word)
        return plain(word) if word in PLACES else word

    return re.sub(r"[\w.-]+", spoken, text)


def _margin(margin: Spread | None, state: MarginState | None) -> str:
    if state is None:
        return "no tank"
    return plain(state) if margin is None else f"{margin_words(margin)}, {plain(state)}"


def next_row(visit: Visit, plan: Plan, lookup: Lookup) -> NextRow:
    """A visit to come with its work."""
    tasks = [plan.task_by_key[key] for key in visit.tasks if key in plan.task_by_key]
    return NextRow(
        day=day_words(visit.day),
        work=f"{count_words(len(tasks), 'task')}, {minutes_words(visit.minutes)}",
        tasks=_work_lines(((task.title, task.subject) for task in tasks), lookup),
    )
