"""What the reports, device cards and hand-over sheets need beyond the fleet, the plan and the assessments."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleet.values.assessment import MarginStep
from fleet.values.courses import DayCourse
from fleet.values.places import Places
from fleet.values.plan import Backlog
from fleet.values.register import RegisterRows
from fleet.values.replacement import Forecast


@dataclass(frozen=True)
class PageFacts:
    """`rows` are all rows of the register, `places` where things stood on any day. `courses` are the design days of
    each tank by its code, `forecasts` the wearing out of devices and equipment by code, `margin_steps` what changes did
    to margins, oldest first, `backlog` the work that is late and what will be. Reports tell of the days from
    `first_day` to `last_day`, both inside."""

    rows: RegisterRows
    places: Places
    courses: Mapping[str, tuple[DayCourse, ...]]
    forecasts: Mapping[str, Forecast]
    margin_steps: tuple[MarginStep, ...]
    backlog: Backlog
    first_day: date
    last_day: date

    def inside(self, day: date) -> bool:
        """Whether the reports tell of that day."""
        return self.first_day <= day <= self.last_day
