"""Electric energy of the coolers over a year, and the heat that a tank puts into its room.

The simplification, by name "hot season and rest": on every day of the hot season the coolers run as on the design hot
day; on the rest of the days the rooms stand at 21 °C or at their hot-day mean, whichever is lower, and the outdoors
12 K below its design day. A site without a hot season has hot days all year. So a year is rather over- than
underestimated. Everything is the middle estimate, hour by hour, with the water held at its target.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from fleet.thermal import defaults
from fleet.thermal.balance import air_at, fan_cooling, heat_into_stands, losses, machine_output, stand_state
from fleet.thermal.capacity import HOURS, machine_shares
from fleet.thermal.cases import Cases, Model, build_model, spread_over_cases
from fleet.thermal.properties import latent_heat, saturation_pressure
from fleet.thermal.ranges import Array
from fleet.thermal.rooms import HOT
from fleet.thermal.tanks import BINS_PER_HOUR, MID, IntArray
from fleet.values.fleet import Fleet
from fleet.values.register import YearSpan

DAYS_OF_YEAR = 365
REST_OF_YEAR_ROOM_C = 21.0
"""Mean of a room that is lived in, outside the hot season: common practice."""
REST_OF_YEAR_OUTDOOR_DROP_K = 12.0
"""By how much the outdoors then lies below the design day, a mean over mild and cold months: from memory."""
ROOM_AC_COP = 3.0
"""Heat that the air conditioning of a room removes for each watt of its own: from memory, 2.5 to 4."""
SURFACE_FAN_POWER_W, STAND_FAN_POWER_W = 6.0, 6.0
"""Of fans whose power is not on record: common practice."""
ITERATIONS = 80


@dataclass(frozen=True)
class HeldDay:
    """Means over a day on which thermostats hold every tank at its target; [tank], W unless said otherwise.

    required_w: heat to remove, over the hours in which there is any; duty: share of the cooling used; cooler_power_w:
    electric power of coolers and fans, a shared machine by each tank's share; heating_w: what the heater on record
    adds to hold the target; fan_w: heat that the fans on duty take from the water when they run, below zero where they
    warm it; to_room_w: heat into the tank's own room, `vapour_w` of it as vapour; elsewhere_w: heat of its coolers that
    goes outdoors or into another room.
    """

    required_w: Array
    duty: Array
    cooler_power_w: Array
    heating_w: Array
    fan_w: Array
    to_room_w: Array
    vapour_w: Array
    elsewhere_w: Array


def held_day(model: Model, animals_w: Array) -> HeldDay:
    """The hot day of the model, hour by hour, with coolers running as much as the target asks for.

    animals_w: heat of the animals in each tank, part of what the model's gains hold [tank, W]. A cut-out is left out
    of account: what trips is taken to run. Where the coolers do not suffice, or no heater holds the target, the water
    drifts until its own losses make up the difference; that difference is put to the room.
    """
    tanks, machines, links, fans = model.tanks, model.devices.machines, model.devices.links, model.devices.fans
    count = len(tanks.codes)
    side = np.full(HOURS, MID)
    cases: Cases = spread_over_cases(model, side, np.full(HOURS, HOT))
    hour = np.arange(HOURS, dtype=float) + 0.5
    gain, stand_gain = (
        table.reshape(count, -1, HOURS, BINS_PER_HOUR).mean(axis=-1)[:, MID]
        for table in (tanks.gain_w, tanks.stand_gain_w)
    )
    air = air_at(cases, hour)
    shape = cases.open_m2.shape
    water_c = np.broadcast_to(tanks.target_c[:, None], shape)
    set_point = np.broadcast_to(machines.set_point_c[:, None], (len(machines.codes), HOURS))
    stand_c, stand_vapour = air.room_c.copy(), air.vapour_pa.copy()
    ratio, running = np.ones(set_point.shape), np.ones(set_point.shape)
    share = np.zeros(links.tank.size)
    for _ in range(ITERATIONS):
        output = machine_output(cases, set_point, air, stand_c, ratio)
        heat = heat_into_stands(cases, (output.cooling_w + output.power_w) * running, stand_gain)
        temp, vapour = stand_state(cases, water_c, air, heat, stand_c, stand_vapour)
        stand_c, stand_vapour = (stand_c + temp) / 2.0, (stand_vapour + vapour) / 2.0
        leaving = losses(cases, water_c, air, stand_c, stand_vapour)
        required = gain - leaving.watts
        share = machine_shares(model, np.maximum(required, 0.0).max(axis=1)) * links.duty
        link_w = output.cooling_w[links.machine] * share[:, None]
        fan_w, fan_vapour_w = fan_cooling(cases, water_c, air, leaving)
        useful = fans.duty[:, None] & (fan_w > 0.0)
        available = np.zeros(shape)
        np.add.at(available, links.tank, link_w)
        np.add.at(available, fans.tank, fan_w * useful)
        duty = np.clip(required / np.maximum(available, 1e-9), 0.0, 1.0)
        wanted = np.zeros(running.shape)
        np.add.at(wanted, links.machine, share[:, None] * duty[links.tank])
        running = (running + wanted) / 2.0
        ratio = (ratio + output.load_ratio) / 2.0

    link_power = output.power_w[links.machine] * share[:, None] * duty[links.tank]
    fan_power = fans_power(model)[:, None] * useful * duty[fans.tank]
    power = np.zeros(shape)
    np.add.at(power, links.tank, link_power)
    np.add.at(power, fans.tank, fan_power)

    # What the machines reject, where it goes: their stand (counted with its air), this room, or elsewhere.
    rejected = link_w * duty[links.tank] + link_power
    own_room = (machines.room[links.machine] == tanks.room[links.tank]) & machines.heats_room[links.machine]
    in_stand = machines.heats_stand[links.machine]
    to_room, elsewhere = np.zeros(shape), np.zeros(shape)
    np.add.at(to_room, links.tank, rejected * (own_room & ~in_stand)[:, None])
    np.add.at(elsewhere, links.tank, rejected * (~own_room & ~in_stand)[:, None])
    blown = useful * duty[fans.tank]
    np.add.at(to_room, fans.tank, fan_w * blown + fan_power)
    from_water = leaving.stand_w_per_k * (water_c - stand_c)
    to_room += leaving.watts - from_water + cases.stand_w_per_k * (stand_c - air.room_c)
    heating = np.clip(-required, 0.0, tanks.heater_w[:, None])
    drift = required - duty * available + heating
    direct = tanks.electric_mean_w + animals_w - (gain + stand_gain).mean(axis=1)
    vapour_w = leaving.evaporation_kg_s * latent_heat.on_arrays(water_c) - cases.pane_gain_w
    np.add.at(vapour_w, fans.tank, fan_vapour_w * blown)
    return HeldDay(
        required_w=np.maximum(required, 0.0).mean(axis=1),
        duty=duty.mean(axis=1),
        cooler_power_w=power.mean(axis=1),
        heating_w=heating.mean(axis=1),
        fan_w=_of_tanks(fan_w.mean(axis=1) * fans.duty, fans.tank, count),
        to_room_w=(to_room + drift).mean(axis=1) + direct,
        vapour_w=vapour_w.mean(axis=1),
        elsewhere_w=elsewhere.mean(axis=1),
    )


def fans_power(model: Model) -> Array:
    """Electric power of each surface fan; where it is not on record, that of a usual one. [W]"""
    power = model.devices.fans.power_w
    result: Array = np.where(power > 0.0, power, SURFACE_FAN_POWER_W)
    return result


def _of_tanks(values: Array, tank: IntArray, count: int) -> Array:
    return np.bincount(tank, weights=values, minlength=count).astype(float)


def rest_of_year_room_c(hot_day_mean_c: float) -> float:
    """Mean of a room on the days outside the hot season. [°C]"""
    return min(hot_day_mean_c, REST_OF_YEAR_ROOM_C)


def rest_of_year(model: Model) -> Model:
    """The model with the air of the rest of the year in place of that of the hot day; humidity kept as a share."""
    rooms = model.rooms
    mean, vapour = rooms.mean_c.copy(), rooms.vapour_pa.copy()
    mean[:, HOT] = np.minimum(mean[:, HOT], REST_OF_YEAR_ROOM_C)
    vapour[:, HOT] *= saturation_pressure.on_arrays(mean[:, HOT]) / saturation_pressure.on_arrays(rooms.mean_c[:, HOT])
    milder = replace(
        rooms,
        mean_c=mean,
        vapour_pa=vapour,
        outdoor_mean_c=rooms.outdoor_mean_c - REST_OF_YEAR_OUTDOOR_DROP_K,
    )
    changed = build_model(model.tanks, milder, model.devices)
    return replace(
        model, rooms=milder, wall_ua=changed.wall_ua, agitation=changed.agitation, pane_gain_w=changed.pane_gain_w
    )


def animals_heat(fleet: Fleet, codes: Iterable[str]) -> Array:
    """Heat of the animals in these tanks, middle estimate. [W]"""
    per_kg = defaults.LIVESTOCK_W_PER_KG[MID]
    return np.array([per_kg * sum(row.mass_kg or 0.0 for row in fleet.animals_by_tank.get(code, ())) for code in codes])


def stand_fans_power(fleet: Fleet, model: Model) -> Array:
    """Electric power of the stand fans of each tank, which run all the time. [W]"""
    power = np.zeros(len(model.tanks.codes))
    for code, tank, _airflow in model.devices.stand_fans:
        rated = fleet.device_by_code[code].rated_power_w
        power[tank] += STAND_FAN_POWER_W if rated is None else rated
    return power


def hot_days(seasons: Iterable[YearSpan]) -> int:
    """Days of a common year that lie in a hot season; all of them where a site has none."""
    days: set[date] = set()
    for span in seasons:
        day = _day(span.first_month, span.first_day)
        last = _day(span.last_month, span.last_day)
        while True:
            days.add(day)
            if day == last:
                break
            day = day.replace(month=1, day=1) if (day.month, day.day) == (12, 31) else day + timedelta(days=1)
    return len(days) or DAYS_OF_YEAR


def _day(month: int, day: int) -> date:
    return date(2025, month, 28 if (month, day) == (2, 29) else day)


def year_kwh(hot_day_w: float, rest_w: float, hot: int) -> float:
    """Energy of a year with `hot` days at one mean power and the rest at another. [kWh]"""
    return 24.0 * (hot_day_w * hot + rest_w * (DAYS_OF_YEAR - hot)) / 1000.0


def yearly_cost(kwh: float, tariff_per_kwh: Decimal | None) -> Decimal | None:
    """Money a year, to the cent; None where the site states no tariff."""
    if tariff_per_kwh is None:
        return None
    return (Decimal(f"{kwh:.3f}") * tariff_per_kwh).quantize(Decimal("0.01"))
