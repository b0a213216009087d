"""The parts that migrations are written with. A function here is never changed once a release has used it.

Names are marked as final (op.f), or the naming convention would be applied to them a second time.

Migrations do not use the table classes: a migration of last year must still build last year's tables.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op


def column(name: str, kind: Any, *, required: bool = False) -> sa.Column[Any]:
    """A plain column."""
    return sa.Column(name, kind, nullable=not required)


def instant(name: str, *, required: bool = False) -> sa.Column[Any]:
    """An instant in UTC."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=not required)


def row_id(table: str) -> tuple[Any, ...]:
    """A number of its own for every row."""
    return (column("id", sa.Integer(), required=True), primary_key(table, "id"))


def kept(table: str) -> tuple[Any, ...]:
    """What every kept row carries."""
    return (*row_id(table), column("version", sa.Integer(), required=True), instant("withdrawn_at"))


def revised(table: str) -> tuple[Any, ...]:
    """What every planned row carries."""
    return (
        column("fingerprint", sa.String(), required=True),
        column("sequence", sa.Integer(), required=True),
        instant("created_at", required=True),
        instant("modified_at", required=True),
        instant("dropped_at"),
        check(table, "sequence_range", "sequence >= 0"),
    )


def primary_key(table: str, name: str) -> sa.PrimaryKeyConstraint:
    """The primary key."""
    return sa.PrimaryKeyConstraint(name, name=op.f(f"pk_{table}"))


def unique(table: str, *columns: str) -> sa.UniqueConstraint:
    """The columns that tell one row from another."""
    return sa.UniqueConstraint(*columns, name=op.f(f"uq_{table}_natural_key"))


def refers(table: str, name: str, target: str = "subject.code") -> sa.ForeignKeyConstraint:
    """A reference whose target cannot be deleted."""
    return sa.ForeignKeyConstraint([name], [target], name=op.f(f"fk_{table}_{name}"), ondelete="RESTRICT")


def check(table: str, name: str, condition: str) -> sa.CheckConstraint:
    """A rule of the schema."""
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def words(table: str, name: str, allowed: str) -> sa.CheckConstraint:
    """One of a closed set of words, given with spaces between them."""
    listed = ", ".join(f"'{word}'" for word in allowed.split())
    return check(table, f"{name}_word", f'"{name}" IN ({listed})')


def between(table: str, name: str, low: float, high: float, *, above: bool = False, decimal: bool = False) -> Any:
    """A number from `low` (or only above it) to `high`; `decimal` where it is stored as text."""
    value = f'CAST("{name}" AS NUMERIC)' if decimal else f'"{name}"'
    return check(table, f"{name}_range", f"{value} {'>' if above else '>='} {low!r} AND {value} <= {high!r}")


def span(table: str) -> sa.CheckConstraint:
    """A fact ends after it began."""
    return check(table, "until_after_since", '"until" > "since"')
