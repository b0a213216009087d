"""The charts: true to their data, readable without colour, told in words, safe whatever is written in the register."""

from __future__ import annotations

import itertools
import math
import re
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.outputs.charts import WIDTH, Drawing, Scale, kept_apart, tick_words, ticks
from fleet.outputs.charts_course import course_chart
from fleet.outputs.charts_margin import ACROSS, margin_axis, margin_strip
from fleet.outputs.charts_readings import Series, readings_chart
from fleet.outputs.charts_work import work_chart
from fleet.outputs.lookup import Band
from fleet.units import Display
from fleet.values.courses import DayCourse
from fleet.values.spread import Spread
from fleet.values.vocabulary import Scenario

HOSTILE = "<script>alert(1)</script>\"' &amp; \x00\x07\u2028\ufffe ]]> {{7*7}} \u202eabc"
BAND = Band(23.5, 28.0, 22.0, 29.5, "set for this tank")
WEDNESDAY = date(2026, 5, 20)


def course(scenario: Scenario, low_c: float, high_c: float) -> DayCourse:
    """Warmest at six in the evening, coldest at six in the morning."""
    hours = tuple(n / 2.0 for n in range(49))
    away = [abs((hour - 18.0 + 12.0) % 24.0 - 12.0) / 12.0 for hour in hours]
    safe = tuple(high_c - (high_c - low_c) * share for share in away)
    return DayCourse("T", scenario, hours, safe, tuple(value - 0.4 for value in safe), safe)


def a_course_chart(name="c", tank="Reef", display="metric", band=BAND, **spans):
    spans = spans or {"hot": (25.0, 27.0), "off": (25.5, 30.0)}
    words = {"hot": Scenario.HOT_DAY, "off": Scenario.AC_OFF}
    return course_chart(name, tank, [course(words[key], *span) for key, span in spans.items()], band, Display(display))


def a_series(count=6, **changes):
    points = tuple((WEDNESDAY + timedelta(days=30 * n), 10.0 + n) for n in range(count))
    facts = {"title": "Rise", "what": "Rise", "points": points, "write": lambda v: f"{v:.1f} K", "unit": "K"}
    return Series(**(facts | changes))


def all_charts(text="Reef"):
    done, planned = {WEDNESDAY - timedelta(days=3): 90}, {WEDNESDAY + timedelta(days=10): 200}
    series = a_series(title=text, what=text, baseline=10.0, high=13.0, limit=text, band=text, write=lambda v: text)
    return {
        "course": a_course_chart(tank=text).svg,
        "readings": readings_chart("r", series).svg,
        "work": work_chart("w", text, done, planned, WEDNESDAY).svg,
        "strip": margin_strip("s", text, Spread(-0.2, 0.4, 3.0)),
        "axis": margin_axis("a"),
    }


def elements(svg):
    return [(item.tag, item.attrib, item.text or "") for item in ElementTree.fromstring(svg).iter()]


def lines(svg):
    """Each line as points and its attributes."""
    found = []
    for tag, attributes, _ in elements(svg):
        if tag == "polyline":
            found.append(([tuple(map(float, point.split(","))) for point in attributes["points"].split()], attributes))
    return found


@pytest.mark.parametrize("kind", ["course", "readings", "work", "strip", "axis"])
def test_every_chart_is_well_formed_and_names_and_describes_itself(kind):
    root = ElementTree.fromstring(all_charts()[kind])
    title, description = root[0], root[1]
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-labelledby"] == f"{title.attrib['id']} {description.attrib['id']}"
    assert title.tag == "title"
    assert title.text
    assert description.tag == "desc"
    assert description.text


@pytest.mark.parametrize("kind", ["course", "readings", "work", "strip"])
def test_texts_of_the_register_stay_text(kind):
    svg = all_charts(HOSTILE)[kind]
    tags = {tag for tag, _, _ in elements(svg)}
    assert tags <= {"svg", "title", "desc", "polyline", "polygon", "rect", "circle", "text"}
    assert "<script" not in svg
    assert not re.search("[\x00-\x08\u2028\ufffe]", svg)
    assert any("<script>" in text for _, _, text in elements(svg))


@pytest.mark.parametrize("kind", ["course", "readings", "work", "strip", "axis"])
def test_nothing_is_told_by_colour(kind):
    for tag, attributes, _ in elements(all_charts()[kind]):
        paints = {attributes.get("fill", "none"), attributes.get("stroke", "none")}
        assert paints <= {"none", "currentColor"}, tag


@pytest.mark.parametrize("kind", ["course", "readings", "work", "strip", "axis"])
def test_the_same_data_give_the_same_bytes(kind):
    assert all_charts()[kind] == all_charts()[kind]


@pytest.mark.parametrize("kind", ["course", "readings", "work"])
def test_everything_is_inside_the_picture(kind):
    svg = all_charts()[kind]
    _, _, width, height = map(float, ElementTree.fromstring(svg).attrib["viewBox"].split())
    for points, _ in lines(svg):
        assert all(0.0 <= x <= width and 0.0 <= y <= height for x, y in points)
    for tag, attributes, text in elements(svg):
        if tag == "text" and attributes["text-anchor"] == "start":
            # The narrowest letters are about 5 units wide at this size.
            assert float(attributes["x"]) + 5.0 * len(text) <= width, text


def test_the_safe_course_is_drawn_thicker_than_the_likely_one_and_above_it():
    drawn = [(points, float(at["stroke-width"])) for points, at in lines(a_course_chart(hot=(25.0, 27.0)).svg)
             if len(points) == 49]  # fmt: skip
    (likely, thin), (safe, thick) = drawn
    assert thick >= 2.0 * thin
    assert all(over[1] < under[1] for over, under in zip(safe, likely, strict=True))


def test_hot_day_and_a_c_off_differ_by_the_style_of_their_line():
    styles = {at.get("stroke-dasharray") for points, at in lines(a_course_chart().svg) if len(points) == 49}
    assert len(styles) == 2


def test_a_course_past_its_limit_crosses_the_line_of_the_limit():
    chart = a_course_chart(off=(28.0, 31.0))
    wide = [(points, at) for points, at in lines(chart.svg)]
    water = next(points for points, at in wide if len(points) == 49 and at["stroke-width"] == "2")
    limit = min(points[0][1] for points, at in wide if len(points) == 2 and at["stroke-width"] == "1.3"
                and points[0][1] == points[1][1])  # fmt: skip
    # Up is smaller: the top of the water lies over the act limit, its bottom under it.
    assert min(y for _, y in water) < limit < max(y for _, y in water)
    assert "past the act limit of 29.5" in chart.said


def test_the_sentence_names_the_peak_its_hour_and_the_limit_in_both_units():
    said = a_course_chart(hot=(25.0, 27.0)).said.replace("\N{NO-BREAK SPACE}", " ")
    assert said == ("Hot day: at most 27.0 °C at 18:00, likely 26.6 °C; below the act limit of 29.5 °C (85.1 °F).")


def test_the_axis_is_in_the_units_of_the_client():
    texts = [text for tag, _, text in elements(a_course_chart(display="us", hot=(25.0, 27.0)).svg) if tag == "text"]
    assert "78°" in texts or "80°" in texts
    assert "act 85.1 °F" in texts


def test_a_limit_far_from_the_water_is_left_to_the_sentence():
    chart = a_course_chart(hot=(8.0, 9.0), band=Band(None, 20.0, None, 22.0, ""))
    assert "act" not in " ".join(text for tag, _, text in elements(chart.svg) if tag == "text")
    assert "act limit of 22.0" in chart.said


def test_without_a_limit_that_is_said():
    assert "no upper limit is set" in a_course_chart(hot=(25.0, 27.0), band=Band(None, None, None, None, "")).said


def test_a_steady_course_is_drawn_and_told_as_such():
    chart = course_chart("c", "T", [DayCourse("T", Scenario.HOT_DAY, (0.0, 12.0, 24.0), (25.0,) * 3, (25.0,) * 3,
                                              (24.0,) * 3)], BAND, Display(None))  # fmt: skip
    assert "at most 25.0" in chart.said
    assert "all day" in chart.said


@pytest.mark.parametrize(
    ("margin", "arrows"),
    [(Spread(-0.2, 0.4, 1.0), 0), (Spread(-0.2, 0.4, math.inf), 1), (Spread(-3.0, 0.4, 9.0), 2)],
)
def test_a_strip_runs_from_low_to_high_with_an_arrow_where_it_goes_on(margin, arrows):
    drawn = lines(margin_strip("s", "T", margin))
    spread = max((points for points, _ in drawn if len(points) == 2 and points[0][1] == points[1][1]),
                 key=lambda points: points[1][0] - points[0][0])  # fmt: skip
    assert spread[0][0] == pytest.approx(ACROSS(max(margin.low, -1.0)), abs=0.06)
    assert spread[1][0] == pytest.approx(ACROSS(min(margin.high, 2.0)), abs=0.06)
    assert sum(len(points) == 3 for points, _ in drawn) == arrows


def test_a_strip_tells_its_figures_to_those_who_do_not_see_it():
    root = ElementTree.fromstring(margin_strip("s", "Reef, hot day", Spread(-0.2, 0.4, 1.0)))
    assert root[0].text == "Margin of Reef, hot day"
    assert root[1].text == "−20 % (40 % likely), at best 100 %"


def test_readings_have_a_dot_for_each_and_higher_values_lie_higher():
    dots = [(float(at["cx"]), float(at["cy"])) for tag, at, _ in elements(readings_chart("r", a_series()).svg)
            if tag == "circle"]  # fmt: skip
    assert len(dots) == 6
    assert [x for x, _ in dots] == sorted(x for x, _ in dots)
    assert [y for _, y in dots] == sorted((y for _, y in dots), reverse=True)


def test_readings_are_spread_over_time_as_they_were_taken():
    days = (0, 10, 100)
    points = tuple((WEDNESDAY + timedelta(days=n), 1.0) for n in days)
    xs = [float(at["cx"]) for tag, at, _ in elements(readings_chart("r", a_series(points=points)).svg)
          if tag == "circle"]  # fmt: skip
    assert (xs[1] - xs[0]) / (xs[2] - xs[0]) == pytest.approx(0.1, abs=0.002)


def test_readings_are_told_with_baseline_and_last():
    chart = readings_chart("r", a_series(baseline=10.0, band="cleaning is due above 13.0 K"))
    assert chart.said == (
        "6 readings, 10.0 K to 15.0 K; the last 15.0 K on 17 Oct 2026; baseline 10.0 K, the first on record; "
        "cleaning is due above 13.0 K."
    )


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_readings_are_not_drawn(count):
    assert readings_chart("r", a_series(count)) is None


def test_done_work_is_full_and_planned_work_an_outline_of_like_height():
    hours = {WEDNESDAY - timedelta(days=21): 240}, {WEDNESDAY + timedelta(days=21): 240}
    bars = [at for tag, at, _ in elements(work_chart("w", "Work", *hours, WEDNESDAY).svg) if tag == "rect"]
    assert [at["fill"] for at in bars] == ["currentColor", "none"]
    assert bars[0]["height"] == bars[1]["height"]
    assert float(bars[0]["x"]) < float(bars[1]["x"])


def test_the_year_of_work_is_told_in_hours():
    chart = work_chart("w", "Work", {WEDNESDAY - timedelta(days=21): 240}, {WEDNESDAY + timedelta(days=21): 90},
                       WEDNESDAY)  # fmt: skip
    assert chart.said == (
        "Done in the half year before: 4 h. Planned for the half year to come: 1 h 30 min, most of it in the week of "
        "Mon 8 Jun (1 h 30 min)."
    )


def test_no_work_at_all_is_a_chart_too():
    chart = work_chart("w", "Work", {}, {}, WEDNESDAY)
    ElementTree.fromstring(chart.svg)
    assert "None is planned" in chart.said


@given(st.dictionaries(st.dates(date(2025, 1, 1), date(2027, 12, 31)), st.integers(0, 5000), max_size=40))
@settings(deadline=None, max_examples=50)
def test_bars_hold_every_minute_of_the_weeks_shown(planned):
    chart = work_chart("w", "Work", {}, planned, WEDNESDAY)
    bars = [float(at["height"]) for tag, at, _ in elements(chart.svg) if tag == "rect"]
    monday = date(2026, 5, 18)
    weeks = {day - timedelta(days=day.weekday()) for day, minutes in planned.items() if minutes}
    shown = [week for week in weeks if monday - timedelta(weeks=26) <= week < monday + timedelta(weeks=26)]
    assert len(bars) == len(shown)


@given(low=st.floats(-1e4, 1e4), span=st.floats(0.05, 1e5), most=st.integers(2, 8))
@settings(deadline=None, max_examples=200)
def test_ticks_are_round_even_and_not_too_many(low, span, most):
    marks = ticks(low, low + span, most)
    assert 1 <= len(marks) <= most
    assert all(low - 1e-6 * span <= mark <= low + span * (1 + 1e-6) for mark in marks)
    steps = [b - a for a, b in itertools.pairwise(marks)]
    if steps:
        lead = steps[0] / 10.0 ** math.floor(math.log10(steps[0]) + 1e-6)
        assert min(abs(lead - factor) for factor in (1.0, 2.0, 5.0)) < 1e-3
        assert max(steps) - min(steps) < 1e-6 * (abs(low) + span)
        assert len({tick_words(mark, steps[0]) for mark in marks}) == len(marks)


@given(st.lists(st.floats(0.0, 200.0), max_size=8))
@settings(deadline=None, max_examples=200)
def test_labels_are_kept_apart_in_their_order(places):
    moved = kept_apart(places, 13.0, 0.0, 200.0)
    ordered = sorted(range(len(places)), key=lambda i: (places[i], i))
    for before, after in itertools.pairwise(ordered):
        assert moved[after] - moved[before] >= 13.0 - 1e-9
    assert all(place <= 200.0 + 1e-9 for place in moved)


@given(st.text(max_size=60), st.text(max_size=60))
@settings(deadline=None, max_examples=150)
def test_any_text_gives_well_formed_xml(title, words):
    drawing = Drawing("d", title, words, height=50.0)
    drawing.words(1.0, 2.0, words)
    assert [item.tag for item in ElementTree.fromstring(drawing.svg())] == ["title", "desc", "text"]


def test_a_scale_maps_its_ends_to_its_ends():
    scale = Scale(20.0, 30.0, WIDTH, 0.0)
    assert (scale(20.0), scale(30.0), scale(25.0)) == (WIDTH, 0.0, WIDTH / 2.0)
