"""`share`, `serve`: addresses as a person handles them, and the server as a process of its own."""

from __future__ import annotations

import http.client
import os
import re
import select
import signal
import subprocess
import sys
import time

import pytest

from .conftest import TODAY, as_json

ADDRESS = re.compile(r"^  (https?://\S+)$", re.MULTILINE)


def test_an_address_is_shown_once_and_is_unguessable_short_and_its_own(stocked, database):
    """128 random bits at least; one widespread calendar cuts addresses at 116 characters."""
    base = "https://tanks.example.org/upkeep"
    shown = [stocked("share", "fleet", "--for", name, "--base-url", base).stdout for name in ("ada", "ben")]
    addresses = [ADDRESS.search(text).group(1) for text in shown]
    assert addresses[0] != addresses[1]
    for number, (text, address) in enumerate(zip(shown, addresses, strict=True), start=1):
        assert text.startswith(f"Address {number} for ")
        token = re.fullmatch(re.escape(base) + r"/c/([0-9a-f]{32})\.ics", address).group(1)
        assert len(token) * 4 >= 128
        assert len(address) < 116
        assert token not in stocked("share", "--list").stdout + stocked("share", "--list", "--json").stdout
        with open(database, "rb") as file:
            assert token.encode() not in file.read()


def test_the_list_tells_who_has_what_and_what_has_ended(stocked):
    stocked("share", "site", "PIER-Q")
    address = as_json(stocked("share", "sheets", "--for", "ada", "--json"))["url"]
    assert address.startswith("http://127.0.0.1:8321/s/")
    assert "Address 2 (sheets, for ada) is revoked." in stocked("share", "--revoke", address).stdout
    first, second = as_json(stocked("share", "--list", "--json"))["addresses"]
    assert (first["number"], first["feed"], first["for"]) == (1, "site PIER-Q", "Quay shed")
    assert first["revoked_at"] is None
    assert second["revoked_at"] is not None
    assert stocked("share", "--list").stdout.splitlines()[1].split()[:4] == ["1", "site", "PIER-Q", "Quay"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["share"], "expected one of FEED, --revoke ADDRESS or --list"),
        (["share", "fleet", "--list"], "expected one of FEED, --revoke ADDRESS or --list"),
        (["share", "tanks"], "expected fleet, sheets, site CODE, client CODE or technician CODE"),
        (["share", "site"], "expected site and one code"),
        (["share", "fleet", "PIER-Q"], "expected fleet alone"),
        (["share", "site", "NOPE"], "no site 'NOPE' on record"),
        (["share", "technician", "PIER-Q"], "no technician 'PIER-Q' on record"),
        (["share", "fleet", "--for", " "], "expected a name of 1 to 80 characters"),
        (["share", "fleet", "--for", "a\x07b"], "expected a name of 1 to 80 characters"),
        (["share", "fleet", "--base-url", "tanks.example.org"], "expected an address such as https://"),
        (["share", "fleet", "--base-url", "https://a:x"], "expected an address such as https://"),
        (["share", "fleet", "--base-url", "https://a/?key=b"], "expected an address such as https://"),
        (["share", "fleet", "--base-url", f"https://{'a' * 80}.example"], "115 at most"),
        (["share", "--revoke", "7"], "no address has number 7"),
        (["share", "--revoke", "http://h/c/abc.ics"], "the number of an address or the address itself"),
        (["share", "--revoke", "0" * 32], "never given out"),
        (["serve", "--host", "not a host"], "expected an address of this machine"),
        (["serve", "--host", "192.0.2.1", "--port", "0"], "cannot listen on 192.0.2.1"),
        (["serve", "--base-url", "ftp://x"], "expected an address such as https://"),
    ],
)
def test_what_cannot_be_taken_is_one_clear_line(stocked, words, said):
    """192.0.2.1 is for documentation (RFC 5737), so it is never an address of this machine."""
    result = stocked(*words, code=2)
    assert said in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_without_the_extra_the_command_says_what_to_install(stocked, monkeypatch):
    for name in [name for name in sys.modules if name.startswith("fleet.web")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    assert "pip install 'fleet[serve]'" in stocked("serve", code=2).stderr


def started(*words: str) -> tuple[subprocess.Popen[str], str]:
    """A server as a process, and its first line."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "fleet", "serve", "--port", "0", "--today", TODAY, *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
    )  # fmt: skip
    assert select.select([process.stdout], [], [], 60)[0]
    return process, process.stdout.readline()


def test_a_server_of_its_own_serves_until_it_is_stopped(stocked, database):
    stocked("plan")
    path = as_json(stocked("share", "fleet", "--json"))["url"].removeprefix("http://127.0.0.1:8321")
    process, line = started("--database", database)
    try:
        port = int(re.fullmatch(r"Serving on http://127\.0\.0\.1:(\d+); stop with Ctrl-C\.\n", line).group(1))
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        connection.request("GET", path)
        reply = connection.getresponse()
        assert (reply.status, reply.getheader("Server")) == (200, None)
        assert reply.read().endswith(b"END:VCALENDAR\r\n")
        connection.close()
    finally:
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        _, log = process.communicate(timeout=30)
    assert "GET address 1 200" in log
    assert path not in log
    assert "Traceback" not in log


def test_listening_for_other_machines_is_warned_of(stocked, database):
    process, _ = started("--database", database, "--host", "0.0.0.0")
    try:
        assert select.select([process.stderr], [], [], 30)[0]
        assert "other machines can reach this without TLS" in process.stderr.readline()
    finally:
        process.terminate()
        process.communicate(timeout=30)
