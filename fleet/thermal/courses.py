"""How warm each tank is through the design hot day and through the day with the air conditioning off."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from fleet.thermal.assess import BATCH, build, find_tanks
from fleet.thermal.balance import air_at
from fleet.thermal.capacity import at_peak
from fleet.thermal.endurance import repeating_day
from fleet.thermal.groups import batches
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import HOT, SCENARIOS
from fleet.thermal.tanks import BINS, BINS_PER_HOUR, MID, SAFE
from fleet.values.catalogue import AnimalClass
from fleet.values.courses import DayCourse
from fleet.values.fleet import Fleet

EVERY = 3
"""Bins of ten minutes between the points that are handed out."""


def day_courses(
    fleet: Fleet, classes: Mapping[str, AnimalClass], *, tanks: Collection[str] | None = None
) -> tuple[DayCourse, ...]:
    """The repeating day of every tank (or of those named) under each scenario, with the devices on duty, every half
    hour; sorted by tank, then scenario. Their peaks are those of `assess`, but for what lies between two points.

    Raises NotFound for a tank that is not on record.
    """
    wanted = find_tanks(fleet, tanks)
    found: list[DayCourse] = []
    for codes in batches(fleet, wanted, BATCH):
        model = build(fleet, classes, codes)
        day = repeating_day(model, at_peak(model, HOT).share, keep=True)
        assert day.course.temps_c is not None  # asked for above
        water = _points(day.course.temps_c)
        places = np.arange(0, BINS + 1, EVERY) / BINS_PER_HOUR
        room = np.stack([air_at(day.cases, np.full(day.cases.side.size, h % 24.0)).room_c for h in places], axis=-1)
        hours = tuple(float(hour) for hour in places)
        for i, code in enumerate(codes):
            if code not in wanted:
                continue
            for c, scenario in enumerate(SCENARIOS):
                safe, likely = day.case(c, SAFE), day.case(c, MID)
                found.append(
                    DayCourse(
                        code,
                        scenario,
                        hours,
                        _floats(water[i, safe]),
                        _floats(water[i, likely]),
                        _floats(room[i, safe]),
                    )
                )
    return tuple(sorted(found, key=lambda row: (row.tank, row.scenario)))


def _points(temps_c: Array) -> Array:
    """Every third bin, with the end of the day, which is the end of the day before, as its first point."""
    return np.concatenate([temps_c[..., -1:], temps_c[..., EVERY - 1 :: EVERY]], axis=-1)


def _floats(values: Array) -> tuple[float, ...]:
    return tuple(float(value) for value in values)
