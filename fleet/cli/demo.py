"""The whole job once, on the sample register: demo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import Json, Today, an_optional_day, person, print_json, right_now


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("demo", epilog="Example: fleet demo")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where everything goes.")] = Path("fleet-demo"),
    database: Annotated[
        str | None,
        typer.Option("--database", metavar="URL", help="Where the register goes; a file in DIR otherwise."),
    ] = None,
    today: Today = None,
    json: Json = False,
) -> None:
    """Do the whole job once, on a sample.

    Database, margins, plan, feeds and sheets of an invented fleet; says what it found and where to look.
    """
    from fleet.outputs.records import margin_records, plan_record
    from fleet.outputs.text import demo_text
    from fleet.services.demo import STORY_DAY, run_demo

    day = an_optional_day(today, "--today") or STORY_DAY
    result = run_demo(folder, database=database, today=day, who=person(None), now=right_now())
    if json:
        print_json(
            {
                "database": result.database,
                "feeds": [str(path) for path in result.feeds],
                "sheets": [str(path) for path in result.sheets],
                "margin": margin_records(result.outlook.assessments),
                **plan_record(result.outlook.plan, result.outlook.fleet),
            }
        )
        return
    typer.echo(
        demo_text(
            result.outlook.plan,
            result.outlook.fleet,
            result.outlook.assessments,
            folder=folder,
            database=result.database,
            feeds=len(result.feeds),
            sheets=len(result.sheets),
        )
    )
