"""Why a task exists and why on that day, in the order in which it was worked out."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from fleet.outputs.cleaning import clean
from fleet.outputs.columns import Row, in_columns, typed
from fleet.outputs.due_text import when_visited
from fleet.outputs.lookup import Lookup
from fleet.outputs.text import LINE_WIDTH, MOST_ROWS, NO_CATALOGUE, and_more
from fleet.outputs.words import (
    basis_words,
    count_words,
    how_often,
    in_display_units,
    long_day,
    minutes_words,
    near_day,
    plain,
    short_day,
    span_of_days,
)
from fleet.values.catalogue import TaskRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Needed, Placement, Plan, Task
from fleet.values.register import ServiceRecord
from fleet.values.vocabulary import PerformedBy


def why_text(
    task: Task,
    rule: TaskRule,
    history: Sequence[ServiceRecord],
    fleet: Fleet,
    plan: Plan,
    placement: Placement | None = None,
) -> str:
    """Where a task comes from and why it falls on its day, in the order in which it was worked out."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    lines = [
        f"{task.key}  {typed(task.title)}",
        typed(lookup.label(task.subject)) + (f" at {typed(lookup.label(task.site))}" if task.site else ""),
        "",
        f"Why: {clean(in_display_units(task.cause.text, lookup.display(task.site)))}",
    ]
    facts: list[Row] = [
        ["Due", f"{long_day(task.due)}, {plain(task.state)}"],
        ["May be done", f"from {short_day(task.earliest)} to {short_day(task.latest)} (class {task.tolerance})"],
    ]
    if rule.interval is not None:
        facts.append(["Usual interval", how_often(rule.interval)])
    for factor in task.factors:
        facts.append([f"x {factor.multiplier:g}", f"{plain(factor.name)}: {factor.reason}"])
    if task.interval_days is not None:
        facts.append(["Interval here", span_of_days(task.interval_days)])
    facts.append(["Last done", "never on record" if task.follows is None else short_day(task.follows)])
    people = count_words(task.persons, "person", "persons")
    facts.append(["Work", f"{minutes_words(task.minutes)}, {people}, skill {task.skill}"])
    facts.append(["In a visit", _visit_words(task, plan, lookup)])
    facts.append(["Rule", rule.id])
    lines += [*in_columns(facts, indent=2), ""]
    unplaced = next((item.text for item in plan.unplaced if item.key == task.key), None)
    if unplaced is not None:
        lines += [*wrap(clean(f"In no visit: {unplaced}"), LINE_WIDTH, subsequent_indent="  "), ""]
    if placement is not None:
        lines += _placement_lines(task, placement, plan, lookup)
    lines.append(f"Basis: {basis_words(rule.basis, rule.source)}")
    if history:
        lines += ["", "Done before:", *in_columns([_record_row(record) for record in history[:MOST_ROWS]], indent=2)]
        lines += and_more(len(history))
    return "\n".join(lines).replace("\N{MINUS SIGN}", "-")


def _visit_words(task: Task, plan: Plan, lookup: Lookup) -> str:
    """Which visit holds a task, on what day and by whom."""
    if task.performed_by is PerformedBy.SITE_STAFF:
        return "no: on the checklist of the people on site"
    visit = plan.visit_by_key.get(task.visit or "")
    if visit is None:
        return "no"
    return f"{visit.key}, {when_visited(task, visit, plan, lookup)}"


def _placement_lines(task: Task, placement: Placement, plan: Plan, lookup: Lookup) -> list[str]:
    """Whole sentences, because a table would cut them."""
    lines = []
    for title, clauses in (("That day", placement.why_day), ("Who", placement.who)):
        if clauses:
            lines += wrap(clean(f"{title}: {'; '.join(clauses)}."), LINE_WIDTH, subsequent_indent="  ")
    if placement.needs:
        lines.append("Needs first:")
        for one in placement.needs:
            words = clean(_needed_words(one, task, plan, lookup))
            lines += wrap(words, LINE_WIDTH, initial_indent="  ", subsequent_indent="    ")
    return [*lines, ""] if lines else []


def _needed_words(one: Needed, task: Task, plan: Plan, lookup: Lookup) -> str:
    """What it is, and when it is or was done."""
    words = one.title if one.subject is None else f"{one.title}: {lookup.label(one.subject)}"
    done = f"done {near_day(one.done_on, plan.today)}" if one.done_on is not None else "never recorded"
    planned = f"{one.key}, planned {near_day(one.day, plan.today)}" if one.day is not None else str(one.key)
    match one.how:
        case "in date":
            until = f", in date until {near_day(one.until, plan.today)}" if one.until is not None else ""
            return f"{words}; {done if one.done_on is not None else 'as good as new'}{until}"
        case "comes first" if one.visit is not None and one.visit == task.visit:
            return f"{words}; before it in the same visit ({one.key})"
        case "comes first":
            return f"{words}; waits for {planned}"
        case "comes later":
            return f"{words}; {done}, comes later ({planned}), as this cannot wait"
        case "in no visit":
            return f"{words}; {done}, in no visit itself ({one.key})"
        case _:
            return f"{words}; not on record and not planned"


def _record_row(record: ServiceRecord) -> Row:
    return [
        short_day(record.done_on),
        plain(record.finding) if record.finding else "",
        minutes_words(record.minutes) if record.minutes is not None else "",
        record.by or "",
        record.note or "",
    ]
