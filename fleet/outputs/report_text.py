"""What follows from an event that was reported: the work it causes, and when to stop and call."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

from fleet.outputs.cleaning import clean
from fleet.outputs.columns import Row, in_columns, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.people import rows_of_stop_rules
from fleet.outputs.records import task_record
from fleet.outputs.words import DEFERENCE, day_words, near_day, plain
from fleet.values.catalogue import Catalogue, StopRule
from fleet.values.fleet import Fleet
from fleet.values.plan import Task
from fleet.values.register import Event
from fleet.values.vocabulary import PerformedBy

LINE_WIDTH = 100


def report_text(
    event: Event,
    tasks: Sequence[Task],
    stops: Sequence[StopRule],
    fleet: Fleet,
    catalogue: Catalogue,
    *,
    known_before: bool,
) -> str:
    """The event as it is on record, the tasks it causes by due day, and the stop rules with the site's numbers."""
    lookup = Lookup(fleet, catalogue)
    what = f"{plain(event.event)} on {day_words(event.on)}: {typed(lookup.label(event.subject))}"
    lines = [f"Already on record: {what}" if known_before else f"Recorded: {what}"]
    if tasks:
        ordered = sorted(tasks, key=lambda task: (task.due, task.order, task.key))
        rows: list[Row] = [
            [task.key, near_day(task.latest, event.on), task.title, lookup.label(task.subject), _who(task)]
            for task in ordered
        ]
        lines += ["", "This causes, to be done by the day shown:", *in_columns(rows, indent=2)]
    elif not known_before:
        lines.append("The catalogue has no task that this causes.")
    for stop in rows_of_stop_rules(stops, fleet.site_of(event.subject), lookup):
        head = f"Stop and call when: {stop.sign}."
        lines += ["", *wrap(clean(head), LINE_WIDTH)]
        told = f"{stop.action.rstrip('.')}. Call: {stop.call[:1].lower()}{stop.call[1:]}" + (
            f" ({'; '.join(stop.numbers)})" if stop.numbers else ""
        )
        lines += wrap(clean(f"{told}."), LINE_WIDTH, initial_indent="  ", subsequent_indent="  ")
    if stops:
        lines += ["", DEFERENCE]
    return "\n".join(lines)


def _who(task: Task) -> str:
    return "people on site" if task.performed_by is PerformedBy.SITE_STAFF else task.skill


def report_record(event: Event, tasks: Sequence[Task], stops: Sequence[StopRule], fleet: Fleet) -> dict[str, Any]:
    """The same for machines."""
    return {
        "subject": event.subject,
        "event": str(event.event),
        "on": event.on.isoformat(),
        "by": event.by,
        "note": event.note,
        "tasks": [task_record(task, fleet) for task in tasks],
        "stop_and_call": [
            {"number": row.number, "sign": row.sign, "action": row.action, "call": row.call} for row in stops
        ],
    }
