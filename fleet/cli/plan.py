"""What is to be done, when and why; and taking work back: plan, due, why, done."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    By,
    Database,
    Json,
    Strict,
    Today,
    a_day,
    an_optional_day,
    on_a_terminal,
    person,
    print_json,
    right_now,
)
from fleet.errors import BadInput

DUE_DAYS = 28
FINDINGS = ("sound", "degraded", "fault", "not-inspected")
BEHIND = ("late", "past-limit")


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("plan", epilog="Example: fleet plan --through 2026-12-31")(plan)
    app.command("due", epilog="Example: fleet due --site harbour --by 2026-06-30")(due)
    app.command("why", epilog="Example: fleet why 7K3-Q9MD")(why)
    app.command("done", epilog="Example: fleet done 7K3-Q9MD --finding sound --reading CH1:power=310W")(done)


def plan(
    through: Annotated[
        str | None, typer.Option("--through", metavar="DATE", help="Last day of the plan; 180 days on otherwise.")
    ] = None,
    publish: Annotated[bool, typer.Option("--publish", help="Make it what calendars and sheets show.")] = False,
    freeze: Annotated[
        str | None, typer.Option("--freeze", metavar="DATE", help="Hold every visit before this day as it is.")
    ] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Plan tasks and visits, and say what changed.

    Saves the plan and prints what is new, moved and dropped since the last one, and why. With --publish the plan
    becomes the edition that calendars and sheets show until the next one; its visits are agreed, and later plans move
    them only where news leaves no other way.
    """
    from fleet.outputs.records import changes_record, plan_record
    from fleet.outputs.text import changes_text, published_text
    from fleet.services.plan import plan_and_save

    day = a_day(today)
    last_day = an_optional_day(through, "--through")
    if last_day is not None and last_day < day:
        raise BadInput(f"--through {last_day}: expected a day from today, {day}, on")
    result = plan_and_save(
        database,
        today=day,
        through=last_day,
        now=right_now(),
        publish=publish,
        frozen_before=an_optional_day(freeze, "--freeze"),
    )
    outlook = result.outlook
    if json:
        since = result.since_published
        print_json(
            {
                **plan_record(outlook.plan, outlook.fleet),
                "published": publish,
                "since_published": None if since is None else changes_record(since),
            }
        )
    else:
        typer.echo(changes_text(outlook.plan))
        typer.echo(f"\n{published_text(result.edition_of, result.since_published, published=publish)}")


def due(
    until: Annotated[
        str | None, typer.Option("--by", metavar="DATE", help="Due by this day; within four weeks otherwise.")
    ] = None,
    site: Annotated[str | None, typer.Option("--site", metavar="CODE", help="Only this site.")] = None,
    technician: Annotated[
        str | None, typer.Option("--technician", metavar="CODE", help="Only this technician's visits.")
    ] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """What is late and what is due, site by site.

    In the order in which it is worked, each with the key to report it done. Below it the backlog in hours, and what
    becomes late if nobody comes for two weeks.
    """
    from fleet.outputs.due_text import backlog_record, backlog_text, due_table
    from fleet.outputs.records import plan_record
    from fleet.services.plan import work_due

    day = a_day(today)
    last_day = an_optional_day(until, "--by") or day + timedelta(days=DUE_DAYS)
    work = work_due(database, today=day, by=last_day, site=site, technician=technician)
    if json:
        print_json({**plan_record(work.plan, work.fleet), **backlog_record(work.backlog)})
    else:
        typer.echo(due_table(work.plan, work.fleet, colour=on_a_terminal()))
        typer.echo(f"\n{backlog_text(work.backlog, work.fleet)}")
    if strict and any(task.state in BEHIND for task in work.plan.tasks):
        raise typer.Exit(1)


def why(
    key: Annotated[str, typer.Argument(metavar="KEY", help="The key of a task, as on the sheet.")],
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Where a task comes from, and why on that day.

    Its rule, when it was last done, what shortened or lengthened the interval, its window, the event and the numbers.
    """
    from fleet.outputs.record_text import decision_record, decisions_text
    from fleet.outputs.records import why_record
    from fleet.outputs.why_text import why_text
    from fleet.services.plan import explain

    outlook, reason = explain(database, key, today=a_day(today))
    decisions = [decision_record(one.at, one.who, one.reason, one.before, one.after) for one in reason.decisions]
    if json:
        record = why_record(reason.task, reason.rule, reason.history, outlook.fleet, reason.placement)
        print_json({**record, "decisions": decisions})
    else:
        typer.echo(why_text(reason.task, reason.rule, reason.history, outlook.fleet, outlook.plan, reason.placement))
        if decisions:
            typer.echo(f"\n{decisions_text(decisions)}")


def done(
    keys: Annotated[list[str] | None, typer.Argument(metavar="KEY…", help="Keys of the tasks done.")] = None,
    visit: Annotated[str | None, typer.Option("--visit", metavar="KEY", help="Every task of this visit.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="Day it was done; else today.")] = None,
    by: By = None,
    finding: Annotated[str | None, typer.Option("--finding", metavar="F", help=", ".join(FINDINGS) + ".")] = None,
    minutes: Annotated[int | None, typer.Option("--minutes", min=0, max=10_000, help="Time it took in all.")] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option("--reading", metavar="[SUBJECT:]Q=VALUE", help="A reading, such as T7:water-temp=78.1F."),
    ] = None,
    note: Annotated[str | None, typer.Option("--note", help="Anything worth knowing next time.")] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="CSV", help="A whole sheet of work, one row for each task.")
    ] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Take work back: done, found, measured.

    A sheet (--file) has the columns key, done_on, by, finding, minutes, reading, note; `reading` holds
    QUANTITY=VALUE, several with ; between them. A row without day and finding was not done. The columns visit, day,
    site, tank, subject and task may stand beside them for the eye. All rows are taken or none; the same sheet taken
    again changes nothing.

    \b
    fleet done 7K3-Q9MD --finding sound --reading CH1:power=310W
    fleet done --visit V2M-0A1B --minutes 90
    fleet done --file returns.csv
    """
    if file is not None:
        if any(value is not None for value in (keys or None, visit, on, finding, minutes, reading or None, note)):
            raise BadInput("--file takes everything from the sheet: leave out keys and what else was done")
        _done_by_sheet(database, file, by=person(by), today=a_day(today), json=json)
        return
    from fleet.outputs.records import task_record
    from fleet.outputs.text import done_text
    from fleet.services.record import WorkDone, record_work
    from fleet.values.vocabulary import Finding

    if finding is not None and finding not in FINDINGS:
        raise BadInput(f"--finding {finding!r}: expected one of {', '.join(FINDINGS)}")
    day = a_day(today)
    work = WorkDone(
        keys=tuple(keys or ()),
        visit=visit,
        on=an_optional_day(on, "--on") or day,
        by=person(by),
        finding=Finding(finding) if finding else None,
        minutes=minutes,
        readings=tuple(reading or ()),
        note=note,
    )
    result = record_work(database, work, today=day, now=right_now())
    if json:
        print_json(
            {
                "done": [task.key for task in result.closed],
                "next": [None if task is None else task_record(task, None) for task in result.following],
                "readings": len(result.readings),
            }
        )
    else:
        typer.echo(done_text(result.closed, result.following, len(result.readings)))


def _done_by_sheet(database: str, file: Path, *, by: str, today: date, json: bool) -> None:
    from fleet.outputs.records import task_record
    from fleet.outputs.text import sheet_taken_text
    from fleet.services.returns import record_returns

    taken = record_returns(database, file, by=by, today=today, now=right_now())
    if json:
        print_json(
            {
                "done": [task.key for task in taken.closed],
                "next": [None if task is None else task_record(task, None) for task in taken.following],
                "readings": taken.readings,
                "known_before": taken.known_before,
                "not_done": taken.not_done,
            }
        )
    else:
        typer.echo(
            sheet_taken_text(
                taken.closed,
                taken.following,
                taken.readings,
                known_before=taken.known_before,
                not_done=taken.not_done,
            )
        )
