"""The sheet for whoever looks after a closed site: each tank, what to check, what not to do, whom to call."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.outputs.lookup import Band, Lookup
from fleet.outputs.margin_rows import meanings
from fleet.outputs.people import ContactRow, StopRow, contact_rows, rows_of_stop_rules
from fleet.outputs.readings import value_words
from fleet.outputs.words import (
    CLOSED,
    DEFERENCE,
    LATE,
    NOT_A_CERTIFICATE,
    WANTING,
    capital,
    day_words,
    near_day,
    plain,
    short_day,
    soonest_words,
    usual_interval,
)
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.catalogue import TaskRule
from fleet.values.plan import Plan, Task
from fleet.values.register import Closure, Tank
from fleet.values.vocabulary import (
    ClientKind,
    ContactRole,
    Finding,
    Health,
    PerformedBy,
    ReadingQuantity,
    Scenario,
)

SHORTEST_DAYS = 3
"""A closure of so many days or more is handed over (common practice)."""
BEFORE = timedelta(days=14)
"""Work of so long before the closure belongs to getting ready for it."""
DAILY_DAYS = 3.5
"""A rule of the people on site with a shorter usual interval is a daily look."""
TANKS_ABREAST = 6
LONGEST_GRID = 45
STOPS = (1, 3, 4, 5, 6, 7, 18, 23)
"""Stop rules for somebody who only looks: limits, rates, tripped protection, shock, water, gas, a stand that gives."""
FIRST = (ContactRole.KEY_HOLDER, ContactRole.ON_CALL, ContactRole.CLIENT)
NEVER = (
    "Do not open a case or touch pipes, valves and wiring of a cooling unit.",
    "Do not change a set point, and do not switch anything off at a strip or breaker unless a rule below says so.",
    "Do not put a hand into the water while anything electric stands in it.",
    "Do not reset a protective switch more than once, and never bridge it.",
    "Do not feed more than the portions laid out; when the water is warm, feed nothing.",
    "Do not put loose ice, tap water or anything else into a tank; ice goes in sealed bottles, and only after a call.",
    "Do not stand or hang anything before vents, screens and fans; leave the doors of stands as they are.",
)
"""Common practice for people who are not trained."""


@dataclass(frozen=True, slots=True)
class TankLine:
    name: str
    card: str
    room: str
    animals: str
    health: str
    target: str
    call_when: tuple[str, ...]
    last: str
    cooling_lost: str
    ac_lost: str
    worry: str


@dataclass(frozen=True, slots=True)
class WorkLine:
    """Work that belongs before the closure, or falls inside it."""

    when: str
    title: str
    subject: str
    key: str


@dataclass(frozen=True, slots=True)
class CheckLine:
    title: str
    how_often: str
    steps: tuple[str, ...]
    right_when: str


@dataclass(frozen=True, slots=True)
class Grid:
    """Boxes to fill in: a row for each day, a column for each tank with the span in which its water belongs."""

    tanks: tuple[tuple[str, str], ...]
    days: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HandOver:
    site: str
    client: str
    span: str
    reason: str
    rooms: str
    contacts: tuple[ContactRow, ...]
    tanks: tuple[TankLine, ...]
    has_conditioning: bool
    meanings: tuple[str, ...]
    before: tuple[WorkLine, ...]
    done: tuple[WorkLine, ...]
    inside: tuple[WorkLine, ...]
    checks: tuple[CheckLine, ...]
    never: tuple[str, ...]
    stops: tuple[StopRow, ...]
    grids: tuple[Grid, ...]
    closing: str
    estimate: str


def coming_closures(lookup: Lookup, plan: Plan) -> tuple[Closure, ...]:
    """Closures to be handed over that are not past, up to the end of the plan."""
    return tuple(
        row
        for row in lookup.fleet.closures
        if row.until is not None
        and row.until > plan.today
        and row.since <= plan.through
        and (row.until - row.since).days >= SHORTEST_DAYS
        and row.site in lookup.fleet.site_by_code
    )


class HandOvers:
    """Makes the sheets. `cards` holds the pages of tanks by code."""

    def __init__(self, plan: Plan, lookup: Lookup, assessments: Sequence[Assessment], cards: dict[str, str]) -> None:
        self.plan, self.lookup, self.cards = plan, lookup, cards
        self.today = plan.today
        self.hot = {row.tank: row for row in assessments if row.scenario is Scenario.HOT_DAY}

    def sheet(self, closure: Closure) -> HandOver:
        """The sheet of one closure, which must have an end."""
        assert closure.until is not None  # coming_closures gives no other
        lookup, fleet, site = self.lookup, self.lookup.fleet, closure.site
        last = closure.until - timedelta(days=1)
        row = fleet.site_by_code[site]
        client = fleet.client_by_code.get(row.client)
        tanks = [fleet.tank_by_code[code] for code in lookup.tanks_by_site.get(site, ())]
        open_tasks = [task for task in self.plan.tasks if task.site == site and task.state not in CLOSED]
        staff = [task for task in open_tasks if task.performed_by is PerformedBy.SITE_STAFF]
        rules = [rule for rule in (lookup.catalogue.rule_by_id.get(task.rule) for task in staff) if rule is not None]
        daily = _daily(rules)
        conditioned = any(room.site == site and room.air_conditioned is not False for room in fleet.rooms)
        return HandOver(
            site=lookup.name(site),
            client=lookup.name(row.client),
            span=f"{day_words(closure.since)} to {day_words(last)}, {(closure.until - closure.since).days} days",
            reason=closure.reason or "",
            rooms=_rooms(lookup, site),
            contacts=contact_rows(site, lookup, first=FIRST),
            tanks=tuple(self._tank(tank) for tank in tanks),
            has_conditioning=any(self.hot[t.code].hours.ac_lost is not None for t in tanks if t.code in self.hot),
            meanings=meanings({self.hot[tank.code].state for tank in tanks if tank.code in self.hot} & set(WANTING)),
            before=tuple(self._before(closure, open_tasks)),
            done=tuple(self._done(closure)),
            inside=tuple(self._inside(closure, open_tasks, {rule.id for rule in daily})),
            checks=tuple(_check(rule) for rule in daily),
            never=tuple(_never(tanks, conditioned, client.kind if client else None)),
            stops=rows_of_stop_rules(
                (rule for rule in lookup.catalogue.stop_rules if rule.number in STOPS), site, lookup
            ),
            grids=tuple(self._grids(tanks, closure.since, last)),
            closing=lookup.catalogue.hazard_closing or DEFERENCE,
            estimate=NOT_A_CERTIFICATE,
        )

    def _tank(self, tank: Tank) -> TankLine:
        lookup = self.lookup
        display = lookup.display(lookup.fleet.site_of(tank.code))
        found = self.hot.get(tank.code)
        worry = ""
        if found is not None and found.state in WANTING:
            worry = f"{plain(found.state)} on a hot day"
        return TankLine(
            name=lookup.label(tank.code),
            card=self.cards.get(tank.code, ""),
            room=lookup.name(tank.room),
            animals=", ".join(
                f"{row.count} {row.group}" if row.count is not None else row.group
                for row in lookup.fleet.animals_by_tank.get(tank.code, ())
            ),
            health=plain(tank.health) if tank.health and tank.health is not Health.CLEAN else "",
            target=display.both_temperatures(tank.target_c),
            call_when=_call_when(lookup.band(tank), display),
            last=self._last(tank, display),
            cooling_lost=soonest_words(found.hours.all_cooling_lost) if found is not None else "not known",
            ac_lost=soonest_words(found.hours.ac_lost) if found is not None else "not known",
            worry=worry,
        )

    def _last(self, tank: Tank, display: Display) -> str:
        reading = self.lookup.last_reading(tank.code, ReadingQuantity.WATER_TEMP)
        if reading is None:
            return "none on record"
        zone = self.lookup.zone(self.lookup.fleet.site_of(tank.code))
        return f"{value_words(reading, display)} on {short_day(reading.taken_at.astimezone(zone).date())}"

    def _day_of(self, task: Task) -> date:
        visit = self.plan.visit_by_key.get(task.visit or "")
        return visit.day if visit is not None else task.due

    def _before(self, closure: Closure, tasks: Iterable[Task]) -> Iterator[WorkLine]:
        """Visitors' work of the fortnight before, and whatever is late, in the order in which it comes."""
        for task in sorted(tasks, key=lambda task: (self._day_of(task), task.subject, task.order, task.key)):
            day = self._day_of(task)
            ready = closure.since - BEFORE <= day < closure.since
            if task.performed_by is PerformedBy.VISITOR and (ready or (task.state in LATE and day < closure.since)):
                yield self._work(task, day)

    def _inside(self, closure: Closure, tasks: Iterable[Task], daily: set[str]) -> Iterator[WorkLine]:
        """What falls into the closure all the same, but for the daily looks."""
        for task in sorted(tasks, key=lambda task: (self._day_of(task), task.subject, task.order, task.key)):
            day = self._day_of(task)
            if closure.since <= day and closure.until is not None and day < closure.until and task.rule not in daily:
                yield self._work(task, day)

    def _work(self, task: Task, day: date) -> WorkLine:
        return WorkLine(near_day(day, self.today), task.title, self.lookup.label(task.subject), task.key)

    def _done(self, closure: Closure) -> Iterator[WorkLine]:
        place = self.lookup.fleet.site_of
        for row in reversed(self.lookup.fleet.history):
            ready = closure.since - BEFORE <= row.done_on <= min(self.today, closure.since)
            rule = self.lookup.catalogue.rule_by_id.get(row.task)
            visitors = rule is None or rule.performed_by is PerformedBy.VISITOR
            if ready and visitors and row.finding is not Finding.NOT_INSPECTED and place(row.subject) == closure.site:
                title, subject = self.lookup.title(row.task), self.lookup.label(row.subject)
                yield WorkLine(near_day(row.done_on, self.today), title, subject, "")

    def _grids(self, tanks: Sequence[Tank], since: date, last: date) -> Iterator[Grid]:
        count = min((last - since).days + 1, LONGEST_GRID)
        days = tuple(near_day(since + timedelta(days=n), self.today) for n in range(count))
        for start in range(0, len(tanks), TANKS_ABREAST):
            abreast = tanks[start : start + TANKS_ABREAST]
            yield Grid(tuple((self.lookup.name(tank.code), self._span(tank)) for tank in abreast), days)

    def _span(self, tank: Tank) -> str:
        """The watch band in the client's unit, short enough for the head of a column."""
        display, band = self.lookup.display(self.lookup.fleet.site_of(tank.code)), self.lookup.band(tank)
        low, high = band.watch_low_c, band.watch_high_c
        if low is not None and high is not None:
            return f"{display.temperature(low)} to {display.temperature(high)}"
        if high is not None:
            return f"at most {display.temperature(high)}"
        return f"target {display.temperature(tank.target_c)}"


def _daily(rules: Iterable[TaskRule]) -> list[TaskRule]:
    known = {rule.id: rule for rule in rules}
    daily = [rule for rule in known.values() if rule.interval is not None and rule.interval.typical.days < DAILY_DAYS]
    return sorted(daily, key=lambda rule: (rule.order, rule.id))


def _check(rule: TaskRule) -> CheckLine:
    return CheckLine(rule.title, usual_interval(rule.interval), rule.steps, capital(rule.acceptance))


def _call_when(band: Band, display: Display) -> tuple[str, ...]:
    ends = tuple(
        f"{side} {display.both_temperatures(limit)}"
        for side, limit in (("below", band.act_low_c), ("above", band.act_high_c))
        if limit is not None
    )
    return ends or ("no limit is set",)


def _rooms(lookup: Lookup, site: str) -> str:
    """How the air conditioning is to be left."""
    cooled = [room.name for room in lookup.fleet.rooms if room.site == site and room.air_conditioned is True]
    if not cooled:
        return ""
    return f"The air conditioning stays on, as it is set: {', '.join(cooled)}."


def _never(tanks: Sequence[Tank], conditioned: bool, kind: ClientKind | None) -> Iterator[str]:
    yield from NEVER
    if conditioned:
        yield "Do not switch off the air conditioning of a room with tanks, nor open its windows on a hot day."
    if any(tank.salinity_g_per_kg or "marine" in tank.kind or tank.kind == "reef" for tank in tanks):
        yield "Do not top up with salt water: what evaporated is fresh. Twice the usual amount may be a leak: call."
    if any(tank.health in (Health.QUARANTINE, Health.SICK) for tank in tanks):
        yield "Do not carry nets, jugs, hands or water from one tank to another; the sick and quarantined come last."
    if kind is ClientKind.SCHOOL:
        yield "No pupil is at the tanks without an adult."
