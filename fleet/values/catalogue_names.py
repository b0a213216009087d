"""The closed lists of names that the catalogue's data may use, each with its meaning: needs, conditions, events.

Whoever finds out whether one holds (planning/facts.py, planning/conditions.py, planning/triggers.py) covers every name.
"""

from __future__ import annotations

from collections.abc import Mapping

from fleet.values.vocabulary import ChangeKind, EventKind

NEEDS: Mapping[str, str] = {
    "marine": "the tank, or one that the device or equipment serves, is marine by kind or holds 10 g/kg salt",
    "cold-water-tank": "the tank, or one that the device serves, is cold by kind or has its target below 18 °C",
    "warm-water-only": "the device serves tanks, and none of them is a cold-water tank",
    "invertebrates": "the tank, or one that the device serves, is a reef or holds a class of invertebrates",
    "surface-fan": "a surface fan has a duty on the tank",
    "fan-cooled": "a surface fan has a duty on the tank, and no chiller or thermoelectric cooler has",
    "has-heater": "the tank has a heater on record, as equipment or as a load",
    "has-cooler": "a chiller or thermoelectric cooler has a duty on the tank",
    "needs-cooling": "on the hot day the tank needs cooling and does not ride it out; not assessed: it has a device",
    "has-top-off": "the tank has a top-off on record",
    "closed-stand": "the tank's stand is closed, or the device stands in a closed stand",
    "cold-pipes": "the device serves a cold-water tank, or stands in another room or outdoors",
    "external-pump": "the tank, or the pump's tank, has a load of kind external-pump",
    "feeds-cooler": "the pump serves a chiller or thermoelectric cooler, or its tank has one on duty",
    "standby-pump": "the pump's name or notes say standby or stand-by",
    "exchanger-takes-acid": "the exchanger metal is not recorded as aluminium, brass, bronze or copper",
    "flammable-or-unknown-refrigerant": "fleet.values.refrigerants.flammable_or_unknown holds for the device",
    "regulated-charge": "fleet.values.refrigerants.may_be_regulated holds for the device",
    "in-store": "the device's placement is store",
    "idle": "the device is in store, or every duty it has is standby",
    "air-conditioned": "the room is air conditioned",
    "workplace": "the site's client is on record as anything but a home",
}
"""Facts about a subject that a selector may ask for, and what each means. Only `in-store` and `idle` let in a
device that is in store."""

REGISTER_CONDITIONS: Mapping[str, str] = {
    "dust": "dusty room",
    "pets": "animals with fur in the room",
    "carpet": "carpeted floor",
    "salt": "salt creep about the tank",
    "hot": "room hot for most of the year",
    "humid": "room humid for most of the year",
    "dry-air": "room air dry for most of the year",
    "damp": "water stands or drips near the equipment",
    "outdoor": "outdoors; also true of a device placed outdoors",
    "coast": "air laden with sea salt",
    "leaves": "leaves or seed fluff in the air",
    "sheltered": "outdoors under a roof",
    "clean-room": "plant room with filtered or clean air",
    "children": "children come to the tank",
    "public": "open to the public",
    "unattended": "nobody on site for days",
    "rodents": "rodents seen",
    "vibration": "hoses or unit shake",
    "sunlight": "sun or strong lamps reach hoses and cords",
    "floor-intake": "the unit draws air at floor level",
    "raised-intake": "the unit draws air well above the floor",
    "hard-water": "hard tap water or calcium dosing",
    "soft-water": "soft or purified water",
    "prefilter": "a fine filter stands before the chiller",
    "no-prefilter": "no filter stands before the chiller",
    "sand": "sand or grit in the water",
    "algae": "algae or coralline growth on fittings",
    "plants": "planted tank that sheds leaves",
    "snails": "snails in the sump or reservoir",
    "heavy-stocking": "many animals for the water",
    "larvae": "eggs, larvae or fry",
    "large-fish": "fish that can break a heater",
    "brass": "brass, bronze or copper somewhere in the water circuit",
    "clear-vinyl": "hoses of clear vinyl",
    "reinforced-hose": "hoses of reinforced rubber",
    "rigid-pipe": "rigid pipe instead of hose",
    "wood-stand": "stand of wood or board",
    "metal-stand": "stand of metal or masonry",
    "basement": "below ground level",
    "small-cupboard": "unit in a small closed space",
}
"""Words that a person may write in the `conditions` of a room or tank and that move an interval. A device has those
of its room and of the tanks it serves; equipment those of its tank and the tank's room."""

DERIVED_CONDITIONS: Mapping[str, str] = {
    "marine": "the need of that name",
    "cold-water": "the need cold-water-tank",
    "invertebrates": "the need of that name",
    "in-stand": "the device's placement is in-stand or in-stand-vented",
    "closed-stand": "the need of that name",
    "fan-running": "a surface fan has a duty on the tank and the day is in a hot season of the site, or it has none",
    "new-animals": "the animals of the tank were changed within the last 60 days",
    "hot-season": "the day is in a hot season of the site",
    "no-top-off": "the tank has no top-off on record",
    "no-standby": "the device has a duty, and no device has a standby duty on a tank that it serves",
    "oversize": "the tank's hot-day margin state is ample (for a device: of every tank it serves)",
    "continuous-duty": "the last run-share reading of the device is above 75 %",
    "single-probe": "the tank has one probe on record at most",
    "two-probes": "the tank has two probes or more on record",
    "alarm-on-record": "the tank or its site has an alarm on record",
    "workplace": "the need of that name",
    "public-place": "the site's client is an aquarium or a school",
    "not-clean": "the health of the tank (for a kit: of a tank on its site) is unknown, quarantine or sick",
    "exchanger-unknown": "the device's exchanger metal is not recorded",
    "exchanger-titanium": "the device's exchanger metal is recorded as titanium",
    "acid-cleaned": "descale-exchanger-inside was done on the device within the last 12 months",
    "repaired-twice": "call-licensed-for-circuit was done on the device twice or more",
    "age-over-8": "the subject's installed day is more than 8 years ago",
    "charge-over-50-t": "charge of 50 t CO2 equivalent or more (fleet.values.refrigerants.co2_equivalent_t)",
    "charge-over-500-t": "charge of 500 t CO2 equivalent or more",
}
"""Conditions that follow from the register; planning/conditions.py finds them."""

FACTOR_CONDITIONS: Mapping[str, str] = {**REGISTER_CONDITIONS, **DERIVED_CONDITIONS}

RECORD_EVENTS: Mapping[str, str] = {
    "reading-out-of-watch": "a water-temp reading outside the tank's watch band and inside its act band",
    "reading-out-of-act": "a water-temp reading outside the tank's act band",
    "closure": "the first day of a closure of the site",
    "device-added": "the first day of a device's first duty, or of its first placement outside the store",
    "work-recorded": "a service record of one of the trigger's tasks, finding anything but not-inspected",
    "finding-degraded": "a service record of one of the trigger's tasks with finding degraded",
    "finding-fault": "a service record of one of the trigger's tasks with finding fault",
}
"""Events that no row of events.csv states and that other records tell."""

EVENT_NAMES = frozenset({*map(str, EventKind), *map(str, ChangeKind), *RECORD_EVENTS})
"""Every event that a trigger may name."""
