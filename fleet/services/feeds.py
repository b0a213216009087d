"""Makes the calendar feeds of the edition in force, with stamps that are remembered from one export to the next."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from fleet.db.repository import Register
from fleet.outputs.feeds import USUAL, Feed, FeedOptions, feed_files, feeds_of_plan, with_stamps
from fleet.services.edition import Edition
from fleet.services.outlook import Outlook


def feeds_in_force(
    url: str, outlook: Outlook, edition: Edition, *, today: date, now: datetime, options: FeedOptions = USUAL
) -> tuple[Feed, ...]:
    """The feeds of an edition, stamped. What is new about them is remembered; without news nothing is written."""
    feeds = feeds_of_plan(
        edition.plan,
        outlook.fleet,
        outlook.catalogue,
        edition.revisions,
        today=today,
        options=options,
        cancelled=edition.cancelled,
    )
    with Register.open(url, read_only=True) as register:
        stamped, news = with_stamps(feeds, register.feed_memory(), now)
    if news:
        with Register.open(url) as register:
            # Somebody else may have written feeds in the meantime.
            stamped, news = with_stamps(feeds, register.feed_memory(), now)
            register.save_feed_memory(news)
    return stamped


def feed_files_in_force(
    url: str, outlook: Outlook, edition: Edition, *, today: date, now: datetime, options: FeedOptions = USUAL
) -> Iterator[tuple[str, bytes]]:
    """File names and contents of the feeds of an edition, made one after the other."""
    return feed_files(feeds_in_force(url, outlook, edition, today=today, now=now, options=options))
