"""What was tried for a tank, and why the choice is the choice, in words: whole sentences with their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from fleet.outputs.words import capital, duration_words, percent
from fleet.units import Display
from fleet.values.advice import CHILLER_MEASURES, FAN_MEASURES, Advice, Measure, Option
from fleet.values.vocabulary import MarginState, Reaches, Where

PLACE_WORDS = {
    Where.BESIDE_TANK: "beside the tank",
    Where.THROUGH_PANEL: "with its exhaust through a panel",
    Where.OTHER_ROOM: "in another room",
    Where.OUTDOORS: "outdoors",
}
WORTH_TELLING_KWH = 10.0
NEARLY = 0.99
JUMPERS = "Mind what jumps, and lamps over open water."


def measure_words(option: Option, advice: Advice, display: Display) -> str:
    """What would be done, short enough for a table."""
    size = None if option.size is None else option.size
    instead = " instead" if advice.present else ""
    match option.measure:
        case Measure.AS_IT_IS:
            return "as it is" if advice.present else "as it is, no cooler"
        case Measure.NO_COOLER:
            return "without a cooler"
        case Measure.LID_LIFTED:
            return "lid lifted"
        case Measure.LID_CLOSED:
            return "lid closed"
        case Measure.STAND_VENTED:
            return f"stand vented, {display.flow(size or 0.0)}"
        case Measure.ONE_FAN:
            return f"one fan over the water{instead}"
        case Measure.TWO_FANS:
            return f"two fans{instead}"
        case Measure.LARGER_FAN:
            return f"one larger fan{instead}"
        case Measure.ONE_FAN_OPEN_TOP:
            return f"lid off and one fan{instead}"
        case Measure.TWO_FANS_OPEN_TOP:
            return f"lid off and two fans{instead}"
        case Measure.FAN_BESIDE:
            return "one fan beside what it has"
        case Measure.CHILLER:
            return f"chiller of {display.power(size or 0.0)}{instead}"
        case Measure.CHILLER_ONE_SIZE_UP:
            return f"one size up, {display.power(size or 0.0)}"
        case Measure.CHILLER_FOR_AC_OFF:
            return f"for a failed A/C, {display.power(size or 0.0)}"
        case Measure.MOVED:
            place = option.room if option.place is Where.OTHER_ROOM and option.room else None
            return f"moved to {place}" if place else f"moved {PLACE_WORDS[option.place or Where.BESIDE_TANK]}"
    room = display.temperature(option.room_mean_c or 0.0)
    with_what = "what it has" if option.measure is Measure.COLDER_ROOM_BESIDE else "no cooler"
    return f"room at {room}, {with_what}"


def money_words(cost: Decimal | None, currency: str | None) -> str:
    """4.20 USD; an empty text where there is no tariff."""
    return "" if cost is None else f"{cost} {currency or ''}".strip()


def year_words(option: Option, currency: str | None) -> str:
    """12 kWh a year (4.20 USD)."""
    cost = money_words(option.energy.cost, currency)
    return f"{option.energy.kwh:.0f} kWh a year" + (f" ({cost})" if cost else "")


def note_of(option: Option, advice: Advice, display: Display) -> str:
    """What there is to know of an option beside its figures; an empty text where there is nothing."""
    fan = _fan_words(option, display) if option.measure in (*FAN_MEASURES, Measure.FAN_BESIDE) else ()
    return " ".join([*_verdict(option, advice, display), *fan, *particulars(option, advice, display)])


def _verdict(option: Option, advice: Advice, display: Display) -> Iterable[str]:
    hot = option.hot_day
    if hot.state is MarginState.UNKNOWN:
        yield f"No plate of {_list(advice.present)} says how much it cools: not judged."
    elif hot.state is MarginState.TRIPS:
        yield (
            "The cooler would switch itself off at the worst hour, or runs outside the range it is known for; its "
            "year is told as if it ran on."
        )
    elif hot.state is MarginState.NONE_NEEDED:
        yield "No heat has to be removed on the hot day."
    elif hot.state is MarginState.THIN:
        yield "Holds with nothing to spare."
    if not hot.at_target and hot.state not in (MarginState.UNKNOWN, MarginState.TRIPS):
        highest = display.temperature(hot.peak_c)
        if hot.inside_watch:
            yield f"Not held at its target, but the water stays inside its watch band: {highest} at most."
        else:
            yield f"The water would reach {highest}; its watch band ends at {display.temperature(advice.watch_c)}."


def particulars(option: Option, advice: Advice, display: Display) -> Iterable[str]:
    """What to mind with a measure, and what its figures include, a sentence each."""
    if option.measure in (Measure.LID_LIFTED, Measure.ONE_FAN_OPEN_TOP, Measure.TWO_FANS_OPEN_TOP):
        yield JUMPERS
    if option.measure in CHILLER_MEASURES:
        yield (
            f"{display.power(option.size or 0.0)} of cooling on its plate; here, at the worst hour and dusty, it gives "
            f"at least {display.power(option.hot_day.available_w or 0.0)}."
        )
    if option.place is Where.OUTDOORS:
        yield "Out of sun, rain and frost; long pipes insulated; power by an electrician."
    if option.measure is Measure.STAND_VENTED:
        yield "Air in low, out high."
    if option.energy.heating_kwh >= WORTH_TELLING_KWH:
        yield f"The heater makes up {option.energy.heating_kwh:.0f} kWh a year of it."
    if option.room_mean_c is not None:
        kwh = f"{option.energy.room_ac_kwh:.0f} kWh a year"
        takes = f"The room's air conditioning then takes {kwh} more"
        if not advice.air_conditioned:
            takes = f"The room has no air conditioning; one would take {kwh}"
        yield f"{takes}, and all else in the room gets colder air."


def _fan_words(option: Option, display: Display) -> Iterable[str]:
    hot, fan_w = option.hot_day, option.fan_w
    if fan_w is None:
        return
    if fan_w <= 0.0:
        yield f"It would warm this water, by some {display.power(-fan_w)} over the day."
    elif option.near_wet_bulb:
        yield (
            f"The balance alone would just do, but the target lies too close over the wet bulb of "
            f"{display.temperature(hot.wet_bulb_c)}: a damper day undoes it."
        )
    elif hot.required_w > 0.0 and option.measure in FAN_MEASURES:
        likely = "" if hot.margin is None or hot.at_target or hot.margin.mid < 0.0 else ", though it likely would do"
        yield f"It takes at least {display.power(fan_w)} of {display.power(hot.required_w)}{likely}."


def why_words(advice: Advice, display: Display, currency: str | None) -> str:
    """Why the choice is the choice, whether a fan would do, and what happens when the air conditioning fails."""
    sentences = [
        *_of_choice(advice, display, currency),
        _of_fans(advice, display),
        _of_room(advice, display, currency),
        *_of_ac(advice, display),
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _of_choice(advice: Advice, display: Display, currency: str | None) -> Iterable[str]:
    choice, now = advice.choice, advice.as_it_is
    if now.hot_day.state is MarginState.UNKNOWN:
        yield f"What {_list(advice.present)} gives is not known: its plate says nothing usable."
    if choice is None:
        yield (
            f"Nothing that was tried holds {display.temperature(advice.target_c)} on the hot day: "
            f"{display.power(now.hot_day.required_w)} would have to be removed."
        )
        return
    words = measure_words(choice, advice, display)
    if choice is now and not advice.present:
        yield _nothing_needed(advice, display)
        return
    if choice is now:
        yield (
            f"What it has now, {_list(advice.present)}, is enough: {_margin(choice, display)}, "
            f"{year_words(choice, currency)}; nothing simpler is cheaper by more than the estimate can tell."
        )
        yield _nothing_to_spare(advice, display)
        without = next((one for one in advice.options if one.measure is Measure.NO_COOLER), None)
        if without is not None and without.hot_day.inside_watch:
            peak = display.temperature(without.hot_day.peak_c)
            yield f"Without any cooler the water would go up to {peak} on the hot day, inside its watch band."
        return
    year = year_words(choice, currency)
    yield f"{capital(words)} is the cheapest that holds on the hot day: {_margin(choice, display)}, {year}."
    yield _nothing_to_spare(advice, display)
    if now.hot_day.holds:
        yield f"As it is it holds too, for {year_words(now, currency)}."
    elif now.hot_day.holds is False:
        have = 0.0 if now.hot_day.available_w is None else now.hot_day.available_w
        need = now.hot_day.required_w
        short = f"it has at least {display.power(have)} of the {display.power(need)} needed"
        if now.hot_day.state is MarginState.TRIPS:
            short = "its cooler would switch itself off"
        elif have > NEARLY * need:
            short = f"it falls short of the {display.power(need)} needed by a hair"
        yield f"As it is it does not hold: {short}."


def _nothing_to_spare(advice: Advice, display: Display) -> str:
    """Where the choice holds with nothing to spare: which chiller would leave more."""
    choice = advice.choice
    if choice is None or choice.hot_day.state is not MarginState.THIN:
        return ""
    roomier = next(
        (
            one
            for one in advice.options
            if one.measure in CHILLER_MEASURES and one.hot_day.state in (MarginState.OK, MarginState.AMPLE)
        ),
        None,
    )
    if roomier is None or roomier.hot_day.margin is None:
        return "It has nothing to spare."
    left = percent(roomier.hot_day.margin.low)
    return f"It has nothing to spare; a chiller of {display.power(roomier.size or 0.0)} would leave {left}."


def _nothing_needed(advice: Advice, display: Display) -> str:
    now = advice.as_it_is.hot_day
    if now.state is MarginState.NONE_NEEDED:
        return "Nothing is needed: on the hot day no heat has to be removed."
    return (
        f"Nothing is needed: without a cooler the water goes up to {display.temperature(now.peak_c)} on the hot day "
        f"and stays inside its watch band, which ends at {display.temperature(advice.watch_c)}."
    )


def _margin(option: Option, display: Display) -> str:
    hot = option.hot_day
    if hot.state is MarginState.NONE_NEEDED:
        return "no heat has to be removed"
    if hot.available_w is None or hot.margin is None or not hot.at_target:
        return f"the water goes up to {display.temperature(hot.peak_c)}, inside its watch band"
    return (
        f"at least {display.power(hot.available_w)} where {display.power(hot.required_w)} are needed "
        f"(margin {percent(hot.margin.low)})"
    )


def _of_fans(advice: Advice, display: Display) -> str:
    fans = advice.fans
    bare = next((one for one in advice.options if one.measure is Measure.NO_COOLER), advice.as_it_is)
    if not fans or bare.hot_day.required_w <= 0.0 or (bare.hot_day.holds and not advice.present):
        return ""
    if advice.cooled_by_fans and advice.as_it_is.hot_day.holds:
        if len(advice.present) > 1:
            return f"Fans will do: {_list(advice.present)} are all that cools it."
        return f"A fan will do: {_list(advice.present)} is all that cools it."
    choice = advice.choice
    if advice.cooled_by_fans and choice is not None and choice.measure is Measure.FAN_BESIDE:
        return f"A fan will do: {measure_words(choice, advice, display)}."
    enough = next((one for one in fans if one.hot_day.holds), None)
    if enough is not None:
        several = enough.measure in (Measure.TWO_FANS, Measure.TWO_FANS_OPEN_TOP)
        what = measure_words(enough, advice, display)
        return f"{'Fans' if several else 'A fan'} will do: {what}, {_margin(enough, display)}."
    return f"No fan can hold {display.temperature(advice.target_c)} alone: {_why_no_fan(fans, advice, display)}."


def _of_room(advice: Advice, display: Display, currency: str | None) -> str:
    """Keeping the room colder, against cooling the tank."""
    room = next((one for one in advice.options if one.measure is Measure.COLDER_ROOM), None)
    if room is None or room is advice.choice:
        return ""
    mean = display.temperature(room.room_mean_c or 0.0)
    if not room.hot_day.holds:
        return f"A room kept at {mean} would not do instead."
    return f"Keeping the room at {mean} would do without a cooler, for {year_words(room, currency)}."


def _why_no_fan(fans: Sequence[Option], advice: Advice, display: Display) -> str:
    hot = fans[0].hot_day
    wet = display.temperature(hot.wet_bulb_c)
    over = advice.target_c - hot.wet_bulb_c
    best = max(fans, key=lambda one: (one.fan_w or 0.0) - one.hot_day.required_w)
    if all(one.fan_w is not None and one.fan_w <= 0.0 for one in fans):
        return (
            f"the room's wet bulb is {wet} at its hottest, and water that cold takes heat and vapour from the air; "
            f"one fan would warm it by some {display.power(-(fans[0].fan_w or 0.0))}"
        )
    takes = (
        f"the best tried ({measure_words(best, advice, display).removesuffix(' instead')}) takes at least "
        f"{display.power(max(best.fan_w or 0.0, 0.0))} of the {display.power(best.hot_day.required_w)} needed"
    )
    if over <= OVER_WET_BULB_TOLD_K:
        side = "under" if over < 0.0 else "over"
        away = f"{display.difference(abs(over))} {side}"
        return f"it lies {away} the room's wet bulb of {wet}, too close to rely on; {takes}"
    return f"{takes}; the room's wet bulb is {wet} at its hottest"


OVER_WET_BULB_TOLD_K = 3.0
"""As in the choice itself: no fan is relied on this close over the wet bulb."""


def _of_ac(advice: Advice, display: Display) -> Iterable[str]:
    if not advice.air_conditioned or advice.choice is None:
        return
    if advice.choice.ac_off.holds:
        yield "When the room's air conditioning fails it still holds."
        return
    hours, limit = advice.ac_lost, display.temperature(advice.limit_c)
    if hours is None or hours.reaches_limit is Reaches.UNKNOWN:
        yield "When the room's air conditioning fails it is not known how long it holds."
    elif hours.low is None:
        peak = display.temperature(advice.choice.ac_off.peak_c)
        yield f"When the room's air conditioning fails the water goes up to {peak}, short of the limit of {limit}."
    else:
        soonest = duration_words(hours.low)
        yield (
            f"When the room's air conditioning fails it does not hold: the limit of {limit} is passed after {soonest} "
            "at the soonest."
        )
        larger = next((one for one in advice.options if one.measure in CHILLER_MEASURES and one.ac_off.holds), None)
        if larger is not None:
            yield f"A chiller of {display.power(larger.size or 0.0)} would hold it then too."


def _list(codes: Sequence[str]) -> str:
    return " and ".join(codes) if len(codes) < 3 else f"{', '.join(codes[:-1])} and {codes[-1]}"
