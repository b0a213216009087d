"""One table for each file of the register, with the field names, units and words of fleet/values/register.py."""

from datetime import date, datetime, time
from decimal import Decimal

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from fleet.db.base import FleetModel, Kept, reference
from fleet.db.constraints import rules_of_file, word_check
from fleet.db.types import decimal_text, joined, read_year_span, word, write_year_span
from fleet.values import register as values
from fleet.values import vocabulary as words


class SubjectRow(FleetModel, table=True):
    """Every code on record, whatever it stands for; all references point here."""

    __tablename__ = "subject"
    __table_args__ = (
        word_check("kind", words.SubjectKind),
        CheckConstraint("length(code) >= 1 AND length(code) <= 24", name="code_length"),
    )

    code: str = Field(primary_key=True)
    kind: words.SubjectKind = word(words.SubjectKind)


class ClientRow(Kept, table=True):
    __tablename__ = "client"
    __table_args__ = rules_of_file("clients", values.Client)

    code: str = reference()
    name: str
    kind: words.ClientKind | None = word(words.ClientKind)
    contact: str | None
    email: str | None
    phone: str | None
    units: words.UnitSystem | None = word(words.UnitSystem)
    notes: str | None


class SiteRow(Kept, table=True):
    __tablename__ = "site"
    __table_args__ = rules_of_file("sites", values.Site)

    code: str = reference()
    client: str = reference(index=True)
    name: str
    time_zone: str
    address: str | None
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    hot_seasons: tuple[values.YearSpan, ...] = joined(read_year_span, write_year_span)
    outdoor_design_peak_c: float | None
    outdoor_daily_range_k: float | None
    visit_days: tuple[int, ...] = joined(int)
    visit_from: time | None
    visit_to: time | None
    tariff_per_kwh: Decimal | None = decimal_text()
    currency: str | None
    holiday_region: str | None
    access_notes: str | None


class ContactRow(Kept, table=True):
    __tablename__ = "contact"
    __table_args__ = rules_of_file("contacts", values.Contact)

    site: str = reference()
    role: words.ContactRole = word(words.ContactRole)
    name: str
    phone: str | None
    order: int | None
    tested_on: date | None


class RoomRow(Kept, table=True):
    __tablename__ = "room"
    __table_args__ = rules_of_file("rooms", values.Room)

    code: str = reference()
    site: str = reference(index=True)
    name: str
    hot_day_mean_c: float
    air_conditioned: bool | None
    hot_day_rise_k: float | None
    relative_humidity: float | None
    ac_off_mean_c: float | None
    ac_off_rise_k: float | None
    volume_m3: float | None
    ua_w_per_k: float | None
    conditions: tuple[str, ...] = joined()
    since: date


class TankRow(Kept, table=True):
    __tablename__ = "tank"
    __table_args__ = rules_of_file("tanks", values.Tank)

    code: str = reference()
    room: str = reference(index=True)
    name: str
    kind: words.TankKind = word(words.TankKind)
    length_m: float
    width_m: float
    height_m: float
    target_c: float
    wall: words.Wall | None = word(words.Wall)
    wall_thickness_m: float | None
    net_volume_m3: float | None
    sump_volume_m3: float | None
    sump_area_m2: float | None
    salinity_g_per_kg: float | None
    lid: words.Lid | None = word(words.Lid)
    stand: words.Stand | None = word(words.Stand)
    stand_vent_flow_m3_h: float | None
    watch_low_c: float | None
    watch_high_c: float | None
    act_low_c: float | None
    act_high_c: float | None
    health: words.Health | None = word(words.Health)
    wall_ua_w_per_k: float | None
    conditions: tuple[str, ...] = joined()
    since: date
    notes: str | None


class LoadRow(Kept, table=True):
    __tablename__ = "load"
    __table_args__ = rules_of_file("loads", values.Load)

    tank: str = reference()
    name: str
    kind: words.LoadKind = word(words.LoadKind)
    power_w: float
    since: date
    hours_per_day: float | None
    on_from: time | None
    mounting: words.Mounting | None = word(words.Mounting)
    until: date | None


class AnimalsRow(Kept, table=True):
    __tablename__ = "animals"
    __table_args__ = rules_of_file("animals", values.Animals)

    tank: str = reference()
    group: str
    since: date
    animal_class: str | None
    count: int | None
    mass_kg: float | None
    until: date | None


class DeviceRow(Kept, table=True):
    __tablename__ = "device"
    __table_args__ = rules_of_file("devices", values.Device)

    code: str = reference()
    kind: words.DeviceKind = word(words.DeviceKind)
    name: str
    maker: str | None
    model: str | None
    serial: str | None
    plate: str | None
    rated_cooling_w: float | None
    rated_power_w: float | None
    rated_horsepower_w: float | None
    rated_volume_m3: float | None
    rated_pull_down_k: float | None
    rated_water_temp_c: float | None
    rated_air_temp_c: float | None
    air_flow_m3_h: float | None
    fan_diameter_m: float | None
    refrigerant: str | None
    charge_g: float | None
    exchanger_metal: str | None
    mass_kg: float | None
    installed: date | None
    warranty_until: date | None
    expected_life_years: float | None
    since: date
    notes: str | None


class PlacementRow(Kept, table=True):
    __tablename__ = "placement"
    __table_args__ = rules_of_file("placements", values.Placement)

    device: str = reference()
    where: words.Where = word(words.Where)
    since: date
    room: str | None = reference(index=True)
    stand_of: str | None = reference(index=True)
    clearance_m: float | None
    until: date | None


class DutyRow(Kept, table=True):
    __tablename__ = "duty"
    __table_args__ = rules_of_file("duties", values.Duty)

    device: str = reference()
    tank: str = reference(index=True)
    since: date
    role: words.Role | None = word(words.Role)
    until: date | None


class EquipmentRow(Kept, table=True):
    __tablename__ = "equipment"
    __table_args__ = rules_of_file("equipment", values.Equipment)

    code: str = reference()
    kind: words.EquipmentKind = word(words.EquipmentKind)
    name: str
    tank: str | None = reference(index=True)
    site: str | None = reference(index=True)
    serves: tuple[str, ...] = joined()
    installed: date | None
    notes: str | None


class TechnicianRow(Kept, table=True):
    __tablename__ = "technician"
    __table_args__ = rules_of_file("technicians", values.Technician)

    code: str = reference()
    name: str
    skills: tuple[words.Skill, ...] = joined(words.Skill)
    licence: str | None
    licence_until: date | None
    base_latitude: float | None
    base_longitude: float | None
    work_days: tuple[int, ...] = joined(int)
    work_from: time | None
    work_to: time | None
    lunch_minutes: int | None
    email: str | None


class AbsenceRow(Kept, table=True):
    __tablename__ = "absence"
    __table_args__ = rules_of_file("absences", values.Absence)

    technician: str = reference()
    since: date
    until: date | None
    reason: str | None


class ClosureRow(Kept, table=True):
    __tablename__ = "closure"
    __table_args__ = rules_of_file("closures", values.Closure)

    site: str = reference()
    since: date
    until: date | None
    reason: str | None


class EventRow(Kept, table=True):
    __tablename__ = "event"
    __table_args__ = rules_of_file("events", values.Event)

    subject: str = reference()
    event: words.EventKind = word(words.EventKind)
    on: date
    by: str | None
    note: str | None


class ServiceRecordRow(Kept, table=True):
    """Work done. `task_key` is the planned task that it closed, where there was one."""

    __tablename__ = "service_record"
    __table_args__ = rules_of_file("history", values.ServiceRecord)

    subject: str = reference()
    task: str
    done_on: date
    by: str | None
    finding: words.Finding | None = word(words.Finding)
    minutes: int | None
    note: str | None
    task_key: str | None = Field(index=True)
    recorded_at: datetime


class ReadingRow(Kept, table=True):
    __tablename__ = "reading"
    __table_args__ = rules_of_file("readings", values.Reading)

    subject: str = reference()
    quantity: words.ReadingQuantity = word(words.ReadingQuantity)
    value: float
    taken_at: datetime
    by: str | None
    note: str | None
