"""Runs the server until it is stopped."""

from __future__ import annotations

import socket
from collections.abc import Callable
from datetime import date, datetime
from ipaddress import ip_address
from urllib.parse import urlsplit

import uvicorn

from fleet.db.repository import Register
from fleet.errors import BadInput
from fleet.services.serving import Served
from fleet.services.share import base_of
from fleet.web.app import make_app

GRACE_S = 5


def serve(
    url: str,
    *,
    host: str,
    port: int,
    base_url: str | None,
    today: Callable[[], date],
    now: Callable[[], datetime],
    log: Callable[[str], None],
    on_listening: Callable[[str, bool], None],
) -> None:
    """Serves the database at `url` on host and port (0 for any that is free) until interrupted.

    Tells `on_listening` where it listens and whether others than this machine can reach it. Raises FleetError for a
    database that cannot be used, BadInput for a host or port that cannot be listened on.
    """
    prefix = urlsplit(base_of(base_url)).path if base_url is not None else ""
    with Register.open(url, read_only=True):
        pass
    listener = _listen(host, port)
    try:
        bound, bound_port = listener.getsockname()[:2]
        shown = f"[{bound}]" if ":" in bound else bound
        on_listening(f"http://{shown}:{bound_port}", not ip_address(bound.partition("%")[0]).is_loopback)
        config = uvicorn.Config(
            make_app(Served(url, today=today, now=now), prefix=prefix, log=log),
            access_log=False,
            log_config=None,
            server_header=False,
            lifespan="off",
            http="h11",
            ws="none",
            timeout_graceful_shutdown=GRACE_S,
        )
        uvicorn.Server(config).run(sockets=[listener])
    finally:
        listener.close()


def _listen(host: str, port: int) -> socket.socket:
    """A listening socket; two servers never share a port."""
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        listener = socket.socket(family, kind, protocol)
    except (OSError, UnicodeError) as error:
        raise BadInput(f"--host {host!r}: expected an address of this machine such as 127.0.0.1") from error
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(place)
        listener.listen(1024)
    except OSError as error:
        listener.close()
        raise BadInput(f"cannot listen on {host} port {port}: {error.strerror}; choose another with --port") from error
    return listener
