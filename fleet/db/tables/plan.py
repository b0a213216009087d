"""The saved plan: its tasks and visits, each with the revision that a calendar needs to tell new from old."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from fleet.db.base import FleetModel, reference
from fleet.db.constraints import word_check
from fleet.db.types import json_value, word
from fleet.values import vocabulary as words


class PlanRow(FleetModel, table=True):
    """The header of the one plan in force. `not_on_record`: for each site the catalogue ids without a subject."""

    __tablename__ = "plan"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: int = Field(primary_key=True)
    today: date
    through: date
    saved_at: datetime
    not_on_record: dict[str, Any] = json_value()


class Revised(FleetModel):
    """Bookkeeping of a planned row.

    `fingerprint` is a digest of its content, so that a new plan is compared without reading the old one whole.
    `sequence` and `modified_at` never go back, not even when a dropped key returns.
    """

    fingerprint: str
    sequence: int
    created_at: datetime
    modified_at: datetime
    dropped_at: datetime | None = Field(index=True)


class VisitRow(Revised, table=True):
    """One call at one site; its tasks point here and say their position in the working order."""

    __tablename__ = "visit"
    __table_args__ = (
        CheckConstraint('"end" >= "start"', name="end_after_start"),
        CheckConstraint("sequence >= 0", name="sequence_range"),
    )

    key: str = Field(primary_key=True)
    site: str = reference(index=True)
    technician: str | None = reference(index=True)
    start: datetime
    end: datetime
    minutes: int
    day: date


class TaskRow(Revised, table=True):
    """One piece of work on one subject. `unplaced_*` say why no visit holds it."""

    __tablename__ = "task"
    __table_args__ = (
        word_check("subject_kind", words.SubjectKind),
        word_check("skill", words.Skill),
        word_check("performed_by", words.PerformedBy),
        word_check("tolerance", words.Tolerance),
        word_check("state", words.TaskState),
        word_check("cause_kind", words.CauseKind),
        CheckConstraint("earliest <= latest", name="window"),
        CheckConstraint("minutes >= 0 AND persons >= 1", name="effort"),
        CheckConstraint("sequence >= 0", name="sequence_range"),
        CheckConstraint("(visit IS NULL) = (visit_position IS NULL)", name="place_in_visit"),
    )

    key: str = Field(primary_key=True)
    rule: str = Field(index=True)
    title: str
    subject: str = reference(index=True)
    subject_kind: words.SubjectKind = word(words.SubjectKind)
    site: str | None = reference(index=True)
    tank: str | None = reference(index=True)
    device: str | None = reference(index=True)
    occurrence: str
    due: date
    due_at: datetime | None
    earliest: date
    latest: date
    minutes: int
    persons: int
    skill: words.Skill = word(words.Skill)
    performed_by: words.PerformedBy = word(words.PerformedBy)
    tolerance: words.Tolerance = word(words.Tolerance)
    order: int
    state: words.TaskState = word(words.TaskState)
    cause_kind: words.CauseKind = word(words.CauseKind)
    cause_text: str
    cause_numbers: dict[str, Any] = json_value()
    follows: date | None
    factors: list[Any] = json_value()
    interval_days: float | None
    visit: str | None = Field(foreign_key="visit.key", ondelete="RESTRICT", index=True)
    visit_position: int | None
    unplaced_reason: str | None
    unplaced_text: str | None
