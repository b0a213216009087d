"""What is true of a subject on one day, and the needs that a rule's selector asks for.

Every need is explained in fleet.values.catalogue_names; a test holds the two lists together.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import date

from fleet.planning.seasons import hot_seasons
from fleet.planning.subjects import Subject, Subjects
from fleet.values.assessment import Assessment
from fleet.values.catalogue import AnimalClass, Selector
from fleet.values.fleet import Fleet
from fleet.values.refrigerants import flammable_or_unknown, may_be_regulated
from fleet.values.register import Device, Tank
from fleet.values.vocabulary import (
    ChangeKind,
    ClientKind,
    DeviceKind,
    EquipmentKind,
    Finding,
    Health,
    LoadKind,
    MarginState,
    Role,
    Scenario,
    Stand,
    SubjectKind,
    TankKind,
    Where,
)

MARINE_KINDS = (TankKind.TROPICAL_MARINE, TankKind.REEF, TankKind.COLD_MARINE)
COLD_KINDS = (TankKind.COLD_FRESH, TankKind.COLD_MARINE)
MARINE_FROM_G_PER_KG = 10.0
COLD_BELOW_C = 18.0
COOLERS = (DeviceKind.CHILLER, DeviceKind.THERMOELECTRIC)
IN_A_STAND = (Where.IN_STAND, Where.IN_STAND_VENTED)
WITHOUT_COOLING = (MarginState.NONE_NEEDED, MarginState.RIDES)
ACID_ATTACKS = ("alumin", "brass", "bronze", "copper")


class Facts:
    """Answers, for one fleet on one day, whether a named need or condition holds of a subject."""

    def __init__(
        self,
        fleet: Fleet,
        subjects: Subjects,
        animal_classes: Mapping[str, AnimalClass],
        assessments: Sequence[Assessment],
        today: date,
    ) -> None:
        self.fleet, self.subjects, self.animal_classes, self.today = fleet, subjects, animal_classes, today
        self.margin_state = {one.tank: one.state for one in assessments if one.scenario is Scenario.HOT_DAY}
        self.equipment_kinds: dict[str, list[EquipmentKind]] = defaultdict(list)
        self.health_of_site: dict[str, set[Health | None]] = defaultdict(set)
        for item in fleet.equipment:
            for code in subjects.by_code[item.code].tanks or ((item.site,) if item.site else ()):
                self.equipment_kinds[code].append(item.kind)
        for tank in subjects.of_kind(SubjectKind.TANK):
            if tank.site is not None:
                self.health_of_site[tank.site].add(fleet.tank_by_code[tank.code].health)
        self.animals_changed_on: dict[str, list[date]] = defaultdict(list)
        for change in fleet.changes:
            if change.kind is ChangeKind.ANIMALS:
                self.animals_changed_on[change.tank].append(change.on)
        self._in_hot_season: dict[str, bool] = {}

    def suits(self, subject: Subject, selector: Selector) -> bool:
        """Whether every need of the selector holds."""
        return all(NEED_TESTS[need](self, subject) for need in selector.needs)

    def tanks(self, subject: Subject) -> list[Tank]:
        return [self.fleet.tank_by_code[code] for code in subject.tanks]

    def device(self, subject: Subject) -> Device | None:
        return self.fleet.device_by_code.get(subject.code)

    def tank_or_own_equipment(self, subject: Subject) -> list[EquipmentKind]:
        return [kind for code in subject.tanks for kind in self.equipment_kinds.get(code, ())]

    def cooled_by(self, tank: str) -> set[DeviceKind]:
        """Kinds of the devices that have a duty on the tank."""
        devices = self.fleet.device_by_code
        return {devices[duty.device].kind for duty in self.fleet.duties_by_tank.get(tank, ()) if duty.device in devices}

    def has_standby(self, tank: str, other_than: str) -> bool:
        return any(
            duty.role is Role.STANDBY and duty.device != other_than for duty in self.fleet.duties_by_tank.get(tank, ())
        )

    def in_hot_season(self, site: str | None) -> bool:
        if site is None or site not in self.fleet.site_by_code:
            return False
        if site not in self._in_hot_season:
            found = hot_seasons(self.fleet.site_by_code[site], self.today, self.today)
            self._in_hot_season[site] = bool(found)
        return self._in_hot_season[site]

    def times_done(self, subject: Subject, rule: str) -> list[date]:
        return [
            row.done_on
            for row in self.fleet.history_by_subject.get(subject.code, ())
            if row.task == rule and row.finding is not Finding.NOT_INSPECTED and row.done_on <= self.today
        ]


def is_marine(tank: Tank) -> bool:
    return tank.kind in MARINE_KINDS or (tank.salinity_g_per_kg or 0.0) >= MARINE_FROM_G_PER_KG


def is_cold(tank: Tank) -> bool:
    return tank.kind in COLD_KINDS or tank.target_c < COLD_BELOW_C


def any_invertebrates(facts: Facts, subject: Subject) -> bool:
    def holds(tank: Tank) -> bool:
        classes = (
            facts.animal_classes.get(animals.animal_class or "")
            for animals in facts.fleet.animals_by_tank.get(tank.code, ())
        )
        return tank.kind is TankKind.REEF or any(one is not None and one.invertebrate for one in classes)

    return any(holds(tank) for tank in facts.tanks(subject))


def any_marine(facts: Facts, subject: Subject) -> bool:
    return any(is_marine(tank) for tank in facts.tanks(subject))


def any_cold_water(facts: Facts, subject: Subject) -> bool:
    return any(is_cold(tank) for tank in facts.tanks(subject))


def surface_fan(facts: Facts, subject: Subject) -> bool:
    return any(DeviceKind.SURFACE_FAN in facts.cooled_by(code) for code in subject.tanks)


def _has_cooler(facts: Facts, subject: Subject) -> bool:
    return any(not facts.cooled_by(code).isdisjoint(COOLERS) for code in subject.tanks)


def _needs_cooling(facts: Facts, subject: Subject) -> bool:
    def holds(code: str) -> bool:
        state = facts.margin_state.get(code)
        return bool(facts.cooled_by(code)) if state is None else state not in WITHOUT_COOLING

    return any(holds(code) for code in subject.tanks)


def _has_heater(facts: Facts, subject: Subject) -> bool:
    on_record = EquipmentKind.HEATER in facts.tank_or_own_equipment(subject)
    return on_record or _has_load(facts, subject, LoadKind.HEATER)


def _has_load(facts: Facts, subject: Subject, kind: LoadKind) -> bool:
    return any(load.kind is kind for code in subject.tanks for load in facts.fleet.loads_by_tank.get(code, ()))


def closed_stand(facts: Facts, subject: Subject) -> bool:
    if subject.kind is SubjectKind.DEVICE:
        placement = facts.fleet.placement_by_device.get(subject.code)
        if placement is None or placement.where not in IN_A_STAND:
            return False
        around = facts.fleet.tank_by_code.get(placement.stand_of or subject.tank or "")
        return around is not None and around.stand is Stand.CLOSED
    return any(tank.stand is Stand.CLOSED for tank in facts.tanks(subject))


def _cold_pipes(facts: Facts, subject: Subject) -> bool:
    return any_cold_water(facts, subject) or subject.where in (Where.OTHER_ROOM, Where.OUTDOORS)


def _feeds_cooler(facts: Facts, subject: Subject) -> bool:
    devices = facts.fleet.device_by_code
    serves_one = any(code in devices and devices[code].kind in COOLERS for code in subject.serves)
    return serves_one or _has_cooler(facts, subject)


def _standby_pump(facts: Facts, subject: Subject) -> bool:
    item = facts.fleet.equipment_by_code.get(subject.code)
    return item is not None and re.search(r"stand-?by", f"{item.name} {item.notes or ''}", re.IGNORECASE) is not None


def _takes_acid(facts: Facts, subject: Subject) -> bool:
    device = facts.device(subject)
    metal = "" if device is None else (device.exchanger_metal or "").lower()
    return not any(word in metal for word in ACID_ATTACKS)


def _idle(facts: Facts, subject: Subject) -> bool:
    duties = facts.fleet.duties_by_device.get(subject.code, ())
    return subject.in_store or (bool(duties) and all(duty.role is Role.STANDBY for duty in duties))


def _air_conditioned(facts: Facts, subject: Subject) -> bool:
    room = facts.fleet.room_by_code.get(subject.room or "")
    return room is not None and room.air_conditioned is True


def workplace(facts: Facts, subject: Subject) -> bool:
    client = facts.fleet.client_by_code.get(subject.client or "")
    return client is not None and client.kind not in (None, ClientKind.HOME)


def _of_device(test: Callable[[Device], bool]) -> Callable[[Facts, Subject], bool]:
    def holds(facts: Facts, subject: Subject) -> bool:
        device = facts.device(subject)
        return device is not None and test(device)

    return holds


NEED_TESTS: Mapping[str, Callable[[Facts, Subject], bool]] = {
    "marine": any_marine,
    "cold-water-tank": any_cold_water,
    "warm-water-only": lambda facts, one: bool(one.tanks) and not any_cold_water(facts, one),
    "invertebrates": any_invertebrates,
    "surface-fan": surface_fan,
    "fan-cooled": lambda facts, one: surface_fan(facts, one) and not _has_cooler(facts, one),
    "has-heater": _has_heater,
    "has-cooler": _has_cooler,
    "needs-cooling": _needs_cooling,
    "has-top-off": lambda facts, one: EquipmentKind.TOP_OFF in facts.tank_or_own_equipment(one),
    "closed-stand": closed_stand,
    "cold-pipes": _cold_pipes,
    "external-pump": lambda facts, one: _has_load(facts, one, LoadKind.EXTERNAL_PUMP),
    "feeds-cooler": _feeds_cooler,
    "standby-pump": _standby_pump,
    "exchanger-takes-acid": _takes_acid,
    "flammable-or-unknown-refrigerant": _of_device(flammable_or_unknown),
    "regulated-charge": _of_device(may_be_regulated),
    "in-store": lambda facts, one: one.in_store,
    "idle": _idle,
    "air-conditioned": _air_conditioned,
    "workplace": workplace,
}
