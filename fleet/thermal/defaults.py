"""What is assumed where the register is silent, on the safe side, with the phrase that a tank's card prints.

Figures are common practice or from memory unless a source is named; a tank's owner replaces them by stating the fact.
"""

from __future__ import annotations

from dataclasses import dataclass

from fleet.values.vocabulary import Lid, Mounting, TankKind, Wall

RELATIVE_HUMIDITY = 0.65
HOT_DAY_RISE_K = 2.0
AC_OFF_RISE_K = 3.0
OUTDOOR_PEAK_C, OUTDOOR_RANGE_K = 35.0, 10.0
ROOM_UA_W_PER_K = 60.0
"""A room of some 20 m2 with one outside wall and its infiltration."""
ROOM_UA_PER_M3 = 1.3
"""W/K per cubic metre, where only the volume is known."""
OCCUPANTS_W = 100.0
"""One person at rest."""
AIR_CHANGES_PER_HOUR = 0.3
ROOM_LAG_H = 3.0
"""By how much a room follows the outdoors."""
SUN_ON_OUTDOOR_UNIT_K = (5.0, 4.0, 3.0)

NET_SHARE_OF_DIMENSIONS = (0.85, 0.90, 1.0)
"""Water over the box of its dimensions: rock, sand and fittings take the rest."""
SUMP_DEPTH_M, DEEPEST_SUMP_M = 0.3, 3.0
WALL_THICKNESS_M = {Wall.GLASS: 0.010, Wall.ACRYLIC: 0.0127, Wall.CONCRETE: 0.20}
WALL_CONDUCTIVITY = {Wall.GLASS: 1.0, Wall.ACRYLIC: 0.19, Wall.CONCRETE: 1.4}
"""W/(m K). Glass as in EN 673, from memory; acrylic from a handbook table; dense concrete from memory."""
WALL_SPREAD = (0.88, 1.0, 1.12)
"""Share of the computed wall heat on the side where less of it leaves, in the middle, and on the other side."""
SEA_SALINITY = 35.0
MARINE_KINDS = (TankKind.TROPICAL_MARINE, TankKind.REEF, TankKind.COLD_MARINE)

OPEN_FRACTION = {Lid.OPEN: 1.0, Lid.LOOSE: 0.2, Lid.SEALED: 0.05}
FAN_OPENS = (0.2, 0.4, 0.6)
"""Share of a lidded surface that a fan in the lid opens."""
AGITATION = (0.8, 1.0, 1.2)
AGITATION_WHERE_IT_WARMS = (1.5, 1.2, 1.0)
"""For water below the wet bulb of its room, where evaporation turns into a gain."""

STAND_INFILTRATION_M3_H = (2.0, 3.5, 5.0)
STAND_WALL_UA_PER_M = 5.0
"""W/K per metre of length: 6 W/K for a wooden stand of 1.2 m."""

STAND_HEAT_CAPACITY_J_K_PER_M = 55_000.0
"""Air, boards and what stands in a stand, per metre of length: 66 kJ/K for one of 1.2 m (40 to 100)."""

LIGHT_TO_WATER = {
    Mounting.SEALED_HOOD: (0.95, 0.85, 0.70),
    Mounting.RIM: (0.65, 0.50, 0.35),
    Mounting.SUSPENDED: (0.45, 0.40, 0.30),
    Mounting.REMOTE: (0.65, 0.45, 0.35),
    Mounting.IN_WATER: (1.0, 1.0, 1.0),
}
"""Share of a lamp's power that ends in the water, high, mid and low. White LED are at most 76 % light (Kusuma, Pattison
and Bugbee, Horticulture Research 2020); the rest from memory."""
REMOTE_DRIVER_TO_STAND = (0.15, 0.125, 0.10)
EXTERNAL_PUMP_TO_WATER = (0.7, 0.5, 0.4)
LIVESTOCK_W_PER_KG = (1.0, 0.5, 0.25)
"""Fed and active, between, at rest (turbot at 22 °C, J. Fish Biol. 2002)."""

SURFACE_FAN_FLOW_M3_H, SURFACE_FAN_DIAMETER_M = 40.0, 0.08
SURFACE_FAN_SPEED = (0.5, 1.0, 1.5)
"""Spread of the air speed that the jet estimate gives."""
STAND_FAN_FLOW_M3_H = 30.0

CHILLER_COP = (2.0, 3.0, 4.0)
THERMOELECTRIC_COP = (0.4, 0.6, 0.8)
THERMOELECTRIC_SPAN_K = (25.0, 27.5, 30.0)
"""Difference between air and water at which a thermoelectric cooler does nothing more."""
RECIRCULATION_UNKNOWN = 0.3

BAND_K = 0.5
"""By how much the water may stand above target when a failure begins."""
READING_DAYS = 7
"""For how long a water reading says where a failure begins."""
STANDBY_TEST_DAYS = 84
"""A standby counts for so long after it was last run (12 weeks)."""
STANDBY_TASKS = ("run-idle-chiller", "rotate-spare-units", "measure-cooling-output")


@dataclass(frozen=True, slots=True)
class Limits:
    """Upper limits of a tank and where they come from; `phrase` is None where they are the tank's own."""

    watch_high_c: float
    act_high_c: float
    phrase: str | None = None


LIMITS_BY_KIND: dict[TankKind, tuple[tuple[float, float, float, str], ...]] = {
    TankKind.TROPICAL_FRESH: ((30.5, 29.0, 31.0, "tropical fresh water"), (99.0, 32.5, 34.0, "very warm fresh water")),
    TankKind.TROPICAL_MARINE: ((99.0, 28.5, 30.5, "tropical marine fish"),),
    TankKind.REEF: ((99.0, 28.0, 29.5, "reef corals"),),
    TankKind.COLD_FRESH: (
        (15.0, 16.5, 18.0, "trout and cold streams"),
        (18.0, 20.0, 22.0, "axolotl"),
        (23.0, 25.0, 28.0, "goldfish"),
    ),
    TankKind.COLD_MARINE: (
        (11.0, 12.0, 13.0, "giant octopus and cold reef"),
        (15.0, 17.0, 19.0, "lobster and temperate crustaceans"),
        (22.0, 24.0, 26.0, "moon jelly"),
    ),
}
"""For each kind of tank: up to which target, watch limit, act limit, class of animals. Common practice where no class
of animals is on record; whoever is responsible for the animals sets their own."""


def limits_of_kind(kind: TankKind, target_c: float) -> Limits:
    """Limits of the strictest usual class of this kind of tank that its target suits; else 3 and 5 K over target."""
    for up_to_c, watch_c, act_c, name in LIMITS_BY_KIND.get(kind, ()):
        if target_c <= up_to_c and target_c < watch_c:
            return Limits(watch_c, act_c, f"limits: those of {name}")
    return Limits(target_c + 3.0, target_c + 5.0, "limits: 3 K (watch) and 5 K (act) over target")
