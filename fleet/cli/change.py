"""Dated changes: what they do to the margin, and what they cause."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    By,
    Database,
    Json,
    Today,
    a_day,
    person,
    print_json,
    right_now,
)
from fleet.errors import BadInput


def add_to(app: typer.Typer) -> None:
    """Adds this group's command."""
    app.command(
        "change",
        context_settings={"allow_extra_args": True, "ignore_unknown_options": True},
        epilog='Example: fleet change load R1 "main light" power=310W --since 2026-05-03',
    )(change)


def change(
    ctx: typer.Context,
    what: Annotated[
        str, typer.Argument(metavar="WHAT", help="load, animals, place, duty, room, tank, health, plate, site or rule.")
    ],
    code: Annotated[str, typer.Argument(metavar="CODE", help="The tank, device, room, site or rule that changes.")],
    since: Annotated[
        str | None, typer.Option("--since", metavar="DATE", help="First day on which it holds; today otherwise.")
    ] = None,
    end: Annotated[bool, typer.Option("--end", help="It ends on that day and nothing takes its place.")] = False,
    weather: Annotated[
        Path | None,
        typer.Option("--weather", metavar="FILE", help="For a site: a year of hours as TMY3, TMY2 or EPW."),
    ] = None,
    apply: Annotated[bool, typer.Option("--apply", help="For a site: write what the weather file would set.")] = False,
    scope: Annotated[
        str,
        typer.Option("--scope", metavar="CODE", help="For a rule: the client, site, tank … it holds for; else all."),
    ] = "",
    reason: Annotated[str, typer.Option("--reason", help="For a rule: why, for those who come after.")] = "",
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    by: By = None,
    json: Json = False,
) -> None:
    """Write a dated change: light, place, animals, …

    Prints the margin before and after, and the tasks that the change causes.

    After CODE: the name of the load or group, or the tank of the duty; then the new cells as column=value.

    \b
    fleet change load R1 "main light" power=310W hours_per_day=10
    fleet change animals R1 "blue tangs" class=tropical-marine count=4
    fleet change place CH1 where=in-stand stand_of=R1 clearance=10cm
    fleet change duty CH1 R2 role=standby
    fleet change room hall hot_day_mean=79F
    fleet change tank R1 lid=open target=77F
    fleet change health R1 quarantine
    fleet change plate CH1 rated_cooling=600W plate="600 W at 30 C"

    For a site, an hourly weather file tells the outdoor design peak, the daily range and the hot season. They are shown
    beside what is on record, and written with --apply; a site's facts have no first day.

    \b
    fleet change site QUAY --weather quay.epw --apply

    For a rule, a client, a site, a tank or any other subject gets its own interval, minutes or switch; life-safety work
    is never lengthened or switched off. --end gives the catalogue's own back.

    \b
    fleet change rule clean-intake-screen --scope QUAY interval="2 weeks" --reason "salt spray"
    fleet change rule inspect-stand-for-damp --scope R1 active=no --reason "steel frame"
    fleet change rule clean-condenser-fins interval="2/4/8 months" minutes=50 --reason "our own records"
    """
    from fleet.cli.cells import cells_from
    from fleet.outputs.records import margin_records, task_record
    from fleet.outputs.text import change_text
    from fleet.services.change import CHANGEABLE, change_fact

    if what == "site":
        from fleet.cli.weather import change_site

        others = [*ctx.args, *(["--since"] if since else []), *(["--end"] if end else [])]
        who = person(by)
        change_site(database, code, weather, others, apply=apply, who=who, today=a_day(today), json=json)
        return
    if what == "rule":
        from fleet.cli.rule import change_rule

        words, cells = cells_from(ctx.args, ())
        if words or since or weather is not None or apply:
            raise BadInput(
                "`fleet change rule TASK` takes interval=…, minutes=…, active=…, --scope, --reason and --end"
            )
        change_rule(database, code, scope, cells, end=end, reason=reason, who=person(by), json=json)
        return
    if scope or reason:
        raise BadInput("--scope and --reason belong to `fleet change rule TASK`")
    if what not in CHANGEABLE:
        raise BadInput(f"{what!r}: expected one of {', '.join(CHANGEABLE)}, site or rule")
    if weather is not None or apply:
        raise BadInput("--weather and --apply belong to `fleet change site CODE`")
    words, cells = cells_from(ctx.args, ())
    if what == "health" and words:
        cells["health"] = words.pop(0)
    day = a_day(today)
    result = change_fact(
        database,
        what,
        (code, *words),
        cells,
        since=a_day(since, "--since") if since else day,
        end=end,
        who=person(by),
        now=right_now(),
        today=day,
    )
    if json:
        print_json(
            {
                "before": margin_records(result.before),
                "after": margin_records(result.after),
                "tasks": [task_record(task, result.fleet) for task in result.tasks],
            }
        )
    else:
        if not result.altered:
            typer.echo("Nothing changed: the register said so already.")
        typer.echo(change_text(result.before, result.after, result.tasks, result.fleet))
