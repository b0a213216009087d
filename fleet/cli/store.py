"""Keeping the database safe: backup, verify."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import DEFAULT_DATABASE, AnyDay, Database, Json, a_day, print_json
from fleet.errors import StoreRefused


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("backup", epilog="Example: fleet backup copies/fleet-2026-05-20.db")(backup)
    app.command("verify", epilog="Example: fleet verify")(verify)


def backup(
    target: Annotated[Path, typer.Argument(metavar="FILE", help="A new file; an old one is never overwritten.")],
    database: Database = DEFAULT_DATABASE,
    today: AnyDay = None,
    json: Json = False,
) -> None:
    """Copy the whole database.

    Also while others are writing.
    """
    from fleet.services.keep import back_up

    a_day(today)
    back_up(database, target)
    if json:
        print_json({"path": str(target)})
    else:
        typer.echo(f"Copied to {target}")


def verify(database: Database = DEFAULT_DATABASE, today: AnyDay = None, json: Json = False) -> None:
    """Check the database.

    That it is whole, and that its facts agree with each other.
    """
    from fleet.services.keep import verify as check

    a_day(today)
    faults = check(database)
    if json:
        print_json({"faults": faults})
    elif not faults:
        typer.echo("Sound: nothing damaged, nothing contradicts itself.")
    if faults:
        raise StoreRefused("\n".join([f"{len(faults)} faults", *faults]))
