"""`fleet change site CODE --weather FILE`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import typer

from fleet.cli.options import print_json, right_now
from fleet.errors import BadInput


def change_site(
    database: str,
    code: str,
    file: Path | None,
    others: Sequence[str],
    *,
    apply: bool,
    who: str,
    today: date,
    json: bool,
) -> None:
    """Prints what the weather file would set on the site, and sets it when told to. `others` are further words."""
    from fleet.outputs.weather_text import weather_record, weather_text
    from fleet.services.weather import weather_of_site

    if file is None or others:
        raise BadInput(
            "`fleet change site CODE` takes --weather FILE and nothing else; "
            "other columns of a site come in with `fleet import`, and hold at once"
        )
    weather = weather_of_site(database, code, file, apply=apply, who=who, now=right_now(), today=today)
    if json:
        print_json(weather_record(weather))
    else:
        typer.echo(weather_text(weather, apply=apply))
