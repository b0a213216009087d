"""Every table of the database. Table classes never leave fleet/db; what leaves are frozen values."""

from fleet.db.base import FleetModel
from fleet.db.tables.feeds import FeedAddressRow, FeedStampRow, FeedTitleRow
from fleet.db.tables.plan import (
    PlanRow,
    PublishedPlanRow,
    PublishedTaskRow,
    PublishedVisitRow,
    TaskRow,
    VisitRow,
)
from fleet.db.tables.register import (
    AbsenceRow,
    AnimalsRow,
    ClientRow,
    ClosureRow,
    ContactRow,
    DeviceRow,
    DutyRow,
    EquipmentRow,
    EventRow,
    LoadRow,
    PlacementRow,
    ReadingRow,
    RoomRow,
    ServiceRecordRow,
    SiteRow,
    SubjectRow,
    TankRow,
    TechnicianRow,
)
from fleet.db.tables.trail import ChangeLogRow, MarginCheckRow, TaskRuleRow

METADATA = FleetModel.metadata

__all__ = [
    "METADATA",
    "AbsenceRow",
    "AnimalsRow",
    "ChangeLogRow",
    "ClientRow",
    "ClosureRow",
    "ContactRow",
    "DeviceRow",
    "DutyRow",
    "EquipmentRow",
    "EventRow",
    "FeedAddressRow",
    "FeedStampRow",
    "FeedTitleRow",
    "LoadRow",
    "MarginCheckRow",
    "PlacementRow",
    "PlanRow",
    "PublishedPlanRow",
    "PublishedTaskRow",
    "PublishedVisitRow",
    "ReadingRow",
    "RoomRow",
    "ServiceRecordRow",
    "SiteRow",
    "SubjectRow",
    "TankRow",
    "TaskRow",
    "TaskRuleRow",
    "TechnicianRow",
    "VisitRow",
]
