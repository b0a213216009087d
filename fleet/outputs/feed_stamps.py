"""Stamps and counts for calendar entries: they move exactly when what a reader sees has changed, and never back.

The revisions of tasks and visits alone cannot tell: an entry also shows names of sites, tanks and people, and words of
this program. So what each entry last said is remembered as a digest (RFC 5545, 3.8.7.3 and 3.8.7.4).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fleet.outputs.calendar import Entry, content_digest, schedule_text
from fleet.values.feeds import ItemStamp

SHARED, PERSONAL = "all", "technician"
"""Audiences: what a technician's own feed shows blocks the time and may ring."""

ONE_SECOND = timedelta(seconds=1)


class StampBook:
    """Gives stamps to the entries of one run. `news` are the stamps that are to be remembered for the next one."""

    def __init__(self, known: Mapping[tuple[str, str], ItemStamp], now: datetime) -> None:
        self._known = known
        self._now = now.astimezone(UTC).replace(microsecond=0)
        self._given: dict[tuple[str, str], Entry] = {}
        self.news: dict[tuple[str, str], ItemStamp] = {}

    def stamped(self, entry: Entry, audience: str = SHARED) -> Entry:
        """The entry with its stamps; its own (those of the record) for content seen for the first time.

        A personal variant counts as its shared one does, which has to come first.
        """
        key = (entry.uid, audience)
        if key not in self._given:
            shared = self._given.get((entry.uid, SHARED))
            stamp = self._stamp(entry, audience, None if shared is None else shared.sequence)
            if stamp != self._known.get(key):
                self.news[key] = stamp
            self._given[key] = replace(
                entry, sequence=stamp.sequence, created_at=stamp.created_at, modified_at=stamp.modified_at
            )
        return self._given[key]

    def _stamp(self, entry: Entry, audience: str, sequence: int | None) -> ItemStamp:
        digest, schedule = content_digest(entry), schedule_text(entry)
        before = self._known.get((entry.uid, audience))
        recorded_at = entry.modified_at.astimezone(UTC).replace(microsecond=0)
        if before is None:
            modified_at = min(recorded_at, self._now)
            created_at = min(entry.created_at.astimezone(UTC).replace(microsecond=0), modified_at)
            count = entry.sequence if sequence is None else sequence
            return ItemStamp(entry.uid, audience, digest, schedule, count, created_at, modified_at)
        if digest == before.digest and sequence in (None, before.sequence):
            return before
        if sequence is None:
            moved = schedule != before.schedule
            sequence = max(entry.sequence, before.sequence + 1) if moved else before.sequence
        later = recorded_at if before.modified_at < recorded_at <= self._now else self._now
        return replace(
            before,
            digest=digest,
            schedule=schedule,
            sequence=sequence,
            # Two changes within a second, or a clock that was set back, must not make the later one look older.
            modified_at=max(later, before.modified_at + ONE_SECOND),
        )
