"""How the tasks of a visit are gathered on its sheet: the same work on several subjects once, in working order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from fleet.values.plan import Task


@dataclass(frozen=True, slots=True)
class Stretch:
    """Tasks on one or more tanks ("" for the site as a whole), as groups that each hold one kind of work."""

    tanks: tuple[str, ...]
    groups: tuple[tuple[Task, ...], ...]

    @property
    def tasks(self) -> Iterable[Task]:
        """All of them, in the order of the sheet."""
        return (task for group in self.groups for task in group)


def stretches(tasks: Sequence[Task], kit: Callable[[str], object]) -> tuple[Stretch, ...]:
    """The tasks, given in working order, as stretches.

    Tanks that share a kind of work come together, unless `kit` (the health of a tank) differs or a tank comes again
    after other work. The order of the tasks on any one tank is never changed.
    """
    return tuple(stretch for phase in _phases(tasks, kit) for stretch in _of_phase(phase))


def _phases(tasks: Sequence[Task], kit: Callable[[str], object]) -> list[list[Task]]:
    phases: list[list[Task]] = []
    left: set[str] = set()
    for task in tasks:
        code = task.tank or ""
        before = phases[-1][-1].tank or "" if phases else None
        if before is None or (code != before and (code in left or not code or not before or kit(code) != kit(before))):
            phases.append([])
            left = set()
        elif code != before:
            left.add(before)
        phases[-1].append(task)
    return phases


def _of_phase(tasks: Sequence[Task]) -> list[Stretch]:
    queues: dict[str, list[Task]] = {}
    for task in tasks:
        queues.setdefault(task.tank or "", []).append(task)
    left, found = list(queues), []
    while left:
        together = [left.pop(0)]
        rules = {task.rule for task in queues[together[0]]}
        while True:
            joined = [code for code in left if rules & {task.rule for task in queues[code]}]
            if not joined:
                break
            for code in joined:
                left.remove(code)
                rules |= {task.rule for task in queues[code]}
            together += joined
        together.sort(key=list(queues).index)
        found.append(Stretch(tuple(together), _merged([queues[code] for code in together])))
    return found


def _merged(queues: list[list[Task]]) -> tuple[tuple[Task, ...], ...]:
    """Takes from the heads of the queues the kind of work that comes first, wherever it stands at the head."""
    waiting = [list(queue) for queue in queues]
    groups = []
    while any(waiting):
        heads = [queue[0] for queue in waiting if queue]
        rule = min(heads, key=lambda task: task.order).rule
        group = []
        for queue in waiting:
            while queue and queue[0].rule == rule:
                group.append(queue.pop(0))
        groups.append(tuple(group))
    return tuple(groups)
