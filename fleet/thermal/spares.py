"""Spares in store: which are ready, what each would do for a tank, and which goes where."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.device_state import last_done
from fleet.values.assessment import HoursToLimit
from fleet.values.fleet import Fleet
from fleet.values.outage import SpareGives
from fleet.values.register import ALWAYS, Device, Duty, Placement
from fleet.values.vocabulary import DeviceKind, Finding, Role, Where

HORIZON_H = 168.0
"""Time gained beyond a week counts no more: by then a failure is repaired or the animals are elsewhere."""
LEAST_GAIN_H = 0.5
"""A spare that gains less is not worth the carrying (common practice)."""
CLEARANCE_M = 0.3
"""Free space that is left at the exhaust of a spare: who carries one in sets it down free."""
VIRTUAL = "?spare"
TEST_TASKS = ("rotate-spare-units", "run-idle-chiller")


def spares_in_store(fleet: Fleet) -> tuple[tuple[Device, ...], dict[str, str]]:
    """The spares that were run within twelve weeks and not found at fault, and why the others do not count."""
    ready: list[Device] = []
    left_out: dict[str, str] = {}
    for device in fleet.devices:
        placement = fleet.placement_by_device.get(device.code)
        if placement is None or placement.where is not Where.STORE or device.kind is DeviceKind.STAND_FAN:
            continue
        reason = _not_ready(fleet, device.code)
        if reason is None:
            ready.append(device)
        else:
            left_out[device.code] = reason
    return tuple(ready), left_out


def _not_ready(fleet: Fleet, device: str) -> str | None:
    history = fleet.history_by_subject.get(device, ())
    tests = [row for row in history if row.task in TEST_TASKS and row.done_on <= fleet.day]
    if tests and tests[-1].finding is Finding.FAULT:
        return "found at fault when it was last run"
    tested = last_done(history, TEST_TASKS, fleet.day)
    if tested is None:
        return "never run on record"
    if (fleet.day - tested).days > defaults.STANDBY_TEST_DAYS:
        return "not run within twelve weeks"
    return None


def virtual_spare(fleet: Fleet, rated_w: float) -> Device:
    """A clean chiller with so many watts of cooling on its plate."""
    return Device(VIRTUAL, DeviceKind.CHILLER, "spare", rated_cooling_w=rated_w, installed=fleet.day)


def copy_code(device: str, tank: str) -> str:
    """Code of the copy of a spare that is tried on a tank."""
    return f"{device} at {tank}"


def with_spare(fleet: Fleet, device: Device, tanks: Sequence[str]) -> Fleet:
    """The fleet with a copy of the spare beside each of these tanks, each on its own tank only."""
    copies = {tank: copy_code(device.code, tank) for tank in tanks}
    history = [row for row in fleet.history if row.subject == device.code]
    readings = [row for row in fleet.readings if row.subject == device.code]
    return replace(
        fleet,
        devices=(*fleet.devices, *(replace(device, code=code) for code in copies.values())),
        placements=(
            *fleet.placements,
            *(
                Placement(code, Where.BESIDE_TANK, ALWAYS, fleet.tank_by_code[tank].room, clearance_m=CLEARANCE_M)
                for tank, code in copies.items()
            ),
        ),
        duties=(*fleet.duties, *(Duty(code, tank, ALWAYS, Role.DUTY) for tank, code in copies.items())),
        history=(*fleet.history, *(replace(row, subject=code) for row in history for code in copies.values())),
        readings=(*fleet.readings, *(replace(row, subject=code) for row in readings for code in copies.values())),
    )


@dataclass(frozen=True, slots=True)
class Trial:
    """One spare on one tank: the hours without it, what it gives, and how long it takes to bring."""

    tank: str
    before: HoursToLimit
    gives: SpareGives
    carrying_h: float

    @property
    def gained_h(self) -> float:
        """Hours gained on the low estimate, up to a week in all; 0 where the spare comes too late."""
        before = _low(self.before)
        if self.carrying_h >= before:
            return 0.0
        return max(min(_low(self.gives.hours), HORIZON_H) - min(before, HORIZON_H), 0.0)

    @property
    def worth(self) -> float:
        """Hours gained, weighted by how soon the tank would cross its limit without."""
        return self.gained_h / (1.0 + _low(self.before)) if self.gained_h >= LEAST_GAIN_H else 0.0


def _low(hours: HoursToLimit) -> float:
    return math.inf if hours.low is None else hours.low


def assign(trials: Sequence[Trial]) -> dict[str, SpareGives]:
    """What each tank gets when every spare goes to at most one tank, so that the worth of all together is greatest."""
    from scipy.optimize import linear_sum_assignment

    useful: Mapping[tuple[str, str], Trial] = {
        (trial.gives.device or VIRTUAL, trial.tank): trial for trial in trials if trial.worth > 0.0
    }
    devices, tanks = sorted({key[0] for key in useful}), sorted({key[1] for key in useful})
    worth = np.array([[useful[d, t].worth if (d, t) in useful else 0.0 for t in tanks] for d in devices])
    if worth.size == 0:
        return {}
    rows, columns = linear_sum_assignment(worth, maximize=True)
    return {
        tanks[column]: useful[devices[row], tanks[column]].gives
        for row, column in zip(rows, columns, strict=True)
        if worth[row, column] > 0.0
    }
