"""The saved plan, rule overrides, margin checks and the append-only change log."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from fleet.db.migrations.parts import check, column, instant, kept, primary_key, refers, revised, row_id, unique, words

revision: str = "0002"
down_revision: str | None = "0001"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

SQLITE_APPEND_ONLY = (
    "CREATE TRIGGER change_log_no_update BEFORE UPDATE ON change_log "
    "BEGIN SELECT RAISE(ABORT, 'the change log is only ever added to'); END",
    "CREATE TRIGGER change_log_no_delete BEFORE DELETE ON change_log "
    "BEGIN SELECT RAISE(ABORT, 'the change log is only ever added to'); END",
    "CREATE TRIGGER change_log_no_replace BEFORE INSERT ON change_log "
    "WHEN EXISTS (SELECT 1 FROM change_log WHERE id = NEW.id) "
    "BEGIN SELECT RAISE(ABORT, 'the change log is only ever added to'); END",
)
"""The third is needed because INSERT OR REPLACE deletes the old row without firing its delete trigger."""

POSTGRESQL_APPEND_ONLY = (
    "CREATE FUNCTION change_log_append_only() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'the change log is only ever added to' USING ERRCODE = 'restrict_violation'; END $$",
    "CREATE TRIGGER change_log_no_update BEFORE UPDATE OR DELETE ON change_log "
    "FOR EACH ROW EXECUTE FUNCTION change_log_append_only()",
    "CREATE TRIGGER change_log_no_truncate BEFORE TRUNCATE ON change_log "
    "FOR EACH STATEMENT EXECUTE FUNCTION change_log_append_only()",
)


def upgrade() -> None:
    op.create_table(
        "change_log",
        *row_id("change_log"),
        instant("at", required=True),
        column("who", sa.String(), required=True),
        column("reason", sa.String(), required=True),
        column("file", sa.String(), required=True),
        column("subject", sa.String(), required=True),
        column("row_key", sa.JSON(none_as_null=True), required=True),
        column("before", sa.JSON(none_as_null=True)),
        column("after", sa.JSON(none_as_null=True)),
    )
    op.create_index("ix_change_log_at", "change_log", ["at"])
    op.create_index("ix_change_log_subject", "change_log", ["subject"])
    op.create_table(
        "plan",
        column("id", sa.Integer(), required=True),
        column("today", sa.Date(), required=True),
        column("through", sa.Date(), required=True),
        instant("saved_at", required=True),
        column("not_on_record", sa.JSON(none_as_null=True), required=True),
        primary_key("plan", "id"),
        check("plan", "only_one", "id = 1"),
    )
    op.create_table(
        "task_rule",
        *kept("task_rule"),
        column("rule", sa.String(), required=True),
        column("scope", sa.String(), required=True),
        column("active", sa.Boolean(), required=True),
        column("interval_unit", sa.String()),
        column("interval_minimum", sa.Integer()),
        column("interval_typical", sa.Integer()),
        column("interval_maximum", sa.Integer()),
        column("minutes", sa.Integer()),
        column("set_by", sa.String(), required=True),
        column("reason", sa.String(), required=True),
        unique("task_rule", "rule", "scope"),
        check("task_rule", "interval_unit_word", "interval_unit IN ('hour', 'day', 'week', 'month')"),
        check(
            "task_rule",
            "interval_order",
            "interval_minimum >= 1 AND interval_minimum <= interval_typical AND interval_typical <= interval_maximum",
        ),
        check(
            "task_rule",
            "interval_whole",
            "(interval_unit IS NULL) = (interval_minimum IS NULL) AND "
            "(interval_unit IS NULL) = (interval_typical IS NULL) AND "
            "(interval_unit IS NULL) = (interval_maximum IS NULL)",
        ),
        check("task_rule", "minutes_range", "minutes >= 0 AND minutes <= 10000"),
    )
    op.create_table(
        "margin_check",
        *row_id("margin_check"),
        column("tank", sa.String(), required=True),
        column("scenario", sa.String(), required=True),
        column("day", sa.Date(), required=True),
        column("cause", sa.String(), required=True),
        column("required_w", sa.Float(), required=True),
        column("available_low_w", sa.Float()),
        column("available_mid_w", sa.Float()),
        column("available_high_w", sa.Float()),
        column("margin_low", sa.Float()),
        column("margin_mid", sa.Float()),
        column("margin_high", sa.Float()),
        column("state", sa.String(), required=True),
        column("inputs_digest", sa.String(), required=True),
        instant("at", required=True),
        unique("margin_check", "tank", "scenario", "day", "cause", "inputs_digest"),
        refers("margin_check", "tank"),
        words("margin_check", "scenario", "hot-day ac-off"),
        words("margin_check", "state", "none-needed rides ample ok thin short trips unknown"),
    )
    op.create_table(
        "visit",
        *revised("visit"),
        column("key", sa.String(), required=True),
        column("site", sa.String(), required=True),
        column("technician", sa.String()),
        instant("start", required=True),
        instant("end", required=True),
        column("minutes", sa.Integer(), required=True),
        column("day", sa.Date(), required=True),
        primary_key("visit", "key"),
        refers("visit", "site"),
        refers("visit", "technician"),
        check("visit", "end_after_start", '"end" >= "start"'),
    )
    op.create_index("ix_visit_dropped_at", "visit", ["dropped_at"])
    op.create_index("ix_visit_site", "visit", ["site"])
    op.create_index("ix_visit_technician", "visit", ["technician"])
    op.create_table(
        "task",
        *revised("task"),
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
        primary_key("task", "key"),
        refers("task", "subject"),
        refers("task", "site"),
        refers("task", "tank"),
        refers("task", "device"),
        refers("task", "visit", "visit.key"),
        words("task", "subject_kind", "client site room tank device equipment technician"),
        words("task", "skill", "keeper technician refrigeration electrician"),
        words("task", "performed_by", "site-staff visitor"),
        words("task", "tolerance", "A0 A B C S"),
        words("task", "state", "upcoming open due late past-limit put-off halted done not-applicable withdrawn"),
        words("task", "cause_kind", "interval never-recorded calendar season running-hours event condition change"),
        check("task", "window", "earliest <= latest"),
        check("task", "effort", "minutes >= 0 AND persons >= 1"),
        check("task", "place_in_visit", "(visit IS NULL) = (visit_position IS NULL)"),
    )
    op.create_index("ix_task_device", "task", ["device"])
    op.create_index("ix_task_dropped_at", "task", ["dropped_at"])
    op.create_index("ix_task_rule", "task", ["rule"])
    op.create_index("ix_task_site", "task", ["site"])
    op.create_index("ix_task_subject", "task", ["subject"])
    op.create_index("ix_task_tank", "task", ["tank"])
    op.create_index("ix_task_visit", "task", ["visit"])
    statements = SQLITE_APPEND_ONLY if op.get_bind().dialect.name == "sqlite" else POSTGRESQL_APPEND_ONLY
    for statement in statements:
        op.execute(sa.text(statement))
