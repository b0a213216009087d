"""Several processes at once: nothing is lost, and what is cut short leaves all or nothing."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest

from fleet.db.repository import Register
from fleet.values.register import Client, RegisterRows, Tank
from fleet.values.vocabulary import TankKind

pytestmark = pytest.mark.slow

NOW = datetime(2026, 5, 5, 12, 0, tzinfo=UTC)

COUNT_UP = """
import sys
from dataclasses import replace
from datetime import UTC, datetime
from fleet.db.repository import Register
from fleet.values.register import RegisterRows

url, times = sys.argv[1], int(sys.argv[2])
for _ in range(times):
    with Register.open(url, wait_s=60.0) as register:
        client = register.rows().clients[0]
        counted = replace(client, notes=str(int(client.notes) + 1))
        register.save_rows(
            RegisterRows(clients=(counted,)), who="counter", now=datetime.now(UTC), reason="one more"
        )
"""

IMPORT_MANY = """
import sys
from datetime import UTC, datetime
from fleet.db.repository import Register
from fleet.values.register import RegisterRows, Tank
from fleet.values.vocabulary import TankKind

url, many, name = sys.argv[1], int(sys.argv[2]), sys.argv[3]
tanks = tuple(Tank(f"{name}-{n}", "R-1", "Tank", TankKind.REEF, 1.0, 0.5, 0.5, 25.0) for n in range(many))
print("ready", flush=True)
sys.stdin.readline()
with Register.open(url) as register:
    register.save_rows(RegisterRows(tanks=tanks), who="importer", now=datetime.now(UTC), reason="bulk")
print("committed", flush=True)
"""


def start(script: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


def both_count_up(database: str, rows: RegisterRows, times: int) -> None:
    first = Client(**{name: getattr(rows.clients[0], name) for name in ("code", "name")}, notes="0")
    with Register.open(database) as register:
        register.save_rows(RegisterRows(clients=(first,)), who="ada", now=NOW, reason="start")
    counters = [start(COUNT_UP, database, str(times)) for _ in range(2)]
    for counter in counters:
        counter.communicate(timeout=300)
    assert [counter.returncode for counter in counters] == [0, 0]
    with Register.open(database, read_only=True) as register:
        assert register.rows().clients[0].notes == str(2 * times)
        assert len(register.change_log(file="clients")) == 2 * times + 2
        assert register.versions("clients")[("LAGUNE",)] == 2 * times + 2


def test_two_processes_that_read_and_write_lose_nothing(database, rows):
    both_count_up(database, rows, 10)


@pytest.mark.slow
def test_two_processes_that_read_and_write_500_times_each_lose_nothing(database, rows):
    both_count_up(database, rows, 500)


def killed_imports(database: str, kills: int, many: int) -> tuple[int, int]:
    """Kills an import at a random moment, time after time. Returns how many left nothing and how many left all."""
    moments = random.Random(20260505)
    nothing = everything = 0
    for n in range(kills):
        importer = start(IMPORT_MANY, database, str(many), f"K{n}")
        assert importer.stdout is not None
        assert importer.stdin is not None
        importer.stdout.readline()
        importer.stdin.write("\n")
        importer.stdin.flush()
        time.sleep(moments.uniform(0.0, 0.5))
        importer.send_signal(signal.SIGKILL)
        acknowledged = "committed" in importer.communicate()[0]
        with Register.open(database, wait_s=30.0) as register:
            stored = sum(tank.code.startswith(f"K{n}-") for tank in register.rows().tanks)
            logged = sum(entry.subject.startswith(f"K{n}-") for entry in register.change_log(file="tanks"))
            assert register.verify() == []
        assert stored in (0, many)
        assert logged == stored
        assert stored == many or not acknowledged
        nothing, everything = nothing + (stored == 0), everything + (stored == many)
    return nothing, everything


def test_an_import_that_is_killed_leaves_all_or_nothing(database):
    nothing, everything = killed_imports(database, 2, 3000)
    assert nothing + everything == 2


@pytest.mark.slow
def test_twenty_imports_that_are_killed_leave_all_or_nothing(database):
    nothing, everything = killed_imports(database, 20, 3000)
    assert nothing
    assert nothing + everything == 20


def test_two_processes_that_create_the_same_database_make_one_register(url, rows):
    create = """
import sys
from fleet.db.repository import Register
with Register.open(sys.argv[1], create=True, wait_s=30.0) as register:
    assert register.verify() == []
"""
    makers = [start(create, url) for _ in range(2)]
    for maker in makers:
        maker.communicate(timeout=60)
    assert [maker.returncode for maker in makers] == [0, 0]


def test_a_bulk_import_is_one_transaction_and_logs_every_row(database):
    tanks = tuple(Tank(f"B-{n}", "R-1", "Tank", TankKind.REEF, 1.0, 0.5, 0.5, 25.0) for n in range(500))
    with Register.open(database) as register:
        count = register.save_rows(RegisterRows(tanks=tanks), who="ada", now=NOW, reason="bulk")
        assert count.added == 500
        assert len(register.change_log(file="tanks")) == 501
