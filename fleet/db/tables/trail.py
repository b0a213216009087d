"""Who decided what and on which figures: rule overrides, margin checks and the append-only change log."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import DDL, CheckConstraint, UniqueConstraint, event
from sqlmodel import Field

from fleet.db.base import FleetModel, Kept, reference
from fleet.db.constraints import word_check
from fleet.db.types import json_value, word
from fleet.values import vocabulary as words


class TaskRuleRow(Kept, table=True):
    """A catalogue task with somebody's own interval, minutes or switch.

    `scope` is the code of a client, site or subject, or the empty text for the whole register; it is therefore no
    foreign key, and `verify` looks after it.
    """

    __tablename__ = "task_rule"
    __table_args__ = (
        UniqueConstraint("rule", "scope", name="natural_key"),
        CheckConstraint("interval_unit IN ('hour', 'day', 'week', 'month')", name="interval_unit_word"),
        CheckConstraint(
            "interval_minimum >= 1 AND interval_minimum <= interval_typical AND interval_typical <= interval_maximum",
            name="interval_order",
        ),
        CheckConstraint(
            "(interval_unit IS NULL) = (interval_minimum IS NULL)"
            " AND (interval_unit IS NULL) = (interval_typical IS NULL)"
            " AND (interval_unit IS NULL) = (interval_maximum IS NULL)",
            name="interval_whole",
        ),
        CheckConstraint("minutes >= 0 AND minutes <= 10000", name="minutes_range"),
    )

    rule: str
    scope: str
    active: bool
    interval_unit: str | None
    interval_minimum: int | None
    interval_typical: int | None
    interval_maximum: int | None
    minutes: int | None
    set_by: str
    reason: str


class MarginCheckRow(FleetModel, table=True):
    """A computed margin that led to a decision. `inputs_digest` tells whether the figures behind it have changed."""

    __tablename__ = "margin_check"
    __table_args__ = (
        UniqueConstraint("tank", "scenario", "day", "cause", "inputs_digest", name="natural_key"),
        word_check("scenario", words.Scenario),
        word_check("state", words.MarginState),
    )

    id: int | None = Field(default=None, primary_key=True)
    tank: str = reference()
    scenario: words.Scenario = word(words.Scenario)
    day: date
    cause: str
    required_w: float
    available_low_w: float | None
    available_mid_w: float | None
    available_high_w: float | None
    margin_low: float | None
    margin_mid: float | None
    margin_high: float | None
    state: words.MarginState = word(words.MarginState)
    inputs_digest: str
    at: datetime


class ChangeLogRow(FleetModel, table=True):
    """One change of one row: who, when, why, the differing fields before and after. Only ever added to."""

    __tablename__ = "change_log"

    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(index=True)
    who: str
    reason: str
    file: str
    subject: str = Field(index=True)
    row_key: list[Any] = json_value()
    before: dict[str, Any] | None = json_value()
    after: dict[str, Any] | None = json_value()


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

APPEND_ONLY_TRIGGERS = {
    "sqlite": frozenset({"change_log_no_update", "change_log_no_delete", "change_log_no_replace"}),
    "postgresql": frozenset({"change_log_no_update", "change_log_no_truncate"}),
}

for _dialect, _statements in (("sqlite", SQLITE_APPEND_ONLY), ("postgresql", POSTGRESQL_APPEND_ONLY)):
    for _statement in _statements:
        event.listen(
            ChangeLogRow.__table__,  # type: ignore[attr-defined]
            "after_create",
            DDL(_statement).execute_if(dialect=_dialect),  # type: ignore[no-untyped-call]
        )
