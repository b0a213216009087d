"""The whole job once, on the sample register: demo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import Today, an_optional_day, person, right_now


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("demo", epilog="Example: fleet demo")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where everything goes.")] = Path("fleet-demo"),
    today: Today = None,
) -> None:
    """Do the whole job once, on a sample.

    Database, margins, plan, feeds and sheets of an invented fleet; says what it found and where to look.
    """
    from fleet.outputs.text import demo_text
    from fleet.services.demo import STORY_DAY, run_demo

    day = an_optional_day(today, "--today") or STORY_DAY
    result = run_demo(folder, today=day, who=person(None), now=right_now())
    typer.echo(
        demo_text(
            result.outlook.plan,
            result.outlook.fleet,
            result.outlook.assessments,
            folder=folder,
            feeds=len(result.feeds),
            sheets=len(result.sheets),
        )
    )
