"""From tasks to visits, in rounds: each starts from the visits of the round before, until a round changes nothing.

What one round moves for want of people or hours may suit other work differently. A plan that is at rest stays as it is
when it is made again from the same facts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleet.planning.assignment import Crews
from fleet.planning.prerequisites import brought_forward
from fleet.planning.seasons import OpenDays
from fleet.planning.site_calls import SiteCall, with_keys
from fleet.planning.subjects import Subject
from fleet.planning.visits import calls_at
from fleet.planning.working_order import Workplace
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.plan import Plan, Task, Unplaced, Visit
from fleet.values.register import Closure
from fleet.values.vocabulary import PerformedBy

LOOK_AHEAD_FOR_OPEN_DAYS = 92
"""Days beyond the last window in which an open day is still looked for."""
MOST_ROUNDS = 6

Held = Mapping[str, tuple[Task, Visit]]
"""Tasks by key, with the visits that hold them."""


def planned_visits(
    tasks: Sequence[Task],
    fleet: Fleet,
    catalogue: Catalogue,
    subjects: Mapping[str, Subject],
    closures: Mapping[str, Sequence[Closure]],
    previous: Plan | None,
    today: date,
) -> tuple[list[Task], list[Visit], list[Unplaced]]:
    """The tasks with their visits, the visits, and the visitors' tasks that none holds."""
    by_site: dict[str, list[Task]] = defaultdict(list)
    checklists: dict[str, list[Task]] = defaultdict(list)
    homeless: list[Unplaced] = []
    for task in tasks:
        if task.performed_by is not PerformedBy.VISITOR:
            checklists[task.site or ""].append(task)
        elif task.site is None:
            words = f"{task.title} on {task.subject}: it belongs to no site; do it where it is kept."
            homeless.append(Unplaced(task.key, "NO_SITE", words))
        else:
            by_site[task.site].append(task)
    open_days = {
        code: OpenDays(
            fleet.site_by_code[code],
            closures.get(code, ()),
            today,
            max(today, *(task.latest for task in some)) + timedelta(days=LOOK_AHEAD_FOR_OPEN_DAYS),
        )
        for code, some in sorted(by_site.items())
    }
    workplace = Workplace(catalogue.rule_by_id, subjects, fleet.tank_by_code)
    visits = () if previous is None else previous.visits
    taken = {*(task.key for task in tasks), *(visit.key for visit in visits)}
    known = {} if previous is None else previous.task_by_key
    by_key = {task.key: task for task in tasks}
    for _ in range(MOST_ROUNDS):
        work = _Round(fleet, by_site, checklists, open_days, workplace, today, visits, known, taken)
        made, moved, missed = work.run()
        at_rest = {visit.key: visit for visit in visits} == {visit.key: visit for visit in made}
        visits = tuple(made)
        visit_of = {key: visit for visit in visits for key in visit.tasks}
        changed = {key: _as_planned(by_key[key], task, visit_of.get(key), today) for key, task in moved.items()}
        known = {**by_key, **changed}
        if at_rest:
            break
    planned = [replace(task, visit=visit_of[task.key].key) if task.key in visit_of else task for task in known.values()]
    return planned, list(visits), sorted([*homeless, *missed], key=lambda one: one.key)


@dataclass(frozen=True, slots=True)
class _Round:
    fleet: Fleet
    by_site: Mapping[str, Sequence[Task]]
    checklists: Mapping[str, Sequence[Task]]
    open_days: Mapping[str, OpenDays]
    workplace: Workplace
    today: date
    visits: Sequence[Visit]
    known: Mapping[str, Task]
    taken: Collection[str]

    def run(self) -> tuple[list[Visit], dict[str, Task], list[Unplaced]]:
        """Bundles the visitors' tasks of each site and finds people and hours for the calls: the visits, the tasks that
        bundling changed, and those without an open day."""
        fleet = self.fleet
        crews = Crews(fleet.technicians, fleet.absences, fleet.site_by_code, self.open_days, self.today)
        held: Held = {
            key: (self.known[key], visit) for visit in self.visits for key in visit.tasks if key in self.known
        }
        calls: list[SiteCall] = []
        moved: dict[str, Task] = {}
        missed: list[Unplaced] = []
        for code in sorted(self.by_site):
            found, unplaced, changed = calls_at(
                code,
                self.by_site[code],
                self.checklists.get(code, ()),
                self.open_days[code],
                self.today,
                self.workplace,
                {task.key: held[task.key] for task in self.by_site[code] if task.key in held},
                crews.longest_call,
            )
            calls.extend(found)
            missed.extend(unplaced)
            moved.update(changed)
        calls = with_keys(calls, self.visits, self.taken)
        return crews.assign(calls, {visit.key: visit for visit in self.visits}), moved, missed


def _as_planned(task: Task, moved: Task, visit: Visit | None, today: date) -> Task:
    """The task as bundling left it; its window is opened forward no more than its visit asks for."""
    if visit is None:
        return moved
    return brought_forward(task, visit.day, today) if visit.day < task.earliest else task
