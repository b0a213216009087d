"""The heat balance: margin."""

from __future__ import annotations

from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    Database,
    Json,
    Strict,
    Today,
    a_day,
    on_a_terminal,
    print_json,
)
from fleet.errors import BadInput

SCENARIOS = ("hot-day", "ac-off")
WANTING = ("short", "trips")


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("margin", epilog="Example: fleet margin R1 R2 --scenario hot-day")(margin)


def margin(
    tanks: Annotated[list[str] | None, typer.Argument(metavar="[TANK]…", help="Codes; every tank otherwise.")] = None,
    scenario: Annotated[
        str | None, typer.Option("--scenario", metavar="NAME", help="hot-day or ac-off; both otherwise.")
    ] = None,
    draws: Annotated[
        int | None,
        typer.Option("--draws", min=100, max=20_000, metavar="N", help="Draw what is not known N times instead."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Of the draws: the same seed, the same figures.")] = 0,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """What every tank needs and what cools it.

    Need, capacity, margin, duty and hours to the limit, judged on the safe side.
    """
    from fleet.outputs.records import margin_records
    from fleet.outputs.text import margin_table
    from fleet.services.assess import drawn_margins, margins
    from fleet.values.vocabulary import Scenario

    if scenario is not None and scenario not in SCENARIOS:
        raise BadInput(f"--scenario {scenario!r}: expected {' or '.join(SCENARIOS)}")
    scenarios = tuple(Scenario) if scenario is None else (Scenario(scenario),)
    if draws is not None:
        from fleet.outputs.drawn_text import drawn_records, drawn_table

        if strict:
            raise BadInput("--strict judges without draws: leave out --draws")
        fleet, drawn = drawn_margins(
            database, a_day(today), tanks=tanks or (), scenarios=scenarios, draws=draws, seed=seed
        )
        if json:
            print_json(drawn_records(drawn))
        else:
            typer.echo(drawn_table(drawn, fleet, colour=on_a_terminal()))
        return
    fleet, assessments = margins(database, a_day(today), tanks=tanks or (), scenarios=scenarios)
    if json:
        print_json(margin_records(assessments))
    else:
        typer.echo(margin_table(assessments, fleet, colour=on_a_terminal()))
    if strict and any(assessment.state in WANTING for assessment in assessments):
        raise typer.Exit(1)
