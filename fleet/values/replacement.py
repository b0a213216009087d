"""When a device or a part of the equipment may have to be replaced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Forecast:
    """The wearing out of one subject that still works on `day`.

    `median_years` is the life that half of its kind reach where it stands now, `shape` the Weibull shape. `part` says
    what wears out first, `basis` where the figures come from, `influences` what shortens or lengthens the life here, in
    words. It is likely (two chances in three) to be replaced between `earliest` and `latest`, as likely as not by
    `middle`. `chance_in_a_year` is that of the next twelve months, 0..1. `begun` is the day its age counts from;
    without `begun_known` it is only the first day on record, so the unit is at least that old.
    """

    subject: str
    day: date
    begun: date
    begun_known: bool
    part: str
    median_years: float
    shape: float
    basis: str
    influences: tuple[str, ...]
    earliest: date
    middle: date
    latest: date
    chance_in_a_year: float

    @property
    def by_age(self) -> bool:
        """Whether age tells anything: with a shape of one or less an old unit is no nearer its end than a new one."""
        return self.shape > 1.0
