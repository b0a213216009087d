"""Beginning a register: start."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import DEFAULT_DATABASE, By, Json, Today, a_day, local_time_zone, person, print_json, right_now

STOPPED = 130
"""What a shell reports of a program that Ctrl-C ended."""


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("start", epilog="Example: fleet start home")(start)


class _Terminal:
    """Puts questions at the terminal. Whatever is wrong with an answer is told in one line, and it is asked again."""

    def ask(self, question: str, default: str, check: Callable[[str], object]) -> str:
        while True:
            answer = str(typer.prompt(question, default=str(default), show_default=bool(default), err=True)).strip()
            try:
                check(answer)
            except ValueError as refused:
                typer.echo(f"  {answer!r}: expected {refused}", err=True)
            else:
                return answer

    def yes(self, question: str, default: bool) -> bool:
        return typer.confirm(question, default=default, err=True)

    def say(self, text: str) -> None:
        typer.echo(f"\n{text}", err=True)


def start(
    kind: Annotated[
        str, typer.Argument(metavar="home|company", help="A fish room at home, or clients and technicians.")
    ],
    folder: Annotated[
        Path | None, typer.Argument(metavar="[DIR]", help="Where the register goes; the working folder otherwise.")
    ] = None,
    files: Annotated[
        bool, typer.Option("--files", help="Ask nothing: write an example as CSV files to edit and import.")
    ] = False,
    database: Annotated[
        str | None,
        typer.Option("--database", metavar="URL", help="A file, or a postgresql:// address; else fleet.db in DIR."),
    ] = None,
    today: Today = None,
    by: By = None,
    json: Json = False,
) -> None:
    """Begin a register with a few questions.

    Rooms, tanks, lights, pumps, cooling; for a company also clients, sites and technicians. Enter takes the answer in
    brackets, a tank can be like the one before, and nothing is written before the last answer.
    """
    from fleet.outputs.start_text import example_text, started_text
    from fleet.services.start import example_files, start_register

    if files:
        written = example_files(kind, folder or Path("register"))
        if json:
            print_json({"files": [str(path) for path in written]})
        else:
            typer.echo(example_text(folder or Path("register"), len(written)))
        return
    url = database or (str(folder / DEFAULT_DATABASE) if folder else os.environ.get("FLEET_DATABASE_URL", ""))
    url = url or DEFAULT_DATABASE
    try:
        found = start_register(
            url, kind, _Terminal(), time_zone=local_time_zone(), who=person(by), today=a_day(today), now=right_now()
        )
    except typer.Abort:
        typer.echo("\nfleet: stopped; nothing was written", err=True)
        raise typer.Exit(STOPPED) from None
    if json:
        print_json({"rows": dict(found.counts), "tanks": [code for code, _ in found.tanks]})
    else:
        typer.echo(started_text(found.counts, found.tanks, url))
