"""What the heat balance says of a tank under one scenario."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleet.values.spread import Spread
from fleet.values.vocabulary import MarginState, Reaches, Scenario


@dataclass(frozen=True, slots=True)
class HoursToLimit:
    """Hours until a tank passes its limit. A None is a time that never comes within the run (or is not known)."""

    low: float | None
    mid: float | None
    high: float | None
    reaches_limit: Reaches


@dataclass(frozen=True, slots=True)
class HoursByFailure:
    """Hours to the limit for each failure; None where there is nothing to lose (no device, no A/C)."""

    all_cooling_lost: HoursToLimit | None
    ac_lost: HoursToLimit | None
    ac_and_cooling_lost: HoursToLimit | None
    largest_lost: HoursToLimit | None


@dataclass(frozen=True, slots=True)
class DeviceCapacity:
    """What one device can deliver to this tank at the hour that counts, where it stands, in its present state.

    `capacity_w` is this tank's own share where a device cools several. `condenser_inlet_c` is None for fans.
    `screen_airflow` is air flow over clean air flow (0.2..1). `plate_basis` says which printed figure was used.
    `notes` are whole sentences for people ("The printed volume says little: unverified.").
    """

    device: str
    role: str
    capacity_w: Spread | None
    electric_power_w: float | None
    condenser_inlet_c: float | None
    condensing_c: float | None
    screen_airflow: float | None
    fouling_m2k_w: float | None
    trips: bool
    plate_basis: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Assessment:
    """Need, capacity, margin, duty and hours of one tank under one scenario.

    `required_w` is the heat to be removed at the hour that counts to stay at target, on the safe side, mostly the
    high end of `required_spread_w`. At or below zero none is needed. `margin` is available / required − 1, each side's
    capacity over its own need (None: nothing required, or unknown; `state` says which; infinite where the
    least heat is nothing). It is judged on its low end. `duty` and `n_minus_1_margin` are None where they have no
    meaning. `equilibrium_c` is where the tank would settle on the daily mean without any cooling. `assumed` are whole
    phrases naming each default used ("lid: sealed"). Temperatures in °C, power in W.
    """

    tank: str
    scenario: Scenario
    target_c: float
    required_w: float
    required_spread_w: Spread
    available_w: Spread | None
    margin: Spread | None
    state: MarginState
    duty: float | None
    n_minus_1_margin: float | None
    hours: HoursByFailure
    peak_c: float
    limit_c: float
    room_peak_c: float
    equilibrium_c: float
    evaporation_l_per_day: float
    dew_point_c: float
    assumed: tuple[str, ...]
    devices: tuple[DeviceCapacity, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawnMargin:
    """5, 50 and 95 % points of a tank's need and capacity [W] and of its margin (infinite where nothing is needed), by
    random draws of what is not known."""

    tank: str
    scenario: Scenario
    required_w: Spread
    available_w: Spread
    margin: Spread
    draws: int


@dataclass(frozen=True, slots=True)
class MarginChange:
    """What a dated change did to the margin of one tank on the hot day, for the reason of a recheck."""

    tank: str
    day: date
    before: Assessment | None
    after: Assessment | None


@dataclass(frozen=True, slots=True)
class MarginStep:
    """What a dated change did to the hot-day margin of a tank: the margin and state before it, and after it.

    `what` says in words what changed on `subject`: the tank itself, its device or its room. A margin is None where
    nothing is required or nothing is known, a state None where there was no tank to assess on that day.
    """

    tank: str
    day: date
    subject: str
    what: str
    before: Spread | None
    after: Spread | None
    state_before: MarginState | None
    state_after: MarginState | None


@dataclass(frozen=True, slots=True)
class OutputShare:
    """What a device was measured to deliver on a day [W], and that as a share of what it delivers when clean, carried
    to like water and air. `error` is one standard deviation of the share by how well its own readings are repeated,
    `basis_error` by those of the clean device, which all its shares have in common; `basis` says what the share is of.
    """

    device: str
    on: date
    watts: float
    share: float
    error: float
    basis_error: float
    basis: str
