"""An outage list in words: who crosses a limit when, what to do first, whom to call. For the terminal and for paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from fleet.outputs.lookup import Lookup
from fleet.outputs.people import ContactRow, StopRow, contact_rows, rows_of_stop_rules
from fleet.outputs.words import (
    capital,
    count_words,
    day_words,
    duration_words,
    long_day,
    soonest_words,
    spare_words,
)
from fleet.values.assessment import HoursToLimit
from fleet.values.outage import Failure, Outage, OutageRow, RankedFailure, SpareGives
from fleet.values.register import Equipment
from fleet.values.vocabulary import ContactRole, EquipmentKind, LoadKind, Reaches, Role

SOON_H, TODAY_H = 4.0, 24.0
"""Below these the hours are printed as most urgent, and as urgent."""
ACT_LIMIT, FROZEN_EXCHANGER, STUCK_HEATER = 1, 8, 16
"""Numbers of the stop rules that go with a failure."""
OXYGEN = (
    "Air before temperature: with the pumps stopped the animals may run out of oxygen long before the water leaves its "
    "limits, sooner in warm water and in full tanks. Start battery air now, stop feeding, and watch for gasping or "
    "crowding at the surface. How long the oxygen lasts is not computed here."
)
ENGINES = "Generators run outdoors only; nobody feeds power back into a socket."
FREEZING = (
    "Where the water stops while the compressor runs, the exchanger can freeze and split within minutes: compressor "
    "off first, and let it thaw before water flows again."
)
FIRST_CALLS = {
    "power": (ContactRole.ON_CALL, ContactRole.POWER_COMPANY, ContactRole.ELECTRICIAN),
    "room": (ContactRole.ON_CALL, ContactRole.ROOM_AC),
    "device": (ContactRole.ON_CALL, ContactRole.REFRIGERATION),
}


@dataclass(frozen=True, slots=True)
class OutageLine:
    """One tank. `urgency` is 0 within four hours, 1 within a day, 2 later, 3 never."""

    hours: str
    tank: str
    code: str
    room: str
    when: str
    limit: str
    farthest: str
    one_more: str
    first: str
    urgency: int


@dataclass(frozen=True, slots=True)
class OutageList:
    title: str
    begins: str
    tally: str
    lines: tuple[OutageLine, ...]
    at_once: tuple[str, ...]
    """What comes before any temperature: printed over the table."""
    said: tuple[str, ...]
    """Whole sentences that go with the table."""
    calls: tuple[tuple[str, tuple[ContactRow, ...]], ...]
    """Whom to call, by the name of each site."""
    stops: tuple[StopRow, ...]


def outage_list(outage: Outage, lookup: Lookup) -> OutageList:
    """The list of one failure."""
    failure, rows = outage.failure, outage.rows
    crossing = sum(row.hours.reaches_limit is Reaches.YES for row in rows)
    sites = tuple(dict.fromkeys(row.site for row in rows))
    return OutageList(
        title=failure_words(failure, lookup),
        begins=_begins(failure, rows, lookup),
        tally=(
            f"{capital(count_words(len(rows), 'tank is', 'tanks are'))} concerned; "
            + (f"{crossing} can cross a limit." if crossing else "none crosses a limit by this estimate.")
            if rows
            else "No tank is concerned."
        ),
        lines=tuple(_line(row, failure, lookup) for row in rows),
        at_once=(*((OXYGEN,) if failure.power_out else ()), *((FREEZING,) if failure.flow_lost else ())),
        said=tuple(_said(outage, lookup)),
        calls=tuple((lookup.name(site), _calls(site, failure, lookup)) for site in sites),
        stops=_stops(failure, rows, lookup),
    )


def failure_words(failure: Failure, lookup: Lookup) -> str:
    """What failed, in words: A/C off in Lobby (L1)."""
    parts: list[str] = []
    if failure.power_out:
        parts.append(f"power out at {_labels(failure.power_out, lookup)}")
    if failure.ac_off:
        parts.append(f"air conditioning off: {_labels(failure.ac_off, lookup)}")
    if failure.lost:
        parts.append(f"lost: {_labels(failure.lost, lookup)}")
    if failure.flow_lost:
        parts.append(f"water flow lost: {_labels(failure.flow_lost, lookup)}")
    if failure.stuck_on:
        parts.append(f"stuck on: {_labels(failure.stuck_on, lookup)}")
    return capital("; ".join(parts))


def _labels(codes: Iterable[str], lookup: Lookup) -> str:
    return ", ".join(lookup.label(code) for code in codes)


def _begins(failure: Failure, rows: Sequence[OutageRow], lookup: Lookup) -> str:
    air = "on a design hot day"
    if failure.air_c is not None:
        air = f"with rooms at {lookup.display(rows[0].site if rows else None).temperature(failure.air_c)}"
    if failure.at is None:
        return f"Begun at the worst hour for each tank, {air}."
    day = f", {long_day(rows[0].begins_at.date())}" if rows else ""
    return f"Begun at {failure.at:%H:%M} on the clock of the site{day}, {air}."


def _line(row: OutageRow, failure: Failure, lookup: Lookup) -> OutageLine:
    display = lookup.display(row.site)
    side = "below" if row.falls else "above"
    return OutageLine(
        hours=soonest(row.hours),
        tank=lookup.label(row.tank),
        code=row.tank,
        room=lookup.name(row.room),
        when=_when(row, failure),
        limit=f"{side} {display.temperature(row.limit_c)}",
        farthest=display.temperature(row.peak_c),
        one_more=spare_words(row.n_minus_1_after),
        first=first_step(row, failure, lookup),
        urgency=_urgency(row.hours),
    )


def soonest(hours: HoursToLimit) -> str:
    """The soonest time to a limit in a few characters; where the record is silent, that with the least cooling."""
    if hours.reaches_limit is Reaches.UNKNOWN and hours.low is not None:
        return f"{duration_words(hours.low)}?"
    return soonest_words(hours)


def _urgency(hours: HoursToLimit) -> int:
    if hours.low is None:
        return 3 if hours.reaches_limit is Reaches.NO else 1
    return 0 if hours.low < SOON_H else 1 if hours.low < TODAY_H else 2


def _when(row: OutageRow, failure: Failure) -> str:
    """The moment at which the low estimate crosses, and when the failure would have begun where no hour was given."""
    if row.limit_at is None:
        return "-"
    clock = f"{row.limit_at:%H:%M}"
    apart = (row.limit_at.date() - row.begins_at.date()) // timedelta(days=1)
    if failure.at is None:
        days = "" if apart == 0 else f" +{count_words(apart, 'day')}"
        return f"{clock}{days} if from {row.begins_at:%H:%M}"
    return clock if apart == 0 else f"{day_words(row.limit_at.date())[:3]} {row.limit_at.day}, {clock}"


def first_step(row: OutageRow, failure: Failure, lookup: Lookup) -> str:
    """What to do first for a tank, by the kind of failure, what is on record for it, and what a spare gives."""
    fleet = lookup.fleet
    if row.site in failure.power_out:
        pumps = [item.code for item in _serving(row.tank, EquipmentKind.AIR_PUMP, lookup)]
        return f"air: {', '.join(pumps)}" if pumps else "air: none on record"
    stuck = [code for code in failure.stuck_on if row.tank in fleet.tanks_of(code) or code == row.tank]
    if stuck:
        return f"unplug {stuck[0]}" if stuck[0] in fleet.device_by_code else "unplug the heater"
    steps: list[str] = []
    if any(row.tank in fleet.tanks_of(device) for code in failure.flow_lost for device in _devices(code, lookup)):
        steps.append("compressor off")
    if row.stepped_in:
        steps.append(f"see that {', '.join(row.stepped_in)} runs")
    if row.hours.reaches_limit is Reaches.NO:
        return "; ".join(steps) or "watch"
    standby = [
        duty.device
        for duty in fleet.duties_by_tank.get(row.tank, ())
        if duty.role is Role.STANDBY and duty.device not in (*row.stepped_in, *failure.lost, *failure.flow_lost)
    ]
    if standby:
        steps.append(f"try {', '.join(standby)} (standby)")
    if row.spare is not None:
        steps.append(_spare_words(row.spare, lookup, row.site))
    if any(load.kind is LoadKind.LIGHT for load in fleet.loads_by_tank.get(row.tank, ())):
        steps.append("lights off")
    return "; ".join(steps) or "find a spare; stop feeding"


def _devices(code: str, lookup: Lookup) -> tuple[str, ...]:
    """A device itself, or what hangs on a piece of equipment."""
    item = lookup.fleet.equipment_by_code.get(code)
    return (code,) if item is None else item.serves


def _spare_words(spare: SpareGives, lookup: Lookup, site: str) -> str:
    unit = spare.device or f"a unit of {lookup.display(site).power(spare.rated_w or 0.0)}"
    outcome = "holds" if spare.hours.reaches_limit is Reaches.NO else f"gives {soonest(spare.hours)}"
    return f"bring {unit}: {outcome}"


def _serving(tank: str, kind: EquipmentKind, lookup: Lookup) -> list[Equipment]:
    items = lookup.fleet.equipment_by_code
    return [items[code] for code in lookup.equipment_by_tank.get(tank, ()) if items[code].kind is kind]


def _said(outage: Outage, lookup: Lookup) -> Iterable[str]:
    failure, rows = outage.failure, outage.rows
    if failure.power_out:
        yield from _backed_up(rows, lookup)
        yield "A spare cooler needs mains, so none is counted here."
    for row in rows:
        for note in row.notes:
            yield f"{row.tank}: {note}"
    standby = sorted({code for row in rows for code in row.stepped_in})
    if standby:
        yield f"Counted as running in place of what was lost: {', '.join(standby)} (run within twelve weeks)."
    if any(row.hours.reaches_limit is Reaches.UNKNOWN for row in rows):
        yield "With a question mark: the record does not say what still cools the tank; counted as nothing."
    if any(row.spare is not None and row.spare.device is not None for row in rows):
        yield (
            "A spare is counted as running from the beginning, with 30 cm free at its exhaust; each goes to one tank, "
            "so that the hours gained together, weighted by urgency, are most."
        )
    elif any(row.spare is not None for row in rows):
        yield "The spare is tried on each tank by itself: one unit saves one of them."
    for device, reason in outage.spares_left_out:
        yield f"Not counted as a spare: {lookup.label(device)}, {reason}."


def _backed_up(rows: Sequence[OutageRow], lookup: Lookup) -> Iterable[str]:
    """Generators and battery supplies on record, which the estimate leaves out."""
    sites = {row.site for row in rows}
    for item in lookup.fleet.equipment:
        if (
            item.kind not in (EquipmentKind.GENERATOR, EquipmentKind.UPS)
            or lookup.fleet.site_of(item.code) not in sites
        ):
            continue
        serves = f" serves {', '.join(item.serves)}" if item.serves else " is on record"
        yield f"{capital(lookup.label(item.code))}{serves}; the hours are those without it."
        if item.kind is EquipmentKind.GENERATOR:
            yield ENGINES


def _calls(site: str, failure: Failure, lookup: Lookup) -> tuple[ContactRow, ...]:
    """Everybody on record at the site, those first whom this failure concerns."""
    kind = "power" if failure.power_out else "room" if failure.ac_off else "device"
    return contact_rows(site, lookup, first=FIRST_CALLS[kind])


def _stops(failure: Failure, rows: Sequence[OutageRow], lookup: Lookup) -> tuple[StopRow, ...]:
    sites = {row.site for row in rows}
    numbers = {ACT_LIMIT} if any(row.hours.reaches_limit is not Reaches.NO for row in rows) else set()
    if failure.flow_lost:
        numbers.add(FROZEN_EXCHANGER)
    if any(code not in lookup.fleet.device_by_code for code in failure.stuck_on):
        numbers.add(STUCK_HEATER)
    rules = [rule for rule in lookup.catalogue.stop_rules if rule.number in numbers]
    return rows_of_stop_rules(rules, min(sites) if len(sites) == 1 else None, lookup)


@dataclass(frozen=True, slots=True)
class FailureLine:
    """One single failure of a site; `urgency` as in OutageLine."""

    hours: str
    what: str
    tank: str
    limit: str
    within_a_day: str
    one_more: str
    urgency: int


def failure_line(ranked: RankedFailure, lookup: Lookup) -> FailureLine:
    """What fails and the tank that it hits first."""
    first = ranked.rows[0]
    never = first.hours.reaches_limit is Reaches.NO
    line = _line(first, ranked.failure, lookup)
    lost = ", ".join(ranked.failure.lost)
    what = {
        "power": "the power",
        "room-ac": f"A/C of {_labels(ranked.failure.ac_off, lookup)}",
        "plant": f"plant: {lost}",
        "together": f"{lookup.label(ranked.cause or '')}, and with it {lost}",
        "device": _labels(ranked.failure.lost, lookup),
    }[ranked.kind]
    return FailureLine(
        hours=line.hours,
        what=what,
        tank="-" if never else line.tank,
        limit="" if never else line.limit,
        within_a_day=str(ranked.within_a_day or ""),
        one_more="" if never else line.one_more,
        urgency=line.urgency,
    )
