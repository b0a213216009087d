"""Who crosses a limit, and when, once something has failed: by simulation of all tanks concerned at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from fleet.errors import BadInput
from fleet.thermal import defaults
from fleet.thermal.assess import build, calibrations_of
from fleet.thermal.capacity import AtPeak, at_peak, common_failures, largest_loss
from fleet.thermal.cases import Model
from fleet.thermal.crossing import Crossing, falling, rising
from fleet.thermal.endurance import START_HOURS
from fleet.thermal.failed import Failed, failed_model, standing_in, without, work_out
from fleet.thermal.groups import batches
from fleet.thermal.margin import capacity_margin
from fleet.thermal.ranges import CHILLER_WATER_C, Array
from fleet.thermal.rooms import AC_OFF
from fleet.thermal.spares import (
    HORIZON_H,
    LEAST_GAIN_H,
    Trial,
    assign,
    copy_code,
    spares_in_store,
    virtual_spare,
    with_spare,
)
from fleet.thermal.tanks import KIND, MID, SAFE
from fleet.values.assessment import HoursToLimit
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.outage import Failure, Outage, OutageRow, SpareGives
from fleet.values.register import Device
from fleet.values.spread import Spread
from fleet.values.vocabulary import Reaches, ReadingQuantity, Role

BATCH = 250
COLDEST_KNOWN_C = CHILLER_WATER_C.low + 0.05
"""A chiller's output is not known in colder water; a run counts it as stopped there."""
LARGEST_SPARE_W = 1e6
COOLED_K = 3.0
"""A tank that falls this far below its target without a lower limit on record is told of."""


def outage(
    fleet: Fleet,
    classes: Mapping[str, AnimalClass],
    failure: Failure,
    *,
    spare_w: float | None = None,
    try_spares: bool = True,
    carrying_h: Callable[[str, str], float | None] = lambda device, tank: 0.0,
) -> Outage:
    """The tanks that a failure concerns, in the order in which they cross a limit, on the safe side.

    Hours run from the failure, which finds the water at the warmer of target + band and a recent reading, to the upper
    act limit. Where something can cool a tank beyond its heaters (no power, a chiller stuck on, rooms of a given
    temperature), they run to whichever act limit is crossed first; the way down begins at the colder of target - band
    and a recent reading.
    spare_w: what a unit with so many watts on its plate would do for each tank by itself; without it the spares in
    store are tried on every tank and the best assignment is told. carrying_h(device, tank): hours to bring a spare,
    None where it is too far. Raises NotFound and BadInput for codes that cannot fail, or a spare of no sensible size.
    """
    if spare_w is not None and not 0.0 < spare_w <= LARGEST_SPARE_W:
        raise BadInput(f"a spare of {spare_w:g} W: expected more than 0 and at most {LARGEST_SPARE_W:g} W")
    failed = work_out(fleet, failure)
    left_out: dict[str, str] = {}
    units: tuple[Device, ...] = ()
    if spare_w is not None:
        units = (virtual_spare(fleet, spare_w),)
    elif try_spares:
        units, left_out = spares_in_store(fleet)
    rows: list[OutageRow] = []
    trials: list[Trial] = []
    for codes in batches(fleet, failed.tanks, BATCH):
        batch = _Batch(fleet, classes, codes, failed, failure)
        found = batch.rows()
        rows += found
        for unit in units:
            trials += batch.tried(unit, found, spare_w, carrying_h)
    if spare_w is None:
        given = assign(trials)
    else:
        given = {trial.tank: trial.gives for trial in trials if trial.gained_h >= LEAST_GAIN_H}
    rows = [replace(row, spare=given.get(row.tank)) for row in rows]
    return Outage(failure, tuple(sorted(rows, key=urgency)), tuple(sorted(left_out.items())))


def urgency(row: OutageRow) -> tuple[float, float, bool, str]:
    """What tanks are put in order by: the low estimate, then the middle one; what is not known before what is safe."""
    low, mid = (math.inf if hours is None else hours for hours in (row.hours.low, row.hours.mid))
    return low, mid, row.hours.reaches_limit is Reaches.NO, row.tank


def lower_limit(fleet: Fleet, classes: Mapping[str, AnimalClass], tank: str) -> float | None:
    """The tank's own lower act limit, else the strictest of its animals' classes; None where none is on record. [°C]"""
    own = fleet.tank_by_code[tank].act_low_c
    if own is not None:
        return own
    found = [
        known.act_low_c
        for row in fleet.animals_by_tank.get(tank, ())
        if row.animal_class is not None
        and (known := classes.get(row.animal_class)) is not None
        and known.act_low_c is not None
    ]
    return max(found, default=None)


def _coldest_start(fleet: Fleet, tank: str) -> float:
    """Water when a failure begins that cools it: the last reading, if recent and colder, else target less band. [°C]"""
    start = fleet.tank_by_code[tank].target_c - defaults.BAND_K
    readings = [
        row
        for row in fleet.readings_by_subject.get(tank, ())
        if row.quantity is ReadingQuantity.WATER_TEMP and row.taken_at.date() <= fleet.day
    ]
    if readings and (fleet.day - readings[-1].taken_at.date()).days < defaults.READING_DAYS:
        return min(start, readings[-1].value)
    return start


def _starts(at: time | None) -> tuple[int, ...]:
    """The full hours at which a failure is let begin: those about the clock time, or hours all over the day."""
    if at is None:
        return START_HOURS
    return (at.hour,) if not at.minute else (at.hour, (at.hour + 1) % 24)


@dataclass(frozen=True)
class _Ran:
    """The failed model and how its tanks fare."""

    model: Model
    peak: AtPeak
    up: Crossing


class _Batch:
    """The tanks of some whole groups under one failure."""

    def __init__(
        self,
        fleet: Fleet,
        classes: Mapping[str, AnimalClass],
        codes: Sequence[str],
        failed: Failed,
        failure: Failure,
    ) -> None:
        self.fleet, self.classes, self.codes = fleet, classes, tuple(codes)
        self.failed, self.failure = failed, failure
        self.starts = _starts(failure.at)
        self.calibrations = calibrations_of(fleet, classes, codes)
        self.stepped_in = standing_in(fleet, build(fleet, classes, codes, self.calibrations), failed)
        self.after = without(fleet, failed, self.stepped_in, failure.air_c)
        self.ran = self.run(self.after)
        self.lower = np.array(
            [-math.inf if (low := lower_limit(fleet, classes, code)) is None else low for code in codes]
        )

    def run(self, fleet: Fleet) -> _Ran:
        model = failed_model(fleet, self.classes, self.codes, self.failed, self.calibrations)
        peak = at_peak(model, AC_OFF)
        limit = np.array([limits.act_high_c for limits in model.tanks.limits])
        return _Ran(model, peak, rising(model, peak.share, limit, self.starts))

    def down(self) -> Crossing | None:
        """The way down to the lower limits; None where the failure cools nothing beyond its heaters."""
        failed, model = self.failed, self.ran.model
        if not (failed.sites_dark or failed.stuck_devices or self.failure.air_c is not None):
            return None
        links, machines = model.devices.links, model.devices.machines
        stuck_machine = np.array([code in failed.stuck_devices for code in machines.codes], dtype=bool)
        stuck_link = stuck_machine[links.machine] & links.duty
        wild = np.zeros(len(self.codes), dtype=bool)
        wild[links.tank[stuck_link]] = True
        return falling(
            model,
            self.ran.peak.share,
            self.lower,
            self.starts,
            start_c=np.array([_coldest_start(self.fleet, code) for code in self.codes]),
            links_on=np.where(wild[links.tank], stuck_link, links.duty),
            no_heating=wild,
        )

    def rows(self) -> list[OutageRow]:
        down = self.down()
        left = self.one_more()
        return [self.row(i, down, left[i]) for i, code in enumerate(self.codes) if code in self.failed.tanks]

    def row(self, i: int, down: Crossing | None, left: float | None) -> OutageRow:
        code = self.codes[i]
        up, model = self.ran.up, self.ran.model
        falls = down is not None and bool(down.hours[i, 0] < up.hours[i, 0])
        crossing = down if falls and down is not None else up
        hours = _hours(crossing.hours[i])
        notes: list[str] = []
        if down is not None and math.isinf(self.lower[i]) and down.farthest_c[i] < model.tanks.target_c[i] - COOLED_K:
            notes.append(f"It falls to {down.farthest_c[i]:.1f} °C, and no lower limit is on record for it.")
        if not falls and self.unknown(i, down):
            hours = HoursToLimit(hours.low, None, None, Reaches.UNKNOWN)
        room = self.fleet.tank_by_code[code].room
        site = self.fleet.room_by_code[room].site
        begins = self.begins(site, int(crossing.start_hour[i]))
        return OutageRow(
            tank=code,
            site=site,
            room=room,
            hours=hours,
            begins_at=begins,
            limit_at=None if hours.low is None else _later(begins, hours.low),
            peak_c=float(crossing.farthest_c[i]),
            limit_c=float(self.lower[i]) if falls else model.tanks.limits[i].act_high_c,
            falls=falls,
            n_minus_1_after=left,
            spare=None,
            stepped_in=self.stepped_in.get(code, ()),
            notes=tuple(notes),
        )

    def unknown(self, i: int, down: Crossing | None) -> bool:
        """Whether the record does not say what still cools the tank, or where a chiller that is stuck on takes it."""
        links, machines = self.ran.model.devices.links, self.ran.model.devices.machines
        mine = (links.tank == i) & links.duty
        if (~machines.usable[links.machine[mine]]).any():
            return True
        stuck = any(machines.codes[m] in self.failed.stuck_devices for m in links.machine[mine])
        if not stuck or down is None:
            return False
        return math.isinf(self.lower[i]) or bool(self.lower[i] < down.farthest_c[i] <= COLDEST_KNOWN_C)

    def begins(self, site: str, hour: int) -> datetime:
        at = self.failure.at or time(hour)
        return datetime.combine(self.fleet.day, at, tzinfo=ZoneInfo(self.fleet.site_by_code[site].time_zone))

    def one_more(self) -> list[float | None]:
        """The margin of each tank when the largest of what is left fails too."""
        model, peak = self.ran.model, self.ran.peak
        loss = largest_loss(model, peak, common_failures(self.after))
        links, machines = model.devices.links, model.devices.machines
        margins: list[float | None] = []
        for i, code in enumerate(self.codes):
            required = float(peak.required_w[i, SAFE])
            cooled = any(duty.role is not Role.STANDBY for duty in self.fleet.duties_by_tank.get(code, ()))
            known = bool(machines.usable[links.machine[(links.tank == i) & links.duty]].all())
            if required <= 0.0 or not cooled or not known:
                margins.append(None)
            else:
                margins.append(float(capacity_margin(max(float(loss.left_w[i]), 0.0), required)))
        return margins

    def tried(
        self,
        unit: Device,
        rows: Sequence[OutageRow],
        spare_w: float | None,
        carrying_h: Callable[[str, str], float | None],
    ) -> list[Trial]:
        """The unit on each tank that would cross its upper limit within a week and has power, one by one."""
        wanting: dict[str, tuple[OutageRow, float]] = {}
        for row in rows:
            if row.hours.low is None or row.hours.low > HORIZON_H or row.falls or row.site in self.failed.sites_dark:
                continue
            carried = 0.0 if spare_w is not None else carrying_h(unit.code, row.tank)
            if carried is not None:
                wanting[row.tank] = row, carried
        if not wanting:
            return []
        ran = self.run(with_spare(self.after, unit, sorted(wanting)))
        found = []
        for tank, (row, carried) in sorted(wanting.items()):
            i = self.codes.index(tank)
            gives = SpareGives(
                device=None if spare_w is not None else unit.code,
                rated_w=spare_w,
                capacity_w=_capacity(ran, copy_code(unit.code, tank)),
                hours=_hours(ran.up.hours[i]),
            )
            found.append(Trial(tank, row.hours, gives, carried))
        return found


def _capacity(ran: _Ran, code: str) -> Spread:
    devices, peak = ran.model.devices, ran.peak
    watts: Array = np.zeros(3)
    for k, machine in enumerate(devices.links.machine):
        if devices.machines.codes[machine] == code:
            watts = peak.link_w[k]
    for k, fan in enumerate(devices.fans.codes):
        if fan == code:
            watts = peak.fan_w[k]
    return Spread(*sorted((float(watts[SAFE]), float(watts[MID]), float(watts[KIND]))))


def _hours(values: Array) -> HoursToLimit:
    low, mid, high = (None if math.isinf(value) else float(value) for value in values)
    return HoursToLimit(low, mid, high, Reaches.NO if low is None else Reaches.YES)


def _later(moment: datetime, hours: float) -> datetime:
    """Hours later in elapsed time, whatever the clocks do in between, on the clock of the same zone."""
    return (moment.astimezone(UTC) + timedelta(hours=hours)).astimezone(moment.tzinfo)
