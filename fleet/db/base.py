"""What every table stands on: one metadata with fixed constraint names, and the columns that all kept rows share."""

from datetime import datetime
from typing import Any

from sqlalchemy import MetaData
from sqlmodel import Field, SQLModel

NAMING_CONVENTION = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(constraint_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "ix": "ix_%(table_name)s_%(column_0_name)s",
}
"""Set before the first table is defined: a constraint without a name could never be changed by a migration."""


class FleetModel(SQLModel):
    """Base of every table; its own metadata keeps it apart from any other program's tables."""

    metadata = MetaData(naming_convention=NAMING_CONVENTION)


class Kept(FleetModel):
    """A row that people keep. It is never deleted by use: it ends, or is marked withdrawn.

    `version` goes up with every change and tells two people's edits of one row apart.
    """

    id: int | None = Field(default=None, primary_key=True)
    version: int
    withdrawn_at: datetime | None


def reference(**more: Any) -> Any:
    """A column that holds the code of something on record. What is referred to cannot be deleted."""
    return Field(foreign_key="subject.code", ondelete="RESTRICT", **more)
