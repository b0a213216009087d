"""The same tanks by scipy's solve_ivp, one group at a time, stopping at every event: the yardstick of the traces.

Written apart from the package: scalar formulas from the sources named in it, state [water, stand] for each tank with a
closed stand and [water] for each other. A segment ends where a thermostat switches, a lamp goes on or off, a compressor
has rested enough or trips. The facts of tanks, rooms and devices are read from the package's arrays, lamps from the
register's rows.

Long because the yardstick is a second, independent model: nothing of the program may be used in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from fleet.thermal import defaults
from fleet.thermal.devices import FROM_OUTDOORS, FROM_STAND
from fleet.values.vocabulary import LoadKind

SIGMA, CP_AIR, CUT_OUT_C, STAND_J_K_PER_M = 5.670374e-8, 1007.0, 62.0, 55_000.0
BOTTOM_U, LID_U, SUMP_WALL_U = 2.0, 5.0, 7.0
FAN_LATENT = 0.07815


def saturated(temp_c: float) -> float:
    return 610.94 * math.exp(17.625 * temp_c / (temp_c + 243.04))


def films(
    water_c: float, air_c: float, water_pa: float, air_pa: float, agitation: float, pressure: float
) -> tuple[float, float, float]:
    """Latent W/(m2 Pa), convective and long-wave W/(m2 K) of still water (Shah; Lewis factor one)."""
    rho_w = (pressure - water_pa) / (287.042 * (water_c + 273.15))
    rho_a = (pressure - air_pa) / (287.042 * (air_c + 273.15))
    per_pa = 5e-5
    if water_pa > air_pa and rho_a > rho_w:
        humid = 0.621945 * pressure / ((pressure - water_pa) * (pressure - air_pa))
        per_pa = max(per_pa, 35.0 * rho_w * (rho_a - rho_w) ** (1.0 / 3.0) * humid)
    vaporization = 2.5009e6 - 2365.0 * water_c
    latent = agitation * per_pa / 3600.0 * vaporization
    ratio = 0.621945 * air_pa / (pressure - air_pa)
    gamma = pressure * (1006.0 + 1860.0 * ratio) / (0.621945 * vaporization)
    return latent, latent * gamma, 4.0 * 0.95 * SIGMA * ((water_c + air_c) / 2.0 + 273.15) ** 3


@dataclass
class Fan:
    blown_m2: float
    speed_m_s: float
    opened_m2: float


@dataclass
class TankFacts:
    heat_capacity: float
    wall_ua: float
    open_m2: float
    lid_ua: float
    agitation: float
    activity: float
    pressure: float
    pane_w: float
    bottom_ua: float
    sump_wall_ua: float
    sump_m2: float
    closed: bool
    stand_w_k: float
    stand_kg_s: float
    stand_j_k: float
    room_mean: float
    room_half: float
    room_peak: float
    room_pa: float
    target: float
    fans: list[Fan]
    lamps: list[tuple[float, float, float, float]]
    """Hour on, hours lit, W to water, W to the stand."""
    water_w: float
    stand_w: float


@dataclass
class MachineFacts:
    chiller: bool
    cooling_w: float
    power_w: float
    span_k: float
    airflow: float
    screen_q: float
    screen_p: float
    recirculation: float
    from_stand: int
    """Place in the group of the tank whose stand it breathes; -1: a room or outdoors."""
    heats: int
    air_mean: float
    air_half: float
    air_peak: float
    tanks: list[int]
    shares: list[float]


class Group:
    """Tanks that share machines, as facts for the scalar balance; `case` is the case of `cases` to read."""

    def __init__(self, fleet: Any, cases: Any, controls: Any, tanks: Sequence[int], case: int = 0) -> None:
        model, side, scenario = cases.model, int(cases.side[case]), int(cases.scenario[case])
        arrays, rooms, machines = model.tanks, model.rooms, model.devices.machines
        links, fans = model.devices.links, model.devices.fans
        self.place = {tank: i for i, tank in enumerate(tanks)}
        self.tanks = []
        for i in tanks:
            lamps, water_w, stand_w = self.loads(fleet, arrays.codes[i], side)
            room = arrays.room[i]
            blowing = [
                k for k in np.flatnonzero(fans.tank == i) if controls.fans_on[k, case] and cases.fans_count[i, case] > 0
            ]
            self.tanks.append(
                TankFacts(
                    heat_capacity=float(cases.heat_capacity_j_k[i, case]),
                    wall_ua=float(cases.wall_ua[i, case]),
                    open_m2=float(cases.open_m2[i, case]),
                    lid_ua=(float(arrays.surface_m2[i]) - float(cases.open_m2[i, case])) * LID_U,
                    agitation=float(cases.agitation[i, case]),
                    activity=float(arrays.activity[i]),
                    pressure=float(arrays.pressure_pa[i]),
                    pane_w=float(cases.pane_gain_w[i, case]),
                    bottom_ua=BOTTOM_U * float(arrays.surface_m2[i]),
                    sump_wall_ua=float(arrays.sump_wall_ua[i]),
                    sump_m2=float(arrays.sump_m2[i]),
                    closed=bool(arrays.stand_closed[i]),
                    stand_w_k=float(cases.stand_w_per_k[i, case]),
                    stand_kg_s=float(cases.stand_kg_s[i, case]),
                    stand_j_k=STAND_J_K_PER_M * float(arrays.length_m[i]),
                    room_mean=float(rooms.mean_c[room, scenario]),
                    room_half=float(rooms.half_range_k[room, scenario]),
                    room_peak=float(rooms.peak_hour[room, scenario]),
                    room_pa=float(rooms.vapour_pa[room, scenario]),
                    target=float(arrays.target_c[i]),
                    fans=[
                        Fan(
                            float(cases.fan_blown_m2[k, case]),
                            float(cases.fan_speed[k, case]),
                            float(cases.fan_opened_m2[k, case]),
                        )
                        for k in blowing
                    ],
                    lamps=lamps,
                    water_w=water_w,
                    stand_w=stand_w,
                )
            )
        self.machines = []
        for m in sorted({int(links.machine[k]) for k in range(links.tank.size) if links.tank[k] in self.place}):
            of_machine = [k for k in np.flatnonzero(links.machine == m) if controls.links_on[k, case]]
            if not of_machine or not machines.usable[m]:
                continue
            outdoors = machines.intake[m] == FROM_OUTDOORS
            room = machines.room[m]
            airflow = float(machines.airflow[m, side])
            half_blocked = 1.0 / airflow - 1.0
            self.machines.append(
                MachineFacts(
                    chiller=bool(machines.is_chiller[m]),
                    cooling_w=float(machines.reference_w[m, side]),
                    power_w=float(machines.reference_power_w[m, side]),
                    span_k=float(machines.span_k[m, side]),
                    airflow=airflow,
                    screen_q=(1.0 - 0.086 * half_blocked**0.92),
                    screen_p=1.0 + 0.264 * half_blocked**0.80,
                    recirculation=float(machines.recirculation[m]),
                    from_stand=self.place[int(machines.stand[m])] if machines.intake[m] == FROM_STAND else -1,
                    heats=self.place[int(machines.stand[m])] if machines.heats_stand[m] else -1,
                    air_mean=float(rooms.outdoor_mean_c[room] + machines.sun_k[m, side])
                    if outdoors
                    else float(rooms.mean_c[room, scenario]),
                    air_half=float(rooms.outdoor_half_range_k[room])
                    if outdoors
                    else float(rooms.half_range_k[room, scenario]),
                    air_peak=15.0 if outdoors else float(rooms.peak_hour[room, scenario]),
                    tanks=[self.place[int(links.tank[k])] for k in of_machine],
                    shares=[float(controls.share[k]) for k in of_machine],
                )
            )
            if self.machines[-1].chiller:
                self.machines[-1].cooling_w *= float(machines.scale_factor[m, side])
                self.machines[-1].power_w = float(machines.reference_power_w[m, side])
            self.full_w = getattr(self, "full_w", [])
            self.full_w.append(float(machines.reference_w[m, side] + machines.reference_power_w[m, side]))
        self.stand_at = []
        size = len(self.tanks)
        for facts in self.tanks:
            self.stand_at.append(size if facts.closed else -1)
            size += facts.closed
        self.size = size

    @staticmethod
    def loads(fleet: Any, code: str, side: int) -> tuple[list[tuple[float, float, float, float]], float, float]:
        lamps, water_w, stand_w = [], 0.0, 0.0
        for load in fleet.loads_by_tank.get(code, ()):
            if load.kind is LoadKind.HEATER:
                continue
            to_water, to_stand = 1.0, 0.0
            if load.kind is LoadKind.LIGHT:
                to_water = defaults.LIGHT_TO_WATER[load.mounting][side]
            elif load.kind is LoadKind.EXTERNAL_PUMP:
                to_water = defaults.EXTERNAL_PUMP_TO_WATER[side]
                to_stand = 1.0 - to_water
            if load.on_from is None:
                water_w += to_water * load.power_w
                stand_w += to_stand * load.power_w
            else:
                start = load.on_from.hour + load.on_from.minute / 60.0
                lamps.append((start, load.hours_per_day, to_water * load.power_w, to_stand * load.power_w))
        return lamps, water_w, stand_w

    def curves(
        self, machine: MachineFacts, full_w: float, water_c: float, around_c: float
    ) -> tuple[float, float, float, float]:
        """Cooling, power, inlet and condensing temperature; recirculated air is found together with the load."""
        back = machine.recirculation / (1.0 - machine.recirculation) * 8.0 / machine.airflow
        ratio = 1.0
        x = min(max(water_c, 8.0), 30.0) - 25.0
        for _ in range(6):
            inlet = around_c + back * ratio
            y = min(max(inlet, 15.0), 50.0) - 30.0
            if machine.chiller:
                q = 1.0 + 0.02579 * x - 0.00913 * y + 1.81e-4 * x * x - 1.70e-4 * x * y - 1.8e-5 * y * y
                p = 1.0 + 0.0044 * x + 0.0300 * y - 1.50e-4 * x * x + 6.88e-4 * x * y - 1.40e-4 * y * y
                cooling, power = machine.cooling_w * q * machine.screen_q, machine.power_w * p * machine.screen_p
            else:
                lost = max(inlet - water_c, 0.0) / machine.span_k
                cooling, power = max(machine.cooling_w * (1.0 - lost), 0.0) * machine.screen_q, machine.power_w
            new = (cooling + power) / full_w
            if back == 0.0 or abs(new - ratio) < 1e-7:
                ratio = new
                break
            ratio = new
        return cooling, power, inlet, inlet + 15.0 * ratio / math.sqrt(machine.airflow)


def wave(mean: float, half: float, peak: float, hour: float) -> float:
    return mean + half * math.cos(2.0 * math.pi * (hour - peak) / 24.0)


class EventRun:
    """A group followed from event to event; `at_s` are the times at which the water is wanted."""

    def __init__(self, group: Group, start_c: Sequence[float], start_hour: float, band_k: float, rest_s: float) -> None:
        self.group, self.start_hour, self.band_k, self.rest_s = group, start_hour, band_k, rest_s
        self.calling = [False] * len(group.tanks)
        self.ready = [0.0] * len(group.machines)
        self.lost = [False] * len(group.machines)
        self.running = [False] * len(group.machines)
        self.time = 0.0
        self.state = np.array([*start_c, *(self.room(f, 0.0) for f in group.tanks if f.closed)], dtype=float)
        self.starts = 0

    def room(self, facts: TankFacts, t: float) -> float:
        return wave(facts.room_mean, facts.room_half, facts.room_peak, self.start_hour + t / 3600.0)

    def heat(self, facts: TankFacts, t: float) -> tuple[float, float]:
        """Watts to water and stand from the instant t onwards."""
        hour = (self.start_hour + t / 3600.0 + 1e-9) % 24.0
        water, stand = facts.water_w, facts.stand_w
        for start, hours, water_w, stand_w in facts.lamps:
            if (hour - start) % 24.0 < hours:
                water += water_w
                stand += stand_w
        return water, stand

    def around(self, machine: MachineFacts, t: float, y: Any) -> float:
        if machine.from_stand >= 0:
            place = self.group.stand_at[machine.from_stand]
            if place >= 0:
                return float(y[place])
            return self.room(self.group.tanks[machine.from_stand], t)
        return wave(machine.air_mean, machine.air_half, machine.air_peak, self.start_hour + t / 3600.0)

    def flow(self, heats: list[tuple[float, float]], on: list[bool]) -> Callable[[float, Any], list[float]]:
        """Rates of change [K/s] while nothing switches."""
        group, calling = self.group, list(self.calling)
        active = []
        for m, machine in enumerate(group.machines):
            if on[m]:
                total = sum(share for tank, share in zip(machine.tanks, machine.shares, strict=True) if calling[tank])
                served = [
                    (tank, share / total)
                    for tank, share in zip(machine.tanks, machine.shares, strict=True)
                    if calling[tank]
                ]
                weight = sum(machine.shares)
                mixing = [(tank, share / weight) for tank, share in zip(machine.tanks, machine.shares, strict=True)]
                active.append((machine, group.full_w[m], served, mixing))
        peaks = [math.pi / 43_200.0, self.start_hour * math.pi / 12.0]

        def rates(t: float, y: Any) -> list[float]:
            state = y.tolist()
            result = [0.0] * group.size
            to_stand = [stand for _, stand in heats]
            cooling = [0.0] * len(group.tanks)
            for machine, full_w, served, mixing in active:
                water = sum(state[tank] * part for tank, part in mixing)
                given, power, _, _ = group.curves(machine, full_w, water, self.around(machine, t, state))
                for tank, part in served:
                    cooling[tank] += given * part
                if machine.heats >= 0:
                    to_stand[machine.heats] += given + power
            for i, facts in enumerate(group.tanks):
                temp = state[i]
                room = facts.room_mean + facts.room_half * math.cos(
                    peaks[0] * t + peaks[1] - facts.room_peak * math.pi / 12.0
                )
                air_pa = min(facts.room_pa, saturated(room))
                water_pa = facts.activity * saturated(temp)
                latent, convective, longwave = films(temp, room, water_pa, air_pa, facts.agitation, facts.pressure)
                over = temp - room
                surface = (convective + longwave) * over + latent * (water_pa - air_pa)
                leaving = (facts.wall_ua + facts.lid_ua) * over + facts.open_m2 * surface - facts.pane_w
                if calling[i]:
                    for fan in facts.fans:
                        blown = fan.blown_m2 * FAN_LATENT * fan.speed_m_s
                        more = blown * (convective / latent * over + water_pa - air_pa) + fan.opened_m2 * (
                            surface - LID_U * over
                        )
                        leaving += max(more, 0.0)
                place = group.stand_at[i]
                stand = state[place] if place >= 0 else room
                conductance = facts.bottom_ua + facts.sump_wall_ua
                if facts.sump_m2 > 0.0:
                    vapour = air_pa
                    carried = max(facts.stand_kg_s, 1e-9) * 0.622 / facts.pressure
                    for _ in range(8):
                        sump_latent, dry, sump_longwave = films(
                            temp, stand, water_pa, vapour, facts.agitation, facts.pressure
                        )
                        pull = facts.sump_m2 * sump_latent / (2.5009e6 - 2365.0 * temp)
                        new = min((carried * air_pa + pull * water_pa) / (carried + pull), saturated(stand))
                        done = abs(new - vapour) < 1e-2
                        vapour = new
                        if done:
                            break
                    conductance += facts.sump_m2 * (dry + sump_longwave)
                    leaving += facts.sump_m2 * sump_latent * (water_pa - vapour)
                leaving += conductance * (temp - stand)
                result[i] = (heats[i][0] - leaving - cooling[i]) / facts.heat_capacity
                if place >= 0:
                    result[place] = (
                        to_stand[i] + facts.stand_w_k * (room - stand) + conductance * (temp - stand)
                    ) / facts.stand_j_k
            return result

        return rates

    def edges(self, hours: float) -> list[float]:
        """Instants at which lamps switch. [s]"""
        found = set()
        for facts in self.group.tanks:
            for start, lit, *_ in facts.lamps:
                for hour in (start, start + lit):
                    first = (hour - self.start_hour) % 24.0
                    found.update(3600.0 * (first + 24.0 * day) for day in range(int(hours // 24.0) + 1))
        return sorted(t for t in found if 0.0 < t < hours * 3600.0)

    def go(self, hours: float, at_s: Any, rtol: float, atol: float, method: str = "LSODA") -> tuple[Any, Any]:
        """Water [tank, time] and stands [tank, time] at the wanted times."""
        group = self.group
        end = hours * 3600.0
        edges = [*self.edges(hours), end]
        wanted = np.asarray(at_s, dtype=float)
        found = np.zeros((group.size, wanted.size))
        found[:, wanted <= 0.0] = self.state[:, None]
        count = len(group.tanks)
        while self.time < end - 1e-6:
            on = []
            timers = []
            for m, machine in enumerate(group.machines):
                if not self.running[m] and self.trip_event(m)(self.time, self.state) <= 0.0:
                    wants = any(self.calling[i] for i in machine.tanks) and self.time >= self.ready[m] - 1e-6
                    self.lost[m] = self.lost[m] or wants
                called = any(self.calling[i] for i in machine.tanks) and not self.lost[m]
                resting = machine.chiller and self.time < self.ready[m] - 1e-6
                if called and resting:
                    timers.append(self.ready[m])
                on.append(called and not resting)
            for m, now in enumerate(on):
                self.starts += now and not self.running[m]
                if self.running[m] and not now:
                    self.ready[m] = self.time + self.rest_s
            self.running = on
            stop = min([edge for edge in edges if edge > self.time + 1e-6] + timers)
            rates = self.flow([self.heat(facts, self.time) for facts in group.tanks], on)
            events: list[Any] = []
            acts: list[tuple[str, int]] = []
            for i, facts in enumerate(group.tanks):
                level, sign = (facts.target - self.band_k, -1) if self.calling[i] else (facts.target + self.band_k, 1)
                beyond = sign * (self.state[i] - level)
                if beyond > 1e-9:
                    self.calling[i] = not self.calling[i]
                    break
                events.append(_crossing(i, level, sign))
                acts.append(("valve", i))
            else:
                for m, runs in enumerate(on):
                    if runs:
                        events.append(self.trip_event(m))
                        acts.append(("trip", m))
                within = wanted[(wanted > self.time) & (wanted <= stop)]
                solved = solve_ivp(
                    rates, (self.time, stop), self.state, method=method, events=events, rtol=rtol, atol=atol,
                    t_eval=within if within.size and within[-1] == stop else np.append(within, stop),
                )  # fmt: skip
                reached = stop
                if solved.status == 1:
                    which = next(e for e, times in enumerate(solved.t_events) if times.size)
                    reached = float(solved.t_events[which][0])
                    self.state = solved.y_events[which][0]
                    kind, index = acts[which]
                    if kind == "valve":
                        self.calling[index] = not self.calling[index]
                        level = group.tanks[index].target + (self.band_k if self.calling[index] else -self.band_k)
                        self.state[index] = level
                    else:
                        self.lost[index] = True
                else:
                    self.state = solved.y[:, -1]
                keep = np.searchsorted(wanted, (self.time, reached), side="right")
                if keep[1] > keep[0]:
                    found[:, keep[0] : keep[1]] = solved.y[:, : keep[1] - keep[0]]
                self.time = reached
        stands = np.array([found[p] if p >= 0 else np.full(wanted.size, np.nan) for p in group.stand_at])
        return found[:count], stands

    def trip_event(self, m: int) -> Any:
        machine = self.group.machines[m]
        weight = sum(machine.shares)

        def event(t: float, y: Any) -> float:
            water = sum(y[tank] * share / weight for tank, share in zip(machine.tanks, machine.shares, strict=True))
            _, _, inlet, condensing = self.group.curves(
                machine, self.group.full_w[m], water, self.around(machine, t, y)
            )
            return min(CUT_OUT_C - condensing, 50.0 - inlet) if machine.chiller else 50.0 - inlet

        event.terminal = True  # type: ignore[attr-defined]
        event.direction = -1  # type: ignore[attr-defined]
        return event


def _crossing(i: int, level: float, sign: int) -> Any:
    def event(_t: float, y: Any) -> float:
        return float(y[i]) - level

    event.terminal = True  # type: ignore[attr-defined]
    event.direction = sign  # type: ignore[attr-defined]
    return event
