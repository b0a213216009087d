"""What was logged of a tank: its water and its room over some days, and whether that is fit to calibrate it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.ranges import AIR_C, WATER_C, Array
from fleet.values.fleet import Fleet
from fleet.values.register import Reading
from fleet.values.vocabulary import DeviceKind, ReadingQuantity, Role

LEAST_READINGS = 24
LEAST_SPAN = timedelta(hours=24)
LONGEST_SPAN = timedelta(days=14)
LONGEST_GAP = timedelta(hours=6)
MENTIONED_FROM = 12
"""Fewer readings than this in the span are visits, not a log, and nothing is said of them."""
OLDEST = timedelta(days=365)
HEATER_CLEAR_OF_K = 0.3
COOLERS = (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)


@dataclass(frozen=True)
class Log:
    """A tank's log: seconds from its first water reading, °C; `start_hour` is the local hour of the day there.

    run_share is 0 to 1, empty where no cooler is on duty. relative_humidity is the mean of the readings, else stated.
    """

    tank: str
    on: date
    start_hour: float
    water_s: Array
    water_c: Array
    room_s: Array
    room_c: Array
    run_s: Array
    run_share: Array
    relative_humidity: float
    volume_stated: bool


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why the log that ended on a day does not calibrate its tank, as a sentence without a full stop."""

    tank: str
    on: date
    reason: str

    def sentence(self) -> str:
        """For the tank's card."""
        return f"Its log of {self.on.isoformat()} does not calibrate it: {self.reason}."


def find_log(fleet: Fleet, tank: str) -> Log | Refusal | None:
    """The latest log of a tank that is fit to calibrate it, or why it is not; None where nobody logged anything.

    A log is the tank's water-temp and its room's room-temp over at most 14 days, since the last change of the tank and
    not older than a year; a chiller's run-share-percent where one is on duty. Water readings more than six hours apart
    belong to different logs, so that those of later visits do not spoil one.
    """
    waters = _of(fleet, tank, ReadingQuantity.WATER_TEMP)
    if len(waters) < MENTIONED_FROM:
        return None
    held = fleet.tank_by_code[tank]
    room = fleet.room_by_code[held.room]
    zone = ZoneInfo(fleet.site_by_code[room.site].time_zone)
    oldest = fleet.day - OLDEST
    logs = [rows for rows in _stretches(waters) if len(rows) >= MENTIONED_FROM and rows[-1].taken_at.date() >= oldest]
    if not logs:
        return None
    changed = max((row.on for row in fleet.changes if row.tank == tank and row.on <= fleet.day), default=date.min)
    waters = next((rows for rows in reversed(logs) if _long_enough(_since(rows, changed, zone))), logs[-1])
    last = waters[-1].taken_at
    day = last.astimezone(zone).date()
    waters = [row for row in _since(waters, changed, zone) if row.taken_at >= last - LONGEST_SPAN]
    if not waters:
        return Refusal(tank, day, f"the tank was changed on {changed.isoformat()}, after it")
    begin = waters[0].taken_at
    rooms = _of(fleet, room.code, ReadingQuantity.ROOM_TEMP, begin - LONGEST_GAP, last + LONGEST_GAP)
    reason = _too_little(waters, rooms) or _runs_unknown(fleet, tank, waters)
    if reason is not None:
        return Refusal(tank, day, reason)
    cooler = _cooler(fleet, tank)
    shares = [] if cooler is None else _of(fleet, cooler, ReadingQuantity.RUN_SHARE_PERCENT, begin, last + LONGEST_GAP)
    moist = _of(fleet, room.code, ReadingQuantity.HUMIDITY_PERCENT, begin, last)
    humidity = room.relative_humidity if room.relative_humidity is not None else defaults.RELATIVE_HUMIDITY
    if moist:
        humidity = float(np.mean([row.value for row in moist])) / 100.0
    first = waters[0].taken_at
    local = first.astimezone(zone)

    def seconds(rows: Sequence[Reading]) -> Array:
        return np.array([(row.taken_at - first).total_seconds() for row in rows])

    def values(rows: Sequence[Reading]) -> Array:
        return np.array([row.value for row in rows])

    return Log(
        tank=tank,
        on=day,
        start_hour=local.hour + local.minute / 60.0 + local.second / 3600.0,
        water_s=seconds(waters),
        water_c=values(waters),
        room_s=seconds(rooms),
        room_c=values(rooms),
        run_s=seconds(shares),
        run_share=np.clip(values(shares) / 100.0, 0.0, 1.0),
        relative_humidity=min(max(humidity, 0.0), 1.0),
        volume_stated=held.net_volume_m3 is not None,
    )


def _stretches(rows: Sequence[Reading]) -> list[list[Reading]]:
    """Readings in the order of time, parted where none was taken for longer than LONGEST_GAP."""
    found = [[rows[0]]]
    for before, after in itertools.pairwise(rows):
        if after.taken_at - before.taken_at > LONGEST_GAP:
            found.append([])
        found[-1].append(after)
    return found


def _since(rows: Sequence[Reading], day: date, zone: ZoneInfo) -> list[Reading]:
    return [row for row in rows if row.taken_at.astimezone(zone).date() >= day]


def _long_enough(rows: Sequence[Reading]) -> bool:
    return len(rows) >= LEAST_READINGS and rows[-1].taken_at - rows[0].taken_at >= LEAST_SPAN


def _of(
    fleet: Fleet,
    subject: str,
    quantity: ReadingQuantity,
    begin: datetime | None = None,
    end: datetime | None = None,
) -> list[Reading]:
    return [
        row
        for row in fleet.readings_by_subject.get(subject, ())
        if row.quantity is quantity
        and row.taken_at.date() <= fleet.day
        and (begin is None or row.taken_at >= begin)
        and (end is None or row.taken_at <= end)
    ]


def _too_little(waters: Sequence[Reading], rooms: Sequence[Reading]) -> str | None:
    for rows, what in ((waters, "the water"), (rooms, "the room")):
        if len(rows) < LEAST_READINGS:
            return f"{len(rows)} readings of {what} in it, at least {LEAST_READINGS} are needed"
    span = waters[-1].taken_at - waters[0].taken_at
    if span < LEAST_SPAN:
        hours = math.floor(span.total_seconds() / 3600.0)
        return f"it spans {hours} h without a gap of over 6 h or a change of the tank, at least 24 are needed"
    gap = max(after.taken_at - before.taken_at for before, after in itertools.pairwise(rooms))
    if gap > LONGEST_GAP:
        return f"the log of the room has a gap of {math.ceil(gap.total_seconds() / 3600.0)} h, at most 6 are allowed"
    if rooms[0].taken_at - waters[0].taken_at > LONGEST_GAP or waters[-1].taken_at - rooms[-1].taken_at > LONGEST_GAP:
        return "the room was not logged over the whole span"
    if not all(WATER_C.low <= row.value <= WATER_C.high for row in waters):
        return "water readings outside 0 to 45 °C"
    if not all(AIR_C.low <= row.value <= AIR_C.high for row in rooms):
        return "room readings outside -20 to 60 °C"
    return None


def _duty_kinds(fleet: Fleet, tank: str) -> dict[str, DeviceKind]:
    return {
        duty.device: fleet.device_by_code[duty.device].kind
        for duty in fleet.duties_by_tank.get(tank, ())
        if duty.role is not Role.STANDBY and duty.device in fleet.device_by_code
    }


def _cooler(fleet: Fleet, tank: str) -> str | None:
    return next((code for code, kind in sorted(_duty_kinds(fleet, tank).items()) if kind in COOLERS), None)


def _runs_unknown(fleet: Fleet, tank: str, waters: Sequence[Reading]) -> str | None:
    """Why it is not known what was cooled or heated while the log was taken; None where it is."""
    kinds = _duty_kinds(fleet, tank)
    coolers = [code for code, kind in sorted(kinds.items()) if kind in COOLERS]
    if DeviceKind.SURFACE_FAN in kinds.values():
        return "a fan blew over the water, and how long is not on record"
    if len(coolers) > 1 or any(len(fleet.duties_by_device[code]) > 1 for code in coolers):
        return "several coolers or several tanks share the work, and their parts are not on record"
    if coolers:
        shares = _of(
            fleet,
            coolers[0],
            ReadingQuantity.RUN_SHARE_PERCENT,
            waters[0].taken_at - LONGEST_GAP,
            waters[-1].taken_at + LONGEST_GAP,
        )
        if len(shares) < 2:
            return f"{coolers[0]} was on duty, and its run share is not on record over the log"
    heated = any(load.kind == "heater" for load in fleet.loads_by_tank.get(tank, ())) or any(
        item.kind == "heater" and (item.tank == tank or tank in item.serves) for item in fleet.equipment
    )
    if heated and min(row.value for row in waters) < fleet.tank_by_code[tank].target_c + HEATER_CLEAR_OF_K:
        return "the water came down to its target, where its heater may have run"
    return None
