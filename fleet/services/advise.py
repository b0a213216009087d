"""Answers what would be enough for a tank."""

from __future__ import annotations

from datetime import date

from fleet.db.repository import Register
from fleet.files.catalogue_files import read_catalogue
from fleet.thermal.selection import advise
from fleet.values.advice import Advice
from fleet.values.fleet import Fleet


def advice_for(url: str, today: date, tank: str) -> tuple[Fleet, Advice]:
    """The advice for a tank and the fleet that it was made from. Raises NotFound for a tank that is not on record."""
    with Register.open(url, read_only=True) as register:
        fleet = register.snapshot(today)
    return fleet, advise(fleet, read_catalogue().class_by_code, tank)
