"""What would be enough for a tank: the measures tried, what each does, and which is the cheapest that holds."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleet.values.assessment import HoursToLimit
from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Where


class Measure(StrEnum):
    """What can be done for a tank, in the order in which the trade tries it: from what costs nothing to a machine,
    and last the room."""

    AS_IT_IS = "as-it-is"
    NO_COOLER = "no-cooler"
    LID_LIFTED = "lid-lifted"
    LID_CLOSED = "lid-closed"
    STAND_VENTED = "stand-vented"
    ONE_FAN = "one-fan"
    TWO_FANS = "two-fans"
    LARGER_FAN = "larger-fan"
    ONE_FAN_OPEN_TOP = "one-fan-open-top"
    TWO_FANS_OPEN_TOP = "two-fans-open-top"
    FAN_BESIDE = "fan-beside"
    CHILLER = "chiller"
    MOVED = "moved"
    CHILLER_ONE_SIZE_UP = "chiller-one-size-up"
    CHILLER_FOR_AC_OFF = "chiller-for-ac-off"
    COLDER_ROOM = "colder-room"
    COLDER_ROOM_BESIDE = "colder-room-beside"


FAN_MEASURES = (
    Measure.ONE_FAN,
    Measure.TWO_FANS,
    Measure.LARGER_FAN,
    Measure.ONE_FAN_OPEN_TOP,
    Measure.TWO_FANS_OPEN_TOP,
)
"""Surface fans that alone are to hold the tank."""
CHILLER_MEASURES = (Measure.CHILLER, Measure.CHILLER_ONE_SIZE_UP, Measure.CHILLER_FOR_AC_OFF)
ROOM_MEASURES = (Measure.COLDER_ROOM, Measure.COLDER_ROOM_BESIDE)


@dataclass(frozen=True, slots=True)
class Outcome:
    """A measure under one scenario, on the safe side; °C and W.

    holds: whether it is enough (None where a plate does not say enough to judge). On the hot day a tank that has a
    cooler now, or is to get a chiller, must be held at its target; any other, and every tank with the air conditioning
    failed, may ride inside its watch band. required_w: the most heat. available_w: the least capacity (None without
    a cooler).
    """

    holds: bool | None
    at_target: bool
    inside_watch: bool
    state: MarginState
    required_w: float
    available_w: float | None
    margin: Spread | None
    peak_c: float
    room_peak_c: float
    wet_bulb_c: float


@dataclass(frozen=True, slots=True)
class YearlyEnergy:
    """Electric energy of a year, middle estimate.

    kwh: coolers, the heating that the measure adds, and what the room's air conditioning takes more where the room is
    kept colder. cost: by the site's tariff, None where it states none. room_ac_kwh and heating_kwh: those parts of kwh.
    room_heat_w, vapour_w: heat that tank and coolers put into the tank's room on the mean of a hot day, and the part
    of it that comes as vapour, which is humidity and not warmth.
    """

    kwh: float
    cost: Decimal | None
    hot_days: int
    room_ac_kwh: float
    heating_kwh: float
    room_heat_w: float
    vapour_w: float


@dataclass(frozen=True, slots=True)
class Option:
    """One measure tried.

    size: cooling on the plate of a chiller [W], or air through the stand [m3/h]. place, room: where the present
    coolers would stand. room_mean_c: mean of the colder room on a hot day [°C]. fan_w: what fans take from the water
    at the hottest hour, least estimate; below zero they warm it (None: no fan in this measure). near_wet_bulb: the
    balance alone would let the fan hold, but the target lies too close over the wet bulb. noise_change_db: against
    one fan of the reference size (None: no fan).
    """

    measure: Measure
    hot_day: Outcome
    ac_off: Outcome
    energy: YearlyEnergy
    topoff_l_per_day: float
    size: float | None = None
    place: Where | None = None
    room: str | None = None
    room_mean_c: float | None = None
    fan_w: float | None = None
    near_wet_bulb: bool = False
    noise_change_db: float | None = None

    @property
    def key(self) -> str:
        """The measure with its size or place: a word that does not change, such as chiller-250-w."""
        if self.measure in CHILLER_MEASURES:
            return f"{self.measure}-{self.size:.0f}-w"
        if self.measure is Measure.MOVED:
            return f"{self.measure}-{self.place}"
        return str(self.measure)


@dataclass(frozen=True, slots=True)
class Advice:
    """Everything tried for a tank, in the trade's order.

    choice: the cheapest by the year that holds on the hot day, a machine to be bought only where nothing else holds
    (None: nothing holds). ac_lost: hours to the upper act limit from the failure of the room's air conditioning with
    the choice in place (None: no choice, or no air conditioning). present: codes of what cools the tank now;
    cooled_by_fans: whether all of it are surface fans.
    """

    tank: str
    target_c: float
    watch_c: float
    limit_c: float
    present: tuple[str, ...]
    options: tuple[Option, ...]
    choice: Option | None
    ac_lost: HoursToLimit | None
    air_conditioned: bool
    cooled_by_fans: bool
    assumed: tuple[str, ...] = ()

    @property
    def as_it_is(self) -> Option:
        """The tank with what cools it now; always the first that is tried."""
        return self.options[0]

    @property
    def fans(self) -> tuple[Option, ...]:
        """The options in which surface fans alone are to hold the tank."""
        return tuple(option for option in self.options if option.measure in FAN_MEASURES)

    @property
    def no_fan(self) -> bool:
        """Whether fans were tried and none of them alone holds the tank on the hot day."""
        return bool(self.fans) and not any(option.hot_day.holds for option in self.fans)
