"""Public holidays of a country or of one of its regions, by name.

The days come from the holidays library, which is data and no framework: the same region and year give the same days,
without a clock, a file or a network. So planning asks it by itself, and nobody has to hand the days in.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

LANGUAGE = "en_US"
"""Said outright, because the library would follow the locale, and the same input is to give the same words."""


@lru_cache(maxsize=1024)
def public_holidays(region: str | None, year: int) -> Mapping[date, str]:
    """The names of the public holidays of one year by their days. `region` is a code of ISO 3166 with or without a
    subdivision ("DE", "DE-BY"). Empty for no region, and for one whose holidays are not known."""
    if region is None:
        return {}
    # Imported here because it takes a while, and most of what a person asks for needs no plan.
    from holidays import country_holidays

    country, _, subdivision = region.partition("-")
    try:
        known = country_holidays(country, subdiv=subdivision or None, years=year, language=LANGUAGE)
    except NotImplementedError:
        return {}
    return {day: name for day, name in known.items() if day.year == year}
