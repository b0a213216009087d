"""The heat balance of many tanks at once: gains and losses of the water, the air of the stands, the devices.

Everything here is on arrays [tank, case] (or [machine, case], [link, case], [fan, case]); see cases.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.cases import Cases
from fleet.thermal.coolers import (
    CONDENSER_AIR_RISE_K,
    CONDENSING_APPROACH_K,
    CUT_OUT_C,
    chiller_capacity_factor,
    chiller_power_factor,
    thermoelectric_capacity,
)
from fleet.thermal.devices import FROM_OUTDOORS, FROM_STAND
from fleet.thermal.exchange import FAN_LATENT, LID_U_VALUE, surface_films
from fleet.thermal.properties import latent_heat, saturation_pressure, saturation_slope
from fleet.thermal.ranges import CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.stand import (
    mixed_vapour,
    recirculated_inlet,
    stand_air,
)
from fleet.thermal.tanks import BoolArray, IntArray

HOTTEST_AIR_C = 80.0
"""Stand air is not followed beyond this: every device in it has tripped long before."""
STAND_ITERATIONS = 60
STAND_CLOSES_WITHIN_K = 1e-4


@dataclass(frozen=True)
class Air:
    """Air about the tanks at one moment: °C and Pa, [room, case] for rooms and outdoors, [tank, case] for the rest."""

    rooms_c: Array
    outdoor_c: Array
    room_c: Array
    vapour_pa: Array


def air_at(cases: Cases, hour: Array) -> Air:
    """Air of rooms and outdoors at an hour of the day for each case; `hour` [case]."""
    rooms, tanks = cases.model.rooms, cases.model.tanks
    rooms_c = rooms.air_c(cases.scenario, hour)
    room_c = rooms_c[tanks.room]
    vapour = np.minimum(rooms.vapour_pa[tanks.room][:, cases.scenario], saturation_pressure.on_arrays(room_c))
    return Air(rooms_c, rooms.outdoor_c(hour), room_c, vapour)


@dataclass(frozen=True)
class Losses:
    """Heat that leaves the water by itself [W], its slope [W/K], water lost [kg/s], and the state of the surface.

    stand_w_per_k: part of the slope that acts against the air of the stand.
    """

    watts: Array
    slope_w_per_k: Array
    evaporation_kg_s: Array
    open_w_m2: Array
    vapour_pa: Array
    gamma: Array
    stand_w_per_k: Array


def sump_films(
    cases: Cases, water_c: Array, water_pa: Array, stand_c: Array, stand_vapour_pa: Array
) -> tuple[Array, Array]:
    """Latent [W/(m2 Pa)] and dry [W/(m2 K)] coefficients of the sumps' surfaces; zeros where no tank has a sump."""
    tanks = cases.model.tanks
    some = np.flatnonzero(tanks.sump_m2 > 0.0)
    found = np.zeros_like(water_c), np.zeros_like(water_c)
    if some.size:
        given = (water_c, stand_c, water_pa, stand_vapour_pa, cases.agitation, tanks.pressure_pa[:, None])
        latent, gamma, longwave = surface_films(*(each[some] for each in given))
        found[0][some], found[1][some] = latent, latent * gamma + longwave
    return found


def losses(cases: Cases, water_c: Array, air: Air, stand_c: Array, stand_vapour_pa: Array) -> Losses:
    """Losses of each tank through walls, lid, open surface, bottom and sump; negative where it gains."""
    tanks = cases.model.tanks
    pure_pa = saturation_pressure.on_arrays(water_c)
    activity = tanks.activity[:, None]
    water_pa = activity * pure_pa
    water_slope = activity * saturation_slope(water_c, pure_pa)
    pressure = tanks.pressure_pa[:, None]
    over_room, over_stand = water_c - air.room_c, water_c - stand_c

    latent, gamma, longwave = surface_films(water_c, air.room_c, water_pa, air.vapour_pa, cases.agitation, pressure)
    dry = (latent * gamma + longwave) * over_room
    wet = latent * (water_pa - air.vapour_pa)
    sump_latent, sump_dry = sump_films(cases, water_c, water_pa, stand_c, stand_vapour_pa)
    sump_wet = sump_latent * (water_pa - stand_vapour_pa)
    solid_room = cases.wall_ua + cases.lid_ua
    solid_stand, sump_m2 = cases.stand_side_ua, cases.sump_m2
    to_stand = solid_stand + sump_m2 * sump_dry
    watts = (
        solid_room * over_room
        + cases.open_m2 * (dry + wet)
        + to_stand * over_stand
        + sump_m2 * sump_wet
        - cases.pane_gain_w
    )
    slope = (
        solid_room
        + cases.open_m2 * (latent * (gamma + water_slope) + longwave)
        + to_stand
        + sump_m2 * sump_latent * water_slope
    )
    evaporation = (cases.open_m2 * wet + sump_m2 * sump_wet) / latent_heat.on_arrays(water_c)
    return Losses(watts, slope, evaporation, dry + wet, water_pa, gamma, to_stand)


def stand_state(
    cases: Cases, water_c: Array, air: Air, heat_w: Array, stand_c: Array, stand_vapour_pa: Array
) -> tuple[Array, Array]:
    """Air of the stands [°C] and its vapour pressure [Pa] with a heat released in them, from a previous estimate."""
    tanks = cases.model.tanks
    water_pa = tanks.activity[:, None] * saturation_pressure.on_arrays(water_c)
    pressure = tanks.pressure_pa[:, None]
    latent, dry = sump_films(cases, water_c, water_pa, stand_c, stand_vapour_pa)
    sump_m2 = cases.sump_m2
    to_water = cases.stand_side_ua + sump_m2 * dry
    temp = np.minimum(stand_air(air.room_c, water_c, heat_w, cases.stand_w_per_k, to_water), HOTTEST_AIR_C)
    vapour = mixed_vapour(
        air.vapour_pa, water_pa, cases.stand_kg_s, sump_m2 * latent / latent_heat.on_arrays(water_c), pressure
    )
    return temp, np.minimum(vapour, saturation_pressure.on_arrays(temp))


@dataclass(frozen=True)
class Output:
    """What the machines do at full duty; [machine, case]. `trips` where the machine cannot run at all."""

    cooling_w: Array
    power_w: Array
    inlet_c: Array
    condensing_c: Array
    load_ratio: Array
    trips: BoolArray


def machine_output(cases: Cases, water_c: Array, air: Air, stand_c: Array, load_ratio: Array) -> Output:
    """Full-duty output of the machines on water of `water_c` [machine, case].

    `load_ratio` [machine, case] is the condenser load of the previous estimate, which sets how much warmer
    recirculated air is. Beyond its range the curve is read at the end of the range; `trips` tells where that happens,
    and where the condensing temperature passes the cut-out.
    """
    machines = cases.model.devices.machines
    side = cases.side
    airflow = machines.airflow[:, side]
    sun = machines.sun_k[:, side]
    around = air.rooms_c[machines.room]
    around = np.where(machines.intake[:, None] == FROM_OUTDOORS, air.outdoor_c[machines.room] + sun, around)
    around = np.where(machines.intake[:, None] == FROM_STAND, stand_c[machines.stand], around)
    rise = CONDENSER_AIR_RISE_K * load_ratio / airflow
    inlet = recirculated_inlet.on_arrays(around, machines.recirculation[:, None], rise)
    curve_water = np.clip(water_c, CHILLER_WATER_C.low, CHILLER_WATER_C.high)
    curve_inlet = np.clip(inlet, CONDENSER_INLET_C.low, CONDENSER_INLET_C.high)
    reference, reference_power = machines.reference_w[:, side], machines.reference_power_w[:, side]
    screen = machines.screen_capacity[:, side]
    chilled = (
        reference
        * chiller_capacity_factor.on_arrays(curve_water, curve_inlet)
        * screen
        * machines.scale_factor[:, side]
    )
    chiller_power = (
        reference_power * chiller_power_factor.on_arrays(curve_water, curve_inlet) * machines.screen_power[:, side]
    )
    chiller = machines.is_chiller[:, None]
    electric = thermoelectric_capacity(reference, machines.span_k[:, side], water_c, inlet) * screen
    cooling = np.where(chiller, np.maximum(chilled, 0.0), electric)
    power = np.where(chiller, chiller_power, reference_power)
    full = np.maximum(reference + reference_power, 1e-9)
    ratio = (cooling + power) / full
    condensing = inlet + CONDENSING_APPROACH_K * ratio / np.sqrt(airflow)
    in_curve = (
        (water_c >= CHILLER_WATER_C.low)
        & (water_c <= CHILLER_WATER_C.high)
        & (inlet >= CONDENSER_INLET_C.low)
        & (inlet <= CONDENSER_INLET_C.high)
    )
    trips = np.where(chiller, ~in_curve | (condensing > CUT_OUT_C), inlet > CONDENSER_INLET_C.high)
    return Output(cooling, power, inlet, condensing, ratio, trips & machines.usable[:, None])


def heat_into_stands(cases: Cases, machine_heat_w: Array, other_heat_w: Array) -> Array:
    """Heat released in each stand [tank, case]: by machines in it and by ballasts and pumps."""
    machines = cases.model.devices.machines
    heat = other_heat_w.copy()
    inside = np.flatnonzero(machines.heats_stand)
    add_rows(heat, machines.stand[inside], machine_heat_w[inside])
    return heat


def add_rows(target: Array, index: IntArray, rows: Array) -> None:
    """Adds each row to the row of `target` that `index` names; those named more than once get the sum."""
    if not index.size:
        return
    order = np.argsort(index, kind="stable")
    ordered = index[order]
    first = np.append(0, np.flatnonzero(ordered[1:] != ordered[:-1]) + 1)
    if first.size == index.size:
        target[index] += rows
    else:
        target[ordered[first]] += np.add.reduceat(rows[order], first, axis=0)


def fan_cooling(cases: Cases, water_c: Array, air: Air, surface: Losses) -> tuple[Array, Array]:
    """Heat that each surface fan takes from the water beyond what leaves without it [W], and the part of it that
    goes as vapour blown away [W]; [fan, case].

    Negative where the air would warm the water; zero in a room where evaporation may not be relied on.
    """
    fans = cases.model.devices.fans
    t = fans.tank
    over_room = (water_c - air.room_c)[t]
    blown = cases.fan_blown_m2 * FAN_LATENT * cases.fan_speed
    vapour = blown * (surface.vapour_pa - air.vapour_pa)[t]
    opened = cases.fan_opened_m2 * (surface.open_w_m2[t] - LID_U_VALUE * over_room)
    counts = cases.fans_count[t]
    return (blown * surface.gamma[t] * over_room + vapour + opened) * counts, vapour * counts


@dataclass(frozen=True)
class FullDuty:
    """Tanks held at target with every duty machine at full duty. See the fields' owners for shapes."""

    required_w: Array
    output: Output
    fan_w: Array
    evaporation_kg_s: Array
    stand_c: Array


def at_full_duty(cases: Cases, hour: Array, gain_w: Array, stand_gain_w: Array) -> FullDuty:
    """Steady stands and machines with the water at target: what must be removed, and what can be.

    hour [case]; gain_w and stand_gain_w [tank, case], heat released in the water and in the stands. A machine that
    would trip in its own heat is told as tripping; it then heats no stand, and the rest is balanced again without it.
    """
    model = cases.model
    tanks, machines, links = model.tanks, model.devices.machines, model.devices.links
    shape = cases.open_m2.shape
    air = air_at(cases, hour)
    water_c = np.broadcast_to(tanks.target_c[:, None], shape)
    set_point = np.broadcast_to(machines.set_point_c[:, None], (len(machines.codes), shape[1]))
    on_duty = np.zeros(len(machines.codes), dtype=bool)
    on_duty[links.machine[links.duty]] = True

    def balanced(running: BoolArray) -> tuple[Output, Array, Array]:
        stand_c, stand_vapour = air.room_c.copy(), air.vapour_pa.copy()
        ratio = np.ones(set_point.shape)
        for _ in range(STAND_ITERATIONS):
            output = machine_output(cases, set_point, air, stand_c, ratio)
            heat = heat_into_stands(cases, (output.cooling_w + output.power_w) * running, stand_gain_w)
            temp, vapour = stand_state(cases, water_c, air, heat, stand_c, stand_vapour)
            done = float(np.max(np.abs(temp - stand_c), initial=0.0)) < STAND_CLOSES_WITHIN_K
            stand_c, stand_vapour = (stand_c + temp) / 2.0, (stand_vapour + vapour) / 2.0
            ratio = (ratio + output.load_ratio) / 2.0
            if done:
                break
        return machine_output(cases, set_point, air, stand_c, ratio), stand_c, stand_vapour

    running = np.broadcast_to(on_duty[:, None], set_point.shape)
    output, stand_c, stand_vapour = balanced(running)
    tripped = output.trips & running
    if (tripped & machines.heats_stand[:, None]).any():
        rest, stand_c, stand_vapour = balanced(running & ~tripped)
        output = Output(
            cooling_w=np.where(tripped, output.cooling_w, rest.cooling_w),
            power_w=np.where(tripped, output.power_w, rest.power_w),
            inlet_c=np.where(tripped, output.inlet_c, rest.inlet_c),
            condensing_c=np.where(tripped, output.condensing_c, rest.condensing_c),
            load_ratio=np.where(tripped, output.load_ratio, rest.load_ratio),
            trips=tripped | rest.trips,
        )
    leaving = losses(cases, water_c, air, stand_c, stand_vapour)
    fan_w, _vapour_w = fan_cooling(cases, water_c, air, leaving)
    return FullDuty(gain_w - leaving.watts, output, fan_w, leaving.evaporation_kg_s, stand_c)


def equilibrium(cases: Cases, gain_w: Array, stand_gain_w: Array) -> tuple[Array, Array]:
    """Where the water settles on the daily mean without cooling [°C], and its time constant there [s]; [tank, case]."""
    shape = cases.open_m2.shape
    rooms, tanks = cases.model.rooms, cases.model.tanks
    mean_room = rooms.mean_c[:, cases.scenario]
    room_c = mean_room[tanks.room]
    vapour = np.minimum(rooms.vapour_pa[tanks.room][:, cases.scenario], saturation_pressure.on_arrays(room_c))
    air = Air(mean_room, mean_room, room_c, vapour)
    water_c = np.broadcast_to(tanks.target_c[:, None], shape).copy()
    stand_c, stand_vapour = room_c.copy(), vapour.copy()
    for _ in range(30):
        stand_c, stand_vapour = stand_state(cases, water_c, air, stand_gain_w, stand_c, stand_vapour)
        leaving = losses(cases, water_c, air, stand_c, stand_vapour)
        water_c = np.clip(water_c + (gain_w - leaving.watts) / leaving.slope_w_per_k, WATER_C.low, WATER_C.high)
    return water_c, cases.heat_capacity_j_k / leaving.slope_w_per_k
