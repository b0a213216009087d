"""How long cooling devices and equipment last: a Weibull life for each kind, shortened by where it stands, given that
it still works.

A life that is shorter by a factor f in some place is lived faster there: a year in it counts for 1/f years of the life
elsewhere. So a chiller that stood free for four years and in a stand for one has not the age of one that stood in a
stand for five.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.errors import OutOfRange, require_positive
from fleet.values.fleet import Fleet
from fleet.values.register import ALWAYS, Device, Duty, Equipment, Placement, RegisterRows
from fleet.values.replacement import Forecast
from fleet.values.vocabulary import DeviceKind, EquipmentKind, Finding, TankKind, Where

DAYS_PER_YEAR = 365.2425
LIKELY = (1.0 / 6.0, 5.0 / 6.0)
"""Two chances in three lie between: "likely" begins at 66 % in the calibrated wording of the IPCC's guidance note."""
LAST_DAY = date(2199, 12, 31)
"""Lives are not followed past this day."""
MARINE = (TankKind.TROPICAL_MARINE, TankKind.REEF, TankKind.COLD_MARINE)
GENERAL = "common practice; no life table for small tank equipment was found"


@dataclass(frozen=True, slots=True)
class Life:
    """Median life in years, Weibull shape, the part that wears out first, and what the figures rest on."""

    median_years: float
    shape: float
    part: str
    basis: str = GENERAL


CHILLER = Life(
    11.0,
    2.5,
    "the refrigerating circuit",
    "common practice; near the median of 10 years that ASHRAE's table of service lives gives for window units",
)
THERMOELECTRIC = Life(5.0, 1.3, "the d.c. supply")
FAN_MARINE, FAN_FRESH = Life(2.5, 2.0, "the fan over sea water"), Life(4.0, 2.0, "the fan")
EQUIPMENT = {
    EquipmentKind.HEATER: Life(3.5, 2.5, "the heater"),
    EquipmentKind.PROBE: Life(8.0, 1.0, "the probe"),
    EquipmentKind.PUMP: Life(5.0, 1.5, "the pump"),
    EquipmentKind.GFCI: Life(15.0, 1.5, "the protective switch"),
    EquipmentKind.UPS: Life(
        3.5, 4.0, "the battery", "common practice; makers of sealed lead-acid batteries state 3 to 5 years at 25 °C"
    ),
}
IN_STAND, OVER_SEA_WATER, OUTDOORS = 0.75, 0.85, 0.85
"""Factors on the life of a chiller (common practice)."""
REPLACING = ("replace-fan", "replace-heater", "replace-backup-battery")
"""Service tasks after which the subject, or the part of it that wears out, is new."""


def weibull_scale(median: float, shape: float) -> float:
    """The age by which 63 % have failed, in the unit of `median`. Both above zero; raises OutOfRange otherwise."""
    require_positive("median life", median)
    require_positive("Weibull shape", shape)
    return float(median / math.log(2.0) ** (1.0 / shape))


def life_reached(chance: float, age: float, median: float, shape: float) -> float:
    """The age that a unit which has reached `age` will have failed by with this chance (0..1, below 1).

    R(t | age) = exp(-((t/scale)^shape - (age/scale)^shape)) = 1 - chance. Ages in the unit of `median`. Raises
    OutOfRange for a chance outside 0..1 or an age below zero.
    """
    if not 0.0 <= chance < 1.0:
        raise OutOfRange("chance of failure", chance, 0.0, 1.0, "")
    scale = weibull_scale(median, shape)
    if not 0.0 <= age < math.inf:
        raise OutOfRange("age", age, 0.0, math.inf, "years")
    return float(scale * ((age / scale) ** shape - math.log1p(-chance)) ** (1.0 / shape))


def chance_within(span: float, age: float, median: float, shape: float) -> float:
    """The chance that a unit which has reached `age` fails within `span` from then on, 0..1."""
    scale = weibull_scale(median, shape)
    return -math.expm1((age / scale) ** shape - ((age + span) / scale) ** shape)


def forecasts(fleet: Fleet, rows: RegisterRows) -> dict[str, Forecast]:
    """A forecast for each device and piece of equipment whose age and kind say something, by code, as of `fleet.day`.

    `rows` are those that the fleet was made from: they tell where each device stood before. A device whose
    installation is not on record counts from the first day on which it appears. A part that was replaced begins anew;
    a device that neither stands anywhere nor has a duty any more is out of use and has no forecast.
    """
    placements: dict[str, list[Placement]] = {}
    for placement in sorted(rows.placements, key=lambda row: row.since):
        placements.setdefault(placement.device, []).append(placement)
    duties: dict[str, list[Duty]] = {}
    for duty in rows.duties:
        duties.setdefault(duty.device, []).append(duty)
    found = {}
    for device in fleet.devices:
        own, served = placements.get(device.code, []), duties.get(device.code, [])
        gone = (own or served) and not (
            device.code in fleet.placement_by_device or device.code in fleet.duties_by_device
        )
        made = None if gone else _of_device(fleet, device, own, served, _marine(fleet, rows, served))
        if made is not None:
            found[device.code] = made
    for item in fleet.equipment:
        made = _of_equipment(fleet, item)
        if made is not None:
            found[item.code] = made
    return found


def _renewed(fleet: Fleet, subject: str) -> date | None:
    """The last day on which the subject was replaced under its old code."""
    days = [
        row.done_on
        for row in fleet.history_by_subject.get(subject, ())
        if row.task in REPLACING and row.done_on <= fleet.day and row.finding is not Finding.NOT_INSPECTED
    ]
    return max(days, default=None)


def _marine(fleet: Fleet, rows: RegisterRows, duties: Sequence[Duty]) -> bool:
    """Whether any tank that the device cools, or last cooled, is a marine one."""
    begun = [row for row in duties if row.since <= fleet.day]
    standing = [row for row in begun if row.until is None or fleet.day < row.until]
    last = max((row.since for row in begun), default=None)
    tanks = {row.tank for row in standing or [row for row in begun if row.since == last]}
    return any(row.kind in MARINE for row in rows.tanks if row.code in tanks)


def _of_device(
    fleet: Fleet, device: Device, placements: Sequence[Placement], duties: Sequence[Duty], marine: bool
) -> Forecast | None:
    renewed = _renewed(fleet, device.code)
    begun = renewed if renewed is not None else device.installed
    begun_known = begun is not None
    if begun is None:
        days = [*(row.since for row in placements), *(row.since for row in duties)]
        begun = min((day for day in days if ALWAYS < day <= fleet.day), default=None)
    if begun is None or begun > fleet.day:
        return None
    life, influences = _usual_life(device, marine), []
    spans = [(begun, fleet.day, 1.0)]
    if device.expected_life_years is not None:
        life = Life(device.expected_life_years, life.shape, life.part, "the expected life on record for this unit")
    elif device.kind is DeviceKind.CHILLER:
        factors = {row.since: _factor(row.where, marine) for row in placements}
        spans = _spans(begun, fleet.day, factors, _factor(None, marine))
        influences = _influences(placements, fleet.day, marine)
    age = sum((until - since).days / DAYS_PER_YEAR / factor for since, until, factor in spans)
    return _forecast(device.code, fleet.day, begun, begun_known, life, age, spans[-1][2], influences)


def _usual_life(device: Device, marine: bool) -> Life:
    if device.kind is DeviceKind.CHILLER:
        return CHILLER
    if device.kind is DeviceKind.THERMOELECTRIC:
        return THERMOELECTRIC
    return FAN_MARINE if marine else FAN_FRESH


def _factor(where: Where | None, marine: bool) -> float:
    factor = OVER_SEA_WATER if marine else 1.0
    if where is Where.IN_STAND:
        factor *= IN_STAND
    elif where is Where.OUTDOORS:
        factor *= OUTDOORS
    return factor


def _spans(begun: date, day: date, factors: Mapping[date, float], usual: float) -> list[tuple[date, date, float]]:
    """(since, until, factor) from the first day to `day`; before the first placement the first one's factor holds."""
    turns = sorted(since for since in factors if since <= day)
    spans = []
    factor = factors[turns[0]] if turns else usual
    since = begun
    for turn in turns:
        if turn > since:
            spans.append((since, turn, factor))
            since = turn
        factor = factors[turn]
    return [*spans, (since, day, factor)]


def _influences(placements: Sequence[Placement], day: date, marine: bool) -> list[str]:
    standing = [row for row in placements if row.since <= day]
    words = []
    if standing and standing[-1].where is Where.IN_STAND:
        words.append(f"in a closed stand, life × {IN_STAND:g}")
    if standing and standing[-1].where is Where.OUTDOORS:
        words.append(f"outdoors, life × {OUTDOORS:g}")
    if marine:
        words.append(f"sea water, life × {OVER_SEA_WATER:g}")
    places = {_factor(row.where, marine) for row in standing}
    if len(places) > 1:
        words.append("time in earlier places is counted as it was lived there")
    return words


def _of_equipment(fleet: Fleet, item: Equipment) -> Forecast | None:
    life = EQUIPMENT.get(item.kind)
    renewed = _renewed(fleet, item.code)
    begun = renewed if renewed is not None else item.installed
    if life is None or begun is None or begun > fleet.day:
        return None
    age = (fleet.day - begun).days / DAYS_PER_YEAR
    return _forecast(item.code, fleet.day, begun, True, life, age, 1.0, [])


def _forecast(
    subject: str,
    day: date,
    begun: date,
    begun_known: bool,
    life: Life,
    age: float,
    now: float,
    influences: Sequence[str],
) -> Forecast:
    """`age` is in years of the usual life; from now on a year of it takes `now` years by the calendar."""

    def failed_by(chance: float) -> date:
        left = (life_reached(chance, age, life.median_years, life.shape) - age) * now * DAYS_PER_YEAR
        longest = (LAST_DAY - day).days
        return day + timedelta(days=round(min(left, longest)))

    return Forecast(
        subject=subject,
        day=day,
        begun=begun,
        begun_known=begun_known,
        part=life.part,
        median_years=life.median_years * now,
        shape=life.shape,
        basis=life.basis,
        influences=tuple(influences),
        earliest=failed_by(LIKELY[0]),
        middle=failed_by(0.5),
        latest=failed_by(LIKELY[1]),
        chance_in_a_year=chance_within(1.0 / now, age, life.median_years, life.shape),
    )
