"""The one entry point of planning: a fleet, its catalogue and its history into tasks and visits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from fleet.planning.differences import plan_changes
from fleet.planning.keys import KeyBook
from fleet.planning.own_rules import OwnRules
from fleet.planning.part_tasks import by_occurrence, closures_by_site, tasks_of
from fleet.planning.parts import parts_of
from fleet.planning.subjects import Subject, rules_not_on_record
from fleet.planning.visit_rounds import planned_visits
from fleet.values.assessment import Assessment, MarginChange, OutputShare
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Plan, Task


def make_plan(
    fleet: Fleet,
    catalogue: Catalogue,
    *,
    assessments: Sequence[Assessment],
    margin_changes: Sequence[MarginChange],
    previous: Plan | None,
    today: date,
    through: date,
    overrides: Sequence[RuleOverride] = (),
    output_shares: Sequence[OutputShare] = (),
    frozen_before: date | None = None,
    agreed: frozenset[str] = frozenset(),
) -> Plan:
    """Every task due from today up to and including `through`, what is still open from before, and the visits.

    `fleet` is the snapshot of `today`. With the plan before in `previous` keys are kept, and nothing moves but what
    news touches. The result depends on the values alone, not on their order. `overrides` are people's own intervals,
    minutes and switches; raises NotAllowed where one would lengthen life-safety work or switch it off. `output_shares`
    are what devices were measured to deliver.

    Visits of the plan before on days before `frozen_before` stand as they are, whatever the news, with the work that is
    still to be done. `agreed` are the keys of its visits that people were told of: each keeps its day and its
    technician unless the news makes them impossible.
    """
    own_rules = OwnRules(overrides, catalogue)
    shares: dict[str, list[OutputShare]] = defaultdict(list)
    for share in output_shares:
        shares[share.device].append(share)
    catalogue = replace(catalogue, rules=tuple(sorted(catalogue.rules, key=lambda rule: rule.id)))
    tasks_before = previous.tasks if previous is not None else ()
    visits_before = previous.visits if previous is not None else ()
    before = by_occurrence(tasks_before)
    book = KeyBook(taken=[*(task.key for task in tasks_before), *(visit.key for visit in visits_before)])
    tasks: list[Task] = []
    subjects: dict[str, Subject] = {}
    done: dict[tuple[str, str], Sequence[date]] = {}
    joined: dict[str, str] = {}
    not_on_record: dict[str, tuple[str, ...]] = {}
    for part in parts_of(fleet, assessments, margin_changes):
        found = tasks_of(part, catalogue, own_rules, shares, before, book, today, through)
        tasks += found.tasks
        subjects |= found.subjects.by_code
        done |= found.done
        joined |= found.joined
        not_on_record |= rules_not_on_record(catalogue.rules, found.subjects)
    tasks, visits, unplaced = planned_visits(
        tasks, fleet, catalogue, subjects, closures_by_site(fleet), previous, today, frozen_before, agreed
    )
    tasks.sort(key=lambda task: (task.due, task.site or "", task.key))
    changes = plan_changes(
        previous, tasks, visits, through, done, catalogue.rule_by_id.keys(), subjects.keys(), joined
    )  # fmt: skip
    return Plan(today, through, tuple(tasks), tuple(visits), tuple(unplaced), changes, not_on_record)
