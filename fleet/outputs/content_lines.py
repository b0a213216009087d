"""Content lines of iCalendar (RFC 5545, 3.1): escapes, instants and folds, as octets."""

from __future__ import annotations

from datetime import UTC, date, datetime

LINE_OCTETS = 75


def escaped(text: str) -> str:
    """Text with the four escapes of RFC 5545, 3.3.11. A backslash stays what it is: the library would read a typed
    `\\N` as a line break."""
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def moment_text(moment: date) -> str:
    """A day as 20260522, an aware instant as 20260522T130000Z, fractions of a second cut off."""
    if not isinstance(moment, datetime):
        return f"{moment.year:04d}{moment.month:02d}{moment.day:02d}"
    m = moment if moment.tzinfo is UTC else moment.astimezone(UTC)
    return f"{m.year:04d}{m.month:02d}{m.day:02d}T{m.hour:02d}{m.minute:02d}{m.second:02d}Z"


def folded(line: bytes) -> bytes:
    """One content line, CRLF at its end, in physical lines of at most 75 octets.

    A fold falls between characters and never inside a backslash escape: the library's own folding can cut the pair
    that stands for a backslash, and some readers then show the raw text.
    """
    length = len(line)
    if length <= LINE_OCTETS:
        return line + b"\r\n"
    pieces: list[bytes] = []
    start, end = 0, LINE_OCTETS
    while end < length:
        while line[end] & 0xC0 == 0x80:
            end -= 1
        if line[end - 1] == 0x5C:
            taken = line[start:end]
            if (len(taken) - len(taken.rstrip(b"\\"))) % 2:
                end -= 1
        pieces.append(line[start:end])
        start, end = end, end + LINE_OCTETS - 1
    pieces.append(line[start:])
    return b"\r\n ".join(pieces) + b"\r\n"
