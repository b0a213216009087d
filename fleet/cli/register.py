"""The register in and out: import, export, add, show."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    AnyDay,
    By,
    Database,
    Json,
    Today,
    a_day,
    an_optional_day,
    person,
    print_json,
    progress_bar,
    right_now,
)
from fleet.errors import BadInput


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("import", epilog="Example: fleet import register/ --check")(import_)
    app.command("export", epilog="Example: fleet export register.xlsx")(export)
    app.command(
        "add",
        context_settings={"allow_extra_args": True, "ignore_unknown_options": True},
        epilog="Example: fleet add tank T7 room=hall name=Lagoon kind=reef "
        "length=48in width=18in height=20in target=78F",
    )(add)
    app.command("show", epilog="Example: fleet show tanks    fleet show tank T7")(show)


def import_(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A folder of CSV files, one of them, or an .xlsx.")],
    check: Annotated[bool, typer.Option("--check", help="Only check; write nothing.")] = False,
    database: Database = DEFAULT_DATABASE,
    today: AnyDay = None,
    by: By = None,
    json: Json = False,
) -> None:
    """Read a register, all of it or nothing."""
    from fleet.services.register import import_register

    a_day(today)
    with progress_bar("Reading") as progress:
        result = import_register(database, path, only_check=check, who=person(by), now=right_now(), progress=progress)
    if json:
        print_json(
            {"added": result.added, "changed": result.changed, "same": result.same, "checked_only": result.only_checked}
        )
        return
    would = "would be " if check else ""
    typer.echo(f"{result.added} {would}added, {result.changed} {would}changed, {result.same} the same")
    if check:
        typer.echo("Checked only: nothing was written.")


def export(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A folder, or a file that ends in .xlsx.")],
    database: Database = DEFAULT_DATABASE,
    today: AnyDay = None,
    json: Json = False,
) -> None:
    """Write the register as files to import again."""
    from fleet.services.register import export_register

    a_day(today)
    rows = export_register(database, path)
    if json:
        print_json({"rows": rows, "path": str(path)})
    else:
        typer.echo(f"{rows} rows written to {path}")


def add(
    ctx: typer.Context,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="client, site, room, tank, load, device, duty …")],
    code: Annotated[str, typer.Argument(metavar="CODE", help="Its code (or the code of what it belongs to).")],
    database: Database = DEFAULT_DATABASE,
    today: AnyDay = None,
    by: By = None,
    json: Json = False,
) -> None:
    """Add one tank, device, site …

    Its columns are named as in the register's files: column=value, or --column value.
    """
    from fleet.cli.cells import cells_from, file_named
    from fleet.services.register import add_row

    a_day(today)
    file, first_column = file_named(kind)
    cells = {first_column: code, **cells_from(ctx.args, ())[1]}
    count = add_row(database, file, cells, who=person(by), now=right_now())
    if json:
        print_json({"added": count.added, "changed": count.changed, "same": count.same})
    else:
        typer.echo(f"{count.added} added, {count.changed} changed, {count.same} the same")


def show(
    what: Annotated[
        str, typer.Argument(metavar="WHAT", help="clients, sites, tanks, …; rules, rule-overrides; rounds; margins.")
    ],
    code: Annotated[str | None, typer.Argument(metavar="CODE", help="One of them: its card.")] = None,
    technician: Annotated[
        str | None, typer.Option("--technician", metavar="CODE", help="Rounds: only of this technician.")
    ] = None,
    day_wanted: Annotated[str | None, typer.Option("--date", metavar="DATE", help="Rounds: only on this day.")] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """List what is on record, or show one card.

    A card holds everything known, assumed and done. Rounds are the visits planned, in order of their start; margins
    those that were worked out before and after each change; rule-overrides what people set in the catalogue's place.
    """
    from fleet.cli.cells import file_named
    from fleet.services.show import card_of, list_of, margins_list, overrides_list, rounds_list, rules_list

    text: str
    record: object
    if what in ("rule", "rules"):
        text, record = rules_list(database, code)
    elif what in ("rule-override", "rule-overrides"):
        text, record = overrides_list(database)
    elif what in ("margin", "margins"):
        text, record = margins_list(database, code, today=a_day(today))
    elif what in ("round", "rounds"):
        on = an_optional_day(day_wanted, "--date")
        text, record = rounds_list(database, today=a_day(today), technician=technician, on=on)
    else:
        file, _ = file_named(what)
        day = a_day(today)
        if code is None:
            text, record = list_of(database, file, today=day)
        else:
            text, record = card_of(database, code, today=day)
    if json:
        print_json(record)
    elif text:
        typer.echo(text)
    else:
        raise BadInput(f"no {what} on record")
