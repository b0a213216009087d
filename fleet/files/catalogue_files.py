"""The catalogue of service tasks as a folder of TOML files, written and changed by people who are no programmers."""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from fleet import resources
from fleet.errors import BadInput, CellError
from fleet.files.catalogue_fields import (
    Table,
    named,
    number,
    one_of,
    pair,
    shown,
    slug,
    whole,
    words,
    yes_or_no,
)
from fleet.files.catalogue_tasks import BASES, read_task
from fleet.files.cells import nearest
from fleet.values.catalogue import AnimalClass, Catalogue, Hazard, StopRule, TaskRule
from fleet.values.vocabulary import ContactRole, EventKind

T = TypeVar("T")

HAZARDS, ANIMALS, STOP_RULES = "hazards.toml", "animal_classes.toml", "stop_rules.toml"
OTHER_FILES = (HAZARDS, ANIMALS, STOP_RULES)
"""Files of the folder that hold no tasks; every other .toml file does."""

TEMPERATURE = number(-5, 50)

LETHAL_MARGIN_K = 2.0
"""How far an act limit stands inside a lethal figure at least: common practice."""


def read_catalogue(folder: Path | None = None) -> Catalogue:
    """The catalogue in `folder`, the one that ships with the program by default. Rules are sorted by id.

    Raises BadInput with one CellError for every mistake: file, line, table and field, value, what was expected.
    """
    reading = _Reading(resources.catalogue() if folder is None else folder)
    catalogue = reading.catalogue()
    if reading.errors:
        # Only mistakes need it, and it brings the whole reading of registers with it.
        from fleet.files.register_files import bad_input

        raise bad_input(reading.errors)
    return catalogue


class _Reading:
    """Takes the files in one after the other and keeps every mistake."""

    def __init__(self, folder: Path) -> None:
        if not folder.is_dir():
            raise BadInput(f"{folder}: expected the folder of a catalogue")
        self.folder = folder
        self.errors: list[CellError] = []
        self.texts: dict[str, str] = {}
        self.unread: set[str] = set()
        self.file_of_task: dict[str, str] = {}
        self.hazard_codes: set[str] = set()

    def catalogue(self) -> Catalogue:
        rules = self._rules()
        hazards, closing = self._hazards()
        classes = self._rows(ANIMALS, self._load(ANIMALS), _animal_class)
        stop_rules = self._stop_rules()
        if not self.unread:
            self._check_references(rules, stop_rules)
        self._check_prerequisites(rules)
        self._check_aliases(classes)
        return Catalogue(
            rules=tuple(sorted(rules, key=lambda rule: rule.id)),
            hazards=tuple(hazards),
            animal_classes=tuple(classes),
            stop_rules=tuple(sorted(stop_rules, key=lambda row: row.number)),
            hazard_closing=closing,
        )

    def _refuse(self, file: str, row: int, column: str, value: object, expected: str) -> None:
        self.errors.append(CellError(file, row, column, shown(value), expected))

    def _load(self, file: str) -> dict[str, Any]:
        """The file's tables; empty, with the mistake kept, when it is not there or no TOML."""
        self.unread.add(file)
        try:
            self.texts[file] = (self.folder / file).read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
        except FileNotFoundError:
            self._refuse(file, 0, "", file, f"this file in {self.folder}")
            return {}
        except UnicodeDecodeError:
            self._refuse(file, 0, "", file, "a text file saved as UTF-8")
            return {}
        except OSError as failure:
            self._refuse(file, 0, "", file, f"a file that can be read ({failure.strerror})")
            return {}
        try:
            tables = tomllib.loads(self.texts[file])
        except tomllib.TOMLDecodeError as failure:
            place = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", str(failure))
            lines = self.texts[file].splitlines() or [""]
            line = int(place[1]) if place and place[1] else len(lines)
            reason = re.sub(r"\s*\(at .*\)$", "", str(failure))
            self._refuse(file, line, "", lines[min(line, len(lines)) - 1].strip(), f"TOML that can be read ({reason})")
            return {}
        self.unread.discard(file)
        return tables

    def _table(self, file: str, name: str, values: Mapping[str, Any]) -> Table:
        return Table(file, f"[{name}]", values, self.errors, self.texts[file], f"[{name}]")

    def _rows(self, file: str, tables: Mapping[str, Any], read: Callable[[str, Table], T | None]) -> list[T]:
        rows = []
        for name, values in tables.items():
            if not isinstance(values, dict):
                self._refuse(file, 0, name, values, "only tables, each under a name in square brackets")
                continue
            row = read(name, self._table(file, name, values))
            if row is not None:
                rows.append(row)
        return rows

    def _rules(self) -> list[TaskRule]:
        files = sorted(entry.name for entry in self.folder.glob("*.toml") if entry.name not in OTHER_FILES)
        if not files:
            self._refuse(str(self.folder), 0, "", "", "files of tasks such as chiller.toml in it")
        rules: list[TaskRule] = []
        for file in files:
            tables = self._load(file)
            for task_id in list(tables):
                if task_id in self.file_of_task:
                    first = self.file_of_task[task_id]
                    self._refuse(file, 0, f"[{task_id}]", task_id, f"each task only once; it stands in {first} too")
                    del tables[task_id]
                else:
                    self.file_of_task[task_id] = file
            rules += self._rows(file, tables, read_task)
        return rules

    def _hazards(self) -> tuple[list[Hazard], str]:
        tables = self._load(HAZARDS)
        closing = tables.pop("closing", None)
        if HAZARDS not in self.unread and not (isinstance(closing, str) and closing.strip()):
            self._refuse(HAZARDS, 0, "closing", closing or "", "the sentence that ends every list of cautions")
            closing = ""
        self.hazard_codes.update(tables)
        return self._rows(HAZARDS, tables, _hazard), closing or ""

    def _stop_rules(self) -> list[StopRule]:
        tables = self._load(STOP_RULES)
        rows = tables.get("stop_rule", [])
        if tables and (set(tables) != {"stop_rule"} or not isinstance(rows, list)):
            self._refuse(STOP_RULES, 0, "", ", ".join(tables), "only tables that begin with [[stop_rule]]")
            return []
        found: list[StopRule] = []
        for place, values in enumerate(rows, start=1):
            row = _stop_rule(Table(STOP_RULES, f"stop_rule {place}", values, self.errors))
            if row is None:
                continue
            if any(row.number == other.number for other in found):
                self._refuse(STOP_RULES, 0, f"stop_rule {place} number", row.number, "each number only once")
            found.append(row)
        return found

    def _check_references(self, rules: Iterable[TaskRule], stop_rules: Iterable[StopRule]) -> None:
        """A name counts as known even where its own table has a mistake, so that one mistake is told once."""
        for rule in rules:
            table = self._table(self.file_of_task[rule.id], rule.id, {})
            for name, codes in (
                ("prerequisites", rule.prerequisites),
                ("pairs", rule.pairs),
                ("events", tuple(task for trigger in rule.events for task in trigger.tasks)),
                ("conditions", tuple(task for one in rule.conditions for task in (*one.restored_by, *one.soon_after))),
            ):
                for code in codes:
                    if code not in self.file_of_task:
                        table.refuse(name, code, f"the id of a task{nearest(code, self.file_of_task)}")
            for code in rule.hazards:
                if code not in self.hazard_codes:
                    table.refuse("hazards", code, f"a code out of {HAZARDS}{nearest(code, self.hazard_codes)}")
        for row in stop_rules:
            table = Table(STOP_RULES, f"stop_rule number {row.number}", {}, self.errors)
            for code in row.tasks:
                if code not in self.file_of_task:
                    table.refuse("tasks", code, f"the id of a task{nearest(code, self.file_of_task)}")
            for code in row.hazards:
                if code not in self.hazard_codes:
                    table.refuse("hazards", code, f"a code out of {HAZARDS}{nearest(code, self.hazard_codes)}")

    def _check_prerequisites(self, rules: Iterable[TaskRule]) -> None:
        """Refuses tasks that wait for each other in a ring."""
        waits_for = {rule.id: rule.prerequisites for rule in rules}
        settled: set[str] = set()

        def ring(task_id: str, path: tuple[str, ...]) -> tuple[str, ...] | None:
            if task_id in path:
                return (*path[path.index(task_id) :], task_id)
            if task_id in settled:
                return None
            for earlier in waits_for.get(task_id, ()):
                found = ring(earlier, (*path, task_id))
                if found:
                    return found
            settled.add(task_id)
            return None

        for task_id in waits_for:
            found = ring(task_id, ())
            if found:
                table = self._table(self.file_of_task[task_id], task_id, {})
                table.refuse("prerequisites", " > ".join(found), "tasks that do not wait for each other")
                return

    def _check_aliases(self, classes: Iterable[AnimalClass]) -> None:
        owner: dict[str, str] = {}
        for row in classes:
            for word in (row.code, *row.aliases):
                if word in owner:
                    table = self._table(ANIMALS, row.code, {})
                    table.refuse("aliases", word, f"a word of its own; it stands for {owner[word]} already")
                owner.setdefault(word, row.code)


def _hazard(code: str, table: Table) -> Hazard | None:
    before = len(table.errors)
    row = Hazard(
        code=code,
        title=table.take("title", words),
        text=table.take("text", words),
        basis=table.take("basis", named(BASES, "one of " + ", ".join(BASES))),
        source=table.take("source", words),
    )
    table.refuse_unknown()
    return row if len(table.errors) == before else None


def _animal_class(code: str, table: Table) -> AnimalClass | None:
    before = len(table.errors)
    target = table.take("target", pair)
    ends: dict[str, float | None] = {}
    for name in ("watch", "act"):
        low, high = table.take_if(name, pair) or (None, None)
        for side, end in (("low", low), ("high", high)):
            field = f"{name}_{side}"
            if field in table.values and end is not None:
                table.refuse(field, table.values[field], f"either {name} or {field}")
            own_end = table.take_if(field, TEMPERATURE)
            ends[field] = own_end if end is None else end
    row = AnimalClass(
        code=code,
        name=table.take("name", words),
        aliases=table.take_all("aliases", slug),
        target_low_c=target[0] if target else 0.0,
        target_high_c=target[1] if target else 0.0,
        watch_low_c=ends["watch_low"],
        watch_high_c=ends["watch_high"],
        act_low_c=ends["act_low"],
        act_high_c=ends["act_high"],
        lethal_low_c=table.take_if("lethal_low", TEMPERATURE),
        lethal_high_c=table.take_if("lethal_high", TEMPERATURE),
        invertebrate=table.take("invertebrate", yes_or_no, False),
        evidence=table.take("evidence", words),
    )
    table.refuse_unknown()
    if len(table.errors) == before:
        _check_bands(row, table)
    return row if len(table.errors) == before else None


def _check_bands(row: AnimalClass, table: Table) -> None:
    """Target inside watch, watch inside act, act well inside what is known to kill."""
    below = (("act_low", row.act_low_c), ("watch_low", row.watch_low_c), ("target", row.target_low_c))
    above = (("target", row.target_high_c), ("watch_high", row.watch_high_c), ("act_high", row.act_high_c))
    for ladder in (below, above):
        known = [(name, end) for name, end in ladder if end is not None]
        for (lower, low), (upper, high) in itertools.pairwise(known):
            if low > high:
                table.refuse(lower, f"{low:g}", f"no more than {upper} ({high:g})")
    for name, act, lethal, sign in (
        ("act_low", row.act_low_c, row.lethal_low_c, 1),
        ("act_high", row.act_high_c, row.lethal_high_c, -1),
    ):
        if act is not None and lethal is not None and sign * (act - lethal) < LETHAL_MARGIN_K:
            limit = lethal + sign * LETHAL_MARGIN_K
            table.refuse(name, f"{act:g}", f"{limit:g} or further inside, {LETHAL_MARGIN_K:g} K from lethal {lethal:g}")


def _stop_rule(table: Table) -> StopRule | None:
    before = len(table.errors)
    row = StopRule(
        number=table.take("number", whole(1, 999)),
        sign=table.take("sign", words),
        action=table.take("action", words),
        call=table.take("call", words),
        roles=tuple(map(str, table.take_all("roles", one_of(ContactRole), required=True))),
        hazards=table.take_all("hazards", words),
        tasks=table.take_all("tasks", slug),
        events=table.take_all("events", one_of(EventKind)),
    )
    table.refuse_unknown()
    if len(table.errors) == before and not (row.hazards or row.tasks):
        table.refuse("tasks", "", "hazards or tasks: where the rule is printed")
    return row if len(table.errors) == before else None
