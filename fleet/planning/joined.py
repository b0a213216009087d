"""One piece of work for everything that asks for it at the same time, and what is said of it.

Two calls of one rule on one subject are open together where one day suits both, or where the first is past its limit
and the second has begun: whoever does the work then has answered both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from fleet.planning.margins import Margins
from fleet.planning.recurrence import Window
from fleet.planning.situations import NAMES_APART, STANDS_FOR, Call, Numbers
from fleet.planning.words import sentence
from fleet.values.plan import Cause, Task
from fleet.values.vocabulary import CauseKind


def told(
    kind: CauseKind,
    clauses: Sequence[str],
    numbers: Numbers,
    *,
    look: str = "",
    more_looks: Sequence[str] = (),
    changed_on: Sequence[date] = (),
    tank: str | None = None,
    margins: Margins,
    before: Task | None,
) -> Cause:
    """The cause of work that the clauses ask for, the first of them first: with what the changes did to the tank's
    margin, from before the first to after the last. `look` says which look it is, where it is not the first;
    `more_looks` which others it stands for; `before` is the same work in the plan before."""
    kept = before.cause.numbers if before is not None else {}
    words, moved = margins.over(tank, changed_on, kept) if changed_on and tank is not None else ("", {})
    first, *others = dict.fromkeys(clauses)
    text = [sentence(look)] if look else []
    if words and not others:
        first, words = f"{first}: {words}", ""
    text.append(sentence(first))
    also = [*others, *dict.fromkeys(more_looks)]
    if also:
        text.append(sentence(f"also: {'; '.join(also)}"))
    if words:
        text.append(sentence(f"together: {words}"))
    return Cause(kind, " ".join(text), {**numbers, **moved})


def joined(
    calls: Sequence[Call], before: Mapping[str, Task], tank: str | None, margins: Margins, today: date
) -> list[Call]:
    """The calls, those that are open together as one. It has the name, and so the key, that the plan before had for
    any of them, else that of the earliest."""
    groups: list[list[Call]] = []
    for call in sorted(calls, key=lambda one: (one.window.latest, one.window.earliest, one.occurrence)):
        if groups and call.window.earliest <= max(groups[-1][0].window.latest, today):
            groups[-1].append(call)
        else:
            groups.append([call])
    return [group[0] if len(group) == 1 else _as_one(group, before, tank, margins) for group in groups]


def _as_one(group: Sequence[Call], before: Mapping[str, Task], tank: str | None, margins: Margins) -> Call:
    """`group` in order of its last days."""
    ordered = sorted(group, key=lambda one: (one.window.earliest, one.window.due, one.occurrence))
    names = [one.occurrence for one in ordered]
    first = ordered[0]
    name = next((one for one in names if one in before), names[0])
    cause = told(
        first.cause.kind,
        [clause for one in ordered for clause in one.clauses],
        first.cause.numbers,
        look=first.look,
        more_looks=[one.look for one in ordered if one.look and not first.look],
        changed_on=[day for one in ordered for day in one.changed_on],
        tank=tank,
        margins=margins,
        before=before.get(name),
    )
    return Call(
        name,
        _common_window([one.window for one in group]),
        replace(cause, numbers={**cause.numbers, STANDS_FOR: NAMES_APART.join(names)}),
        tuple(clause for one in ordered for clause in one.clauses),
        tuple(day for one in ordered for day in one.changed_on),
        first.look,
        tuple(names),
    )


def _common_window(windows: Sequence[Window]) -> Window:
    """What suits all of them; where nothing does, for the first is past its limit, the limits of that."""
    earliest, latest = max(one.earliest for one in windows), min(one.latest for one in windows)
    due = min(one.due for one in windows)
    if earliest <= latest:
        due = max(due, earliest)
    return Window(min(earliest, due), due, latest)
