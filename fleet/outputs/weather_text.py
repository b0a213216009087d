"""A site beside what a weather file says of it, as a table for people and as a record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import Any

from fleet.outputs.columns import FAINT, Cell, Row, in_columns, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.records import margin_records
from fleet.outputs.text import LINE_WIDTH, NO_CATALOGUE, change_text
from fleet.outputs.words import MONTHS, count_words, percent
from fleet.units import Display
from fleet.values.assessment import Assessment
from fleet.values.climate import NoSeason, SiteWeather, WeatherStation
from fleet.values.register import Site, YearSpan

FAR_KM = 50.0
HIGHER_M = 150.0
COOLER_K_PER_M = 0.0065
"""How much cooler air is for each metre that it lies higher: ICAO Standard Atmosphere (Doc 7488)."""
NOT_ON_RECORD = "not on record"
KM_PER_MILE, M_PER_FOOT = 1.609344, 0.3048
RULES = (
    "A typical year is put together from ordinary months: a handbook's design peak, from many years, can lie {higher} "
    "higher. The hot season is where the 31-day mean of the daily highs lies in the upper quarter of its swing over "
    "the year."
)


def weather_text(weather: SiteWeather, *, apply: bool) -> str:
    """What is on record and what the file would set, side by side; what lies oddly; the margins that it moves."""
    lookup = Lookup(weather.fleet, NO_CATALOGUE)
    site, new, station = weather.on_record, weather.by_file, weather.station
    display = lookup.display(site.code)
    hottest = MONTHS[weather.climate.hottest_month - 1]
    heading: Row = [Cell(text, FAINT) for text in ("", "on record", "by the file", "")]
    sets: list[Row] = [
        ["outdoor design peak", _peak(site, display), _peak(new, display), "exceeded in 0.4 % of the year's hours"],
        ["outdoor daily range", _range(site, display), _range(new, display), f"mean of {hottest}, the hottest month"],
        ["hot season", season_words(site.hot_seasons), season_words(new.hot_seasons), _why_none(weather, display)],
    ]
    beside: list[Row] = [
        ["latitude", _plain(site.latitude), _plain(station.latitude)],
        ["longitude", _plain(site.longitude), _plain(station.longitude)],
        ["elevation", _elevation(site.elevation_m, display), _elevation(station.elevation_m, display)],
        ["time zone", site.time_zone, _offset(station.utc_offset_h)],
    ]
    rules = RULES.format(higher="two to four °F" if display.us else "one or two K")
    lines = [
        typed(f"{lookup.label(site.code)}, by the hourly temperatures of {station.name} ({station.form})", LINE_WIDTH),
        "",
        *in_columns([heading, *sets, *beside], indent=2, longest=LINE_WIDTH),
        "",
        *(fill(note, LINE_WIDTH) for note in (*_oddities(weather, display), *_stated(station, display), rules)),
        "",
        *_margins(weather),
        "",
    ]
    if site == new:
        lines.append("The register says so already.")
    elif weather.written:
        lines.append("Written: design peak, daily range and hot season. The rest stays as it was.")
    elif not apply:
        lines.append("Nothing is written; with --apply the first three are.")
    return "\n".join(lines)


def weather_record(weather: SiteWeather) -> dict[str, Any]:
    """The same as a record: SI units, seasons as {start, end} by month and day."""
    station, climate = weather.station, weather.climate
    return {
        "site": weather.on_record.code,
        "station": {
            "form": station.form,
            "name": station.name,
            "latitude": station.latitude,
            "longitude": station.longitude,
            "elevation_m": station.elevation_m,
            "utc_offset_h": station.utc_offset_h,
            "stated_peak_c": station.stated_peak_c,
            "stated_range_k": station.stated_range_k,
            "stated_by": station.stated_by,
        },
        "on_record": _settings(weather.on_record),
        "by_file": _settings(weather.by_file),
        "hottest_month": climate.hottest_month,
        "no_season": climate.no_season,
        "apart_km": None if weather.apart_km is None else round(weather.apart_km, 1),
        "higher_m": None if weather.higher_m is None else round(weather.higher_m, 1),
        "clock_apart_h": weather.clock_apart_h,
        "differs": weather.on_record != weather.by_file,
        "written": weather.written,
        "before": margin_records(weather.before),
        "after": margin_records(weather.after),
    }


def season_words(spans: Sequence[YearSpan]) -> str:
    """1 Jun to 30 Sep; several joined by "and"; none."""
    told = (
        f"{span.first_day} {MONTHS[span.first_month - 1]} to {span.last_day} {MONTHS[span.last_month - 1]}"
        for span in spans
    )
    return " and ".join(told) or "none"


def _settings(site: Site) -> Mapping[str, Any]:
    return {
        "outdoor_design_peak_c": site.outdoor_design_peak_c,
        "outdoor_daily_range_k": site.outdoor_daily_range_k,
        "hot_seasons": [
            {
                "start": f"{span.first_month:02d}-{span.first_day:02d}",
                "end": f"{span.last_month:02d}-{span.last_day:02d}",
            }
            for span in site.hot_seasons
        ],
    }


def _peak(site: Site, display: Display) -> str:
    peak = site.outdoor_design_peak_c
    return NOT_ON_RECORD if peak is None else display.temperature(peak)


def _range(site: Site, display: Display) -> str:
    width = site.outdoor_daily_range_k
    return NOT_ON_RECORD if width is None else display.difference(width)


def _elevation(elevation_m: float | None, display: Display) -> str:
    return NOT_ON_RECORD if elevation_m is None else _height(elevation_m, display)


def _height(height_m: float, display: Display) -> str:
    return f"{height_m / M_PER_FOOT:z,.0f} ft" if display.us else f"{height_m:z,.0f} m"


def _plain(degrees: float | None) -> str:
    return NOT_ON_RECORD if degrees is None else f"{degrees:.2f}"


def _offset(hours: float | None) -> str:
    return NOT_ON_RECORD if hours is None else f"UTC{hours:+g}"


def _why_none(weather: SiteWeather, display: Display) -> str:
    climate = weather.climate
    if climate.no_season is NoSeason.LITTLE_SWING:
        swing = display.difference(climate.warmest_highs_c - climate.coolest_highs_c)
        return f"over the year the 31-day mean of daily highs moves by {swing} only"
    if climate.no_season is NoSeason.COOL:
        return f"the warmest 31 days have highs of {display.temperature(climate.warmest_highs_c)} in the mean"
    return ""


def _oddities(weather: SiteWeather, display: Display) -> list[str]:
    """What may mean that the file is that of another place."""
    notes = []
    if weather.apart_km is not None and weather.apart_km > FAR_KM:
        far = f"{weather.apart_km / KM_PER_MILE:,.0f} miles" if display.us else f"{weather.apart_km:,.0f} km"
        notes.append(f"The file's place lies {far} from the site: is it the right file?")
    if weather.higher_m is not None and abs(weather.higher_m) > HIGHER_M:
        cooler = display.difference(abs(weather.higher_m) * COOLER_K_PER_M)
        height, side = _height(abs(weather.higher_m), display), "higher" if weather.higher_m > 0 else "lower"
        effect = "cooler" if weather.higher_m > 0 else "warmer"
        notes.append(f"It lies {height} {side} than the site, where air is about {cooler} {effect}.")
    if weather.clock_apart_h is not None and abs(weather.clock_apart_h) >= 1.0:
        hours = count_words(round(abs(weather.clock_apart_h)), "hour")
        notes.append(f"Its standard time differs from the site's by {hours}: is it the right file?")
    return notes


def _stated(station: WeatherStation, display: Display) -> list[str]:
    if station.stated_peak_c is None or station.stated_range_k is None:
        return []
    by = f" ({typed(station.stated_by)})" if station.stated_by else ""
    peak, width = display.temperature(station.stated_peak_c), display.difference(station.stated_range_k)
    return [f"The head of the file states: design peak {peak}, daily range {width}{by}."]


def _margins(weather: SiteWeather) -> list[str]:
    """The margins that move by it, and how many do not."""
    earlier = {(row.tank, row.scenario): row for row in weather.before}
    moved = [row for row in weather.after if _told(row) != _told(earlier[row.tank, row.scenario])]
    tanks = {row.tank for row in weather.after}
    still = len(tanks - {row.tank for row in moved})
    if not moved:
        return ["No margin moves by it." if tanks else "No tank stands there."]
    table = change_text(weather.before, moved, (), weather.fleet)
    return [table, *([f"{count_words(still, 'tank keeps its', 'tanks keep their')} margin."] if still else [])]


def _told(row: Assessment) -> tuple[str, str, str]:
    margin = row.margin
    return row.state, percent(margin.low if margin else None), percent(margin.mid if margin else None)
