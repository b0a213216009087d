"""The closed sets of words that the register, the planner and the pages share. Each member is its own text."""

from __future__ import annotations

from enum import StrEnum


class SubjectKind(StrEnum):
    """What a code stands for."""

    CLIENT = "client"
    SITE = "site"
    ROOM = "room"
    TANK = "tank"
    DEVICE = "device"
    EQUIPMENT = "equipment"
    TECHNICIAN = "technician"


class ClientKind(StrEnum):
    COMPANY = "company"
    AQUARIUM = "aquarium"
    SCHOOL = "school"
    HOME = "home"


class UnitSystem(StrEnum):
    US = "us"
    METRIC = "metric"


class ContactRole(StrEnum):
    CLIENT = "client"
    ON_CALL = "on-call"
    ELECTRICIAN = "electrician"
    REFRIGERATION = "refrigeration"
    VET = "vet"
    POWER_COMPANY = "power-company"
    ROOM_AC = "room-ac"
    KEY_HOLDER = "key-holder"
    EMERGENCY = "emergency"


class TankKind(StrEnum):
    TROPICAL_FRESH = "tropical-fresh"
    TROPICAL_MARINE = "tropical-marine"
    REEF = "reef"
    COLD_FRESH = "cold-fresh"
    COLD_MARINE = "cold-marine"
    OTHER = "other"


class Wall(StrEnum):
    GLASS = "glass"
    ACRYLIC = "acrylic"
    CONCRETE = "concrete"


class Lid(StrEnum):
    OPEN = "open"
    LOOSE = "loose"
    SEALED = "sealed"


class Stand(StrEnum):
    OPEN = "open"
    CLOSED = "closed"
    NONE = "none"


class Health(StrEnum):
    """Health status of a system, in the order in which systems are worked on."""

    CLEAN = "clean"
    UNKNOWN = "unknown"
    QUARANTINE = "quarantine"
    SICK = "sick"


class LoadKind(StrEnum):
    LIGHT = "light"
    SUBMERGED_PUMP = "submerged-pump"
    EXTERNAL_PUMP = "external-pump"
    HEATER = "heater"
    UV = "uv"
    OTHER = "other"


class Mounting(StrEnum):
    SEALED_HOOD = "sealed-hood"
    RIM = "rim"
    SUSPENDED = "suspended"
    IN_WATER = "in-water"
    REMOTE = "remote"


class DeviceKind(StrEnum):
    CHILLER = "chiller"
    THERMOELECTRIC = "thermoelectric"
    SURFACE_FAN = "surface-fan"
    STAND_FAN = "stand-fan"


class Where(StrEnum):
    IN_STAND = "in-stand"
    IN_STAND_VENTED = "in-stand-vented"
    BESIDE_TANK = "beside-tank"
    THROUGH_PANEL = "through-panel"
    OTHER_ROOM = "other-room"
    OUTDOORS = "outdoors"
    STORE = "store"


class Role(StrEnum):
    DUTY = "duty"
    STANDBY = "standby"


class EquipmentKind(StrEnum):
    HEATER = "heater"
    PROBE = "probe"
    CONTROLLER = "controller"
    ALARM = "alarm"
    GFCI = "gfci"
    UPS = "ups"
    GENERATOR = "generator"
    AIR_PUMP = "air-pump"
    PUMP = "pump"
    TOP_OFF = "top-off"
    REFERENCE_THERMOMETER = "reference-thermometer"
    FIELD_KIT = "field-kit"
    SPARE_PART = "spare-part"


class Skill(StrEnum):
    """KEEPER < TECHNICIAN; the two licences stand beside that ladder, not on it."""

    KEEPER = "keeper"
    TECHNICIAN = "technician"
    REFRIGERATION = "refrigeration"
    ELECTRICIAN = "electrician"


class EventKind(StrEnum):
    OUTAGE = "outage"
    STORM = "storm"
    DEATH = "death"
    LEAK = "leak"
    MOVED = "moved"
    OPENED = "opened"
    ROOM_AC_CHANGED = "room-ac-changed"
    OTHER = "other"


class Finding(StrEnum):
    SOUND = "sound"
    DEGRADED = "degraded"
    FAULT = "fault"
    NOT_INSPECTED = "not-inspected"


class ReadingQuantity(StrEnum):
    WATER_TEMP = "water-temp"
    ROOM_TEMP = "room-temp"
    INTAKE_AIR_TEMP = "intake-air-temp"
    EXHAUST_AIR_TEMP = "exhaust-air-temp"
    WATER_IN_TEMP = "water-in-temp"
    WATER_OUT_TEMP = "water-out-temp"
    FLOW = "flow"
    POWER = "power"
    RUN_SHARE_PERCENT = "run-share-percent"
    RUNNING_HOURS = "running-hours"
    SALINITY = "salinity"
    HUMIDITY_PERCENT = "humidity-percent"
    TOPOFF_L_PER_DAY = "topoff-l-per-day"
    COPPER_UG_PER_L = "copper-ug-per-l"
    OXYGEN_MG_PER_L = "oxygen-mg-per-l"
    RINSE_PH = "rinse-ph"
    SUPPLY_PH = "supply-ph"
    PROBE_OFFSET = "probe-offset"
    TRIP_TIME_MS = "trip-time-ms"
    ALARM_MINUTES = "alarm-minutes"


class DerivedQuantity(StrEnum):
    """What is reckoned from several readings of one day."""

    OUTPUT_SHARE_PERCENT = "output-share-percent"
    """What a device delivers, of what it delivers when clean, under like conditions."""


class Scenario(StrEnum):
    HOT_DAY = "hot-day"
    AC_OFF = "ac-off"


class MarginState(StrEnum):
    NONE_NEEDED = "none-needed"
    RIDES = "rides"
    AMPLE = "ample"
    OK = "ok"
    THIN = "thin"
    SHORT = "short"
    TRIPS = "trips"
    UNKNOWN = "unknown"


class Reaches(StrEnum):
    """Whether a tank gets to its limit at all."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Tolerance(StrEnum):
    """How far a task may be done early or late (the classes are explained in planning/recurrence.py)."""

    A0 = "A0"
    A = "A"
    B = "B"
    C = "C"
    S = "S"


class PerformedBy(StrEnum):
    SITE_STAFF = "site-staff"
    VISITOR = "visitor"


class TaskState(StrEnum):
    UPCOMING = "upcoming"
    OPEN = "open"
    DUE = "due"
    LATE = "late"
    PAST_LIMIT = "past-limit"
    PUT_OFF = "put-off"
    HALTED = "halted"
    DONE = "done"
    NOT_APPLICABLE = "not-applicable"
    WITHDRAWN = "withdrawn"


class CauseKind(StrEnum):
    """What made a task exist."""

    INTERVAL = "interval"
    NEVER_RECORDED = "never-recorded"
    CALENDAR = "calendar"
    SEASON = "season"
    RUNNING_HOURS = "running-hours"
    EVENT = "event"
    CONDITION = "condition"
    CHANGE = "change"


class ChangeKind(StrEnum):
    """A dated fact that began or ended and so may have moved a tank's heat balance."""

    LIGHTS = "lights-changed"
    PUMPS = "pumps-changed"
    OTHER_LOAD = "other-load-changed"
    ANIMALS = "livestock-changed"
    DEVICE_MOVED = "device-moved"
    DUTY = "duty-changed"
    ROOM = "room-changed"
    TANK = "tank-changed"
    PLATE = "plate-changed"
