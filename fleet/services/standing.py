"""The plan that people work by, as it stands on a day: saved or published before, not made anew."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fleet.db.repository import Register
from fleet.errors import NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.planning.editions import as_of, without_closed
from fleet.services.edition import Edition, edition_in_force
from fleet.services.margins_changed import margin_changes
from fleet.services.outlook import PLAN_DAYS, Outlook
from fleet.thermal.assess import assess
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet, snapshot
from fleet.values.plan import Plan
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import Finding


@dataclass(frozen=True, slots=True)
class Standing:
    """The register's rows and the fleet on a day, the plan saved last with the states of that day, and the edition
    beside it."""

    rows: RegisterRows
    fleet: Fleet
    catalogue: Catalogue
    plan: Plan
    edition: Edition


def standing_on(register: Register, today: date) -> Standing:
    """What was planned last, as it stands on `today`: without the tasks reported done since. Raises NotFound where
    nothing was ever planned."""
    saved, saved_at = register.saved_plan(), register.saved_at()
    if saved is None or saved_at is None:
        raise NotFound("there is no plan yet: make one with `fleet plan`")
    plan, _ = as_of(replace(saved, today=today), {}, today)
    closed = _closed_since(register, plan, saved_at)
    edition = edition_in_force(register, plan)
    left, revisions = without_closed(edition.plan, edition.revisions, closed)
    plan, _ = without_closed(plan, {}, closed)
    rows = register.rows()
    edition = replace(edition, plan=left, revisions=revisions)
    return Standing(rows, snapshot(rows, today), read_catalogue(), plan, edition)


def outlook_on(register: Register, standing: Standing) -> Outlook:
    """The heat balances of the day beside the plan as it stands."""
    fleet, classes, today = standing.fleet, standing.catalogue.class_by_code, standing.plan.today
    changes = margin_changes(standing.rows, fleet, standing.catalogue, today + timedelta(days=PLAN_DAYS))
    return Outlook(fleet, standing.catalogue, assess(fleet, classes), changes, standing.plan, register.rule_overrides())


def _closed_since(register: Register, plan: Plan, moment: datetime) -> dict[str, datetime]:
    """Tasks of the plan that were reported done after it was saved, with the instant."""
    return {
        str(entry.task_key): entry.at
        for entry in register.recorded_since(moment)
        if entry.task_key in plan.task_by_key and entry.record.finding is not Finding.NOT_INSPECTED
    }
