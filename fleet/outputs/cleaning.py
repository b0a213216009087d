"""Makes text that somebody typed fit to be written into a feed or onto a terminal."""

from __future__ import annotations

import re

UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffd\ufffe\uffff\ud800-\udfff]")
BLANKS = re.compile("[ \t\u00a0]+")


def clean(text: str) -> str:
    """The text without control characters, with single blanks and bare line feeds, no blanks at the ends of lines."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    lines = (BLANKS.sub(" ", UNPRINTABLE.sub("", line)).strip() for line in text.split("\n"))
    return "\n".join(lines).strip("\n")


def one_line(text: str, longest: int) -> str:
    """The cleaned text on one line of at most `longest` characters, an ellipsis where it was cut."""
    return clipped(" ".join(clean(text).split()), longest)


def clipped(text: str, longest: int) -> str:
    """The text, cut to `longest` characters with an ellipsis as the last."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"
