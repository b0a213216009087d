"""Plans the parts of a fleet for which there is news, and lets the others stand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date

from fleet.planning.differences import plan_changes
from fleet.planning.fingerprints import DECIDED, Fingerprints, Setting
from fleet.planning.keys import KeyBook
from fleet.planning.own_rules import OwnRules
from fleet.planning.part_tasks import PartTasks, by_occurrence, closures_by_site, tasks_of
from fleet.planning.parts import Part
from fleet.planning.standing import Split, by_person, merged, sites_on_mixed_days, split
from fleet.planning.subjects import Subject, rules_not_on_record
from fleet.planning.visit_news import VisitNews
from fleet.planning.visit_rounds import MOST_ROUNDS, Bundled, PlannedVisits, Standing, planned_visits
from fleet.planning.wishes import Wishes, wishes_of
from fleet.values.plan import Plan, Task, Unplaced, Visit


class Replanning:
    """One plan in the making. Raises BadInput or NotAllowed for overrides that nobody may set."""

    def __init__(self, setting: Setting, previous: Plan | None, parts: Sequence[Part]) -> None:
        self._setting, self._previous, self._parts = setting, previous, parts
        self._own_rules = OwnRules(setting.overrides, setting.catalogue)
        self._part_of = {code: part.name for part in parts for code in part.codes}
        self._prints = Fingerprints(setting)
        self._facts = {part.name: self._prints.of_facts(part) for part in parts}
        self._found: dict[str, PartTasks] = {}
        tasks, visits = ((), ()) if previous is None else (previous.tasks, previous.visits)
        self._taken = {*(task.key for task in tasks), *(visit.key for visit in visits)}
        self._book = KeyBook(besides=self._taken)
        self._bundled = Bundled()

    def plan(self) -> Plan:
        standing = self._unchanged()
        if standing:
            self._bundled = Bundled(rounds=MOST_ROUNDS)
        while True:
            before = self._split(standing)
            planned = self._planned(standing, before)
            tempted = {self._part_of[site] for site in planned.tempted}
            if not tempted:
                return self._whole(standing, before, planned)
            standing -= tempted

    def _unchanged(self) -> set[str]:
        """Names of the parts that have the fingerprint they had. With frozen days all of them are planned again."""
        previous = self._previous
        if previous is None or not previous.fingerprints or self._setting.frozen_before is not None:
            return set()
        facts = self._with_decisions(self._facts, previous.tasks, previous.unplaced)
        return {name for name, text in facts.items() if previous.fingerprints.get(name) == text}

    def _with_decisions(
        self, facts: Mapping[str, str], tasks: Collection[Task], unplaced: Iterable[Unplaced]
    ) -> dict[str, str]:
        """The fingerprints of parts with such tasks in their plan."""
        missed = {one.key for one in unplaced}
        decided: dict[str, list[Task]] = defaultdict(list)
        for task in [task for task in tasks if task.state in DECIDED]:
            decided[self._part_of.get(task.subject, "")].append(task)
        lacking = {self._part_of.get(task.subject, "") for task in tasks if task.key in missed}
        return {name: self._prints.whole(text, decided[name], name in lacking) for name, text in facts.items()}

    def _split(self, standing: Collection[str]) -> Split:
        parts = [part for part in self._parts if part.name in standing]
        codes = {code for part in parts for code in part.codes}
        return split(self._previous, codes, {site for part in parts for site in part.sites})

    def _planned(self, standing: Collection[str], before: Split) -> PlannedVisits:
        of = self._setting
        known = by_occurrence(before.open.tasks if before.open is not None else ())
        tasks: list[Task] = []
        subjects: dict[str, Subject] = {}
        for part in self._parts:
            if part.name in standing:
                continue
            if part.name not in self._found:
                self._found[part.name] = tasks_of(
                    part, of.catalogue, self._own_rules, known, self._book, of.today, of.through
                )
            tasks += self._found[part.name].tasks
            subjects |= self._found[part.name].subjects.by_code
        closures, sites = closures_by_site(of.fleet), of.fleet.site_by_code
        wishes = Wishes(wishes_of(before.tasks, before.visits, before.unplaced, sites), sites, closures)
        return planned_visits(
            tasks,
            of.fleet,
            of.catalogue,
            subjects,
            closures,
            before.open,
            of.today,
            of.frozen_before,
            of.agreed,
            Standing(by_person(before.visits), self._taken, wishes, self._bundled),
        )

    def _whole(self, standing: Collection[str], before: Split, planned: PlannedVisits) -> Plan:
        of, catalogue = self._setting, self._setting.catalogue
        new = sorted(planned.tasks, key=_task_order)
        done: dict[tuple[str, str], Sequence[date]] = {}
        joined: dict[str, str] = {}
        not_on_record: dict[str, tuple[str, ...]] = {}
        for part in self._parts:
            if part.name in standing:
                known = self._previous.not_on_record if self._previous is not None else {}
                not_on_record |= {site: known[site] for site in part.sites}
                continue
            found = self._found[part.name]
            done |= found.done
            joined |= found.joined
            not_on_record |= rules_not_on_record(catalogue.rules, found.subjects)
        visits = tuple(sorted((*before.visits, *planned.visits), key=lambda visit: (visit.day, visit.site, visit.key)))
        changes = plan_changes(
            before.open,
            new,
            of.through,
            done,
            catalogue.rule_by_id.keys(),
            of.fleet.kind_by_code.keys(),
            joined,
            VisitNews(before.open, new, planned.visits, before.visits, of.fleet, of.today),
        )
        return Plan(
            of.today,
            of.through,
            merged(before.tasks, new, _task_order),
            visits,
            tuple(sorted((*before.unplaced, *planned.unplaced), key=lambda one: one.key)),
            changes,
            not_on_record,
            self._fingerprints(standing, planned, visits),
        )

    def _fingerprints(
        self, standing: Collection[str], planned: PlannedVisits, visits: Sequence[Visit]
    ) -> dict[str, str]:
        """None for a part that would be planned otherwise next time, and none for a plan with frozen days."""
        if self._setting.frozen_before is not None:
            return {}
        sites = self._setting.fleet.site_by_code
        restless = {self._part_of[site] for site in (*planned.restless, *sites_on_mixed_days(visits, sites))}
        facts = {name: text for name, text in self._facts.items() if name not in standing and name not in restless}
        made = self._with_decisions(facts, planned.tasks, planned.unplaced)
        known = self._previous.fingerprints if self._previous is not None else {}
        return {name: known[name] for name in standing if name not in restless} | made


def _task_order(task: Task) -> tuple[date, str, str]:
    return task.due, task.site or "", task.key
