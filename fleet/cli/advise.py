"""What would be enough."""

from __future__ import annotations

from typing import Annotated

import typer

from fleet.cli.options import DEFAULT_DATABASE, Database, Json, Strict, Today, a_day, on_a_terminal, print_json


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("advise", epilog="Example: fleet advise R1")(advise)


def advise(
    tank: Annotated[str, typer.Argument(metavar="TANK", help="Code of the tank.")],
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """What would be enough for a tank, and its cost.

    Lid, stand, fans, chiller, another place, a colder room: each by the same heat balance, with what it costs a year.
    """
    from fleet.outputs.advice import advice_record, advice_text
    from fleet.services.advise import advice_for

    fleet, advice = advice_for(database, a_day(today), tank)
    if json:
        print_json(advice_record(advice, fleet))
    else:
        typer.echo(advice_text(advice, fleet, colour=on_a_terminal()))
    if strict and not advice.as_it_is.hot_day.holds:
        raise typer.Exit(1)
