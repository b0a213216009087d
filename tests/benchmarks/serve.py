"""Subscribers that ask a server again and again: requests lost, rates, and what an answer tells by its time.

    python tests/benchmarks/serve.py [--subscribers 200] [--seconds 30]
    python tests/benchmarks/serve.py --small      20 subscribers for 3 seconds

The server is a process of its own on the sample register; each subscriber keeps one connection and sends the validator
it was given last, while somebody plans again beside them. Then one connection asks for addresses that hold, that were
revoked, that never were and that are malformed, in turn. Exit code 1 if a request was lost.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import re
import statistics
import subprocess
import sys
import tempfile
from collections import Counter
from datetime import UTC, date, datetime
from pathlib import Path
from time import perf_counter
from urllib.parse import urlsplit

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from fleet import resources
from fleet.services.plan import plan_and_save
from fleet.services.register import import_register
from fleet.services.share import revoke, share

TODAY = date(2026, 5, 20)
ROUNDS = 400


def say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


class Subscriber:
    """One connection that asks for one feed."""

    def __init__(self, port: int, path: str) -> None:
        self.port, self.path, self.etag = port, path, ""
        self.reader: asyncio.StreamReader | None = None

    async def ask(self) -> tuple[int, bool]:
        """The status, and whether the answer was whole."""
        if self.reader is None:
            self.reader, self.writer = await asyncio.open_connection("127.0.0.1", self.port)
        validator = f"If-None-Match: {self.etag}\r\n" if self.etag else ""
        self.writer.write(f"GET {self.path} HTTP/1.1\r\nHost: h\r\n{validator}\r\n".encode())
        head = (await self.reader.readuntil(b"\r\n\r\n")).decode()
        status = int(head.split()[1])
        length = re.search(r"content-length: (\d+)", head)
        body = await self.reader.readexactly(int(length.group(1))) if length and status != 304 else b""
        if tag := re.search(r'etag: (".*")', head):
            self.etag = tag.group(1)
        return status, status == 304 or body.endswith(b"END:VCALENDAR\r\n")


async def poll(subscriber: Subscriber, until: float, counts: Counter[str], waits: list[float]) -> None:
    while perf_counter() < until:
        began = perf_counter()
        try:
            status, whole = await asyncio.wait_for(subscriber.ask(), 60)
            counts[str(status) if whole and status in (200, 304) else "lost"] += 1
        except (OSError, asyncio.IncompleteReadError, TimeoutError):
            counts["lost"] += 1
            subscriber.reader = None
        waits.append(perf_counter() - began)


async def plan_beside(url: str, until: float) -> int:
    times = 0
    while perf_counter() < until - 2.0:
        await asyncio.to_thread(plan_and_save, url, today=TODAY, through=None, now=datetime.now(UTC))
        times += 1
        await asyncio.sleep(3.0)
    return times


async def crowd(url: str, port: int, paths: list[str], seconds: float) -> int:
    counts: Counter[str] = Counter()
    waits: list[float] = []
    until = perf_counter() + seconds
    everybody = [poll(Subscriber(port, path), until, counts, waits) for path in paths]
    plans, *_ = await asyncio.gather(plan_beside(url, until), *everybody)
    waits.sort()
    say(f"{len(paths)} subscribers for {seconds:g} s, the plan saved {plans} times beside them:")
    say(f"  {counts['200']} whole feeds, {counts['304']} unchanged, {counts['lost']} lost")
    say(
        f"  {len(waits) / seconds:.0f} requests/s; half within {statistics.median(waits) * 1000:.0f} ms, "
        f"99 of 100 within {waits[int(len(waits) * 0.99)] * 1000:.0f} ms, all within {waits[-1] * 1000:.0f} ms"
    )
    return counts["lost"]


async def times(port: int, paths: dict[str, str]) -> None:
    """Median time of an answer for each kind of address, asked in turn on one connection."""
    took: dict[str, list[float]] = {name: [] for name in paths}
    one = Subscriber(port, "")
    for _ in range(ROUNDS):
        for name, path in paths.items():
            one.path, one.etag = path, ""
            began = perf_counter()
            with contextlib.suppress(asyncio.IncompleteReadError):
                await one.ask()
            took[name].append(perf_counter() - began)
    say(f"Time of an answer, {ROUNDS} each:")
    wrong = statistics.median(took["wrong"])
    for name, found in took.items():
        middle = statistics.median(found)
        low, _, high = statistics.quantiles(found, n=4)
        say(
            f"  {name:<10} {middle * 1e6:6.0f} µs  (half between {low * 1e6:.0f} and {high * 1e6:.0f}); "
            f"{middle / wrong:.2f} of a wrong one"
        )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--subscribers", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--small", action="store_true")
    chosen = parser.parse_args()
    count, seconds = (20, 3.0) if chosen.small else (chosen.subscribers, chosen.seconds)
    with tempfile.TemporaryDirectory() as folder:
        url = str(Path(folder) / "fleet.db")
        now = datetime.now(UTC)
        import_register(url, resources.sample_data() / "register", only_check=False, who="bench", now=now)
        plan_and_save(url, today=TODAY, through=None, now=now, publish=True)

        def give_out(name: str) -> str:
            made = share(url, ["fleet"], subscriber=name, base_url="http://h", who="bench", today=TODAY, now=now)
            return urlsplit(made.url).path

        paths = [give_out(f"subscriber {number}") for number in range(count)]
        lost_phone = give_out("lost phone")
        revoke(url, f"http://h{lost_phone}", who="bench", now=now)
        server = subprocess.Popen(
            [sys.executable, "-m", "fleet", "serve", "--port", "0", "--quiet", "--today", str(TODAY),
             "--database", url],
            stdout=subprocess.PIPE, text=True, cwd=folder, env={"PYTHONPATH": sys.path[0], "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        try:
            assert server.stdout is not None
            port = int(re.findall(r":(\d+);", server.stdout.readline())[0])
            lost = asyncio.run(crowd(url, port, paths, seconds))
            asyncio.run(
                times(
                    port, {"held": paths[0], "wrong": f"/c/{'0' * 32}.ics", "revoked": lost_phone, "malformed": "/c/x"}
                )
            )
        finally:
            server.terminate()
            server.wait()
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
