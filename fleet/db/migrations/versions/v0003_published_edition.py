"""The published edition of the plan: its header, its tasks and its visits, each with revisions of its own."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from fleet.db.migrations.parts import check, column, instant, primary_key, refers, revised, words

revision: str = "0003"
down_revision: str | None = "0002"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

HEADER, VISIT, TASK = "published_plan", "published_visit", "published_task"


def upgrade() -> None:
    op.create_table(
        HEADER,
        column("id", sa.Integer(), required=True),
        column("today", sa.Date(), required=True),
        column("through", sa.Date(), required=True),
        instant("saved_at", required=True),
        column("not_on_record", sa.JSON(none_as_null=True), required=True),
        primary_key(HEADER, "id"),
        check(HEADER, "only_one", "id = 1"),
    )
    op.create_table(
        VISIT,
        *revised(VISIT),
        column("key", sa.String(), required=True),
        column("site", sa.String(), required=True),
        column("technician", sa.String()),
        instant("start", required=True),
        instant("end", required=True),
        column("minutes", sa.Integer(), required=True),
        column("day", sa.Date(), required=True),
        primary_key(VISIT, "key"),
        refers(VISIT, "site"),
        refers(VISIT, "technician"),
        check(VISIT, "end_after_start", '"end" >= "start"'),
    )
    for name in ("dropped_at", "site", "technician"):
        op.create_index(f"ix_{VISIT}_{name}", VISIT, [name])
    op.create_table(
        TASK,
        *revised(TASK),
        column("key", sa.String(), required=True),
        column("rule", sa.String(), required=True),
        column("title", sa.String(), required=True),
        column("subject", sa.String(), required=True),
        column("subject_kind", sa.String(), required=True),
        column("site", sa.String()),
        column("tank", sa.String()),
        column("device", sa.String()),
        column("occurrence", sa.String(), required=True),
        column("due", sa.Date(), required=True),
        instant("due_at"),
        column("earliest", sa.Date(), required=True),
        column("latest", sa.Date(), required=True),
        column("minutes", sa.Integer(), required=True),
        column("persons", sa.Integer(), required=True),
        column("skill", sa.String(), required=True),
        column("performed_by", sa.String(), required=True),
        column("tolerance", sa.String(), required=True),
        column("order", sa.Integer(), required=True),
        column("state", sa.String(), required=True),
        column("cause_kind", sa.String(), required=True),
        column("cause_text", sa.String(), required=True),
        column("cause_numbers", sa.JSON(none_as_null=True), required=True),
        column("follows", sa.Date()),
        column("factors", sa.JSON(none_as_null=True), required=True),
        column("interval_days", sa.Float()),
        column("visit", sa.String()),
        column("visit_position", sa.Integer()),
        column("unplaced_reason", sa.String()),
        column("unplaced_text", sa.String()),
        primary_key(TASK, "key"),
        refers(TASK, "subject"),
        refers(TASK, "site"),
        refers(TASK, "tank"),
        refers(TASK, "device"),
        refers(TASK, "visit", f"{VISIT}.key"),
        words(TASK, "subject_kind", "client site room tank device equipment technician"),
        words(TASK, "skill", "keeper technician refrigeration electrician"),
        words(TASK, "performed_by", "site-staff visitor"),
        words(TASK, "tolerance", "A0 A B C S"),
        words(TASK, "state", "upcoming open due late past-limit put-off halted done not-applicable withdrawn"),
        words(TASK, "cause_kind", "interval never-recorded calendar season running-hours event condition change"),
        check(TASK, "window", "earliest <= latest"),
        check(TASK, "effort", "minutes >= 0 AND persons >= 1"),
        check(TASK, "place_in_visit", "(visit IS NULL) = (visit_position IS NULL)"),
    )
    for name in ("device", "dropped_at", "rule", "site", "subject", "tank", "visit"):
        op.create_index(f"ix_{TASK}_{name}", TASK, [name])
