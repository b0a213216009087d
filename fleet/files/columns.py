"""Every file of the register and every column of it: name, field of the row, form of the cell, whether it is required.

The one place that says so; reading, writing and the messages all follow this table.
"""

from __future__ import annotations

import re
from typing import Any

from fleet.files.amounts import Money, Number, Quantity, Whole
from fleet.files.cells import Choice, Choices, Code, Codes, Form, Pattern, Text, Word, Words, YesNo
from fleet.files.moments import Clock, Day, Instant, MonthDays, Weekdays, Zone
from fleet.files.regions import HolidayRegion
from fleet.files.specification import Column, FileSpec
from fleet.values import register
from fleet.values.bounds import BOUNDS
from fleet.values.vocabulary import (
    ClientKind,
    ContactRole,
    DeviceKind,
    EquipmentKind,
    EventKind,
    Finding,
    Health,
    Lid,
    LoadKind,
    Mounting,
    ReadingQuantity,
    Role,
    Skill,
    Stand,
    SubjectKind,
    TankKind,
    UnitSystem,
    Wall,
    Where,
)

_TEMPERATURE = Quantity("temperature")
_DIFFERENCE = Quantity("difference")
_LENGTH = Quantity("length")
_VOLUME = Quantity("volume")
_POWER = Quantity("power")
_FLOW = Quantity("flow")
_UA = Number(("W/K",))
_LINES = Text(10_000, lines=True)
_NAME = Text(200)
_DAY = Day()
_CLOCK = Clock()
_DEGREES = Number(("°",))
_OWN_CODE = Code(own=True)
_EMAIL = Pattern(re.compile(r"[^@\s]{1,100}@[^@\s]{1,150}"), "an e-mail address, such as desk@example.org")
_CURRENCY = Pattern(re.compile(r"[A-Z]{3}"), "a currency of ISO 4217, such as USD", upper=True)
_TASK = Pattern(
    re.compile(r"[a-z0-9][a-z0-9._-]{0,79}"), "the id of a task of the catalogue, such as clean-intake-screen"
)
_ANY_CODE = Code()


def _code_of(*kinds: SubjectKind) -> Code:
    return Code(frozenset(kinds))


_CLIENT = _code_of(SubjectKind.CLIENT)
_SITE = _code_of(SubjectKind.SITE)
_ROOM = _code_of(SubjectKind.ROOM)
_TANK = _code_of(SubjectKind.TANK)
_DEVICE = _code_of(SubjectKind.DEVICE)
_TECHNICIAN = _code_of(SubjectKind.TECHNICIAN)
_SERVED = Codes(frozenset({SubjectKind.TANK, SubjectKind.DEVICE, SubjectKind.EQUIPMENT}))

HOT_SEASON_FIRST, HOT_SEASON_LAST = "hot_season_start", "hot_season_end"
"""Columns of sites that stand together in the field hot_seasons; until they are joined they go by these names."""

_REQUIRED = True

_COLUMNS: dict[str, tuple[type[Any], list[tuple[Any, ...]]]] = {
    "clients": (
        register.Client,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("kind", "kind", Choice(ClientKind)),
            ("contact", "contact", _NAME),
            ("email", "email", _EMAIL),
            ("phone", "phone", _NAME),
            ("units", "units", Choice(UnitSystem)),
            ("notes", "notes", _LINES),
        ],
    ),
    "sites": (
        register.Site,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("client", "client", _CLIENT, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("address", "address", _LINES),
            ("latitude", "latitude", _DEGREES),
            ("longitude", "longitude", _DEGREES),
            ("time_zone", "time_zone", Zone(), _REQUIRED),
            ("elevation", "elevation_m", Quantity("elevation")),
            (HOT_SEASON_FIRST, HOT_SEASON_FIRST, MonthDays()),
            (HOT_SEASON_LAST, HOT_SEASON_LAST, MonthDays()),
            ("outdoor_design_peak", "outdoor_design_peak_c", _TEMPERATURE),
            ("outdoor_daily_range", "outdoor_daily_range_k", _DIFFERENCE),
            ("visit_days", "visit_days", Weekdays()),
            ("visit_from", "visit_from", _CLOCK),
            ("visit_to", "visit_to", _CLOCK),
            ("tariff_per_kwh", "tariff_per_kwh", Money()),
            ("currency", "currency", _CURRENCY),
            ("holiday_region", "holiday_region", HolidayRegion()),
            ("access_notes", "access_notes", _LINES),
        ],
    ),
    "contacts": (
        register.Contact,
        [
            ("site", "site", _SITE, _REQUIRED),
            ("role", "role", Choice(ContactRole), _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("phone", "phone", _NAME),
            ("order", "order", Whole()),
            ("tested_on", "tested_on", _DAY),
        ],
    ),
    "rooms": (
        register.Room,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("site", "site", _SITE, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("air_conditioned", "air_conditioned", YesNo()),
            ("hot_day_mean", "hot_day_mean_c", _TEMPERATURE, _REQUIRED),
            ("hot_day_rise", "hot_day_rise_k", _DIFFERENCE),
            ("relative_humidity_percent", "relative_humidity", Number(("%",), power_of_ten=2)),
            ("ac_off_mean", "ac_off_mean_c", _TEMPERATURE),
            ("ac_off_rise", "ac_off_rise_k", _DIFFERENCE),
            ("room_volume", "volume_m3", _VOLUME),
            ("room_ua_w_per_k", "ua_w_per_k", _UA),
            ("conditions", "conditions", Words()),
            ("since", "since", _DAY),
        ],
    ),
    "tanks": (
        register.Tank,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("room", "room", _ROOM, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("kind", "kind", Choice(TankKind), _REQUIRED),
            ("length", "length_m", _LENGTH, _REQUIRED),
            ("width", "width_m", _LENGTH, _REQUIRED),
            ("height", "height_m", _LENGTH, _REQUIRED),
            ("wall", "wall", Choice(Wall)),
            ("wall_thickness", "wall_thickness_m", _LENGTH),
            ("net_volume", "net_volume_m3", _VOLUME),
            ("sump_volume", "sump_volume_m3", _VOLUME),
            ("sump_area_m2", "sump_area_m2", Number(("m2", "m²"), kind="area")),
            ("salinity_g_per_kg", "salinity_g_per_kg", Number(("g/kg", "ppt", "‰"))),
            ("lid", "lid", Choice(Lid)),
            ("stand", "stand", Choice(Stand)),
            ("stand_vent_flow", "stand_vent_flow_m3_h", _FLOW),
            ("target", "target_c", _TEMPERATURE, _REQUIRED),
            ("watch_low", "watch_low_c", _TEMPERATURE),
            ("watch_high", "watch_high_c", _TEMPERATURE),
            ("act_low", "act_low_c", _TEMPERATURE),
            ("act_high", "act_high_c", _TEMPERATURE),
            ("health", "health", Choice(Health)),
            ("wall_ua_w_per_k", "wall_ua_w_per_k", _UA),
            ("conditions", "conditions", Words()),
            ("since", "since", _DAY),
            ("notes", "notes", _LINES),
        ],
    ),
    "loads": (
        register.Load,
        [
            ("tank", "tank", _TANK, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("kind", "kind", Choice(LoadKind), _REQUIRED),
            ("power", "power_w", _POWER, _REQUIRED),
            ("hours_per_day", "hours_per_day", Number(("h", "hours", "h/day", "h/d"))),
            ("on_from", "on_from", _CLOCK),
            ("mounting", "mounting", Choice(Mounting)),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
        ],
    ),
    "animals": (
        register.Animals,
        [
            ("tank", "tank", _TANK, _REQUIRED),
            ("group", "group", _NAME, _REQUIRED),
            ("class", "animal_class", Word()),
            ("count", "count", Whole()),
            ("mass_kg", "mass_kg", Number(("kg",), kind="mass")),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
        ],
    ),
    "devices": (
        register.Device,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("kind", "kind", Choice(DeviceKind), _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("maker", "maker", _NAME),
            ("model", "model", _NAME),
            ("serial", "serial", _NAME),
            ("plate", "plate", _LINES),
            ("rated_cooling", "rated_cooling_w", _POWER),
            ("rated_power", "rated_power_w", _POWER),
            ("rated_horsepower", "rated_horsepower_w", Quantity("power", plate_horsepower=True)),
            ("rated_volume", "rated_volume_m3", _VOLUME),
            ("rated_pull_down", "rated_pull_down_k", _DIFFERENCE),
            ("rated_water_temp", "rated_water_temp_c", _TEMPERATURE),
            ("rated_air_temp", "rated_air_temp_c", _TEMPERATURE),
            ("air_flow", "air_flow_m3_h", _FLOW),
            ("fan_diameter", "fan_diameter_m", _LENGTH),
            ("refrigerant", "refrigerant", _NAME),
            ("charge_g", "charge_g", Number(("g",), kind="mass", per_si=1000)),
            ("exchanger_metal", "exchanger_metal", _NAME),
            ("mass_kg", "mass_kg", Number(("kg",), kind="mass")),
            ("installed", "installed", _DAY),
            ("warranty_until", "warranty_until", _DAY),
            ("expected_life_years", "expected_life_years", Number(("years", "year", "y", "a"))),
            ("since", "since", _DAY),
            ("notes", "notes", _LINES),
        ],
    ),
    "placements": (
        register.Placement,
        [
            ("device", "device", _DEVICE, _REQUIRED),
            ("where", "where", Choice(Where), _REQUIRED),
            ("room", "room", _ROOM),
            ("stand_of", "stand_of", _TANK),
            ("clearance", "clearance_m", _LENGTH),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
        ],
    ),
    "duties": (
        register.Duty,
        [
            ("device", "device", _DEVICE, _REQUIRED),
            ("tank", "tank", _TANK, _REQUIRED),
            ("role", "role", Choice(Role)),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
        ],
    ),
    "equipment": (
        register.Equipment,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("kind", "kind", Choice(EquipmentKind), _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("tank", "tank", _TANK),
            ("site", "site", _SITE),
            ("serves", "serves", _SERVED),
            ("installed", "installed", _DAY),
            ("notes", "notes", _LINES),
        ],
    ),
    "technicians": (
        register.Technician,
        [
            ("code", "code", _OWN_CODE, _REQUIRED),
            ("name", "name", _NAME, _REQUIRED),
            ("skills", "skills", Choices(Skill)),
            ("licence", "licence", _NAME),
            ("licence_until", "licence_until", _DAY),
            ("base_latitude", "base_latitude", _DEGREES),
            ("base_longitude", "base_longitude", _DEGREES),
            ("work_days", "work_days", Weekdays()),
            ("work_from", "work_from", _CLOCK),
            ("work_to", "work_to", _CLOCK),
            ("lunch_minutes", "lunch_minutes", Whole()),
            ("email", "email", _EMAIL),
        ],
    ),
    "absences": (
        register.Absence,
        [
            ("technician", "technician", _TECHNICIAN, _REQUIRED),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
            ("reason", "reason", _LINES),
        ],
    ),
    "closures": (
        register.Closure,
        [
            ("site", "site", _SITE, _REQUIRED),
            ("since", "since", _DAY, _REQUIRED),
            ("until", "until", _DAY),
            ("reason", "reason", _LINES),
        ],
    ),
    "events": (
        register.Event,
        [
            ("subject", "subject", _ANY_CODE, _REQUIRED),
            ("event", "event", Choice(EventKind), _REQUIRED),
            ("on", "on", _DAY, _REQUIRED),
            ("by", "by", _NAME),
            ("note", "note", _LINES),
        ],
    ),
    "history": (
        register.ServiceRecord,
        [
            ("subject", "subject", _ANY_CODE, _REQUIRED),
            ("task", "task", _TASK, _REQUIRED),
            ("done_on", "done_on", _DAY, _REQUIRED),
            ("by", "by", _NAME),
            ("finding", "finding", Choice(Finding)),
            ("minutes", "minutes", Whole()),
            ("note", "note", _LINES),
        ],
    ),
    "readings": (
        register.Reading,
        [
            ("subject", "subject", _ANY_CODE, _REQUIRED),
            ("quantity", "quantity", Choice(ReadingQuantity), _REQUIRED),
            ("value", "value", Text(60), _REQUIRED),
            ("taken_at", "taken_at", Instant(), _REQUIRED),
            ("by", "by", _NAME),
            ("note", "note", _LINES),
        ],
    ),
}

FILES: dict[str, FileSpec] = {
    name: FileSpec(
        name,
        row_type,
        tuple(
            Column(column, field, form, bool(required), BOUNDS.get(name, {}).get(field))
            for column, field, form, *required in columns
        ),
    )
    for name, (row_type, columns) in _COLUMNS.items()
}
"""Every file by its name, in the order of the register; referenced files come before those that refer to them."""

READING_FORMS: dict[ReadingQuantity, Form] = {
    ReadingQuantity.WATER_TEMP: _TEMPERATURE,
    ReadingQuantity.ROOM_TEMP: _TEMPERATURE,
    ReadingQuantity.INTAKE_AIR_TEMP: _TEMPERATURE,
    ReadingQuantity.EXHAUST_AIR_TEMP: _TEMPERATURE,
    ReadingQuantity.WATER_IN_TEMP: _TEMPERATURE,
    ReadingQuantity.WATER_OUT_TEMP: _TEMPERATURE,
    ReadingQuantity.FLOW: _FLOW,
    ReadingQuantity.POWER: _POWER,
    ReadingQuantity.RUN_SHARE_PERCENT: Number(("%",)),
    ReadingQuantity.RUNNING_HOURS: Number(("h", "hours")),
    ReadingQuantity.SALINITY: Number(("g/kg", "ppt", "‰")),
    ReadingQuantity.HUMIDITY_PERCENT: Number(("%",)),
    ReadingQuantity.TOPOFF_L_PER_DAY: Number(("L/day", "L/d")),
    ReadingQuantity.COPPER_UG_PER_L: Number(("ug/L", "μg/L")),
    ReadingQuantity.OXYGEN_MG_PER_L: Number(("mg/L",)),
    ReadingQuantity.RINSE_PH: Number(("pH",)),
    ReadingQuantity.SUPPLY_PH: Number(("pH",)),
    ReadingQuantity.PROBE_OFFSET: _DIFFERENCE,
    ReadingQuantity.TRIP_TIME_MS: Number(("ms",)),
    ReadingQuantity.ALARM_MINUTES: Number(("min", "minutes")),
}
"""How the value of a reading stands in its cell, by its quantity."""
