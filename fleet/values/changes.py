"""Finds, in the dated rows of a register, what changed from one day to the next and may have moved a heat balance."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

from fleet.values.register import ALWAYS, Animals, Device, Duty, Load, Placement, RegisterRows, Room, Tank
from fleet.values.vocabulary import ChangeKind, LoadKind

PUMP_KINDS = (LoadKind.SUBMERGED_PUMP, LoadKind.EXTERNAL_PUMP)


@dataclass(frozen=True, slots=True)
class Change:
    """A dated fact that began or ended on `on` and may have moved the heat balance of `tank`.

    `before` and `after` are short words for people ("lights 250 W", "in-stand").
    `subject` is the tank, device or room whose row changed.
    """

    kind: ChangeKind
    subject: str
    tank: str
    on: date
    before: str
    after: str


def find_changes(rows: RegisterRows) -> tuple[Change, ...]:
    """Every change, oldest first. What a tank began with, on the first day on which any load, animal or device of its
    own is on record, is its set-up and no change; nor is the first row of a room, tank or device."""
    set_up = _set_up_days(rows)
    found = [
        *_load_changes(rows, set_up),
        *_animal_changes(rows, set_up),
        *_placement_changes(rows),
        *_duty_changes(rows, set_up),
        *_version_changes(rows),
    ]
    return tuple(sorted(set(found), key=lambda change: (change.on, change.tank, change.kind, change.subject)))


def _set_up_days(rows: RegisterRows) -> dict[str, date]:
    """The first day on which anything of each tank is on record."""
    days: dict[str, date] = {}
    rows_of_tanks: tuple[Load | Animals | Duty, ...] = (*rows.loads, *rows.animals, *rows.duties)
    for row in rows_of_tanks:
        days[row.tank] = min(row.since, days.get(row.tank, row.since))
    return days


def _turns(spans: Iterable[tuple[date, date | None]], set_up: date) -> list[date]:
    """The days after the set-up on which any of the spans begins or ends."""
    days = {day for span in spans for day in span if day is not None and day > set_up}
    return sorted(days)


def _load_changes(rows: RegisterRows, set_up: Mapping[str, date]) -> Iterator[Change]:
    by_tank = defaultdict(list)
    for load in rows.loads:
        by_tank[load.tank].append(load)
    for tank, loads in by_tank.items():
        for on in _turns(((load.since, load.until) for load in loads), set_up[tank]):
            for kind, word, wanted in (
                (ChangeKind.LIGHTS, "lights", (LoadKind.LIGHT,)),
                (ChangeKind.PUMPS, "pumps", PUMP_KINDS),
                (ChangeKind.OTHER_LOAD, "other loads", (LoadKind.UV, LoadKind.OTHER, LoadKind.HEATER)),
            ):
                of_kind = [load for load in loads if load.kind in wanted]
                touched = [load for load in of_kind if on in (load.since, load.until)]
                if not touched:
                    continue
                before = [x for x in of_kind if x.since < on and (x.until is None or on <= x.until)]
                after = [x for x in of_kind if x.since <= on and (x.until is None or on < x.until)]
                state_before, state_after = (
                    (sum(x.power_w for x in some), sum(x.power_w * _hours(x.hours_per_day) for x in some))
                    for some in (before, after)
                )
                if state_before == state_after:
                    continue
                yield Change(kind, tank, tank, on, _watts(word, *state_before), _watts(word, *state_after))


def _hours(hours_per_day: float | None) -> float:
    return 24.0 if hours_per_day is None else hours_per_day


def _watts(word: str, power_w: float, watt_hours: float) -> str:
    if power_w == 0:
        return f"{word} none"
    hours = watt_hours / power_w
    return f"{word} {power_w:g} W" if hours >= 24 else f"{word} {power_w:g} W, {hours:.3g} h a day"


def _animal_changes(rows: RegisterRows, set_up: Mapping[str, date]) -> Iterator[Change]:
    by_tank = defaultdict(list)
    for animals in rows.animals:
        by_tank[animals.tank].append(animals)
    for tank, groups in by_tank.items():
        for on in _turns(((group.since, group.until) for group in groups), set_up[tank]):
            before = [x for x in groups if x.since < on and (x.until is None or on <= x.until)]
            after = [x for x in groups if x.since <= on and (x.until is None or on < x.until)]
            before_words, after_words = (
                ", ".join(sorted(x.group if x.count is None else f"{x.count} {x.group}" for x in some)) or "none"
                for some in (before, after)
            )
            if before_words != after_words:
                yield Change(ChangeKind.ANIMALS, tank, tank, on, before_words, after_words)


def _tanks_of_device(rows: RegisterRows, device: str, on: date) -> list[str]:
    return sorted(
        {
            duty.tank
            for duty in rows.duties
            if duty.device == device and duty.since <= on and (duty.until is None or on <= duty.until)
        }
    )


def _placement_changes(rows: RegisterRows) -> Iterator[Change]:
    by_device: dict[str, list[Placement]] = defaultdict(list)
    for placement in sorted(rows.placements, key=lambda row: (row.device, row.since)):
        by_device[placement.device].append(placement)
    for device, placements in by_device.items():
        for earlier, later in itertools.pairwise(placements):
            before, after = _place_words(earlier), _place_words(later)
            if before == after:
                continue
            for tank in _tanks_of_device(rows, device, later.since):
                yield Change(ChangeKind.DEVICE_MOVED, device, tank, later.since, before, after)


def _place_words(placement: Placement) -> str:
    words = str(placement.where)
    if placement.stand_of is not None:
        words += f" of {placement.stand_of}"
    elif placement.room is not None:
        words += f" in {placement.room}"
    if placement.clearance_m is not None:
        words += f", {placement.clearance_m * 100:.0f} cm clear"
    return words


def _duty_changes(rows: RegisterRows, set_up: Mapping[str, date]) -> Iterator[Change]:
    by_tank = defaultdict(list)
    for duty in rows.duties:
        by_tank[duty.tank].append(duty)
    for tank, duties in by_tank.items():
        for on in _turns(((duty.since, duty.until) for duty in duties), set_up[tank]):
            before, after = (
                ", ".join(sorted(f"{x.device} ({x.role or 'duty'})" for x in some)) or "no device"
                for some in (
                    [x for x in duties if x.since < on and (x.until is None or on <= x.until)],
                    [x for x in duties if x.since <= on and (x.until is None or on < x.until)],
                )
            )
            if before != after:
                yield Change(ChangeKind.DUTY, tank, tank, on, before, after)


ROOM_FACTS = (
    "air_conditioned", "hot_day_mean_c", "hot_day_rise_k", "relative_humidity",
    "ac_off_mean_c", "ac_off_rise_k", "volume_m3", "ua_w_per_k",
)  # fmt: skip
TANK_FACTS = (
    "room", "length_m", "width_m", "height_m", "target_c", "wall", "wall_thickness_m", "net_volume_m3",
    "sump_volume_m3", "sump_area_m2", "salinity_g_per_kg", "lid", "stand", "stand_vent_flow_m3_h",
    "wall_ua_w_per_k",
)  # fmt: skip
PLATE_FACTS = tuple(
    field.name
    for field in fields(Device)
    if field.name.startswith("rated_") or field.name in ("plate", "air_flow_m3_h", "fan_diameter_m")
)


def _version_changes(rows: RegisterRows) -> Iterator[Change]:
    """Later rows of rooms, tanks and devices that state another value than the row before."""

    def tanks_in(room: Room) -> list[str]:
        return sorted({tank.code for tank in rows.tanks if tank.room == room.code})

    def the_tank(tank: Tank) -> list[str]:
        return [tank.code]

    def cooled_by(device: Device) -> list[str]:
        return _tanks_of_device(rows, device.code, device.since)

    yield from _differences(ChangeKind.ROOM, rows.rooms, ROOM_FACTS, tanks_in)
    yield from _differences(ChangeKind.TANK, rows.tanks, TANK_FACTS, the_tank)
    yield from _differences(ChangeKind.PLATE, rows.devices, PLATE_FACTS, cooled_by)


def _differences(
    kind: ChangeKind, rows: Iterable[Any], facts: tuple[str, ...], tanks: Callable[[Any], list[str]]
) -> Iterator[Change]:
    ordered = sorted(rows, key=lambda row: (row.code, row.since))
    for earlier, later in itertools.pairwise(ordered):
        if earlier.code != later.code or later.since == ALWAYS:
            continue
        differing = [fact for fact in facts if getattr(earlier, fact) != getattr(later, fact)]
        if not differing:
            continue
        before, after = (
            ", ".join(_fact_words(fact, getattr(row, fact)) for fact in differing) for row in (earlier, later)
        )
        for tank in tanks(later):
            yield Change(kind, later.code, tank, later.since, before, after)


UNIT_ENDINGS = {
    "_m3_h": " m³/h", "_w_per_k": " W/K", "_g_per_kg": " g/kg", "_m3": " m³", "_m2": " m²",
    "_m": " m", "_c": " °C", "_k": " K", "_w": " W",
}  # fmt: skip
"""What the names of fields end in, the longest first, and the unit as people write it."""


def _fact_words(fact: str, value: object) -> str:
    """ "hot day mean 25 °C", "air conditioned no", "lid unknown"."""
    ending = next((one for one in UNIT_ENDINGS if fact.endswith(one)), "")
    name = fact.removesuffix(ending).replace("_", " ")
    if value is None:
        return f"{name} unknown"
    if isinstance(value, bool):
        return f"{name} {'yes' if value else 'no'}"
    if fact == "relative_humidity" and isinstance(value, float):
        return f"{name} {value * 100:.3g} %"
    return f"{name} {value:.4g}{UNIT_ENDINGS.get(ending, '')}" if isinstance(value, float) else f"{name} {value}"
