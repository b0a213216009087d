"""A margin with its spread as a strip that fits into a row of a table, and the axis over a column of strips."""

from __future__ import annotations

import math

from markupsafe import Markup

from fleet.outputs.charts import HAIR, LIMIT, SOLID, Drawing, Scale, Style
from fleet.outputs.words import margin_words, percent
from fleet.values.spread import Spread

STRIP_WIDTH, STRIP_HEIGHT = 180.0, 18.0
LOWEST, HIGHEST = -1.0, 2.0
"""Margins beyond are drawn up to an arrow at the edge."""
MARKS = (-1.0, 0.0, 1.0, 2.0)
EDGE = 12.0
NOTHING_TO_SPARE = Style(1.6)
ACROSS = Scale(LOWEST, HIGHEST, EDGE, STRIP_WIDTH - EDGE)


def margin_axis(name: str) -> Markup:
    """The axis of a column of strips: nothing to spare at 0, less than needed on its left."""
    drawing = Drawing(name, "Margin from −100 % to 200 %", "Nothing to spare at 0; short of it on the left.",
                      width=STRIP_WIDTH, height=STRIP_HEIGHT)  # fmt: skip
    for mark in MARKS:
        anchor = "start" if mark == LOWEST else "end" if mark == HIGHEST else "middle"
        x = {"start": 0.0, "end": STRIP_WIDTH}.get(anchor, ACROSS(mark))
        drawing.words(x, 12.0, f"{percent(mark)}" if mark else "0", anchor=anchor, size=11.0)
    return drawing.svg()


def margin_strip(name: str, subject: str, margin: Spread | None) -> Markup:
    """Low to high as a line, the likely margin as a dot, nothing to spare as an upright; empty without a margin."""
    said = "no margin" if margin is None else f"{margin_words(margin)}, at best {percent(margin.high)}"
    drawing = Drawing(name, f"Margin of {subject}", said, width=STRIP_WIDTH, height=STRIP_HEIGHT)
    middle = STRIP_HEIGHT / 2.0
    for mark in MARKS:
        style = NOTHING_TO_SPARE if mark == 0.0 else HAIR
        drawing.line(((ACROSS(mark), 1.0), (ACROSS(mark), STRIP_HEIGHT - 1.0)), style)
    if margin is not None:
        low, high = (min(max(value, LOWEST), HIGHEST) for value in (margin.low, margin.high))
        drawing.line(((ACROSS(low), middle), (ACROSS(high), middle)), SOLID)
        drawing.line(((ACROSS(low), middle - 4.0), (ACROSS(low), middle + 4.0)), SOLID)
        if margin.low < LOWEST:
            _arrow(drawing, ACROSS(LOWEST), middle, -1.0)
        if margin.high > HIGHEST:
            _arrow(drawing, ACROSS(HIGHEST), middle, 1.0)
        if math.isfinite(margin.mid) and LOWEST <= margin.mid <= HIGHEST:
            drawing.dot(ACROSS(margin.mid), middle, 3.2)
    return drawing.svg()


def _arrow(drawing: Drawing, x: float, y: float, way: float) -> None:
    tip = x + way * 9.0
    drawing.line(((x, y), (tip, y)), LIMIT)
    drawing.line(((tip - way * 4.0, y - 3.5), (tip, y), (tip - way * 4.0, y + 3.5)), LIMIT)
