"""The fleet today: what is late, who goes where, which tanks have nothing to spare, who fails first, what is undone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.outputs.charts import Chart
from fleet.outputs.charts_work import work_chart
from fleet.outputs.first_to_fail import OutageOrder, PlantLine, crossing, outage_orders, plants
from fleet.outputs.lookup import Lookup
from fleet.outputs.margin_rows import MarginTable, margin_table, urgency
from fleet.outputs.words import (
    CLOSED,
    LATE,
    NOT_A_CERTIFICATE,
    WANTING,
    capital,
    clock,
    count_words,
    long_day,
    minutes_words,
    near_day,
    plain,
    short_day,
    soonest_words,
)
from fleet.outputs.work_minutes import done_minutes, planned_minutes
from fleet.values.assessment import Assessment
from fleet.values.plan import Backlog, Plan, Task, Visit
from fleet.values.vocabulary import PerformedBy, Scenario, TaskState, Tolerance

WEEK = timedelta(days=6)
READY = (TaskState.OPEN, TaskState.DUE)
"""States of work that could be done now and is not late."""
CONCERNS = {
    Tolerance.A0: "Safety of people, law and standards",
    Tolerance.A: "Safety of animals, protection from shock",
    Tolerance.S: "Before a season",
    Tolerance.B: "Protection of equipment",
    Tolerance.C: "Economy",
}
"""What the tolerance classes stand for, the most serious first."""


@dataclass(frozen=True, slots=True)
class LateLine:
    title: str
    subject: str
    site: str
    due: str
    ago: str
    state: str
    minutes: str
    visit: str
    sheet: str
    key: str


@dataclass(frozen=True, slots=True)
class LateGroup:
    concern: str
    lines: tuple[LateLine, ...]


@dataclass(frozen=True, slots=True)
class CallLine:
    day: str
    times: str
    site: str
    sheet: str
    who: str
    work: str


@dataclass(frozen=True, slots=True)
class BacklogLine:
    site: str
    late: str
    hours: str
    open: str


@dataclass(frozen=True, slots=True)
class TodayPage:
    today: str
    summary: tuple[str, ...]
    late: tuple[LateGroup, ...]
    calls_today: tuple[CallLine, ...]
    calls_this_week: tuple[CallLine, ...]
    due_elsewhere: tuple[LateLine, ...]
    on_site: str
    cooling: MarginTable | None
    assessed: bool
    orders: tuple[OutageOrder, ...]
    plants: tuple[PlantLine, ...]
    backlog: tuple[BacklogLine, ...]
    backlog_said: str
    work: Chart
    estimate: str


@dataclass(frozen=True, slots=True)
class Sheets:
    """Pages by the key of a visit and by the code of a tank."""

    visits: Mapping[str, str]
    tanks: Mapping[str, str]


def today_page(
    plan: Plan,
    lookup: Lookup,
    assessments: Sequence[Assessment],
    backlog: Backlog,
    sheets: Sheets,
    today: date,
) -> TodayPage:
    """The page of the whole fleet on one day, for the people who run it."""
    open_tasks = [task for task in plan.tasks if task.state not in CLOSED]
    visitors = [task for task in open_tasks if task.performed_by is PerformedBy.VISITOR]
    late = [task for task in visitors if task.state in LATE]
    hot = [row for row in assessments if row.scenario is Scenario.HOT_DAY]
    wanting = sorted((row for row in hot if row.state in WANTING), key=urgency)
    lines = _Lines(plan, lookup, sheets, today)
    calls = sorted(
        (visit for visit in plan.visits if today <= visit.day <= today + WEEK),
        key=lambda visit: (visit.day, visit.technician or "", visit.start),
    )
    return TodayPage(
        today=long_day(today),
        summary=tuple(_summary(late, calls, wanting, hot, lookup, today)),
        late=_late_groups(late, lines),
        calls_today=tuple(lines.call(visit) for visit in calls if visit.day == today),
        calls_this_week=tuple(lines.call(visit) for visit in calls if visit.day != today),
        due_elsewhere=tuple(
            lines.task(task)
            for task in sorted(visitors, key=lambda task: (task.due, task.key))
            if task.state not in LATE and task.due <= today + WEEK and task.visit not in plan.visit_by_key
        ),
        on_site=_on_site(open_tasks, today),
        cooling=margin_table("margin", wanting, lookup, sheets.tanks) if wanting else None,
        assessed=bool(hot),
        orders=outage_orders(hot, lookup, sheets.tanks),
        plants=plants(hot, lookup),
        backlog=_backlog(visitors, lookup),
        backlog_said=_backlog_said(backlog),
        work=work_chart(
            "work", "Work of the fleet, week by week", done_minutes(lookup.fleet.history, lookup, today),
            planned_minutes(visitors, plan, today), today,
        ),
        estimate=NOT_A_CERTIFICATE,
    )  # fmt: skip


class _Lines:
    """Rows about tasks and visits on one day."""

    def __init__(self, plan: Plan, lookup: Lookup, sheets: Sheets, today: date) -> None:
        self.plan, self.lookup, self.sheets, self.today = plan, lookup, sheets, today

    def task(self, task: Task) -> LateLine:
        visit = self.plan.visit_by_key.get(task.visit or "")
        days = (self.today - task.due).days
        return LateLine(
            title=task.title,
            subject=self.lookup.label(task.subject),
            site=self.lookup.name(task.site) if task.site and task.site != task.subject else "",
            due=near_day(task.due, self.today),
            ago=f"{count_words(days, 'day')} ago" if days > 0 else "",
            state=plain(task.state),
            minutes=minutes_words(task.minutes),
            visit=near_day(visit.day, self.today) if visit else "no visit",
            sheet=self.sheets.visits.get(visit.key, "") if visit else "",
            key=task.key,
        )

    def call(self, visit: Visit) -> CallLine:
        zone = self.lookup.zone(visit.site)
        return CallLine(
            day=near_day(visit.day, self.today),
            times=f"{clock(visit.start, zone)} to {clock(visit.end, zone)}",
            site=self.lookup.name(visit.site),
            sheet=self.sheets.visits.get(visit.key, ""),
            who=self.lookup.people(visit),
            work=f"{count_words(len(visit.tasks), 'task')}, {minutes_words(visit.minutes)}",
        )


def _late_groups(late: Sequence[Task], lines: _Lines) -> tuple[LateGroup, ...]:
    groups = []
    for tolerance, concern in CONCERNS.items():
        mine = sorted((task for task in late if task.tolerance is tolerance), key=lambda task: (task.due, task.key))
        if mine:
            groups.append(LateGroup(concern, tuple(lines.task(task) for task in mine)))
    return tuple(groups)


def _summary(
    late: Sequence[Task],
    calls: Sequence[Visit],
    wanting: Sequence[Assessment],
    hot: Sequence[Assessment],
    lookup: Lookup,
    today: date,
) -> list[str]:
    if late:
        serious = sum(task.tolerance is Tolerance.A0 for task in late)
        work = minutes_words(sum(task.minutes for task in late))
        first = f", {serious} of them for the safety of people" if serious else ""
        lines = [f"{capital(count_words(len(late), 'task is', 'tasks are'))} late{first}: {work} of work."]
    else:
        lines = ["Nothing is late."]
    now = sum(visit.day == today for visit in calls)
    lines.append(
        f"{capital(count_words(now, 'visit')) if now else 'No visit'} today, "
        f"{len(calls) - now or 'none'} in the six days after."
    )
    if hot and wanting:
        lines.append(
            f"{capital(count_words(len(wanting), 'tank has', 'tanks have'))} too little to spare on a hot day, "
            f"{lookup.label(wanting[0].tank)} the least."
        )
    elif hot:
        lines.append("Every tank holds on a hot day with something to spare.")
    falling = crossing(hot, lambda row: row.hours.ac_lost)
    if falling:
        row, hours = falling[0]
        lines.append(
            f"Without air conditioning {lookup.label(row.tank)} would be the first at its limit, "
            f"within {soonest_words(hours)}."
        )
    return lines


def _on_site(tasks: Sequence[Task], today: date) -> str:
    mine = [task for task in tasks if task.performed_by is PerformedBy.SITE_STAFF and task.due <= today]
    if not mine:
        return "Nothing is due today on the checklists of the people on site."
    sites = len({task.site for task in mine})
    return (
        f"On the checklists of the people on site {count_words(len(mine), 'item is', 'items are')} due by today, "
        f"at {count_words(sites, 'site')}."
    )


def _backlog(tasks: Sequence[Task], lookup: Lookup) -> tuple[BacklogLine, ...]:
    """Work not done, by site, the most first."""
    sites: dict[str | None, list[Task]] = defaultdict(list)
    for task in tasks:
        sites[task.site].append(task)
    found = []
    for site, mine in sites.items():
        late = [task for task in mine if task.state in LATE]
        minutes = sum(task.minutes for task in late)
        ready = sum(task.minutes for task in mine if task.state in READY)
        if late:
            name = lookup.name(site) if site else "No site"
            line = BacklogLine(
                name, count_words(len(late), "task"), minutes_words(minutes), minutes_words(ready) if ready else "-"
            )
            found.append((-minutes, name, line))
    return tuple(line for _, _, line in sorted(found, key=lambda item: item[:2]))


def _backlog_said(backlog: Backlog) -> str:
    text = f"Late work amounts to {minutes_words(backlog.minutes)}." if backlog.minutes else "There is no backlog."
    if not backlog.becoming_late:
        return f"{text} If nobody came until {short_day(backlog.until)}, nothing more would become late."
    text += (
        f" If nobody came until {short_day(backlog.until)}, "
        f"{count_words(len(backlog.becoming_late), 'more task')} would become late"
    )
    if backlog.passing_limit:
        past = len(backlog.passing_limit)
        text += f" and {past} would pass {'its' if past == 1 else 'their'} last day"
    serious = sum(task.tolerance in (Tolerance.A0, Tolerance.A) for task in backlog.becoming_late)
    return f"{text}, {serious or 'none'} of them for the safety of people or animals."
