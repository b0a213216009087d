"""One dataclass for each file of the register, in SI units, references by code.

Temperatures in °C, differences in K, lengths in m, volumes in m3, power in W, air flow in m3/h, relative humidity 0..1.
None means unknown, never zero. `since` is ALWAYS where the register leaves it empty; `until` is the first
day on which a fact no longer holds (None: still holds).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal

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
    TankKind,
    UnitSystem,
    Wall,
    Where,
)

ALWAYS = date.min
"""The `since` of a fact that has no first day on record."""


@dataclass(frozen=True, slots=True)
class YearSpan:
    """A span of days that comes back every year; may wrap the year end. Both ends are inside."""

    first_month: int
    first_day: int
    last_month: int
    last_day: int


@dataclass(frozen=True, slots=True)
class Client:
    code: str
    name: str
    kind: ClientKind | None = None
    contact: str | None = None
    email: str | None = None
    phone: str | None = None
    units: UnitSystem | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class Site:
    """`visit_days` holds ISO weekday numbers less one (Monday 0), sorted; empty means not stated."""

    code: str
    client: str
    name: str
    time_zone: str
    address: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None
    hot_seasons: tuple[YearSpan, ...] = ()
    outdoor_design_peak_c: float | None = None
    outdoor_daily_range_k: float | None = None
    visit_days: tuple[int, ...] = ()
    visit_from: time | None = None
    visit_to: time | None = None
    tariff_per_kwh: Decimal | None = None
    currency: str | None = None
    holiday_region: str | None = None
    access_notes: str | None = None


@dataclass(frozen=True, slots=True)
class Contact:
    site: str
    role: ContactRole
    name: str
    phone: str | None = None
    order: int | None = None
    tested_on: date | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """`hot_day_rise_k` is peak minus mean of the design day with the A/C running."""

    code: str
    site: str
    name: str
    hot_day_mean_c: float
    air_conditioned: bool | None = None
    hot_day_rise_k: float | None = None
    relative_humidity: float | None = None
    ac_off_mean_c: float | None = None
    ac_off_rise_k: float | None = None
    volume_m3: float | None = None
    ua_w_per_k: float | None = None
    conditions: tuple[str, ...] = ()
    since: date = ALWAYS


@dataclass(frozen=True, slots=True)
class Tank:
    """Length, width and height are those of the water."""

    code: str
    room: str
    name: str
    kind: TankKind
    length_m: float
    width_m: float
    height_m: float
    target_c: float
    wall: Wall | None = None
    wall_thickness_m: float | None = None
    net_volume_m3: float | None = None
    sump_volume_m3: float | None = None
    sump_area_m2: float | None = None
    salinity_g_per_kg: float | None = None
    lid: Lid | None = None
    stand: Stand | None = None
    stand_vent_flow_m3_h: float | None = None
    watch_low_c: float | None = None
    watch_high_c: float | None = None
    act_low_c: float | None = None
    act_high_c: float | None = None
    health: Health | None = None
    wall_ua_w_per_k: float | None = None
    conditions: tuple[str, ...] = ()
    since: date = ALWAYS
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """Something that takes electric power at a tank. Without hours it runs all day."""

    tank: str
    name: str
    kind: LoadKind
    power_w: float
    since: date
    hours_per_day: float | None = None
    on_from: time | None = None
    mounting: Mounting | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Animals:
    tank: str
    group: str
    since: date
    animal_class: str | None = None
    count: int | None = None
    mass_kg: float | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Device:
    """A cooling device. `plate` is the printed text, verbatim; the rated_* fields are what was read from it."""

    code: str
    kind: DeviceKind
    name: str
    maker: str | None = None
    model: str | None = None
    serial: str | None = None
    plate: str | None = None
    rated_cooling_w: float | None = None
    rated_power_w: float | None = None
    rated_horsepower_w: float | None = None
    rated_volume_m3: float | None = None
    rated_pull_down_k: float | None = None
    rated_water_temp_c: float | None = None
    rated_air_temp_c: float | None = None
    air_flow_m3_h: float | None = None
    fan_diameter_m: float | None = None
    refrigerant: str | None = None
    charge_g: float | None = None
    exchanger_metal: str | None = None
    mass_kg: float | None = None
    installed: date | None = None
    warranty_until: date | None = None
    expected_life_years: float | None = None
    since: date = ALWAYS
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a device stands. `stand_of` is the tank in whose stand it is, `clearance_m` free space at its exhaust."""

    device: str
    where: Where
    since: date
    room: str | None = None
    stand_of: str | None = None
    clearance_m: float | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Duty:
    """Which device cools which tank."""

    device: str
    tank: str
    since: date
    role: Role | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Equipment:
    """Anything else on record that is checked. `serves` holds the codes of what hangs on it."""

    code: str
    kind: EquipmentKind
    name: str
    tank: str | None = None
    site: str | None = None
    serves: tuple[str, ...] = ()
    installed: date | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class Technician:
    code: str
    name: str
    skills: tuple[Skill, ...] = ()
    licence: str | None = None
    licence_until: date | None = None
    base_latitude: float | None = None
    base_longitude: float | None = None
    work_days: tuple[int, ...] = ()
    work_from: time | None = None
    work_to: time | None = None
    lunch_minutes: int | None = None
    email: str | None = None


@dataclass(frozen=True, slots=True)
class Absence:
    technician: str
    since: date
    until: date | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Closure:
    site: str
    since: date
    until: date | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Event:
    subject: str
    event: EventKind
    on: date
    by: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """Work done: one row of history. `task` is the catalogue id."""

    subject: str
    task: str
    done_on: date
    by: str | None = None
    finding: Finding | None = None
    minutes: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """`value` in the SI unit of its quantity (°C, W, m3/h) or in the unit that the quantity's name ends in.

    Flow is in m3/h. `taken_at` is an aware instant in UTC.
    """

    subject: str
    quantity: ReadingQuantity
    value: float
    taken_at: datetime
    by: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class RegisterRows:
    """Every row of a register (or of a part of one), one tuple for each file, named as the files are."""

    clients: tuple[Client, ...] = ()
    sites: tuple[Site, ...] = ()
    contacts: tuple[Contact, ...] = ()
    rooms: tuple[Room, ...] = ()
    tanks: tuple[Tank, ...] = ()
    loads: tuple[Load, ...] = ()
    animals: tuple[Animals, ...] = ()
    devices: tuple[Device, ...] = ()
    placements: tuple[Placement, ...] = ()
    duties: tuple[Duty, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    technicians: tuple[Technician, ...] = ()
    absences: tuple[Absence, ...] = ()
    closures: tuple[Closure, ...] = ()
    events: tuple[Event, ...] = ()
    history: tuple[ServiceRecord, ...] = ()
    readings: tuple[Reading, ...] = ()


NATURAL_KEYS: dict[str, tuple[str, ...]] = {
    "clients": ("code",),
    "sites": ("code",),
    "contacts": ("site", "role", "name"),
    "rooms": ("code", "since"),
    "tanks": ("code", "since"),
    "loads": ("tank", "name", "since"),
    "animals": ("tank", "group", "since"),
    "devices": ("code", "since"),
    "placements": ("device", "since"),
    "duties": ("device", "tank", "since"),
    "equipment": ("code",),
    "technicians": ("code",),
    "absences": ("technician", "since"),
    "closures": ("site", "since"),
    "events": ("subject", "event", "on"),
    "history": ("subject", "task", "done_on"),
    "readings": ("subject", "quantity", "taken_at"),
}
"""The fields that tell one row of a file from another: a second import with the same key changes that row."""

CODED: dict[str, str] = {
    "clients": "client",
    "sites": "site",
    "rooms": "room",
    "tanks": "tank",
    "devices": "device",
    "equipment": "equipment",
    "technicians": "technician",
}
"""The files whose rows have a code of their own, with the SubjectKind that the code stands for."""
