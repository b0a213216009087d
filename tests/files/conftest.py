"""A small register of every file, as text cells, and ways to put it on disk."""

from __future__ import annotations

import csv
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path

import pytest

Cells = dict[str, list[dict[str, str]]]

SMALL_REGISTER: Cells = {
    "clients": [{"code": "KELP", "name": "Blue Kelp Dental", "kind": "company", "units": "us"}],
    "sites": [{"code": "HARBOUR", "client": "KELP", "name": "Harbour Street", "time_zone": "America/New_York"}],
    "contacts": [{"site": "HARBOUR", "role": "on-call", "name": "Ada Quill", "order": "1"}],
    "rooms": [{"code": "LOBBY", "site": "HARBOUR", "name": "Lobby", "hot_day_mean": "78 F"}],
    "tanks": [
        {
            "code": "REEF",
            "room": "LOBBY",
            "name": "Lobby reef",
            "kind": "reef",
            "length": "48 in",
            "width": "18 in",
            "height": "20 in",
            "net_volume": "75 gal",
            "target": "78 F",
        }
    ],
    "loads": [{"tank": "REEF", "name": "Lamp", "kind": "light", "power": "250 W", "since": "2024-01-01"}],
    "animals": [{"tank": "REEF", "group": "stony corals", "class": "Reef corals", "since": "2024-01-01"}],
    "devices": [{"code": "CH1", "kind": "chiller", "name": "Reef chiller", "rated_horsepower": "1/10 hp"}],
    "placements": [{"device": "CH1", "where": "in-stand", "stand_of": "REEF", "since": "2024-01-01"}],
    "duties": [{"device": "CH1", "tank": "REEF", "role": "duty", "since": "2024-01-01"}],
    "equipment": [{"code": "GF1", "kind": "gfci", "name": "Stand outlet", "tank": "REEF", "serves": "CH1;REEF"}],
    "technicians": [{"code": "MARA", "name": "Mara Finn", "skills": "technician;electrician", "work_days": "Mon-Fri"}],
    "absences": [{"technician": "MARA", "since": "2026-07-01", "until": "2026-07-15"}],
    "closures": [{"site": "HARBOUR", "since": "2026-12-24", "until": "2027-01-02", "reason": "holidays"}],
    "events": [{"subject": "REEF", "event": "leak", "on": "2026-02-03"}],
    "history": [{"subject": "CH1", "task": "clean-intake-screen", "done_on": "2026-04-02", "finding": "sound"}],
    "readings": [{"subject": "REEF", "quantity": "water-temp", "value": "78.4 F", "taken_at": "2026-07-01T08:00"}],
}


@pytest.fixture
def cells() -> Cells:
    """A copy to change: file → rows → column → text. One row in each of the seventeen files."""
    return deepcopy(SMALL_REGISTER)


@pytest.fixture
def folder(tmp_path: Path) -> Callable[[Cells], Path]:
    """Writes the cells as a folder of CSV files and gives its path."""

    def write(register: Cells) -> Path:
        target = tmp_path / "register"
        target.mkdir(exist_ok=True)
        for name, rows in register.items():
            columns = list(dict.fromkeys(column for row in rows for column in row))
            with (target / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns, restval="")
                writer.writeheader()
                writer.writerows(rows)
        return target

    return write
