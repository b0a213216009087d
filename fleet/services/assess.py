"""Answers what every tank needs and what its devices deliver."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

from fleet.db.repository import Register
from fleet.errors import NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.thermal.assess import assess
from fleet.thermal.uncertainty import draw_margins
from fleet.values.assessment import Assessment, DrawnMargin
from fleet.values.fleet import Fleet
from fleet.values.vocabulary import Scenario


def margins(
    url: str, today: date, *, tanks: Collection[str] = (), scenarios: Sequence[Scenario] = tuple(Scenario)
) -> tuple[Fleet, tuple[Assessment, ...]]:
    """The assessments of the tanks named (of all, where none is) and the fleet they were made from."""
    fleet = _fleet_with(url, today, tanks)
    results = assess(fleet, read_catalogue().class_by_code, scenarios=scenarios, tanks=tanks or None)
    return fleet, results


def drawn_margins(
    url: str,
    today: date,
    *,
    tanks: Collection[str] = (),
    scenarios: Sequence[Scenario] = tuple(Scenario),
    draws: int,
    seed: int,
) -> tuple[Fleet, tuple[DrawnMargin, ...]]:
    """Need, capacity and margin of the tanks named (of all, where none is) by random draws, and the fleet."""
    fleet = _fleet_with(url, today, tanks)
    classes = read_catalogue().class_by_code
    drawn = [
        row
        for scenario in scenarios
        for row in draw_margins(fleet, classes, scenario=scenario, tanks=tanks or None, seed=seed, draws=draws)
    ]
    return fleet, tuple(sorted(drawn, key=lambda row: row.tank))


def _fleet_with(url: str, today: date, tanks: Collection[str]) -> Fleet:
    with Register.open(url, read_only=True) as register:
        fleet = register.snapshot(today)
    for code in tanks:
        if code not in fleet.tank_by_code:
            raise NotFound(f"no tank {code!r} on record on {today}")
    return fleet
