"""Sets a site beside what an hourly weather file says of it, and writes that into the register when asked to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.weather import read_weather
from fleet.planning.travel import great_circle_km
from fleet.services.change import margin_checks
from fleet.thermal.assess import assess
from fleet.thermal.climate import design_climate
from fleet.values.bounds import BOUNDS
from fleet.values.climate import DesignClimate, SiteWeather, WeatherStation
from fleet.values.fleet import snapshot
from fleet.values.register import RegisterRows, Site

DECIMALS = 1
"""A design temperature is good to a tenth of a kelvin at best."""


def weather_of_site(
    url: str, code: str, path: Path, *, apply: bool, who: str, now: datetime, today: date
) -> SiteWeather:
    """What the file at `path` would set on the site `code`, beside what is on record; with `apply`, sets it.

    Raises NotFound for an unknown site, BadInput for a file that cannot be taken, StaleWrite where somebody changed the
    site in between; then nothing is written.
    """
    with Register.open(url, read_only=True) as register:
        rows, versions = register.rows(), register.versions("sites")
    on_record = next((site for site in rows.sites if site.code == code), None)
    if on_record is None:
        raise NotFound(f"no site {code!r} on record")
    year = read_weather(path)
    climate = design_climate(year.dry_bulb_c)
    by_file = _site_by(climate, on_record, path)
    changed = replace(rows, sites=tuple(by_file if site.code == code else site for site in rows.sites))
    fleet, fleet_after = snapshot(rows, today), snapshot(changed, today)
    classes, tanks = read_catalogue().class_by_code, fleet.tanks_of(code)
    before, after = (assess(one, classes, tanks=tanks) for one in (fleet, fleet_after))
    written = False
    if apply:
        cause = f"weather of {year.station.name} for {code}"
        with Register.open(url) as register:
            part = RegisterRows(sites=(by_file,))
            count = register.save_rows(part, who=who, now=now, reason=cause, expected={"sites": versions})
            written = bool(count.changed)
            if written:
                checks = margin_checks(fleet, before, f"before {cause}", now)
                register.save_margin_checks([*checks, *margin_checks(fleet_after, after, f"after {cause}", now)])
    station = year.station
    return SiteWeather(
        station=station,
        climate=climate,
        on_record=on_record,
        by_file=by_file,
        apart_km=_apart_km(on_record, station),
        higher_m=_difference(station.elevation_m, on_record.elevation_m),
        clock_apart_h=_difference(station.utc_offset_h, _standard_offset_h(on_record.time_zone, today.year)),
        fleet=fleet_after,
        before=before,
        after=after,
        written=written,
    )


def _site_by(climate: DesignClimate, site: Site, path: Path) -> Site:
    values = {
        "outdoor_design_peak_c": round(climate.outdoor_design_peak_c, DECIMALS),
        "outdoor_daily_range_k": round(climate.outdoor_daily_range_k, DECIMALS),
    }
    for field, value in values.items():
        bound = BOUNDS["sites"][field]
        if not bound.holds(value):
            name = field.rpartition("_")[0]
            raise BadInput(f"{path}: {name} would be {value:g}: expected {bound.low:g} to {bound.high:g}")
    return replace(
        site,
        outdoor_design_peak_c=values["outdoor_design_peak_c"],
        outdoor_daily_range_k=values["outdoor_daily_range_k"],
        hot_seasons=climate.hot_seasons,
    )


def _apart_km(site: Site, station: WeatherStation) -> float | None:
    places = (site.latitude, site.longitude, station.latitude, station.longitude)
    if None in places:
        return None
    latitude, longitude, file_latitude, file_longitude = (place or 0.0 for place in places)
    return great_circle_km((latitude, longitude), (file_latitude, file_longitude))


def _difference(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def _standard_offset_h(time_zone: str, year: int) -> float:
    """Hours ahead of UTC outside summer time, on either half of the globe."""
    zone = ZoneInfo(time_zone)
    offsets = (datetime(year, month, 15, tzinfo=zone).utcoffset() for month in (1, 7))
    return min(offset.total_seconds() for offset in offsets if offset is not None) / 3600.0
