"""What cells typed or imported are read against: codes and time zones on record, and the words of the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleet.files.catalogue_files import read_catalogue
from fleet.files.rows import WordList, Words
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import snapshot
from fleet.values.register import RegisterRows
from fleet.values.vocabulary import SubjectKind


@dataclass(frozen=True, slots=True)
class CellContext:
    """`known` is what each code on record stands for, `time_zones` the zone of each that belongs to a site."""

    known: Mapping[str, SubjectKind]
    time_zones: Mapping[str, str]
    words: Words


def context_of(rows: RegisterRows) -> CellContext:
    """The context that the rows on record make, together with the catalogue."""
    fleet = snapshot(rows, date.max)
    sites = {code: fleet.site_of(code) for code in fleet.kind_by_code}
    zones = {code: fleet.site_by_code[site].time_zone for code, site in sites.items() if site in fleet.site_by_code}
    return CellContext(fleet.kind_by_code, zones, words_of(read_catalogue()))


def words_of(catalogue: Catalogue) -> Words:
    """Animal classes (by code and by alias) and task ids, for the columns that hold them."""
    classes = tuple(sorted(row.code for row in catalogue.animal_classes))
    return {
        ("animals", "class"): WordList(frozenset(catalogue.class_by_code), f"one of {', '.join(classes)}"),
        ("history", "task"): WordList(
            frozenset(catalogue.rule_by_id), "the id of a service task; `fleet show rules` lists them"
        ),
    }
