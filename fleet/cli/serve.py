"""Feeds and sheets over the network: addresses, and the server."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any

import typer

from fleet.cli.options import DEFAULT_DATABASE, By, Database, Json, Today, a_day, person, print_json, right_now
from fleet.errors import BadInput

DEFAULT_PORT = 8321
BaseUrl = Annotated[
    str | None,
    typer.Option(
        "--base-url",
        envvar="FLEET_BASE_URL",
        show_envvar=False,
        metavar="URL",
        help="Where others reach the server, such as https://tanks.example.org (also FLEET_BASE_URL).",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("share", epilog="Example: fleet share technician ADA --for 'phone of Ada'")(share)
    app.command("serve", epilog="Example: fleet serve --base-url https://tanks.example.org")(serve)


def share(
    feed: Annotated[
        list[str] | None,
        typer.Argument(metavar="FEED", help="fleet, site CODE, client CODE, technician CODE, or sheets (staff only)."),
    ] = None,
    subscriber: Annotated[
        str | None, typer.Option("--for", metavar="WHO", help="Who gets it; the site, client or technician otherwise.")
    ] = None,
    revoke: Annotated[
        str | None, typer.Option("--revoke", metavar="ADDRESS", help="End an address, by its number or in full.")
    ] = None,
    listing: Annotated[bool, typer.Option("--list", help="List what was given out, without the secrets.")] = False,
    base_url: BaseUrl = None,
    database: Database = DEFAULT_DATABASE,
    by: By = None,
    today: Today = None,
    json: Json = False,
) -> None:
    """Give out an address of a feed.

    One for each subscriber, which can be ended alone. Whoever has it can read the feed. It is shown this once and kept
    as a digest only. `fleet serve` answers under it.
    """
    from fleet.services import share as service

    if sum((bool(feed), revoke is not None, listing)) != 1:
        raise BadInput("expected one of FEED, --revoke ADDRESS or --list")
    if listing:
        _print_list(service.shared(database), json)
    elif revoke is not None:
        ended = service.revoke(database, revoke, who=person(by), now=right_now())
        _say(_record(ended), f"Address {ended.number} ({ended.feed}, for {ended.subscriber}) is revoked.", json)
    else:
        base = base_url or f"http://127.0.0.1:{DEFAULT_PORT}"
        made = service.share(
            database, feed or (), subscriber=subscriber, base_url=base, who=person(by), today=a_day(today),
            now=right_now(),
        )  # fmt: skip
        about = "" if made.title == made.address.subscriber else f", {made.title}"
        lines = [
            f"Address {made.address.number} for {made.address.subscriber}: {made.address.feed}{about}",
            "",
            f"  {made.url}",
            "",
            "Whoever has this address can read it. It is not shown again.",
            f"To end it: fleet share --revoke {made.address.number}",
        ]
        _say({**_record(made.address), "url": made.url}, "\n".join(lines), json)


def serve(
    host: Annotated[str, typer.Option("--host", help="Where to listen; this machine alone otherwise.")] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="0 for any that is free.")] = DEFAULT_PORT,
    base_url: BaseUrl = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No line for each request.")] = False,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
) -> None:
    """Serve feeds and sheets to subscribers.

    Under the addresses that `fleet share` gives out; shows what was planned or published last, and nothing can be
    written through it. Put a proxy with TLS before it: the addresses are secrets. A path in --base-url may be left on
    by the proxy or taken off.
    """
    try:
        from fleet.web.server import serve as run
    except ModuleNotFoundError as error:
        raise BadInput(f"serving needs {error.name}: pip install 'fleet[serve]'") from None

    fixed = a_day(today) if today is not None else None

    def day() -> date:
        return fixed if fixed is not None else a_day(None)

    def log(line: str) -> None:
        if not quiet:
            typer.echo(line, err=True)

    def on_listening(address: str, reachable: bool) -> None:
        typer.echo(f"Serving on {address}; stop with Ctrl-C.")
        if reachable:
            typer.echo(
                "fleet: other machines can reach this without TLS, and read addresses on the way: put a proxy with TLS "
                "before it and listen on 127.0.0.1",
                err=True,
            )

    run(
        database, host=host, port=port, base_url=base_url, today=day, now=right_now, log=log,
        on_listening=on_listening,
    )  # fmt: skip


def _print_list(addresses: Sequence[Any], json: bool) -> None:
    if json:
        print_json({"addresses": [_record(address) for address in addresses]})
    elif not addresses:
        typer.echo("No address was given out yet: `fleet share fleet` makes one.")
    else:
        from fleet.outputs.columns import in_columns

        heading = ["number", "feed", "for", "since", "ended"]
        typer.echo("\n".join(in_columns([heading, *map(_cells, addresses)])))


def _cells(address: Any) -> list[str]:
    ended = address.revoked_at.date().isoformat() if address.revoked_at is not None else "-"
    since = address.made_at.date().isoformat()
    return [str(address.number), address.feed, address.subscriber, since, ended]


def _record(address: Any) -> dict[str, Any]:
    return {
        "number": address.number,
        "feed": address.feed,
        "for": address.subscriber,
        "made_at": address.made_at.isoformat(),
        "revoked_at": address.revoked_at.isoformat() if address.revoked_at is not None else None,
    }


def _say(record: dict[str, Any], text: str, json: bool) -> None:
    if json:
        print_json(record)
    else:
        typer.echo(text)
