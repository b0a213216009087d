"""What is remembered of calendar feeds: stamps of their entries and the names the feeds were first given."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from fleet.db.migrations.parts import check, column, instant, primary_key

revision: str = "0005"
down_revision: str | None = "0004"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

STAMP, TITLE = "feed_stamp", "feed_title"


def upgrade() -> None:
    op.create_table(
        STAMP,
        column("uid", sa.String(), required=True),
        column("audience", sa.String(), required=True),
        column("digest", sa.String(), required=True),
        column("schedule", sa.String(), required=True),
        column("sequence", sa.Integer(), required=True),
        instant("created_at", required=True),
        instant("modified_at", required=True),
        sa.PrimaryKeyConstraint("uid", "audience", name=op.f(f"pk_{STAMP}")),
        check(STAMP, "sequence_range", "sequence >= 0"),
    )
    op.create_table(
        TITLE,
        column("file_name", sa.String(), required=True),
        column("title", sa.String(), required=True),
        primary_key(TITLE, "file_name"),
    )
