"""Readings as values that a condition is set on: whether they meet it, and when they are expected to.

A condition is about one thing: the value itself, its difference from another reading, its change or its share since the
earliest on record, or what the heat balance makes of several readings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleet.planning.recurrence import Window, add_span, tolerance_window
from fleet.planning.subjects import Subject
from fleet.planning.trends import Point, expected_crossing
from fleet.planning.triggers import Happening
from fleet.planning.words import day_words
from fleet.values.assessment import OutputShare
from fleet.values.catalogue import ConditionTrigger
from fleet.values.fleet import Fleet
from fleet.values.register import Reading
from fleet.values.vocabulary import CauseKind, DerivedQuantity, ReadingQuantity, Tolerance

PAIRED_WITHIN = timedelta(days=1)
SOON_AFTER_DAYS = 56
"""Work counts as lately done for eight weeks: long enough to measure at the next call, too short for much new dirt."""
ERROR_K, ERROR_SHARE = 0.5, 0.03
"""One standard deviation of repeating a reading: of air at an outlet, where it is uneven; of anything else, as a share
of the value. Both from memory."""
MOST_TOLD = 4
"""Of the values that a trend rests on; the first and the last are always among them."""

Done = Mapping[tuple[str, str], Sequence[date]]
"""The days on which each rule's work was done, by subject and rule, oldest first."""


@dataclass(frozen=True, slots=True)
class Expected:
    """A condition that is not met yet, as a happening on the day of the last reading, and the window of the work."""

    happening: Happening
    window: Window


class Measurements:
    """Readings by subject and quantity, and the conditions that they meet."""

    def __init__(self, fleet: Fleet, done: Done, output_shares: Sequence[OutputShare] = ()) -> None:
        self._done = done
        self._of: dict[tuple[str, ReadingQuantity], list[Reading]] = defaultdict(list)
        for row in fleet.readings:
            self._of[row.subject, row.quantity].append(row)
        for rows in self._of.values():
            rows.sort(key=lambda row: row.taken_at)
        self._shares: dict[str, list[OutputShare]] = defaultdict(list)
        for share in sorted(output_shares, key=lambda one: one.on):
            self._shares[share.device].append(share)

    def of(self, subject: str, quantity: ReadingQuantity) -> Sequence[Reading]:
        """Oldest first."""
        return self._of.get((subject, quantity), ())

    def met(self, trigger: ConditionTrigger, rule: str, subject: Subject) -> Happening | None:
        """The condition as a happening on the day since when it has held without a break and without the work, or other
        work that restores it, having been done after it; None where the last reading does not meet it."""
        points = self._points(trigger, subject)
        return _run_beyond(trigger, points, self._restored(trigger, rule, subject)) if points else None

    def expected(self, trigger: ConditionTrigger, rule: str, tolerance: Tolerance, subject: Subject) -> Expected | None:
        """When the values since the last work that restores them are expected to meet the condition; the work is due on
        the early side of that. None where they do already, or where nothing can be told of it.

        A reading of the day of that work is taken to be of the clean device: it is taken when all is closed again.
        """
        restored = self._restored(trigger, rule, subject)
        points = [one for one in self._points(trigger, subject) if restored is None or one.on >= restored]
        if not points or _beyond(trigger, points[-1].value):
            return None
        crossing = expected_crossing(
            points, trigger.limit, above=trigger.above, limit_error=self._limit_error(trigger, subject)
        )
        if crossing is None:
            return None
        last = points[-1]
        due = max(crossing.early, add_span(last.on, trigger.within))
        window = tolerance_window(tolerance, due, (due - points[0].on).days, after=last.on)
        window = Window(window.earliest, window.due, max(window.due, crossing.likely))
        unit = f" {trigger.unit}"
        told = points if len(points) <= MOST_TOLD else [points[0], *points[-(MOST_TOLD - 1) :]]
        values = ", ".join(f"{one.value:.3g}{unit} on {day_words(one.on)}" for one in told)
        text = (
            f"{trigger.words}: {values}, {trigger.limit:g}{unit} expected about {day_words(crossing.likely)} "
            f"({day_words(crossing.early)} to {day_words(crossing.late)})"
        )
        numbers: dict[str, float | str | None] = {
            "value": last.value,
            "limit": trigger.limit,
            "expected": crossing.likely.isoformat(),
            "expected_from": crossing.early.isoformat(),
            "expected_to": crossing.late.isoformat(),
        }
        name = f"{trigger.quantity}-expected"
        return Expected(Happening(name, points[0].on, text, CauseKind.CONDITION, numbers), window)

    def _restored(self, trigger: ConditionTrigger, rule: str, subject: Subject) -> date | None:
        days = [day for task in (rule, *trigger.restored_by) for day in self._done.get((subject.code, task), ())]
        return max(days, default=None)

    def _limit_error(self, trigger: ConditionTrigger, subject: Subject) -> float:
        """What all shares of one device have in common moves the limit, not the slope."""
        shares = self._shares.get(subject.code) if trigger.quantity in tuple(DerivedQuantity) else None
        return trigger.limit * shares[-1].basis_error / shares[-1].share if shares and shares[-1].share > 0 else 0.0

    def _points(self, trigger: ConditionTrigger, subject: Subject) -> list[Point]:
        """The values of the subject, or of the first tank it serves that has any: one a day, oldest first."""
        for code in dict.fromkeys((subject.code, *subject.tanks)):
            points = self._points_of(trigger, code, subject.room)
            if points:
                by_day = {one.on: one for one in points if self._soon_after(trigger, subject, one.on)}
                return list(by_day.values())
        return []

    def _soon_after(self, trigger: ConditionTrigger, subject: Subject, day: date) -> bool:
        return all(
            any(0 <= (day - done).days <= SOON_AFTER_DAYS for done in self._done.get((subject.code, task), ()))
            for task in trigger.soon_after
        )

    def _points_of(self, trigger: ConditionTrigger, code: str, room: str | None) -> list[Point]:
        if isinstance(trigger.quantity, DerivedQuantity):
            return [Point(one.on, one.share * 100, one.error * 100) for one in self._shares.get(code, ())]
        values = self._values(trigger.quantity, trigger.minus, code, room)
        if trigger.over_baseline or trigger.share_of_baseline:
            values = self._compared(trigger, values, code, room)
        in_kelvin = trigger.unit in ("K", "°C")
        return [
            Point(taken.date(), value, ERROR_K if in_kelvin else max(abs(value) * ERROR_SHARE, 1e-6))
            for taken, value in values
        ]

    def _values(
        self, quantity: ReadingQuantity, minus: ReadingQuantity | None, code: str, room: str | None
    ) -> list[tuple[datetime, float]]:
        readings = self.of(code, quantity)
        if minus is None:
            return [(row.taken_at, row.value) for row in readings]
        found = []
        for row in readings:
            other = self._beside(minus, row.taken_at, code, room)
            if other is not None:
                found.append((row.taken_at, row.value - other))
        return found

    def _beside(self, quantity: ReadingQuantity, moment: datetime, code: str, room: str | None) -> float | None:
        """The last reading of a quantity within a day of a moment, on the subject, else on its room."""
        others = self.of(code, quantity) or (self.of(room, quantity) if room is not None else ())
        near = [one for one in others if abs(one.taken_at - moment) <= PAIRED_WITHIN]
        return near[-1].value if near else None

    def _compared(
        self, trigger: ConditionTrigger, values: Sequence[tuple[datetime, float]], code: str, room: str | None
    ) -> list[tuple[datetime, float]]:
        """Each value over the earliest on record, or over the earliest taken in a room as warm."""
        found: list[tuple[datetime, float]] = []
        rooms: list[float | None] = [None] * len(values)
        if trigger.like_room_within_k is not None:
            rooms = [self._beside(ReadingQuantity.ROOM_TEMP, taken, code, room) for taken, _ in values]
        for (taken, value), warmth in zip(values, rooms, strict=True):
            baseline = _earliest_like(values, rooms, warmth, trigger.like_room_within_k)
            if baseline is None or (trigger.share_of_baseline and baseline <= 0):
                continue
            found.append((taken, 100 * value / baseline if trigger.share_of_baseline else value - baseline))
        return found


def _earliest_like(
    values: Sequence[tuple[datetime, float]],
    rooms: Sequence[float | None],
    warmth: float | None,
    within_k: float | None,
) -> float | None:
    if within_k is None:
        return values[0][1]
    if warmth is None:
        return None
    like = (
        value
        for (_, value), other in zip(values, rooms, strict=True)
        if other is not None and abs(other - warmth) <= within_k
    )
    return next(like, None)


def _beyond(trigger: ConditionTrigger, value: float) -> bool:
    return value > trigger.limit if trigger.above else value < trigger.limit


def _run_beyond(trigger: ConditionTrigger, points: Sequence[Point], restored: date | None) -> Happening | None:
    run: list[Point] = []
    for one in reversed(points):
        if not _beyond(trigger, one.value) or (restored is not None and one.on <= restored):
            break
        run.append(one)
    if not run:
        return None
    last, unit = run[0], f" {trigger.unit}"
    return Happening(
        str(trigger.quantity),
        run[-1].on,
        f"{trigger.words}: {last.value:.3g}{unit} on {day_words(last.on)}, limit {trigger.limit:g}{unit}",
        CauseKind.CONDITION,
        {"value": last.value, "limit": trigger.limit},
    )
