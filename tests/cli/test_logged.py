"""A tank's own log, from the file of readings to its card."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from typer.testing import Result

BEGUN = datetime(2026, 5, 16, 8, 0)  # noqa: DTZ001 - readings are typed in the site's own time
HEAT_CAPACITY_J_K, CONDUCTANCE_W_K = 0.62e6, 11.0
PUMP_W, LAMP_W = 8.0, 25.5


def log_of_the_guppies(folder: Path, days: float) -> None:
    """Half-hourly readings of a first-order tank, lamp on from 10:00 for 9 h, in a room that swings by 2 K; the tank's
    fan is taken off duty."""
    lines = ["subject,quantity,value,taken_at"]
    water = 25.5
    for step in range(int(days * 48)):
        hour = (8.0 + step / 2.0) % 24.0
        room = 24.0 + math.sin(2.0 * math.pi * (hour - 9.0) / 24.0)
        at = (BEGUN + timedelta(minutes=30 * step)).strftime("%Y-%m-%dT%H:%M")
        lines += [f"GUP,water-temp,{water:.2f} C,{at}", f"LOFT,room-temp,{room:.2f} C,{at}"]
        heat = PUMP_W + (LAMP_W if 10.0 <= hour < 19.0 else 0.0)
        water += (heat - CONDUCTANCE_W_K * (water - room)) * 1800.0 / HEAT_CAPACITY_J_K
    (folder / "readings.csv").write_text("\n".join(lines) + "\n")
    duties = (folder / "duties.csv").read_text().splitlines()
    (folder / "duties.csv").write_text("\n".join(line for line in duties if "FAN-G" not in line) + "\n")


def test_the_card_says_on_which_log_a_tank_is_calibrated(fleet: Callable[..., Result], pier: Path) -> None:
    log_of_the_guppies(pier, days=4.0)
    fleet("import", str(pier))
    card = fleet("show", "tank", "GUP").stdout
    assert "Calibrated on 2026-05-20 (192 readings, residual 0." in card


def test_the_card_says_why_a_log_does_not_calibrate_its_tank(fleet: Callable[..., Result], pier: Path) -> None:
    log_of_the_guppies(pier, days=0.5)
    fleet("import", str(pier))
    card = fleet("show", "tank", "GUP").stdout
    assert "Its log of 2026-05-16 does not calibrate it: it spans 11 h" in " ".join(card.split())
