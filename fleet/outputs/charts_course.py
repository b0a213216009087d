"""The water of one tank through the design hot day and the day with the air conditioning off."""

from __future__ import annotations

from collections.abc import Sequence

from fleet.outputs.charts import (
    DASHED,
    LIMIT,
    LINE_HEIGHT,
    SOLID,
    THIN,
    THIN_DASHED,
    WATCH,
    WIDTH,
    Chart,
    Drawing,
    Scale,
    Style,
    kept_apart,
    tick_words,
    value_axis,
)
from fleet.outputs.lookup import Band
from fleet.outputs.words import SCENARIO_WORDS
from fleet.units import Display
from fleet.values.courses import DayCourse
from fleet.values.vocabulary import Scenario

HEIGHT = 220.0
LEFT, RIGHT, TOP, BOTTOM = 34.0, 86.0, 10.0, 24.0
NEAR_K = 6.0
"""A limit farther than this from all of the water is left out of the drawing; the sentence beside it names it."""
LEAST_SPAN = 2.0
LINES: dict[Scenario, tuple[str, Style, Style]] = {
    Scenario.HOT_DAY: ("hot day", SOLID, THIN),
    Scenario.AC_OFF: ("A/C off", DASHED, THIN_DASHED),
}


def course_chart(name: str, tank: str, courses: Sequence[DayCourse], band: Band, display: Display) -> Chart:
    """The courses of one tank, one for each scenario, over the clock, with those of its limits that lie near.

    The safe side of the estimate is drawn thick, the likely course thin.
    """
    courses = sorted(courses, key=lambda row: list(LINES).index(row.scenario))
    drawing = Drawing(
        name,
        f"Water of {tank} from midnight to midnight",
        f"Lines over the hours of the day: {', '.join(LINES[row.scenario][0] for row in courses)}; level lines mark "
        "the limits at which to watch and to act.",
        height=HEIGHT,
    )
    water = [value for row in courses for value in (*row.safe_c, *row.likely_c)]
    limits = [
        (f"{words} {display.temperature(limit)}", limit, style)
        for words, limit, style in (
            ("act", band.act_high_c, LIMIT),
            ("watch", band.watch_high_c, WATCH),
            ("watch", band.watch_low_c, WATCH),
            ("act", band.act_low_c, LIMIT),
        )
        if limit is not None and min(water) - NEAR_K <= limit <= max(water) + NEAR_K
    ]
    shown = [_shown(value, display) for value in (*water, *(limit for _, limit, _ in limits))]
    room = max(LEAST_SPAN - (max(shown) - min(shown)), 0.0) / 2.0 + 0.06 * (max(shown) - min(shown))
    across = Scale(0.0, 24.0, LEFT, WIDTH - RIGHT)
    up = Scale(min(shown) - room, max(shown) + room, HEIGHT - BOTTOM, TOP)
    value_axis(drawing, up, LEFT, WIDTH - RIGHT, 5, lambda value, step: f"{tick_words(value, step)}°")
    for hour in (0, 6, 12, 18, 24):
        drawing.line(((across(hour), HEIGHT - BOTTOM), (across(hour), HEIGHT - BOTTOM + 4.0)), LIMIT)
        drawing.words(across(hour), HEIGHT - 6.0, f"{hour:02d}:00", anchor="middle", size=11.0)
    drawing.line(((LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM)), LIMIT)
    labels = [(LINES[row.scenario][0], up(_shown(row.safe_c[-1], display))) for row in courses]
    for words, limit, style in limits:
        y = up(_shown(limit, display))
        drawing.line(((LEFT, y), (WIDTH - RIGHT, y)), style)
        labels.append((words, y))
    for row in courses:
        _, thick, thin = LINES[row.scenario]
        for values, style in ((row.likely_c, thin), (row.safe_c, thick)):
            drawing.line(
                ((across(h), up(_shown(value, display))) for h, value in zip(row.hours, values, strict=True)), style
            )
    for (words, _), y in zip(
        labels, kept_apart([y + 4.0 for _, y in labels], LINE_HEIGHT, TOP + 4.0, HEIGHT - BOTTOM), strict=True
    ):
        drawing.words(WIDTH - RIGHT + 5.0, y, words, size=11.0)
    said = " ".join(_said(row, band, display) for row in courses)
    return Chart(drawing.title, drawing.svg(), said.replace(" °", "\N{NO-BREAK SPACE}°"))


def _shown(temp_c: float, display: Display) -> float:
    return temp_c * 1.8 + 32.0 if display.us else temp_c


def _said(row: DayCourse, band: Band, display: Display) -> str:
    peak, likely = max(row.safe_c), max(row.likely_c)
    at = row.hours[row.safe_c.index(peak)] % 24.0
    words = SCENARIO_WORDS[row.scenario]
    steady = display.temperature(peak) == display.temperature(min(row.safe_c))
    when = "all day" if steady else f"at {int(at):02d}:{round(at % 1.0 * 60.0):02d}"
    text = f"{words[:1].upper()}{words[1:]}: at most {display.temperature(peak)} {when}"
    if display.temperature(likely) != display.temperature(peak):
        text += f", likely {display.temperature(likely)}"
    if band.act_high_c is None:
        return f"{text}; no upper limit is set."
    limit = display.both_temperatures(band.act_high_c)
    return f"{text}; {'past' if peak > band.act_high_c else 'below'} the act limit of {limit}."
