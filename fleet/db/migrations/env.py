"""Runs the migrations on the connection that fleet/db/schema.py hands over; there is no ini file."""

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import TypeDecorator

from fleet.db.schema import VERSION_TABLE
from fleet.db.tables import METADATA


def _render_item(kind: str, item: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Writes our column types as plain SQLAlchemy ones: a migration must not change when the program does."""
    if kind == "type" and isinstance(item, TypeDecorator):
        plain = item.impl
        return "sa.DateTime(timezone=True)" if getattr(plain, "timezone", False) else f"sa.{type(plain).__name__}()"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    version_table=VERSION_TABLE,
    render_item=_render_item,
    render_as_batch=True,
    compare_type=True,
)
context.run_migrations()
