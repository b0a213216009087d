"""The card of one cooling device: plate, places, duty, state, forecast, readings and history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fleet.outputs.ageing import ReplacementWords, replacement_words
from fleet.outputs.charts import Chart
from fleet.outputs.charts_readings import Series, readings_chart, said
from fleet.outputs.lookup import Lookup
from fleet.outputs.margin_rows import MarginTable, margin_table
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.series import series_of
from fleet.outputs.words import (
    CLOSED,
    NOT_A_CERTIFICATE,
    capital,
    day_words,
    in_display_units,
    minutes_words,
    percent,
    plain,
    short_day,
    since_words,
)
from fleet.units import Display, horsepower_text
from fleet.values.assessment import Assessment, DeviceCapacity
from fleet.values.plan import Plan, Task
from fleet.values.refrigerants import flammable_or_unknown
from fleet.values.register import Device, Placement
from fleet.values.vocabulary import DeviceKind, PerformedBy, Role, Scenario, Where

MOST_RECORDS = 60
LAST_READINGS = 6


@dataclass(frozen=True, slots=True)
class Pair:
    name: str
    value: str


@dataclass(frozen=True, slots=True)
class SpanRow:
    """Where it stood, or what it cooled, and from when until when."""

    what: str
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class ReadingsPart:
    """One quantity: a drawing where there are enough readings, and the last ones as text."""

    title: str
    chart: Chart | None
    said: str
    last: tuple[Pair, ...]


@dataclass(frozen=True, slots=True)
class RecordRow:
    day: str
    title: str
    finding: str
    minutes: str
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class ToDoRow:
    due: str
    state: str
    title: str
    visit: str
    key: str


@dataclass(frozen=True, slots=True)
class DeviceCard:
    code: str
    name: str
    kind: str
    place: str
    plate: str
    facts: tuple[Pair, ...]
    caution: str
    places: tuple[SpanRow, ...]
    duties: tuple[SpanRow, ...]
    state: tuple[Pair, ...]
    notes: tuple[str, ...]
    margins: MarginTable | None
    replacement: ReplacementWords | None
    readings: tuple[ReadingsPart, ...]
    to_do: tuple[ToDoRow, ...]
    done: tuple[RecordRow, ...]
    earlier: int
    estimate: str


FLAMMABLE = (
    "Its refrigerant is flammable, or not on record and so counts as flammable. Where a leak is suspected: no flame, "
    "no switch, no vacuum cleaner; air the room, leave it, call. The circuit is for licensed people."
)
CIRCUIT = "The refrigerating circuit is for licensed people; screens, fins, fans and water are not."


class DeviceCards:
    """Makes the cards of a fleet's devices. `cards` holds the pages of tanks by code."""

    def __init__(
        self,
        plan: Plan,
        lookup: Lookup,
        assessments: Sequence[Assessment],
        facts: PageFacts,
        cards: Mapping[str, str],
    ) -> None:
        self.plan, self.lookup, self.facts, self.cards = plan, lookup, facts, cards
        self.by_tank: dict[str, list[Assessment]] = {}
        self.capacities: dict[str, list[tuple[Assessment, DeviceCapacity]]] = {}
        for row in assessments:
            self.by_tank.setdefault(row.tank, []).append(row)
            for capacity in row.devices:
                self.capacities.setdefault(capacity.device, []).append((row, capacity))
        self.tasks: dict[str, list[Task]] = {}
        for task in plan.tasks:
            if task.device is not None and task.subject == task.device and task.state not in CLOSED:
                self.tasks.setdefault(task.device, []).append(task)

    def card(self, device: Device) -> DeviceCard:
        """Everything known, assumed, computed and done of a device."""
        lookup, code = self.lookup, device.code
        site = lookup.fleet.site_of(code)
        display = lookup.display(site)
        duties = lookup.fleet.duties_by_device.get(code, ())
        served = [row for duty in duties for row in self.by_tank.get(duty.tank, ())]
        records = list(reversed(lookup.fleet.history_by_subject.get(code, ())))
        forecast = self.facts.forecasts.get(code)
        return DeviceCard(
            code=code,
            name=device.name,
            kind=plain(device.kind),
            place=self._place_now(device, site),
            plate=device.plate or "",
            facts=tuple(_facts(device, display)),
            caution=_caution(device),
            places=tuple(self._places(code, display)),
            duties=tuple(self._duties(code)),
            state=tuple(self._state(code, display)),
            notes=tuple(dict.fromkeys(self._notes(code, display))),
            margins=margin_table("margin", served, lookup, self.cards) if served else None,
            replacement=replacement_words(forecast) if forecast is not None else None,
            readings=tuple(_readings(i, series) for i, series in enumerate(series_of(code, lookup))),
            to_do=tuple(self._to_do(task) for task in self.tasks.get(code, ())),
            done=tuple(
                RecordRow(
                    short_day(row.done_on),
                    lookup.title(row.task),
                    plain(row.finding) if row.finding else "",
                    minutes_words(row.minutes) if row.minutes is not None else "",
                    lookup.name(row.by) if row.by else "",
                    row.note or "",
                )
                for row in records[:MOST_RECORDS]
            ),
            earlier=max(len(records) - MOST_RECORDS, 0),
            estimate=NOT_A_CERTIFICATE,
        )

    def _place_now(self, device: Device, site: str | None) -> str:
        room = self.lookup.fleet.room_of(device.code)
        if device.code not in self.lookup.fleet.placement_by_device and site is None:
            return "It stands nowhere on record today"
        placement = self.lookup.fleet.placement_by_device.get(device.code)
        where = [plain(placement.where)] if placement is not None else []
        return capital(", ".join([*where, *(self.lookup.name(code) for code in (room, site) if code)]))

    def _places(self, code: str, display: Display) -> Iterator[SpanRow]:
        rows = sorted(
            (row for row in self.facts.rows.placements if row.device == code), key=lambda row: row.since, reverse=True
        )
        for row in rows:
            yield SpanRow(
                self._placed(row, display),
                since_words(row.since),
                short_day(row.until) if row.until is not None else "today",
            )

    def _placed(self, row: Placement, display: Display) -> str:
        words = capital(plain(row.where))
        if row.stand_of is not None:
            words += f" of {self.lookup.label(row.stand_of)}"
        elif row.room is not None:
            words += f", {self.lookup.name(row.room)}"
        site = self.lookup.fleet.site_of(row.room or row.stand_of or "")
        if site is not None:
            words += f", {self.lookup.name(site)}"
        if row.clearance_m is not None and row.where is not Where.STORE:
            words += f", {display.length(row.clearance_m)} clear at the exhaust"
        return words

    def _duties(self, code: str) -> Iterator[SpanRow]:
        rows = sorted(
            (row for row in self.facts.rows.duties if row.device == code),
            key=lambda row: (row.since, row.tank),
            reverse=True,
        )
        for row in rows:
            yield SpanRow(
                f"{self.lookup.label(row.tank)}, {plain(row.role or Role.DUTY)}",
                since_words(row.since),
                short_day(row.until) if row.until is not None else "today",
            )

    def _state(self, code: str, display: Display) -> Iterator[Pair]:
        """What the heat balance makes of it: on the hot day, at the hour that counts."""
        hot = [item for item in self.capacities.get(code, ()) if item[0].scenario is Scenario.HOT_DAY]
        for row, capacity in hot:
            if capacity.capacity_w is not None:
                spread = capacity.capacity_w
                watts = (
                    f"{display.power(spread.mid)} likely, {display.power(spread.low)} to {display.power(spread.high)}"
                )
                yield Pair(f"Delivers to {self.lookup.label(row.tank)}", f"{watts}; {capacity.role}")
        if not hot:
            return
        first = hot[0][1]
        if first.screen_airflow is not None:
            yield Pair("Air flow through it", f"{percent(first.screen_airflow)} of the clean unit's, on the safe side")
        if first.fouling_m2k_w is not None:
            scale = first.fouling_m2k_w * 1e4
            yield Pair("Scale in the exchanger", f"{scale:.1f} × 10⁻⁴ m²K/W" if scale >= 0.05 else "none counted")
        if first.condenser_inlet_c is not None:
            yield Pair("Air that it takes in", display.temperature(first.condenser_inlet_c))
        if first.condensing_c is not None:
            yield Pair("Condenses at", display.temperature(first.condensing_c))
        if first.electric_power_w is not None:
            yield Pair("Electric power", display.power(first.electric_power_w))
        if first.plate_basis:
            yield Pair("That rests on", first.plate_basis)
        if any(capacity.trips for _, capacity in hot):
            yield Pair("At the worst hour", "it would switch itself off")

    def _notes(self, code: str, display: Display) -> Iterator[str]:
        for _, capacity in self.capacities.get(code, ()):
            yield from (in_display_units(note, display) for note in capacity.notes)
        if notes := self.lookup.fleet.device_by_code[code].notes:
            yield notes

    def _to_do(self, task: Task) -> ToDoRow:
        visit = self.plan.visit_by_key.get(task.visit or "")
        who = "site checklist" if task.performed_by is PerformedBy.SITE_STAFF else "no visit"
        return ToDoRow(
            day_words(task.due), plain(task.state), task.title, day_words(visit.day) if visit else who, task.key
        )


def _facts(device: Device, display: Display) -> Iterator[Pair]:
    texts = (("Maker", device.maker), ("Model", device.model), ("Serial", device.serial))
    yield from (Pair(name, text) for name, text in texts if text)
    powers = (("Rated cooling", device.rated_cooling_w), ("Rated electric power", device.rated_power_w))
    yield from (Pair(name, display.power(watts)) for name, watts in powers if watts is not None)
    if device.rated_horsepower_w is not None:
        yield Pair("Rated motor", horsepower_text(device.rated_horsepower_w))
    if device.rated_volume_m3 is not None:
        by = "" if device.rated_pull_down_k is None else f" by {display.difference(device.rated_pull_down_k)}"
        yield Pair("Rated for", display.volume(device.rated_volume_m3) + by)
    rated_at = [
        f"{name} {display.temperature(temp_c)}"
        for name, temp_c in (("water", device.rated_water_temp_c), ("air", device.rated_air_temp_c))
        if temp_c is not None
    ]
    if rated_at:
        yield Pair("Rated at", ", ".join(rated_at))
    if device.air_flow_m3_h is not None:
        yield Pair("Air flow", display.flow(device.air_flow_m3_h))
    if device.fan_diameter_m is not None:
        yield Pair("Fan", f"{display.length(device.fan_diameter_m)} across")
    if device.refrigerant:
        charge = f", {device.charge_g:g} g" if device.charge_g is not None else ""
        yield Pair("Refrigerant", device.refrigerant + charge)
    if device.exchanger_metal:
        yield Pair("Exchanger", device.exchanger_metal)
    if device.mass_kg is not None:
        yield Pair("Weighs", display.mass(device.mass_kg))
    yield Pair("Installed", short_day(device.installed) if device.installed else "not on record")
    if device.warranty_until is not None:
        yield Pair("Warranty until", short_day(device.warranty_until))
    if device.expected_life_years is not None:
        yield Pair("Expected life", f"{device.expected_life_years:g} years")


def _caution(device: Device) -> str:
    if device.kind is not DeviceKind.CHILLER:
        return ""
    return FLAMMABLE if flammable_or_unknown(device) else CIRCUIT


def _readings(place: int, series: Series) -> ReadingsPart:
    chart = readings_chart(f"readings-{place}", series)
    last = tuple(Pair(short_day(day), series.write(value)) for day, value in reversed(series.points[-LAST_READINGS:]))
    return ReadingsPart(series.what, chart, "" if chart else said(series), last if chart else ())
