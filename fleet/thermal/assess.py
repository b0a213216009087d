"""The door of the thermal room: from the fleet on a day to what the heat balance says of each tank."""

from __future__ import annotations

import difflib
import math
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from fleet.errors import NotFound
from fleet.thermal.calibration import Calibration, calibrated, judge_logs, with_logs
from fleet.thermal.capacity import AtPeak, Loss, at_peak, common_failures, largest_loss
from fleet.thermal.cases import Model, build_model
from fleet.thermal.coolers import CUT_OUT_C
from fleet.thermal.devices import FROM_OUTDOORS, gather_devices
from fleet.thermal.endurance import (
    AC_AND_ALL_LOST,
    AC_LOST,
    AC_OFF_LARGEST_LOST,
    ALL_LOST,
    LARGEST_LOST,
    Days,
    hours_by_failure,
    repeating_days,
)
from fleet.thermal.groups import batches, is_placed
from fleet.thermal.ranges import AIR_C, CHILLER_WATER_C, CONDENSER_INLET_C, Array
from fleet.thermal.rooms import AC_OFF, HOT, SCENARIOS, gather_rooms
from fleet.thermal.tanks import KIND, MID, SAFE, gather_tanks
from fleet.thermal.verdict import figures_of, judge
from fleet.values.assessment import Assessment, DeviceCapacity, HoursByFailure, HoursToLimit
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind, MarginState, Reaches, Role, Scenario

BATCH = 1000


def assess(
    fleet: Fleet,
    classes: Mapping[str, AnimalClass],
    *,
    scenarios: Sequence[Scenario] = SCENARIOS,
    tanks: Collection[str] | None = None,
    with_hours: bool = True,
) -> tuple[Assessment, ...]:
    """Need, capacity, margin and hours to the limit of every tank (or of those named) under each scenario.

    classes: classes of animals by code and alias, for limits that a tank does not state itself. with_hours: whether to
    follow failures to the limit, which takes longest; the hours are not known otherwise. Sorted by tank, then scenario.
    Raises NotFound for a tank that is not on record. Every figure that decides is on the safe side: the
    high end of the heat, the low end of the capacity, the small end of the water. Needs `fleet.day` only for ages
    of readings and service records.
    """
    wanted = find_tanks(fleet, tanks)
    together = common_failures(fleet)
    found: list[Assessment] = []
    for codes in batches(fleet, wanted, BATCH):
        batch = _Batch(fleet, build(fleet, classes, codes), together, with_hours=with_hours)
        found.extend(batch.assessments(wanted, scenarios))
    return tuple(sorted(found, key=lambda row: (row.tank, row.scenario)))


def find_tanks(fleet: Fleet, tanks: Collection[str] | None) -> set[str]:
    """These tanks, or all whose room is on record. Raises NotFound for one that is not, or whose room is not."""
    placed = {tank.code for tank in fleet.tanks if is_placed(fleet, tank.code)}
    wanted = placed if tanks is None else set(tanks)
    for code in sorted(wanted - fleet.tank_by_code.keys()):
        near = difflib.get_close_matches(code, list(fleet.tank_by_code), n=1)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise NotFound(f"no tank {code!r} is on record{hint}")
    for code in sorted(wanted - placed):
        raise NotFound(f"the room of tank {code!r} is not on record on {fleet.day.isoformat()}")
    return wanted


def assess_model(
    fleet: Fleet, model: Model, tanks: Collection[str], *, with_hours: bool = True
) -> dict[tuple[str, Scenario], Assessment]:
    """As `assess`, for tanks of a model that is built already, by tank and scenario.

    with_hours: whether to follow the failures too, most of the work; without, `hours` holds nothing.
    """
    batch = _Batch(fleet, model, common_failures(fleet), with_hours=with_hours)
    return {(row.tank, row.scenario): row for row in batch.assessments(tanks, SCENARIOS)}


def build(
    fleet: Fleet,
    classes: Mapping[str, AnimalClass],
    codes: Sequence[str],
    calibrations: Sequence[Calibration] | None = None,
) -> Model:
    """The model of these tanks, which must hold whole groups (see groups.py), calibrated where their logs allow.

    calibrations: taken in place of those that the logs give, for tanks that are not what they were when logged.
    """
    bare = _uncalibrated(fleet, classes, codes)
    if calibrations is not None:
        return calibrated(bare, calibrations)
    return with_logs(fleet, bare, lambda some: _uncalibrated(fleet, classes, some))


def calibrations_of(fleet: Fleet, classes: Mapping[str, AnimalClass], codes: Sequence[str]) -> tuple[Calibration, ...]:
    """The calibrations that the logs of these tanks give."""
    outcomes = judge_logs(fleet, codes, lambda some: _uncalibrated(fleet, classes, some))
    return tuple(outcome for outcome in outcomes if isinstance(outcome, Calibration))


def _uncalibrated(fleet: Fleet, classes: Mapping[str, AnimalClass], codes: Sequence[str]) -> Model:
    room_codes = {fleet.tank_by_code[code].room for code in codes}
    for code in codes:
        for held in fleet.duties_by_tank.get(code, ()):
            room = fleet.room_of(held.device)
            if room in fleet.room_by_code:
                room_codes.add(room)
    rooms_sorted = sorted(room_codes)
    index = {code: i for i, code in enumerate(rooms_sorted)}
    tanks = gather_tanks(fleet, classes, codes, index)
    devices = gather_devices(fleet, tanks, index)
    machines = devices.machines
    power = np.bincount(
        machines.room,
        weights=machines.reference_power_w[:, MID] * machines.heats_room,
        minlength=len(rooms_sorted),
    ).astype(float)
    return build_model(tanks, gather_rooms(fleet, rooms_sorted, tanks, power), devices)


class _Batch:
    """A few hundred tanks that are worked out at once, and the reading of their arrays into values."""

    def __init__(
        self,
        fleet: Fleet,
        model: Model,
        together: dict[str, list[frozenset[str]]],
        *,
        with_hours: bool = True,
    ) -> None:
        self.fleet, self.model = fleet, model
        self.peaks: tuple[AtPeak, AtPeak] = (at_peak(self.model, HOT), at_peak(self.model, AC_OFF))
        self.losses: tuple[Loss, Loss] = (
            largest_loss(self.model, self.peaks[HOT], together),
            largest_loss(self.model, self.peaks[AC_OFF], together),
        )
        self.figures = tuple(figures_of(model, self.peaks[c], self.losses[c], c) for c in (HOT, AC_OFF))
        self.days: Days = repeating_days(self.model, self.peaks[HOT].share)
        self.hours = hours_by_failure(self.model, self.peaks[HOT], self.losses) if with_hours else None
        links, fans = self.model.devices.links, self.model.devices.fans
        self.links_of: list[list[int]] = [[] for _ in model.tanks.codes]
        for i, place in enumerate(links.tank):
            self.links_of[place].append(i)
        self.fans_of: list[list[int]] = [[] for _ in model.tanks.codes]
        for i, place in enumerate(fans.tank):
            self.fans_of[place].append(i)
        self.stand_fans_of: list[list[tuple[str, float]]] = [[] for _ in model.tanks.codes]
        for code, place, airflow in self.model.devices.stand_fans:
            self.stand_fans_of[place].append((code, airflow))

    def assessments(self, wanted: Collection[str], scenarios: Sequence[Scenario]) -> list[Assessment]:
        return [
            self.one(place, SCENARIOS.index(scenario))
            for place, code in enumerate(self.model.tanks.codes)
            if code in wanted
            for scenario in scenarios
        ]

    def one(self, i: int, c: int) -> Assessment:
        tanks, rooms, devices = self.model.tanks, self.model.rooms, self.model.devices
        peak, loss, figures = self.peaks[c], self.losses[c], self.figures[c]
        room = int(tanks.room[i])
        limits = tanks.limits[i]
        required, available = _spread(peak.required_w[i]), _spread(peak.available_w[i])
        # Each side's capacity against its own need: a machine that trips on one side leaves the stand cooler there.
        links = [k for k in self.links_of[i] if devices.links.duty[k]]
        fans = [k for k in self.fans_of[i] if devices.fans.duty[k]]
        fans_count = rooms.fans_count[room, c] > 0.0
        unknown = [k for k in links if not devices.machines.usable[devices.links.machine[k]]]
        trips = any(bool(peak.trips[k]) for k in links)
        peak_c = float(self.days.peak_c[i, c])
        judged = judge(
            _spread(figures.margin[i]),
            needed=required.high > 0.0,
            has_cooling=bool(links) or (bool(fans) and fans_count),
            all_unknown=bool(unknown) and len(unknown) == len(links) and not fans,
            trips=trips,
            stays_inside_watch=peak_c <= limits.watch_high_c,
        )
        needed, known = required.high > 0.0, judged.state is not MarginState.UNKNOWN
        n_minus_1 = None
        if loss.any_device[i] and needed and known:
            n_minus_1 = figures.left_margin[i]
        has_device = bool(links or fans)
        room_peak_c = float(rooms.mean_c[room, c] + rooms.half_range_k[room, c])
        return Assessment(
            tank=tanks.codes[i],
            scenario=SCENARIOS[c],
            target_c=float(tanks.target_c[i]),
            required_w=float(peak.required_w[i, SAFE]),
            required_spread_w=required,
            available_w=available if has_device and known else None,
            margin=judged.margin,
            state=judged.state,
            duty=figures.duty[i] if has_device and known else None,
            n_minus_1_margin=n_minus_1,
            hours=self.hours_of(i, c, bool(unknown), has_device),
            peak_c=peak_c,
            limit_c=limits.act_high_c,
            room_peak_c=room_peak_c,
            equilibrium_c=float(self.days.equilibrium_c[i, c, SAFE]),
            evaporation_l_per_day=float(self.days.evaporation_l_per_day[i, c]),
            dew_point_c=figures.dew_point_c[room],
            assumed=self.assumed_of(i, c, room),
            devices=self.devices_of(i, c),
            notes=self.notes_of(i, c, room, judged.state, peak_c),
        )

    def hours_of(self, i: int, c: int, unknown: bool, has_device: bool) -> HoursByFailure:
        room = int(self.model.tanks.room[i])
        conditioned = self.model.rooms.air_conditioned[room]
        all_lost, largest = (ALL_LOST, LARGEST_LOST) if c == HOT else (AC_AND_ALL_LOST, AC_OFF_LARGEST_LOST)

        def hours(failure: int, *, by_devices: bool) -> HoursToLimit:
            if self.hours is None or (by_devices and unknown):
                return HoursToLimit(None, None, None, Reaches.UNKNOWN)
            return _hours(self.hours[i, failure])

        return HoursByFailure(
            all_cooling_lost=hours(all_lost, by_devices=False),
            ac_lost=hours(AC_LOST, by_devices=True) if conditioned else None,
            ac_and_cooling_lost=hours(AC_AND_ALL_LOST if conditioned else all_lost, by_devices=False),
            largest_lost=hours(largest, by_devices=True) if has_device else None,
        )

    def assumed_of(self, i: int, c: int, room: int) -> tuple[str, ...]:
        rooms, devices = self.model.rooms, self.model.devices
        phrases = [*self.model.tanks.assumed[i], *rooms.assumed[room][c], *devices.assumed[i]]
        outdoors = any(devices.machines.intake[devices.links.machine[k]] == FROM_OUTDOORS for k in self.links_of[i])
        if outdoors and not rooms.outdoor_known[room]:
            phrases.append("outdoor design day: peak 35 °C")
        return tuple(dict.fromkeys(phrases))

    def notes_of(self, i: int, c: int, room: int, state: MarginState, peak_c: float) -> tuple[str, ...]:
        tanks, devices, peak = self.model.tanks, self.model.devices, self.peaks[c]
        notes = list(self.model.rooms.notes[room][c])
        log_note = self.model.log_notes[i]
        if log_note is not None:
            notes.append(log_note)
        limits = tanks.limits[i]
        if state is MarginState.SHORT and peak_c <= limits.watch_high_c:
            notes.append(
                f"Short at the hour that counts, but the water carries it: its peak of {peak_c:.1f} °C stays "
                f"inside the watch limit of {limits.watch_high_c:.1f} °C."
            )
        if limits.act_high_c <= tanks.target_c[i]:
            notes.append("The upper act limit does not lie above the target.")
        for k in self.links_of[i]:
            basis = devices.machines.basis[devices.links.machine[k]]
            if "unverified" in basis and devices.links.duty[k]:
                notes.append("The margin rests on a plate that states a volume only: unverified.")
        duty_fans = [k for k in self.fans_of[i] if devices.fans.duty[k]]
        if c == AC_OFF and duty_fans and not self.model.rooms.fans_count[room, c]:
            notes.append("Surface fans count as nothing: the room's volume is unknown, so its humidity is too.")
        if duty_fans and self.model.rooms.fans_count[room, c] and all(peak.fan_w[k, MID] <= 0.0 for k in duty_fans):
            notes.append("A fan warms this tank: the air holds more heat and vapour than the water gives off.")
        return tuple(dict.fromkeys(notes))

    def devices_of(self, i: int, c: int) -> tuple[DeviceCapacity, ...]:
        rows = [self.machine_row(k, c) for k in self.links_of[i]]
        rows += [self.fan_row(k, c) for k in self.fans_of[i]]
        rows += [
            DeviceCapacity(
                device=code,
                role=Role.DUTY,
                capacity_w=None,
                electric_power_w=self.fleet.device_by_code[code].rated_power_w,
                condenser_inlet_c=None,
                condensing_c=None,
                screen_airflow=airflow,
                fouling_m2k_w=None,
                trips=False,
                plate_basis="air flow",
                notes=("It ventilates the stand; what it does shows in what the tank needs.",),
            )
            for code, airflow in self.stand_fans_of[i]
        ]
        return tuple(sorted(rows, key=lambda row: (row.role, row.device)))

    def machine_row(self, k: int, c: int) -> DeviceCapacity:
        machines, links, peak = self.model.devices.machines, self.model.devices.links, self.peaks[c]
        m = int(links.machine[k])
        chiller, trips = bool(machines.is_chiller[m]), bool(peak.trips[k])
        notes = list(machines.notes[m])
        inlet, condensing = min(float(peak.inlet_c[k]), AIR_C.high), float(peak.condensing_c[k])
        beyond = inlet > CONDENSER_INLET_C.high
        if trips:
            notes.append(_trip_words(chiller, inlet, condensing, float(machines.set_point_c[m])))
        notes += _standby_words(bool(links.duty[k]), bool(links.spare[k]))
        return DeviceCapacity(
            device=machines.codes[m],
            role=Role.DUTY if links.duty[k] else Role.STANDBY,
            capacity_w=_spread(peak.link_w[k]) if machines.usable[m] else None,
            electric_power_w=float(peak.power_w[k]) if machines.usable[m] else None,
            condenser_inlet_c=inlet,
            condensing_c=condensing if chiller and not beyond else None,
            screen_airflow=float(machines.airflow[m, SAFE]),
            fouling_m2k_w=float(machines.fouling_m2k_w[m, SAFE]) if chiller else None,
            trips=trips,
            plate_basis=machines.basis[m],
            notes=tuple(notes),
        )

    def fan_row(self, k: int, c: int) -> DeviceCapacity:
        fans, peak = self.model.devices.fans, self.peaks[c]
        device = self.fleet.device_by_code[fans.codes[k]]
        stated = device.kind is DeviceKind.SURFACE_FAN and bool(device.air_flow_m3_h and device.fan_diameter_m)
        return DeviceCapacity(
            device=fans.codes[k],
            role=Role.DUTY if fans.duty[k] else Role.STANDBY,
            capacity_w=_spread(peak.fan_w[k]),
            electric_power_w=device.rated_power_w,
            condenser_inlet_c=None,
            condensing_c=None,
            screen_airflow=float(fans.airflow[k]),
            fouling_m2k_w=None,
            trips=False,
            plate_basis="air flow and diameter" if stated else "a usual fan of this kind",
            notes=tuple(_standby_words(bool(fans.duty[k]), bool(fans.spare[k]))),
        )


def _trip_words(chiller: bool, inlet_c: float, condensing_c: float, set_point_c: float) -> str:
    if not chiller:
        return f"Its intake air of {inlet_c:.0f} °C is too hot for it."
    if not CHILLER_WATER_C.low <= set_point_c <= CHILLER_WATER_C.high:
        return f"Water of {set_point_c:.1f} °C lies outside 8 to 30 °C, where its output is known: counted as nothing."
    if inlet_c < CONDENSER_INLET_C.low:
        return f"Intake air of {inlet_c:.0f} °C lies below 15 °C, where its output is known: counted as nothing."
    if inlet_c > CONDENSER_INLET_C.high:
        return "Left running, its intake air would pass 50 °C and its cut-out act: it stops when it is needed."
    return f"It condenses at {condensing_c:.0f} °C, past the cut-out at {CUT_OUT_C:.0f} °C: it stops when it is needed."


def _standby_words(on_duty: bool, counts: bool) -> list[str]:
    if on_duty or counts:
        return []
    return ["This standby does not count: it was not run within twelve weeks."]


def _spread(values: Array) -> Spread:
    """Three figures, which are in rising order but for rounding, as a spread."""
    low, mid, high = sorted(float(value) for value in (values[SAFE], values[MID], values[KIND]))
    return Spread(low, mid, high)


def _hours(values: Array) -> HoursToLimit:
    low, mid, high = (None if math.isinf(value) else value for value in sorted(float(value) for value in values))
    return HoursToLimit(low, mid, high, Reaches.NO if low is None else Reaches.YES)
