"""The fleet and its model with something failed.

What fails is taken out of the register's facts, so that every formula sees the failed fleet as it would see any other.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleet.errors import BadInput, NotFound
from fleet.thermal import defaults
from fleet.thermal.assess import build
from fleet.thermal.calibration import Calibration
from fleet.thermal.cases import Model
from fleet.thermal.groups import is_placed
from fleet.thermal.ranges import AIR_C, Array
from fleet.thermal.rooms import AC_OFF, HOT
from fleet.thermal.tanks import MID, BoolArray
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.outage import Failure
from fleet.values.register import Equipment, Load
from fleet.values.vocabulary import DeviceKind, EquipmentKind, LoadKind, Mounting, Role, SubjectKind, Where


@dataclass(frozen=True, slots=True)
class Failed:
    """A failure worked out: the rooms, devices, sites and heaters concerned, and the tanks, all as sets of codes."""

    rooms_off: frozenset[str]
    lost: frozenset[str]
    sites_dark: frozenset[str]
    stuck_devices: frozenset[str]
    stuck_heaters_of: frozenset[str]
    """Tanks whose heaters do not stop."""
    tanks: frozenset[str]


def work_out(fleet: Fleet, failure: Failure) -> Failed:
    """What a failure takes with it. Raises NotFound for a code not on record, BadInput for one that cannot fail so."""
    if not failure.codes:
        raise BadInput("nothing fails: name a room, a device or a site")
    if failure.air_c is not None and not AIR_C.low <= failure.air_c <= AIR_C.high:
        raise BadInput(f"air of {failure.air_c:g} °C: expected {AIR_C.low:g} to {AIR_C.high:g} °C")
    rooms_off: set[str] = set()
    for code in failure.ac_off:
        rooms = conditioned_rooms(fleet, code)
        if not rooms:
            raise BadInput(f"{code} has no air conditioning on record that could fail")
        rooms_off.update(rooms)
    lost = {device for code in (*failure.lost, *failure.flow_lost) for device in _devices(fleet, code)}
    for code in failure.power_out:
        site_code(fleet, code)
    dark = frozenset(failure.power_out)
    stuck_devices: set[str] = set()
    heaters_of: set[str] = set()
    for code in failure.stuck_on:
        devices, tanks = _stuck(fleet, code)
        stuck_devices |= devices
        heaters_of |= tanks

    tanks = {tank.code for tank in fleet.tanks if tank.room in rooms_off or fleet.site_of(tank.code) in dark}
    breathing = {device for device in fleet.device_by_code if fleet.room_of(device) in rooms_off}
    in_the_dark = {device for device in fleet.device_by_code if fleet.site_of(device) in dark}
    for device in lost | stuck_devices | in_the_dark | _on_duty(fleet, breathing):
        tanks.update(fleet.tanks_of(device))
        placement = fleet.placement_by_device.get(device)
        if placement is not None and placement.stand_of is not None:
            tanks.add(placement.stand_of)
    tanks |= heaters_of
    placed = {code for code in tanks & fleet.tank_by_code.keys() if is_placed(fleet, code)}
    return Failed(
        frozenset(rooms_off),
        frozenset(lost),
        dark,
        frozenset(stuck_devices),
        frozenset(heaters_of),
        frozenset(placed),
    )


def _on_duty(fleet: Fleet, devices: Iterable[str]) -> set[str]:
    return {
        device
        for device in devices
        if not in_store(fleet, device)
        and any(duty.role is not Role.STANDBY for duty in fleet.duties_by_device.get(device, ()))
    }


def in_store(fleet: Fleet, device: str) -> bool:
    """Whether a device stands in the store, where it cools nothing."""
    placement = fleet.placement_by_device.get(device)
    return placement is not None and placement.where is Where.STORE


def _kind_of(fleet: Fleet, code: str, kinds: Sequence[SubjectKind], wanted: str) -> SubjectKind:
    kind = fleet.kind_by_code.get(code)
    if kind is None:
        fitting = [known for known, its in fleet.kind_by_code.items() if its in kinds]
        near = difflib.get_close_matches(code, fitting, n=1)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise NotFound(f"no {wanted.split(' ', 1)[1]} {code!r} is on record{hint}")
    if kind not in kinds:
        raise BadInput(f"{code} is on record as {kind}: expected {wanted}")
    return kind


def site_code(fleet: Fleet, code: str) -> str:
    """The code itself. Raises NotFound or BadInput unless it is that of a site."""
    _kind_of(fleet, code, (SubjectKind.SITE,), "a site")
    return code


def conditioned_rooms(fleet: Fleet, code: str) -> list[str]:
    """A room, or the rooms of a site, less those that have no air conditioning."""
    kind = _kind_of(fleet, code, (SubjectKind.ROOM, SubjectKind.SITE), "a room or site")
    rooms = [code] if kind is SubjectKind.ROOM else [room.code for room in fleet.rooms if room.site == code]
    return [room for room in rooms if fleet.room_by_code[room].air_conditioned is not False]


def _devices(fleet: Fleet, code: str) -> list[str]:
    """A device itself, or the devices that hang on a piece of equipment."""
    kind = _kind_of(fleet, code, (SubjectKind.DEVICE, SubjectKind.EQUIPMENT), "a device or piece of equipment")
    if kind is SubjectKind.DEVICE:
        return [code]
    served = [device for device in fleet.equipment_by_code[code].serves if device in fleet.device_by_code]
    if not served:
        raise BadInput(f"no cooling device hangs on {code}")
    return served


def _stuck(fleet: Fleet, code: str) -> tuple[set[str], set[str]]:
    """The machine that does not stop, or the tanks whose heaters do not."""
    kinds = (SubjectKind.DEVICE, SubjectKind.EQUIPMENT, SubjectKind.TANK)
    kind = _kind_of(fleet, code, kinds, "a cooling device, a heater or a tank")
    if kind is SubjectKind.DEVICE:
        if fleet.device_by_code[code].kind not in (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC):
            raise BadInput(f"{code} is a fan, which runs all the time as it is: expected a chiller or cooler")
        return {code}, set()
    if kind is SubjectKind.TANK:
        tanks = {code}
    else:
        item = fleet.equipment_by_code[code]
        if item.kind is not EquipmentKind.HEATER:
            raise BadInput(f"{code} is on record as {item.kind}: expected a cooling device, a heater or a tank")
        tanks = set(fleet.tanks_of(code))
    unknown = sorted(tank for tank in tanks if heater_power_w(fleet, tank) <= 0.0)
    if unknown or not tanks:
        named = ", ".join(unknown) or code
        raise BadInput(f"the power of the heater of {named} is not on record: add it to the tank's loads")
    return set(), tanks


def heater_power_w(fleet: Fleet, tank: str) -> float:
    """Power of the heaters among a tank's loads. [W]"""
    return sum(load.power_w for load in fleet.loads_by_tank.get(tank, ()) if load.kind is LoadKind.HEATER)


def standing_in(fleet: Fleet, model: Model, failed: Failed) -> dict[str, tuple[str, ...]]:
    """The tested standbys that run in place of something lost, by tank. `model` is that of the fleet unharmed."""
    links, fans, codes = model.devices.links, model.devices.fans, model.tanks.codes
    tested = {
        (model.devices.machines.codes[machine], codes[tank])
        for machine, tank, spare in zip(links.machine, links.tank, links.spare, strict=True)
        if spare
    }
    tested.update(
        (code, codes[tank]) for code, tank, spare in zip(fans.codes, fans.tank, fans.spare, strict=True) if spare
    )
    losing = {
        duty.tank
        for device in failed.lost
        for duty in fleet.duties_by_device.get(device, ())
        if duty.role is not Role.STANDBY
    }
    found: dict[str, list[str]] = {}
    for device, tank in sorted(tested):
        if tank in losing and device not in failed.lost:
            found.setdefault(tank, []).append(device)
    return {tank: tuple(devices) for tank, devices in found.items()}


def without(fleet: Fleet, failed: Failed, stepping_in: Mapping[str, Collection[str]], air_c: float | None) -> Fleet:
    """The fleet with what failed taken out.

    A lost device stays where it is as a standby that nobody tested, so that rooms and tanks keep all else that is known
    of them. At a site without power every load, heater and device is gone.
    """
    dark_tanks = {tank.code for tank in fleet.tanks if fleet.site_of(tank.code) in failed.sites_dark}
    dark_devices = {device for device in fleet.device_by_code if fleet.site_of(device) in failed.sites_dark}
    dark_devices.update(duty.device for duty in fleet.duties if duty.tank in dark_tanks)
    gone = dark_devices | {code for code in failed.lost if fleet.device_by_code[code].kind is DeviceKind.STAND_FAN}
    duties = []
    for duty in fleet.duties:
        if duty.device in gone:
            continue
        if duty.device in failed.lost:
            duties.append(replace(duty, role=Role.STANDBY))
        elif duty.device in stepping_in.get(duty.tank, ()):
            duties.append(replace(duty, role=Role.DUTY))
        else:
            duties.append(duty)
    loads = [_stuck_heater(load, failed) for load in fleet.loads if load.tank not in dark_tanks]
    changed = replace(
        fleet,
        duties=tuple(duties),
        placements=tuple(row for row in fleet.placements if row.device not in gone),
        loads=tuple(loads),
        equipment=tuple(item for item in fleet.equipment if not _heats(fleet, item, dark_tanks)),
        history=tuple(
            row for row in fleet.history if not (row.subject in failed.lost and row.task in defaults.STANDBY_TASKS)
        ),
    )
    return changed if air_c is None else _in_air(changed, air_c)


def _stuck_heater(load: Load, failed: Failed) -> Load:
    """A heater that does not stop is a load in the water like any other."""
    if load.tank not in failed.stuck_heaters_of or load.kind is not LoadKind.HEATER:
        return load
    return replace(load, kind=LoadKind.OTHER, mounting=Mounting.IN_WATER, hours_per_day=None)


def _heats(fleet: Fleet, item: Equipment, tanks: Collection[str]) -> bool:
    return item.kind is EquipmentKind.HEATER and any(tank in tanks for tank in fleet.tanks_of(item.code))


def _in_air(fleet: Fleet, air_c: float) -> Fleet:
    """Every room, and the air outdoors, at one temperature all day."""
    return replace(
        fleet,
        rooms=tuple(
            replace(room, hot_day_mean_c=air_c, hot_day_rise_k=0.0, air_conditioned=False) for room in fleet.rooms
        ),
        sites=tuple(replace(site, outdoor_design_peak_c=air_c, outdoor_daily_range_k=0.0) for site in fleet.sites),
    )


def failed_model(
    fleet: Fleet,
    classes: Mapping[str, AnimalClass],
    codes: Sequence[str],
    failed: Failed,
    calibrations: Sequence[Calibration],
) -> Model:
    """The model of a fleet out of which `without` took what failed; its scenario AC_OFF is the failure.

    calibrations: those of the fleet unharmed, in which the logs were written. Rooms whose air conditioning runs on are
    as on the hot day. Where the power is out the surface is still: the least agitation of the range on every side.
    """
    model = build(fleet, classes, codes, calibrations)
    rooms, tanks = model.rooms, model.tanks
    site_of_room = [fleet.room_by_code[code].site for code in rooms.codes]
    off = np.array(
        [
            code in failed.rooms_off or site in failed.sites_dark
            for code, site in zip(rooms.codes, site_of_room, strict=True)
        ],
        dtype=bool,
    )
    dark = np.array([site in failed.sites_dark for site in site_of_room], dtype=bool)[tanks.room]

    def where_off(values: Array, affected: BoolArray) -> Array:
        """The last axis is the scenario."""
        result = values.copy()
        result[~affected, ..., AC_OFF] = values[~affected, ..., HOT]
        return result

    return replace(
        model,
        rooms=replace(
            rooms,
            mean_c=where_off(rooms.mean_c, off),
            half_range_k=where_off(rooms.half_range_k, off),
            peak_hour=where_off(rooms.peak_hour, off),
            vapour_pa=where_off(rooms.vapour_pa, off),
            fans_count=where_off(rooms.fans_count, off),
        ),
        wall_ua=where_off(model.wall_ua, off[tanks.room]),
        agitation=np.where(dark[:, None, None], _still(model), where_off(model.agitation, off[tanks.room])),
        loss_scale=where_off(model.loss_scale, off[tanks.room]),
        pane_gain_w=where_off(model.pane_gain_w, off[tanks.room]),
    )


def _still(model: Model) -> Array:
    """Agitation of a surface that nothing stirs; what a log told of a tank was with its pumps running."""
    warming = model.agitation[:, MID : MID + 1] > defaults.AGITATION[MID]
    least = np.where(warming, min(defaults.AGITATION_WHERE_IT_WARMS), min(defaults.AGITATION))
    result: Array = np.minimum(model.agitation, least)
    return result
