"""The one entry point of planning: a fleet, its catalogue and its history into tasks and visits."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date

from fleet.planning.fingerprints import Setting
from fleet.planning.parts import parts_of
from fleet.planning.replanning import Replanning
from fleet.values.assessment import Assessment, MarginChange, OutputShare
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Plan


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

    Parts of the fleet without news since `previous` was made that day are taken over from it; the plan is the same as
    if everything were planned again.
    """
    catalogue = replace(catalogue, rules=tuple(sorted(catalogue.rules, key=lambda rule: rule.id)))
    setting = Setting(fleet, catalogue, tuple(overrides), today, through, frozen_before, agreed)
    with _without_collector():
        return Replanning(setting, previous, parts_of(fleet, assessments, margin_changes, output_shares)).plan()


@contextmanager
def _without_collector() -> Iterator[None]:
    """Lets the collector of cycles rest: planning makes millions of objects and no cycle among them, and looking for
    one took a fifth of its time."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()
