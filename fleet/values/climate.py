"""The outdoor climate of a site as its hourly temperatures tell it, and what that would set on record."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fleet.values.assessment import Assessment
from fleet.values.fleet import Fleet
from fleet.values.register import Site, YearSpan


class NoSeason(StrEnum):
    """Why a place has no hot season."""

    LITTLE_SWING = "little-swing"
    COOL = "cool"


@dataclass(frozen=True, slots=True)
class WeatherStation:
    """Where the temperatures of a weather file are from. None where the file does not say, or says nonsense.

    `form` is TMY3, TMY2 or EPW; `utc_offset_h` is that of standard time. `stated_*` is what the head of an EPW file may
    say from a handbook: the annual 0.4 % dry-bulb temperature, the daily range of the hottest month, and by whom.
    """

    form: str
    name: str
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    utc_offset_h: float | None
    stated_peak_c: float | None = None
    stated_range_k: float | None = None
    stated_by: str = ""


@dataclass(frozen=True, slots=True)
class DesignClimate:
    """What a year of hourly dry-bulb temperatures says of the hottest days. See thermal.climate for the rules.

    `hottest_month` is 1..12. `warmest_highs_c` and `coolest_highs_c` are the highest and the lowest mean of the daily
    maxima over 31 days. `no_season` says why `hot_seasons` is empty.
    """

    outdoor_design_peak_c: float
    outdoor_daily_range_k: float
    hottest_month: int
    warmest_highs_c: float
    coolest_highs_c: float
    hot_seasons: tuple[YearSpan, ...]
    no_season: NoSeason | None


@dataclass(frozen=True, slots=True)
class SiteWeather:
    """A site on record and as a weather file would have it, with the margins of its tanks under both.

    `apart_km`, `higher_m` and `clock_apart_h` tell how far the file's place lies from the site, how much higher, and
    by how much its standard time is ahead; None where one of the two is unknown. `written` tells whether the site's row
    was changed.
    """

    station: WeatherStation
    climate: DesignClimate
    on_record: Site
    by_file: Site
    apart_km: float | None
    higher_m: float | None
    clock_apart_h: float | None
    fleet: Fleet
    before: tuple[Assessment, ...]
    after: tuple[Assessment, ...]
    written: bool
