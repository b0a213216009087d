"""What can be done for a tank, each as a change of the fleet on record; what comes of it the heat balance tells."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import timedelta

from fleet.thermal.cases import Model
from fleet.thermal.coolers import fan_flow_ratio, fan_power_ratio, fan_sound_change_db
from fleet.thermal.devices import MACHINE_KINDS
from fleet.thermal.stand import ventilation_flow
from fleet.thermal.tanks import MID, SAFE
from fleet.values.advice import Measure
from fleet.values.fleet import Fleet
from fleet.values.register import Device, Duty, Placement, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Role, Stand, Where

PREFERRED_SIZES = (
    63.0, 100.0, 160.0, 250.0, 400.0, 630.0, 1000.0, 1600.0, 2500.0, 4000.0, 6300.0, 10000.0, 16000.0, 25000.0,
    40000.0, 63000.0, 100000.0,
)  # fmt: skip
"""Watts of cooling on the plate, and m3/h of stand fans: the R5 series of preferred numbers (ISO 3), a step of 1.6,
which is also what the trade calls one size."""

REFERENCE_FAN_M3_H, REFERENCE_FAN_DIAMETER_M, REFERENCE_FAN_W = 120.0, 0.12, 6.0
"""A usual fan for the rim of a tank: common practice."""
LARGER_FAN_DIAMETER_RATIO = 1.5
SERVICE_AGE = timedelta(days=90)
"""New devices are judged as dusty as they are three months after a cleaning."""
FREE_AT_EXHAUST_M = 0.30
LEAST_STAND_FLOW_M3_H = 63.0
STAND_AIR_RISE_K = 5.0
"""Warming of the air that ventilates a stand, for which its fan is sized."""
COLDER_BY_K = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
COLDEST_ROOM_C = 10.0
PLACES = (Where.BESIDE_TANK, Where.THROUGH_PANEL, Where.OTHER_ROOM, Where.OUTDOORS)


@dataclass(frozen=True)
class Trial:
    """A measure and the fleet that it makes. The other fields are those of Option."""

    measure: Measure
    fleet: Fleet
    size: float | None = None
    place: Where | None = None
    room: str | None = None
    room_mean_c: float | None = None
    noise_change_db: float | None = None


def fan_of_flow(flow_ratio: float) -> tuple[float, float, float]:
    """Diameter ratio, power ratio and change of sound [dB] of a similar fan with the same speed at its blade tips.

    flow_ratio: its air flow over that of the first, above 0. By the affinity laws flow and power then go with the
    square of the diameter.
    """
    diameter = flow_ratio**0.5
    speed = 1.0 / diameter
    power: float = fan_power_ratio(speed, diameter)
    sound: float = fan_sound_change_db(speed, diameter)
    return diameter, power, sound


def _unused(fleet: Fleet, wish: str) -> str:
    code, number = wish, 2
    while code in fleet.kind_by_code:
        code, number = f"{wish}-{number}", number + 1
    return code


def _with_device(fleet: Fleet, tank: str, device: Device, placement: Placement) -> Fleet:
    return replace(
        fleet,
        devices=(*fleet.devices, device),
        placements=(*fleet.placements, placement),
        duties=(*fleet.duties, Duty(device.code, tank, fleet.day)),
    )


def _with_tank(fleet: Fleet, tank: Tank) -> Fleet:
    return replace(fleet, tanks=tuple(tank if row.code == tank.code else row for row in fleet.tanks))


def _with_lid(fleet: Fleet, tank: Tank, lid: Lid) -> Fleet:
    """The tank with another lid. A lamp whose mounting is not on record stays where it was taken to be, so that the
    lid alone makes the difference."""
    lamps_at = Mounting.RIM if tank.lid is Lid.OPEN else Mounting.SEALED_HOOD
    loads = tuple(
        replace(row, mounting=lamps_at)
        if row.tank == tank.code and row.kind is LoadKind.LIGHT and row.mounting is None
        else row
        for row in fleet.loads
    )
    return _with_tank(replace(fleet, loads=loads), replace(tank, lid=lid))


def coolers_on_duty(fleet: Fleet, tank: str, kinds: Iterable[DeviceKind]) -> tuple[str, ...]:
    """Codes of the devices of these kinds that are to cool the tank every day, those in store left out."""
    found = []
    for duty in fleet.duties_by_tank.get(tank, ()):
        device, placement = fleet.device_by_code.get(duty.device), fleet.placement_by_device.get(duty.device)
        in_store = placement is not None and placement.where is Where.STORE
        if device is not None and device.kind in kinds and duty.role is not Role.STANDBY and not in_store:
            found.append(duty.device)
    return tuple(sorted(found))


def without_coolers(fleet: Fleet, tank: str) -> Fleet:
    """The tank without what takes heat out of its water; a stand fan stays."""
    kinds = (*MACHINE_KINDS, DeviceKind.SURFACE_FAN)
    gone = {code for code, device in fleet.device_by_code.items() if device.kind in kinds}
    return replace(fleet, duties=tuple(row for row in fleet.duties if row.tank != tank or row.device not in gone))


def lid_measures(fleet: Fleet, tank: Tank) -> list[Trial]:
    """The lid lifted; closed, where it is not and the room is warmer than the water."""
    found = []
    if tank.lid is not Lid.OPEN:
        found.append(Trial(Measure.LID_LIFTED, _with_lid(fleet, tank, Lid.OPEN)))
    if tank.lid is not Lid.SEALED and fleet.room_by_code[tank.room].hot_day_mean_c > tank.target_c:
        found.append(Trial(Measure.LID_CLOSED, _with_lid(fleet, tank, Lid.SEALED)))
    return found


def stand_flow(model: Model, place: int) -> float:
    """Air that carries off the heat released in a tank's stand, its machines at full duty, at a usual warming. [m3/h]

    place: of the tank in the model.
    """
    machines = model.devices.machines
    inside = machines.heats_stand & (machines.stand == place)
    heat_w = float((machines.reference_w[:, MID] + machines.reference_power_w[:, MID])[inside].sum())
    flow: float = ventilation_flow(heat_w + float(model.tanks.stand_gain_w[place, SAFE].max()), STAND_AIR_RISE_K)
    return flow


def stand_vented(fleet: Fleet, tank: Tank, flow_m3_h: float) -> Trial:
    """A fan that moves air through the closed stand; the next preferred size from `flow_m3_h` on."""
    largest = PREFERRED_SIZES[-1]
    size = next((one for one in PREFERRED_SIZES if one >= max(flow_m3_h, LEAST_STAND_FLOW_M3_H)), largest)
    _diameter, power, sound = fan_of_flow(size / REFERENCE_FAN_M3_H)
    code = _unused(fleet, "stand-fan")
    fan = Device(
        code,
        DeviceKind.STAND_FAN,
        "Stand fan",
        air_flow_m3_h=size,
        rated_power_w=REFERENCE_FAN_W * power,
        installed=fleet.day - SERVICE_AGE,
    )
    placement = Placement(code, Where.IN_STAND_VENTED, fleet.day, stand_of=tank.code)
    closed = _with_tank(fleet, replace(tank, stand=Stand.CLOSED))
    vented = _with_device(closed, tank.code, fan, placement)
    return Trial(Measure.STAND_VENTED, vented, size=size, noise_change_db=sound)


def _with_fan(fleet: Fleet, tank: str, diameter_ratio: float = 1.0) -> Fleet:
    speed = 1.0 / diameter_ratio
    flow: float = fan_flow_ratio(speed, diameter_ratio)
    power: float = fan_power_ratio(speed, diameter_ratio)
    code = _unused(fleet, "fan")
    fan = Device(
        code,
        DeviceKind.SURFACE_FAN,
        "Fan over the water",
        air_flow_m3_h=REFERENCE_FAN_M3_H * flow,
        fan_diameter_m=REFERENCE_FAN_DIAMETER_M * diameter_ratio,
        rated_power_w=REFERENCE_FAN_W * power,
        installed=fleet.day - SERVICE_AGE,
    )
    return _with_device(fleet, tank, fan, Placement(code, Where.BESIDE_TANK, fleet.day, fleet.tank_by_code[tank].room))


TWO_LIKE_FANS_DB = 3.0103
"""Ten times the decimal logarithm of two: two like sources together."""


def fan_measures(fleet: Fleet, tank: Tank, *, beside: bool) -> list[Trial]:
    """Surface fans in place of what cools the tank now, and, if asked for, one beside it."""
    bare = without_coolers(fleet, tank.code)
    _diameter, _power, larger_db = fan_of_flow(LARGER_FAN_DIAMETER_RATIO**2)
    one = _with_fan(bare, tank.code)
    found = [
        Trial(Measure.ONE_FAN, one, noise_change_db=0.0),
        Trial(Measure.TWO_FANS, _with_fan(one, tank.code), noise_change_db=TWO_LIKE_FANS_DB),
        Trial(
            Measure.LARGER_FAN,
            _with_fan(bare, tank.code, LARGER_FAN_DIAMETER_RATIO),
            noise_change_db=larger_db,
        ),
    ]
    if tank.lid is not Lid.OPEN:
        one_open = _with_fan(_with_lid(bare, tank, Lid.OPEN), tank.code)
        found.append(Trial(Measure.ONE_FAN_OPEN_TOP, one_open, noise_change_db=0.0))
        found.append(Trial(Measure.TWO_FANS_OPEN_TOP, _with_fan(one_open, tank.code), noise_change_db=TWO_LIKE_FANS_DB))
    if beside and coolers_on_duty(fleet, tank.code, (*MACHINE_KINDS, DeviceKind.SURFACE_FAN)):
        found.append(Trial(Measure.FAN_BESIDE, _with_fan(fleet, tank.code), noise_change_db=0.0))
    return found


def chiller_of(fleet: Fleet, tank: Tank, size_w: float, measure: Measure = Measure.CHILLER) -> Trial:
    """A chiller of this many watts beside the tank, with 30 cm free at its exhaust, in place of what cools it now."""
    code = _unused(fleet, "chiller")
    chiller = Device(
        code,
        DeviceKind.CHILLER,
        "Chiller",
        rated_cooling_w=size_w,
        installed=fleet.day - SERVICE_AGE,
    )
    placement = Placement(code, Where.BESIDE_TANK, fleet.day, tank.room, clearance_m=FREE_AT_EXHAUST_M)
    return Trial(measure, _with_device(without_coolers(fleet, tank.code), tank.code, chiller, placement), size=size_w)


def chiller_sizes(need_w: float, largest_need_w: float) -> tuple[float, ...]:
    """Preferred sizes worth trying, from just below the need on the hot day to four times the largest need."""
    top = 4.0 * max(need_w, largest_need_w)
    fitting = [size for size in PREFERRED_SIZES if 0.8 * need_w <= size <= top]
    return tuple(fitting or PREFERRED_SIZES[:1])


def other_room(fleet: Fleet, tank: Tank) -> str | None:
    """Code of the coolest room under a roof at the tank's site, its own left out; None where no other is on record."""
    own = fleet.room_by_code[tank.room]
    others = [
        room
        for room in fleet.rooms
        if room.site == own.site and room.code != own.code and "outdoor" not in room.conditions
    ]
    return min(others, key=lambda room: (room.hot_day_mean_c, room.code)).code if others else None


def move(fleet: Fleet, tank: Tank, place: Where, room: str | None) -> Trial | None:
    """The tank's present machines at another place; None where all of them stand there already."""
    machines = coolers_on_duty(fleet, tank.code, MACHINE_KINDS)
    standing = {code: fleet.placement_by_device.get(code) for code in machines}
    moving = {code for code, row in standing.items() if (Where.BESIDE_TANK if row is None else row.where) is not place}
    if not moving:
        return None
    kept = tuple(row for row in fleet.placements if row.device not in moving)
    new = tuple(Placement(code, place, fleet.day, room, clearance_m=FREE_AT_EXHAUST_M) for code in sorted(moving))
    return Trial(Measure.MOVED, replace(fleet, placements=(*kept, *new)), place=place, room=room)


def colder_rooms(fleet: Fleet, tank: Tank, measure: Measure) -> list[Trial]:
    """The tank's room kept colder step by step, its relative humidity the same."""
    own = fleet.room_by_code[tank.room]
    found = []
    for step in COLDER_BY_K:
        mean = own.hot_day_mean_c - step
        if mean < COLDEST_ROOM_C:
            break
        rooms = tuple(replace(row, hot_day_mean_c=mean) if row.code == own.code else row for row in fleet.rooms)
        found.append(Trial(measure, replace(fleet, rooms=rooms), room_mean_c=mean))
    return found
