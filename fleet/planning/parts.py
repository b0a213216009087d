"""A fleet in parts that know nothing of each other: what hangs together by rooms, duties, places and supply.

A part is mostly one site with everything there. Sites that share a device or a piece of equipment are one part; a
client, a technician, and what stands at no site are parts of their own. The tasks of a part follow from its own facts
alone, so a part whose facts are the same has the same tasks.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date, time
from hashlib import blake2b
from itertools import chain
from operator import attrgetter
from typing import Any

from fleet.values.assessment import Assessment, MarginChange, OutputShare
from fleet.values.fleet import Fleet
from fleet.values.vocabulary import Scenario

HAS_A_CODE = ("rooms", "sites", "tanks", "devices", "equipment", "clients", "technicians")
TOLD_OF: Mapping[str, str] = {
    "rooms": "code", "sites": "code", "tanks": "code", "devices": "code", "equipment": "code", "clients": "code",
    "technicians": "code", "loads": "tank", "animals": "tank", "placements": "device", "duties": "device",
    "closures": "site", "events": "subject", "history": "subject", "readings": "subject",
}  # fmt: skip
"""The facts that tasks follow from, as they are named in Fleet, and the field that says what each is about. (A change
is about two things.) Contacts and absences cause no task."""


@dataclass(slots=True)
class Part:
    """`codes` are what tasks of the part are about, `sites` those of them that are sites, sorted. Its `rows`, by their
    names in Fleet, may tell of more: the client of its sites, the tank that a device was moved away from."""

    name: str
    codes: frozenset[str]
    sites: tuple[str, ...]
    rows: dict[str, list[Any]] = field(default_factory=lambda: defaultdict(list))
    assessments: list[Assessment] = field(default_factory=list)
    margin_changes: list[MarginChange] = field(default_factory=list)
    output_shares: list[OutputShare] = field(default_factory=list)

    def fleet(self, day: date) -> Fleet:
        """The part as a fleet of its own."""
        return Fleet(day, **{name: tuple(rows) for name, rows in self.rows.items()})

    def facts(self) -> str:
        """Everything that the tasks of the part follow from, as text: the same for the same facts."""
        rows = [[name, [_cells(row) for row in self.rows[name]]] for name in sorted(self.rows)]
        states = [(one.tank, one.state, one.required_w, one.margin, one.available_w) for one in self.assessments]
        computed = [states, self.margin_changes, self.output_shares]
        return json.dumps([sorted(self.codes), rows, computed], default=_plain)


def digest(*texts: str) -> str:
    """32 hexadecimal digits: the same for the same texts, on any machine and in any run."""
    made = blake2b(digest_size=16)
    for text in texts:
        made.update(text.encode())
        made.update(b"\0")
    return made.hexdigest()


def parts_of(
    fleet: Fleet,
    assessments: Iterable[Assessment] = (),
    margin_changes: Iterable[MarginChange] = (),
    output_shares: Iterable[OutputShare] = (),
) -> list[Part]:
    """Every part, sorted by name. Rows stay in the fleet's order; what is told of a code that is not on record is in
    no part. Of the assessments those of the hot day count."""
    parts = _linked(fleet)
    part_of = {code: part for part in parts for code in part.codes}
    of_client: dict[str, list[Part]] = {client.code: [part_of[client.code]] for client in fleet.clients}
    for part in parts:
        for client in sorted({fleet.site_by_code[site].client for site in part.sites} & of_client.keys()):
            of_client[client].append(part)
    told_in: dict[str, Sequence[Part]] = {code: (part,) for code, part in part_of.items()}
    told_in |= of_client
    for name, about in TOLD_OF.items():
        rows: Sequence[Any] = getattr(fleet, name)
        for row, code in zip(rows, map(attrgetter(about), rows), strict=True):
            for part in told_in.get(code, ()):
                part.rows[name].append(row)
    for change in fleet.changes:
        concerned = {part.name: part for code in (change.subject, change.tank) for part in told_in.get(code, ())}
        for part in concerned.values():
            part.rows["changes"].append(change)
    for assessment in assessments:
        if assessment.tank in part_of and assessment.scenario is Scenario.HOT_DAY:
            part_of[assessment.tank].assessments.append(assessment)
    for margin_change in margin_changes:
        if margin_change.tank in part_of:
            part_of[margin_change.tank].margin_changes.append(margin_change)
    for share in output_shares:
        if share.device in part_of:
            part_of[share.device].output_shares.append(share)
    return parts


def _linked(fleet: Fleet) -> list[Part]:
    """The parts without their facts: what is linked, by however many steps, is one."""
    root_of = {row.code: row.code for name in HAS_A_CODE for row in getattr(fleet, name)}

    def root(code: str) -> str:
        while root_of[code] != code:
            root_of[code] = code = root_of[root_of[code]]
        return code

    for one, other in _links(fleet):
        if one in root_of and other in root_of:
            first, second = root(one), root(other)
            root_of[max(first, second)] = min(first, second)
    together: dict[str, list[str]] = defaultdict(list)
    for code in root_of:
        together[root(code)].append(code)
    sites = fleet.site_by_code
    parts = []
    for codes in together.values():
        held = tuple(sorted(code for code in codes if code in sites))
        parts.append(Part(held[0] if held else min(codes), frozenset(codes), held))
    return sorted(parts, key=lambda part: part.name)


def _links(fleet: Fleet) -> Iterable[tuple[str, str]]:
    equipment = (
        (item.code, other)
        for item in fleet.equipment
        for other in (item.tank, item.site, *item.serves)
        if other is not None
    )
    places = (
        (placement.device, other)
        for placement in fleet.placements
        for other in (placement.room, placement.stand_of)
        if other is not None
    )
    return chain(
        ((room.code, room.site) for room in fleet.rooms),
        ((tank.code, tank.room) for tank in fleet.tanks),
        places,
        ((duty.device, duty.tank) for duty in fleet.duties),
        equipment,
    )


_GETTERS: dict[type, Callable[[Any], Any]] = {}


def _cells(row: Any) -> Any:
    """The values of a row's fields, in their order."""
    kind = type(row)
    if kind not in _GETTERS:
        _GETTERS[kind] = attrgetter(*(one.name for one in fields(kind)))
    return _GETTERS[kind](row)


def _plain(value: Any) -> Any:
    """What JSON has no form for: days and times, rows within rows, decimal numbers."""
    if isinstance(value, date | time):
        return value.isoformat()
    return _cells(value) if is_dataclass(value) else str(value)
