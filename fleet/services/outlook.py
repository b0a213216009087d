"""One look ahead: the fleet on a day, its heat balances and the plan that follows. Every other service starts here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fleet.db.repository import Register
from fleet.files.catalogue_files import read_catalogue
from fleet.planning.plan import make_plan
from fleet.services.margins_changed import margin_changes
from fleet.thermal.assess import assess
from fleet.thermal.output_share import output_shares
from fleet.values.assessment import Assessment, MarginChange
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet, snapshot
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Plan

PLAN_DAYS = 180
"""How far a plan looks ahead unless told otherwise: as far as the calendar feeds show."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """The fleet on a day with everything computed from it."""

    fleet: Fleet
    catalogue: Catalogue
    assessments: tuple[Assessment, ...]
    margin_changes: tuple[MarginChange, ...]
    plan: Plan
    overrides: tuple[RuleOverride, ...] = ()


def look_ahead(
    register: Register, today: date, through: date | None = None, *, frozen_before: date | None = None
) -> Outlook:
    """Assesses every tank on `today` and plans from then on, starting from the plan saved last.

    Visits of the published edition are agreed; visits before `frozen_before` stay as they are, whatever the news.
    """
    rows = register.rows()
    catalogue = read_catalogue()
    fleet = snapshot(rows, today)
    last_day = through or today + timedelta(days=PLAN_DAYS)
    assessments = assess(fleet, catalogue.class_by_code)
    changes = margin_changes(rows, fleet, catalogue, last_day)
    overrides = register.rule_overrides()
    plan = make_plan(
        fleet,
        catalogue,
        assessments=assessments,
        margin_changes=changes,
        previous=register.saved_plan(),
        today=today,
        through=last_day,
        overrides=overrides,
        output_shares=output_shares(fleet),
        frozen_before=frozen_before,
        agreed=register.agreed_visits(today),
    )
    return Outlook(fleet, catalogue, assessments, changes, plan, overrides)


def plan_again(register: Register, before: Outlook, *, previous: Plan | None = None) -> Plan:
    """The plan after work was recorded or decided on, with the heat balances of the outlook before it: quick, for an
    answer at the terminal. What cleaning does to a margin shows in the next outlook.

    It starts from `previous` where that is given, else from the plan saved last.
    """
    fleet = register.snapshot(before.fleet.day)
    return make_plan(
        fleet,
        before.catalogue,
        assessments=before.assessments,
        margin_changes=before.margin_changes,
        previous=previous or register.saved_plan(),
        today=before.plan.today,
        through=before.plan.through,
        overrides=register.rule_overrides(),
        output_shares=output_shares(fleet),
        agreed=register.agreed_visits(before.plan.today),
    )
