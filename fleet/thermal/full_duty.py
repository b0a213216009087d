"""Tanks held at target with every machine on duty at full output: what must be removed, and what can be.

Machines and stands settle together: a machine warms the stand that it stands in, or breathes its own exhaust, and so
gives less.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from fleet.thermal.balance import (
    Output,
    air_at,
    cannot_run,
    fan_cooling,
    heat_into_stands,
    losses,
    machine_output,
    stand_state,
)
from fleet.thermal.cases import Cases
from fleet.thermal.parts import groups, part_of
from fleet.thermal.ranges import Array
from fleet.thermal.tanks import BoolArray

STAND_ITERATIONS = 60
STAND_CLOSES_WITHIN_K = 1e-6
VAPOUR_CLOSES_WITHIN_PA = 1e-4
RATIO_CLOSES_WITHIN = 1e-8


@dataclass(frozen=True)
class FullDuty:
    """Need and output; required_w, evaporation_kg_s and stand_c [tank, case], trips [machine, case], fan_w [fan, case].

    trips: machines that cannot run at all; `output` tells what they would do.
    """

    required_w: Array
    output: Output
    trips: BoolArray
    fan_w: Array
    evaporation_kg_s: Array
    stand_c: Array


def at_full_duty(cases: Cases, hour: Array, gain_w: Array, stand_gain_w: Array) -> FullDuty:
    """Steady stands and machines with the water at target: what must be removed, and what can be.

    hour [case]; gain_w and stand_gain_w [tank, case], heat released in the water and in the stands. A machine that
    would trip in its own heat is told as tripping; it then heats no stand, and the rest is balanced again without it.
    """
    heated = _with_a_machine_in_the_stand(cases)
    if heated.all() or not heated.any():
        return _settled(cases, hour, gain_w, stand_gain_w)
    size, model = hour.size, cases.model
    of_tanks, of_machines = (len(each) for each in (model.tanks.codes, model.devices.machines.codes))
    required_w, evaporation_kg_s, stand_c = (np.zeros((of_tanks, size)) for _ in range(3))
    output = Output(*(np.zeros((of_machines, size)) for _ in fields(Output)))
    trips = np.zeros((of_machines, size), dtype=bool)
    fan_w = np.zeros((model.devices.fans.tank.size, size))
    for some in (heated, ~heated):
        part = part_of(cases, np.flatnonzero(some))
        found = _settled(part.cases, hour, gain_w[part.tanks], stand_gain_w[part.tanks])
        required_w[part.tanks] = found.required_w
        evaporation_kg_s[part.tanks] = found.evaporation_kg_s
        stand_c[part.tanks] = found.stand_c
        fan_w[part.fans], trips[part.machines] = found.fan_w, found.trips
        for each in fields(Output):
            getattr(output, each.name)[part.machines] = getattr(found.output, each.name)
    return FullDuty(required_w, output, trips, fan_w, evaporation_kg_s, stand_c)


def _with_a_machine_in_the_stand(cases: Cases) -> BoolArray:
    """Tanks with a machine in their stand, and those that it or another machine ties to them; [tank]."""
    machines, label = cases.model.devices.machines, groups(cases.model)
    found: BoolArray = np.isin(label, label[machines.stand[machines.stand >= 0]])
    return found


def _settled(cases: Cases, hour: Array, gain_w: Array, stand_gain_w: Array) -> FullDuty:
    tanks, machines, links = cases.model.tanks, cases.model.devices.machines, cases.model.devices.links
    shape = cases.open_m2.shape
    air = air_at(cases, hour)
    water_c = np.broadcast_to(tanks.target_c[:, None], shape)
    set_point = np.broadcast_to(machines.set_point_c[:, None], (len(machines.codes), shape[1]))
    on_duty = np.zeros(len(machines.codes), dtype=bool)
    on_duty[links.machine[links.duty]] = True
    # A stand that a machine heats answers strongly to the air that the machine breathes there.
    step = 0.5 if (machines.stand >= 0).any() else 1.0

    def balanced(running: BoolArray) -> tuple[Output, Array, Array]:
        stand_c, stand_vapour = air.room_c.copy(), air.vapour_pa.copy()
        ratio = np.ones(set_point.shape)
        for _ in range(STAND_ITERATIONS):
            output = machine_output(cases, set_point, air, stand_c, ratio)
            heat = heat_into_stands(cases, (output.cooling_w + output.power_w) * running, stand_gain_w)
            temp, vapour = stand_state(cases, water_c, air, heat, stand_c, stand_vapour)
            moves = [
                _toward(stand_c, temp, step, STAND_CLOSES_WITHIN_K),
                _toward(stand_vapour, vapour, step, VAPOUR_CLOSES_WITHIN_PA),
                _toward(ratio, output.load_ratio, step, RATIO_CLOSES_WITHIN),
            ]
            if not any(moves):
                break
        return machine_output(cases, set_point, air, stand_c, ratio), stand_c, stand_vapour

    running = np.broadcast_to(on_duty[:, None], set_point.shape)
    output, stand_c, stand_vapour = balanced(running)
    trips = cannot_run(cases, set_point, output)
    tripped = trips & running
    if (tripped & machines.heats_stand[:, None]).any():
        rest, stand_c, stand_vapour = balanced(running & ~tripped)
        output = Output(
            *(np.where(tripped, getattr(output, each.name), getattr(rest, each.name)) for each in fields(Output))
        )
        trips = tripped | cannot_run(cases, set_point, rest)
    leaving = losses(cases, water_c, air, stand_c, stand_vapour)
    fan_w, _vapour_w = fan_cooling(cases, water_c, air, leaving)
    return FullDuty(gain_w - leaving.watts, output, trips, fan_w, leaving.evaporation_kg_s, stand_c)


def _toward(now: Array, wanted: Array, step: float, least: float) -> bool:
    """Moves each value part of its way, and tells whether any moved.

    One that lies close enough stays as it is, so that no result depends on what is settled beside it.
    """
    change = wanted - now
    moving = np.abs(change) >= least
    now += step * change * moving
    return bool(moving.any())
