"""From tasks to visits, in rounds: each starts from the visits of the round before, until a round changes nothing.

What one round moves for want of people or hours may suit other work differently. A plan that is at rest stays as it is
when it is made again from the same facts.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from fleet.planning.assignment import Crews
from fleet.planning.prerequisites import brought_forward
from fleet.planning.reasons import Reasons
from fleet.planning.seasons import OpenDays
from fleet.planning.site_calls import CallKeys, SiteCall
from fleet.planning.staff import Staff
from fleet.planning.standing import VisitsByPerson, sites_that_differ
from fleet.planning.subjects import Subject
from fleet.planning.visits import NOT_TO_BE_PLACED, Ground, SiteCalls, SiteWork, calls_at
from fleet.planning.wishes import Wishes
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
"""Tasks by key, with the visits that held them."""
HeldVisits = Mapping[str, Sequence[tuple[Visit, Sequence[Task]]]]
"""Visits that stand whatever else is planned, with their tasks, by site."""


class Bundled:
    """The calls found for each site, most of all in the `rounds` before. They are the same again where the site has the
    same visits to start from."""

    def __init__(self, rounds: int = 1) -> None:
        self._found: dict[str, deque[tuple[Held, SiteCalls]]] = defaultdict(lambda: deque(maxlen=rounds))

    def get(self, site: str, before: Held) -> SiteCalls | None:
        return next((found for known, found in self._found[site] if known == before), None)

    def kept(self, site: str, before: Held, found: SiteCalls) -> SiteCalls:
        self._found[site].append((before, found))
        return found


@dataclass(frozen=True, slots=True)
class Standing:
    """Visits that stay, by technician and day, the keys of the whole plan before, what is wanting there, and
    the calls found for other sites on the same tasks."""

    by_person: VisitsByPerson = field(default_factory=dict)
    keys: Container[str] = frozenset()
    wishes: Wishes = field(default_factory=Wishes)
    bundled: Bundled = field(default_factory=Bundled)


@dataclass(frozen=True, slots=True)
class PlannedVisits:
    """`tasks` with the keys of their visits. `restless` are the sites that would be planned otherwise next time, and
    `tempted` those of what stands that might now be planned otherwise."""

    tasks: list[Task]
    visits: list[Visit]
    unplaced: list[Unplaced]
    restless: Collection[str]
    tempted: Collection[str]


def planned_visits(
    tasks: Sequence[Task],
    fleet: Fleet,
    catalogue: Catalogue,
    subjects: Mapping[str, Subject],
    closures: Mapping[str, Sequence[Closure]],
    previous: Plan | None,
    today: date,
    frozen_before: date | None = None,
    agreed: Collection[str] = (),
    standing: Standing | None = None,
) -> PlannedVisits:
    """The tasks with their visits, the visits, and the visitors' tasks that none holds.

    Visits of the plan before on days before `frozen_before` stand with their day, hour and people, whatever the news.
    Those whose keys are `agreed` keep their day and their technician before any other does. `standing` is what is
    planned at sites that none of the tasks is about, and stays.
    """
    standing = standing or Standing()
    checklists: dict[str, list[Task]] = defaultdict(list)
    at_sites: dict[str, list[Task]] = defaultdict(list)
    homeless: list[Unplaced] = []
    for task in tasks:
        if task.performed_by is not PerformedBy.VISITOR:
            checklists[task.site or ""].append(task)
        elif task.site is None:
            words = f"{task.title} on {task.subject}: it belongs to no site; do it where it is kept."
            homeless.append(Unplaced(task.key, "NO_SITE", words))
        else:
            at_sites[task.site].append(task)
    before = () if previous is None else previous.visits
    by_key = {task.key: task for task in tasks}
    held = _held(before, by_key, today, frozen_before)
    held_keys = {task.key for some in held.values() for _, their in some for task in their}
    by_site = {site: [task for task in some if task.key not in held_keys] for site, some in sorted(at_sites.items())}
    ground = _ground(fleet, catalogue, subjects, closures, at_sites, today)
    visits = tuple(visit for visit in before if frozen_before is None or visit.day >= frozen_before)
    taken = {*by_key, *(visit.key for visit in before)}
    known: Mapping[str, Task] = {} if previous is None else previous.task_by_key
    frozen = [visit for some in held.values() for visit, _ in some]
    restless, unsettled = set[str](), set[str]()
    for _ in range(MOST_ROUNDS):
        work = _Round(fleet, by_site, checklists, held, ground, visits, known, agreed, taken, standing)
        made, changed, missed, unsettled = work.run()
        restless = sites_that_differ(visits, made)
        visits = tuple(made)
        visit_of = {key: visit for visit in (*visits, *frozen) for key in visit.tasks}
        as_planned = {key: _as_planned(by_key[key], task, visit_of.get(key), today) for key, task in changed.items()}
        known = {**by_key, **as_planned}
        if not restless:
            break
    planned = [replace(task, visit=visit_of[task.key].key) if task.key in visit_of else task for task in known.values()]
    every = sorted((*visits, *frozen), key=lambda visit: (visit.day, visit.site, visit.key))
    unplaced = sorted([*homeless, *missed], key=lambda one: one.key)
    return PlannedVisits(planned, every, unplaced, restless | unsettled, standing.wishes.tempted)


def _ground(
    fleet: Fleet,
    catalogue: Catalogue,
    subjects: Mapping[str, Subject],
    closures: Mapping[str, Sequence[Closure]],
    by_site: Mapping[str, Sequence[Task]],
    today: date,
) -> Ground:
    open_days = {
        code: OpenDays(
            fleet.site_by_code[code],
            closures.get(code, ()),
            today,
            max(today, *(task.latest for task in some)) + timedelta(days=LOOK_AHEAD_FOR_OPEN_DAYS),
        )
        for code, some in sorted(by_site.items())
    }
    staff = Staff(fleet.technicians, fleet.absences, fleet.site_by_code, open_days, today)
    reasons = Reasons(staff, fleet.site_by_code, open_days)
    workplace = Workplace(catalogue.rule_by_id, subjects, fleet.tank_by_code)
    return Ground(staff, open_days, reasons, workplace, today)


def _held(visits: Sequence[Visit], tasks: Mapping[str, Task], today: date, frozen_before: date | None) -> HeldVisits:
    """The visits that are frozen, with those of their tasks that are still to be done; none without any."""
    held: dict[str, list[tuple[Visit, Sequence[Task]]]] = defaultdict(list)
    for visit in visits if frozen_before is not None else ():
        if frozen_before is None or not today <= visit.day < frozen_before:
            continue
        found = (tasks.get(key) for key in visit.tasks)
        left = [
            task
            for task in found
            if task is not None
            and task.performed_by is PerformedBy.VISITOR
            and task.site == visit.site
            and task.state not in NOT_TO_BE_PLACED
        ]
        if left:
            minutes = sum(task.minutes for task in left)
            still = replace(
                visit,
                end=visit.start + timedelta(minutes=minutes),
                minutes=minutes,
                tasks=tuple(task.key for task in left),
                persons=max(task.persons for task in left),
            )
            held[visit.site].append((still, left))
    return held


@dataclass(frozen=True, slots=True)
class _Round:
    fleet: Fleet
    by_site: Mapping[str, Sequence[Task]]
    checklists: Mapping[str, Sequence[Task]]
    held: HeldVisits
    ground: Ground
    visits: Sequence[Visit]
    known: Mapping[str, Task]
    agreed: Collection[str]
    taken: Collection[str]
    standing: Standing

    def run(self) -> tuple[list[Visit], dict[str, Task], list[Unplaced], set[str]]:
        """Bundles the visitors' tasks of each site and finds people and hours for the calls: the visits, the tasks that
        bundling changed, those that no visit holds, and the sites of visits that have not the place they ask for."""
        ground, sites = self.ground, self.fleet.site_by_code
        crews = Crews(
            ground.staff, sites, ground.workplace, ground.today, self.standing.by_person, self.standing.wishes
        )
        for some in self.held.values():
            for visit, tasks in some:
                crews.hold(visit, tasks)
        before = {key: (self.known[key], visit) for visit in self.visits for key in visit.tasks if key in self.known}
        calls: list[SiteCall] = []
        changed: dict[str, Task] = {}
        missed: list[Unplaced] = []
        for code, tasks in self.by_site.items():
            of_site = {task.key: before[task.key] for task in tasks if task.key in before}
            found = self.standing.bundled.get(code, of_site)
            if found is None:
                work = SiteWork(code, tasks, self.checklists.get(code, ()), self.held.get(code, ()), of_site)
                found = self.standing.bundled.kept(code, of_site, calls_at(work, ground))
            calls.extend(found.calls)
            missed.extend(found.unplaced)
            changed.update(found.changed)
        keys = CallKeys(self.visits, self.taken, self.standing.keys)
        visits, left = crews.assign(
            keys.for_calls(calls), {visit.key: visit for visit in self.visits}, self.agreed, keys
        )
        for call in left:
            missed.append(ground.reasons.why(call.tasks[0], call.site, max(call.first, ground.today), call.last))
        return visits, changed, missed, crews.unsettled


def _as_planned(task: Task, changed: Task, visit: Visit | None, today: date) -> Task:
    """The task as bundling left it; its window is opened no more than its visit asks for, and without one not at all,
    save on the site staff's list."""
    if visit is None:
        return task if task.performed_by is PerformedBy.VISITOR else changed
    if task.latest < visit.day <= changed.latest:
        return replace(task, latest=visit.day)
    return brought_forward(task, visit.day, today) if visit.day < task.earliest else task
