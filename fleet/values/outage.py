"""What fails, and what the heat balance says of each tank concerned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time

from fleet.values.assessment import HoursToLimit
from fleet.values.spread import Spread


@dataclass(frozen=True, slots=True)
class Failure:
    """What fails, by codes, and when. Several things may fail together.

    ac_off: rooms or sites; lost: devices, or equipment on which devices hang; flow_lost: the same, where the water
    stops while the compressor runs; power_out: sites; stuck_on: devices or heaters that no longer stop (a tank: its
    heaters). `at` is the clock time at the site at which it begins, None the worst hour of each tank. `air_c` is the
    air of the rooms all the while, None the design hot day.
    """

    ac_off: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    flow_lost: tuple[str, ...] = ()
    power_out: tuple[str, ...] = ()
    stuck_on: tuple[str, ...] = ()
    at: time | None = None
    air_c: float | None = None

    @property
    def codes(self) -> tuple[str, ...]:
        """Every code that it names."""
        return (*self.ac_off, *self.lost, *self.flow_lost, *self.power_out, *self.stuck_on)


@dataclass(frozen=True, slots=True)
class SpareGives:
    """What a spare would do for a tank that it is brought to at once, standing free beside it.

    `device` is None for a unit that is only thought of, `rated_w` then what its plate says. `capacity_w` holds at the
    tank's worst hour. `hours` are those with the spare running.
    """

    device: str | None
    rated_w: float | None
    capacity_w: Spread
    hours: HoursToLimit


@dataclass(frozen=True, slots=True)
class OutageRow:
    """One tank. `hours` run from the failure to `limit_c`; `peak_c` is the water farthest on the way to it, on the safe
    side, within the run of at least a week.

    `falls` tells that the limit is the lower one. `begins_at` and `limit_at` are in the zone of the site; `limit_at` is
    when the low estimate crosses, None where it never does. `n_minus_1_after` is the margin left when one device more
    fails: None where none is needed, or nothing cools the tank even on other days. `stepped_in` are tested
    standbys that are counted as running in place of what was lost.
    """

    tank: str
    site: str
    room: str
    hours: HoursToLimit
    begins_at: datetime
    limit_at: datetime | None
    peak_c: float
    limit_c: float
    falls: bool
    n_minus_1_after: float | None
    spare: SpareGives | None
    stepped_in: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Outage:
    """The tanks that a failure concerns, the most urgent first, and what was assumed of the spares.

    `spares_left_out` holds (device, reason) for each spare in store that was not counted.
    """

    failure: Failure
    rows: tuple[OutageRow, ...]
    spares_left_out: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class RankedFailure:
    """One of the single failures that can happen at a site, with the tanks that it concerns, the most urgent first.

    `kind` is room-ac, device, together (what hangs on `cause`, a piece of equipment), plant (all devices of one loop)
    or power. `within_a_day` counts the tanks that cross a limit within 24 hours on the low estimate.
    """

    kind: str
    failure: Failure
    cause: str | None
    rows: tuple[OutageRow, ...]
    within_a_day: int
