"""Takes in what happened (an outage, a storm, a death, a leak), and says what follows from it."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from datetime import date, datetime

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.register_files import row_from_cells
from fleet.services.change import newly_caused, plan_of
from fleet.services.context import context_of
from fleet.thermal.assess import assess
from fleet.values.catalogue import Catalogue, StopRule
from fleet.values.fleet import Fleet, snapshot
from fleet.values.plan import Task
from fleet.values.register import Event, RegisterRows


@dataclass(frozen=True, slots=True)
class EventReported:
    """The event as it is on record, whether it was there before, what it causes, and when to stop and call."""

    fleet: Fleet
    catalogue: Catalogue
    event: Event
    known_before: bool
    tasks: tuple[Task, ...]
    stop_rules: tuple[StopRule, ...]


def report_event(
    url: str, subject: str, event: str, *, on: date, by: str, note: str | None, today: date, now: datetime
) -> EventReported:
    """Writes the event and works out the tasks that it causes; the plan itself is left for the next planning.

    An event of the same kind on the same subject and day is one event: reported again, it takes the new note and keeps
    what was written before where there is none. Raises NotFound for an unknown subject, BadInput for an unknown kind of
    event or a day to come.
    """
    if on > today:
        raise BadInput(f"on {on}: expected a day up to today, {today}: an event is reported when it has happened")
    with Register.open(url, read_only=True) as register:
        rows, saved, overrides = register.rows(), register.saved_plan(), register.rule_overrides()
    context = context_of(rows)
    if subject not in context.known:
        near = difflib.get_close_matches(subject, list(context.known), n=1)
        raise NotFound(f"nothing has the code {subject!r}" + (f"; is it {near[0]}?" if near else ""))
    cells = {"subject": subject, "event": event, "on": on.isoformat(), "by": by, "note": note or ""}
    row: Event = row_from_cells("events", cells, context.known, context.time_zones, context.words)
    standing = next((old for old in rows.events if _key(old) == _key(row)), None)
    if standing is not None and note is None:
        row = standing
    changed = replace(rows, events=(*(old for old in rows.events if _key(old) != _key(row)), row))
    catalogue = read_catalogue()
    fleet = snapshot(changed, today)
    assessments = assess(fleet, catalogue.class_by_code)
    plans = [plan_of(some, catalogue, assessments, saved, overrides, today) for some in (rows, changed)]
    with Register.open(url) as register:
        register.save_rows(RegisterRows(events=(row,)), who=by, now=now, reason=f"{row.event} reported")
    tasks = newly_caused(*plans)
    stops = catalogue.stop_rules_on(row.event, (task.rule for task in tasks))
    return EventReported(fleet, catalogue, row, standing is not None, tasks, stops)


def _key(event: Event) -> tuple[str, str, date]:
    return event.subject, event.event, event.on
