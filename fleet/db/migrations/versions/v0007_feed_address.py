"""The addresses at which feeds and sheets are served, one for each subscriber and feed."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from fleet.db.migrations.parts import check, column, instant, primary_key, refers, unique, words

revision: str = "0007"
down_revision: str | None = "0006"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

ADDRESS = "feed_address"


def upgrade() -> None:
    op.create_table(
        ADDRESS,
        column("number", sa.Integer(), required=True),
        column("offer", sa.String(), required=True),
        column("code", sa.String()),
        column("subscriber", sa.String(), required=True),
        column("token_hash", sa.String(), required=True),
        instant("made_at", required=True),
        instant("revoked_at"),
        primary_key(ADDRESS, "number"),
        unique(ADDRESS, "token_hash"),
        refers(ADDRESS, "code"),
        words(ADDRESS, "offer", "fleet site client technician sheets"),
        check(ADDRESS, "code_where_needed", "(code IS NULL) = (offer IN ('fleet', 'sheets'))"),
        check(ADDRESS, "whole_digest", "length(token_hash) = 64"),
    )
