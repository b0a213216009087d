"""Which rows of a register have to do with each other: whatever rooms, duties, places and supply link, on any day.

A heat balance of a tank rests on the rows that it is linked with and on no others, so a register of any size can be
looked at one neighbourhood at a time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import fields
from typing import Any

from fleet.values.register import RegisterRows

ABOUT = {
    "sites": "code", "rooms": "code", "tanks": "code", "loads": "tank", "animals": "tank", "devices": "code",
    "placements": "device", "duties": "device", "equipment": "code", "events": "subject", "history": "subject",
    "readings": "subject", "closures": "site",
}  # fmt: skip
"""The field that says what the rows of each file are about."""
FOR_ALL = ("clients",)
"""Files that every neighbourhood has whole."""


def neighbourhoods(rows: RegisterRows, tanks: Collection[str]) -> dict[str, RegisterRows]:
    """For each of the tanks the rows of everything that it was ever linked with, in their own order; tanks that are
    linked share one value. Contacts, technicians and absences are in none."""
    root_of: dict[str, str] = {}

    def root(code: str) -> str:
        root_of.setdefault(code, code)
        while root_of[code] != code:
            root_of[code] = code = root_of[root_of[code]]
        return code

    for one, other in _links(rows):
        first, second = root(one), root(other)
        root_of[max(first, second)] = min(first, second)
    wanted = {root(tank) for tank in tanks}
    found: dict[str, dict[str, list[Any]]] = {code: defaultdict(list) for code in wanted}
    for file, field in ABOUT.items():
        for row in getattr(rows, file):
            at = root(getattr(row, field))
            if at in wanted:
                found[at][file].append(row)
    whole = {file: getattr(rows, file) for file in FOR_ALL}
    made = {
        code: RegisterRows(**whole, **{file: tuple(some) for file, some in files.items()})
        for code, files in found.items()
    }
    return {tank: made[root(tank)] for tank in tanks}


def together(parts: Iterable[RegisterRows]) -> RegisterRows:
    """The rows of several neighbourhoods as one; the same neighbourhood counts once."""
    apart = list({id(one): one for one in parts}.values())
    if len(apart) == 1:
        return apart[0]
    return RegisterRows(
        **{
            one.name: getattr(apart[0], one.name)
            if one.name in FOR_ALL
            else tuple(row for part in apart for row in getattr(part, one.name))
            for one in fields(RegisterRows)
        }
    )


def _links(rows: RegisterRows) -> Iterable[tuple[str, str]]:
    for room in rows.rooms:
        yield room.code, room.site
    for tank in rows.tanks:
        yield tank.code, tank.room
    for duty in rows.duties:
        yield duty.device, duty.tank
    for place in rows.placements:
        for other in (place.room, place.stand_of):
            if other is not None:
                yield place.device, other
    for item in rows.equipment:
        for other in (item.tank, item.site, *item.serves):
            if other is not None:
                yield item.code, other
