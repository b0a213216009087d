"""Each mistake that a person can make in a file of the catalogue is told in one clear line, and all of them at once.

Long because it is one table: the catalogue that is spoilt and every way to spoil it stand side by side.
"""

from __future__ import annotations

import contextlib
import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet import resources
from fleet.errors import BadInput
from fleet.files.catalogue_files import read_catalogue

TASKS = """\
[clean-screen]
title = "Clean the screen"
subject = "device"
device_kinds = ["chiller"]
interval = "1/4/8 weeks"
tolerance = "B"
shortened_by = ["dust"]
minutes = 10
skill = "keeper"
performed_by = "site-staff"
order = 10
steps = ["Unplug.", "Clean.", "Plug in."]
readings = [{ label = "Flow", unit = "m3/h", quantity = "flow", low = 1, high = 2 }]
consumables = [{ name = "soap", quantity = 10, unit = "mL" }]
acceptance = "Clean."
hazards = ["H1"]
basis = "common practice"
source = "Common practice."

[press-switch]
title = "Press the switch"
subject = "equipment"
equipment_kinds = ["gfci"]
interval = "2/4/5 weeks"
events = [{ event = "storm", within = "24 hours" }]
tolerance = "A0"
minutes = 3
skill = "keeper"
performed_by = "site-staff"
order = 98
steps = ["Press.", "Reset.", "Look."]
acceptance = "Trips."
prerequisites = ["clean-screen"]
basis = "common practice"
source = "Common practice."
"""

HAZARDS = """\
closing = "The plate comes first."
[H1]
title = "Mains"
text = "Unplug."
basis = "common practice"
source = "Common practice."
"""

ANIMALS = """\
[trout]
name = "Trout"
aliases = ["salmonids"]
target = [10, 15]
watch_high = 16.5
act_high = 18
lethal_high = 20
evidence = "Invented for this test."

[koi]
name = "Koi"
target = [16, 22]
watch = [10, 25]
act = [8.5, 28]
evidence = "Invented for this test."
"""

STOP_RULES = """\
[[stop_rule]]
number = 1
sign = "Smoke"
action = "Out."
call = "electrician"
roles = ["electrician"]
hazards = ["H1"]
tasks = ["press-switch"]
"""

FILES = {
    "tasks.toml": TASKS,
    "hazards.toml": HAZARDS,
    "animal_classes.toml": ANIMALS,
    "stop_rules.toml": STOP_RULES,
}


def write(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def told(folder: Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        read_catalogue(folder)
    assert [str(error) for error in caught.value.errors] == str(caught.value).splitlines()
    return str(caught.value).splitlines()


def test_the_small_catalogue_without_mistakes_is_read(tmp_path: Path) -> None:
    catalogue = read_catalogue(write(tmp_path, FILES))
    assert [rule.id for rule in catalogue.rules] == ["clean-screen", "press-switch"]
    interval = catalogue.rules[0].interval
    assert interval is not None
    assert (str(interval.minimum), str(interval.typical), str(interval.maximum)) == ("1 week", "4 weeks", "8 weeks")
    assert [factor.multiplier for factor in catalogue.rules[0].factors] == [0.7]
    assert catalogue.class_by_code["salmonids"].act_high_c == 18


CONDITION = 'order = 10\nconditions = [{ quantity = "flow", below = 85, within = "14 days", words = "falling"'

MISTAKES = [
    (
        "an unknown field",
        "tasks.toml",
        ("minutes = 10", "minuts = 10"),
        [
            "tasks.toml row 1, [clean-screen] minutes: '': expected a value: this field has to be there",
            "tasks.toml row 8, [clean-screen] minuts: '10': expected one of the fields",
        ],
    ),
    (
        "interval the wrong way round",
        "tasks.toml",
        ("1/4/8 weeks", "8/4/1 weeks"),
        [
            "tasks.toml row 5, [clean-screen] interval: '8/4/1 weeks': expected the shortest first, then the usual, "
            "then the longest, none of them 0"
        ],
    ),
    (
        "interval without a unit",
        "tasks.toml",
        ("1/4/8 weeks", "1/4/8"),
        [
            "tasks.toml row 5, [clean-screen] interval: '1/4/8': expected shortest, usual and longest time like "
            '"1/4/8 weeks" (hours, days, weeks or months)'
        ],
    ),
    (
        "interval as a number",
        "tasks.toml",
        ('"1/4/8 weeks"', "4"),
        [
            "tasks.toml row 5, [clean-screen] interval: '4': expected shortest, usual and longest time like "
            '"1/4/8 weeks" (hours, days, weeks or months)'
        ],
    ),
    (
        "an unknown skill",
        "tasks.toml",
        (
            'skill = "keeper"\nperformed_by = "site-staff"\norder = 10',
            'skill = "keepr"\nperformed_by = "site-staff"\norder = 10',
        ),
        [
            "tasks.toml row 9, [clean-screen] skill: 'keepr': expected one of keeper, technician, refrigeration, "
            "electrician; the nearest is keeper"
        ],
    ),
    (
        "an unknown tolerance",
        "tasks.toml",
        ('tolerance = "B"', 'tolerance = "D"'),
        ["tasks.toml row 6, [clean-screen] tolerance: 'D': expected one of A0, A, B, C, S"],
    ),
    (
        "an unknown condition",
        "tasks.toml",
        ('["dust"]', '["dusty"]'),
        [
            "tasks.toml row 7, [clean-screen] shortened_by: 'dusty': expected a condition that the catalogue knows; "
            "the nearest is dust"
        ],
    ),
    (
        "a condition twice",
        "tasks.toml",
        ('["dust"]', '["dust"]\nlengthened_by = ["dust"]'),
        ["tasks.toml row 1, [clean-screen] factors: 'dust': expected each condition only once"],
    ),
    (
        "an unknown caution",
        "tasks.toml",
        ('hazards = ["H1"]', 'hazards = ["H9"]'),
        [
            "tasks.toml row 16, [clean-screen] hazards: 'H9': expected a code out of hazards.toml",
        ],
    ),
    (
        "an unknown prerequisite",
        "tasks.toml",
        ('prerequisites = ["clean-screen"]', 'prerequisites = ["clean-scren"]'),
        [
            "tasks.toml row 33, [press-switch] prerequisites: 'clean-scren': expected the id of a task; "
            "the nearest is clean-screen"
        ],
    ),
    (
        "an unknown need",
        "tasks.toml",
        ('device_kinds = ["chiller"]', 'device_kinds = ["chiller"]\nneeds = ["marin"]'),
        [
            "tasks.toml row 5, [clean-screen] needs: 'marin': expected a need that the catalogue knows; "
            "the nearest is marine"
        ],
    ),
    (
        "an unknown event",
        "tasks.toml",
        ('event = "storm"', 'event = "strom"'),
        [
            "tasks.toml row 25, [press-switch] events 1 event: 'strom': expected an event that the catalogue knows; "
            "the nearest is storm"
        ],
    ),
    (
        "a length of time that is none",
        "tasks.toml",
        ('within = "24 hours"', 'within = "soon"'),
        [
            "tasks.toml row 25, [press-switch] events 1 within: 'soon': expected a length of time like "
            '"7 days" (hours, days, weeks or months)'
        ],
    ),
    (
        "an unknown kind of device",
        "tasks.toml",
        ('["chiller"]', '["chillr"]'),
        [
            "tasks.toml row 4, [clean-screen] device_kinds: 'chillr': expected one of chiller, thermoelectric, "
            "surface-fan, stand-fan; the nearest is chiller"
        ],
    ),
    (
        "devices of a task about equipment",
        "tasks.toml",
        ('equipment_kinds = ["gfci"]', 'equipment_kinds = ["gfci"]\nplaced = ["store"]'),
        ["tasks.toml row 24, [press-switch] placed: 'store': expected no such field beside subject = \"equipment\""],
    ),
    (
        "no step",
        "tasks.toml",
        ('steps = ["Unplug.", "Clean.", "Plug in."]', "steps = []"),
        ["tasks.toml row 12, [clean-screen] steps: '': expected a list in square brackets with one item at least"],
    ),
    (
        "text where a list belongs",
        "tasks.toml",
        ('hazards = ["H1"]', 'hazards = "H1"'),
        ["tasks.toml row 16, [clean-screen] hazards: 'H1': expected a list in square brackets"],
    ),
    (
        "minutes in words",
        "tasks.toml",
        ("minutes = 10", 'minutes = "10"'),
        [
            "tasks.toml row 8, [clean-screen] minutes: '10': expected a whole number from 1 to 480, "
            "without quotation marks"
        ],
    ),
    (
        "a reading in another unit than the register's",
        "tasks.toml",
        ('unit = "m3/h"', 'unit = "L/h"'),
        [
            "tasks.toml row 13, [clean-screen] readings 1 unit: 'L/h': expected m3/h, the register's unit of flow",
        ],
    ),
    (
        "a reading's band the wrong way round",
        "tasks.toml",
        ("low = 1, high = 2", "low = 3, high = 2"),
        ["tasks.toml row 13, [clean-screen] readings 1 low: '3': expected no more than high (2)"],
    ),
    (
        "a baseline compared in two ways",
        "tasks.toml",
        ("order = 10", CONDITION + ", over_baseline = true, share_of_baseline = true }]"),
        ["tasks.toml row 12, [clean-screen] conditions 1 over_baseline: 'true': expected either over_base"],
    ),
    (
        "a share of a share",
        "tasks.toml",
        ("order = 10", CONDITION.replace("flow", "output-share-percent") + ", share_of_baseline = true }]"),
        ["tasks.toml row 12, [clean-screen] conditions 1 share_of_baseline: 'true': expected no such field"],
    ),
    (
        "rooms as warm with nothing to compare",
        "tasks.toml",
        ("order = 10", CONDITION + ", like_room_within = 2 }]"),
        ["tasks.toml row 12, [clean-screen] conditions 1 like_room_within: '2': expected this field only"],
    ),
    (
        "a trend in words",
        "tasks.toml",
        ("order = 10", CONDITION + ', trend = "yes" }]'),
        ["tasks.toml row 12, [clean-screen] conditions 1 trend: 'yes': expected true or false"],
    ),
    (
        "work that restores a value and is not in the catalogue",
        "tasks.toml",
        ("order = 10", CONDITION + ', restored_by = ["clean-scren"] }]'),
        ["tasks.toml row 12, [clean-screen] conditions: 'clean-scren': expected the id of a task"],
    ),
    (
        "a margin asked of an event that is no change",
        "tasks.toml",
        ('within = "24 hours" }', 'within = "24 hours", if_margin_moves = true }'),
        ["tasks.toml row 25, [press-switch] events 1 if_margin_moves: 'true': expected this field only beside a dated"],
    ),
    (
        "nothing that ever makes the task due",
        "tasks.toml",
        ('interval = "1/4/8 weeks"\ntolerance = "B"\nshortened_by = ["dust"]', 'tolerance = "B"'),
        [
            "tasks.toml row 1, [clean-screen] interval: '': expected an interval, seasons, events or conditions; "
            "or an occasion in words"
        ],
    ),
    (
        "lengthening what is done for safety of life",
        "tasks.toml",
        ('tolerance = "A0"', 'tolerance = "A0"\nlengthened_by = ["clean-room"]'),
        [
            "tasks.toml row 27, [press-switch] lengthened_by: 'clean-room': expected nothing that lengthens an "
            "interval of tolerance A0"
        ],
    ),
    (
        "tasks that wait for each other",
        "tasks.toml",
        ('hazards = ["H1"]', 'hazards = ["H1"]\nprerequisites = ["press-switch"]'),
        [
            "tasks.toml row 17, [clean-screen] prerequisites: 'clean-screen > press-switch > clean-screen': "
            "expected tasks that do not wait for each other"
        ],
    ),
    (
        "a task's name twice in one file",
        "tasks.toml",
        ("[press-switch]", "[clean-screen]"),
        ["tasks.toml row 20: '[clean-screen]': expected TOML that can be read"],
    ),
    (
        "a missing quotation mark",
        "tasks.toml",
        ('title = "Clean the screen"', 'title = "Clean the screen'),
        ["tasks.toml row 2: 'title = \"Clean the screen': expected TOML that can be read"],
    ),
    (
        "an act limit too near to what kills",
        "animal_classes.toml",
        ("act_high = 18", "act_high = 19"),
        ["animal_classes.toml row 6, [trout] act_high: '19': expected 18 or further inside, 2 K from lethal 20"],
    ),
    (
        "a watch limit beyond the act limit",
        "animal_classes.toml",
        ("watch_high = 16.5", "watch_high = 18.5"),
        ["animal_classes.toml row 5, [trout] watch_high: '18.5': expected no more than act_high (18)"],
    ),
    (
        "a band the wrong way round",
        "animal_classes.toml",
        ("target = [16, 22]", "target = [22, 16]"),
        ["animal_classes.toml row 12, [koi] target: '22, 16': expected the lower end first"],
    ),
    (
        "a word that stands for two classes",
        "animal_classes.toml",
        ('aliases = ["salmonids"]', 'aliases = ["koi"]'),
        ["animal_classes.toml row 10, [koi] aliases: 'koi': expected a word of its own; it stands for trout already"],
    ),
    (
        "nobody to call",
        "stop_rules.toml",
        ('roles = ["electrician"]', 'roles = ["electritian"]'),
        [
            "stop_rules.toml, stop_rule 1 roles: 'electritian': expected one of client, on-call, electrician, "
            "refrigeration, vet, power-company, room-ac, key-holder, emergency; the nearest is electrician"
        ],
    ),
    (
        "a stop rule about a task that is not there",
        "stop_rules.toml",
        ('tasks = ["press-switch"]', 'tasks = ["press-swich"]'),
        [
            "stop_rules.toml, stop_rule number 1 tasks: 'press-swich': expected the id of a task; "
            "the nearest is press-switch"
        ],
    ),
    (
        "no sentence that ends the cautions",
        "hazards.toml",
        ('closing = "The plate comes first."\n', ""),
        ["hazards.toml, closing: '': expected the sentence that ends every list of cautions"],
    ),
]


@pytest.mark.parametrize(("file", "change", "lines"), [row[1:] for row in MISTAKES], ids=[row[0] for row in MISTAKES])
def test_a_mistake_is_told_in_one_clear_line(
    tmp_path: Path, file: str, change: tuple[str, str], lines: list[str]
) -> None:
    old, new = change
    assert FILES[file].count(old) == 1, "the change touches one place"
    found = told(write(tmp_path, {**FILES, file: FILES[file].replace(old, new)}))
    assert len(found) == len(lines), found
    for line, expected in zip(found, lines, strict=True):
        assert line.startswith(expected)


def test_an_unknown_field_names_the_nearest_known_one(tmp_path: Path) -> None:
    text = TASKS.replace("minutes = 10", "minutes = 10\ntool = []")
    (line,) = told(write(tmp_path, {**FILES, "tasks.toml": text}))
    assert line.endswith("; the nearest is tools")


def test_all_mistakes_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    files = {
        "tasks.toml": TASKS.replace('"keeper"', '"nobody"').replace("minutes = 3", "minutes = 0"),
        "hazards.toml": HAZARDS.replace('text = "Unplug."\n', ""),
        "animal_classes.toml": ANIMALS.replace("act_high = 18", "act_high = 28"),
        "stop_rules.toml": STOP_RULES.replace("number = 1", "number = 0"),
    }
    found = told(write(tmp_path, files))
    assert len([line for line in found if line.startswith("tasks.toml")]) == 3
    assert len(found) == 6, "no mistake is told twice"
    assert {line.split(" row")[0].split(",")[0] for line in found} == set(FILES)


def test_a_task_stands_in_one_file_only(tmp_path: Path) -> None:
    again = TASKS.split("\n\n")[0] + "\n"
    (line,) = told(write(tmp_path, {**FILES, "again.toml": again}))
    assert line == (
        "tasks.toml, [clean-screen]: 'clean-screen': expected each task only once; it stands in again.toml too"
    )


@pytest.mark.parametrize("name", ["hazards.toml", "animal_classes.toml", "stop_rules.toml"])
def test_a_missing_file_is_named(tmp_path: Path, name: str) -> None:
    files = {file: text for file, text in FILES.items() if file != name}
    (line,) = told(write(tmp_path, files))
    assert line.startswith(f"{name}: {name!r}: expected this file in")


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="nowhere: expected the folder of a catalogue"):
        read_catalogue(tmp_path / "nowhere")


def test_an_empty_folder_says_what_belongs_in_it(tmp_path: Path) -> None:
    assert any("files of tasks such as chiller.toml" in line for line in told(tmp_path))


def test_a_file_in_another_encoding_is_refused(tmp_path: Path) -> None:
    write(tmp_path, FILES)
    (tmp_path / "tasks.toml").write_bytes(TASKS.replace("Clean the screen", "Clean the scr\u00e9en").encode("latin-1"))
    assert "tasks.toml: 'tasks.toml': expected a text file saved as UTF-8" in told(tmp_path)


def test_a_byte_order_mark_and_windows_line_ends_are_taken(tmp_path: Path) -> None:
    write(tmp_path, FILES)
    (tmp_path / "tasks.toml").write_bytes(b"\xef\xbb\xbf" + TASKS.replace("\n", "\r\n").encode())
    assert len(read_catalogue(tmp_path).rules) == 2


def test_the_shipped_catalogue_reads_the_same_from_a_copy(tmp_path: Path) -> None:
    copy = shutil.copytree(resources.catalogue(), tmp_path / "copy")
    assert read_catalogue(copy) == read_catalogue()


@settings(max_examples=60, deadline=None)
@given(
    where=st.integers(0, len(TASKS)), length=st.integers(0, 40), put=st.text(st.characters(codec="utf-8"), max_size=12)
)
def test_no_text_in_a_file_ends_in_anything_but_a_catalogue_or_clear_lines(
    tmp_path_factory: pytest.TempPathFactory, where: int, length: int, put: str
) -> None:
    folder = tmp_path_factory.mktemp("catalogue")
    write(folder, {**FILES, "tasks.toml": TASKS[:where] + put + TASKS[where + length :]})
    with contextlib.suppress(BadInput):
        assert len(read_catalogue(folder).rules) <= 2
