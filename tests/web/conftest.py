"""A real server on this machine, over a register that nobody else uses."""

from __future__ import annotations

import http.client
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import uvicorn

from fleet.db.repository import Register
from fleet.services.plan import plan_and_save
from fleet.services.register import import_register
from fleet.services.serving import Served
from fleet.services.share import share
from fleet.values.register import RegisterRows, Technician
from fleet.values.vocabulary import Skill
from fleet.web.app import make_app

PIER = Path(__file__).parents[1] / "data" / "pier_register"
TODAY = date(2026, 5, 20)
NOW = datetime(2026, 5, 20, 7, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Reply:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def lasting(self) -> dict[str, str]:
        """The headers without the time of day."""
        return {name: value for name, value in self.headers.items() if name != "date"}


@dataclass
class Site:
    """A running server: its database, its port, the lines of its log and the days it believes in."""

    url: str
    port: int
    log: list[str]
    days: list[date] = field(default_factory=lambda: [TODAY])

    def ask(self, path: str, method: str = "GET", headers: dict[str, str] | None = None) -> Reply:
        """One request, with no headers but Host and those given, on a connection of its own."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.putrequest(method, path, skip_accept_encoding=True)
            for name, value in (headers or {}).items():
                connection.putheader(name, value)
            connection.endheaders()
            answer = connection.getresponse()
            return Reply(answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def share(self, *words: str, subscriber: str | None = None) -> str:
        """The path of a new address."""
        made = share(
            self.url, words, subscriber=subscriber, base_url="http://h", who="ada", today=TODAY, now=datetime.now(UTC)
        )
        return made.url.removeprefix("http://h")


@contextmanager
def running(url: str, prefix: str = "", check_every_s: float = 0.0) -> Iterator[Site]:
    """A server in a thread, on any free port."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(1024)
    site = Site(url, listener.getsockname()[1], [])
    served = Served(url, today=lambda: site.days[-1], now=lambda: datetime.now(UTC), check_every_s=check_every_s)
    app = make_app(served, prefix=prefix, log=site.log.append)
    server = uvicorn.Server(
        uvicorn.Config(app, access_log=False, log_config=None, lifespan="off", http="h11", ws="none")
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield site
    finally:
        server.should_exit = True
        thread.join()
        listener.close()


def filled(url: str) -> str:
    import_register(url, PIER, only_check=False, who="ada", now=NOW)
    dot = Technician("DOT", "Dot Marsh", (Skill.TECHNICIAN,), work_days=(0, 1, 2, 3, 4))
    with Register.open(url) as register:
        register.save_rows(RegisterRows(technicians=(dot,)), who="ada", now=NOW, reason="new here")
    plan_and_save(url, today=TODAY, through=None, now=NOW)
    return url


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(filled(str(tmp_path_factory.mktemp("template") / "fleet.db")))


@pytest.fixture(scope="session")
def shared_site(template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A server for all tests that change nothing but addresses."""
    with running(str(shutil.copy(template, tmp_path_factory.mktemp("served") / "fleet.db"))) as site:
        yield site


@pytest.fixture
def site(template: Path, tmp_path: Path) -> Iterator[Site]:
    """A server on a register of the test's own."""
    with running(str(shutil.copy(template, tmp_path / "fleet.db"))) as started:
        yield started
