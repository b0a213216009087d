"""The fingerprints by which the next plan knows the parts of a fleet for which there is no news."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from fleet.db.migrations.parts import column

revision: str = "0006"
down_revision: str | None = "0005"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("plan", column("fingerprints", sa.JSON(none_as_null=True)))
