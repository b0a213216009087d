"""What is due, for people: site by site in the order in which it is worked, what is late, and what soon will be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from textwrap import fill
from typing import Any

from fleet.outputs.columns import BOLD, FAINT, RED, Cell, Row, in_columns, painted, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.words import (
    CLOSED,
    LATE,
    count_words,
    long_day,
    minutes_words,
    near_day,
    plain,
    short_day,
)
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Backlog, Plan, Task, Visit
from fleet.values.vocabulary import PerformedBy, TaskState, Tolerance

NO_CATALOGUE = Catalogue((), (), (), ())
STYLES: Mapping[str, str] = {TaskState.PAST_LIMIT: RED, TaskState.LATE: RED, TaskState.DUE: BOLD}
LINE_WIDTH = 100
SAFETY = (Tolerance.A0, Tolerance.A)
MOST_NAMED = 6
"""Tasks that the look ahead names before it only counts the rest."""


def due_table(plan: Plan, fleet: Fleet, *, site_staff: bool = False, colour: bool = False) -> str:
    """The plan's tasks site by site in the order in which they are worked: late ones that no visit holds, then visit by
    visit, those with late work first, then the rest. What the people on site do is one line for each site unless
    `site_staff` asks for every item."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    tasks = [task for task in plan.tasks if task.state not in CLOSED]
    if not tasks:
        return f"{long_day(plan.today)}: nothing is due."
    groups: dict[str, list[Task]] = defaultdict(list)
    for task in tasks:
        groups[task.site or ""].append(task)
    rank = _WorkingOrder(plan).rank
    ordered = sorted(groups.items(), key=lambda item: (not _any_late(item[1]), item[0]))
    listed = {
        site: sorted(
            (task for task in own if site_staff or task.performed_by is PerformedBy.VISITOR),
            key=rank,
        )
        for site, own in ordered
    }
    # One table for all sites, so that their columns stand under each other; cut up by site afterwards.
    heading: Row = [Cell(text, FAINT) for text in ("key", "state", "due", "what", "on", "work", "visit")]
    rows = [_due_row(task, plan, lookup) for site, _ in ordered for task in listed[site]]
    table = in_columns([heading, *rows], indent=2, colour=colour)
    lines = [f"{long_day(plan.today)}: {tally(tasks)}.", *(["", table[0]] if rows else [])]
    rest = iter(table[1:])
    for site, own in ordered:
        lines += ["", painted(typed(lookup.label(site)) if site else "No site", BOLD if colour else "")]
        lines += [next(rest) for _ in listed[site]]
        theirs = [task for task in own if task.performed_by is PerformedBy.SITE_STAFF]
        if theirs and not site_staff:
            word = "and " if listed[site] else ""
            items = count_words(len(theirs), "item")
            lines.append(f"  {word}{items} on the checklist of the people on site{_late(theirs)}")
    return "\n".join(lines)


class _WorkingOrder:
    """Where each task stands in the order of work at its site."""

    def __init__(self, plan: Plan) -> None:
        self.visits = plan.visit_by_key
        self.places = {key: place for visit in plan.visits for place, key in enumerate(visit.tasks)}
        self.with_late = {task.visit for task in plan.tasks if task.visit is not None and task.state in LATE}

    def rank(self, task: Task) -> tuple[Any, ...]:
        visit = self.visits.get(task.visit or "")
        if visit is None:
            return (0 if task.state in LATE else 3, task.due, task.key)
        return (1 if visit.key in self.with_late else 2, visit.start, visit.key, self.places[task.key])


def _any_late(tasks: Iterable[Task]) -> bool:
    return any(task.state in LATE and task.performed_by is PerformedBy.VISITOR for task in tasks)


def _late(tasks: Sequence[Task]) -> str:
    late = sum(task.state in LATE for task in tasks)
    return f", {late} late" if late else ""


def tally(tasks: Sequence[Task]) -> str:
    visitor = [task for task in tasks if task.performed_by is PerformedBy.VISITOR]
    late = sum(task.state in LATE for task in visitor)
    past = sum(task.state is TaskState.PAST_LIMIT for task in visitor)
    told = [f"{late} late" + (f" ({past} past the limit)" if past else "") if late else "nothing late"]
    told.append(f"{len(visitor) - late} to come" if len(visitor) > late else "nothing to come")
    if len(tasks) > len(visitor):
        told.append(f"{count_words(len(tasks) - len(visitor), 'checklist item')} for people on site")
    return ", ".join(told)


def _due_row(task: Task, plan: Plan, lookup: Lookup) -> Row:
    visit = plan.visit_by_key.get(task.visit or "")
    return [
        task.key,
        Cell(plain(task.state), STYLES.get(task.state, "")),
        near_day(task.due, plan.today),
        task.title,
        lookup.label(task.subject),
        Cell(minutes_words(task.minutes), right=True),
        when_visited(task, visit, plan, lookup),
    ]


def when_visited(task: Task, visit: Visit | None, plan: Plan, lookup: Lookup) -> str:
    if task.performed_by is PerformedBy.SITE_STAFF:
        return "checklist"
    if visit is None:
        return "no visit"
    return f"{near_day(visit.day, plan.today)}, {lookup.people(visit)}"


def backlog_text(backlog: Backlog, fleet: Fleet) -> str:
    """The late work in hours, and what becomes late if nobody comes until the day looked ahead to."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    lines = []
    if backlog.minutes:
        lines.append(f"Backlog: {minutes_words(backlog.minutes)} of late work.")
    if not backlog.becoming_late:
        return "\n".join([*lines, f"If nobody comes until {short_day(backlog.until)}, nothing more becomes late."])
    count, past = len(backlog.becoming_late), len(backlog.passing_limit)
    text = f"If nobody comes until {short_day(backlog.until)}, "
    text += count_words(count, "more task becomes late", "more tasks become late")
    text += f" and {count_words(past, 'passes its', 'pass their')} last day" if past else ""
    safety = [task for task in backlog.becoming_late if task.tolerance in SAFETY]
    text += f"; {count_words(len(safety), 'concerns', 'concern')} life safety or animals:" if safety else ":"
    lines.append(fill(text, LINE_WIDTH))
    rows: list[Row] = [
        [task.key, near_day(task.due, backlog.until), task.title, lookup.label(task.subject)]
        for task in backlog.becoming_late[:MOST_NAMED]
    ]
    lines += in_columns(rows, indent=2)
    if count > MOST_NAMED:
        lines.append(f"  and {count - MOST_NAMED} more (--json lists all)")
    return "\n".join(lines)


def backlog_record(backlog: Backlog) -> dict[str, Any]:
    """Hours of late work, and the tasks that become late if nobody comes; the gravest class first."""
    return {
        "backlog_hours": round(backlog.minutes / 60, 2),
        "late_in_two_weeks": {
            "until": backlog.until.isoformat(),
            "count": len(backlog.becoming_late),
            "past_limit": len(backlog.passing_limit),
            "tasks": [task.key for task in backlog.becoming_late],
        },
    }
