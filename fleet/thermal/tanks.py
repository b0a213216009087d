"""From the rows of a register to arrays over tanks: sizes, openings, heat released, and what had to be assumed.

Arrays have the tank first. A second axis of three is the side of the estimate: SAFE (more heat to remove, less water),
MID and KIND. A last axis of BINS is the time of day in steps of ten minutes, local to the site.
"""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fleet.thermal import defaults
from fleet.thermal.defaults import Limits, limits_of_kind
from fleet.thermal.exchange import BOTTOM_U_VALUE
from fleet.thermal.properties import pressure_at, volumetric_heat_capacity, water_activity, wet_bulb
from fleet.thermal.ranges import Array
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.register import Animals, Load, Tank
from fleet.values.vocabulary import DeviceKind, EquipmentKind, Lid, LoadKind, Mounting, Stand, Wall, Where

SAFE, MID, KIND = 0, 1, 2
SIDES = 3
BINS = 144
BINS_PER_HOUR = 6
OPEN_AIR_W_PER_K = 1e7
"""Exchange that keeps the air of an open stand at that of its room."""
SUMP_WALL_U_VALUE = 7.0
"""W/(m2 K) of a glass sump, from the wall formula at 4 K."""

HEATER_OF_UNKNOWN_POWER_W = 1e6
"""A heater on record without its power is taken to hold the target."""

IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Switchings:
    """Loads that go on or off between the ten-minute bins of the day, which hold only their mean; [switching].

    water_w and stand_w [switching, side] are what is added from `second` of the day onwards.
    """

    tank: IntArray
    second: Array
    water_w: Array
    stand_w: Array


NO_SWITCHINGS = Switchings(
    np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros((0, SIDES)), np.zeros((0, SIDES))
)  # fmt: skip


@dataclass(frozen=True)
class TankArrays:
    """Tanks as arrays; see the head of the module for the axes. SI units, °C, W."""

    codes: tuple[str, ...]
    room: IntArray
    target_c: Array
    pressure_pa: Array
    activity: Array
    heat_capacity_j_k: Array
    surface_m2: Array
    open_fraction: Array
    fan_open_fraction: Array
    wall_m2: Array
    wall_height_m: Array
    wall_thickness_m: Array
    wall_conductivity: Array
    wall_ua_given: Array
    """NaN where the walls are computed."""
    bottom_ua: Array
    sump_wall_ua: Array
    sump_m2: Array
    stand_closed: BoolArray
    stand_flow_m3_h: Array
    stand_wall_ua: Array
    gain_w: Array
    stand_gain_w: Array
    heater_w: Array
    electric_mean_w: Array
    limits: tuple[Limits, ...]
    start_c: Array
    length_m: Array
    width_m: Array
    assumed: tuple[tuple[str, ...], ...]
    switchings: Switchings = NO_SWITCHINGS


@functools.lru_cache(maxsize=4096)
def _lit_shares(start_h: float, hours: float) -> tuple[float, ...]:
    """Share of each bin of the day that lies in a window which may run past midnight."""
    edges = np.arange(BINS + 1) / BINS_PER_HOUR
    shares = np.zeros(BINS)
    for shift in (-24.0, 0.0, 24.0):
        begin, end = start_h + shift, start_h + shift + hours
        shares += np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], begin), 0.0, None) * BINS_PER_HOUR
    return tuple(np.minimum(shares, 1.0))


class _Reader:
    """Reads one tank and notes each default that it needs."""

    def __init__(self, fleet: Fleet, tank: Tank, wet_bulb_c: float, heated: Collection[str]) -> None:
        self.fleet, self.tank, self.heated = fleet, tank, heated
        self.assumed: list[str] = []
        self.switched: list[tuple[float, Array, Array]] = []
        self.warms_by_evaporation = tank.target_c < wet_bulb_c
        duties = fleet.duties_by_tank.get(tank.code, ())
        kinds = {fleet.device_by_code[duty.device].kind for duty in duties if duty.device in fleet.device_by_code}
        self.has_surface_fan = DeviceKind.SURFACE_FAN in kinds

    def assume(self, phrase: str) -> None:
        if phrase not in self.assumed:
            self.assumed.append(phrase)

    def lid(self) -> Lid:
        if self.tank.lid is not None:
            return self.tank.lid
        lid = Lid.OPEN if self.warms_by_evaporation else Lid.LOOSE if self.has_surface_fan else Lid.SEALED
        self.assume(f"lid: {lid}")
        return lid

    def salinity(self) -> float:
        if self.tank.salinity_g_per_kg is not None:
            return self.tank.salinity_g_per_kg
        if self.tank.kind not in defaults.MARINE_KINDS:
            return 0.0
        self.assume("salinity: 35 g/kg")
        return defaults.SEA_SALINITY

    def volumes_m3(self) -> tuple[float, float, float]:
        """Water that stores heat: on the safe side a stated net volume is taken as that of the whole system."""
        sump = self.tank.sump_volume_m3 or 0.0
        if self.tank.net_volume_m3 is not None:
            return (self.tank.net_volume_m3, self.tank.net_volume_m3 + sump, self.tank.net_volume_m3 + sump)
        self.assume("net volume: 85 % of the dimensions")
        box = self.tank.length_m * self.tank.width_m * self.tank.height_m + sump
        low, mid, high = defaults.NET_SHARE_OF_DIMENSIONS
        return (low * box, mid * box, high * box)

    def sump(self) -> tuple[float, float]:
        """Surface and outside of the sump's walls. [m2]"""
        area, volume = self.tank.sump_area_m2, self.tank.sump_volume_m3
        if not area and not volume:
            return 0.0, 0.0
        if not area:
            area = (volume or 0.0) / defaults.SUMP_DEPTH_M
            self.assume("sump: 30 cm deep")
        depth = min(volume / area, defaults.DEEPEST_SUMP_M) if volume else defaults.SUMP_DEPTH_M
        return area, 4.0 * area**0.5 * depth + area

    def stand(self, holds_device: bool) -> Stand:
        if self.tank.stand is not None:
            return self.tank.stand
        stand = Stand.CLOSED if holds_device else Stand.OPEN
        self.assume(f"stand: {stand}")
        return stand

    def wall(self) -> tuple[float, float]:
        """Thickness [m] and conductivity [W/(m K)]."""
        wall = self.tank.wall
        if wall is None:
            wall = Wall.GLASS
            if self.tank.wall_ua_w_per_k is None:
                self.assume("walls: glass")
        thickness = self.tank.wall_thickness_m
        if thickness is None:
            thickness = defaults.WALL_THICKNESS_M[wall]
            if self.tank.wall_ua_w_per_k is None:
                self.assume(f"wall thickness: {thickness * 1000:.0f} mm")
        if wall is Wall.CONCRETE and self.tank.wall_ua_w_per_k is None:
            self.assume("concrete walls: bare, with the room's air about them")
        return thickness, defaults.WALL_CONDUCTIVITY[wall]

    def load_shares(self, load: Load, lid: Lid) -> tuple[Sequence[float], Sequence[float]]:
        """Shares of a load's power that reach the water and the air of the stand, on each side of the estimate."""
        none = (0.0, 0.0, 0.0)
        whole = (1.0, 1.0, 1.0)
        if load.kind is LoadKind.HEATER:
            return none, none
        if load.kind is LoadKind.LIGHT:
            mounting = load.mounting
            if mounting is None:
                mounting = Mounting.RIM if lid is Lid.OPEN and self.tank.lid is not None else Mounting.SEALED_HOOD
                where = "on the rim" if mounting is Mounting.RIM else "in a sealed hood"
                self.assume(f"{load.name}: mounted {where}")
            stand = defaults.REMOTE_DRIVER_TO_STAND if mounting is Mounting.REMOTE else none
            return defaults.LIGHT_TO_WATER[mounting], stand
        if load.kind is LoadKind.EXTERNAL_PUMP:
            water = defaults.EXTERNAL_PUMP_TO_WATER
            return water, tuple(1.0 - share for share in water)
        if load.kind is LoadKind.OTHER:
            if load.mounting is Mounting.REMOTE:
                return none, whole
            if load.mounting is not Mounting.IN_WATER:
                self.assume(f"{load.name}: all of its heat to the water")
        return whole, none

    def heat_by_time(self, lid: Lid) -> tuple[Array, Array, float, float]:
        """Heat to the water and to the stand over the day, heater power, and the mean electric power of the rest."""
        water, stand = np.zeros((SIDES, BINS)), np.zeros((SIDES, BINS))
        heater_w = electric_w = 0.0
        for load in self.fleet.loads_by_tank.get(self.tank.code, ()):
            if load.kind is LoadKind.HEATER:
                heater_w += load.power_w
                continue
            to_water, to_stand = self.load_shares(load, lid)
            start_h, lit_h = self.window(load)
            shares = np.asarray(_lit_shares(start_h, lit_h))
            if lit_h < 24.0:
                for hour, sign in ((start_h, 1.0), (start_h + lit_h, -1.0)):
                    watts = sign * load.power_w
                    self.switched.append((hour * 3600.0, watts * np.asarray(to_water), watts * np.asarray(to_stand)))
            electric_w += load.power_w * float(shares.mean())
            water += load.power_w * np.outer(to_water, shares)
            stand += load.power_w * np.outer(to_stand, shares)
        if heater_w == 0.0 and self.tank.code in self.heated:
            heater_w = HEATER_OF_UNKNOWN_POWER_W
            self.assume("heater: keeps the target")
        mass_kg = sum(row.mass_kg or 0.0 for row in self.fleet.animals_by_tank.get(self.tank.code, ()))
        water += mass_kg * np.asarray(defaults.LIVESTOCK_W_PER_KG)[:, None]
        return water, stand, heater_w, electric_w

    def window(self, load: Load) -> tuple[float, float]:
        """Hour of the day at which a load goes on, and for how many hours."""
        if load.hours_per_day is None:
            if load.kind is LoadKind.LIGHT:
                self.assume(f"{load.name}: on all day")
            return 0.0, 24.0
        if load.hours_per_day >= 24.0:
            return 0.0, 24.0
        if load.on_from is None:
            self.assume(f"{load.name}: on about the hottest hour")
            return 15.0 - load.hours_per_day / 2.0, load.hours_per_day
        return load.on_from.hour + load.on_from.minute / 60.0, load.hours_per_day

    def limits(self, classes: Mapping[str, AnimalClass]) -> Limits:
        """The tank's own limits, else the strictest of its animals' classes, else those usual for its kind."""
        tank = self.tank
        known = [
            found
            for row in self.fleet.animals_by_tank.get(tank.code, ())
            if (found := _class_of(row, classes)) is not None
        ]
        act = [found.act_high_c for found in known if found.act_high_c is not None]
        watch = [found.watch_high_c for found in known if found.watch_high_c is not None]
        usual = limits_of_kind(tank.kind, tank.target_c)
        act_high = tank.act_high_c if tank.act_high_c is not None else min(act, default=None)
        watch_high = tank.watch_high_c if tank.watch_high_c is not None else min(watch, default=None)
        if act_high is None:
            self.assume(usual.phrase or "")
            act_high = usual.act_high_c
        if watch_high is None:
            watch_high = min(usual.watch_high_c, act_high)
        return Limits(min(watch_high, act_high), act_high)

    def start_c(self) -> float:
        """Water when a failure begins: the last reading, if recent and warmer, else target and band."""
        start = self.tank.target_c + defaults.BAND_K
        day = self.fleet.day
        for reading in reversed(self.fleet.readings_by_subject.get(self.tank.code, ())):
            taken = reading.taken_at.date()
            if reading.quantity != "water-temp" or taken > day:
                continue
            if (day - taken).days < defaults.READING_DAYS:
                return max(start, reading.value)
            break
        return start


def _class_of(row: Animals, classes: Mapping[str, AnimalClass]) -> AnimalClass | None:
    return None if row.animal_class is None else classes.get(row.animal_class)


def _off_the_grid(switched: Sequence[tuple[int, float, Array, Array]]) -> Switchings:
    """Those of the switchings (tank, second, W to water, W to stand) that fall inside a bin, in order of the day."""
    bin_s = 86_400.0 / BINS
    inside = [
        (second % 86_400.0, tank, water, stand)
        for tank, second, water, stand in switched
        if min(second % bin_s, bin_s - second % bin_s) > 1e-3
    ]
    if not inside:
        return NO_SWITCHINGS
    inside.sort(key=lambda each: each[:2])
    seconds, tanks, water_w, stand_w = zip(*inside, strict=True)
    return Switchings(np.array(tanks, dtype=np.intp), np.array(seconds), np.stack(water_w), np.stack(stand_w))


def gather_tanks(
    fleet: Fleet, classes: Mapping[str, AnimalClass], codes: Sequence[str], room_index: Mapping[str, int]
) -> TankArrays:
    """The tanks of these codes as arrays, in this order; `room_index` numbers the rooms."""
    tanks = [fleet.tank_by_code[code] for code in codes]
    rooms = [fleet.room_by_code[tank.room] for tank in tanks]
    elevations = np.array([fleet.site_by_code[room.site].elevation_m or 0.0 for room in rooms])
    pressure_pa = pressure_at(elevations)
    mean_c = np.array([room.hot_day_mean_c for room in rooms])
    humidity = np.array(
        [defaults.RELATIVE_HUMIDITY if room.relative_humidity is None else room.relative_humidity for room in rooms]
    )
    wet_bulbs = wet_bulb(mean_c, humidity, pressure_pa) if tanks else np.zeros(0)
    stands_with_devices = {
        placement.stand_of
        for placement in fleet.placements
        if placement.where in (Where.IN_STAND, Where.IN_STAND_VENTED, Where.THROUGH_PANEL)
    }
    for placement in fleet.placements:
        if placement.where in (Where.IN_STAND, Where.IN_STAND_VENTED) and placement.stand_of is None:
            stands_with_devices.update(duty.tank for duty in fleet.duties_by_device.get(placement.device, ()))

    heated: set[str] = set()
    for item in fleet.equipment:
        if item.kind is EquipmentKind.HEATER:
            heated.update(item.serves if item.tank is None else (item.tank, *item.serves))

    count = len(tanks)
    gain, stand_gain = np.zeros((count, SIDES, BINS)), np.zeros((count, SIDES, BINS))
    open_fraction, fan_open, volumes, flows = (np.zeros((count, SIDES)) for _ in range(4))
    (
        salinity, thickness, conductivity, sump_m2, sump_walls, stand_ua, heater, electric, start, ua_given,
    ) = (np.zeros(count) for _ in range(10))  # fmt: skip
    closed = np.zeros(count, dtype=bool)
    limits: list[Limits] = []
    assumed: list[tuple[str, ...]] = []
    switched: list[tuple[int, float, Array, Array]] = []
    for i, tank in enumerate(tanks):
        reader = _Reader(fleet, tank, float(wet_bulbs[i]), heated)
        lid = reader.lid()
        open_fraction[i] = defaults.OPEN_FRACTION[lid]
        fan_open[i] = np.maximum(open_fraction[i], 1.0 if lid is Lid.OPEN else defaults.FAN_OPENS)
        volumes[i] = reader.volumes_m3()
        salinity[i] = reader.salinity()
        thickness[i], conductivity[i] = reader.wall()
        ua_given[i] = np.nan if tank.wall_ua_w_per_k is None else tank.wall_ua_w_per_k
        sump_m2[i], sump_walls[i] = reader.sump()
        stand = reader.stand(tank.code in stands_with_devices)
        closed[i] = stand is Stand.CLOSED
        if closed[i] and tank.stand_vent_flow_m3_h is None:
            reader.assume("stand leakage: 2 m3/h")
        flows[i] = defaults.STAND_INFILTRATION_M3_H if tank.stand_vent_flow_m3_h is None else tank.stand_vent_flow_m3_h
        stand_ua[i] = defaults.STAND_WALL_UA_PER_M * tank.length_m
        gain[i], stand_gain[i], heater[i], electric[i] = reader.heat_by_time(lid)
        limits.append(reader.limits(classes))
        start[i] = reader.start_c()
        assumed.append(tuple(reader.assumed))
        switched.extend((i, *each) for each in reader.switched)

    length, width, height, target = (
        np.array([getattr(tank, name) for tank in tanks], dtype=float)
        for name in ("length_m", "width_m", "height_m", "target_c")
    )
    return TankArrays(
        codes=tuple(codes),
        room=np.array([room_index[tank.room] for tank in tanks], dtype=np.intp),
        target_c=target,
        pressure_pa=pressure_pa,
        activity=water_activity.on_arrays(salinity),
        heat_capacity_j_k=volumetric_heat_capacity.on_arrays(target, salinity)[:, None] * volumes,
        surface_m2=length * width,
        open_fraction=open_fraction,
        fan_open_fraction=fan_open,
        wall_m2=2.0 * (length + width) * height,
        wall_height_m=height,
        wall_thickness_m=thickness,
        wall_conductivity=conductivity,
        wall_ua_given=ua_given,
        bottom_ua=BOTTOM_U_VALUE * length * width,
        sump_wall_ua=SUMP_WALL_U_VALUE * sump_walls,
        sump_m2=sump_m2,
        stand_closed=closed,
        stand_flow_m3_h=flows,
        stand_wall_ua=stand_ua,
        gain_w=gain,
        stand_gain_w=stand_gain,
        heater_w=heater,
        electric_mean_w=electric,
        limits=tuple(limits),
        start_c=start,
        length_m=length,
        width_m=width,
        assumed=tuple(assumed),
        switchings=_off_the_grid(switched),
    )
