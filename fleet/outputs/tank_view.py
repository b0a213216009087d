"""The card of one tank, as flat rows of finished text: limits, heat balance, devices, records, whom to call."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from fleet.outputs.lookup import Lookup
from fleet.outputs.outage_view import outage_list
from fleet.outputs.people import ContactRow, contact_rows
from fleet.outputs.printing import qr_code
from fleet.outputs.readings import quantity_name, value_words
from fleet.outputs.words import (
    CLOSED,
    NOT_A_CERTIFICATE,
    SCENARIO_WORDS,
    STATE_MEANING,
    capital,
    day_words,
    hours_words,
    in_display_units,
    margin_words,
    percent,
    plain,
    short_day,
    since_words,
    spare_words,
)
from fleet.units import Display
from fleet.values.assessment import Assessment, DeviceCapacity
from fleet.values.outage import Outage
from fleet.values.plan import Plan, Task
from fleet.values.register import Tank
from fleet.values.spread import Spread
from fleet.values.vocabulary import PerformedBy, Role

MOST_RECORDS = 12
WATER_SHARE = 0.85
"""Share of the outside dimensions that is taken for water where no net volume is on record."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A name with one value, or with one for each scenario."""

    name: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DeviceRow:
    device: str
    role: str
    place: str
    capacity: str
    condition: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DueRow:
    key: str
    title: str
    subject: str
    due: str
    state: str
    visit: str


@dataclass(frozen=True, slots=True)
class DoneRow:
    day: str
    title: str
    subject: str
    finding: str
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class TankCard:
    code: str
    name: str
    place: str
    kind: str
    health: str
    client: str
    limits: tuple[Fact, ...]
    water: tuple[Fact, ...]
    contents: tuple[str, ...]
    scenarios: tuple[str, ...]
    verdicts: tuple[str, ...]
    balance: tuple[Fact, ...]
    hours: tuple[Fact, ...]
    devices: tuple[DeviceRow, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    due: tuple[DueRow, ...]
    checklist: int
    done: tuple[DoneRow, ...]
    readings: tuple[Fact, ...]
    contacts: tuple[ContactRow, ...]
    first: tuple[Fact, ...]
    qr: Markup | None
    estimate: str


class CardMaker:
    """Makes the cards of a fleet's tanks from one plan and one set of assessments."""

    def __init__(
        self,
        plan: Plan,
        lookup: Lookup,
        assessments: Sequence[Assessment],
        outages: Mapping[str, Sequence[Outage]] | None = None,
        addresses: Mapping[str, str] | None = None,
    ) -> None:
        self.plan, self.lookup = plan, lookup
        self.addresses = addresses or {}
        self.first: dict[str, list[Fact]] = {}
        for outage in (outage for site in outages or {} for outage in (outages or {})[site]):
            listed = outage_list(outage, lookup)
            for line in listed.lines:
                self.first.setdefault(line.code, []).append(Fact(listed.title, (line.first,)))
        self.assessments: dict[str, list[Assessment]] = {}
        for row in assessments:
            self.assessments.setdefault(row.tank, []).append(row)
        self.tasks: dict[str, list[Task]] = {}
        for task in plan.tasks:
            if task.tank is not None and task.state not in CLOSED:
                self.tasks.setdefault(task.tank, []).append(task)

    def card(self, tank: Tank) -> TankCard:
        """Everything known, assumed, computed and done of a tank."""
        lookup, fleet = self.lookup, self.lookup.fleet
        site = fleet.site_of(tank.code)
        display = lookup.display(site)
        rows = sorted(self.assessments.get(tank.code, ()), key=lambda row: list(SCENARIO_WORDS).index(row.scenario))
        tasks = self.tasks.get(tank.code, [])
        return TankCard(
            code=tank.code,
            name=tank.name,
            place=", ".join(lookup.name(code) for code in (tank.room, site) if code),
            kind=plain(tank.kind),
            health=plain(tank.health) if tank.health else "not on record",
            client=self._client(site),
            limits=_limits(tank, lookup, display, rows),
            water=_water(tank, display),
            contents=self._contents(tank, display),
            scenarios=tuple(capital(SCENARIO_WORDS[row.scenario]) for row in rows),
            verdicts=tuple(
                f"{capital(SCENARIO_WORDS[row.scenario])}: {plain(row.state)}, {STATE_MEANING[row.state]}."
                for row in rows
            ),
            balance=_balance(rows, display),
            hours=hours_facts(rows),
            devices=self._devices(tank, rows, display),
            notes=tuple(dict.fromkeys(in_display_units(note, display) for row in rows for note in row.notes)),
            assumed=tuple(dict.fromkeys(in_display_units(phrase, display) for row in rows for phrase in row.assumed)),
            due=tuple(self._due(task) for task in tasks if task.performed_by is PerformedBy.VISITOR),
            checklist=sum(task.performed_by is PerformedBy.SITE_STAFF for task in tasks),
            done=self._done(tank),
            readings=self._readings(tank, display),
            contacts=contact_rows(site, lookup),
            first=tuple(self.first.get(tank.code, ())),
            qr=qr_code(self.addresses.get(tank.code)),
            estimate=NOT_A_CERTIFICATE,
        )

    def _client(self, site: str | None) -> str:
        row = self.lookup.fleet.site_by_code.get(site or "")
        return self.lookup.name(row.client) if row else ""

    def _around(self, tank: Tank) -> tuple[str, ...]:
        """The tank, its devices and its equipment: what the records of the card may stand under."""
        devices = [duty.device for duty in self.lookup.fleet.duties_by_tank.get(tank.code, ())]
        return tuple(dict.fromkeys((tank.code, *devices, *self.lookup.equipment_by_tank.get(tank.code, ()))))

    def _contents(self, tank: Tank, display: Display) -> tuple[str, ...]:
        lines = []
        for load in self.lookup.fleet.loads_by_tank.get(tank.code, ()):
            hours = "all day" if load.hours_per_day is None else f"{load.hours_per_day:g} h a day"
            start = f" from {load.on_from:%H:%M}" if load.on_from else ""
            where = f", {plain(load.mounting)}" if load.mounting else ""
            lines.append(
                f"{capital(plain(load.kind))}: {load.name}, {display.power(load.power_w)}, {hours}{start}{where}, "
                f"since {since_words(load.since)}"
            )
        for animals in self.lookup.fleet.animals_by_tank.get(tank.code, ()):
            count = f"{animals.count} " if animals.count is not None else ""
            known = self.lookup.catalogue.class_by_code.get(animals.animal_class or "")
            kept_as = f", kept as {known.name}" if known else ", class not on record"
            lines.append(f"Animals: {count}{animals.group}{kept_as}, since {since_words(animals.since)}")
        return tuple(lines)

    def _devices(self, tank: Tank, rows: Sequence[Assessment], display: Display) -> tuple[DeviceRow, ...]:
        """Each device on the tank with what it delivers on the first scenario assessed (the hot day)."""
        found = {device.device: device for row in reversed(rows) for device in row.devices}
        made = []
        for duty in self.lookup.fleet.duties_by_tank.get(tank.code, ()):
            capacity = found.get(duty.device)
            made.append(
                DeviceRow(
                    device=self.lookup.label(duty.device),
                    role=plain(duty.role or Role.DUTY),
                    place=self._place(duty.device, display),
                    capacity=_spread(capacity.capacity_w if capacity else None, display.power),
                    condition=_condition(capacity, display),
                    notes=tuple(in_display_units(note, display) for note in capacity.notes) if capacity else (),
                )
            )
        return tuple(made)

    def _place(self, device: str, display: Display) -> str:
        placement = self.lookup.fleet.placement_by_device.get(device)
        if placement is None:
            return "place not on record"
        where = plain(placement.where)
        clear = f", {display.length(placement.clearance_m)} clear" if placement.clearance_m is not None else ""
        return f"{where}{clear}, since {since_words(placement.since)}"

    def _due(self, task: Task) -> DueRow:
        visit = self.plan.visit_by_key.get(task.visit or "")
        return DueRow(
            task.key,
            task.title,
            self.lookup.label(task.subject),
            day_words(task.due),
            plain(task.state),
            day_words(visit.day) if visit else "no visit",
        )

    def _done(self, tank: Tank) -> tuple[DoneRow, ...]:
        records = [
            record
            for code in self._around(tank)
            for record in self.lookup.fleet.history_by_subject.get(code, ())[-MOST_RECORDS:]
        ]
        records.sort(key=lambda record: (record.done_on, record.subject, record.task), reverse=True)
        return tuple(
            DoneRow(
                short_day(record.done_on),
                self.lookup.title(record.task),
                self.lookup.label(record.subject),
                plain(record.finding) if record.finding else "",
                self.lookup.name(record.by) if record.by else "",
                record.note or "",
            )
            for record in records[:MOST_RECORDS]
        )

    def _readings(self, tank: Tank, display: Display) -> tuple[Fact, ...]:
        zone = self.lookup.zone(self.lookup.fleet.site_of(tank.code))
        return tuple(
            Fact(
                f"{self.lookup.label(code)}, {quantity_name(reading.quantity)}",
                (value_words(reading, display), short_day(reading.taken_at.astimezone(zone).date())),
            )
            for code in self._around(tank)
            for reading in self.lookup.last_readings_of(code)
        )


def _limits(tank: Tank, lookup: Lookup, display: Display, rows: Sequence[Assessment]) -> tuple[Fact, ...]:
    band = lookup.band(tank)

    def span(low: float | None, high: float | None) -> str:
        ends = []
        if low is not None:
            ends.append(f"below {display.both_temperatures(low)}")
        if high is not None:
            ends.append(f"above {display.both_temperatures(high)}")
        return " or ".join(ends) or "not set"

    facts = [
        Fact("Target", (display.both_temperatures(tank.target_c),)),
        Fact("Watch when", (span(band.watch_low_c, band.watch_high_c),)),
        Fact("Act when", (span(band.act_low_c, band.act_high_c),)),
        Fact("Limits are", (band.source,)),
    ]
    if rows:
        facts.append(Fact("Limit that the hours count to", (display.both_temperatures(rows[0].limit_c),)))
    return tuple(facts)


def _water(tank: Tank, display: Display) -> tuple[Fact, ...]:
    facts = []
    if tank.net_volume_m3 is not None:
        facts.append(Fact("Water", (f"{display.volume(tank.net_volume_m3)} net",)))
    else:
        outside = tank.length_m * tank.width_m * tank.height_m
        facts.append(Fact("Water", (f"about {display.volume(WATER_SHARE * outside)}, estimated from its dimensions",)))
    size = " × ".join(display.length(side) for side in (tank.length_m, tank.width_m, tank.height_m))
    built = [f"{plain(value)} {noun}" for value, noun in ((tank.lid, "lid"), (tank.stand, "stand")) if value]
    facts.append(Fact("Built", (", ".join([f"water {size}", *built]),)))
    return tuple(facts)


def _spread(spread: Spread | None, write: Callable[[float], str]) -> str:
    if spread is None:
        return "not known"
    return f"{write(spread.mid)} ({write(spread.low)} to {write(spread.high)})"


def _balance(rows: Sequence[Assessment], display: Display) -> tuple[Fact, ...]:
    def need(row: Assessment) -> str:
        return _spread(row.required_spread_w, display.power) if row.required_w > 0 else "none"

    writers: tuple[tuple[str, Callable[[Assessment], str]], ...] = (
        ("State", lambda row: plain(row.state)),
        ("Heat to be removed", need),
        ("Cooling available", lambda row: _spread(row.available_w, display.power) if row.available_w else "none"),
        ("Margin", lambda row: margin_words(row.margin)),
        ("Margin without the largest device", lambda row: spare_words(row.n_minus_1_margin)),
        ("Share of the day it runs", lambda row: percent(row.duty)),
        ("Warmest room air", lambda row: display.temperature(row.room_peak_c)),
        ("Warmest water", lambda row: display.temperature(row.peak_c)),
        ("Settles without cooling at", lambda row: display.temperature(row.equilibrium_c)),
        ("Evaporation", lambda row: display.volume_per_day(row.evaporation_l_per_day)),
        ("Dew point of the room", lambda row: display.temperature(row.dew_point_c)),
    )
    return tuple(Fact(name, tuple(write(row) for row in rows)) for name, write in writers) if rows else ()


def hours_facts(rows: Sequence[Assessment]) -> tuple[Fact, ...]:
    """How long until the limit for each kind of failure, one value for each of a tank's assessments."""
    if not rows:
        return ()
    return (
        Fact("All cooling of the tank lost", tuple(hours_words(row.hours.all_cooling_lost) for row in rows)),
        Fact("Largest device lost", tuple(hours_words(row.hours.largest_lost) for row in rows)),
        Fact("Room A/C lost", tuple(hours_words(row.hours.ac_lost) for row in rows)),
        Fact("Room A/C and all cooling lost", tuple(hours_words(row.hours.ac_and_cooling_lost) for row in rows)),
    )


def _condition(capacity: DeviceCapacity | None, display: Display) -> str:
    if capacity is None:
        return "not assessed"
    parts = ["trips at the worst hour"] if capacity.trips else []
    if capacity.condenser_inlet_c is not None:
        parts.append(f"takes in air at {display.temperature(capacity.condenser_inlet_c)}")
    if capacity.screen_airflow is not None:
        parts.append(f"air flow {percent(capacity.screen_airflow)} of clean")
    if capacity.plate_basis:
        parts.append(f"plate: {plain(capacity.plate_basis)}")
    return f"{capital('; '.join(parts))}." if parts else ""
