"""The order in which the tasks of one site are worked, and which of them come before which."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fleet.planning.subjects import Subject
from fleet.values.catalogue import TaskRule
from fleet.values.plan import Task
from fleet.values.register import Tank
from fleet.values.vocabulary import EquipmentKind, Health

PROTECTION_TESTS_FROM = 90
"""Tests of electrical protection come last, so that everything is seen to start again before leaving."""
HEALTH_ORDER = {None: 0, Health.CLEAN: 0, Health.UNKNOWN: 1, Health.QUARANTINE: 2, Health.SICK: 3}


@dataclass(frozen=True, slots=True)
class Workplace:
    """What the order of work at one site depends on."""

    rules: Mapping[str, TaskRule]
    subjects: Mapping[str, Subject]
    tanks: Mapping[str, Tank]

    def rank(self, task: Task) -> tuple[bool, bool, int, str, int, str]:
        """Healthy systems before sick ones, one tank after the other, dry work first; the kit is disinfected after
        the last of them, and electrical protection is tested at the very end."""
        subject = self.subjects.get(task.subject)
        tanks = () if subject is None else subject.tanks
        health = max((HEALTH_ORDER[self.tanks[code].health] for code in tanks if code in self.tanks), default=0)
        kit = subject is not None and subject.equipment_kind is EquipmentKind.FIELD_KIT
        return (task.order >= PROTECTION_TESTS_FROM, kit, health, task.tank or "", task.order, task.key)

    def needs_first(self, task: Task, other: Task) -> bool:
        """Whether `other` is a prerequisite of `task`: its rule is, and it is on the same subject or tank, or on
        something of the site's own. Work on one device waits for no work on another."""
        rule = self.rules.get(task.rule)
        if rule is None or other.rule not in rule.prerequisites:
            return False
        if task.device is not None and other.device is not None:
            return other.device == task.device
        return other.subject == task.subject or other.tank is None or other.tank == task.tank

    def any_needed(self, tasks: Iterable[Task], others: Sequence[Task]) -> bool:
        """Whether one of `others` is a prerequisite of one of `tasks`."""
        by_rule: dict[str, list[Task]] = defaultdict(list)
        for other in others:
            by_rule[other.rule].append(other)
        return any(
            self.needs_first(task, other)
            for task in tasks
            if task.rule in self.rules
            for name in self.rules[task.rule].prerequisites
            for other in by_rule.get(name, ())
        )

    def in_order(self, tasks: Iterable[Task]) -> tuple[Task, ...]:
        """The tasks of one call in working order, each after its prerequisites."""
        ranked = sorted(tasks, key=self.rank)
        by_rule: dict[str, list[Task]] = defaultdict(list)
        for task in ranked:
            by_rule[task.rule].append(task)
        begun: set[str] = set()
        order: list[Task] = []
        for task in ranked:
            self._place(task, by_rule, begun, order)
        return tuple(order)

    def _place(self, task: Task, by_rule: Mapping[str, Sequence[Task]], begun: set[str], order: list[Task]) -> None:
        """Puts the task at the end of the order, after those of its prerequisites that are not in it yet."""
        # A function of its own, not one inside the other: that would be a cycle left to the collector for every call.
        if task.key in begun:
            return
        begun.add(task.key)
        rule = self.rules.get(task.rule)
        for name in () if rule is None else rule.prerequisites:
            for other in by_rule.get(name, ()):
                if self.needs_first(task, other):
                    self._place(other, by_rule, begun, order)
        order.append(task)
