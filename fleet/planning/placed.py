"""A call once it has its day, its hour and its people, and the visit that it is then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleet.planning.site_calls import SiteCall
from fleet.values.plan import Visit
from fleet.values.register import Site


@dataclass(frozen=True, slots=True)
class Placed:
    """A call on its day, at its minute, in its hands. `technician` is None where there are no technicians at all."""

    call: SiteCall
    day: date
    start: int
    technician: str | None
    second: str | None = None

    @property
    def people(self) -> list[str]:
        return [code for code in (self.technician, self.second) if code is not None]

    def as_visit(self, site: Site) -> Visit:
        """The visit, its instants by the clock of the site."""
        call, minutes = self.call, self.call.work.minutes
        at = time(self.start // 60, self.start % 60)
        begins = datetime.combine(self.day, at, ZoneInfo(site.time_zone)).astimezone(UTC)
        return Visit(
            key=call.key,
            site=call.site,
            technician=self.technician,
            start=begins,
            end=begins + timedelta(minutes=minutes),
            minutes=minutes,
            tasks=tuple(task.key for task in call.tasks),
            day=self.day,
            persons=call.persons,
            second_technician=self.second,
        )


def as_visits(placed: Iterable[Placed], sites: Mapping[str, Site]) -> list[Visit]:
    """Sorted by day, site and key."""
    visits = (one.as_visit(sites[one.call.site]) for one in placed)
    return sorted(visits, key=lambda visit: (visit.day, visit.site, visit.key))
