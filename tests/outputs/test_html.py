"""The pages: what the people who hold them must find, and what must never stand on them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from typing import Any
from urllib.parse import unquote

import jinja2
import pytest

from fleet.outputs.html import all_sheets, environment
from fleet.values.register import Tank
from fleet.values.vocabulary import Health

World = Any
VISIT = "visit-V2M-0A1B.html"
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class Page(HTMLParser):
    """Checks that tags close in order, and gathers text, links, headings and attributes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []
        self.headings: list[int] = []
        self.attributes: list[tuple[str, str, str | None]] = []
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag == "a":
            self.links.append(unquote(dict(attrs)["href"] or ""))
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def pages_of(world: World, **changes: Any) -> dict[str, str]:
    parts = {"plan": world.plan, "fleet": world.fleet, "catalogue": world.catalogue, **changes}
    return all_sheets(
        parts["plan"], parts["fleet"], parts["catalogue"], changes.get("assessments", world.assessments),
        today=world.today,
    )  # fmt: skip


def renamed(world: World, name: str) -> Any:
    tanks = tuple(replace(tank, name=name) if tank.code == "REEF-1" else tank for tank in world.fleet.tanks)
    return replace(world.fleet, tanks=tanks)


def test_pages_of_a_fleet(world: World) -> None:
    assert sorted(pages_of(world)) == [
        "checklist-HARBOUR.html",
        "checklist-SOUTH.html",
        "index.html",
        "tank-GOLD-1.html",
        "tank-REEF-1.html",
        VISIT,
    ]


def test_every_page_is_well_formed_and_stands_alone(world: World) -> None:
    pages = pages_of(world)
    for name, html in pages.items():
        page = Page(html)
        assert html.startswith('<!DOCTYPE html>\n<html lang="en">'), name
        assert re.search(r"<title>[^<]+</title>", html), name
        assert not re.search(r"<script|<img|<link|@import|url\(|https?:|\son\w+=", html), name
        assert set(page.links) <= set(pages), name


def test_headings_step_down_one_at_a_time_and_table_heads_have_a_scope(world: World) -> None:
    """WCAG 2.2, techniques H42 and H63."""
    for name, html in pages_of(world).items():
        page = Page(html)
        assert page.headings[0] == 1, name
        assert page.headings.count(1) == 1, name
        steps = [after - before for before, after in zip(page.headings, page.headings[1:], strict=False)]
        assert max(steps, default=0) <= 1, name
        assert html.count("<th ") + html.count("<th>") == sum(
            tag == "th" and at == "scope" for tag, at, _ in page.attributes
        )


def test_text_colours_reach_the_contrast_of_wcag_2_2_criterion_1_4_3(world: World) -> None:
    """Relative luminance as WCAG 2.2 defines it; 4.5 to 1."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    sheets = re.findall(
        r"--ink: (#\w{6}); --quiet: (#\w{6}); --rule: #\w{6}; --paper: (#\w{6});", pages_of(world)["index.html"]
    )
    assert len(sheets) == 3  # light, dark, printed
    for *texts, paper in sheets:
        for colour in texts:
            darker, lighter = sorted((luminance(colour), luminance(paper)))
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (colour, paper)


def test_typed_markup_is_shown_and_never_obeyed(world: World) -> None:
    for html in pages_of(world, fleet=renamed(world, '<b>Big</b> & "reef" <script>alert(1)</script>')).values():
        assert "<b>" not in html
        assert "<script" not in html
    card = Page(pages_of(world, fleet=renamed(world, "<b>Big</b>"))["tank-REEF-1.html"])
    assert "<b>Big</b>" in card.text


def test_a_name_missing_from_a_template_is_an_error() -> None:
    with pytest.raises(jinja2.UndefinedError):
        environment().from_string("{{ nothing_of_the_kind }}").render()


def test_the_same_plan_gives_the_same_pages(world: World) -> None:
    assert pages_of(world) == pages_of(world)


def test_the_index_begins_with_what_is_late_and_short_of_cooling(world: World) -> None:
    text = Page(pages_of(world)["index.html"]).text
    late, cooling, visits = (
        text.index("Descale the exchanger"),
        text.index("Lobby reef (REEF-1)"),
        text.index("Robin Roe"),
    )
    assert late < cooling < visits
    assert "1 task late; 1 tank to look at before a hot day" in text
    assert "short −40 % (−4 % likely) 82.2 °F 85.1 °F 5.2 h 9.0 h" in text
    assert "Nothing is late." not in text


def test_without_assessments_the_index_does_not_claim_that_tanks_hold(world: World) -> None:
    text = Page(pages_of(world, assessments=())["index.html"]).text
    assert "cooling not assessed" in text
    assert "every tank holds" not in text


def test_the_sheet_says_who_where_when_how_to_get_in_and_what_to_bring(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    for words in (
        "Harbour Street clinic", "12 Harbour Street", "Friday 22 May 2026, 09:00 to 11:13", "Robin Roe",
        "part of it for two people", world.door_code, "white vinegar, 4 L", "goggles", "soft brush",
        "fleet done --visit V2M-0A1B",
    ):  # fmt: skip
        assert words in text, words


def test_consumables_of_all_tasks_are_summed(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    assert "mild soap, 0.2 L" in text
    assert text.count("mild soap") == 1


def test_tasks_stand_in_working_order_each_with_its_reason_and_key(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    places = [text.index(key) for key in ("7K3-Q9MD", "8AA-B1CD", "9ZZ-0007")]
    assert places == sorted(places)
    assert "Today because: Last done on 28 Apr 2026, every 4 weeks." in text
    assert "Last time: 28 Apr 2026, degraded, Robin Roe, much lint." in text
    assert "Past limit; due 10 Jan 2026" in text


def test_a_reading_stands_beside_the_last_one_in_the_units_of_the_client(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    assert "Exhaust air 102.2 °F, 28 Apr 2026 compare with the last" in text
    assert "Air rise over baseline at most 5.4 °F above its own clean baseline" in text
    assert "Rinse water none on record within 0.2 of the supply's pH" in text


def test_each_caution_is_printed_once_where_it_first_applies_and_named_after(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    assert text.count("Unplug before hands go into the water.") == 1
    assert (
        text.index("Clean the intake screen:")
        < text.index("Unplug before hands go into the water.")
        < text.index("8AA-")
    )
    assert text.count("Acid turns bleach into chlorine gas.") == 1
    assert text.count("Cautions as above: H1 Electricity and water.") == 2


def test_work_on_a_chiller_of_unknown_refrigerant_carries_the_caution_for_flammable_ones(world: World) -> None:
    """Catalogue corrections: any row on a chiller whose refrigerant is A2L, A3 or unknown (common practice)."""
    flammable = replace(world.catalogue.hazards[0], code="H5", title="Flammable refrigerant", text="No spark.")
    catalogue = replace(world.catalogue, hazards=(*world.catalogue.hazards, flammable))
    assert "H5 Flammable refrigerant. No spark." in Page(pages_of(world, catalogue=catalogue)[VISIT]).text


def test_stop_rules_stand_with_the_numbers_of_the_site(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    assert "An electrician: Fernmouth Electric, +1 555 0102" in text
    assert "The emergency number: no emergency number on record" in text


def test_sheets_and_checklists_end_in_deference_to_plate_codes_and_licence(world: World) -> None:
    pages = pages_of(world)
    for name in (VISIT, "checklist-HARBOUR.html"):
        assert "Follow the maker's plate, local codes and licensed practice; they come first." in Page(pages[name]).text
    for name in ("index.html", "tank-REEF-1.html"):
        assert "Estimates for planning, not engineering certificates." in Page(pages[name]).text


def test_access_notes_stand_on_the_staff_sheet_alone(world: World) -> None:
    for name, html in pages_of(world).items():
        assert (world.door_code in html) is (name == VISIT), name


def test_cards_and_checklists_name_no_other_client(world: World) -> None:
    pages = pages_of(world)
    for name in ("tank-GOLD-1.html", "checklist-SOUTH.html"):
        for word in ("Oakley", "Harbour", "Lobby", "REEF-1", "index.html"):
            assert word not in pages[name], (name, word)


def test_the_card_tells_limits_hours_devices_and_what_was_assumed(world: World) -> None:
    text = Page(pages_of(world)["tank-REEF-1.html"]).text
    for words in (
        "Target 78.1 °F (25.6 °C)", "below 74.3 °F (23.5 °C) or above 82.4 °F (28.0 °C)",
        "default for reef corals", "100 gal net",
        "All cooling of the tank lost about 7.1 h (5.2 h to 11 h)",
        "Room A/C lost about 30 h (9.0 h at the soonest, perhaps never)",
        "Largest device lost does not apply", "relative humidity: 65 %", "in stand, 2 in clear", "much lint",
        "Lobby reef (REEF-1), water temperature 79.0 °F 18 May 2026", "+1 555 0101",
    ):  # fmt: skip
        assert words in text, words


def test_metric_clients_read_metric_units_and_limits_in_both(world: World) -> None:
    text = Page(pages_of(world)["tank-GOLD-1.html"]).text
    assert "Target 18.0 °C (64.4 °F)" in text
    assert not re.search(r"(?<!\()\b\d+\.\d °F", text)


def test_a_water_volume_from_dimensions_says_so(world: World) -> None:
    assert "about 136 L, estimated from its dimensions" in Page(pages_of(world)["tank-GOLD-1.html"]).text


def test_the_checklist_has_one_line_for_each_kind_of_work_and_a_box_for_each_tank(world: World) -> None:
    rule = world.catalogue.rule_by_id["check-temperature"]
    second = world.make_task("1AA-0003", rule, "REEF-2", tank="REEF-2", due=world.today, state="due")
    tank = Tank("REEF-2", "LOBBY", "Second reef", world.fleet.tanks[1].kind, 1.0, 0.5, 0.5, 25.0)
    fleet = replace(world.fleet, tanks=(*world.fleet.tanks, tank))
    html = pages_of(world, plan=replace(world.plan, tasks=(*world.plan.tasks, second)), fleet=fleet)[
        "checklist-HARBOUR.html"
    ]
    assert html.count("Read the temperature</th>") + html.count("Read the temperature<span") == 1
    assert html.count('class="box"') == 2
    assert "1AA-0001" in html
    assert "1AA-0003" in html


def test_a_sick_tank_comes_with_its_advice(world: World) -> None:
    tanks = tuple(replace(tank, health=Health.SICK) if tank.code == "REEF-1" else tank for tank in world.fleet.tanks)
    assert (
        "Sick system: last of all, own kit"
        in Page(pages_of(world, fleet=replace(world.fleet, tanks=tanks))[VISIT]).text
    )


def test_only_visits_in_the_window_get_a_sheet(world: World) -> None:
    visit = world.plan.visits[0]
    for days, shown in ((-1, False), (0, True), (28, True), (29, False)):
        moved = replace(visit, day=world.today + timedelta(days=days))
        assert (VISIT in pages_of(world, plan=replace(world.plan, visits=(moved,)))) is shown, days


def test_codes_that_differ_in_case_alone_get_files_of_their_own(world: World) -> None:
    twin = replace(world.fleet.tank_by_code["REEF-1"], code="reef-1", name="Twin")
    pages = pages_of(world, fleet=replace(world.fleet, tanks=(*world.fleet.tanks, twin)))
    names = [name for name in pages if name.casefold().startswith("tank-reef-1")]
    assert len({name.casefold() for name in names}) == 2


def test_a_task_whose_rule_left_the_catalogue_is_still_on_the_sheet(world: World) -> None:
    catalogue = replace(world.catalogue, rules=world.catalogue.rules[1:])
    assert "7K3-Q9MD" in pages_of(world, catalogue=catalogue)[VISIT]


def test_an_empty_fleet_has_an_index(world: World) -> None:
    plan = replace(world.plan, tasks=(), visits=(), unplaced=(), not_on_record={})
    fleet = type(world.fleet)(day=date(2026, 5, 20))
    pages = all_sheets(plan, fleet, world.catalogue, (), today=world.today)
    assert list(pages) == ["index.html"]
    assert "Nothing is late." in Page(pages["index.html"]).text


def test_the_same_work_on_several_subjects_stands_once_with_a_row_for_each(world: World) -> None:
    first = world.plan.task_by_key["7K3-Q9MD"]
    second = replace(first, key="7K3-TWO0", subject="FAN-1", device="FAN-1")
    visit = replace(world.plan.visits[0], tasks=("7K3-Q9MD", "7K3-TWO0", "8AA-B1CD", "9ZZ-0007"))
    plan = replace(world.plan, tasks=(*world.plan.tasks, second), visits=(visit,))
    html = pages_of(world, plan=plan)[VISIT]
    text = Page(html).text
    assert html.count("<h3>Clean the intake screen") == 1
    assert "2 subjects" in text
    assert text.index("7K3-Q9MD") < text.index("7K3-TWO0") < text.index("8AA-B1CD")
    assert text.count("Exhaust air ") >= 2
    heading = html.index("<h3>Clean the intake screen")
    assert html[heading : html.index("<h3>", heading + 4)].count('<ol class="steps">') == 1


def test_the_sheet_says_that_ticks_on_a_screen_are_lost_and_names_both_ways_back(world: World) -> None:
    text = Page(pages_of(world)[VISIT]).text
    for words in (
        "A box ticked in this page on a screen is not kept", "fleet done --visit V2M-0A1B",
        "fleet done --file returns-V2M-0A1B.csv", "fleet done 7K3-Q9MD --finding degraded",
    ):  # fmt: skip
        assert words in text, words


def test_every_reading_has_an_expected_band_or_says_that_none_is_known(world: World) -> None:
    html = pages_of(world)[VISIT]
    assert html.count('data-of="Expected:"') == 3
    assert not re.search(r'data-of="Expected:"></td>', html)
    assert "above its own clean baseline; baseline not known" in Page(html).text


def test_the_foot_of_the_sheet_is_a_css_string_that_no_name_can_leave(world: World) -> None:
    """CSS Syntax Module Level 3, 4.3.7: an escape is a backslash and up to six hexadecimal digits and a blank."""
    html = pages_of(world, fleet=renamed(world, '"; } </style><b>\\ x'))["tank-REEF-1.html"]
    line = re.search(r'@bottom-left \{ content: "([^"]*)"; \}', html)
    assert line
    assert re.fullmatch(r"(?:[A-Za-z0-9 ]|\\[0-9a-f]{6} )+", line[1])
    assert html.count("</style>") == 1
    unescaped = re.sub(r"\\([0-9a-f]{6}) ", lambda found: chr(int(found[1], 16)), line[1])
    assert unescaped.startswith('Oakley Dental, "; } ')


def test_a_page_whose_address_is_known_carries_it_as_a_code(world: World) -> None:
    parts = (world.plan, world.fleet, world.catalogue, world.assessments)
    known = all_sheets(*parts, today=world.today, base_url="http://127.0.0.1:8000/s/abc/")
    assert known[VISIT].count('class="qr"') == 1
    assert pages_of(world)[VISIT].count('class="qr"') == 0


def test_sheets_of_one_site_from_one_day_on(world: World) -> None:
    parts = (world.plan, world.fleet, world.catalogue, world.assessments)
    day = world.plan.visits[0].day
    assert VISIT in all_sheets(*parts, today=world.today, first=day, only_site="HARBOUR")
    assert VISIT not in all_sheets(*parts, today=world.today, first=day + timedelta(days=1))
    assert VISIT not in all_sheets(*parts, today=world.today, only_site="SOUTH")
