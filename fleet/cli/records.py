"""What happened, what is put off, and what was entered by mistake: report, put-off, withdraw, correct."""

from __future__ import annotations

from typing import Annotated

import typer

from fleet.cli.options import (
    DEFAULT_DATABASE,
    By,
    Database,
    Json,
    Today,
    a_day,
    an_optional_day,
    person,
    print_json,
    right_now,
)
from fleet.errors import BadInput


def add_to(app: typer.Typer) -> None:
    """Adds this group's commands."""
    app.command("report", epilog='Example: fleet report harbour outage --on 2026-05-19 --note "whole street"')(report)
    app.command(
        "put-off",
        epilog='Example: fleet put-off 7K3-Q9MD --to 2026-06-12 --reason "part on order" --approver "R. Wynd"',
    )(put_off)
    app.command("withdraw", epilog='Example: fleet withdraw events harbour storm 2026-05-01 --reason "wrong site"')(
        withdraw
    )
    app.command("correct", epilog='Example: fleet correct 7K3-Q9MD finding=degraded --reason "read the sheet wrong"')(
        correct
    )


Reason = Annotated[str, typer.Option("--reason", help="Why, for those who come after.")]


def report(
    subject: Annotated[str, typer.Argument(metavar="SUBJECT", help="Code of the site, room, tank, device …")],
    event: Annotated[
        str,
        typer.Argument(metavar="EVENT", help="outage, storm, death, leak, moved, opened, room-ac-changed or other."),
    ],
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="Day it happened; else today.")] = None,
    by: By = None,
    note: Annotated[str | None, typer.Option("--note", help="Anything worth knowing.")] = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Report an outage, a storm, a death, a leak.

    Prints the tasks that it causes, and when to stop and whom to call.
    """
    from fleet.outputs.report_text import report_record, report_text
    from fleet.services.report import report_event

    day = a_day(today)
    on_day = an_optional_day(on, "--on") or day
    found = report_event(database, subject, event, on=on_day, by=person(by), note=note, today=day, now=right_now())
    if json:
        print_json(report_record(found.event, found.tasks, found.stop_rules, found.fleet))
    else:
        typer.echo(
            report_text(
                found.event,
                found.tasks,
                found.stop_rules,
                found.fleet,
                found.catalogue,
                known_before=found.known_before,
            )
        )


def put_off(
    key: Annotated[str, typer.Argument(metavar="KEY", help="The key of the task.")],
    to: Annotated[str | None, typer.Option("--to", metavar="DATE", help="The day it is put off to.")] = None,
    reason: Reason = "",
    approver: Annotated[
        str | None, typer.Option("--approver", metavar="WHO", help="Who agreed to it; class A wants one.")
    ] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Take it back: the task's own window holds again.")] = False,
    by: By = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Put a task off to a later day.

    What guards animals or people (class A) is put off once, with an approver; what law or life safety asks for (class
    A0) never. No task is put off past the longest interval since it was last done. Class B and C may be put off again
    to another day; --undo takes it back, and for class A still counts as the one time.
    """
    from fleet.outputs.record_text import decided_record, decided_text
    from fleet.services.decide import put_task_back, put_task_off

    day, who, now = a_day(today), person(by), right_now()
    if undo:
        if to is not None or approver is not None:
            raise BadInput("--undo takes neither --to nor --approver")
        found = put_task_back(database, key, reason=reason or "put back", who=who, today=day, now=now)
    elif to is None:
        raise BadInput("--to: expected the day it is put off to, such as 2026-06-12")
    else:
        found = put_task_off(
            database, key, to=a_day(to, "--to"), reason=reason, approver=approver, who=who, today=day, now=now
        )
    if json:
        print_json(decided_record(found.before, found.after, found.fleet))
    else:
        typer.echo(decided_text(found.before, found.after, found.plan, found.fleet))


def withdraw(
    what: Annotated[
        list[str], typer.Argument(metavar="KEY | FILE WORDS…", help="A task's key; or a file and the row's key.")
    ],
    reason: Reason = "",
    by: By = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Take back a task, or a row entered by mistake.

    Nothing is deleted: the row stays on the trail, marked as withdrawn, with who and why. The key of a task that is
    still to be done withdraws the task; the key of one that is done withdraws the record of it.

    \b
    fleet withdraw 7K3-Q9MD --reason "tank was given away"
    fleet withdraw events harbour storm 2026-05-01 --reason "wrong site"
    fleet withdraw readings T7 water-temp 2026-05-20 --reason "wrong tank"
    fleet withdraw history CH1 clean-intake-screen 2026-05-20 --reason "never done"
    """
    from fleet.cli.cells import file_named
    from fleet.outputs.record_text import corrected_record, corrected_text, decided_record, decided_text
    from fleet.services.correct import record_closing, withdraw_row
    from fleet.services.decide import withdraw_task

    day, who, now = a_day(today), person(by), right_now()
    if len(what) == 1 and record_closing(database, what[0]) is None:
        found = withdraw_task(database, what[0], reason=reason, who=who, today=day, now=now)
        if json:
            print_json(decided_record(found.before, found.after, found.fleet))
        else:
            typer.echo(decided_text(found.before, found.after, found.plan, found.fleet))
        return
    file, words = ("history", what) if len(what) == 1 else (file_named(what[0])[0], what[1:])
    row = withdraw_row(database, file, words, reason=reason, who=who, now=now)
    if json:
        print_json(corrected_record(row.file, row.before, row.after))
    else:
        typer.echo(corrected_text(row.file, row.before, row.after))


def correct(
    what: Annotated[
        list[str],
        typer.Argument(metavar="KEY | FILE WORDS… COLUMN=VALUE…", help="The row, then its new cells."),
    ],
    reason: Reason = "",
    by: By = None,
    database: Database = DEFAULT_DATABASE,
    today: Today = None,
    json: Json = False,
) -> None:
    """Put right work, a reading or an event on record.

    The row is named by the key of the task that it closed, or by its file and its key; the trail keeps both values.

    \b
    fleet correct 7K3-Q9MD finding=degraded minutes=25 --reason "read the sheet wrong"
    fleet correct history CH1 clean-intake-screen 2026-05-20 done_on=2026-05-19 --reason "a day early"
    fleet correct readings T7 water-temp 2026-05-20 value=77.2F --reason "digits turned round"
    """
    from fleet.cli.cells import cells_from, file_named
    from fleet.outputs.record_text import corrected_record, corrected_text
    from fleet.services.correct import correct_row

    words, cells = cells_from(what, ())
    if not words:
        raise BadInput("name the row to correct: the key of its task, or a file and the row's key")
    file, words = ("history", words) if len(words) == 1 else (file_named(words[0])[0], words[1:])
    row = correct_row(database, file, words, cells, reason=reason, who=person(by), today=a_day(today), now=right_now())
    if json:
        print_json(corrected_record(row.file, row.before, row.after))
    else:
        typer.echo(corrected_text(row.file, row.before, row.after))
