"""The occurrences of one rule on one subject: which are wanted, when, and why.

A rule that comes back (by an interval or by running hours) makes one line of numbered occurrences. An event, a
condition or a season does not add a second job to that line: it pulls the next occurrence forward, or lays it into
the season's window. A rule that does not come back makes one occurrence for each event, condition or season.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta

from fleet.planning.keys import stable_number
from fleet.planning.recurrence import (
    EARLY_SHARE,
    ONE_DAY,
    FixedCalendar,
    Window,
    applied_interval,
    next_after,
    tolerance_window,
)
from fleet.planning.seasons import Season, hot_seasons
from fleet.planning.situations import (
    FIRST_DUE,
    NAMES_APART,
    OWN_DUE,
    STANDS_FOR,
    Call,
    Numbers,
    Occurrence,
    Situation,
    is_frequent_look,
)
from fleet.planning.words import day_words, sentence
from fleet.values.catalogue import Span
from fleet.values.plan import AppliedFactor, Cause
from fleet.values.vocabulary import CauseKind, PerformedBy, Tolerance

FIRST_A0_DAYS = 14
FIRST_A_DAYS = 28
FIRST_A_SHARE = 1 / 3
NEXT_VISIT_DAY_WITHIN = 92
MONTH, MANY_DAYS = Span(1, "month"), 92
"""From so many days on, an interval that factors moved is told in months."""


def occurrences(situation: Situation) -> list[Occurrence]:
    """Every occurrence due up to `through`, in order of its due day."""
    told = situation.own.told if situation.own is not None else ()
    found = _wanted(situation)
    if told:
        found = [_saying(one, told) for one in found]
    if found and situation.content:
        found[0] = _saying(found[0], situation.content)
    return found


def _saying(one: Occurrence, more: Sequence[str]) -> Occurrence:
    return replace(one, cause=replace(one.cause, text=" ".join([one.cause.text, *map(sentence, more)])))


def _wanted(situation: Situation) -> list[Occurrence]:
    span, by_hours = _span(situation)
    if span is None:
        return [
            Occurrence(
                situation.rule, situation.subject, call.occurrence, call.window, call.cause, answers=call.answers
            )
            for call in situation.calls
            if call.window.due <= situation.through
        ]
    return list(_Line(situation, span, by_hours).walk())


def _span(situation: Situation) -> tuple[Span | None, bool]:
    """The interval that applies, and whether it comes from running hours."""
    rule = situation.rule
    by_calendar = None
    if rule.interval is not None:
        by_calendar = applied_interval(rule.interval, [one.multiplier for one in situation.factors])
    if rule.running_hours is None or not situation.hours_a_day:
        return by_calendar, False
    by_hours = Span(max(1, math.floor(rule.running_hours.typical / situation.hours_a_day)), "day")
    if by_calendar is not None and by_calendar.days <= by_hours.days:
        return by_calendar, False
    return by_hours, True


class _Line:
    """Walks the numbered occurrences of a rule that comes back."""

    def __init__(self, situation: Situation, span: Span, by_hours: bool) -> None:
        self.of, self.span, self.by_hours = situation, span, by_hours
        self.rule, self.today = situation.rule, situation.today
        self.longest = self._longest()
        self.number = self._first_number()
        self.last_done = situation.done[-1] if situation.done else None
        self.fixed = self.rule.tolerance is Tolerance.A0
        self.frequent = is_frequent_look(self.rule.performed_by, span.days)
        self.calendar: FixedCalendar | None = None
        if self.fixed and situation.done:
            self.calendar = FixedCalendar(situation.done[0], span)
            for day in situation.done[1:]:
                self.calendar.use_up(day)

    def _longest(self) -> Span:
        if self.by_hours and self.rule.running_hours is not None and self.of.hours_a_day:
            return Span(max(1, math.floor(self.rule.running_hours.maximum / self.of.hours_a_day)), "day")
        return self.span if self.rule.interval is None else self.rule.interval.maximum

    def walk(self) -> Iterator[Occurrence]:
        calls = sorted(self.of.calls, key=lambda call: (call.window.due, call.window.earliest, call.occurrence))
        normal = self._first()
        if normal is None and not calls:
            return
        number = self.number
        only_next = self.rule.performed_by is PerformedBy.SITE_STAFF
        late_before = False
        while True:
            if normal is None:
                call = calls[0]
                window, taken = call.window, [call]
            else:
                if late_before:
                    normal = self._held(normal, f"n{number}")
                window, taken = self._with_calls(normal, calls)
            if window.due > self.of.through:
                return
            yield Occurrence(
                self.rule,
                self.of.subject,
                f"n{number}",
                window,
                self._cause(normal, window, taken, projected=number != self.number, after_late=late_before),
                self.last_done,
                self._factors(),
                round(self.span.days, 2),
            )
            if only_next or normal is None:
                return
            calls = [
                call
                for call in calls
                if call not in taken and call.window.earliest > window.due and not call.only_pulls
            ]
            late_before = window.due < self.today
            normal = self._after(max(window.due, self.today))
            number += 1

    def _factors(self) -> tuple[AppliedFactor, ...]:
        if self.rule.interval is None:
            return ()
        return (*(self.of.own.factors if self.of.own is not None else ()), *self.of.factors)

    def _first_number(self) -> int:
        """One more than the completions on record. An occurrence in the previous plan keeps its number, moved on by
        the completions recorded since."""
        numbered = [int(name[1:]) for name in self.of.before if name[:1] == "n" and name[1:].isdigit()]
        if not numbered:
            return len(self.of.done) + 1
        number = min(numbered)
        task = self.of.before[f"n{number}"]
        return number + sum(task.follows is None or day > task.follows for day in self.of.done)

    def _window(self, due: date, after: date | None, limit: date | None) -> Window:
        seasonal = self._in_season(due)
        if seasonal != due:
            return tolerance_window(self.rule.tolerance, seasonal, self.span.days, after=after)
        return tolerance_window(self.rule.tolerance, due, self.span.days, after=after, limit=limit)

    def _first(self) -> Window | None:
        """The next occurrence as its interval has it. None where the interval has not begun and nothing tells when."""
        begins = self._begins()
        if begins is None and self.rule.from_age_years is not None:
            return None
        if self.last_done is not None:
            due = self.calendar.next_due if self.calendar is not None else next_after(self.last_done, self.span)
            if begins is not None and begins > due:
                return self._window(begins, self.last_done, None)
            return self._window(due, self.last_done, next_after(self.last_done, self.longest))
        if begins is not None and begins > self.today:
            return self._window(begins, None, None)
        return self._never_recorded()

    def _begins(self) -> date | None:
        """The day on which the device comes to the age from which the rule counts."""
        begun = self.of.subject.begun
        if self.rule.from_age_years is None or begun is None:
            return None
        return begun + relativedelta(months=round(self.rule.from_age_years * 12))

    def _never_recorded(self) -> Window:
        if self.frequent:
            due = self._in_season(self.today)
            return Window(due, due, due)
        begun = self.of.subject.begun
        planned = self._first_due_before()
        if planned is not None:
            due = planned
        elif begun is not None and self.rule.from_age_years is None and next_after(begun, self.span) > self.today:
            due = next_after(begun, self.span)
        else:
            due = self.today + timedelta(days=self._spread_days())
        window = self._window(self._visitable(due), None, None)
        if begun is not None and window.earliest <= begun < window.due:
            return replace(window, earliest=begun + ONE_DAY)
        return window

    def _first_due_before(self) -> date | None:
        """The first due day that the plan before had, as it was before an event, a season or a visit moved it: those
        are found again from what called for them."""
        before = self.of.before.get(f"n{self.number}")
        told = None if before is None else before.cause.numbers.get(FIRST_DUE)
        return date.fromisoformat(told) if isinstance(told, str) else None

    def _visitable(self, due: date) -> date:
        """A first due day of a visitor's work, laid on a day on which the site can be visited."""
        days = self.of.visit_days
        due = self._in_season(due)
        if days is None or self.rule.performed_by is not PerformedBy.VISITOR or due < self.today:
            return due
        day = days.near(due, self.today, NEXT_VISIT_DAY_WITHIN)
        return day if self._in_season(day) == day else days.near(due, due, NEXT_VISIT_DAY_WITHIN)

    def _spread_days(self) -> int:
        """Days from today to the first due day of work that was never recorded: safety first, and not everything on
        one day. Never beyond the days planned, or it would move on for ever."""
        within = self.span.days
        if self.fixed:
            within = min(within, FIRST_A0_DAYS)
        elif self.rule.tolerance is Tolerance.A:
            within = min(within * FIRST_A_SHARE, FIRST_A_DAYS)
        within = min(within, (self.of.through - self.today).days + 1)
        share = stable_number(f"{self.of.subject.code}|{self.rule.id}") / 2**120
        return math.floor(share * within)

    def _after(self, done_on: date) -> Window:
        """The occurrence after one that is planned for `done_on`."""
        limit = next_after(done_on, self.longest)
        if not self.fixed:
            return self._window(next_after(done_on, self.span), done_on, limit)
        if self.calendar is None:
            self.calendar = FixedCalendar(done_on, self.span)
        else:
            self.calendar.use_up(done_on)
        return self._window(self.calendar.next_due, done_on, limit)

    def _held(self, window: Window, name: str) -> Window:
        """What follows late work is counted from today, and would move on every day: while it is still more than its
        early tolerance away it stays where it was planned."""
        before = self.of.before.get(name)
        if self.fixed or before is None or before.interval_days != round(self.span.days, 2):
            return window
        # What called the work forward is found again; only the interval's own day is held.
        told = before.cause.numbers.get(OWN_DUE)
        due = date.fromisoformat(told) if isinstance(told, str) else before.due
        soonest = self.today + timedelta(days=math.ceil((1 - EARLY_SHARE[self.rule.tolerance]) * self.span.days))
        if not soonest <= due <= window.due:
            return window
        return self._window(due, self.today, None)

    def _in_season(self, due: date) -> date:
        """The due day, brought into a hot season of the site where the rule runs in that season only."""
        site = self.of.site
        if not self.rule.season_only or site is None or not site.hot_seasons:
            return due
        ahead = hot_seasons(site, min(due, self.today), max(due, self.today) + timedelta(days=750))
        running = next((one for one in ahead if one.holds(self.today)), None)
        if running is not None and due < running.first:
            return running.first
        if any(one.holds(due) and (due >= self.today or one is running) for one in ahead):
            return due
        later: Sequence[Season] = [one for one in ahead if one.first >= max(due, self.today)]
        return later[0].first if later else due

    def _with_calls(self, normal: Window, calls: Sequence[Call]) -> tuple[Window, list[Call]]:
        """The window of one occurrence that answers every call it can, and those calls."""
        window, taken = normal, []
        for call in calls:
            wanted = call.window
            if call.only_pulls and wanted.due >= window.due:
                continue
            if wanted.earliest <= self.today:
                due = min(window.due, wanted.due)
                earliest = window.earliest if due < wanted.due else wanted.earliest
                window = Window(min(earliest, due), due, max(due, min(window.latest, wanted.latest)))
            elif wanted.due <= window.due:
                window = replace(wanted, latest=min(wanted.latest, window.latest))
            elif wanted.earliest <= window.latest:
                due = max(window.due, wanted.earliest)
                if self.last_done is None and due > window.due:
                    window = self._window(due, None, None)
                window = Window(max(window.earliest, wanted.earliest), due, min(window.latest, wanted.latest))
            else:
                continue
            taken.append(call)
        return window, taken

    def _cause(
        self, normal: Window | None, window: Window, taken: Sequence[Call], projected: bool, after_late: bool
    ) -> Cause:
        kept: Numbers = {}
        if after_late and normal is not None and window.due != normal.due:
            kept[OWN_DUE] = normal.due.isoformat()
        if self.last_done is None and normal is not None and not projected and not self.frequent:
            kept[FIRST_DUE] = normal.due.isoformat()
        if taken:
            kept[STANDS_FOR] = NAMES_APART.join(call.occurrence for call in taken)
        pulled = [call for call in taken if normal is None or call.window.due <= normal.due]
        if pulled:
            first, *others = pulled
            text = " ".join([first.cause.text, *_also(others)])
            return Cause(first.cause.kind, text, {**first.cause.numbers, **kept})
        own = self._own_cause(projected)
        return Cause(own.kind, " ".join([own.text, *_also(taken)]), {**own.numbers, **kept})

    def _own_cause(self, projected: bool) -> Cause:
        numbers: Numbers = {"interval_days": round(self.span.days, 2)}
        moved = "".join(
            f" {'Shortened' if one.multiplier < 1 else 'Lengthened'} (× {one.multiplier:g}): {one.reason}."
            for one in self.of.factors
        )
        every = f"Every {_times(self.span)}"
        if self.by_hours and self.rule.running_hours is not None and self.of.hours_a_day:
            hours, a_day = self.rule.running_hours.typical, self.of.hours_a_day
            numbers |= {"running_hours": hours, "hours_a_day": round(a_day, 2)}
            every, moved = f"Every {hours:,} running hours, at {a_day:.1f} h a day", ""
        if self.last_done is None:
            begun = self.of.subject.begun
            known = f", on record since {day_words(begun)}" if begun is not None else ""
            return Cause(CauseKind.NEVER_RECORDED, f"Never recorded{known}. {every}.{moved}", numbers)
        kind = CauseKind.RUNNING_HOURS if self.by_hours else CauseKind.CALENDAR if self.fixed else CauseKind.INTERVAL
        numbers["last_done"] = self.last_done.isoformat()
        done = f"last done on {day_words(self.last_done)}"
        if projected:
            done += ", further ahead counted from the planned days"
        if self.fixed:
            done += ", on a fixed calendar"
        return Cause(kind, f"{every}, {done}.{moved}", numbers)


def _times(span: Span) -> str:
    """ "6 months", "week"; "34 months or so" for what factors left as many days."""
    if span.unit == "day" and span.count >= MANY_DAYS:
        return f"{round(span.days / MONTH.days)} months or so"
    return span.unit if span.count == 1 else str(span)


def _also(calls: Sequence[Call]) -> list[str]:
    return [sentence(f"also: {call.cause.text}") for call in calls]
