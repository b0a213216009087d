"""The cell for a region with public holidays of its own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fleet.files.cells import Pattern


@cache
def _subdivisions() -> Mapping[str, Sequence[str]]:
    """The countries whose holidays are known, each with its subdivisions."""
    # Imported here because it takes a while, and few cells need it.
    from holidays import list_supported_countries

    return list_supported_countries(include_aliases=False)


@dataclass(frozen=True)
class HolidayRegion(Pattern):
    """A country of ISO 3166-1, or one of its subdivisions of ISO 3166-2, whose public holidays are known."""

    shape: re.Pattern[str] = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,3})?")
    expected: str = "a country or region of ISO 3166, such as US or US-FL"
    upper: bool = True

    def read(self, text: str) -> str:
        region = super().read(text)
        country, _, subdivision = region.partition("-")
        known = _subdivisions()
        if country not in known:
            raise ValueError("a country of ISO 3166 whose public holidays are known, such as US or US-FL")
        if subdivision and subdivision not in known[country]:
            regions = sorted(known[country])
            others = f", or one of its regions, such as {country}-{regions[0]}" if regions else ", which has no regions"
            raise ValueError(f"{country}{others}")
        return region
