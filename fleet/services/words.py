"""The words of the catalogue that a register may use."""

from __future__ import annotations

from fleet.files.rows import WordList, Words
from fleet.values.catalogue import Catalogue


def words_of(catalogue: Catalogue) -> Words:
    """Animal classes (by code and by alias) and task ids, for the columns that hold them."""
    classes = tuple(sorted(row.code for row in catalogue.animal_classes))
    return {
        ("animals", "class"): WordList(frozenset(catalogue.class_by_code), f"one of {', '.join(classes)}"),
        ("history", "task"): WordList(
            frozenset(catalogue.rule_by_id), "the id of a service task; `fleet show rules` lists them"
        ),
    }
