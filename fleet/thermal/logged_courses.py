"""The course of the water of tanks that were logged, by the balance of everywhere else, for scales that are tried."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleet.thermal.balance import Air, heat_into_stands, losses, machine_output, stand_state
from fleet.thermal.cases import Cases, Model, spread_over_cases
from fleet.thermal.day import exponential_step
from fleet.thermal.logs import Log
from fleet.thermal.properties import saturation_pressure
from fleet.thermal.ranges import AIR_C, WATER_C, Array
from fleet.thermal.rooms import HOT, PEAK_HOUR
from fleet.thermal.tanks import BINS, MID

STEP_S = 1800.0


class LoggedCourses:
    """Simulates the water of several tanks, each in its own logged air, for several scales at once, and reads it at
    the times of their logs.

    model: of these tanks, in the order of the logs. Arrays [tank, step] begin with each log's own first step; a tank
    whose log has ended waits for the rest.
    """

    def __init__(self, model: Model, logs: Sequence[Log], cases: int) -> None:
        machines, links = model.devices.machines, model.devices.links
        self.logs, self.count = logs, cases
        # Each machine has air of its own here, at the hour of the log of its tank.
        apart = replace(machines, room=np.arange(len(machines.codes)))
        own = replace(model, devices=replace(model.devices, machines=apart))
        self.cases = spread_over_cases(own, np.full(cases, MID), np.full(cases, HOT))
        steps = np.array([max(math.ceil(log.water_s[-1] / STEP_S), 1) for log in logs])
        self.edges = [np.linspace(0.0, log.water_s[-1], count + 1) for log, count in zip(logs, steps, strict=True)]
        self.seconds, self.hours, self.room_c, self.share, self.gain_w, self.stand_gain_w = (
            np.zeros((len(logs), int(steps.max()))) for _ in range(6)
        )
        for i, (log, edges) in enumerate(zip(logs, self.edges, strict=True)):
            its, middle = slice(0, int(steps[i])), (edges[:-1] + edges[1:]) / 2.0
            self.seconds[i, its] = np.diff(edges)
            self.hours[i, its] = (log.start_hour + middle / 3600.0) % 24.0
            self.room_c[i] = np.interp(middle[-1], log.room_s, log.room_c)
            self.room_c[i, its] = np.interp(middle, log.room_s, log.room_c)
            if log.run_s.size:
                self.share[i, its] = np.interp(middle, log.run_s, log.run_share)
            for table, gains in ((model.tanks.gain_w, self.gain_w), (model.tanks.stand_gain_w, self.stand_gain_w)):
                gains[i, its] = _mean_over(log.start_hour * 3600.0 + edges, table[i, MID])
        # A log's air holds its vapour over the day, as the rooms of the model do.
        means = np.array([self.room_c[i, :count].mean() for i, count in enumerate(steps)])
        self.vapour_pa = np.array([log.relative_humidity for log in logs]) * saturation_pressure.on_arrays(means)
        self.mean_gain_w = np.array([self.gain_w[i, :count].mean() for i, count in enumerate(steps)])
        self.removed_w = np.zeros(len(logs))
        self.tank_of = np.zeros(len(machines.codes), dtype=np.intp)
        self.tank_of[links.machine] = links.tank
        self.on_duty = np.zeros(len(machines.codes), dtype=bool)
        self.on_duty[links.machine[links.duty]] = True
        rooms, tank_of, room = model.rooms, self.tank_of, machines.room
        hours = self.hours[tank_of]
        phase = (hours - rooms.peak_hour[room, HOT, None]) * (2.0 * np.pi / 24.0)
        elsewhere = rooms.mean_c[room, HOT, None] + rooms.half_range_k[room, HOT, None] * np.cos(phase)
        at_tank = room == model.tanks.room[tank_of]
        self.around_c = np.where(at_tank[:, None], self.room_c[tank_of], np.clip(elsewhere, AIR_C.low, AIR_C.high))
        outdoors = rooms.outdoor_mean_c[room, None] + rooms.outdoor_half_range_k[room, None] * np.cos(
            (hours - PEAK_HOUR) * (2.0 * np.pi / 24.0)
        )
        self.outdoor_c = np.clip(outdoors, AIR_C.low, AIR_C.high)

    def air(self, step: int) -> Air:
        """The logged air in a step, and the design day's where a machine stands elsewhere."""

        def spread(values: Array) -> Array:
            return np.repeat(values[:, None], self.count, axis=1)

        room_c = spread(self.room_c[:, step])
        vapour = np.minimum(self.vapour_pa[:, None], saturation_pressure.on_arrays(room_c))
        return Air(spread(self.around_c[:, step]), spread(self.outdoor_c[:, step]), room_c, vapour)

    def water_c(self, loss_scale: Array, gain_scale: Array, start_c: Array) -> list[Array]:
        """Water at the times of the readings of each log [case, reading]. The three arguments are [tank, case]."""
        cases = _scaled(self.cases, loss_scale)
        machines = cases.model.devices.machines
        temp = start_c.copy()
        course = [temp]
        first = self.air(0)
        stand_c, stand_vapour = first.room_c, np.repeat(self.vapour_pa[:, None], self.count, axis=1)
        ratio = np.ones((len(machines.codes), self.count))
        heat = np.zeros_like(ratio)
        self.removed_w[:] = 0.0
        for i in range(self.seconds.shape[1]):
            air = self.air(i)
            stand_gain = np.repeat(self.stand_gain_w[:, i, None], self.count, axis=1)
            stand_heat = heat_into_stands(cases, heat, stand_gain)
            stand_c, stand_vapour = stand_state(cases, temp, air, stand_heat, stand_c, stand_vapour)
            leaving = losses(cases, temp, air, stand_c, stand_vapour)
            cooled = np.zeros_like(temp)
            share = (self.share[self.tank_of, i] * self.on_duty)[:, None]
            if share.any():
                output = machine_output(cases, temp[self.tank_of], air, stand_c, ratio)
                drawn = output.cooling_w * share
                np.add.at(cooled, self.tank_of, drawn)
                heat = drawn + output.power_w * share
                ratio = np.where(share > 0.0, output.load_ratio, ratio)
                self.removed_w += cooled[:, 0] * self.seconds[:, i]
            rate = (gain_scale * self.gain_w[:, i, None] - leaving.watts - cooled) / cases.heat_capacity_j_k
            decay = leaving.slope_w_per_k / cases.heat_capacity_j_k
            temp = exponential_step(temp, rate, decay, self.seconds[:, i, None])
            temp = np.clip(temp, WATER_C.low, WATER_C.high)
            course.append(temp)
        self.removed_w /= self.seconds.sum(axis=1)
        found = np.stack(course, axis=-1)
        return [
            np.stack([np.interp(log.water_s, edges, one[: edges.size]) for one in found[i]])
            for i, (log, edges) in enumerate(zip(self.logs, self.edges, strict=True))
        ]


def _mean_over(edges_s: Array, by_bin: Array) -> Array:
    """Mean of a table of the day over each step between these seconds of the clock, by the integral of the table."""
    bin_s = 86_400.0 / BINS
    total = np.concatenate([[0.0], np.cumsum(by_bin) * bin_s])
    days, rest = np.divmod(edges_s, 86_400.0)
    integral = days * total[-1] + np.interp(rest, np.arange(BINS + 1) * bin_s, total)
    result: Array = np.diff(integral) / np.diff(edges_s)
    return result


def _scaled(cases: Cases, scale: Array) -> Cases:
    return replace(
        cases,
        open_m2=cases.open_m2 * scale,
        lid_ua=cases.lid_ua * scale,
        wall_ua=cases.wall_ua * scale,
        pane_gain_w=cases.pane_gain_w * scale,
        stand_side_ua=cases.stand_side_ua * scale,
        sump_m2=cases.sump_m2 * scale,
    )
