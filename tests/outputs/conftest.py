"""A small invented fleet: a service company with two clients on two continents, one technician, one visit."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from html.parser import HTMLParser
from urllib.parse import unquote

import pytest

from fleet.outputs.page_facts import PageFacts
from fleet.planning.backlog import backlog
from fleet.values.assessment import Assessment, DeviceCapacity, HoursByFailure, HoursToLimit, MarginStep
from fleet.values.catalogue import (
    AnimalClass,
    Catalogue,
    Consumable,
    EventTrigger,
    Hazard,
    Interval,
    ReadingSpec,
    Selector,
    Span,
    StopRule,
    TaskRule,
)
from fleet.values.courses import DayCourse
from fleet.values.fleet import Fleet, snapshot
from fleet.values.places import Places
from fleet.values.plan import AppliedFactor, Cause, Plan, PlanChange, PlanChanges, Revision, Task, Unplaced, Visit
from fleet.values.register import (
    Animals,
    Client,
    Contact,
    Device,
    Duty,
    Equipment,
    Load,
    Placement,
    Reading,
    RegisterRows,
    Room,
    ServiceRecord,
    Site,
    Tank,
    Technician,
)
from fleet.values.replacement import Forecast
from fleet.values.spread import Spread
from fleet.values.vocabulary import (
    CauseKind,
    ClientKind,
    ContactRole,
    DeviceKind,
    EquipmentKind,
    Finding,
    Health,
    Lid,
    LoadKind,
    MarginState,
    PerformedBy,
    Reaches,
    ReadingQuantity,
    Role,
    Scenario,
    Skill,
    Stand,
    SubjectKind,
    TankKind,
    TaskState,
    Tolerance,
    UnitSystem,
    Where,
)

TODAY = date(2026, 5, 20)
DOOR_CODE = "side door, keypad 7391"


@dataclass(frozen=True)
class World:
    """Everything that an output is made from, on one day."""

    fleet: Fleet
    catalogue: Catalogue
    plan: Plan
    assessments: tuple[Assessment, ...]
    revisions: dict[str, Revision]
    today: date = TODAY
    door_code: str = DOOR_CODE

    @staticmethod
    def make_task(key: str, rule: TaskRule, subject: str, **changes: object) -> Task:
        return make_task(key, rule, subject, **changes)


def make_rule(rule: str, title: str, **changes: object) -> TaskRule:
    base = TaskRule(
        id=rule,
        title=title,
        selector=Selector(SubjectKind.DEVICE),
        tolerance=Tolerance.B,
        minutes=10,
        persons=1,
        skill=Skill.KEEPER,
        performed_by=PerformedBy.VISITOR,
        order=10,
        steps=("Unplug the unit.", "Take the screen out.", "Refit and plug in."),
        acceptance="exhaust air within 3 K of its clean baseline",
        basis="common practice",
        source="common practice",
        interval=Interval(Span(1, "week"), Span(4, "week"), Span(8, "week")),
        tools=("soft brush", "towel"),
        hazards=("H1",),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def make_task(key: str, rule: TaskRule, subject: str, **changes: object) -> Task:
    base = Task(
        key=key,
        rule=rule.id,
        title=rule.title,
        subject=subject,
        subject_kind=SubjectKind.DEVICE,
        site="HARBOUR",
        tank="REEF-1",
        device=subject,
        occurrence="n3",
        due=date(2026, 5, 26),
        due_at=None,
        earliest=date(2026, 5, 18),
        latest=date(2026, 6, 1),
        minutes=rule.minutes,
        persons=rule.persons,
        skill=rule.skill,
        performed_by=rule.performed_by,
        tolerance=rule.tolerance,
        order=rule.order,
        state=TaskState.OPEN,
        cause=Cause(CauseKind.INTERVAL, "last done on 28 Apr 2026, every 4 weeks.", {"interval_days": 28.0}),
        follows=date(2026, 4, 28),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


SCREEN = make_rule(
    "clean-intake-screen",
    "Clean the intake screen",
    consumables=(Consumable("mild soap", 0.1, "L"),),
    readings=(
        ReadingSpec("Exhaust air", "°C", ReadingQuantity.EXHAUST_AIR_TEMP),
        ReadingSpec("Air rise over baseline", "K", None, None, 3.0, "baseline"),
    ),
)
DESCALE = make_rule(
    "descale-exchanger-inside",
    "Descale the exchanger",
    minutes=120,
    persons=2,
    skill=Skill.TECHNICIAN,
    order=40,
    tools=("tub", "small pump", "goggles"),
    consumables=(Consumable("white vinegar", 4.0, "L"), Consumable("mild soap", 0.1, "L")),
    hazards=("H1", "H2"),
    readings=(ReadingSpec("Rinse water", "pH", ReadingQuantity.RINSE_PH, -0.2, 0.2, "supply-ph"),),
    interval=Interval(Span(12, "month"), Span(48, "month"), Span(60, "month")),
)
GFCI_TEST = make_rule(
    "press-gfci-test",
    "Test the GFCI",
    minutes=3,
    order=90,
    tolerance=Tolerance.A0,
    selector=Selector(SubjectKind.EQUIPMENT, equipment_kinds=(EquipmentKind.GFCI,)),
    source="US Consumer Product Safety Commission: test monthly",
    basis="published",
)
CHECK_TEMPERATURE = make_rule(
    "check-temperature",
    "Read the temperature",
    minutes=2,
    performed_by=PerformedBy.SITE_STAFF,
    hazards=(),
    tools=(),
    selector=Selector(SubjectKind.TANK),
    interval=Interval(Span(1, "day"), Span(1, "day"), Span(3, "day")),
    readings=(ReadingSpec("Water", "°C", ReadingQuantity.WATER_TEMP, -1.0, 1.0, "target"),),
)
REVIEW_LOAD = make_rule(
    "review-heat-load",
    "Review the heat load",
    interval=None,
    minutes=20,
    selector=Selector(SubjectKind.TANK),
    events=(EventTrigger("lights-changed", Span(7, "day"), (Span(30, "day"),)),),
)


def make_catalogue() -> Catalogue:
    return Catalogue(
        rules=(SCREEN, DESCALE, GFCI_TEST, CHECK_TEMPERATURE, REVIEW_LOAD),
        hazards=(
            Hazard("H1", "Electricity and water", "Unplug before hands go into the water.", "common practice", ""),
            Hazard("H2", "Acid and bleach never meet", "Acid turns bleach into chlorine gas.", "published", "NIOSH"),
        ),
        animal_classes=(
            AnimalClass(
                "reef-corals", "reef corals", ("reef",), 25.0, 27.0, 23.5, 28.0, 22.0, 29.5, None, 32.0, True, ""
            ),
        ),
        stop_rules=(
            StopRule(5, "a tingle from water or metal, a burnt smell", "no hands in; cut at the breaker",
                     "an electrician", (ContactRole.ELECTRICIAN,), hazards=("H1",)),
            StopRule(13, "a smell of chlorine", "out, fresh air", "the emergency number",
                     (ContactRole.EMERGENCY,), hazards=("H2",)),
        ),
        hazard_closing="Follow the maker's plate, local codes and licensed practice; they come first.",
    )  # fmt: skip


def make_rows() -> RegisterRows:
    return RegisterRows(
        clients=(
            Client("OAKLEY", "Oakley Dental", ClientKind.COMPANY, units=UnitSystem.US),
            Client("TIDE", "Tidewater School", ClientKind.SCHOOL, units=UnitSystem.METRIC),
        ),
        sites=(
            Site("HARBOUR", "OAKLEY", "Harbour Street clinic", "America/New_York", "12 Harbour Street, Fernmouth",
                 visit_from=time(9), visit_to=time(17), access_notes=DOOR_CODE),
            Site("SOUTH", "TIDE", "South campus", "Australia/Melbourne", access_notes="alarm off: 5512"),
        ),
        contacts=(
            Contact("HARBOUR", ContactRole.CLIENT, "Pat Marlowe", "+1 555 0101", 1),
            Contact("HARBOUR", ContactRole.ELECTRICIAN, "Fernmouth Electric", "+1 555 0102", 2, date(2026, 1, 5)),
        ),
        rooms=(Room("LOBBY", "HARBOUR", "Lobby", 24.0, True), Room("LAB", "SOUTH", "Biology laboratory", 22.0)),
        tanks=(
            Tank("REEF-1", "LOBBY", "Lobby reef", TankKind.REEF, 1.2, 0.6, 0.6, 25.6, lid=Lid.OPEN,
                 stand=Stand.CLOSED, net_volume_m3=0.38, health=Health.CLEAN),
            Tank("GOLD-1", "LAB", "Goldfish", TankKind.COLD_FRESH, 1.0, 0.4, 0.4, 18.0, watch_high_c=24.0,
                 act_high_c=27.0),
        ),
        loads=(Load("REEF-1", "main light", LoadKind.LIGHT, 310.0, date(2026, 5, 3), 9.0),),
        animals=(Animals("REEF-1", "stony corals", date(2024, 1, 1), "reef", 20),),
        devices=(
            Device("CH-1", DeviceKind.CHILLER, "Lobby chiller", plate="1/4 hp, 75 gal", rated_horsepower_w=186.4,
                   installed=date(2021, 4, 1)),
            Device("FAN-1", DeviceKind.SURFACE_FAN, "Clip fan"),
        ),
        placements=(Placement("CH-1", Where.IN_STAND, date(2025, 6, 1), stand_of="REEF-1", clearance_m=0.05),),
        duties=(Duty("CH-1", "REEF-1", date(2021, 4, 1), Role.DUTY), Duty("FAN-1", "GOLD-1", date(2023, 1, 1))),
        equipment=(Equipment("GF-1", EquipmentKind.GFCI, "Lobby GFCI", tank="REEF-1"),),
        technicians=(
            Technician("ROE", "Robin Roe", (Skill.TECHNICIAN,), email="roe@example.org"),
            Technician("SAM", "Sam Fell", (Skill.KEEPER,)),
        ),
        history=(
            ServiceRecord("CH-1", "clean-intake-screen", date(2026, 3, 31), "ROE", Finding.SOUND, 12),
            ServiceRecord("CH-1", "clean-intake-screen", date(2026, 4, 28), "ROE", Finding.DEGRADED, 15, "much lint"),
        ),
        readings=(
            Reading("REEF-1", ReadingQuantity.WATER_TEMP, 26.1, datetime(2026, 5, 18, 14, tzinfo=UTC), "SAM"),
            Reading("CH-1", ReadingQuantity.EXHAUST_AIR_TEMP, 39.0, datetime(2026, 4, 28, 15, tzinfo=UTC), "ROE"),
        ),
    )  # fmt: skip


def make_assessments() -> tuple[Assessment, ...]:
    never = HoursToLimit(None, None, None, Reaches.NO)
    reef = Assessment(
        tank="REEF-1",
        scenario=Scenario.HOT_DAY,
        target_c=25.6,
        required_w=420.0,
        required_spread_w=Spread(350.0, 420.0, 500.0),
        available_w=Spread(300.0, 403.0, 600.0),
        margin=Spread(-0.4, -0.04, 0.3),
        state=MarginState.SHORT,
        duty=1.0,
        n_minus_1_margin=None,
        hours=HoursByFailure(
            HoursToLimit(5.2, 7.1, 11.0, Reaches.YES),
            HoursToLimit(9.0, 30.0, None, Reaches.YES),
            HoursToLimit(3.4, 4.4, 6.0, Reaches.YES),
            None,
        ),
        peak_c=27.9,
        limit_c=29.5,
        room_peak_c=28.0,
        equilibrium_c=31.2,
        evaporation_l_per_day=4.1,
        dew_point_c=15.0,
        assumed=("relative humidity: 65 %",),
        devices=(
            DeviceCapacity("CH-1", "duty", Spread(300.0, 403.0, 600.0), 250.0, 38.5, 58.0, 0.5, 0.0001, False,
                           "horsepower", ("The intake screen has not been cleaned for four weeks.",)),
        ),
        notes=("The chiller warms its own stand.",),
    )  # fmt: skip
    gold = replace(
        reef,
        tank="GOLD-1",
        target_c=18.0,
        required_w=-4.0,
        available_w=None,
        margin=None,
        state=MarginState.RIDES,
        duty=None,
        hours=HoursByFailure(never, None, None, None),
        peak_c=22.0,
        limit_c=27.0,
        devices=(),
        assumed=(),
        notes=(),
    )
    return (
        gold,
        replace(gold, scenario=Scenario.AC_OFF, state=MarginState.NONE_NEEDED),
        reef,
        replace(reef, scenario=Scenario.AC_OFF),
    )


def make_plan() -> Plan:
    screen = make_task("7K3-Q9MD", SCREEN, "CH-1", visit="V2M-0A1B")
    descale = make_task(
        "8AA-B1CD", DESCALE, "CH-1", visit="V2M-0A1B", state=TaskState.PAST_LIMIT, due=date(2026, 1, 10),
        earliest=date(2025, 12, 1), latest=date(2026, 3, 1), follows=date(2022, 1, 10),
        factors=(AppliedFactor("hard-water", 0.7, "the room's conditions say hard-water"),),
    )  # fmt: skip
    gfci = make_task(
        "9ZZ-0007", GFCI_TEST, "GF-1", subject_kind=SubjectKind.EQUIPMENT, device=None, visit="V2M-0A1B",
        state=TaskState.DUE, due=TODAY, follows=None,
        cause=Cause(CauseKind.NEVER_RECORDED, "no test is on record.", {}),
    )  # fmt: skip
    review = make_task(
        "0RV-55XY", REVIEW_LOAD, "REEF-1", subject_kind=SubjectKind.TANK, device=None,
        due=date(2026, 6, 2), earliest=date(2026, 5, 30), latest=date(2026, 6, 5), state=TaskState.UPCOMING,
        cause=Cause(CauseKind.CHANGE, "lights 250 W → 310 W on 3 May 2026: margin on the hot day 12 % → −4 %.",
                    {"margin_before": 0.12, "margin_after": -0.04}),
    )  # fmt: skip
    daily = tuple(
        make_task(
            key, CHECK_TEMPERATURE, tank, subject_kind=SubjectKind.TANK, device=None, tank=tank, site=site,
            due=TODAY, earliest=TODAY, latest=TODAY, state=TaskState.DUE, follows=None,
        )
        for key, tank, site in (("1AA-0001", "REEF-1", "HARBOUR"), ("1AA-0002", "GOLD-1", "SOUTH"))
    )  # fmt: skip
    return Plan(
        today=TODAY,
        through=date(2026, 11, 16),
        tasks=tuple(sorted((screen, descale, gfci, review, *daily), key=lambda task: (task.due, task.key))),
        visits=(
            Visit("V2M-0A1B", "HARBOUR", "ROE", datetime(2026, 5, 22, 13, tzinfo=UTC),
                  datetime(2026, 5, 22, 15, 13, tzinfo=UTC), 133, ("7K3-Q9MD", "8AA-B1CD", "9ZZ-0007"),
                  date(2026, 5, 22)),
        ),
        unplaced=(Unplaced("0RV-55XY", "no-open-day", "the site is closed from 30 May to 5 June 2026"),),
        changes=PlanChanges(added=(PlanChange("0RV-55XY", "Review the heat load: REEF-1", "first planned"),)),
        not_on_record={"SOUTH": ("press-gfci-test",)},
    )  # fmt: skip


def make_revisions(plan: Plan) -> dict[str, Revision]:
    created, modified = datetime(2026, 5, 1, 8, tzinfo=UTC), datetime(2026, 5, 19, 6, 30, tzinfo=UTC)
    keys = [task.key for task in plan.tasks] + [visit.key for visit in plan.visits]
    return {key: Revision(key, 2, created, modified) for key in keys}


@pytest.fixture
def world() -> World:
    plan = make_plan()
    return World(snapshot(make_rows(), TODAY), make_catalogue(), plan, make_assessments(), make_revisions(plan))


def make_course(tank: str, scenario: Scenario, warmest_c: float) -> DayCourse:
    """Water that is 2 K warmer at six in the evening than at six in the morning; the likely course 0.5 K below."""
    hours = tuple(n / 2.0 for n in range(49))
    safe = tuple(warmest_c - abs((hour - 18.0 + 12.0) % 24.0 - 12.0) / 6.0 for hour in hours)
    return DayCourse(tank, scenario, hours, safe, tuple(value - 0.5 for value in safe), (24.0,) * 49)


def make_facts(rows: RegisterRows) -> PageFacts:
    return PageFacts(
        rows=rows,
        places=Places(rows),
        courses={
            "REEF-1": (make_course("REEF-1", Scenario.AC_OFF, 30.2), make_course("REEF-1", Scenario.HOT_DAY, 27.9)),
        },
        forecasts={
            "CH-1": Forecast("CH-1", TODAY, date(2021, 4, 1), True, "the refrigerating circuit", 8.25, 2.5,
                             "common practice", ("in a closed stand, life × 0.75",), date(2027, 3, 1),
                             date(2029, 6, 1), date(2032, 2, 1), 0.12),
        },
        margin_steps=(
            MarginStep("REEF-1", date(2026, 5, 3), "REEF-1", "lights 250 W → lights 310 W", Spread(0.12, 0.3, 0.6),
                       Spread(-0.04, 0.1, 0.4), MarginState.THIN, MarginState.SHORT),
        ),
        backlog=backlog(make_plan()),
        first_day=date(2025, 5, 20),
        last_day=TODAY,
    )  # fmt: skip


@pytest.fixture
def rows() -> RegisterRows:
    """The rows that the world is a snapshot of."""
    return make_rows()


@pytest.fixture
def facts(rows: RegisterRows) -> PageFacts:
    return make_facts(rows)


VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class Read(HTMLParser):
    """A page as a reader has it: its text, links, ids and headings; every tag must close in order, every id be one."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.headings: list[int] = []
        self.tags: set[str] = set()
        self.feed(html)
        assert self.open == []
        assert len(self.ids) == len(set(self.ids))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.add(tag)
        assert not [name for name in found if name.startswith("on")]
        if tag == "a":
            self.links.append(unquote(found["href"] or ""))
        if "id" in found:
            self.ids.append(found["id"] or "")
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words)).replace(" .", ".").replace(" ,", ",")


@pytest.fixture
def read() -> Callable[[str], Read]:
    return Read
