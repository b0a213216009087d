"""Line drawings as inline SVG, made from data alone: the pen, the scales and the labels that the charts share.

Everything is drawn in the colour of the text around it, told apart by the style of its line and a label beside it, so
that a grey print and a dark page lose nothing. A drawing is 420 units wide: about as wide as half a sheet or a phone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

from fleet.outputs.cleaning import one_line

WIDTH = 420.0
LETTERS = 12.0
LETTER_WIDTH = 6.2
LINE_HEIGHT = 13.5
LONGEST_TEXT = 400
STEPS = (1.0, 2.0, 5.0)

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Style:
    """How a line is drawn: its width and, where it is broken, the lengths of strokes and gaps."""

    width: float
    dashes: str = ""


SOLID, DASHED = Style(2.0), Style(2.0, "8 4")
THIN, THIN_DASHED = Style(0.9), Style(0.9, "8 4")
LIMIT, WATCH, DOTTED, HAIR = Style(1.3), Style(1.1, "2 3"), Style(1.1, "1 3"), Style(0.5)


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing for a page, the title over it, and the sentence with its numbers that stands beside it."""

    title: str
    svg: Markup
    said: str


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to places along one axis; `low` and `high` are the values at its ends."""

    low: float
    high: float
    first: float
    last: float

    def __call__(self, value: float) -> float:
        return self.first + (value - self.low) / (self.high - self.low) * (self.last - self.first)


class Drawing:
    """A picture with a title and a description for those who do not see it. `name` is unique on its page."""

    def __init__(self, name: str, title: str, description: str, *, width: float = WIDTH, height: float) -> None:
        self.name, self.title, self.description = _text(name), title, description
        self.width, self.height = width, height
        self.parts: list[str] = []

    def line(self, points: Iterable[Point], style: Style = SOLID) -> None:
        """A line through the points."""
        way = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        dashes = f' stroke-dasharray="{style.dashes}"' if style.dashes else ""
        self.parts.append(
            f'<polyline points="{way}" fill="none" stroke="currentColor" stroke-width="{number(style.width)}"'
            f'{dashes} stroke-linejoin="round"/>'
        )

    def area(self, points: Iterable[Point], opacity: float) -> None:
        """A plain tint."""
        way = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        self.parts.append(f'<polygon points="{way}" fill="currentColor" fill-opacity="{opacity:g}" stroke="none"/>')

    def box(self, x: float, y: float, width: float, height: float, *, filled: bool) -> None:
        """A bar, full or as an outline."""
        paint = 'fill="currentColor"' if filled else 'fill="none" stroke="currentColor" stroke-width="0.9"'
        self.parts.append(
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}" {paint}/>'
        )

    def dot(self, x: float, y: float, radius: float) -> None:
        """A full dot."""
        self.parts.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="currentColor"/>')

    def words(self, x: float, y: float, text: str, *, anchor: str = "start", size: float = LETTERS) -> None:
        """Text on the line at `y`; `anchor` is start, middle or end."""
        self.parts.append(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" text-anchor="{anchor}" '
            f'fill="currentColor">{_text(text)}</text>'
        )

    def svg(self) -> Markup:
        """The drawing as an element for a page."""
        name = self.name
        return Markup(
            f'<svg class="chart" viewBox="0 0 {number(self.width)} {number(self.height)}" role="img" '
            f'aria-labelledby="{name}-t {name}-d"><title id="{name}-t">{_text(self.title)}</title>'
            f'<desc id="{name}-d">{_text(self.description)}</desc>{"".join(self.parts)}</svg>'
        )


def number(value: float) -> str:
    """A coordinate to a tenth of a unit, the same on every machine."""
    return f"{value:z.1f}".removesuffix(".0")


def _text(text: str) -> str:
    """Text that may stand in an element or an attribute, without what no XML may hold."""
    return escape(one_line(text, LONGEST_TEXT), quote=True)


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values from `low` to `high`, at most so many: a step of 1, 2 or 5 times a power of ten."""
    if not high > low:
        return (low,)
    exponent = math.floor(math.log10((high - low) / most))
    for step in (factor * 10.0**power for power in range(exponent, exponent + 3) for factor in STEPS):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < most:
            return tuple(place * step for place in range(first, last + 1))
    return (low,)


def tick_words(value: float, step: float) -> str:
    """The value with as many decimals as the step between ticks needs."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0
    return f"{value:z.{decimals}f}".replace("-", "\N{MINUS SIGN}")


def kept_apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """The places of labels moved as little as needed to lie `gap` apart inside [low, high], in their order."""
    order = sorted(range(len(places)), key=lambda i: (places[i], i))
    moved = list(places)
    edge = low
    for i in order:
        moved[i] = max(moved[i], edge)
        edge = moved[i] + gap
    edge = high
    for i in reversed(order):
        moved[i] = min(moved[i], edge)
        edge = moved[i] - gap
    return moved


def value_axis(
    drawing: Drawing, scale: Scale, left: float, right: float, most: int, write: Callable[[float, float], str]
) -> None:
    """Fine lines across at round values, each with its words at the left; `write` gets a value and the step."""
    marks = ticks(scale.low, scale.high, most)
    step = marks[1] - marks[0] if len(marks) > 1 else 1.0
    for mark in marks:
        y = scale(mark)
        drawing.line(((left, y), (right, y)), HAIR)
        drawing.words(left - 5.0, y + 4.0, write(mark, step), anchor="end")
