"""What happened to the fleet that may call for work: events, dated changes, records of work, water out of its band.

A happening told of one thing concerns what belongs to it too: an outage at a site concerns every protective
switch there. One told of a device concerns the tanks that it serves. An outage or a storm told of one tank, and a
device that is new, concern the site as well.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from fleet.planning.subjects import Subjects
from fleet.planning.words import day_words
from fleet.values.catalogue import AnimalClass, Catalogue
from fleet.values.changes import Change
from fleet.values.fleet import Fleet
from fleet.values.register import ALWAYS, Closure, Reading, Tank
from fleet.values.vocabulary import CauseKind, ChangeKind, EventKind, Finding, ReadingQuantity, SubjectKind, Where

LOOK_BACK_DAYS = 40
"""How long a happening nobody has acted on makes a task that was not in the plan before."""
TOLD_OF_ONE_HOLDS_FOR_SITE = frozenset({str(EventKind.OUTAGE), str(EventKind.STORM), "device-added"})
OF_A_DEVICE = (ChangeKind.DEVICE_MOVED, ChangeKind.PLATE)
CONTRADICTED_WITHIN = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened on a day, by the name that a rule's trigger knows it by.

    `text` is a clause for people. `work` is the catalogue id for records of work; `last` the last day of a closure.
    """

    name: str
    on: date
    text: str
    kind: CauseKind = CauseKind.EVENT
    numbers: Mapping[str, float | str | None] = field(default_factory=dict)
    work: str | None = None
    last: date | None = None


class Happenings:
    """Every happening that may matter to a plan, by its name and by the subject that it concerns."""

    def __init__(self, fleet: Fleet, subjects: Subjects, catalogue: Catalogue, today: date, through: date) -> None:
        self._fleet, self._subjects, self._today, self._through = fleet, subjects, today, through
        self._titles = {rule.id: rule.title for rule in catalogue.rules}
        self._from = today - timedelta(days=366)
        self._found: dict[tuple[str, str], list[Happening]] = defaultdict(list)
        self._take_events()
        self._take_changes()
        self._take_records()
        self._take_additions()
        self._take_closures()
        for tank in fleet.tanks:
            self._take_excursions(tank, catalogue.class_by_code)

    def of(self, name: str, subject: str) -> Sequence[Happening]:
        """The happenings with this name that concern the subject, in no particular order."""
        return self._found.get((name, subject), ())

    def _add(self, happening: Happening, concerned: Iterable[str]) -> None:
        if happening.on < self._from or happening.on > self._through:
            return
        for code in set(concerned):
            self._found[happening.name, code].append(happening)

    def _concerned(self, code: str, name: str) -> set[str]:
        """Codes of what a happening told of `code` concerns."""
        subject = self._subjects.by_code.get(code)
        if subject is None:
            return set()
        concerned = {code, *(one.code for one in self._subjects.below(code))}
        if subject.kind in (SubjectKind.DEVICE, SubjectKind.EQUIPMENT):
            concerned.update(subject.tanks)
        if name in TOLD_OF_ONE_HOLDS_FOR_SITE and subject.site is not None:
            concerned.add(subject.site)
        return concerned

    def _take_events(self) -> None:
        for event in self._fleet.events:
            name = str(event.event)
            words = f"{name.replace('-', ' ')} at {event.subject} on {day_words(event.on)}"
            if event.note:
                words += f" ({event.note})"
            self._add(Happening(name, event.on, words), self._concerned(event.subject, name))

    def _take_changes(self) -> None:
        for change in self._fleet.changes:
            happening = Happening(
                str(change.kind),
                change.on,
                f"{change_words(change)} on {day_words(change.on)}",
                CauseKind.CHANGE,
                {"before": change.before, "after": change.after},
            )
            self._add(happening, self._concerned_by_change(change))

    def _concerned_by_change(self, change: Change) -> set[str]:
        """A change of one device concerns no other device of its tank."""
        about = self._subjects.by_code.get(change.subject)
        if change.kind in OF_A_DEVICE:
            around = {one.code for one in self._subjects.below(change.tank) if one.kind is not SubjectKind.DEVICE}
            return {change.subject, change.tank, *around}
        concerned = {change.tank, *(one.code for one in self._subjects.below(change.tank))}
        if about is not None and about.kind is SubjectKind.ROOM:
            concerned |= {about.code, *(one.code for one in self._subjects.below(about.code))}
        return concerned

    def _take_records(self) -> None:
        findings = {Finding.DEGRADED: "finding-degraded", Finding.FAULT: "finding-fault"}
        for row in self._fleet.history:
            if row.finding is Finding.NOT_INSPECTED or not self._from <= row.done_on <= self._today:
                continue
            title = self._titles.get(row.task, row.task)
            words = f"{title}, done on {row.subject} on {day_words(row.done_on)}"
            names = ["work-recorded"]
            if row.finding in findings:
                names.append(findings[row.finding])
                words += f", found {row.finding}"
            for name in names:
                self._add(Happening(name, row.done_on, words, work=row.task), self._concerned(row.subject, name))

    def _take_additions(self) -> None:
        moved_on = {
            (change.subject, change.on)
            for change in self._fleet.changes
            if change.kind is ChangeKind.DEVICE_MOVED and not change.before.startswith(str(Where.STORE))
        }
        for device in self._fleet.devices:
            began = [duty.since for duty in self._fleet.duties_by_device.get(device.code, ())]
            placement = self._fleet.placement_by_device.get(device.code)
            if placement is not None and placement.where is not Where.STORE:
                began.append(placement.since)
            days = sorted(day for day in began if day != ALWAYS and (device.code, day) not in moved_on)
            if not days or (device.installed is not None and device.installed < days[0] - timedelta(days=31)):
                continue
            words = f"{device.code} was added on {day_words(days[0])}"
            self._add(Happening("device-added", days[0], words), self._concerned(device.code, "device-added"))

    def _take_closures(self) -> None:
        for closure in _as_one_where_they_meet(self._fleet.closures):
            last = None if closure.until is None else closure.until - timedelta(days=1)
            words = f"{closure.site} is closed from {day_words(closure.since)}"
            if last is not None:
                words += f" to {day_words(last)}"
            happening = Happening("closure", closure.since, words, last=last)
            self._add(happening, self._concerned(closure.site, "closure"))

    def _take_excursions(self, tank: Tank, classes: Mapping[str, AnimalClass]) -> None:
        readings = [
            row
            for row in self._fleet.readings_by_subject.get(tank.code, ())
            if row.quantity is ReadingQuantity.WATER_TEMP and row.taken_at.date() >= self._from
        ]
        if not readings:
            return
        bands = Bands.of(tank, self._fleet, classes)
        level_before = 0
        for at, row in enumerate(readings):
            level = bands.level(row.value)
            later = readings[at + 1] if at + 1 < len(readings) else None
            if level == 1 and later is not None and bands.level(later.value) == 0:
                level = 0 if later.taken_at - row.taken_at <= CONTRADICTED_WITHIN else level
            if level > level_before:
                self._add(bands.happening(row, level), self._concerned(tank.code, ""))
            level_before = level


@dataclass(frozen=True, slots=True)
class Bands:
    """Watch and act limits of a tank, °C: its own, else those of the strictest class among its animals."""

    watch_low: float | None
    watch_high: float | None
    act_low: float | None
    act_high: float | None

    @classmethod
    def of(cls, tank: Tank, fleet: Fleet, classes: Mapping[str, AnimalClass]) -> Bands:
        held = [
            classes[row.animal_class]
            for row in fleet.animals_by_tank.get(tank.code, ())
            if row.animal_class is not None and row.animal_class in classes
        ]

        def strictest(own: float | None, limits: Iterable[float | None], highest: bool) -> float | None:
            known = [limit for limit in limits if limit is not None]
            if own is not None or not known:
                return own
            return max(known) if highest else min(known)

        return cls(
            strictest(tank.watch_low_c, (one.watch_low_c for one in held), True),
            strictest(tank.watch_high_c, (one.watch_high_c for one in held), False),
            strictest(tank.act_low_c, (one.act_low_c for one in held), True),
            strictest(tank.act_high_c, (one.act_high_c for one in held), False),
        )

    def level(self, temp_c: float) -> int:
        """0 inside the watch band, 1 outside it, 2 outside the act band."""
        if _outside(temp_c, self.act_low, self.act_high):
            return 2
        return 1 if _outside(temp_c, self.watch_low, self.watch_high) else 0

    def happening(self, reading: Reading, level: int) -> Happening:
        low, high = (self.act_low, self.act_high) if level == 2 else (self.watch_low, self.watch_high)
        above = high is not None and reading.value > high
        limit = high if above else low
        band = "act" if level == 2 else "watch"
        on = reading.taken_at.date()
        words = f"water at {reading.value:g} °C on {day_words(on)}, {'above' if above else 'below'} the {band} limit"
        return Happening(
            f"reading-out-of-{band}",
            on,
            f"{words} of {limit:g} °C",
            CauseKind.CONDITION,
            {"value": reading.value, "limit": limit},
        )


def _outside(value: float, low: float | None, high: float | None) -> bool:
    return (low is not None and value < low) or (high is not None and value > high)


def _as_one_where_they_meet(closures: Iterable[Closure]) -> list[Closure]:
    """The closures in order; those of one site that overlap, or follow each other without a day between, as one."""
    found: list[Closure] = []
    for closure in sorted(closures, key=lambda one: (one.site, one.since)):
        before = found[-1] if found and found[-1].site == closure.site else None
        if before is None or (before.until is not None and before.until < closure.since):
            found.append(closure)
        elif before.until is not None and (closure.until is None or before.until < closure.until):
            found[-1] = replace(before, until=closure.until)
    return found


def change_words(change: Change) -> str:
    """ "lights 250 W → 310 W": what names the fact on both sides is said once."""
    before, after = change.before.split(" "), change.after.split(" ")
    shared = 0
    while shared < min(len(before), len(after)) - 1 and before[shared] == after[shared] and before[shared].isalpha():
        shared += 1
    return f"{change.before} → {' '.join(after[shared:])}"
