"""Which tanks must be looked at together, because they share a room's air, a device or a stand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from fleet.values.fleet import Fleet


class _Unions:
    """Sets that merge, each known by one of its members."""

    def __init__(self) -> None:
        self.parent: dict[str, str] = {}

    def find(self, item: str) -> str:
        root = item
        while self.parent.setdefault(root, root) != root:
            root = self.parent[root]
        while self.parent[item] != root:
            self.parent[item], item = root, self.parent[item]
        return root

    def join(self, one: str, other: str) -> None:
        first, second = sorted((self.find(one), self.find(other)))
        self.parent[second] = first


def is_placed(fleet: Fleet, tank: str) -> bool:
    """Whether the room and the site of a tank are on record, so that there is air about it."""
    room = fleet.room_by_code.get(fleet.tank_by_code[tank].room)
    return room is not None and room.site in fleet.site_by_code


def batches(fleet: Fleet, wanted: Collection[str], size: int) -> list[list[str]]:
    """Tank codes in batches of about `size`, each holding whole groups, for every group with a wanted tank.

    Codes are unique across the whole register, so tanks, rooms and devices can stand in one set.
    """
    unions = _Unions()
    for tank in fleet.tanks:
        unions.join(tank.code, tank.room)
    for duty in fleet.duties:
        if duty.tank in fleet.tank_by_code:
            unions.join(duty.tank, duty.device)
    for placement in fleet.placements:
        if placement.stand_of in fleet.tank_by_code:
            unions.join(placement.device, placement.stand_of)
        if placement.room in fleet.room_by_code:
            unions.join(placement.device, placement.room)
    groups: dict[str, list[str]] = defaultdict(list)
    for tank in fleet.tanks:
        if is_placed(fleet, tank.code):
            groups[unions.find(tank.code)].append(tank.code)
    needed = {unions.find(code) for code in wanted}
    found: list[list[str]] = []
    for root in sorted(needed):
        members = sorted(groups[root])
        if found and len(found[-1]) + len(members) <= size:
            found[-1].extend(members)
        else:
            found.append(members)
    return found
