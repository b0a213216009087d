"""The heat balance of many tanks at once: gains and losses of the water, the air of the stands, the devices.

Everything here is on arrays [tank, case] (or [machine, case], [link, case], [fan, case]); see cases.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleet.thermal.cases import Cases, Sumps
from fleet.thermal.coolers import (
    CONDENSER_AIR_RISE_K,
    CONDENSING_APPROACH_K,
    CUT_OUT_C,
    chiller_capacity_factor,
    chiller_power_factor,
    thermoelectric_capacity,
)
from fleet.thermal.exchange import FAN_LATENT, LID_U_VALUE, AirSide, air_side, films_under, surface_films
from fleet.thermal.properties import latent_heat, saturation_pressure, saturation_slope
from fleet.thermal.ranges import AIR_C, CHILLER_WATER_C, CONDENSER_INLET_C, WATER_C, Array
from fleet.thermal.stand import (
    mixed_vapour,
    recirculated_inlet,
    stand_air,
)
from fleet.thermal.tanks import BoolArray, IntArray

HOTTEST_AIR_C = 80.0
"""Stand air is not followed beyond this: every device in it has tripped long before."""


@dataclass(frozen=True)
class Air:
    """Air about the tanks at one moment: °C and Pa, [room, case] for rooms and outdoors, [tank, case] for the rest.

    side: the same air as the films over the water need it, where it is known already; [tank, case].
    """

    rooms_c: Array
    outdoor_c: Array
    room_c: Array
    vapour_pa: Array
    side: AirSide | None = None


def rooms_at(cases: Cases, hour: Array) -> tuple[Array, Array]:
    """Air of the rooms and outdoors at an hour of the day for each case [°C], [room, case]; `hour` [case]."""
    course = cases.room_course
    phase = (hour - course.peak_hour) * (2.0 * np.pi / 24.0)
    rooms_c: Array = np.clip(course.mean_c + course.half_range_k * np.cos(phase), AIR_C.low, AIR_C.high)
    return rooms_c, cases.model.rooms.outdoor_c(hour)


def air_at(cases: Cases, hour: Array) -> Air:
    """Air about the tanks at an hour of the day for each case; `hour` [case]."""
    return air_of(cases, *rooms_at(cases, hour))


def air_of(cases: Cases, rooms_c: Array, outdoor_c: Array) -> Air:
    """Air about the tanks where that of the rooms and outdoors is so warm; [room, case]."""
    course = cases.room_course
    vapour_pa = np.minimum(course.vapour_pa, saturation_pressure.on_arrays(rooms_c))
    side = air_side(rooms_c, vapour_pa, course.pressure_pa).of_rows(cases.model.tanks.room)
    return Air(rooms_c, outdoor_c, side.air_c, side.vapour_pa, side)


@dataclass(frozen=True)
class Water:
    """Vapour pressure over the water of each tank [Pa], its slope [Pa/K], and the latent heat [J/kg]; [tank, case]."""

    vapour_pa: Array
    slope_pa_k: Array
    latent_heat_j_kg: Array


def water_at(cases: Cases, water_c: Array) -> Water:
    """What the balance needs of the water at these temperatures."""
    pressure_pa = cases.model.tanks.activity[:, None] * saturation_pressure.on_arrays(water_c)
    return Water(pressure_pa, saturation_slope(water_c, pressure_pa), latent_heat.on_arrays(water_c))


@dataclass(frozen=True)
class Losses:
    """Heat that leaves the water by itself [W], its slope [W/K], water lost [kg/s], and the state of the surface.

    stand_w_per_k: part of the slope that acts against the air of the stand; latent_w_m2_pa, longwave_w_m2_k: films of
    the open surface; sump_latent_w_m2_pa, sump_dry_w_m2_k [sump, case]: of the sumps'. The slope is that with the films
    as they are; see film_slopes.py for what they add to it.
    """

    watts: Array
    slope_w_per_k: Array
    evaporation_kg_s: Array
    open_w_m2: Array
    vapour_pa: Array
    gamma: Array
    stand_w_per_k: Array
    latent_w_m2_pa: Array
    longwave_w_m2_k: Array
    sump_latent_w_m2_pa: Array
    sump_dry_w_m2_k: Array


def sump_films(
    cases: Cases, water_c: Array, water_pa: Array, stand_c: Array, stand_vapour_pa: Array
) -> tuple[Array, Array]:
    """Latent [W/(m2 Pa)] and dry [W/(m2 K)] coefficients of the sumps' surfaces; zeros where a tank has no sump."""
    some = cases.sumps.tank
    found = np.zeros_like(water_c), np.zeros_like(water_c)
    if some.size:
        given = (each[some] for each in (water_c, water_pa, stand_c, stand_vapour_pa))
        found[0][some], found[1][some] = _sump_rows(cases.sumps, *given)
    return found


def _sump_rows(
    sumps: Sumps, water_c: Array, water_pa: Array, stand_c: Array, stand_vapour_pa: Array
) -> tuple[Array, Array]:
    """As `sump_films`, for the tanks with a sump only; all arrays [sump, case]."""
    latent, gamma, longwave = surface_films(
        water_c, stand_c, water_pa, stand_vapour_pa, sumps.agitation, sumps.pressure_pa
    )
    return latent, latent * gamma + longwave


def losses(
    cases: Cases, water_c: Array, air: Air, stand_c: Array, stand_vapour_pa: Array, water: Water | None = None
) -> Losses:
    """Losses of each tank through walls, lid, open surface, bottom and sump; negative where it gains.

    water: that at `water_c`, where it is known already.
    """
    water = water_at(cases, water_c) if water is None else water
    pressure = cases.model.tanks.pressure_pa[:, None]
    side = air_side(air.room_c, air.vapour_pa, pressure) if air.side is None else air.side
    over_room, over_stand = water_c - air.room_c, water_c - stand_c

    latent, gamma, longwave = films_under(
        side, water_c, water.vapour_pa, water.latent_heat_j_kg, cases.agitation, pressure
    )
    wet = latent * (water.vapour_pa - air.vapour_pa)
    leaving = (latent * gamma + longwave) * over_room + wet
    solid_room, to_stand = cases.wall_ua + cases.lid_ua, cases.stand_side_ua
    watts = solid_room * over_room + cases.open_m2 * leaving - cases.pane_gain_w
    slope = solid_room + cases.open_m2 * (latent * (gamma + water.slope_pa_k) + longwave)
    evaporating_w = cases.open_m2 * wet
    some, sump_m2 = cases.sumps.tank, cases.sumps.m2
    sump_latent = sump_dry = np.zeros((0, water_c.shape[1]))
    if some.size:
        water_pa, vapour_pa = water.vapour_pa[some], stand_vapour_pa[some]
        sump_latent, sump_dry = _sump_rows(cases.sumps, water_c[some], water_pa, stand_c[some], vapour_pa)
        by_vapour = sump_latent * sump_m2
        sump_wet = by_vapour * (water_pa - vapour_pa)
        to_stand = to_stand.copy()
        to_stand[some] += sump_m2 * sump_dry
        watts[some] += sump_wet
        slope[some] += by_vapour * water.slope_pa_k[some]
        evaporating_w[some] += sump_wet
    watts += to_stand * over_stand
    slope += to_stand
    evaporation = evaporating_w / water.latent_heat_j_kg
    return Losses(
        watts, slope, evaporation, leaving, water.vapour_pa, gamma, to_stand, latent, longwave, sump_latent, sump_dry
    )


def _stand_exchange(
    cases: Cases, water_c: Array, air: Air, stand_c: Array, stand_vapour_pa: Array, water: Water | None
) -> tuple[Array, Array]:
    """What the air of each stand exchanges with the water [W/K; tank, case], and the vapour pressure of those with a
    sump [Pa; sump, case], not yet capped at saturation, from a previous estimate."""
    sumps, to_water = cases.sumps, cases.stand_side_ua
    some = sumps.tank
    if not some.size:
        return to_water, np.zeros((0, to_water.shape[1]))
    water = water_at(cases, water_c) if water is None else water
    water_pa = water.vapour_pa[some]
    latent, dry = _sump_rows(cases.sumps, water_c[some], water_pa, stand_c[some], stand_vapour_pa[some])
    to_water = to_water.copy()
    to_water[some] += sumps.m2 * dry
    evaporating = sumps.m2 * latent / water.latent_heat_j_kg[some]
    return to_water, mixed_vapour(air.vapour_pa[some], water_pa, sumps.stand_kg_s, evaporating, sumps.pressure_pa)


def stand_state(
    cases: Cases,
    water_c: Array,
    air: Air,
    heat_w: Array,
    stand_c: Array,
    stand_vapour_pa: Array,
    water: Water | None = None,
) -> tuple[Array, Array]:
    """Air of the stands [°C] and its vapour pressure [Pa] with a heat released in them, from a previous estimate.

    A stand without a sump holds the vapour of its room. water: that at `water_c`, where it is known already.
    """
    to_water, moist = _stand_exchange(cases, water_c, air, stand_c, stand_vapour_pa, water)
    temp = np.minimum(stand_air(air.room_c, water_c, heat_w, cases.stand_w_per_k, to_water), HOTTEST_AIR_C)
    some, vapour = cases.sumps.tank, air.vapour_pa
    if some.size:
        vapour = vapour.copy()
        vapour[some] = np.minimum(moist, saturation_pressure.on_arrays(temp[some]))
    return temp, vapour


@dataclass(frozen=True)
class Output:
    """What the machines do at full duty; [machine, case]."""

    cooling_w: Array
    power_w: Array
    inlet_c: Array
    condensing_c: Array
    load_ratio: Array


def machine_output(cases: Cases, water_c: Array, air: Air, stand_c: Array, load_ratio: Array) -> Output:
    """Full-duty output of the machines on water of `water_c` [machine, case].

    `load_ratio` [machine, case] is the condenser load of the previous estimate, which sets how much warmer
    recirculated air is. Beyond its range the curve is read at the end of the range; see `cannot_run`.
    """
    machines, facts = cases.model.devices.machines, cases.machine_facts
    around = air.rooms_c[machines.room]
    if facts.from_outdoors.size:
        some = facts.from_outdoors
        around[some] = air.outdoor_c[machines.room[some]] + facts.sun_k[some]
    if facts.from_stand.size:
        around[facts.from_stand] = stand_c[machines.stand[facts.from_stand]]
    rise = CONDENSER_AIR_RISE_K * load_ratio / facts.airflow
    inlet = recirculated_inlet.on_arrays(around, machines.recirculation[:, None], rise)
    curve_water = np.clip(water_c, CHILLER_WATER_C.low, CHILLER_WATER_C.high)
    curve_inlet = np.clip(inlet, CONDENSER_INLET_C.low, CONDENSER_INLET_C.high)
    capacity = chiller_capacity_factor.on_arrays(curve_water, curve_inlet)
    cooling = np.maximum(facts.reference_w * capacity * facts.clean_share, 0.0)
    power = facts.reference_power_w * chiller_power_factor.on_arrays(curve_water, curve_inlet) * facts.power_share
    if facts.thermoelectric.size:
        some = facts.thermoelectric
        electric = thermoelectric_capacity(facts.reference_w[some], facts.span_k[some], water_c[some], inlet[some])
        cooling[some], power[some] = electric * facts.screen_share[some], facts.reference_power_w[some]
    ratio = (cooling + power) / facts.full_w
    condensing = inlet + CONDENSING_APPROACH_K * ratio / facts.root_airflow
    return Output(cooling, power, inlet, condensing, ratio)


def cannot_run(cases: Cases, water_c: Array, output: Output) -> BoolArray:
    """Machines that cannot run at all on water of `water_c`, [machine, case]: water or intake air lies beyond their
    curve, or their condensing temperature past the cut-out."""
    machines = cases.model.devices.machines
    inlet = output.inlet_c
    in_curve = (
        (water_c >= CHILLER_WATER_C.low)
        & (water_c <= CHILLER_WATER_C.high)
        & (inlet >= CONDENSER_INLET_C.low)
        & (inlet <= CONDENSER_INLET_C.high)
    )
    chiller_trips = ~in_curve | (output.condensing_c > CUT_OUT_C)
    trips = np.where(machines.is_chiller[:, None], chiller_trips, inlet > CONDENSER_INLET_C.high)
    result: BoolArray = trips & machines.usable[:, None]
    return result


def heat_into_stands(cases: Cases, machine_heat_w: Array, other_heat_w: Array) -> Array:
    """Heat released in each stand [tank, case]: by machines in it and by ballasts and pumps."""
    inside = cases.machine_facts.in_stand
    if not inside.size:
        return other_heat_w
    heat = other_heat_w.copy()
    np.add.at(heat, cases.model.devices.machines.stand[inside], machine_heat_w[inside])
    return heat


class Places:
    """Rows of one table by their place in another, such as the tank of each link."""

    def __init__(self, index: IntArray, count: int) -> None:
        self.index, self.count = index, count
        self.is_same = index.size == count and bool((index == np.arange(count)).all())
        self.order = np.argsort(index, kind="stable")
        ordered = index[self.order]
        self.first = np.flatnonzero(np.diff(ordered, prepend=-1))
        self.named = ordered[self.first]

    def pick(self, table: Array) -> Array:
        """The row of the table that each place names."""
        return table if self.is_same else table[self.index]

    def total(self, rows: Array) -> Array:
        """A table of the sums of the rows at each place."""
        if self.is_same:
            return rows
        table = np.zeros((self.count, rows.shape[1]))
        if self.first.size == self.index.size:
            table[self.index] = rows
        elif self.index.size:
            table[self.named] = np.add.reduceat(rows[self.order], self.first, axis=0)
        return table


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
