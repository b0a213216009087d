"""Days, spans and lists as people write them, for the reasons that the planner gives."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


def day_words(day: date) -> str:
    """ "3 May 2026", the same in every locale."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def inside_a_sentence(title: str) -> str:
    """The title with a small first letter, unless it begins with an abbreviation."""
    return title if title[1:2].isupper() else f"{title[:1].lower()}{title[1:]}"


def listed(words: Iterable[str]) -> str:
    """ "a", "a and b", "a, b and c"; empty for nothing."""
    every = list(words)
    if len(every) < 2:
        return "".join(every)
    return f"{', '.join(every[:-1])} and {every[-1]}"


def sentence(text: str) -> str:
    """The text with a capital first letter and one full stop."""
    trimmed = text.strip().rstrip(".")
    return f"{trimmed[:1].upper()}{trimmed[1:]}."
