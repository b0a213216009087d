"""What people decided about tasks, and what they put right, as it is told back to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from fleet.outputs.columns import Row, in_columns, typed
from fleet.outputs.due_text import when_visited
from fleet.outputs.lookup import Lookup
from fleet.outputs.records import task_record
from fleet.outputs.words import day_words, plain, short_day
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task
from fleet.values.vocabulary import TaskState

NO_CATALOGUE = Catalogue((), (), (), ())
LONGEST = 200
"""Characters of a cell, where whole sentences may stand."""


def decided_text(before: Task, after: Task, plan: Plan, fleet: Fleet) -> str:
    """The task, what was decided, and which visit now holds it."""
    lookup = Lookup(fleet, NO_CATALOGUE)
    what = f"{after.key}  {typed(after.title)}: {typed(lookup.label(after.subject))}"
    if after.state is TaskState.WITHDRAWN:
        return f"{what}\n  withdrawn: nobody is to do it; the next of its kind is planned as before"
    word = "put off" if after.state is TaskState.PUT_OFF else "put back"
    visit = plan.visit_by_key.get(after.visit or "")
    lines = [what, f"  {word} from {day_words(before.due)} to {day_words(after.due)}"]
    lines.append(f"  visit: {when_visited(after, visit, plan, lookup)}")
    return "\n".join(lines)


def decided_record(before: Task, after: Task, fleet: Fleet) -> dict[str, Any]:
    """The same for machines."""
    return {"before": task_record(before, fleet), "after": task_record(after, fleet)}


def decisions_text(decisions: Sequence[Mapping[str, Any]]) -> str:
    """What people decided about a task, latest first; empty where nobody decided anything. Each as `decision_record`
    gives it."""
    rows: list[Row] = []
    for one in decisions:
        was, now = (short_day(date.fromisoformat(one[name])) for name in ("due_before", "due_after"))
        days = f"from {was} to {now}" if was != now else ""
        approver = f", approved by {one['approver']}" if one["approver"] else ""
        word = "put back" if one["state"] not in (TaskState.PUT_OFF, TaskState.WITHDRAWN) else plain(one["state"])
        rows.append(
            [short_day(date.fromisoformat(one["at"][:10])), word, days, f"{one['who']}{approver}: {one['reason']}"]
        )
    return "\n".join(["Decided:", *in_columns(rows, indent=2, longest=LONGEST)]) if rows else ""


def decision_record(
    at: datetime, who: str, reason: str, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> dict[str, Any]:
    """One decision about a task out of the trail."""
    was, now = before or {}, after or {}
    return {
        "at": at.isoformat(),
        "who": who,
        "reason": reason,
        "approver": now.get("approver"),
        "state": now.get("state"),
        "due_before": was.get("due"),
        "due_after": now.get("due"),
    }


def corrected_text(file: str, before: Mapping[str, str], after: Mapping[str, str] | None) -> str:
    """The row, and every cell that differs; of a row that was withdrawn every cell it had."""
    if after is None:
        rows: list[Row] = [[name.replace("_", " "), value] for name, value in before.items() if value]
        lines = [f"Withdrawn from {file}; it stays on the trail:"]
        return "\n".join([*lines, *in_columns(rows, indent=2, longest=LONGEST), "", PLAN_FOLLOWS])
    changed: list[Row] = [
        [name.replace("_", " "), before[name] or "empty", "to", after[name] or "empty"]
        for name in before
        if before[name] != after[name]
    ]
    if not changed:
        return f"Nothing changed: {file} said so already."
    kept = [value for name, value in before.items() if value and before[name] == after[name]][:3]
    lines = [f"Corrected in {file}, {typed(', '.join(kept), LONGEST)}:"]
    return "\n".join([*lines, *in_columns(changed, indent=2, longest=LONGEST), "", PLAN_FOLLOWS])


PLAN_FOLLOWS = "`fleet plan` shows what follows from it."


def corrected_record(file: str, before: Mapping[str, str], after: Mapping[str, str] | None) -> dict[str, Any]:
    """The cells that differ, before and after; `after` is null for a row that was withdrawn."""
    if after is None:
        return {"file": file, "before": dict(before), "after": None}
    names = [name for name in before if before[name] != after[name]]
    return {
        "file": file,
        "before": {name: before[name] for name in names},
        "after": {name: after[name] for name in names},
    }
