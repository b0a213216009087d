"""Keeps what is remembered of calendar feeds: stamps of their entries, and their names."""

from __future__ import annotations

from dataclasses import asdict

from sqlalchemy import Connection, bindparam, delete, insert, select

from fleet.db.tables import METADATA
from fleet.values.feeds import FeedMemory, ItemStamp

_STAMP = METADATA.tables["feed_stamp"]
_TITLE = METADATA.tables["feed_title"]
_FIELDS = ("uid", "audience", "digest", "schedule", "sequence", "created_at", "modified_at")


def read_feed_memory(connection: Connection) -> FeedMemory:
    """Everything that is remembered."""
    stamps = (ItemStamp(*row) for row in connection.execute(select(*(_STAMP.c[name] for name in _FIELDS))))
    titles = connection.execute(select(_TITLE.c.file_name, _TITLE.c.title))
    return FeedMemory({(stamp.uid, stamp.audience): stamp for stamp in stamps}, {row[0]: row[1] for row in titles})


def save_feed_memory(connection: Connection, news: FeedMemory) -> None:
    """Remembers new stamps and names, in the place of older ones."""
    if news.stamps:
        outdated = delete(_STAMP).where(
            _STAMP.c.uid == bindparam("of_uid"), _STAMP.c.audience == bindparam("of_audience")
        )
        connection.execute(outdated, [{"of_uid": uid, "of_audience": audience} for uid, audience in news.stamps])
        connection.execute(insert(_STAMP), [asdict(stamp) for stamp in news.stamps.values()])
    if news.titles:
        outdated = delete(_TITLE).where(_TITLE.c.file_name == bindparam("of_file"))
        connection.execute(outdated, [{"of_file": name} for name in news.titles])
        connection.execute(insert(_TITLE), [{"file_name": name, "title": title} for name, title in news.titles.items()])
