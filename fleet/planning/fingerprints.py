"""Fingerprints by which a part of a fleet whose plan would come out the same is known again."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from fleet.planning.parts import Part, digest
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.overrides import RuleOverride
from fleet.values.plan import Task
from fleet.values.register import Site
from fleet.values.vocabulary import TaskState

DECIDED = frozenset(
    {TaskState.PUT_OFF, TaskState.HALTED, TaskState.WITHDRAWN, TaskState.NOT_APPLICABLE, TaskState.DONE}
)
"""States that a person gives to a task of a plan, and that the next plan starts from."""
DEGREES_IN_REACH = 2.8
"""More degrees of latitude than anybody is sent: 310 km. How far away by longitude is not asked."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What holds for every part of one plan."""

    fleet: Fleet
    catalogue: Catalogue
    overrides: tuple[RuleOverride, ...]
    today: date
    through: date
    frozen_before: date | None
    agreed: Collection[str]


class Fingerprints:
    """Those of the parts of one plan: the same for the same facts on the same day, in any run and on any machine."""

    def __init__(self, setting: Setting) -> None:
        days = (str(setting.today), str(setting.through))
        self._context = digest(repr(setting.catalogue), *days, str(bool(setting.fleet.technicians)))
        self._own: dict[str, list[str]] = defaultdict(list)
        for one in setting.overrides:
            self._own[one.scope].append(repr(one))
        self._staff = _Staff(setting.fleet)
        self._sites = setting.fleet.site_by_code

    def of_facts(self, part: Part) -> str:
        """Everything but the plan before."""
        sites = [self._sites[code] for code in part.sites]
        scopes = {"", *part.codes, *(site.client for site in sites)}
        own = sorted(text for scope in scopes & self._own.keys() for text in self._own[scope])
        return digest(self._context, part.facts(), *own, *(self._staff.near(site) for site in sites))

    def whole(self, facts: str, tasks: Iterable[Task], has_unplaced: bool) -> str:
        """`facts` with what people decided about some of the part's tasks. Why a task is in no visit is told of
        everybody, however far away."""
        decided = sorted(
            f"{task.key} {task.state} {task.due} {task.earliest} {task.latest}"
            for task in tasks
            if task.state in DECIDED
        )
        return digest(facts, *decided, self._staff.everybody if has_unplaced else "")


class _Staff:
    """Digests of the technicians and of their absences."""

    def __init__(self, fleet: Fleet) -> None:
        absent: dict[str, list[str]] = defaultdict(list)
        for absence in fleet.absences:
            absent[absence.technician].append(repr(absence))
        told = [(one, digest(repr(one), *absent[one.code])) for one in fleet.technicians]
        known = [(one.base_latitude, one.base_longitude, text) for one, text in told]
        placed = sorted((north, text) for north, east, text in known if north is not None and east is not None)
        anywhere = [text for north, east, text in known if north is None or east is None]
        self.everybody = digest(*sorted(text for _, text in told))
        self._latitudes = [latitude for latitude, _ in placed]
        self._told, self._anywhere = [text for _, text in placed], digest(*sorted(anywhere))
        self._found: dict[tuple[int, int], str] = {}

    def near(self, site: Site) -> str:
        """Of everybody who may be in reach of the site."""
        if site.latitude is None or site.longitude is None:
            return self.everybody
        between = (
            bisect_left(self._latitudes, site.latitude - DEGREES_IN_REACH),
            bisect_right(self._latitudes, site.latitude + DEGREES_IN_REACH),
        )
        if between not in self._found:
            self._found[between] = digest(self._anywhere, *self._told[slice(*between)])
        return self._found[between]
