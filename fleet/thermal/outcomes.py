"""What comes of measures tried side by side: the verdict of the balance on each, and the power that it draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fleet.thermal.assess import assess_model, build
from fleet.thermal.calibration import Calibration
from fleet.thermal.cases import Model
from fleet.thermal.energy import HeldDay, animals_heat, held_day, rest_of_year, stand_fans_power
from fleet.thermal.measures import Trial
from fleet.thermal.properties import saturation_pressure, wet_bulb
from fleet.thermal.ranges import AIR_C, Array
from fleet.thermal.rooms import SCENARIOS
from fleet.thermal.trials import copy_code, side_by_side
from fleet.values.advice import CHILLER_MEASURES, FAN_MEASURES, Outcome
from fleet.values.assessment import Assessment, HoursToLimit
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.register import Tank
from fleet.values.vocabulary import DeviceKind, MarginState

OVER_WET_BULB_K = 3.0
"""No fan is relied on for a target at or under the room's wet bulb and this much more: common practice."""
AT_TARGET = (MarginState.NONE_NEEDED, MarginState.THIN, MarginState.OK, MarginState.AMPLE)


@dataclass(frozen=True)
class Seen:
    """A trial and what the balance says of it. Powers are means over a day, W."""

    trial: Trial
    hot_day: Assessment
    ac_off: Assessment
    outcomes: tuple[Outcome, Outcome]
    hot_power_w: float
    rest_power_w: float
    hot_heating_w: float
    rest_heating_w: float
    fan_w: float | None
    near_wet_bulb: bool
    room_heat_w: float
    vapour_w: float

    @property
    def holds(self) -> bool:
        return self.outcomes[0].holds is True


class Looks:
    """Puts trials side by side into one run of the balance.

    may_ride: whether it is enough that the water stays inside its watch band on the hot day. So it is for a tank that
    has no cooler; one that has is to be held at its target.
    """

    def __init__(
        self,
        classes: Mapping[str, AnimalClass],
        tank: Tank,
        calibrations: Sequence[Calibration],
        *,
        may_ride: bool,
    ) -> None:
        self.classes, self.tank, self.calibrations, self.may_ride = classes, tank, calibrations, may_ride
        self.models: list[Model] = []

    @property
    def first_model(self) -> Model:
        """That of the tank as it is."""
        return self.models[0]

    def model_of(self, joined: Fleet, copies: int) -> Model:
        """The model of the copies, each with the calibrations of the fleet on record, whatever was changed."""
        own = [replace(one, tank=copy_code(one.tank, number)) for number in range(copies) for one in self.calibrations]
        known = [one for one in own if one.tank in joined.tank_by_code]
        return build(joined, self.classes, [row.code for row in joined.tanks], known)

    def ac_lost(self, trial: Trial) -> HoursToLimit | None:
        """Hours to the upper act limit when the air conditioning of the room fails with this measure in place."""
        joined, code = side_by_side([trial.fleet]), copy_code(self.tank.code, 0)
        rows = assess_model(joined, self.model_of(joined, 1), [code])
        return rows[code, SCENARIOS[1]].hours.ac_lost

    def at(self, trials: Sequence[Trial]) -> list[Seen]:
        """What comes of each trial, in their order."""
        joined = side_by_side([trial.fleet for trial in trials])
        codes = [copy_code(self.tank.code, number) for number in range(len(trials))]
        model = self.model_of(joined, len(trials))
        self.models.append(model)
        rows = assess_model(joined, model, codes, with_hours=False)
        milder = rest_of_year(model)
        animals_w = animals_heat(joined, model.tanks.codes)
        hot, rest = held_day(model, animals_w), held_day(milder, animals_w)
        always_w = stand_fans_power(joined, model)
        return [
            self.seen(trial, joined, model, rows[code, SCENARIOS[0]], rows[code, SCENARIOS[1]], hot, rest, always_w)
            for trial, code in zip(trials, codes, strict=True)
        ]

    def seen(
        self,
        trial: Trial,
        joined: Fleet,
        model: Model,
        hot_day: Assessment,
        ac_off: Assessment,
        hot: HeldDay,
        rest: HeldDay,
        always_w: Array,
    ) -> Seen:
        i = model.tanks.codes.index(hot_day.tank)
        fans = [
            row.capacity_w.low
            for row in hot_day.devices
            if joined.device_by_code[row.device].kind is DeviceKind.SURFACE_FAN and row.capacity_w is not None
        ]
        fan_w = None
        if fans:
            fan_w = sum(fans) if hot.fan_w[i] > 0.0 else float(hot.fan_w[i])
        may_ride = self.may_ride and trial.measure not in CHILLER_MEASURES
        outcomes = [_outcome(model, i, 0, hot_day, may_ride=may_ride), _outcome(model, i, 1, ac_off, may_ride=True)]
        near = False
        if trial.measure in FAN_MEASURES:
            for c, one in enumerate(outcomes):
                close = self.tank.target_c <= one.wet_bulb_c + OVER_WET_BULB_K
                if close and one.at_target and one.margin is not None:
                    outcomes[c] = replace(one, holds=one.inside_watch and (c == 1 or may_ride), at_target=False)
                    near = near or c == 0
        return Seen(
            trial=trial,
            hot_day=hot_day,
            ac_off=ac_off,
            outcomes=(outcomes[0], outcomes[1]),
            hot_power_w=float(hot.cooler_power_w[i] + always_w[i]),
            rest_power_w=float(rest.cooler_power_w[i] + always_w[i]),
            hot_heating_w=float(hot.heating_w[i]),
            rest_heating_w=float(rest.heating_w[i]),
            fan_w=fan_w,
            near_wet_bulb=near,
            room_heat_w=float(hot.to_room_w[i] + always_w[i]),
            vapour_w=float(hot.vapour_w[i]),
        )


def _outcome(model: Model, place: int, scenario: int, row: Assessment, *, may_ride: bool) -> Outcome:
    room = int(model.tanks.room[place])
    peak_c = min(row.room_peak_c, AIR_C.high)
    saturated: float = saturation_pressure(peak_c)
    humidity = min(float(model.rooms.vapour_pa[room, scenario]) / saturated, 1.0)
    wet_c: float = wet_bulb(peak_c, humidity, float(model.tanks.pressure_pa[place]))
    inside = row.peak_c <= model.tanks.limits[place].watch_high_c and row.state is not MarginState.TRIPS
    at_target = row.state in AT_TARGET
    return Outcome(
        holds=None if row.state is MarginState.UNKNOWN else at_target or (may_ride and inside),
        at_target=at_target,
        inside_watch=inside,
        state=row.state,
        required_w=row.required_w,
        available_w=None if row.available_w is None else row.available_w.low,
        margin=row.margin,
        peak_c=row.peak_c,
        room_peak_c=row.room_peak_c,
        wet_bulb_c=wet_c,
    )
