"""Takes work back: what was done, found and measured."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.register_files import row_from_cells
from fleet.planning.keys import normal_key
from fleet.services.context import CellContext, context_of
from fleet.services.outlook import look_ahead, plan_again
from fleet.values.plan import Plan, Task, Visit
from fleet.values.register import Reading, RegisterRows, ServiceRecord
from fleet.values.vocabulary import Finding


@dataclass(frozen=True, slots=True)
class WorkDone:
    """What a person reports of one or several tasks. `readings` are texts: [SUBJECT:]QUANTITY=VALUE."""

    keys: tuple[str, ...]
    visit: str | None
    on: date
    by: str
    finding: Finding | None = None
    minutes: int | None = None
    readings: tuple[str, ...] = ()
    note: str | None = None


@dataclass(frozen=True, slots=True)
class WorkRecorded:
    """The tasks that were closed, and the next occurrence of each that the plan now holds (None: none)."""

    closed: tuple[Task, ...]
    following: tuple[Task | None, ...]
    readings: tuple[Reading, ...]


def record_work(url: str, work: WorkDone, *, today: date, now: datetime) -> WorkRecorded:
    """Writes service records and readings for the tasks named, all of them or none.

    Raises NotFound for a key that the plan does not hold and BadInput for a day to come or a reading that cannot
    be taken.
    """
    if work.on > today:
        raise BadInput(f"done on {work.on}: expected a day up to today, {today}")
    with Register.open(url, read_only=True) as register:
        outlook = look_ahead(register, today)
        tasks = _tasks_named(register, outlook.plan, work)
        rows = register.rows()
    readings = readings_of(rows, context_of(rows), tasks, work)
    # Two keys may ask for the same work on the same subject: it is done once and recorded once.
    jobs = {(task.subject, task.rule): task for task in reversed(tasks)}
    _refuse_twice_on_one_day(rows, jobs, work.on)
    shares = _shared_minutes(work.minutes, list(jobs.values()))
    records = [
        ServiceRecord(subject, rule, work.on, work.by, work.finding, minutes, work.note)
        for (subject, rule), minutes in zip(jobs, shares, strict=True)
    ]
    keys = {(subject, rule, work.on): task.key for (subject, rule), task in jobs.items()}
    with Register.open(url) as register:
        # Somebody else may have recorded the same task since the plan was looked at.
        for task in tasks:
            _refuse_if_done(register, task.key)
        register.add_service_records(records, readings, task_keys=keys, who=work.by, now=now)
    with Register.open(url, read_only=True) as register:
        plan = plan_again(register, outlook)
    return WorkRecorded(tuple(tasks), following(plan, tasks), tuple(readings))


def following(plan: Plan, tasks: Iterable[Task]) -> tuple[Task | None, ...]:
    """The first task of the plan by the same rule on the same subject, for each of these; None where there is none."""
    first: dict[tuple[str, str], Task] = {}
    for task in plan.tasks:
        first.setdefault((task.subject, task.rule), task)
    return tuple(first.get((task.subject, task.rule)) for task in tasks)


def _refuse_twice_on_one_day(rows: RegisterRows, jobs: Mapping[tuple[str, str], Task], on: date) -> None:
    for row in rows.history:
        task = jobs.get((row.subject, row.task))
        if task is not None and row.done_on == on:
            raise BadInput(f"{task.key}: {task.title!r} on {row.subject} is already recorded as done on {on}")


def find_task(register: Register, plan: Plan, typed: str, *, on_paper: bool = False) -> Task:
    """The task of the plan with the key typed, however its letters and dashes were typed.

    With `on_paper` also a task that has left the plan since its sheet was printed: the work is done all the same.
    Raises NotFound.
    """
    key = normal_key(typed)
    if key in plan.task_by_key:
        return plan.task_by_key[key]
    _refuse_if_done(register, key)
    printed = register.task_on_record(key) if on_paper else None
    if printed is not None:
        return printed
    near = difflib.get_close_matches(key, list(plan.task_by_key), n=1, cutoff=0.7)
    hint = f"; is it {near[0]}?" if near else "; `fleet due` lists the keys"
    raise NotFound(f"no task has the key {typed!r}{hint}")


def _refuse_if_done(register: Register, key: str) -> None:
    done = register.record_of_task(key)
    if done is not None:
        raise NotFound(f"{key} was already done on {done.done_on} by {done.by or 'somebody'}")


def _tasks_named(register: Register, plan: Plan, work: WorkDone) -> list[Task]:
    keys = list(work.keys)
    if work.visit is not None:
        visit = _visit_named(register, plan, work.visit)
        left = [key for key in visit.tasks if register.record_of_task(key) is None]
        if not left:
            raise BadInput(f"every task of visit {visit.key} is on record already")
        keys += left
    if not keys:
        raise BadInput("name at least one task key, or a visit with --visit")
    found = [find_task(register, plan, key, on_paper=True) for key in keys]
    return list({task.key: task for task in found}.values())


def _visit_named(register: Register, plan: Plan, typed: str) -> Visit:
    """The visit with this key in the plan, else in the published edition, whose sheets people hold."""
    key = normal_key(typed)
    edition = None if key in plan.visit_by_key else register.published_plan()
    visit = (plan if edition is None else edition).visit_by_key.get(key)
    if visit is None:
        raise NotFound(f"no visit has the key {typed!r}; `fleet due` lists them")
    return visit


def _shared_minutes(total: int | None, tasks: Sequence[Task]) -> list[int | None]:
    """One total for several tasks, shared by their planned minutes so that the parts add up to it."""
    if total is None:
        return [None] * len(tasks)
    planned = sum(task.minutes for task in tasks) or 1
    shares, given, so_far = [], 0, 0
    for task in tasks:
        so_far += task.minutes
        upto = round(total * so_far / planned)
        shares.append(upto - given)
        given = upto
    return list(shares)


def readings_of(
    rows: RegisterRows, context: CellContext, tasks: Sequence[Task], work: WorkDone, taken: Sequence[Reading] = ()
) -> list[Reading]:
    """The readings typed with the work on these tasks. Raises BadInput for one that cannot be taken.

    Their hour is not known: noon, and a second later for each one of the same quantity that the day already has on
    record or among those `taken` with it, so that none takes another's place.
    """
    readings: list[Reading] = []
    for text in work.readings:
        reading = _reading(context, text, tasks, work)
        instants = {
            row.taken_at
            for row in (*rows.readings, *taken, *readings)
            if (row.subject, row.quantity) == (reading.subject, reading.quantity)
        }
        while reading.taken_at in instants:
            reading = replace(reading, taken_at=reading.taken_at + timedelta(seconds=1))
        readings.append(reading)
    return readings


def _reading(context: CellContext, text: str, tasks: Sequence[Task], work: WorkDone) -> Reading:
    name, equals, value = text.partition("=")
    if not equals:
        raise BadInput(f"reading {text!r}: expected [SUBJECT:]QUANTITY=VALUE, such as water-temp=25.6C")
    subject, colon, quantity = name.rpartition(":")
    if not colon:
        subjects = {task.subject for task in tasks}
        if len(subjects) > 1:
            raise BadInput(f"reading {text!r}: several subjects were worked on; say which, as SUBJECT:{text}")
        subject = subjects.pop()
    cells = {
        "subject": subject,
        "quantity": quantity,
        "value": value,
        "taken_at": f"{work.on.isoformat()}T12:00",
        "by": work.by,
    }
    reading: Reading = row_from_cells("readings", cells, context.known, context.time_zones, context.words)
    return reading
