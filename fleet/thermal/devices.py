"""From the rows of a register to arrays over cooling devices: ratings, state, place, and which tanks they serve.

Machines are chillers and thermoelectric coolers, which take heat out of the water and give it to air somewhere. Surface
fans act through the tank's own surface, stand fans through the air of the stand. A second axis of three is the side
of the estimate, as in tanks.py.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import astuple, dataclass, field

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.coolers import (
    CONDENSER_AIR_RISE_K,
    fan_over_water,
    fouling_capacity_factor,
    screen_capacity_factor,
    screen_power_factor,
)
from fleet.thermal.device_state import (
    airflow_from_air_rise,
    cleaning_on_record,
    fouling_spread,
    last_done,
    screen_airflow_spread,
)
from fleet.thermal.plates import BARE_VOLUME_BASIS, device_plate
from fleet.thermal.ranges import Array
from fleet.thermal.ratings import rated_or_measured
from fleet.thermal.stand import AIR_W_PER_K_PER_M3_H
from fleet.thermal.tanks import MID, SIDES, BoolArray, IntArray, TankArrays
from fleet.values.fleet import Fleet
from fleet.values.register import Device, Duty, Placement
from fleet.values.spread import Spread
from fleet.values.vocabulary import DeviceKind, Role, Where

FROM_STAND, FROM_ROOM, FROM_OUTDOORS = 0, 1, 2
IN_STAND = (Where.IN_STAND, Where.IN_STAND_VENTED)
MACHINE_KINDS = (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)


@dataclass(frozen=True)
class Machines:
    """Chillers and thermoelectric coolers. `stand` is the tank in whose stand it is (-1: none); `set_point_c` the
    lowest target that it serves; `reference_w` and `reference_power_w` hold at 25 °C water and 30 °C air when clean.
    Ratings, `span_k`, the state (`airflow`, `fouling_m2k_w`, `scale_factor`) and `sun_k`, by which the sun warms the
    intake of a unit outdoors, are [machine, side]."""

    codes: tuple[str, ...]
    is_chiller: BoolArray
    usable: BoolArray
    reference_w: Array
    reference_power_w: Array
    span_k: Array
    airflow: Array
    fouling_m2k_w: Array
    scale_factor: Array
    sun_k: Array
    recirculation: Array
    intake: IntArray
    stand: IntArray
    heats_stand: BoolArray
    room: IntArray
    heats_room: BoolArray
    set_point_c: Array
    basis: tuple[str, ...]
    notes: tuple[tuple[str, ...], ...]

    @functools.cached_property
    def screen_capacity(self) -> Array:
        """Capacity over that with a clean screen; [machine, side]."""
        return screen_capacity_factor.on_arrays(self.airflow)

    @functools.cached_property
    def screen_power(self) -> Array:
        """Electric power over that with a clean screen; [machine, side]."""
        return screen_power_factor.on_arrays(self.airflow)


@dataclass(frozen=True)
class Links:
    """Which machine serves which tank. `duty` runs every day; `spare` may be counted when another fails."""

    machine: IntArray
    tank: IntArray
    duty: BoolArray
    spare: BoolArray


@dataclass(frozen=True)
class SurfaceFans:
    """Fans over the water. `cover` is the share of the surface that one blows over; `airflow` is on the safe side."""

    codes: tuple[str, ...]
    tank: IntArray
    duty: BoolArray
    spare: BoolArray
    speed_m_s: Array
    cover: Array
    opens_share: Array
    airflow: Array
    power_w: Array
    notes: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class DeviceArrays:
    machines: Machines
    links: Links
    fans: SurfaceFans
    stand_flow_m3_h: Array
    """Air that stand fans and vented devices move through each tank's stand; [tank, side]."""
    stand_fans: tuple[tuple[str, int, float], ...]
    """Code, tank and air flow over clean air flow (safe side) of each stand fan."""
    assumed: tuple[tuple[str, ...], ...]
    """Phrases for each tank."""


@dataclass
class _Row:
    """What is gathered of one machine."""

    code: str
    is_chiller: bool
    usable: bool
    reference_w: tuple[float, float, float]
    power_w: tuple[float, float, float]
    airflow: Spread
    fouling: Spread
    recirculation: float
    intake: int
    stand: int
    heats_stand: bool
    room: int
    heats_room: bool
    set_point_c: float
    basis: str
    notes: list[str] = field(default_factory=list)


def recirculation(placement: Placement | None) -> tuple[float, bool]:
    """Share of its exhaust that a device draws in again, and whether it is the default for an unknown clearance.

    Common practice: none where the exhaust is led away, 0.1 with 30 cm free, 0.2 from 15 cm, 0.3 below or unknown.
    """
    if placement is not None and placement.where in (Where.IN_STAND_VENTED, Where.THROUGH_PANEL):
        return 0.0, False
    if placement is None or placement.clearance_m is None:
        return defaults.RECIRCULATION_UNKNOWN, True
    if placement.clearance_m >= 0.30:
        return 0.1, False
    return (0.2, False) if placement.clearance_m >= 0.15 else (0.3, False)


def _standby_counts(fleet: Fleet, device: str) -> bool:
    """A standby counts when it was run, and not found at fault, within twelve weeks."""
    history = [row for row in fleet.history_by_subject.get(device, ()) if row.finding is None or row.finding != "fault"]
    tested = last_done(history, defaults.STANDBY_TASKS, fleet.day)
    return tested is not None and (fleet.day - tested).days <= defaults.STANDBY_TEST_DAYS


class _Gathering:
    def __init__(self, fleet: Fleet, tanks: TankArrays, room_index: Mapping[str, int]) -> None:
        self.fleet, self.tanks, self.room_index = fleet, tanks, room_index
        self.tank_index = {code: i for i, code in enumerate(tanks.codes)}
        self.assumed: list[list[str]] = [[] for _ in tanks.codes]
        self.rows: list[_Row] = []
        self.links: list[tuple[int, int, bool, bool]] = []
        self.fan_rows: list[tuple[str, int, bool, bool, tuple[float, ...], float, float, float, list[str]]] = []
        self.stand_flow = np.zeros((len(tanks.codes), SIDES))
        self.stand_fans: list[tuple[str, int, float]] = []

    def assume(self, duties: list[Duty], phrase: str) -> None:
        for duty in duties:
            phrases = self.assumed[self.tank_index[duty.tank]]
            if phrase not in phrases:
                phrases.append(phrase)

    def conditions(self, device: Device, tank: int) -> tuple[str, ...]:
        words = set(self.fleet.tank_by_code[self.tanks.codes[tank]].conditions)
        room = self.fleet.room_of(device.code)
        if room is not None and room in self.fleet.room_by_code:
            words.update(self.fleet.room_by_code[room].conditions)
        return tuple(sorted(words))

    def add(self, device: Device) -> None:
        fleet = self.fleet
        duties = [duty for duty in fleet.duties_by_device.get(device.code, ()) if duty.tank in self.tank_index]
        placement = fleet.placement_by_device.get(device.code)
        in_store = placement is not None and placement.where is Where.STORE
        if device.kind is DeviceKind.STAND_FAN:
            self.add_stand_fan(device, placement, duties, in_store)
            return
        if not duties or in_store:
            return
        spare = _standby_counts(fleet, device.code)
        if device.kind is DeviceKind.SURFACE_FAN:
            self.add_surface_fan(device, duties, spare)
            return
        first = self.tank_index[duties[0].tank]
        airflow, row = self.machine(device, placement, duties, first)
        self.rows.append(row)
        for duty in duties:
            on_duty = duty.role is not Role.STANDBY
            self.links.append((len(self.rows) - 1, self.tank_index[duty.tank], on_duty, not on_duty and spare))
        if placement is not None and placement.where is Where.IN_STAND_VENTED and row.stand >= 0 and row.usable:
            rejected = row.reference_w[MID] + row.power_w[MID]
            self.stand_flow[row.stand] += (
                np.array(astuple(airflow)) * rejected / (AIR_W_PER_K_PER_M3_H * CONDENSER_AIR_RISE_K)
            )

    def machine(
        self, device: Device, placement: Placement | None, duties: list[Duty], first: int
    ) -> tuple[Spread, _Row]:
        fleet, tanks, code = self.fleet, self.tanks, device.code
        history = fleet.history_by_subject.get(code, ())
        conditions = self.conditions(device, first)
        readings = fleet.readings_by_subject.get(code, ())
        airflow = screen_airflow_spread(device, history, conditions, fleet.day, readings)
        if not cleaning_on_record(device, history, fleet.day):
            self.assume(duties, f"{code}: half of its air flow, no cleaning on record")
        is_chiller = device.kind is DeviceKind.CHILLER
        salty = min(tanks.activity[self.tank_index[duty.tank]] for duty in duties) < 0.99
        clean = Spread(0.0, 0.0, 0.0)
        fouling = fouling_spread(device, history, conditions, bool(salty), fleet.day) if is_chiller else clean
        spread, basis = device_plate(device)
        notes: list[str] = []
        told = airflow_from_air_rise(device, history, readings, fleet.day)
        if told is not None:
            notes.append(f"Its air flow is told by the warming of its air on {told.on.isoformat()}.")
        if basis == BARE_VOLUME_BASIS:
            notes.append("The plate states a volume only, which says little of cooling: unverified.")
        if is_chiller:
            spread, basis, slip = rated_or_measured(
                spread, basis, device, history, readings, conditions, bool(salty), fleet.day
            )
            notes += slip
        usable = spread is not None
        if spread is None:
            spread = Spread(0.0, 0.0, 0.0)
            notes.append("Nothing on the plate tells how much it cools.")
        reference = (spread.low, spread.mid, spread.high)
        cop = defaults.CHILLER_COP if is_chiller else defaults.THERMOELECTRIC_COP
        if device.rated_power_w is not None:
            power = (device.rated_power_w,) * 3
        else:
            power = (spread.mid / cop[0], spread.mid / cop[1], spread.mid / cop[2])
            if usable:
                self.assume(duties, f"{code}: {cop[0]:g} W of cooling for each watt of power")
        recirculated, unknown = recirculation(placement)
        if unknown:
            self.assume(duties, f"{code}: breathes 30 % of its own exhaust")
        where = Where.BESIDE_TANK if placement is None else placement.where
        stand = -1
        if where in IN_STAND:
            holder = placement.stand_of if placement is not None and placement.stand_of else duties[0].tank
            stand = self.tank_index.get(holder, -1)
        intake = FROM_OUTDOORS if where is Where.OUTDOORS else FROM_STAND if stand >= 0 else FROM_ROOM
        room = fleet.room_of(code)
        own_room = int(tanks.room[first])
        return airflow, _Row(
            code=code,
            is_chiller=is_chiller,
            usable=usable,
            reference_w=reference,
            power_w=power,
            airflow=airflow,
            fouling=fouling,
            recirculation=recirculated,
            intake=intake,
            stand=stand,
            heats_stand=where is Where.IN_STAND and stand >= 0,
            room=self.room_index.get(room, own_room) if room is not None else own_room,
            heats_room=where is not Where.OUTDOORS,
            set_point_c=float(min(tanks.target_c[self.tank_index[duty.tank]] for duty in duties)),
            basis=basis,
            notes=notes,
        )

    def add_surface_fan(self, device: Device, duties: list[Duty], spare: bool) -> None:
        flow = device.air_flow_m3_h or defaults.SURFACE_FAN_FLOW_M3_H
        diameter = device.fan_diameter_m or defaults.SURFACE_FAN_DIAMETER_M
        if not device.air_flow_m3_h or not device.fan_diameter_m:
            self.assume(duties, f"{device.code}: {flow:g} m3/h through {diameter * 1000:.0f} mm")
        for duty in duties:
            tank = self.tank_index[duty.tank]
            history = self.fleet.history_by_subject.get(device.code, ())
            airflow = screen_airflow_spread(device, history, self.conditions(device, tank), self.fleet.day)
            length_m, width_m = float(self.tanks.length_m[tank]), float(self.tanks.width_m[tank])
            _speed, cover = fan_over_water(flow * airflow.low, diameter, length_m, width_m)
            speeds = tuple(
                min(fan_over_water(flow * passed, diameter, length_m, width_m)[0] * share, 3.0)
                for passed, share in zip(astuple(airflow), defaults.SURFACE_FAN_SPEED, strict=True)
            )
            on_duty = duty.role is not Role.STANDBY
            power = device.rated_power_w or 0.0
            self.fan_rows.append(
                (device.code, tank, on_duty, not on_duty and spare, speeds, cover, airflow.low, power, [])
            )

    def add_stand_fan(self, device: Device, placement: Placement | None, duties: list[Duty], in_store: bool) -> None:
        holder = placement.stand_of if placement is not None and placement.stand_of else None
        holders = [holder] if holder is not None else [d.tank for d in duties if d.role is not Role.STANDBY]
        if in_store:
            return
        for code in holders:
            tank = self.tank_index.get(code)
            if tank is None:
                continue
            flow = device.air_flow_m3_h
            if flow is None:
                flow = defaults.STAND_FAN_FLOW_M3_H
                phrase = f"{device.code}: {flow:g} m3/h"
                if phrase not in self.assumed[tank]:
                    self.assumed[tank].append(phrase)
            history = self.fleet.history_by_subject.get(device.code, ())
            airflow = screen_airflow_spread(device, history, self.conditions(device, tank), self.fleet.day)
            self.stand_flow[tank] += flow * np.array(astuple(airflow))
            self.stand_fans.append((device.code, tank, airflow.low))


def gather_devices(fleet: Fleet, tanks: TankArrays, room_index: Mapping[str, int]) -> DeviceArrays:
    """The devices that serve these tanks, or stand in their stands, as arrays."""
    gathering = _Gathering(fleet, tanks, room_index)
    wanted = {duty.device for code in tanks.codes for duty in fleet.duties_by_tank.get(code, ())}
    wanted.update(row.device for row in fleet.placements if row.stand_of in gathering.tank_index)
    for code in sorted(wanted & fleet.device_by_code.keys()):
        gathering.add(fleet.device_by_code[code])
    rows, fans = gathering.rows, gathering.fan_rows
    opened = {tank: sum(1 for row in fans if row[1] == tank and row[2]) for tank in {row[1] for row in fans}}

    def floats(values: list[float]) -> Array:
        return np.array(values, dtype=float)

    def sides(values: list[tuple[float, ...]]) -> Array:
        return np.array(values, dtype=float).reshape(-1, SIDES)

    def flags(values: list[bool]) -> BoolArray:
        return np.array(values, dtype=bool)

    def places(values: list[int]) -> IntArray:
        return np.array(values, dtype=np.intp)

    fouling = sides([astuple(row.fouling)[::-1] for row in rows])
    spans = [defaults.THERMOELECTRIC_SPAN_K for _ in rows]
    machines = Machines(
        codes=tuple(row.code for row in rows),
        is_chiller=flags([row.is_chiller for row in rows]),
        usable=flags([row.usable for row in rows]),
        reference_w=sides([row.reference_w for row in rows]),
        reference_power_w=sides([row.power_w for row in rows]),
        span_k=sides([tuple(span) for span in spans]),
        airflow=sides([astuple(row.airflow) for row in rows]),
        fouling_m2k_w=fouling,
        scale_factor=fouling_capacity_factor.on_arrays(fouling),
        sun_k=sides([defaults.SUN_ON_OUTDOOR_UNIT_K for _ in rows]),
        recirculation=floats([row.recirculation for row in rows]),
        intake=places([row.intake for row in rows]),
        stand=places([row.stand for row in rows]),
        heats_stand=flags([row.heats_stand for row in rows]),
        room=places([row.room for row in rows]),
        heats_room=flags([row.heats_room for row in rows]),
        set_point_c=floats([row.set_point_c for row in rows]),
        basis=tuple(row.basis for row in rows),
        notes=tuple(tuple(row.notes) for row in rows),
    )
    links = Links(
        machine=places([link[0] for link in gathering.links]),
        tank=places([link[1] for link in gathering.links]),
        duty=flags([link[2] for link in gathering.links]),
        spare=flags([link[3] for link in gathering.links]),
    )
    surface_fans = SurfaceFans(
        codes=tuple(row[0] for row in fans),
        tank=places([row[1] for row in fans]),
        duty=flags([row[2] for row in fans]),
        spare=flags([row[3] for row in fans]),
        speed_m_s=sides([row[4] for row in fans]),
        cover=floats([row[5] for row in fans]),
        opens_share=floats([1.0 / max(opened[row[1]], 1) for row in fans]),
        airflow=floats([row[6] for row in fans]),
        power_w=floats([row[7] for row in fans]),
        notes=tuple(tuple(row[8]) for row in fans),
    )
    return DeviceArrays(
        machines=machines,
        links=links,
        fans=surface_fans,
        stand_flow_m3_h=gathering.stand_flow,
        stand_fans=tuple(gathering.stand_fans),
        assumed=tuple(tuple(phrases) for phrases in gathering.assumed),
    )
