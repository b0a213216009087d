"""From the code of any subject up to its site and its client, through the references of the rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import TypeVar

PARENT_FIELDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "sites": ("code", ("client",)),
    "rooms": ("code", ("site",)),
    "tanks": ("code", ("room",)),
    "equipment": ("code", ("tank", "site")),
    "placements": ("device", ("room", "stand_of")),
    "duties": ("device", ("tank",)),
}
"""File → (field with the subject, fields with what it stands in). Columns go by the names of these fields."""

Found = TypeVar("Found")


class Whereabouts:
    """What stands in what. `find` looks a thing up for the subject itself, else for what it stands in, and so on up."""

    def __init__(self) -> None:
        self._parents: defaultdict[str, dict[str, None]] = defaultdict(dict)

    def learn(self, file: str, get: Callable[[str], str | None]) -> None:
        """Takes in one row of `file`; `get` gives the text of a field, None or empty for an unknown one."""
        if file not in PARENT_FIELDS:
            return
        subject_field, parent_fields = PARENT_FIELDS[file]
        subject = get(subject_field)
        for parent in map(get, parent_fields):
            if subject and parent:
                self._parents[subject][parent] = None

    def find(self, subject: str, known: Mapping[str, Found]) -> Found | None:
        """The nearest entry of `known` at or above `subject`. Without one, the entry that all of `known` agree on."""
        level, seen = [subject], {subject}
        while level:
            for code in level:
                if code in known:
                    return known[code]
            level = [parent for code in level for parent in self._parents.get(code, ()) if parent not in seen]
            seen.update(level)
        values = set(known.values())
        return values.pop() if len(values) == 1 else None
