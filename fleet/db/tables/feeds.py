"""What is remembered of calendar feeds from one export to the next, and the addresses at which they are served."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from fleet.db.base import FleetModel, reference
from fleet.db.constraints import word_check
from fleet.db.types import word
from fleet.values.addresses import Offer


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


class FeedAddressRow(FleetModel, table=True):
    """One subscriber's address of one feed, with a digest in the place of its secret part. Rows are never deleted, so
    that a number stands for the same address for ever."""

    __tablename__ = "feed_address"
    __table_args__ = (
        word_check("offer", Offer),
        CheckConstraint("(code IS NULL) = (offer IN ('fleet', 'sheets'))", name="code_where_needed"),
        CheckConstraint("length(token_hash) = 64", name="whole_digest"),
        UniqueConstraint("token_hash", name="natural_key"),
    )

    number: int | None = Field(default=None, primary_key=True)
    offer: Offer = word(Offer)
    code: str | None = reference(default=None)
    subscriber: str
    token_hash: str
    made_at: datetime
    revoked_at: datetime | None
