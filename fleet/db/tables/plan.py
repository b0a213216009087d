"""The plan in force and the published edition, each with the revisions that a calendar needs to tell new from old."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from fleet.db.base import FleetModel, reference
from fleet.db.constraints import word_check
from fleet.db.types import json_value, word
from fleet.values import vocabulary as words


class Header(FleetModel):
    """What is said of a plan as a whole. `not_on_record`: for each site the catalogue ids without a subject."""

    id: int = Field(primary_key=True)
    today: date
    through: date
    saved_at: datetime
    not_on_record: dict[str, Any] = json_value()


class PlanRow(Header, table=True):
    """The header of the one plan in force. `fingerprints`: for each part of the fleet that of what the plan holds of
    it; None in a plan that was saved before there were any."""

    __tablename__ = "plan"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    fingerprints: dict[str, Any] | None = json_value()


class PublishedPlanRow(Header, table=True):
    """The header of the one published edition. `saved_at` is the instant at which it was published."""

    __tablename__ = "published_plan"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)


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


def _visit_rules() -> tuple[CheckConstraint, ...]:
    return (
        CheckConstraint('"end" >= "start"', name="end_after_start"),
        CheckConstraint("sequence >= 0", name="sequence_range"),
    )


def _task_rules() -> tuple[CheckConstraint, ...]:
    return (
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


class PlannedVisit(Revised):
    """One call at one site; its tasks point here and say their position in the working order."""

    key: str = Field(primary_key=True)
    site: str = reference(index=True)
    technician: str | None = reference(index=True)
    start: datetime
    end: datetime
    minutes: int
    day: date
    second_technician: str | None


class VisitRow(PlannedVisit, table=True):
    """A visit of the plan in force."""

    __tablename__ = "visit"
    __table_args__ = _visit_rules()


class PublishedVisitRow(PlannedVisit, table=True):
    """A visit of the published edition."""

    __tablename__ = "published_visit"
    __table_args__ = _visit_rules()


class PlannedTask(Revised):
    """One piece of work on one subject. `unplaced_*` say why no visit holds it."""

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
    visit_position: int | None
    unplaced_reason: str | None
    unplaced_text: str | None


class TaskRow(PlannedTask, table=True):
    """A task of the plan in force."""

    __tablename__ = "task"
    __table_args__ = _task_rules()

    visit: str | None = Field(foreign_key="visit.key", ondelete="RESTRICT", index=True)


class PublishedTaskRow(PlannedTask, table=True):
    """A task of the published edition."""

    __tablename__ = "published_task"
    __table_args__ = _task_rules()

    visit: str | None = Field(foreign_key="published_visit.key", ondelete="RESTRICT", index=True)
