"""What is remembered of calendar feeds from one export to the next."""

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from fleet.db.base import FleetModel


class FeedStampRow(FleetModel, table=True):
    """What an entry last said to one kind of reader, how often it moved and when it changed."""

    __tablename__ = "feed_stamp"
    __table_args__ = (CheckConstraint("sequence >= 0", name="sequence_range"),)

    uid: str = Field(primary_key=True)
    audience: str = Field(primary_key=True)
    digest: str
    schedule: str
    sequence: int
    created_at: datetime
    modified_at: datetime


class FeedTitleRow(FleetModel, table=True):
    """The name that a feed was first given: calendars know it by that."""

    __tablename__ = "feed_title"

    file_name: str = Field(primary_key=True)
    title: str
