"""The catalogue of service tasks as typed values. Its text is data, read from files by fleet/files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from fleet.values.vocabulary import (
    DeviceKind,
    EquipmentKind,
    PerformedBy,
    ReadingQuantity,
    Skill,
    SubjectKind,
    Tolerance,
    Where,
)


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time as people say it: 4 weeks, 48 months, 24 hours."""

    count: int
    unit: str
    """hour, day, week or month"""

    @property
    def days(self) -> float:
        """Length in days, a month counted as 30.4375 (for shares of an interval; dates use the calendar)."""
        return self.count * {"hour": 1 / 24, "day": 1.0, "week": 7.0, "month": 30.4375}[self.unit]

    def __str__(self) -> str:
        return f"{self.count} {self.unit}{'' if self.count == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class Interval:
    """Shortest, usual and longest time since a task was last done."""

    minimum: Span
    typical: Span
    maximum: Span


@dataclass(frozen=True, slots=True)
class SeasonWindow:
    """A window beside a season of the site. `weeks_*` count back from its first day, or on from its last.

    edge "before": opens `weeks_open` before the first day, aims at `weeks_aim`, closes `weeks_last` before it.
    edge "after": opens on the season's last day, aims at `weeks_aim` after it, closes at `weeks_last` after it.
    """

    season: str
    """hot or cold"""
    edge: str
    """before or after"""
    weeks_open: int
    weeks_aim: int
    weeks_last: int


@dataclass(frozen=True, slots=True)
class EventTrigger:
    """Fires once for each event of that name on the subject (or on what the subject belongs to).

    Names are the EventKind words, the ChangeKind words, and those that only records can tell:
    reading-out-of-watch, reading-out-of-act, closure, device-added, pump-changed, work-recorded.
    `then_after` are further occurrences counted from the event (a recheck at 30 days).
    """

    event: str
    within: Span
    then_after: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class ConditionTrigger:
    """Fires when the last reading of `quantity` on the subject is beyond `limit` (`above` or below it)."""

    quantity: ReadingQuantity
    above: bool
    limit: float
    within: Span
    words: str


@dataclass(frozen=True, slots=True)
class RunningHours:
    """Hours of running since last done; needs running-hours readings."""

    minimum: int
    typical: int
    maximum: int


@dataclass(frozen=True, slots=True)
class Factor:
    """A named condition that shortens (multiplier < 1) or lengthens (> 1) the usual interval."""

    condition: str
    multiplier: float


@dataclass(frozen=True, slots=True)
class Consumable:
    name: str
    quantity: float
    unit: str


@dataclass(frozen=True, slots=True)
class ReadingSpec:
    """A reading to take. `quantity` is None where the register has no column for it and it is written as a note.

    `low` and `high` are the expected band in the reading's own unit, None where that side is open; `relative_to` names
    what the band is measured from (baseline, room-temp, target, supply-ph), None for the value itself.
    """

    label: str
    unit: str
    quantity: ReadingQuantity | None = None
    low: float | None = None
    high: float | None = None
    relative_to: str | None = None


@dataclass(frozen=True, slots=True)
class Selector:
    """Which subjects a task is for. Every stated part must hold; an empty part does not restrict.

    `needs` are named facts about the subject, all of which must be true; planning/subjects.py defines each.
    """

    subject: SubjectKind
    device_kinds: tuple[DeviceKind, ...] = ()
    equipment_kinds: tuple[EquipmentKind, ...] = ()
    placed: tuple[Where, ...] = ()
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TaskRule:
    """One kind of service task. `order` sorts the tasks on one subject: dry cleaning, wet work, electrical, tests.

    `steps`, `acceptance` and hazards are printed on the sheet. `source` is a published source; `basis` is
    published, common practice or from memory.
    """

    id: str
    title: str
    selector: Selector
    tolerance: Tolerance
    minutes: int
    persons: int
    skill: Skill
    performed_by: PerformedBy
    order: int
    steps: tuple[str, ...]
    acceptance: str
    basis: str
    source: str
    interval: Interval | None = None
    seasons: tuple[SeasonWindow, ...] = ()
    events: tuple[EventTrigger, ...] = ()
    conditions: tuple[ConditionTrigger, ...] = ()
    running_hours: RunningHours | None = None
    factors: tuple[Factor, ...] = ()
    prerequisites: tuple[str, ...] = ()
    pairs: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    consumables: tuple[Consumable, ...] = ()
    readings: tuple[ReadingSpec, ...] = ()
    hazards: tuple[str, ...] = ()
    season_only: bool = False
    """True: the interval runs only inside the site's hot season."""
    from_age_years: float | None = None
    """The interval begins at this age of the device."""


@dataclass(frozen=True, slots=True)
class Hazard:
    code: str
    title: str
    text: str
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class AnimalClass:
    """Temperature bands of a class of animals, °C; None where that side has no band."""

    code: str
    name: str
    aliases: tuple[str, ...]
    target_low_c: float
    target_high_c: float
    watch_low_c: float | None
    watch_high_c: float | None
    act_low_c: float | None
    act_high_c: float | None
    lethal_low_c: float | None
    lethal_high_c: float | None
    invertebrate: bool
    evidence: str


@dataclass(frozen=True, slots=True)
class StopRule:
    """When to leave a device safe and off, and whom to call. `hazards` and `tasks` say where it is printed."""

    number: int
    sign: str
    action: str
    call: str
    roles: tuple[str, ...]
    """Contact roles whose numbers are printed beside it."""
    hazards: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Catalogue:
    rules: tuple[TaskRule, ...]
    hazards: tuple[Hazard, ...]
    animal_classes: tuple[AnimalClass, ...]
    stop_rules: tuple[StopRule, ...]

    @cached_property
    def rule_by_id(self) -> dict[str, TaskRule]:
        return {rule.id: rule for rule in self.rules}

    @cached_property
    def hazard_by_code(self) -> dict[str, Hazard]:
        return {hazard.code: hazard for hazard in self.hazards}

    @cached_property
    def class_by_code(self) -> dict[str, AnimalClass]:
        """Animal classes by code and by every alias."""
        by_code = {alias: row for row in self.animal_classes for alias in row.aliases}
        by_code.update((row.code, row) for row in self.animal_classes)
        return by_code
