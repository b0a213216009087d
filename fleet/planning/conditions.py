"""The conditions that move an interval: words on record for a tank or room, and what follows from the register.

Every name is explained in fleet.values.catalogue_names; a test holds the two lists together. A condition that holds
is answered with a clause saying how that is known.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta

from dateutil.relativedelta import relativedelta

from fleet.planning.facts import (
    IN_A_STAND,
    Facts,
    any_cold_water,
    any_invertebrates,
    any_marine,
    closed_stand,
    surface_fan,
    workplace,
)
from fleet.planning.subjects import Subject
from fleet.planning.words import day_words
from fleet.values.refrigerants import co2_equivalent_t
from fleet.values.vocabulary import (
    ClientKind,
    EquipmentKind,
    Health,
    MarginState,
    ReadingQuantity,
    SubjectKind,
    Where,
)

CONTINUOUS_ABOVE_PERCENT = 75.0
OLD_AFTER_YEARS = 8
NEW_ANIMALS_DAYS = 60
WORDS_FOR: Mapping[str, str] = {
    "dust": "is dusty",
    "pets": "has pets",
    "carpet": "has a carpet",
    "salt": "has salt creep",
    "hot": "is hot",
    "humid": "is humid",
    "dry-air": "has dry air",
    "damp": "is damp",
    "outdoor": "is outdoors",
    "coast": "has salty sea air",
    "leaves": "has leaves or fluff in the air",
    "sheltered": "is outdoors under a roof",
    "clean-room": "has clean air",
    "children": "is visited by children",
    "public": "is open to the public",
    "unattended": "is left alone for days",
    "rodents": "has rodents",
    "vibration": "has hoses or units that shake",
    "sunlight": "has sun or strong light on hoses and cords",
    "floor-intake": "has its air drawn in at the floor",
    "raised-intake": "has its air drawn in well above the floor",
    "hard-water": "has hard water",
    "soft-water": "has soft water",
    "prefilter": "has a fine filter before the chiller",
    "no-prefilter": "has no filter before the chiller",
    "sand": "has sand or grit in the water",
    "algae": "has algae on its fittings",
    "plants": "has plants that shed leaves",
    "snails": "has snails",
    "heavy-stocking": "is heavily stocked",
    "larvae": "has eggs, larvae or fry",
    "large-fish": "has large fish",
    "brass": "has brass or copper in the water circuit",
    "clear-vinyl": "has hoses of clear vinyl",
    "reinforced-hose": "has hoses of reinforced rubber",
    "rigid-pipe": "has rigid pipe",
    "wood-stand": "has wooden stands",
    "metal-stand": "has stands of metal or masonry",
    "basement": "is below ground",
    "small-cupboard": "has the unit in a small closed space",
}
"""What a person says of a room or tank that has the condition on record. Any other word is given as it is."""
ACID_CLEANED_MONTHS = 12
DESCALING, CIRCUIT_REPAIR = "descale-exchanger-inside", "call-licensed-for-circuit"


def condition_reason(facts: Facts, subject: Subject, name: str) -> str | None:
    """How it is known that the condition holds ("room R1 is dusty"), None where it does not."""
    derived = DERIVED_TESTS.get(name)
    return derived(facts, subject) if derived is not None else _on_record(facts, subject, name)


def _on_record(facts: Facts, subject: Subject, word: str) -> str | None:
    fleet = facts.fleet
    for code in subject.tanks:
        if word in fleet.tank_by_code[code].conditions:
            return f"tank {code} {_said(word)}"
    rooms = [subject.room] if subject.room else [fleet.tank_by_code[code].room for code in subject.tanks]
    if subject.kind is SubjectKind.SITE:
        rooms = sorted(one.code for one in facts.subjects.below(subject.code) if one.kind is SubjectKind.ROOM)
    for code in rooms:
        room = fleet.room_by_code.get(code)
        if room is not None and word in room.conditions:
            return f"room {code} {_said(word)}"
    if word == "outdoor" and subject.where is Where.OUTDOORS:
        return "it stands outdoors"
    return None


def _said(word: str) -> str:
    return WORDS_FOR.get(word, f"is on record with {word}")


def _if_need(need: Callable[[Facts, Subject], bool], reason: str) -> Callable[[Facts, Subject], str | None]:
    return lambda facts, one: reason if need(facts, one) else None


def _no_standby(facts: Facts, subject: Subject) -> str | None:
    if not subject.tanks or any(facts.has_standby(code, subject.code) for code in subject.tanks):
        return None
    return "no device stands by for its tanks"


def _oversize(facts: Facts, subject: Subject) -> str | None:
    ample = bool(subject.tanks) and all(facts.margin_state.get(code) is MarginState.AMPLE for code in subject.tanks)
    return "the margin on the hot day is ample" if ample else None


def _continuous_duty(facts: Facts, subject: Subject) -> str | None:
    shares = [
        row
        for row in facts.fleet.readings_by_subject.get(subject.code, ())
        if row.quantity is ReadingQuantity.RUN_SHARE_PERCENT
    ]
    if not shares or shares[-1].value <= CONTINUOUS_ABOVE_PERCENT:
        return None
    return f"it last ran {shares[-1].value:.0f} % of the time"


def _probes(facts: Facts, subject: Subject) -> int | None:
    """How many probes the tank with the fewest has; None for what has no tank."""
    counts = [list(facts.equipment_kinds.get(code, ())).count(EquipmentKind.PROBE) for code in subject.tanks]
    return min(counts) if counts else None


def _single_probe(facts: Facts, subject: Subject) -> str | None:
    count = _probes(facts, subject)
    return "the tank has one probe on record at most" if count is not None and count <= 1 else None


def _two_probes(facts: Facts, subject: Subject) -> str | None:
    count = _probes(facts, subject)
    return f"the tank has {count} probes on record" if count is not None and count >= 2 else None


def _alarm(facts: Facts, subject: Subject) -> str | None:
    places = (*subject.tanks, *((subject.site,) if subject.site else ()))
    found = any(EquipmentKind.ALARM in facts.equipment_kinds.get(code, ()) for code in places)
    return "an alarm is on record" if found else None


def _no_top_off(facts: Facts, subject: Subject) -> str | None:
    if not subject.tanks or EquipmentKind.TOP_OFF in facts.tank_or_own_equipment(subject):
        return None
    return "the tank has no top-off on record"


def _fan_running(facts: Facts, subject: Subject) -> str | None:
    if not surface_fan(facts, subject):
        return None
    site = facts.fleet.site_by_code.get(subject.site or "")
    if site is None or not site.hot_seasons or facts.in_hot_season(subject.site):
        return "a surface fan is running"
    return None


def _new_animals(facts: Facts, subject: Subject) -> str | None:
    """Water that carries more than it did clogs a sponge sooner, until its filters have grown into it."""
    since = facts.today - timedelta(days=NEW_ANIMALS_DAYS)
    came = [
        day for code in subject.tanks for day in facts.animals_changed_on.get(code, ()) if since <= day <= facts.today
    ]
    return f"its animals were changed on {day_words(max(came))}" if came else None


def _hot_season(facts: Facts, subject: Subject) -> str | None:
    return "it is the site's hot season" if facts.in_hot_season(subject.site) else None


def _public_place(facts: Facts, subject: Subject) -> str | None:
    client = facts.fleet.client_by_code.get(subject.client or "")
    if client is None or client.kind not in (ClientKind.AQUARIUM, ClientKind.SCHOOL):
        return None
    return f"the client is on record as {client.kind}"


def _not_clean(facts: Facts, subject: Subject) -> str | None:
    if subject.tanks:
        states = {facts.fleet.tank_by_code[code].health for code in subject.tanks}
    else:
        states = facts.health_of_site.get(subject.site or "", set())
    bad = sorted(state for state in states if state not in (None, Health.CLEAN))
    return f"a system there is on record as {bad[0]}" if bad else None


def _exchanger(word: str) -> Callable[[Facts, Subject], str | None]:
    def holds(facts: Facts, subject: Subject) -> str | None:
        device = facts.device(subject)
        if device is None:
            return None
        metal = device.exchanger_metal
        if word == "unknown":
            return "the metal of its exchanger is not on record" if not metal else None
        return f"its exchanger is on record as {metal}" if metal and word in metal.lower() else None

    return holds


def _acid_cleaned(facts: Facts, subject: Subject) -> str | None:
    since = facts.today - relativedelta(months=ACID_CLEANED_MONTHS)
    recent = [day for day in facts.times_done(subject, DESCALING) if day >= since]
    return f"it was descaled on {day_words(recent[-1])}" if recent else None


def _repaired_twice(facts: Facts, subject: Subject) -> str | None:
    times = len(facts.times_done(subject, CIRCUIT_REPAIR))
    return f"its circuit was repaired {times} times" if times >= 2 else None


def _old(facts: Facts, subject: Subject) -> str | None:
    device, item = facts.device(subject), facts.fleet.equipment_by_code.get(subject.code)
    installed = device.installed if device is not None else (item.installed if item is not None else None)
    if installed is None or installed + relativedelta(years=OLD_AFTER_YEARS) >= facts.today:
        return None
    return f"it is over {OLD_AFTER_YEARS} years old (installed on {day_words(installed)})"


def _charge_over(tonnes: float) -> Callable[[Facts, Subject], str | None]:
    def holds(facts: Facts, subject: Subject) -> str | None:
        device = facts.device(subject)
        charge = None if device is None else co2_equivalent_t(device)
        return f"its charge is {charge:.0f} t CO2 equivalent" if charge is not None and charge >= tonnes else None

    return holds


def _in_stand(facts: Facts, subject: Subject) -> str | None:
    return "it stands inside a stand" if subject.where in IN_A_STAND else None


DERIVED_TESTS: Mapping[str, Callable[[Facts, Subject], str | None]] = {
    "marine": _if_need(any_marine, "the tank is marine"),
    "cold-water": _if_need(any_cold_water, "the tank holds cold water"),
    "invertebrates": _if_need(any_invertebrates, "the tank holds invertebrates"),
    "in-stand": _in_stand,
    "closed-stand": _if_need(closed_stand, "the stand is closed"),
    "fan-running": _fan_running,
    "new-animals": _new_animals,
    "hot-season": _hot_season,
    "no-top-off": _no_top_off,
    "no-standby": _no_standby,
    "oversize": _oversize,
    "continuous-duty": _continuous_duty,
    "single-probe": _single_probe,
    "two-probes": _two_probes,
    "alarm-on-record": _alarm,
    "workplace": _if_need(workplace, "it is a workplace"),
    "public-place": _public_place,
    "not-clean": _not_clean,
    "exchanger-unknown": _exchanger("unknown"),
    "exchanger-titanium": _exchanger("titanium"),
    "acid-cleaned": _acid_cleaned,
    "repaired-twice": _repaired_twice,
    "age-over-8": _old,
    "charge-over-50-t": _charge_over(50.0),
    "charge-over-500-t": _charge_over(500.0),
}
