"""Keeping the database safe: backup, verify."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import DEFAULT_DATABASE, AnyDay, Database, Json, a_day, print_json
from fleet.errors import BadInput, StoreRefused


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("backup", epilog="Example: fleet backup copies/fleet-2026-05-20.db")(backup)
    app.command("verify", epilog="Example: fleet verify --upgrade")(verify)


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


def verify(
    database: Database = DEFAULT_DATABASE,
    today: AnyDay = None,
    upgrade: Annotated[
        bool, typer.Option("--upgrade", help="Bring an older database up to this program first, after a copy.")
    ] = False,
    copy: Annotated[
        Path | None, typer.Option("--copy", metavar="FILE", help="Where the copy goes; beside the database otherwise.")
    ] = None,
    copied: Annotated[bool, typer.Option("--copied", help="There is a copy already: make none.")] = False,
    json: Json = False,
) -> None:
    """Check the database.

    That it is whole, and that its facts agree with each other.
    """
    from fleet.services.keep import upgrade as bring_up
    from fleet.services.keep import verify as check

    a_day(today)
    if not upgrade and (copy is not None or copied):
        raise BadInput("--copy and --copied go with --upgrade")
    applied, kept = bring_up(database, copy, copied=copied) if upgrade else ((), None)
    faults = check(database)
    if json:
        upgraded = {"upgraded": list(applied), "copy": str(kept) if kept else None} if upgrade else {}
        print_json({"faults": faults, **upgraded})
    else:
        if applied:
            typer.echo(f"Brought up to schema {applied[-1]}." + (f" The copy from before: {kept}" if kept else ""))
        elif upgrade:
            typer.echo("Nothing to bring up.")
        if not faults:
            typer.echo("Sound: nothing damaged, nothing contradicts itself.")
    if faults:
        raise StoreRefused("\n".join([f"{len(faults)} faults", *faults]))
