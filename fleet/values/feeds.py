"""What is remembered of calendar feeds from one export to the next, so that calendars can tell new from old."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True)
class ItemStamp:
    """What an entry last said, how often it moved and when it changed.

    `audience` tells variants of one entry apart that differ by reader. `digest` stands for the content and `schedule`
    is time and status. Instants are whole seconds in UTC.
    """

    uid: str
    audience: str
    digest: str
    schedule: str
    sequence: int
    created_at: datetime
    modified_at: datetime


@dataclass(frozen=True)
class FeedMemory:
    """Stamps by UID and audience, and the name that each feed was first given, by file name."""

    stamps: Mapping[tuple[str, str], ItemStamp] = field(default_factory=dict)
    titles: Mapping[str, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.stamps or self.titles)
