"""What a new register holds, and what to do with it next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from fleet.outputs.columns import Row, in_columns
from fleet.outputs.words import count_words

SINGULARS = {"equipment": "piece of equipment", "duties": "duty", "animals": "group of animals", "history": "record"}
TOLD = ("clients", "sites", "rooms", "tanks", "devices", "technicians")


def started_text(counts: Mapping[str, int], tanks: Sequence[tuple[str, str]], database: str) -> str:
    """The counts of what was written, the codes of the tanks, and the next commands. `database` is where it went."""
    told = [
        count_words(counts[file], SINGULARS.get(file, file.removesuffix("s"))) for file in TOLD if counts.get(file)
    ]  # fmt: skip
    option = "" if database == "fleet.db" else f" --database {database}"
    rows: list[Row] = [
        [f"fleet margin{option}", "what each tank needs on the hot day, and what cools it"],
        [f"fleet plan --publish{option}", "the upkeep: tasks, visits, and the reasons"],
        [f"fleet due{option}", "what is to be done now"],
        [f"fleet sheets sheets{option}", "pages to print; begin with sheets/index.html"],
        [f"fleet show tank {tanks[0][0] if tanks else 'CODE'}{option}", "a card, with what was assumed"],
    ]
    named: list[Row] = [[code, name] for code, name in tanks]
    return "\n".join(
        [
            f"Written to {database}: {', '.join(told)}.",
            *in_columns(named, indent=2),
            "",
            "Next:",
            *in_columns(rows, indent=2, longest=120),
            "",
            "Not asked, and worth adding: animals, whom to call, work done before.",
            f"`fleet export register{option}` writes everything as files to edit;",
            f"`fleet import register{option}` takes them back, and changes only what you changed.",
        ]
    )


def example_text(folder: Path, files: int) -> str:
    """Where the example files are and how they become a register."""
    return "\n".join(
        [
            f"{count_words(files, 'file')} in {folder}: an example with invented names.",
            "",
            "Next:",
            *in_columns(
                [
                    [
                        "edit them",
                        "in any spreadsheet or editor; quantities keep their unit in the cell (75 gal, 78 F)",
                    ],
                    [f"fleet import {folder} --check", "tells every cell that cannot be taken, and writes nothing"],
                    [f"fleet import {folder}", "takes all of it or nothing"],
                ],
                indent=2,
                longest=120,
            ),
        ]
    )
