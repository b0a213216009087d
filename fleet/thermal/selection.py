"""What would be enough for a tank: every measure put to the same heat balance, and the cheapest that holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleet.thermal.assess import calibrations_of, find_tanks
from fleet.thermal.devices import MACHINE_KINDS
from fleet.thermal.energy import (
    DAYS_OF_YEAR,
    ROOM_AC_COP,
    hot_days,
    rest_of_year_room_c,
    year_kwh,
    yearly_cost,
)
from fleet.thermal.measures import (
    PLACES,
    Trial,
    chiller_of,
    chiller_sizes,
    colder_rooms,
    coolers_on_duty,
    fan_measures,
    lid_measures,
    move,
    other_room,
    stand_flow,
    stand_vented,
    without_coolers,
)
from fleet.thermal.outcomes import OVER_WET_BULB_K, Looks, Seen
from fleet.thermal.rooms import room_conductance
from fleet.thermal.trials import part_of
from fleet.values.advice import (
    CHILLER_MEASURES,
    ROOM_MEASURES,
    Advice,
    Measure,
    Option,
    YearlyEnergy,
)
from fleet.values.catalogue import AnimalClass
from fleet.values.fleet import Fleet
from fleet.values.register import Tank
from fleet.values.vocabulary import DeviceKind, MarginState, Where

LIKE_SHARE, LIKE_KWH = 0.15, 15.0
"""Two measures whose years differ by less than this cost the same as far as the estimate can tell, since the cooling is
known to some 15 %; the one that asks for less is then taken."""
BY_OUTLAY = (
    (Measure.AS_IT_IS, Measure.NO_COOLER, Measure.LID_LIFTED, Measure.LID_CLOSED, Measure.MOVED),
    (
        Measure.STAND_VENTED,
        Measure.ONE_FAN,
        Measure.LARGER_FAN,
        Measure.ONE_FAN_OPEN_TOP,
        Measure.FAN_BESIDE,
    ),
    (Measure.TWO_FANS, Measure.TWO_FANS_OPEN_TOP),
    (Measure.COLDER_ROOM_BESIDE, Measure.COLDER_ROOM),
    CHILLER_MEASURES,
)
"""Measures by what they ask for: a hand's turn, a fan, two fans, a room set colder, a machine."""
LAST = (*ROOM_MEASURES, *CHILLER_MEASURES)


def advise(fleet: Fleet, classes: Mapping[str, AnimalClass], tank: str) -> Advice:
    """What would be enough for one tank, tried in the trade's order on copies of its part of the fleet.

    classes: classes of animals by code and alias. Raises NotFound for a tank that is not on record or whose room is
    not. A measure that changes nothing is left out: a lid that is off already, a place where the cooler stands.
    """
    find_tanks(fleet, [tank])
    part = part_of(fleet, [tank])
    calibrations = calibrations_of(fleet, classes, [one.code for one in part.tanks])
    row = part.tank_by_code[tank]
    present = coolers_on_duty(part, tank, (*MACHINE_KINDS, DeviceKind.SURFACE_FAN))
    look = Looks(classes, row, calibrations, may_ride=not present)
    bare = without_coolers(part, tank)
    now, nothing = look.at([Trial(Measure.AS_IT_IS, part), Trial(Measure.NO_COOLER, bare)])
    trials = _trials(fleet, part, bare, row, nothing, look)
    if not now.holds and present:
        trials += colder_rooms(part, row, Measure.COLDER_ROOM_BESIDE)
    if not nothing.holds:
        trials += colder_rooms(bare, row, Measure.COLDER_ROOM)
    seen = [now, *([nothing] if present else []), *look.at(trials)]
    air_conditioned = part.room_by_code[row.room].air_conditioned is not False
    chosen = _fitting(seen, now, air_conditioned=air_conditioned)
    options = tuple(_option(one, now, fleet, row) for one in chosen)
    choice = cheapest(options)
    hours = None if choice is None else look.ac_lost(chosen[options.index(choice)].trial)
    model = look.first_model
    limits = model.tanks.limits[model.tanks.codes.index(tank)]
    return Advice(
        tank=tank,
        target_c=row.target_c,
        watch_c=limits.watch_high_c,
        limit_c=limits.act_high_c,
        present=present,
        options=options,
        choice=choice,
        ac_lost=hours,
        air_conditioned=air_conditioned,
        cooled_by_fans=bool(present)
        and all(part.device_by_code[code].kind is DeviceKind.SURFACE_FAN for code in present),
        assumed=_assumed(now.hot_day.assumed, fleet, row, options),
    )


def _trials(fleet: Fleet, part: Fleet, bare: Fleet, tank: Tank, nothing: Seen, look: Looks) -> list[Trial]:
    """Everything between the tank as it is and a colder room."""
    trials = lid_measures(part, tank)
    model = look.first_model
    place = model.tanks.codes.index(tank.code)
    if model.tanks.stand_closed[place]:
        trials.append(stand_vented(part, tank, stand_flow(model, place)))
    wet_c = nothing.outcomes[0].wet_bulb_c
    trials += fan_measures(part, tank, beside=tank.target_c > wet_c + OVER_WET_BULB_K)
    need, largest = nothing.outcomes[0].required_w, max(one.required_w for one in nothing.outcomes)
    if largest > 0.0:
        trials += [chiller_of(part, tank, size) for size in chiller_sizes(need, largest)]
    neighbour = other_room(fleet, tank)
    for where in PLACES:
        if where is Where.OTHER_ROOM and neighbour is None:
            continue
        room = {Where.OTHER_ROOM: neighbour, Where.OUTDOORS: None}.get(where, tank.room)
        around = part if room is None or room in part.room_by_code else part_of(fleet, [tank.code], rooms=[room])
        moved = move(around, tank, where, room)
        if moved is not None:
            trials.append(moved)
    return trials


def _fitting(seen: Sequence[Seen], now: Seen, *, air_conditioned: bool) -> list[Seen]:
    """Of the sizes of a chiller and the steps of a room the ones worth telling, of the rest all, in order."""
    told: list[Seen] = []
    for measure in Measure:
        own = [one for one in seen if one.trial.measure is measure]
        if measure is Measure.CHILLER:
            told += _chillers(own, air_conditioned)
        elif measure in ROOM_MEASURES:
            told += [next((one for one in own if one.holds), own[-1])] if own else []
        elif measure is Measure.LID_CLOSED:
            told += [one for one in own if one.outcomes[0].required_w < now.outcomes[0].required_w]
        else:
            told += own
    bare = [one.trial.room_mean_c for one in told if one.trial.measure is Measure.COLDER_ROOM]
    # A room as cold as without any cooler shows that the cooler in it does nothing.
    return [
        one for one in told if one.trial.measure is not Measure.COLDER_ROOM_BESIDE or one.trial.room_mean_c not in bare
    ]


def _chillers(own: Sequence[Seen], air_conditioned: bool) -> list[Seen]:
    """The smallest that holds on the hot day (the largest tried, where none does); one size up where that leaves
    nothing to spare or fails with the air conditioning; and the smallest that holds without it, where that is more."""
    if not own:
        return []
    first = next((i for i, one in enumerate(own) if one.holds), None)
    if first is None:
        return [own[-1]]
    told = [own[first]]
    fails_with_ac = air_conditioned and not own[first].outcomes[1].holds
    if fails_with_ac or own[first].outcomes[0].state is MarginState.THIN:
        up = own[first + 1 : first + 2]
        told += [_renamed(one, Measure.CHILLER_ONE_SIZE_UP) for one in up]
        if fails_with_ac and not any(one.outcomes[1].holds for one in up):
            larger = [one for one in own[first + 2 :] if one.outcomes[1].holds and one.holds][:1]
            told += [_renamed(one, Measure.CHILLER_FOR_AC_OFF) for one in larger]
    return told


def _renamed(one: Seen, measure: Measure) -> Seen:
    return replace(one, trial=replace(one.trial, measure=measure))


def _option(one: Seen, now: Seen, fleet: Fleet, tank: Tank) -> Option:
    trial = one.trial
    room = fleet.room_by_code[tank.room]
    site = fleet.site_by_code[room.site]
    hot = hot_days(site.hot_seasons)
    coolers_kwh = year_kwh(one.hot_power_w, one.rest_power_w, hot)
    heating_kwh = max(
        year_kwh(one.hot_heating_w, one.rest_heating_w, hot) - year_kwh(now.hot_heating_w, now.rest_heating_w, hot), 0.0
    )
    room_ac_kwh = 0.0
    if trial.room_mean_c is not None:
        conductance, _phrase = room_conductance(room)
        watts = [
            conductance * max(before - after, 0.0) / ROOM_AC_COP
            for before, after in (
                (room.hot_day_mean_c, trial.room_mean_c),
                (rest_of_year_room_c(room.hot_day_mean_c), rest_of_year_room_c(trial.room_mean_c)),
            )
        ]
        room_ac_kwh = year_kwh(watts[0], watts[1], hot)
    kwh = coolers_kwh + heating_kwh + room_ac_kwh
    return Option(
        measure=trial.measure,
        hot_day=one.outcomes[0],
        ac_off=one.outcomes[1],
        energy=YearlyEnergy(
            kwh=kwh,
            cost=yearly_cost(kwh, site.tariff_per_kwh),
            hot_days=hot,
            room_ac_kwh=room_ac_kwh,
            heating_kwh=heating_kwh,
            room_heat_w=one.room_heat_w,
            vapour_w=one.vapour_w,
        ),
        topoff_l_per_day=max(one.hot_day.evaporation_l_per_day, 0.0),
        size=trial.size,
        place=trial.place,
        room=trial.room,
        room_mean_c=trial.room_mean_c,
        fan_w=one.fan_w,
        near_wet_bulb=one.near_wet_bulb,
        noise_change_db=trial.noise_change_db,
    )


def cheapest(options: Sequence[Option]) -> Option | None:
    """The cheapest by the year of those that hold on the hot day; of those that cost the same the one that asks for
    less. None where none holds.

    A machine to be bought, or a colder room, counts only where nothing simpler holds; another place for the cooler
    only where it does not hold at its present one.
    """
    holding = [option for option in options if option.hot_day.holds]
    if options[0].hot_day.holds:
        holding = [option for option in holding if option.measure is not Measure.MOVED]
    holding = [option for option in holding if option.measure not in LAST] or holding
    if not holding:
        return None
    least = min(option.energy.kwh for option in holding)
    alike = [option for option in holding if option.energy.kwh <= least + max(LIKE_KWH, LIKE_SHARE * least)]
    return min(alike, key=lambda option: next(i for i, row in enumerate(BY_OUTLAY) if option.measure in row))


def _assumed(phrases_now: Sequence[str], fleet: Fleet, tank: Tank, options: Sequence[Option]) -> tuple[str, ...]:
    """The defaults that the advice rests on, those of the year among them."""
    room = fleet.room_by_code[tank.room]
    site = fleet.site_by_code[room.site]
    phrases = [*phrases_now]
    days = hot_days(site.hot_seasons)
    if days == DAYS_OF_YEAR:
        phrases.append("no hot season on record: every day as the hot day")
    else:
        rest_c = rest_of_year_room_c(room.hot_day_mean_c)
        phrases.append(f"year: {days} days as the hot day, the rest with the room at {rest_c:.0f} °C")
    if any(option.measure in ROOM_MEASURES for option in options):
        _conductance, phrase = room_conductance(room)
        phrases += [phrase] if phrase else []
        phrases.append(f"room A/C: {ROOM_AC_COP:g} W of cooling for each watt of power")
    return tuple(dict.fromkeys(phrases))
