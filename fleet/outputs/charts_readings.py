"""Readings of one quantity over time, with what they are held against."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from fleet.outputs.charts import (
    DOTTED,
    LIMIT,
    LINE_HEIGHT,
    THIN,
    THIN_DASHED,
    WIDTH,
    Chart,
    Drawing,
    Scale,
    kept_apart,
    tick_words,
    value_axis,
)
from fleet.outputs.words import count_words, short_day

HEIGHT = 170.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 98.0, 20.0, 22.0
LEAST = 3
"""Fewer readings than this are a table, not a course."""
QUARTER_DAYS = 92


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one quantity on one subject, oldest first, in the unit in which they are shown.

    `title` names quantity and subject, `what` the quantity alone. `write` gives a value with its unit. `baseline` is
    the value that later ones are compared with, `low` and `high` the band in which they are expected, None where there
    is none; `limit` is the word for its ends, `band` tells it in words.
    """

    title: str
    what: str
    points: tuple[tuple[date, float], ...]
    write: Callable[[float], str]
    unit: str
    baseline: float | None = None
    low: float | None = None
    high: float | None = None
    limit: str = ""
    band: str = ""


def readings_chart(name: str, series: Series) -> Chart | None:
    """The readings as dots over the days with baseline and band; None where they are too few to draw."""
    days = [day for day, _ in series.points]
    if len(days) < LEAST or days[0] == days[-1]:
        return None
    drawing = Drawing(
        name,
        series.title,
        f"{count_words(len(days), 'reading')} from {short_day(days[0])} to {short_day(days[-1])}, a dot for each.",
        height=HEIGHT,
    )
    levels = [
        (words, level)
        for words, level in (("baseline", series.baseline), (series.limit, series.high), (series.limit, series.low))
        if level is not None
    ]
    values = [value for _, value in series.points]
    ends = [*values, *(level for _, level in levels)]
    room = (max(ends) - min(ends)) * 0.08 or max(abs(ends[0]) * 0.05, 0.5)
    up = Scale(min(ends) - room, max(ends) + room, HEIGHT - BOTTOM, TOP)
    across = Scale(days[0].toordinal(), days[-1].toordinal(), LEFT + 4.0, WIDTH - RIGHT - 4.0)
    drawing.words(LEFT - 5.0, 11.0, series.unit, anchor="end", size=11.0)
    value_axis(drawing, up, LEFT, WIDTH - RIGHT, 4, tick_words)
    drawing.line(((LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM)), LIMIT)
    _days(drawing, across, days[0], days[-1])
    if series.low is not None and series.high is not None:
        corners = ((LEFT, series.low), (WIDTH - RIGHT, series.low), (WIDTH - RIGHT, series.high), (LEFT, series.high))
        drawing.area(((x, up(value)) for x, value in corners), 0.08)
    for words, level in levels:
        drawing.line(((LEFT, up(level)), (WIDTH - RIGHT, up(level))), THIN_DASHED if words == "baseline" else DOTTED)
    drawing.line(((across(day.toordinal()), up(value)) for day, value in series.points), THIN)
    for day, value in series.points:
        drawing.dot(across(day.toordinal()), up(value), 2.1)
    labels = [(f"{words} {series.write(level)}", up(level) + 4.0) for words, level in levels]
    labels.append((f"last {series.write(values[-1])}", up(values[-1]) + 4.0))
    for (text, _), y in zip(labels, kept_apart([y for _, y in labels], LINE_HEIGHT, TOP, HEIGHT - 8.0), strict=True):
        drawing.words(WIDTH - RIGHT + 5.0, y, text, size=11.0)
    return Chart(drawing.title, drawing.svg(), said(series))


def said(series: Series) -> str:
    """The readings in a sentence: how many, from what to what, the last, and what they are held against."""
    values = [value for _, value in series.points]
    if len(values) == 1:
        return f"1 reading: {series.write(values[0])} on {short_day(series.points[0][0])}."
    low, high, last = (series.write(value) for value in (min(values), max(values), values[-1]))
    spread = f"{low} to {high}" if low != high else f"each {low}"
    text = f"{count_words(len(values), 'reading')}, {spread}; the last {last} on {short_day(series.points[-1][0])}"
    if series.baseline is not None:
        text += f"; baseline {series.write(series.baseline)}, the first on record"
    if series.band:
        text += f"; {series.band}"
    return f"{text}."


def _days(drawing: Drawing, across: Scale, first: date, last: date) -> None:
    """A tick and a label at the turns of years, or of months where the readings span less than two years."""
    marks: list[tuple[date, str]] = []
    span = (last - first).days
    months = (1,) if span > 2 * 365 else (1, 4, 7, 10) if span > QUARTER_DAYS else tuple(range(1, 13))
    for year in range(first.year, last.year + 1):
        for month in months:
            day = date(year, month, 1)
            if first <= day <= last:
                words = str(year) if month == 1 else short_day(day)[2:5]
                marks.append((day, words))
    y = HEIGHT - BOTTOM
    for day, words in marks:
        x = across(day.toordinal())
        drawing.line(((x, y), (x, y + 4.0)), LIMIT)
        drawing.words(x, HEIGHT - 6.0, words, anchor="middle", size=11.0)
    if len(marks) < 2:
        for day, anchor in ((first, "start"), (last, "end")):
            drawing.words(across(day.toordinal()), HEIGHT - 6.0, short_day(day), anchor=anchor, size=11.0)
