"""One task of the catalogue, out of its TOML table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from fleet.files.catalogue_fields import (
    Table,
    interval,
    named,
    number,
    one_of,
    running_hours,
    slug,
    span,
    whole,
    words,
    yes_or_no,
)
from fleet.files.cells import nearest
from fleet.values.catalogue import (
    UNIT_OF_QUANTITY,
    ConditionTrigger,
    Consumable,
    EventTrigger,
    Factor,
    ReadingSpec,
    SeasonWindow,
    Selector,
    TaskRule,
)
from fleet.values.catalogue_names import EVENT_NAMES, FACTOR_CONDITIONS, NEEDS
from fleet.values.vocabulary import (
    ChangeKind,
    DerivedQuantity,
    DeviceKind,
    EquipmentKind,
    PerformedBy,
    ReadingQuantity,
    Skill,
    SubjectKind,
    Tolerance,
    Where,
)

SHORTENS, LENGTHENS = 0.7, 1.3
"""Multiplier of a condition in `shortened_by` or `lengthened_by`: common practice."""

BASES = ("published", "common practice", "from memory")
SEASONS = ("hot", "cold")
EDGES = ("before", "after")
MEASURED_FROM = ("baseline", "room-temp", "target", "supply-ph")
"""What a reading's band may be measured from."""

EVENTS_OF_TASKS = ("work-recorded", "finding-degraded", "finding-fault")

LIMIT = number(-1e6, 1e6)


def read_task(task_id: str, table: Table) -> TaskRule | None:
    """The task, None where something in its table is at fault; what, is in the table's errors."""
    before = len(table.errors)
    if not _is_slug(task_id):
        table.refuse("", task_id, "a task's id in small letters, digits and single hyphens, like clean-intake-screen")
    rule = TaskRule(
        id=task_id,
        title=table.take("title", words),
        selector=_selector(table),
        tolerance=table.take("tolerance", one_of(Tolerance)),
        minutes=table.take("minutes", whole(1, 480)),
        persons=table.take("persons", whole(1, 4), 1),
        skill=table.take("skill", one_of(Skill)),
        performed_by=table.take("performed_by", one_of(PerformedBy)),
        order=table.take("order", whole(1, 99)),
        steps=table.take_all("steps", words, required=True),
        acceptance=table.take("acceptance", words),
        basis=table.take("basis", named(BASES, "one of " + ", ".join(BASES))),
        source=table.take("source", words),
        interval=table.take_if("interval", interval),
        seasons=tuple(_each(table, "seasons", _season)),
        events=tuple(_each(table, "events", _event)),
        conditions=tuple(_each(table, "conditions", _condition)),
        running_hours=table.take_if("running_hours", running_hours),
        factors=_factors(table),
        prerequisites=table.take_all("prerequisites", slug),
        pairs=table.take_all("pairs", slug),
        tools=table.take_all("tools", words),
        consumables=tuple(_each(table, "consumables", _consumable)),
        readings=tuple(_each(table, "readings", _reading)),
        hazards=table.take_all("hazards", words),
        season_only=table.take("season_only", yes_or_no, False),
        from_age_years=table.take_if("from_age_years", number(0, 50)),
        occasion=table.take("occasion", words, ""),
        minutes_by_device_kind=table.take("minutes_by_device_kind", _minutes_by_kind, {}),
    )
    table.refuse_unknown()
    if len(table.errors) == before:
        _check_whole(rule, table)
    return rule if len(table.errors) == before else None


def _is_slug(text: str) -> bool:
    try:
        slug(text)
    except ValueError:
        return False
    return True


def _each(table: Table, name: str, make: Callable[[Table], Any]) -> Iterator[Any]:
    for item in table.tables(name):
        made = make(item)
        item.refuse_unknown()
        yield made


def _selector(table: Table) -> Selector:
    subject = table.take("subject", one_of(SubjectKind))
    device_kinds = table.take_all("device_kinds", one_of(DeviceKind))
    equipment_kinds = table.take_all("equipment_kinds", one_of(EquipmentKind))
    placed = table.take_all("placed", one_of(Where))
    needs = table.take_all("needs", named(NEEDS, "a need that the catalogue knows"))
    if subject is not None:
        for name, wanted in (
            ("device_kinds", SubjectKind.DEVICE),
            ("placed", SubjectKind.DEVICE),
            ("equipment_kinds", SubjectKind.EQUIPMENT),
        ):
            if name in table.values and subject is not wanted:
                table.refuse(name, table.values[name], f'no such field beside subject = "{subject}"')
    return Selector(subject, device_kinds, equipment_kinds, placed, needs)


def _season(table: Table) -> SeasonWindow:
    season = table.take("season", named(SEASONS, "hot or cold"))
    edge = table.take("edge", named(EDGES, "before or after"))
    opens, aims, last = (table.take(name, whole(0, 26)) for name in ("opens_weeks", "aims_weeks", "last_weeks"))
    if edge is not None and None not in (opens, aims, last):
        in_order = opens >= aims >= last if edge == "before" else opens <= aims <= last
        if not in_order:
            expected = (
                "opens_weeks first, last_weeks nearest to the season (each number no larger than the one before)"
                if edge == "before"
                else "opens_weeks first, last_weeks last (each number no smaller than the one before)"
            )
            table.refuse("opens_weeks", f"{opens}, {aims}, {last}", expected)
    return SeasonWindow(season, edge, opens, aims, last, table.take("tell_margin", yes_or_no, False))


def _event(table: Table) -> EventTrigger:
    event = table.take("event", named(EVENT_NAMES, "an event that the catalogue knows"))
    trigger = EventTrigger(
        event=event,
        within=table.take("within", span),
        then_after=table.take_all("then_after", span),
        tasks=table.take_all("tasks", slug),
        lead=table.take_if("lead", span),
        longer_than_days=table.take("longer_than_days", whole(1, 365), 0),
        if_margin_moves=table.take("if_margin_moves", yes_or_no, False),
    )
    if event is None:
        return trigger
    if (event in EVENTS_OF_TASKS) != bool(trigger.tasks):
        expected = "the tasks whose record counts" if event in EVENTS_OF_TASKS else f"no tasks beside {event}"
        table.refuse("tasks", ", ".join(trigger.tasks), expected)
    for name in ("lead", "longer_than_days"):
        if name in table.values and event != "closure":
            table.refuse(name, table.values[name], "this field only beside a closure, which is known beforehand")
    if trigger.if_margin_moves and event not in tuple(ChangeKind):
        table.refuse("if_margin_moves", "true", "this field only beside a dated change, like lights-changed")
    if trigger.lead is not None and trigger.within is not None and trigger.lead.days < trigger.within.days:
        table.refuse("lead", str(trigger.lead), f"at least as long as within ({trigger.within}): it opens the window")
    return trigger


def _condition(table: Table) -> ConditionTrigger:
    sides = [name for name in ("above", "below") if name in table.values]
    table.asked.update(("above", "below"))
    if len(sides) != 1:
        table.refuse("above", " and ".join(sides), "one limit, either above or below")
    side = sides[0] if sides else "above"
    trigger = ConditionTrigger(
        quantity=table.take("quantity", _measured),
        above=side == "above",
        limit=table.take(side, LIMIT, 0.0),
        within=table.take("within", span),
        words=table.take("words", words),
        minus=table.take_if("minus", one_of(ReadingQuantity)),
        over_baseline=table.take("over_baseline", yes_or_no, False),
        share_of_baseline=table.take("share_of_baseline", yes_or_no, False),
        like_room_within_k=table.take_if("like_room_within", number(0.1, 10)),
        trend=table.take("trend", yes_or_no, False),
        restored_by=table.take_all("restored_by", slug),
        soon_after=table.take_all("soon_after", slug),
    )
    compared = [name for name in ("over_baseline", "share_of_baseline") if table.values.get(name) is True]
    if len(compared) > 1:
        table.refuse("over_baseline", "true", "either over_baseline or share_of_baseline")
    if trigger.quantity in tuple(DerivedQuantity):
        for name in ("minus", *compared):
            if name in table.values:
                table.refuse(name, table.values[name], f"no such field beside {trigger.quantity}, which is a share")
    if trigger.like_room_within_k is not None and not compared:
        table.refuse("like_room_within", table.values["like_room_within"], "this field only beside a baseline")
    return trigger


def _measured(value: Any) -> ReadingQuantity | DerivedQuantity:
    known = [str(member) for kind in (ReadingQuantity, DerivedQuantity) for member in kind]
    if not isinstance(value, str) or value not in known:
        raise ValueError(f"one of {', '.join(known)}{nearest(str(value), known)}")
    return DerivedQuantity(value) if value in tuple(DerivedQuantity) else ReadingQuantity(value)


def _factors(table: Table) -> tuple[Factor, ...]:
    known = named(FACTOR_CONDITIONS, "a condition that the catalogue knows")
    found = [Factor(name, SHORTENS) for name in table.take_all("shortened_by", known)]
    found += [Factor(name, LENGTHENS) for name in table.take_all("lengthened_by", known)]
    found += table.take("factors", _own_factors, []) or []
    names = [factor.condition for factor in found]
    for name in sorted({name for name in names if names.count(name) > 1}):
        table.refuse("factors", name, "each condition only once")
    return tuple(found)


def _own_factors(value: Any) -> list[Factor]:
    if not isinstance(value, dict):
        raise ValueError("conditions with their multipliers, like { age-over-8 = 0.8 }")
    known = named(FACTOR_CONDITIONS, "a condition that the catalogue knows")
    return [Factor(known(name), number(0.1, 4)(multiplier)) for name, multiplier in value.items()]


def _minutes_by_kind(value: Any) -> dict[DeviceKind, int]:
    if not isinstance(value, dict):
        raise ValueError("kinds of device with their minutes, like { surface-fan = 15 }")
    return {one_of(DeviceKind)(name): whole(1, 480)(minutes) for name, minutes in value.items()}


def _consumable(table: Table) -> Consumable:
    return Consumable(
        table.take("name", words), table.take("quantity", number(0.001, 10_000)), table.take("unit", words)
    )


def _reading(table: Table) -> ReadingSpec:
    reading = ReadingSpec(
        label=table.take("label", words),
        unit=table.take("unit", words),
        quantity=table.take_if("quantity", one_of(ReadingQuantity)),
        low=table.take_if("low", LIMIT),
        high=table.take_if("high", LIMIT),
        relative_to=table.take_if("relative_to", named(MEASURED_FROM, "one of " + ", ".join(MEASURED_FROM))),
    )
    if reading.quantity is not None and reading.unit is not None:
        unit = UNIT_OF_QUANTITY.get(reading.quantity, "°C")
        if reading.unit != unit:
            table.refuse("unit", reading.unit, f"{unit}, the register's unit of {reading.quantity}")
    if reading.low is not None and reading.high is not None and reading.low > reading.high:
        table.refuse("low", f"{reading.low:g}", f"no more than high ({reading.high:g})")
    return reading


def _check_whole(rule: TaskRule, table: Table) -> None:
    """What no field tells alone."""
    causes = (rule.interval, rule.seasons, rule.events, rule.conditions)
    if not any(causes) and not rule.occasion:
        table.refuse("interval", "", "an interval, seasons, events or conditions; or an occasion in words")
    if any(causes) and rule.occasion:
        table.refuse("occasion", rule.occasion, "no occasion where an interval, season, event or condition tells it")
    if rule.interval is None:
        for name in ("season_only", "from_age_years", "running_hours", "shortened_by", "lengthened_by", "factors"):
            if table.values.get(name):
                table.refuse(name, table.values[name], "this field only beside an interval")
    if rule.tolerance is Tolerance.S and not rule.seasons:
        table.refuse("tolerance", "S", "seasons beside tolerance S")
    if rule.tolerance is Tolerance.A0:
        for factor in rule.factors:
            if factor.multiplier > 1:
                table.refuse("lengthened_by", factor.condition, "nothing that lengthens an interval of tolerance A0")
    selector = rule.selector
    if selector.subject is SubjectKind.DEVICE and not selector.device_kinds:
        table.refuse("device_kinds", "", "the kinds of device that the task is for")
    if selector.subject is SubjectKind.EQUIPMENT and not selector.equipment_kinds:
        table.refuse("equipment_kinds", "", "the kinds of equipment that the task is for")
    for kind in rule.minutes_by_device_kind:
        if kind not in selector.device_kinds:
            table.refuse(
                "minutes_by_device_kind", kind, f"a kind out of device_kinds{nearest(kind, selector.device_kinds)}"
            )
    if rule.id in (*rule.prerequisites, *rule.pairs):
        table.refuse("prerequisites", rule.id, "other tasks than itself")
