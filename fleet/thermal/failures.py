"""Every single failure that can befall a site, the worst first."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import time

from fleet.thermal.failed import conditioned_rooms, in_store, site_code
from fleet.thermal.outage import outage
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.outage import Failure, RankedFailure
from fleet.values.vocabulary import DeviceKind, Role

DAY_H = 24.0


def ranked_failures(
    fleet: Fleet, classes: Mapping[str, AnimalClass], site: str, *, at: time | None = None
) -> tuple[RankedFailure, ...]:
    """Each room's A/C, each device, what hangs together on one thing, each loop as a whole, and the power of a site.

    Ordered by when the first tank crosses a limit on the low estimate, then by how many do so within a day. Spares are
    not counted. `at` as in Failure. Raises NotFound for a site that is not on record.
    """
    site_code(fleet, site)
    found: list[RankedFailure] = []
    for kind, failure, cause in _failures(fleet, site, at):
        rows = outage(fleet, classes, failure, try_spares=False).rows
        if rows:
            soon = sum(row.hours.low is not None and row.hours.low <= DAY_H for row in rows)
            found.append(RankedFailure(kind, failure, cause, rows, soon))
    return tuple(sorted(found, key=_severity))


def _severity(ranked: RankedFailure) -> tuple[float, int, int, tuple[str, ...]]:
    first = ranked.rows[0].hours.low
    crossing = sum(row.hours.low is not None for row in ranked.rows)
    return math.inf if first is None else first, -ranked.within_a_day, -crossing, ranked.failure.codes


def _failures(fleet: Fleet, site: str, at: time | None) -> Iterator[tuple[str, Failure, str | None]]:
    """Kind, failure and cause; the same devices never twice."""
    yield "power", Failure(power_out=(site,), at=at), None
    for room in fleet.rooms:
        if room.site == site and conditioned_rooms(fleet, room.code):
            yield "room-ac", Failure(ac_off=(room.code,), at=at), None
    on_duty = {
        device.code
        for device in fleet.devices
        if fleet.site_of(device.code) == site
        and not in_store(fleet, device.code)
        and any(duty.role is not Role.STANDBY for duty in fleet.duties_by_device.get(device.code, ()))
    }
    seen: set[frozenset[str]] = set()
    loops: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for device in fleet.devices:
        tanks = fleet.tanks_of(device.code)
        cools_water = device.kind in (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)
        if cools_water and tanks and fleet.site_of(device.code) == site and not in_store(fleet, device.code):
            loops[tanks].add(device.code)
    for devices in loops.values():
        if len(devices) > 1 and devices & on_duty:
            seen.add(frozenset(devices))
            yield "plant", Failure(lost=tuple(sorted(devices)), at=at), None
    for item in fleet.equipment:
        served = frozenset(code for code in item.serves if code in fleet.device_by_code)
        if len(served) > 1 and served & on_duty and served not in seen:
            seen.add(served)
            yield "together", Failure(lost=tuple(sorted(served)), at=at), item.code
    for code in sorted(on_duty):
        yield "device", Failure(lost=(code,), at=at), None
