"""The forms that one cell can take. Each form reads the text of a cell and writes a value as such a text.

`read` gets a text that is not empty and has no blanks at its ends, and raises ValueError with what was expected.
`write` gives a text that `read` takes back to exactly the same value.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

from fleet.values.vocabulary import SubjectKind

Units = str | None
"""UnitSystem of the client that a row belongs to; None writes metric units."""


class Form(Protocol):
    """How a value stands in a cell."""

    def read(self, text: str) -> Any: ...

    def write(self, value: Any, units: Units = None) -> str: ...


def nearest(word: str, known: Iterable[str]) -> str:
    """ "; the nearest is …" for a word close to a known one, else nothing."""
    close = difflib.get_close_matches(word, list(known), n=1)
    return f"; the nearest is {close[0]}" if close else ""


@dataclass(frozen=True)
class Text:
    """Free text. Line ends become \\n, or a blank where the text is one line by nature: a cell often hides one.
    Other control characters and what is no character at all are refused."""

    longest: int = 200
    lines: bool = False

    def read(self, text: str) -> str:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
        if not self.lines:
            text = text.replace("\n", " ")
        if len(text) > self.longest:
            raise ValueError(f"at most {self.longest} characters, not {len(text)}")
        allowed = "\n\t" if self.lines else ""
        if not text.isprintable() and any(_is_unprintable(character, allowed) for character in text):
            raise ValueError("printable text")
        return text

    def write(self, value: str, units: Units = None) -> str:
        return value


def _is_unprintable(character: str, allowed: str) -> bool:
    if unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp"):
        return character not in allowed
    return ord(character) & 0xFFFE == 0xFFFE


@dataclass(frozen=True)
class Pattern:
    """A short text of a set shape, in upper case where the shape is."""

    shape: re.Pattern[str]
    expected: str
    upper: bool = False

    def read(self, text: str) -> str:
        word = text.upper() if self.upper else text
        if not self.shape.fullmatch(word) or not word.isprintable():
            raise ValueError(self.expected)
        return word

    def write(self, value: str, units: Units = None) -> str:
        return value


_CODE = re.compile(r"[A-Za-z0-9._-]{1,24}", re.ASCII)
_CODE_EXPECTED = "a code of 1 to 24 letters, digits, - _ ."


@dataclass(frozen=True)
class Code:
    """The row's own code, or the code of another row of one of `kinds` (empty: of any kind)."""

    kinds: frozenset[SubjectKind] = frozenset()
    own: bool = False

    def read(self, text: str) -> str:
        if not _CODE.fullmatch(text):
            raise ValueError(_CODE_EXPECTED)
        return text

    def write(self, value: str, units: Units = None) -> str:
        return value


@dataclass(frozen=True)
class Codes:
    """Codes of other rows, separated by `;`. Order is kept, a code stands once."""

    kinds: frozenset[SubjectKind] = frozenset()

    def read(self, text: str) -> tuple[str, ...]:
        codes = split_list(text)
        if not all(_CODE.fullmatch(code) for code in codes):
            raise ValueError(f"codes separated by ;, each {_CODE_EXPECTED}")
        return codes

    def write(self, value: tuple[str, ...], units: Units = None) -> str:
        return ";".join(value)


def split_list(text: str) -> tuple[str, ...]:
    """The parts between `;` without blanks, each once, in order."""
    return tuple(dict.fromkeys(part.strip() for part in text.split(";") if part.strip()))


def _slug(text: str) -> str:
    return re.sub(r"[\s_]+", "-", text.strip().casefold())


@dataclass(frozen=True)
class Choice:
    """One word of a closed set."""

    words: type[StrEnum]

    def read(self, text: str) -> StrEnum:
        try:
            return self.words(_slug(text))
        except ValueError:
            raise ValueError(f"one of {', '.join(self.words)}{nearest(_slug(text), self.words)}") from None

    def write(self, value: StrEnum, units: Units = None) -> str:
        return value.value


@dataclass(frozen=True)
class Choices:
    """Words of a closed set, separated by `;`."""

    words: type[StrEnum]

    def read(self, text: str) -> tuple[StrEnum, ...]:
        return tuple(dict.fromkeys(Choice(self.words).read(part) for part in split_list(text)))

    def write(self, value: tuple[StrEnum, ...], units: Units = None) -> str:
        return ";".join(value)


_WORD = re.compile(r"[a-z0-9][a-z0-9-]{0,59}", re.ASCII)


@dataclass(frozen=True)
class Word:
    """One word of an open set, in lower case with hyphens ("Reef corals" is reef-corals)."""

    def read(self, text: str) -> str:
        if not _WORD.fullmatch(_slug(text)):
            raise ValueError("a word of letters, digits and hyphens, such as reef-corals")
        return _slug(text)

    def write(self, value: str, units: Units = None) -> str:
        return value


@dataclass(frozen=True)
class Words:
    """Words of an open set, separated by `;`."""

    def read(self, text: str) -> tuple[str, ...]:
        words = tuple(dict.fromkeys(_slug(part) for part in split_list(text)))
        if not all(_WORD.fullmatch(word) for word in words):
            raise ValueError("words separated by ;, such as dust;pets")
        return words

    def write(self, value: tuple[str, ...], units: Units = None) -> str:
        return ";".join(value)


@dataclass(frozen=True)
class YesNo:
    def read(self, text: str) -> bool:
        word = text.casefold()
        if word not in ("yes", "no"):
            raise ValueError("yes or no")
        return word == "yes"

    def write(self, value: bool, units: Units = None) -> str:
        return "yes" if value else "no"
