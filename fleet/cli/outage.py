"""What happens when something fails."""

from __future__ import annotations

from datetime import time
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

Codes = list[str] | None


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command("outage", epilog="Example: fleet outage --lost CP-1 CP-2 --at 12:00")(outage)


def outage(
    more: Annotated[
        Codes, typer.Argument(metavar="[DEVICE]…", help="Further devices that are lost with that after --lost.")
    ] = None,
    ac_off: Annotated[
        Codes, typer.Option("--ac-off", metavar="ROOM|SITE", help="Air conditioning off; may be repeated.")
    ] = None,
    lost: Annotated[
        Codes,
        typer.Option(
            "--lost", metavar="DEVICE", help="A device fails, or all that hang on a pump, outlet or controller."
        ),
    ] = None,
    power_out: Annotated[
        Codes, typer.Option("--power-out", metavar="SITE", help="No mains at a site; may be repeated.")
    ] = None,
    flow_lost: Annotated[
        Codes,
        typer.Option("--flow-lost", metavar="DEVICE", help="Its water stops, its compressor does not."),
    ] = None,
    stuck_on: Annotated[
        Codes, typer.Option("--stuck-on", metavar="CODE", help="A chiller or heater (or a tank's heaters) never stops.")
    ] = None,
    rank: Annotated[
        str | None, typer.Option("--rank", metavar="SITE", help="Every single failure at a site, the worst first.")
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="HH:MM", help="When it begins, site clock; the worst hour otherwise.")
    ] = None,
    air: Annotated[
        str | None, typer.Option("--air", metavar="TEMP", help="Room air throughout (50F); a hot day otherwise.")
    ] = None,
    spare: Annotated[
        str | None, typer.Option("--spare", metavar="WATTS", help="What a spare of this size would save.")
    ] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """Who crosses a limit, when, and what to do first.

    Tanks in order of urgency when cooling, room air conditioning or power fails, on the safe side.
    """
    from fleet.outputs.outage_records import outage_records, ranked_records
    from fleet.outputs.outage_text import outage_text, ranking_text
    from fleet.services.outage import what_could, what_if
    from fleet.units import parse_quantity
    from fleet.values.outage import Failure

    def quantity(text: str | None, kind: str, option: str) -> float | None:
        if text is None:
            return None
        try:
            return parse_quantity(text, kind)
        except ValueError as error:
            raise BadInput(f"{option} {text!r}: {error}") from None

    if more and not lost:
        raise BadInput(f"{more[0]!r} stands alone: say --lost {' '.join(more)}, or see fleet outage --help")
    failure = Failure(
        ac_off=_codes(ac_off),
        lost=_codes([*(lost or ()), *(more or ())]),
        flow_lost=_codes(flow_lost),
        power_out=_codes(power_out),
        stuck_on=_codes(stuck_on),
        at=_clock(at),
        air_c=quantity(air, "temperature", "--air"),
    )
    spare_w = quantity(_watts(spare), "power", "--spare")
    day = a_day(today)
    if rank is not None:
        if failure.codes or spare_w is not None or failure.air_c is not None:
            raise BadInput("--rank tries every single failure by itself: it goes with --at only")
        fleet, catalogue, ranked = what_could(database, day, rank, at=failure.at)
        if json:
            print_json(ranked_records(ranked))
        else:
            typer.echo(ranking_text(ranked, rank, fleet, catalogue, colour=on_a_terminal()))
        found = any(row.hours.low is not None for each in ranked for row in each.rows)
    elif not failure.codes:
        raise BadInput(
            "say what fails: --ac-off, --lost, --power-out, --flow-lost or --stuck-on; or --rank SITE for all"
        )
    else:
        fleet, catalogue, result = what_if(database, day, failure, spare_w=spare_w)
        if json:
            print_json(outage_records(result))
        else:
            typer.echo(outage_text(result, fleet, catalogue, colour=on_a_terminal()))
        found = any(row.hours.low is not None for row in result.rows)
    if strict and found:
        raise typer.Exit(1)


def _codes(given: Codes) -> tuple[str, ...]:
    """Codes named one by one or with commas between, each once."""
    return tuple(dict.fromkeys(code for text in given or () for code in text.split(",") if code))


def _clock(text: str | None) -> time | None:
    if text is None:
        return None
    try:
        return time.fromisoformat(text if ":" in text else "?").replace(second=0, microsecond=0, tzinfo=None)
    except ValueError:
        raise BadInput(f"--at {text!r}: expected a clock time such as 14:30") from None


def _watts(text: str | None) -> str | None:
    """A bare number is in watts."""
    return f"{text} W" if text is not None and text.replace(".", "", 1).isdigit() else text
