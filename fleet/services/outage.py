"""Answers who crosses a limit when something fails, and what a spare would do."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, time

from fleet.db.repository import Register
from fleet.files.catalogue_files import read_catalogue
from fleet.planning.staff import REACH_KM
from fleet.planning.travel import Place, great_circle_km, travel_minutes
from fleet.thermal.failures import ranked_failures
from fleet.thermal.outage import outage
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.outage import Failure, Outage, RankedFailure

SETTING_UP_H = 0.5
"""To find a spare, lift it, connect it and see it run (common practice)."""


def what_if(
    url: str, today: date, failure: Failure, *, spare_w: float | None = None
) -> tuple[Fleet, Catalogue, Outage]:
    """The outage list of a failure on `today`, with the fleet and catalogue that it was made from."""
    with Register.open(url, read_only=True) as register:
        fleet = register.snapshot(today)
    catalogue = read_catalogue()
    return (
        fleet,
        catalogue,
        outage(fleet, catalogue.class_by_code, failure, spare_w=spare_w, carrying_h=carrying_hours(fleet)),
    )


def what_could(
    url: str, today: date, site: str, *, at: time | None = None
) -> tuple[Fleet, Catalogue, tuple[RankedFailure, ...]]:
    """Every single failure at a site, the worst first."""
    with Register.open(url, read_only=True) as register:
        fleet = register.snapshot(today)
    catalogue = read_catalogue()
    return fleet, catalogue, ranked_failures(fleet, catalogue.class_by_code, site, at=at)


def outages_by_site(fleet: Fleet, catalogue: Catalogue) -> dict[str, tuple[Outage, ...]]:
    """What a site's own outage list holds: no power, and where a room is cooled no air conditioning, spares left out.

    All sites fail in one run, so what two of them have in common fails for both.
    """
    classes = catalogue.class_by_code
    sites = {tank_site for tank in fleet.tanks if (tank_site := fleet.site_of(tank.code)) in fleet.site_by_code}
    dark = sorted(site for site in sites if site is not None)
    conditioned = {room.site for room in fleet.rooms if room.air_conditioned is not False}
    found: dict[str, list[Outage]] = {site: [] for site in dark}

    def fail(failing: Sequence[str], one: Callable[[str], Failure]) -> None:
        """The failure of all of them, cut up into that of each."""
        if not failing:
            return
        every = [one(site) for site in failing]
        together = Failure(
            ac_off=tuple(code for each in every for code in each.ac_off),
            power_out=tuple(code for each in every for code in each.power_out),
        )
        rows = outage(fleet, classes, together, try_spares=False).rows
        for site, alone in zip(failing, every, strict=True):
            own = tuple(row for row in rows if row.site == site)
            if own:
                found[site].append(Outage(alone, own))

    fail(dark, lambda site: Failure(power_out=(site,)))
    fail([site for site in dark if site in conditioned], lambda site: Failure(ac_off=(site,)))
    return {site: tuple(lists) for site, lists in found.items() if lists}


def carrying_hours(fleet: Fleet) -> Callable[[str, str], float | None]:
    """Hours to bring a spare to a tank and set it up, by (device, tank); None where it is out of reach.

    By road as technicians travel; only the setting up where one of the places is not on record.
    """

    def hours(device: str, tank: str) -> float | None:
        store, goal = (_place(fleet, fleet.site_of(code)) for code in (device, tank))
        if store is not None and goal is not None and great_circle_km(store, goal) > REACH_KM:
            return None
        return SETTING_UP_H + travel_minutes(store, goal) / 60.0

    return hours


def _place(fleet: Fleet, site: str | None) -> Place | None:
    row = fleet.site_by_code.get(site or "")
    if row is None or row.latitude is None or row.longitude is None:
        return None
    return row.latitude, row.longitude
