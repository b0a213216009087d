"""The catalogue of service tasks as typed values. Its text is data, read from files by fleet/files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from fleet.values.refrigerants import flammable_or_unknown
from fleet.values.register import Device
from fleet.values.vocabulary import (
    DerivedQuantity,
    DeviceKind,
    EquipmentKind,
    EventKind,
    PerformedBy,
    ReadingQuantity,
    Skill,
    SubjectKind,
    Tolerance,
    Where,
)

UNIT_OF_QUANTITY: Mapping[ReadingQuantity | DerivedQuantity, str] = {
    ReadingQuantity.FLOW: "m3/h",
    ReadingQuantity.POWER: "W",
    ReadingQuantity.RUN_SHARE_PERCENT: "%",
    ReadingQuantity.RUNNING_HOURS: "h",
    ReadingQuantity.SALINITY: "g/kg",
    ReadingQuantity.HUMIDITY_PERCENT: "%",
    ReadingQuantity.TOPOFF_L_PER_DAY: "L/day",
    ReadingQuantity.COPPER_UG_PER_L: "µg/L",
    ReadingQuantity.OXYGEN_MG_PER_L: "mg/L",
    ReadingQuantity.RINSE_PH: "pH",
    ReadingQuantity.SUPPLY_PH: "pH",
    ReadingQuantity.PROBE_OFFSET: "K",
    ReadingQuantity.TRIP_TIME_MS: "ms",
    ReadingQuantity.ALARM_MINUTES: "min",
    DerivedQuantity.OUTPUT_SHARE_PERCENT: "%",
}
"""Unit of each quantity of the register; those that are not here are temperatures in °C."""

FLAMMABLE_REFRIGERANT = "H5"
"""Code of the caution that goes with every chiller whose refrigerant may burn."""


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
    tell_margin: bool = False
    """Say in the reason how the tank's margin on the hot day stands."""


@dataclass(frozen=True, slots=True)
class EventTrigger:
    """Fires once for each event of that name on the subject, on what it belongs to (room, site), or on a device or
    equipment that serves it. Events of one rule on one subject within 7 days count once, whatever their names.

    `event` is one of catalogue_names.EVENT_NAMES. `then_after` are further occurrences counted from the event
    (a recheck at 30 days).
    `tasks` are the catalogue ids that count for work-recorded, finding-degraded and finding-fault.
    `lead` is None for work after the event, due `within` it. With a `lead` the event is known beforehand (a closure)
    and the work is done before it: opening `lead` before its first day, closing `within` before it.
    `longer_than_days`: only closures of more days than this.
    `if_margin_moves`: only dated changes that leave the tank's margin on the hot day in another state or 5 points
    lower (where there is none, its need 5 % higher); also where that is not known.
    """

    event: str
    within: Span
    then_after: tuple[Span, ...] = ()
    tasks: tuple[str, ...] = ()
    lead: Span | None = None
    longer_than_days: int = 0
    if_margin_moves: bool = False


@dataclass(frozen=True, slots=True)
class ConditionTrigger:
    """Fires when the last reading of `quantity` on the subject, or on a tank that it serves, is beyond `limit` (`above`
    or below it) and neither the task nor one of `restored_by` was done on that reading's day or later.

    `words` name what is measured. With `minus` it is the difference from the last reading of that second quantity on
    the same subject, or on its room, within one day of the first; without such a reading it does not fire.
    `over_baseline`: the limit is on the change since the earliest such value on record; `share_of_baseline`: it is on
    the value in percent of that. `like_room_within_k`: only values taken in rooms that close to each other are
    compared. `soon_after`: only values count that were taken when each of these tasks was lately done.
    `trend`: fires ahead too, for the day on which the values since that work are expected to pass the limit.
    """

    quantity: ReadingQuantity | DerivedQuantity
    above: bool
    limit: float
    within: Span
    words: str
    minus: ReadingQuantity | None = None
    over_baseline: bool = False
    share_of_baseline: bool = False
    like_room_within_k: float | None = None
    trend: bool = False
    restored_by: tuple[str, ...] = ()
    soon_after: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit of the values and of the limit, as people write it."""
        if self.share_of_baseline:
            return "%"
        unit = UNIT_OF_QUANTITY.get(self.quantity, "°C")
        return "K" if unit == "°C" and (self.minus is not None or self.over_baseline) else unit


@dataclass(frozen=True, slots=True)
class RunningHours:
    """Hours of running since last done; needs running-hours readings."""

    minimum: int
    typical: int
    maximum: int


@dataclass(frozen=True, slots=True)
class Factor:
    """A condition out of catalogue_names.FACTOR_CONDITIONS that moves the usual interval: multiplier below 1 shortens
    it, above 1 lengthens it."""

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

    `needs` are names out of catalogue_names.NEEDS, all of which must be true of the subject.
    """

    subject: SubjectKind
    device_kinds: tuple[DeviceKind, ...] = ()
    equipment_kinds: tuple[EquipmentKind, ...] = ()
    placed: tuple[Where, ...] = ()
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TaskRule:
    """One kind of service task. `order` sorts the tasks on one subject: dry cleaning from 10, air side 20,
    measuring 30, wet work 40, parts and records 50, electrical 60, tests of protection 90.

    `steps`, `acceptance` and hazards are printed on the sheet. `basis` (published, common practice, from memory) says
    what the interval rests on, `source` where it and the figures come from.
    A rule with neither interval, season, event nor condition has an `occasion`: it makes no task and is printed as a
    standing rule. Where a rule has both an interval and seasons, the season's occurrence takes the place of an
    interval's that falls in its window.
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
    """True: the interval runs only inside the site's hot seasons; all year at a site that has none on record."""
    from_age_years: float | None = None
    """The interval begins at this age of the device."""
    occasion: str = ""
    """When the work belongs, in words, where no record tells the moment ("at every water change")."""
    minutes_by_device_kind: Mapping[DeviceKind, int] = field(default_factory=dict)
    """Minutes for kinds of device that take another time than `minutes`."""

    def minutes_for(self, device_kind: DeviceKind | None) -> int:
        """Minutes of work on a device of that kind, or on any other subject (None)."""
        return self.minutes if device_kind is None else self.minutes_by_device_kind.get(device_kind, self.minutes)


@dataclass(frozen=True, slots=True)
class Hazard:
    """A caution. Whoever prints cautions ends them with the catalogue's `hazard_closing`."""

    code: str
    title: str
    text: str
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class AnimalClass:
    """Temperature bands of a class of animals, °C; None where that side has no band.

    `lethal_*` are the published figures at which animals of the class were lost, None where none was found. An act
    limit stands at least 2 K inside them.
    """

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
    events: tuple[EventKind, ...] = ()
    """What was reported, where the rule is told at once."""


@dataclass(frozen=True)
class Catalogue:
    rules: tuple[TaskRule, ...]
    hazards: tuple[Hazard, ...]
    animal_classes: tuple[AnimalClass, ...]
    stop_rules: tuple[StopRule, ...]
    hazard_closing: str = ""
    """The sentence that ends every list of cautions."""

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

    def hazards_for(self, rule: TaskRule, device: Device | None = None) -> tuple[Hazard, ...]:
        """The cautions of a rule on a device, in catalogue order. Any work on a chiller whose refrigerant is flammable
        or unknown carries the flammable-refrigerant caution too."""
        codes = set(rule.hazards)
        if device is not None and device.kind is DeviceKind.CHILLER and flammable_or_unknown(device):
            codes.add(FLAMMABLE_REFRIGERANT)
        return tuple(hazard for hazard in self.hazards if hazard.code in codes)

    def stop_rules_for(self, rules: Iterable[TaskRule], hazards: Iterable[str] = ()) -> tuple[StopRule, ...]:
        """The stop rules to print beside these tasks: those that name one of them or one of the hazard codes."""
        rules = tuple(rules)
        ids = {rule.id for rule in rules}
        codes = {code for rule in rules for code in rule.hazards} | set(hazards)
        return tuple(row for row in self.stop_rules if ids.intersection(row.tasks) or codes.intersection(row.hazards))

    def stop_rules_on(self, event: EventKind, caused: Iterable[str]) -> tuple[StopRule, ...]:
        """The stop rules to tell when an event is reported: those that name it or one of the tasks it causes."""
        ids = set(caused)
        return tuple(row for row in self.stop_rules if event in row.events or ids.intersection(row.tasks))
