"""What a terminal shows: margins, what is due, what changed, and why. Plain lines, the urgent first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import inf
from pathlib import Path
from textwrap import fill, wrap

from fleet.outputs.cleaning import clean
from fleet.outputs.columns import BOLD, FAINT, RED, YELLOW, Cell, Row, in_columns, typed
from fleet.outputs.due_text import tally
from fleet.outputs.lookup import Lookup
from fleet.outputs.margin_text import what_it_rests_on
from fleet.outputs.words import (
    LATE,
    NOT_A_CERTIFICATE,
    SCENARIO_WORDS,
    STATE_MEANING,
    STATE_ORDER,
    WANTING,
    capital,
    clock,
    count_words,
    day_words,
    long_day,
    margin_words,
    minutes_words,
    near_day,
    plain,
    short_day,
    soonest_words,
    spare_words,
)
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, PlanChange, PlanChanges, Task
from fleet.values.vocabulary import MarginState, PerformedBy, Scenario, TaskState

NO_CATALOGUE = Catalogue((), (), (), ())
STYLES: Mapping[str, str] = {
    MarginState.TRIPS: RED,
    MarginState.SHORT: RED,
    MarginState.THIN: YELLOW,
    MarginState.UNKNOWN: YELLOW,
    TaskState.PAST_LIMIT: RED,
    TaskState.LATE: RED,
    TaskState.DUE: BOLD,
}
LINE_WIDTH = 100
MOST_ROWS = 12
"""Rows of a short list before it says how many more there are."""


def margin_table(assessments: Sequence[Assessment], fleet: Fleet, *, colour: bool = False) -> str:
    """A table for each scenario, the most urgent tank first, temperatures in the units of each tank's client; then what
    was assumed, and for a single tank its hours and notes."""
    if not assessments:
        return "No tank on record."
    lookup = Lookup(fleet, NO_CATALOGUE)
    lines: list[str] = []
    for scenario in Scenario:
        rows = sorted((row for row in assessments if row.scenario is scenario), key=_urgency)
        if rows:
            counts = Counter(row.state for row in rows)
            told = ", ".join(f"{counts[state]} {plain(state)}" for state in STATE_ORDER if counts[state])
            lines += [f"{capital(SCENARIO_WORDS[scenario])}: {told}", ""]
            heading: Row = [
                Cell(text, FAINT)
                for text in ("tank", "state", "margin", "needs", "has", "less largest",
                             "peak", "limit", "cooling lost", "A/C lost")
            ]  # fmt: skip
            lines += in_columns([heading, *(_margin_row(row, lookup) for row in rows)], indent=2, colour=colour)
            lines.append("")
    lines += what_it_rests_on(assessments, lookup, LINE_WIDTH)
    present = {row.state for row in assessments}
    notes = [f"{capital(plain(state))}: {STATE_MEANING[state]}." for state in STATE_ORDER if state in present]
    notes.append("Margin, needs and has are on the safe side: the most heat against the least capacity.")
    notes.append(
        "Less largest: the margin left when the device that gives most fails, with what fails together with it. "
        "Last columns: the soonest time to the limit when that is lost."
    )
    notes.append(NOT_A_CERTIFICATE)
    return "\n".join([*lines, *(fill(note, LINE_WIDTH) for note in notes)])


def _urgency(row: Assessment) -> tuple[int, float, float, str]:
    """State, then margin as it is shown, then the soonest time to the limit by any failure. A tank that is short with
    no device at all has nothing of what it needs."""
    bare = -1.0 if row.state is MarginState.SHORT else 0.0
    margin = round(row.margin.low, 2) if row.margin else bare
    failures = (row.hours.all_cooling_lost, row.hours.ac_lost)
    soonest = min((hours.low for hours in failures if hours and hours.low is not None), default=inf)
    return STATE_ORDER.index(row.state), margin, soonest, row.tank


def _margin_row(row: Assessment, lookup: Lookup) -> Row:
    display = lookup.display(lookup.fleet.site_of(row.tank))
    return [
        row.tank,
        Cell(plain(row.state), STYLES.get(row.state, "")),
        margin_words(row.margin),
        Cell(_need(row, display), right=True),
        Cell("-" if row.available_w is None else display.power(row.available_w.low), right=True),
        Cell(spare_words(row.n_minus_1_margin), right=True),
        Cell(display.temperature(row.peak_c), right=True),
        Cell(display.temperature(row.limit_c), right=True),
        Cell(soonest_words(row.hours.all_cooling_lost), right=True),
        Cell(soonest_words(row.hours.ac_lost), right=True),
    ]


def _need(row: Assessment, display: Display) -> str:
    return display.power(row.required_w) if row.required_w > 0 else "none"


def visits_table(plan: Plan, fleet: Fleet, *, colour: bool = False) -> str:
    """The visits in order of their start, in the clock time of each site."""
    if not plan.visits:
        return "No visit is planned."
    lookup = Lookup(fleet, NO_CATALOGUE)
    rows: list[Row] = [[Cell(text, FAINT) for text in ("visit", "day", "time", "site", "technician", "tasks", "work")]]
    for visit in sorted(plan.visits, key=lambda visit: (visit.start, visit.key)):
        zone = lookup.zone(visit.site)
        rows.append(
            [
                visit.key,
                day_words(visit.day),
                f"{clock(visit.start, zone)} to {clock(visit.end, zone)}",
                lookup.label(visit.site),
                Cell(lookup.people(visit), "" if visit.technician and not lookup.lacks_second(visit) else YELLOW),
                Cell(str(len(visit.tasks)), right=True),
                Cell(minutes_words(visit.minutes), right=True),
            ]
        )
    return "\n".join(in_columns(rows, colour=colour))


def changes_text(plan: Plan) -> str:
    """How large a plan is, what differs from the one before and why, and what no visit holds."""
    visitor = [task for task in plan.tasks if task.performed_by is PerformedBy.VISITOR]
    lines = [
        f"Planned from {short_day(plan.today)} to {short_day(plan.through)}: "
        f"{count_words(len(visitor), 'task')} in {count_words(len(plan.visits), 'visit')}, "
        f"{count_words(len(plan.tasks) - len(visitor), 'checklist item')} for people on site."
    ]
    if not plan.changes:
        lines.append("Nothing has changed since the plan before.")
    elif len(plan.changes.added) >= len(plan.tasks) and not (plan.changes.moved or plan.changes.dropped):
        lines.append("Everything is new: this is the first plan.")
        return "\n".join([*lines, *_unplaced_lines(plan)])
    for word, changes in (
        ("New", plan.changes.added),
        ("Moved", plan.changes.moved),
        ("Dropped", plan.changes.dropped),
    ):
        if changes:
            lines += ["", f"{word}: {len(changes)}", *_change_lines(changes)]
    return "\n".join([*lines, *_unplaced_lines(plan)])


def published_text(edition_of: date | None, changes: PlanChanges | None, *, published: bool) -> str:
    """What calendars show beside a plan that was saved: the plan itself where it was `published`, else the edition of
    an earlier day and how the plan differs from it. `changes` are from the edition before; None: there was none."""
    if changes is None or edition_of is None:
        if published:
            return "Published: calendars show this plan until the next one is published."
        return "Nothing is published yet: calendars show the plan as saved. `fleet plan --publish` makes it firm."
    told = [
        f"{len(some)} {word}"
        for word, some in (("added", changes.added), ("moved", changes.moved), ("dropped", changes.dropped))
        if some
    ]
    counted = ", ".join(told) if told else "nothing added, moved or dropped"
    if published:
        lines = [f"Published. Since the edition of {short_day(edition_of)}: {counted}."]
    elif changes:
        lines = [
            f"Calendars still show the edition of {short_day(edition_of)}. This plan against it: {counted}.",
            "`fleet plan --publish` puts this one in its place.",
        ]
    else:
        lines = [f"Calendars show the edition of {short_day(edition_of)}; this plan does not differ from it."]
    for word, some in (("Added", changes.added), ("Moved", changes.moved), ("Dropped", changes.dropped)):
        if some:
            lines += ["", f"{word} since then: {len(some)}", *_change_lines(some[:MOST_ROWS]), *and_more(len(some))]
    return "\n".join(lines)


def _unplaced_lines(plan: Plan) -> list[str]:
    if not plan.unplaced:
        return []
    told = []
    for item in plan.unplaced:
        task = plan.task_by_key.get(item.key)
        told.append((item.key, f"{task.title}: {task.subject}" if task else "", item.text))
    return ["", f"In no visit: {len(plan.unplaced)}", *_told_with_reasons(told)]


def _told_with_reasons(rows: Iterable[tuple[str, str, str]]) -> list[str]:
    """Key and thing on one line, the reason whole below it."""
    lines = []
    for key, what, reason in rows:
        lines.append(f"  {typed(key)}  {typed(what)}")
        lines += wrap(clean(reason), LINE_WIDTH, initial_indent=" " * 12, subsequent_indent=" " * 12)
    return lines


def _change_lines(changes: Sequence[PlanChange]) -> list[str]:
    return _told_with_reasons((change.key, change.what, change.reason) for change in changes)


def and_more(count: int) -> list[str]:
    return [f"  and {count - MOST_ROWS} more (--json lists all)"] if count > MOST_ROWS else []


def done_text(closed: Sequence[Task], following: Sequence[Task | None], readings: int) -> str:
    """What was taken back, and when each comes up again."""
    rows: list[Row] = []
    for task, after in zip(closed, following, strict=True):
        comes = f"next due {day_words(after.due)}, {after.key}" if after else "no further one planned"
        rows.append([task.key, f"{task.title}: {task.subject}", "done", comes])
    lines = in_columns(rows)
    if readings:
        lines.append(f"{count_words(readings, 'reading')} recorded.")
    return "\n".join(lines)


def sheet_taken_text(
    closed: Sequence[Task], following: Sequence[Task | None], readings: int, *, known_before: int, not_done: int
) -> str:
    """How much of a sheet was new, and when the work done comes up again."""
    told = [f"{len(closed)} recorded", f"{known_before} on record already"]
    if not_done:
        told.append(f"{not_done} not done")
    first = ", ".join(told) + "."
    return "\n".join([first, "", done_text(closed, following, readings)]) if closed else first


def change_text(before: Sequence[Assessment], after: Sequence[Assessment], tasks: Sequence[Task], fleet: Fleet) -> str:
    """The margins of the tanks concerned before and after a change, and the tasks that it causes."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    earlier = {(row.tank, row.scenario): row for row in before}
    rows: list[Row] = [[Cell(text) for text in ("tank", "", "before", "", "after", "", "needs")]]
    for row in sorted(after, key=lambda row: (row.tank, row.scenario)):
        was = earlier.get((row.tank, row.scenario))
        display = lookup.display(fleet.site_of(row.tank))
        rows.append(
            [
                row.tank,
                SCENARIO_WORDS[row.scenario],
                margin_words(was.margin) if was else "not on record",
                plain(was.state) if was else "",
                margin_words(row.margin),
                plain(row.state),
                f"{_need(was, display) if was else '-'} to {_need(row, display)}",
            ]
        )
    lines = in_columns(rows) if len(rows) > 1 else ["No tank's heat balance is concerned."]
    if tasks:
        lines += ["", "This causes:"]
        due: list[Row] = [[task.key, day_words(task.due), task.title, lookup.label(task.subject)] for task in tasks]
        lines += in_columns(due, indent=2)
    return "\n".join(lines)


def demo_text(
    plan: Plan, fleet: Fleet, assessments: Sequence[Assessment], *, folder: Path, database: str, feeds: int, sheets: int
) -> str:
    """What the sample fleet is, what was found in it, and where to look."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    visitor = [task for task in plan.tasks if task.performed_by is PerformedBy.VISITOR]
    hot = sorted((row for row in assessments if row.scenario is Scenario.HOT_DAY), key=_urgency)
    wanting = [row for row in hot if row.state in WANTING]
    lines = [
        f"An invented fleet on {long_day(plan.today)}: {count_words(len(fleet.tanks), 'tank')} and "
        f"{count_words(len(fleet.devices), 'cooling device')} at {count_words(len(fleet.sites), 'site')}.",
        "",
        f"On the design hot day {count_words(len(wanting), 'tank asks', 'tanks ask')} for attention"
        + (":" if wanting else "."),
    ]
    found: list[Row] = [
        [row.tank, plain(row.state), margin_words(row.margin), lookup.name(row.tank)] for row in wanting[:MOST_ROWS]
    ]
    lines += [*in_columns(found, indent=2), *and_more(len(wanting)), ""]
    late = [task for task in visitor if task.state in LATE]
    lines.append(f"{capital(count_words(len(late), 'task is', 'tasks are'))} late" + (":" if late else "."))
    overdue: list[Row] = [
        [task.key, plain(task.state), near_day(task.due, plan.today), task.title, lookup.label(task.subject)]
        for task in late[:MOST_ROWS]
    ]
    lines += [*in_columns(overdue, indent=2), *and_more(len(late)), ""]
    lines.append(
        f"Until {short_day(plan.through)}: {tally(plan.tasks)}; {count_words(len(plan.visits), 'visit')} "
        f"for {sum(task.visit is not None for task in visitor)} of {count_words(len(visitor), 'task')}."
    )
    start: list[Row] = [
        [str(folder / "sheets" / "index.html"), "begin here, in any browser"],
        [str(folder / "sheets"), f"{count_words(sheets, 'page')}: service sheets, tank cards, checklists"],
        [str(folder / "feeds"), f"{count_words(feeds, 'calendar feed')} to subscribe to"],
        [database, "the database; ask it as of the day of the story:"],
    ]
    longest = max(len(str(row[0])) for row in start)
    lines += ["", "Where to look:", *(f"  {str(row[0]).ljust(longest)}  {row[1]}" for row in start)]
    lines.append(f"  {' ' * longest}  fleet due --database {database} --today {plan.today}")
    lines += ["", fill(NOT_A_CERTIFICATE, LINE_WIDTH)]
    return "\n".join(lines)
