"""The report of a site or a client for a period: what was done, found and measured, margins, and what comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TypeVar

from fleet.outputs.ageing import AgeingRow, ageing_rows
from fleet.outputs.charts import Chart
from fleet.outputs.charts_course import course_chart
from fleet.outputs.charts_readings import readings_chart
from fleet.outputs.charts_work import work_chart
from fleet.outputs.lookup import Lookup
from fleet.outputs.margin_rows import MarginTable, margin_table
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.report_rows import (
    DayRow,
    FoundRow,
    KindRow,
    NextRow,
    StepRow,
    day_rows,
    found_rows,
    kind_rows,
    next_row,
    step_row,
)
from fleet.outputs.series import MeasuredRow, measured_row, water_series
from fleet.outputs.words import (
    CLOSED,
    LATE,
    NOT_A_CERTIFICATE,
    capital,
    count_words,
    day_words,
    minutes_words,
    short_day,
)
from fleet.outputs.work_minutes import done_minutes, planned_minutes
from fleet.values.assessment import Assessment
from fleet.values.courses import DayCourse
from fleet.values.plan import Plan, Task, Visit
from fleet.values.register import ServiceRecord
from fleet.values.replacement import Forecast
from fleet.values.vocabulary import Finding, PerformedBy, ReadingQuantity

NEXT = timedelta(days=90)
"""How far the report looks ahead."""
LEVEL_K = 0.2
"""What a thermometer to a tenth of a degree hardly tells from no movement."""
AGEING = timedelta(days=3 * 365)
"""What is likely to end within this is named."""

Row = TypeVar("Row")
Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True, slots=True)
class SitePart:
    """One site. `done` are the days of visitors, `on_site` the work of its own people by kind."""

    name: str
    address: str
    said: tuple[str, ...]
    work: Chart
    done: tuple[DayRow, ...]
    on_site: tuple[KindRow, ...]
    found: tuple[FoundRow, ...]
    measured: tuple[MeasuredRow, ...]
    readings: tuple[Chart, ...]
    margins: MarginTable | None
    steps: tuple[StepRow, ...]
    courses: tuple[Chart, ...]
    steady: tuple[str, ...]
    """Tanks whose water stands still on both days, and so have no drawing."""
    ageing: tuple[AgeingRow, ...]
    late: tuple[str, ...]
    next: tuple[NextRow, ...]
    closures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """`staff` tells whether it is the service's own copy, which leads on to other pages."""

    title: str
    subtitle: str
    period: str
    until: str
    sites: tuple[SitePart, ...]
    staff: bool
    estimate: str


class ReportMaker:
    """Makes reports from one plan, one set of assessments and the facts of the pages.

    `cards` holds the pages of tanks by code, empty for a reader who has none. What may be read is up to the lookup.
    """

    def __init__(
        self,
        plan: Plan,
        lookup: Lookup,
        assessments: Sequence[Assessment],
        facts: PageFacts,
        cards: Mapping[str, str],
    ) -> None:
        self.plan, self.lookup, self.facts, self.cards = plan, lookup, facts, cards
        self.today = plan.today
        fleet, place = lookup.fleet, facts.places.site_on
        self.assessments = _grouped(assessments, lambda row: fleet.site_of(row.tank))
        self.records = _grouped(fleet.history, lambda row: place(row.subject, row.done_on))
        inside = (row for row in fleet.readings if facts.inside(row.taken_at.date()))
        self.readings = _grouped(inside, lambda row: place(row.subject, row.taken_at.date()))
        self.events = _grouped(
            (row for row in fleet.events if facts.inside(row.on)), lambda row: place(row.subject, row.on)
        )
        self.steps = _grouped(
            (row for row in facts.margin_steps if facts.inside(row.day)), lambda row: place(row.tank, row.day)
        )
        self.tasks = _grouped(
            (task for task in plan.tasks if task.state not in CLOSED and task.performed_by is PerformedBy.VISITOR),
            lambda task: task.site,
        )
        self.visits = _grouped(plan.visits, lambda visit: visit.site)
        soon = (row for row in facts.forecasts.values() if row.earliest <= self.today + AGEING)
        self.forecasts: dict[str | None, list[Forecast]] = _grouped(soon, lambda row: fleet.site_of(row.subject))

    def of_site(self, site: str, *, staff: bool = True) -> Report:
        """The report of one site."""
        row = self.lookup.fleet.site_by_code[site]
        return self._report(self.lookup.name(site), self.lookup.name(row.client), (site,), staff=staff)

    def of_client(self, client: str) -> Report:
        """The report of all sites of a client, for the client."""
        sites = tuple(site.code for site in self.lookup.fleet.sites if site.client == client)
        name = self.lookup.name(client)
        names = [site_name for site in sites if (site_name := self.lookup.name(site)) != name]
        return self._report(name, ", ".join(names), sites, staff=False)

    def _report(self, title: str, subtitle: str, sites: Sequence[str], *, staff: bool) -> Report:
        return Report(
            title=title,
            subtitle=subtitle,
            period=f"{short_day(self.facts.first_day)} to {short_day(self.facts.last_day)}",
            until=short_day(self.today + NEXT),
            sites=tuple(self._site(site, place) for place, site in enumerate(sites)),
            staff=staff,
            estimate=NOT_A_CERTIFICATE,
        )

    def _site(self, site: str, place: int) -> SitePart:
        lookup, today = self.lookup, self.today
        name, tasks = lookup.name(site), sorted(self.tasks.get(site, ()), key=lambda task: (task.due, task.key))
        every = self.records.get(site, [])
        records = [row for row in every if self.facts.inside(row.done_on)]
        visited = [row for row in records if self._by_visitor(row)]
        rows = self.assessments.get(site, [])
        done, planned = done_minutes(every, lookup, today), planned_minutes(tasks, self.plan, today)
        return SitePart(
            name=name,
            address=lookup.fleet.site_by_code[site].address or "",
            said=tuple(self._said(visited, records, tasks)),
            work=work_chart(f"work-{place}", f"Work at {name}, week by week", done, planned, today),
            done=tuple(day_rows(visited, lookup)),
            on_site=tuple(kind_rows((row for row in records if not self._by_visitor(row)), lookup)),
            found=found_rows(records, self.events.get(site, ()), lookup),
            measured=self._measured(site),
            readings=tuple(self._readings(site, place)),
            margins=margin_table(f"margin-{place}", rows, lookup, self.cards) if rows else None,
            steps=tuple(step_row(step, lookup) for step in self.steps.get(site, ())),
            courses=tuple(self._courses(site, place)),
            steady=tuple(
                lookup.label(tank)
                for tank in lookup.tanks_by_site.get(site, ())
                if _steady(self.facts.courses.get(tank))
            ),
            ageing=ageing_rows(self.forecasts.get(site, ()), lookup),
            late=tuple(
                f"{task.title}, {lookup.label(task.subject)}: was due {day_words(task.due)}"
                for task in tasks
                if task.state in LATE
            ),
            next=tuple(next_row(visit, self.plan, lookup) for visit in self._coming(site)),
            closures=tuple(self._closures(site)),
        )

    def _by_visitor(self, record: ServiceRecord) -> bool:
        rule = self.lookup.catalogue.rule_by_id.get(record.task)
        return rule is None or rule.performed_by is PerformedBy.VISITOR

    def _said(
        self, visited: Sequence[ServiceRecord], records: Sequence[ServiceRecord], tasks: Sequence[Task]
    ) -> Iterator[str]:
        if visited:
            days = len({row.done_on for row in visited})
            minutes = sum(done_minutes(visited, self.lookup, self.facts.last_day).values())
            work = capital(count_words(len(visited), "piece"))
            yield f"{work} of work on {count_words(days, 'day')}, {minutes_words(minutes)} in all."
        else:
            yield "No visitor's work is on record for these days."
        wrong = sum(row.finding in (Finding.DEGRADED, Finding.FAULT) for row in records)
        if wrong:
            yield f"{capital(count_words(wrong, 'finding'))} other than sound."
        elif records:
            yield "Everything that was looked at was found sound."
        late = sum(task.state in LATE for task in tasks)
        yield f"{capital(count_words(late, 'task is', 'tasks are'))} late today." if late else "Nothing is late today."

    def _measured(self, site: str) -> tuple[MeasuredRow, ...]:
        groups = _grouped(self.readings.get(site, ()), lambda row: (row.subject, row.quantity))
        return tuple(
            measured_row(self.lookup.label(subject), rows, self.lookup, site)
            for (subject, _), rows in sorted(groups.items())
        )

    def _readings(self, site: str, place: int) -> Iterator[Chart]:
        tanks = self.lookup.fleet.tank_by_code
        water = _grouped(
            (
                row
                for row in self.readings.get(site, ())
                if row.quantity is ReadingQuantity.WATER_TEMP and row.subject in tanks
            ),
            lambda row: row.subject,
        )
        for i, (tank, rows) in enumerate(sorted(water.items())):
            chart = readings_chart(f"water-{place}-{i}", water_series(tank, rows, self.lookup))
            if chart is not None:
                yield chart

    def _courses(self, site: str, place: int) -> Iterator[Chart]:
        lookup = self.lookup
        for i, tank in enumerate(lookup.tanks_by_site.get(site, ())):
            courses = self.facts.courses.get(tank, ())
            if courses and not _steady(courses):
                band = lookup.band(lookup.fleet.tank_by_code[tank])
                yield course_chart(f"day-{place}-{i}", lookup.label(tank), courses, band, lookup.display(site))

    def _coming(self, site: str) -> list[Visit]:
        visits = (visit for visit in self.visits.get(site, ()) if self.today <= visit.day <= self.today + NEXT)
        return sorted(visits, key=lambda visit: visit.start)

    def _closures(self, site: str) -> Iterator[str]:
        for row in self.lookup.fleet.closures:
            if row.site == site and row.since <= self.today + NEXT and (row.until is None or row.until > self.today):
                reason = f": {self.lookup.note(row.reason)}" if row.reason else ""
                until = f" to {day_words(row.until - timedelta(days=1))}" if row.until is not None else " on"
                yield f"Closed from {day_words(row.since)}{until}{reason}."


def _steady(courses: Sequence[DayCourse] | None) -> bool:
    """Whether a drawing of these days would show nothing: every one of them level, and all at one height."""
    water = [value for row in courses or () for value in (*row.safe_c, *row.likely_c)]
    return bool(water) and max(water) - min(water) < LEVEL_K


def _grouped(rows: Iterable[Row], key: Callable[[Row], Key]) -> dict[Key, list[Row]]:
    groups: dict[Key, list[Row]] = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return groups
