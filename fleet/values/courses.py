"""The water of a tank through a design day."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.values.vocabulary import Scenario


@dataclass(frozen=True, slots=True)
class DayCourse:
    """A day that repeats itself, from midnight to midnight at the site, both ends inside; °C at each of `hours`.

    `safe_c` is the water on the safe side of the estimate, which decides; `likely_c` in the middle of it; `room_c` the
    air of the room.
    """

    tank: str
    scenario: Scenario
    hours: tuple[float, ...]
    safe_c: tuple[float, ...]
    likely_c: tuple[float, ...]
    room_c: tuple[float, ...]
