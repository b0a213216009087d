"""What calls for a rule's work on a subject besides its interval: events, conditions, closures and seasons."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from fleet.planning.joined import joined, told
from fleet.planning.keys import stable_number
from fleet.planning.margins import Margins
from fleet.planning.measurements import Measurements
from fleet.planning.recurrence import ONE_DAY, Window, add_span, tolerance_window
from fleet.planning.seasons import BEFORE, HOT, seasons_of, window_beside
from fleet.planning.situations import FIRST_DUE, Call, Numbers, names_known
from fleet.planning.subjects import Subject
from fleet.planning.triggers import LOOK_BACK_DAYS, Happening, Happenings
from fleet.planning.words import day_words, sentence
from fleet.values.catalogue import EventTrigger, SeasonWindow, Span, TaskRule
from fleet.values.plan import Cause, Task
from fleet.values.register import Site
from fleet.values.vocabulary import CauseKind, Tolerance

SAME_EVENT_DAYS = 7
"""The same event on the same subject within so many days calls for its work once."""
SETTLING_IN = timedelta(weeks=2)
"""What comes into use in a season that it could not be made ready for is made ready within this time."""
TAKEN_UP_FROM_DAYS, TAKEN_UP_WITHIN_DAYS = 7, 14
"""Where a site is taken up too late for its season, that work begins after a week and is spread over two more."""
MISSED_AFTER_SEASON_DAYS = 56
"""How long work that belongs after a season is still called for when its window was missed."""
RECHECK_EARLY_SHARE = 0.3
"""How early a recheck may be, as a share of its distance from the event, where the class sets no bound."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Everything that calls for work, for one plan. `sites_taken_up` are those of whose work nothing is on record."""

    happenings: Happenings
    measurements: Measurements
    margins: Margins
    sites_taken_up: frozenset[str]
    today: date
    through: date


def calls_for(
    rule: TaskRule,
    subject: Subject,
    site: Site | None,
    done: Sequence[date],
    before: Mapping[str, Task],
    sources: Sources,
) -> list[Call]:
    """Every call that is still unanswered, by the completions `done`, sorted by due day. Those that are open together
    are one, unless the rule's work comes back anyhow and its next occurrence answers them."""
    found = [
        *_event_calls(rule, subject, done, before, sources),
        *_closure_calls(rule, subject, done, sources),
        *_condition_calls(rule, subject, sources),
    ]
    if site is not None:
        for beside in rule.seasons:
            found += _season_calls(rule, beside, subject, site, done, before, sources)
    if not comes_back(rule):
        found = joined(found, before, subject.tank, sources.margins, sources.today)
    return sorted(found, key=lambda call: (call.window.due, call.window.earliest, call.occurrence))


def comes_back(rule: TaskRule) -> bool:
    """Whether the rule makes one line of occurrences, by an interval or by running hours."""
    return rule.interval is not None or rule.running_hours is not None


def _done_in(done: Iterable[date], first: date, last: date | None = None) -> bool:
    return any(first <= day and (last is None or day <= last) for day in done)


@dataclass(slots=True)
class _Group:
    """Happenings on one subject that call for the same work once."""

    members: list[tuple[Happening, EventTrigger]] = field(default_factory=list)

    @property
    def began(self) -> date:
        return self.members[0][0].on

    @property
    def answered_from(self) -> date:
        """Work on this day or later answers every member; a repetition of the same event asks for nothing more."""
        first: dict[str, date] = {}
        for happening, _ in self.members:
            first.setdefault(happening.name, happening.on)
        return max(first.values())

    def takes(self, happening: Happening, done: Sequence[date]) -> bool:
        """Whether it falls within a week of the group. An event of another name starts a group of its own when the
        work was done in between: what it changed was not yet looked at then."""
        if (happening.on - self.began).days > SAME_EVENT_DAYS:
            return False
        repeated = any(one.name == happening.name for one, _ in self.members)
        return repeated or not _done_in(done, self.began, happening.on - ONE_DAY)


def _groups(rule: TaskRule, subject: Subject, done: Sequence[date], sources: Sources) -> list[_Group]:
    met = {
        (happening.on, trigger.within.days, happening.name, happening.text): (happening, trigger)
        for trigger in rule.events
        if trigger.lead is None
        for happening in sources.happenings.of(trigger.event, subject.code)
        if not trigger.tasks or happening.work in trigger.tasks
        if not trigger.if_margin_moves or _moves_margin(happening, subject, sources)
    }
    groups: list[_Group] = []
    for key in sorted(met):
        happening, trigger = met[key]
        if not groups or not groups[-1].takes(happening, done):
            groups.append(_Group())
        groups[-1].members.append((happening, trigger))
    return groups


def _moves_margin(happening: Happening, subject: Subject, sources: Sources) -> bool:
    if happening.kind is not CauseKind.CHANGE or subject.tank is None:
        return True
    return sources.margins.moved(subject.tank, happening.on)


def _event_calls(
    rule: TaskRule, subject: Subject, done: Sequence[date], before: Mapping[str, Task], sources: Sources
) -> Iterator[Call]:
    known = names_known(before)
    recorded = bool(done) and comes_back(rule)
    for group in _groups(rule, subject, done, sources):
        names = [f"event:{one.name}:{one.on.isoformat()}:{subject.code}" for one, _ in group.members]
        name = next((one for one in names if one in before), names[0])
        spans = {span for _, trigger in group.members for span in trigger.then_after}
        if not _done_in(done, group.answered_from):
            due = min(add_span(happening.on, trigger.within) for happening, trigger in group.members)
            window = Window(min(group.answered_from, due), due, due)
            call = _call(name, window, group, subject, sources.margins, before)
            if recorded or _is_live(call, known, sources.today):
                yield call
        for span in sorted(spans, key=lambda one: one.days):
            window = _recheck_window(rule, group.began, span)
            look = f"second look, {span} after"
            recheck = _call(f"{name}:+{span}", window, group, subject, sources.margins, before, look)
            if not _done_in(done, window.earliest) and _is_live(recheck, known, sources.today):
                yield recheck


def _call(
    name: str,
    window: Window,
    group: _Group,
    subject: Subject,
    margins: Margins,
    before: Mapping[str, Task],
    look: str = "",
) -> Call:
    first = group.members[0][0]
    clauses = tuple(dict.fromkeys(happening.text for happening, _ in group.members))
    changed_on = tuple(happening.on for happening, _ in group.members if happening.kind is CauseKind.CHANGE)
    cause = told(
        first.kind,
        clauses,
        dict(first.numbers),
        look=look,
        changed_on=changed_on,
        tank=subject.tank,
        margins=margins,
        before=before.get(name),
    )
    return Call(name, window, cause, clauses, changed_on, look)


def _recheck_window(rule: TaskRule, began: date, after: Span) -> Window:
    due = add_span(began, after)
    if rule.tolerance is Tolerance.A0:
        early = timedelta(days=math.floor(RECHECK_EARLY_SHARE * after.days))
        return Window(max(due - early, began + ONE_DAY), due, due)
    return tolerance_window(rule.tolerance, due, after.days, after=began)


def _is_live(call: Call, known: Collection[str], today: date) -> bool:
    """Calls that lie long back are kept only where the plan has had them. (Work that comes back and was done before
    has no such bound: had it been done since, the call would be answered.)"""
    return call.window.due >= today - timedelta(days=LOOK_BACK_DAYS) or call.occurrence in known


def _closure_calls(rule: TaskRule, subject: Subject, done: Sequence[date], sources: Sources) -> Iterator[Call]:
    """Work that is to be done before a closure that is known beforehand."""
    for trigger in rule.events:
        if trigger.lead is None:
            continue
        for happening in sources.happenings.of(trigger.event, subject.code):
            if happening.on <= sources.today or not _long_enough(happening, trigger):
                continue
            opens, closes = (add_span(happening.on, span, -1) for span in (trigger.lead, trigger.within))
            if not _done_in(done, opens, happening.on):
                yield Call(
                    f"event:{happening.name}:{happening.on.isoformat()}:{subject.code}",
                    Window(opens, closes, closes),
                    Cause(CauseKind.EVENT, sentence(happening.text)),
                    (happening.text,),
                )


def _long_enough(happening: Happening, trigger: EventTrigger) -> bool:
    return happening.last is None or (happening.last - happening.on).days + 1 > trigger.longer_than_days


def _condition_calls(rule: TaskRule, subject: Subject, sources: Sources) -> Iterator[Call]:
    """A condition calls for its work for as long as the last reading meets it; a trend towards one before that."""
    for trigger in rule.conditions:
        happening = sources.measurements.met(trigger, rule.id, subject)
        if happening is not None:
            due = add_span(happening.on, trigger.within)
            yield _condition_call(happening, Window(happening.on, due, due))
            continue
        expected = sources.measurements.expected(trigger, rule.id, rule.tolerance, subject) if trigger.trend else None
        if expected is not None:
            yield replace(_condition_call(expected.happening, expected.window), only_pulls=True)


def _condition_call(happening: Happening, window: Window) -> Call:
    cause = Cause(CauseKind.CONDITION, sentence(happening.text), dict(happening.numbers))
    return Call(f"condition:{happening.name}:{happening.on.isoformat()}", window, cause, (happening.text,))


def _phased_in(rule: TaskRule, subject: Subject, before: Task | None, sources: Sources) -> date | None:
    """The day for a season's work whose window was past when the first plan was made: a site that has no record of any
    work is only being taken up, and cannot have missed anything. None where it has."""
    told = None if before is None else before.cause.numbers.get(FIRST_DUE)
    if isinstance(told, str):
        return date.fromisoformat(told)
    if before is not None or subject.site not in sources.sites_taken_up:
        return None
    share = stable_number(f"{subject.code}|{rule.id}") / 2**120
    return sources.today + timedelta(days=TAKEN_UP_FROM_DAYS + math.floor(share * TAKEN_UP_WITHIN_DAYS))


def _season_calls(
    rule: TaskRule,
    beside: SeasonWindow,
    subject: Subject,
    site: Site,
    done: Sequence[date],
    before: Mapping[str, Task],
    sources: Sources,
) -> Iterator[Call]:
    first, last = sources.today - timedelta(days=400), sources.through + timedelta(weeks=beside.weeks_open + 1)
    for season in seasons_of(site, beside.season, first, last):
        window = window_beside(season, beside)
        ends = season.last if beside.edge == BEFORE else window.latest + timedelta(days=MISSED_AFTER_SEASON_DAYS)
        if comes_back(rule):
            ends = window.latest
        name = "hot" if beside.season == HOT else "cold"
        edge = "which begins" if beside.edge == BEFORE else "which ends"
        day = season.first if beside.edge == BEFORE else season.last
        text = f"{beside.edge.capitalize()} the {name} season, {edge} on {day_words(day)}"
        came = subject.in_use_since
        came_late = came is not None and came > window.latest
        if came is not None and came_late:
            due = came + SETTLING_IN
            if beside.edge != BEFORE or comes_back(rule) or due > season.last:
                continue
            window = Window(came, due, due)
            text = f"In use since {day_words(came)}; the {name} season lasts until {day_words(season.last)}"
        if sources.today > ends or window.due > sources.through or _done_in(done, window.earliest, ends):
            continue
        occurrence = f"season:{name}:{beside.edge}:{season.first.isoformat()}"
        numbers: Numbers = {}
        if not done and window.due < sources.today and not came_late:
            first_due = None if comes_back(rule) else _phased_in(rule, subject, before.get(occurrence), sources)
            if comes_back(rule) and occurrence not in names_known(before):
                continue
            if first_due is not None and first_due > ends:
                continue
            if first_due is not None:
                window = Window(min(window.earliest, first_due), first_due, first_due)
                numbers = {FIRST_DUE: first_due.isoformat()}
                text = f"Never recorded; {text[:1].lower()}{text[1:]}"
        if beside.tell_margin and subject.tank is not None:
            kept = before[occurrence].cause.numbers if occurrence in before else {}
            words, figures = sources.margins.standing(subject.tank, kept)
            text, numbers = f"{text}: {words}" if words else text, {**numbers, **figures}
        yield Call(occurrence, window, Cause(CauseKind.SEASON, sentence(text), numbers), (text,))
