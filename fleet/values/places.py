"""At which site each subject stood on any day, from the dated rows of a register."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Protocol, TypeVar

from fleet.values.fleet import holds_on
from fleet.values.register import Duty, Equipment, Placement, RegisterRows, Room, Tank


class _Since(Protocol):
    @property
    def since(self) -> date: ...


class _Span(_Since, Protocol):
    @property
    def until(self) -> date | None: ...


V = TypeVar("V", bound=_Since)
S = TypeVar("S", bound=_Span)


class Places:
    """Answers where a subject stood on a day. A day before its first row counts as that of the first row."""

    def __init__(self, rows: RegisterRows) -> None:
        self.sites = {row.code for row in rows.sites}
        self.client_of_site = {row.code: row.client for row in rows.sites}
        self.rooms: dict[str, list[Room]] = defaultdict(list)
        for room in sorted(rows.rooms, key=lambda row: row.since):
            self.rooms[room.code].append(room)
        self.tanks: dict[str, list[Tank]] = defaultdict(list)
        for tank in sorted(rows.tanks, key=lambda row: row.since):
            self.tanks[tank.code].append(tank)
        self.placements: dict[str, list[Placement]] = defaultdict(list)
        for placement in sorted(rows.placements, key=lambda row: row.since):
            self.placements[placement.device].append(placement)
        self.duties: dict[str, list[Duty]] = defaultdict(list)
        for duty in sorted(rows.duties, key=lambda row: (row.since, row.tank)):
            self.duties[duty.device].append(duty)
        self.equipment: dict[str, Equipment] = {row.code: row for row in rows.equipment}

    def site_on(self, code: str, day: date) -> str | None:
        """Code of the site to which a site, room, tank, device or piece of equipment belonged on `day`; None: to none,
        as for a device between two places."""
        if code in self.sites:
            return code
        if code in self.rooms:
            return _version(self.rooms[code], day).site
        if code in self.tanks:
            return self.site_on(_version(self.tanks[code], day).room, day)
        if code in self.placements or code in self.duties:
            return self._site_of_device(code, day)
        item = self.equipment.get(code)
        if item is None:
            return None
        if item.site is not None:
            return item.site
        return self.site_on(item.tank, day) if item.tank is not None else None

    def _site_of_device(self, code: str, day: date) -> str | None:
        placement = _standing(self.placements[code], day) if code in self.placements else None
        if placement is not None:
            place = placement.room if placement.room is not None else placement.stand_of
            if place is not None:
                return self.site_on(place, day)
        duty = _standing(self.duties[code], day) if code in self.duties else None
        return None if duty is None else self.site_on(duty.tank, day)

    def client_on(self, code: str, day: date) -> str | None:
        """Code of the client at whose site the subject stood on `day`."""
        return self.client_of_site.get(self.site_on(code, day) or "")


def _version(rows: Sequence[V], day: date) -> V:
    begun = [row for row in rows if row.since <= day]
    return begun[-1] if begun else rows[0]


def _standing(rows: Sequence[S], day: date) -> S | None:
    """The latest row that holds on `day`; the first one for a day before all of them."""
    if day < rows[0].since:
        return rows[0]
    holding = [row for row in rows if holds_on(row.since, row.until, day)]
    return holding[-1] if holding else None
