"""Puts right what was entered by mistake: rows are corrected or withdrawn, never deleted; the trail says by whom."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.register_files import cells_of, row_from_cells
from fleet.planning.keys import normal_key
from fleet.services.context import CellContext, context_of
from fleet.services.reasons import require_reason
from fleet.values.register import CODED, NATURAL_KEYS, RegisterRows, ServiceRecord

CORRECTED_HERE = ("history", "readings", "events", "closures", "absences")
"""Files whose rows tell what happened. The others are facts, which `fleet change` and an import put right."""
WITHDRAWN_HERE = tuple(file for file in NATURAL_KEYS if file not in CODED)


@dataclass(frozen=True, slots=True)
class Corrected:
    """One row before and after, as the cells of its file by column; `after` is None for a row that was withdrawn."""

    file: str
    before: Mapping[str, str]
    after: Mapping[str, str] | None


def correct_row(
    url: str,
    file: str,
    words: Sequence[str],
    cells: Mapping[str, str],
    *,
    reason: str,
    who: str,
    today: date,
    now: datetime,
) -> Corrected:
    """Gives the row that `words` name other cells. With another day or subject it is withdrawn and entered anew.

    Raises NotFound, BadInput for cells that cannot be taken, StaleWrite where somebody changed the row in between.
    """
    if file not in CORRECTED_HERE:
        raise BadInput(
            f"{file}: expected one of {', '.join(CORRECTED_HERE)}; other facts are put right by `fleet change`"
        )
    require_reason(reason)
    if not cells:
        raise BadInput("nothing to correct: name the new cells as column=value, such as finding=degraded")
    with Register.open(url, read_only=True) as register:
        rows, versions = register.rows(), register.versions(file)
        context = context_of(rows)
        row = _named(register, rows, context, file, words)
        closes = register.task_key_of(_key(file, row)) if file == "history" else None
    written = cells_of(file, row)
    changed = row_from_cells(file, {**written, **cells}, context.known, context.time_zones, context.words)
    _refuse_days_to_come(changed, today)
    old, new = _key(file, row), _key(file, changed)
    if new != old and any(_key(file, other) == new for other in getattr(rows, file)):
        raise BadInput(f"{file} {' '.join(map(str, new))} is on record already: withdraw one of the two")
    part = replace(RegisterRows(), **{file: (changed,)})
    with Register.open(url) as register:
        if new == old:
            register.save_rows(part, who=who, now=now, reason=reason, expected={file: versions})
        else:
            register.withdraw(file, old, who=who, now=now, reason=reason, expected=versions[old])
            if isinstance(changed, ServiceRecord):
                keys = {} if closes is None else {(changed.subject, changed.task, changed.done_on): closes}
                register.add_service_records([changed], task_keys=keys, who=who, now=now, reason=reason)
            else:
                register.save_rows(part, who=who, now=now, reason=reason)
    return Corrected(file, written, cells_of(file, changed))


def withdraw_row(url: str, file: str, words: Sequence[str], *, reason: str, who: str, now: datetime) -> Corrected:
    """Marks the row that `words` name as entered by mistake. Raises NotFound and StaleWrite."""
    if file not in WITHDRAWN_HERE:
        raise BadInput(
            f"{file}: expected one of {', '.join(WITHDRAWN_HERE)}: what has a code of its own is never withdrawn"
        )
    require_reason(reason)
    with Register.open(url, read_only=True) as register:
        rows, versions = register.rows(), register.versions(file)
        row = _named(register, rows, context_of(rows), file, words)
    key = _key(file, row)
    with Register.open(url) as register:
        register.withdraw(file, key, who=who, now=now, reason=reason, expected=versions[key])
    return Corrected(file, cells_of(file, row), None)


def record_closing(url: str, key: str) -> ServiceRecord | None:
    """The service record that closed the task with this key, None where it is open or unknown."""
    with Register.open(url, read_only=True) as register:
        return register.record_of_task(normal_key(key))


def _key(file: str, row: Any) -> tuple[Any, ...]:
    return tuple(getattr(row, field) for field in NATURAL_KEYS[file])


def _refuse_days_to_come(row: Any, today: date) -> None:
    for field in ("done_on", "on"):
        day = getattr(row, field, None)
        if day is not None and day > today:
            raise BadInput(f"{field} {day}: expected a day up to today, {today}")


def _named(register: Register, rows: RegisterRows, context: CellContext, file: str, words: Sequence[str]) -> Any:
    """The one row whose key begins with the words. A row of history may also be named by the key of its task; a day
    stands for the readings taken on it, on the clocks of the site."""
    if file == "history" and len(words) == 1 and words[0] not in context.known:
        record = register.record_of_task(normal_key(words[0]))
        if record is None:
            raise NotFound(f"no work is recorded for the task {words[0]!r}")
        return record
    wanted = ", ".join(name.upper() for name in NATURAL_KEYS[file])
    if not words or len(words) > len(NATURAL_KEYS[file]):
        raise BadInput(f"{file}: a row is named by {wanted}")
    if words[0] not in context.known:
        near = difflib.get_close_matches(words[0], list(context.known), n=1)
        raise NotFound(f"nothing has the code {words[0]!r}" + (f"; is it {near[0]}?" if near else ""))
    found = [
        row
        for row in getattr(rows, file)
        if all(_same(part, word, context, row) for part, word in zip(_key(file, row), words, strict=False))
    ]
    if len(found) == 1:
        return found[0]
    if not found:
        raise NotFound(f"{file}: nothing on record for {' '.join(words)}; a row is named by {wanted}")
    shown = "; ".join(" ".join(_part_words(part, context, row) for part in _key(file, row)) for row in found[:5])
    more = f" and {len(found) - 5} more" if len(found) > 5 else ""
    raise BadInput(f"{file}: {len(found)} rows fit {' '.join(words)}: {shown}{more}; name one by {wanted}")


def _part_words(part: Any, context: CellContext, row: Any) -> str:
    """A part of a key as people type it, an instant on the clocks of the row's site."""
    if isinstance(part, datetime):
        zone = context.time_zones.get(getattr(row, "subject", ""))
        return part.astimezone(ZoneInfo(zone or "UTC")).strftime("%Y-%m-%dT%H:%M:%S")
    return part.isoformat() if isinstance(part, date) else str(part)


def _same(part: Any, word: str, context: CellContext, row: Any) -> bool:
    if not isinstance(part, datetime):
        return _part_words(part, context, row) == word
    if word[-1:] == "Z" or "+" in word:
        try:
            return datetime.fromisoformat(word) == part
        except ValueError:
            return False
    return _part_words(part, context, row).startswith(word.replace(" ", "T"))
