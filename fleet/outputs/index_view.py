"""The first page: what is late, what is short of cooling, who goes where next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.outputs.further_pages import TODAY, FurtherNames
from fleet.outputs.lookup import Lookup
from fleet.outputs.words import (
    CLOSED,
    LATE,
    NOT_A_CERTIFICATE,
    STATE_MEANING,
    STATE_ORDER,
    WANTING,
    capital,
    clock,
    count_words,
    long_day,
    margin_words,
    minutes_words,
    near_day,
    plain,
    short_day,
    soonest_words,
)
from fleet.values.assessment import Assessment
from fleet.values.plan import Plan, Task, Visit
from fleet.values.register import Site
from fleet.values.vocabulary import PerformedBy, Scenario


@dataclass(frozen=True, slots=True)
class DueLine:
    key: str
    state: str
    due: str
    title: str
    subject: str
    visit: str
    sheet: str


@dataclass(frozen=True, slots=True)
class DueGroup:
    """The lines of one site."""

    site: str
    lines: tuple[DueLine, ...]


@dataclass(frozen=True, slots=True)
class CoolingLine:
    tank: str
    card: str
    site: str
    state: str
    margin: str
    peak: str
    limit: str
    cooling_lost: str
    ac_lost: str


@dataclass(frozen=True, slots=True)
class VisitLine:
    sheet: str
    day: str
    times: str
    site: str
    technician: str
    work: str


@dataclass(frozen=True, slots=True)
class UnplacedLine:
    key: str
    title: str
    subject: str
    site: str
    reason: str


@dataclass(frozen=True, slots=True)
class Link:
    text: str
    file: str


@dataclass(frozen=True, slots=True)
class SiteLine:
    name: str
    client: str
    checklist: Link | None
    outage: Link | None
    reports: tuple[Link, ...]
    hand_overs: tuple[Link, ...]
    tanks: tuple[Link, ...]
    devices: tuple[Link, ...]
    not_on_record: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Index:
    today: str
    until: str
    today_page: str
    summary: tuple[str, ...]
    late: tuple[DueGroup, ...]
    assessed: bool
    cooling: tuple[CoolingLine, ...]
    meanings: tuple[str, ...]
    due: tuple[DueGroup, ...]
    visits: tuple[VisitLine, ...]
    unplaced: tuple[UnplacedLine, ...]
    sites: tuple[SiteLine, ...]
    elsewhere: tuple[Link, ...]
    """Cards of devices that stand at no site."""
    estimate: str


@dataclass(frozen=True, slots=True)
class Pages:
    """File names of the pages that the index leads to, by visit key, tank code and site code."""

    visits: Mapping[str, str]
    tanks: Mapping[str, str]
    checklists: Mapping[str, str]
    outages: Mapping[str, str]
    further: FurtherNames | None = None


def index(
    plan: Plan, lookup: Lookup, assessments: Sequence[Assessment], pages: Pages, *, today: date, days: int
) -> Index:
    """The index of everything between today and `days` on."""
    last = today + timedelta(days=days)
    visitor = [task for task in plan.tasks if task.performed_by is PerformedBy.VISITOR and task.state not in CLOSED]
    late = sorted((task for task in visitor if task.state in LATE), key=lambda task: (task.due, task.key))
    due = sorted(
        (task for task in visitor if task.state not in LATE and task.due <= last),
        key=lambda task: (task.due, task.site or "", task.key),
    )
    visits = sorted((visit for visit in plan.visits if visit.key in pages.visits), key=lambda visit: visit.start)
    hot = [row for row in assessments if row.scenario is Scenario.HOT_DAY and row.state in WANTING]
    hot.sort(key=lambda row: (STATE_ORDER.index(row.state), row.margin.low if row.margin else 0.0, row.tank))

    def line(task: Task) -> DueLine:
        visit = plan.visit_by_key.get(task.visit or "")
        return DueLine(
            key=task.key,
            state=plain(task.state),
            due=near_day(task.due, today),
            title=task.title,
            subject=lookup.label(task.subject),
            visit=near_day(visit.day, today) if visit else "no visit",
            sheet=pages.visits.get(visit.key, "") if visit else "",
        )

    def by_site(tasks: Sequence[Task]) -> tuple[DueGroup, ...]:
        groups: dict[str | None, list[DueLine]] = {}
        for task in tasks:
            groups.setdefault(task.site, []).append(line(task))
        return tuple(DueGroup(lookup.name(site) if site else "No site", tuple(lines)) for site, lines in groups.items())

    return Index(
        today=long_day(today),
        until=short_day(last),
        today_page=TODAY if pages.further is not None else "",
        summary=(
            f"{count_words(len(late), 'task')} late" if late else "nothing late",
            _cooling_summary(len(hot), assessed=bool(assessments)),
            f"{count_words(len(visits), 'visit')} until {short_day(last)}",
            *((f"{count_words(len(plan.unplaced), 'task')} in no visit",) if plan.unplaced else ()),
        ),
        late=by_site(late),
        assessed=bool(assessments),
        cooling=tuple(_cooling(row, lookup, pages) for row in hot),
        meanings=tuple(
            f"{capital(plain(state))}: {STATE_MEANING[state]}."
            for state in WANTING
            if any(row.state is state for row in hot)
        ),
        due=by_site(due),
        visits=tuple(_visit(visit, lookup, pages, today) for visit in visits),
        unplaced=tuple(_unplaced(plan, lookup)),
        sites=tuple(_sites(plan, lookup, pages)),
        elsewhere=_devices(None, lookup, pages),
        estimate=NOT_A_CERTIFICATE,
    )


def _cooling_summary(wanting: int, *, assessed: bool) -> str:
    if not assessed:
        return "cooling not assessed"
    return f"{count_words(wanting, 'tank')} to look at before a hot day" if wanting else "every tank holds on a hot day"


def _cooling(row: Assessment, lookup: Lookup, pages: Pages) -> CoolingLine:
    site = lookup.fleet.site_of(row.tank)
    display = lookup.display(site)
    return CoolingLine(
        tank=lookup.label(row.tank),
        card=pages.tanks.get(row.tank, ""),
        site=lookup.name(site) if site else "",
        state=plain(row.state),
        margin=margin_words(row.margin),
        peak=display.temperature(row.peak_c),
        limit=display.temperature(row.limit_c),
        cooling_lost=soonest_words(row.hours.all_cooling_lost),
        ac_lost=soonest_words(row.hours.ac_lost),
    )


def _visit(visit: Visit, lookup: Lookup, pages: Pages, today: date) -> VisitLine:
    zone = lookup.zone(visit.site)
    return VisitLine(
        sheet=pages.visits[visit.key],
        day=near_day(visit.day, today),
        times=f"{clock(visit.start, zone)} to {clock(visit.end, zone)}",
        site=lookup.name(visit.site),
        technician=lookup.people(visit),
        work=f"{count_words(len(visit.tasks), 'task')}, {minutes_words(visit.minutes)}",
    )


def _unplaced(plan: Plan, lookup: Lookup) -> list[UnplacedLine]:
    lines = []
    for item in plan.unplaced:
        task = plan.task_by_key.get(item.key)
        site = task.site if task else None
        lines.append(
            UnplacedLine(
                key=item.key,
                title=task.title if task else "",
                subject=lookup.label(task.subject) if task else "",
                site=lookup.name(site) if site else "",
                reason=capital(item.text),
            )
        )
    return lines


def _sites(plan: Plan, lookup: Lookup, pages: Pages) -> list[SiteLine]:
    return [
        SiteLine(
            name=site.name,
            client=lookup.name(site.client),
            checklist=Link("Checklist", pages.checklists[site.code]) if site.code in pages.checklists else None,
            outage=Link("Outage list", pages.outages[site.code]) if site.code in pages.outages else None,
            reports=_reports(site, lookup, pages),
            hand_overs=_hand_overs(site.code, pages),
            devices=_devices(site.code, lookup, pages),
            tanks=tuple(
                Link(lookup.label(tank), pages.tanks[tank])
                for tank in lookup.tanks_by_site.get(site.code, ())
                if tank in pages.tanks
            ),
            not_on_record=tuple(lookup.title(rule) for rule in plan.not_on_record.get(site.code, ())),
        )
        for site in lookup.fleet.sites
    ]


def _reports(site: Site, lookup: Lookup, pages: Pages) -> tuple[Link, ...]:
    names = pages.further
    if names is None:
        return ()
    of_client = names.client_reports.get(site.client)
    client = (Link(f"Report for {lookup.name(site.client)}", of_client),) if of_client else ()
    return (Link("Report of the site", names.site_reports[site.code]), *client)


def _hand_overs(site: str, pages: Pages) -> tuple[Link, ...]:
    names = pages.further.hand_overs if pages.further is not None else {}
    return tuple(
        Link(f"Hand-over for {short_day(closure.since)}", name)
        for closure, name in names.items()
        if closure.site == site
    )


def _devices(site: str | None, lookup: Lookup, pages: Pages) -> tuple[Link, ...]:
    names = pages.further.devices if pages.further is not None else {}
    return tuple(
        Link(lookup.label(device), name) for device, name in names.items() if lookup.fleet.site_of(device) == site
    )
