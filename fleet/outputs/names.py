"""File names made from codes, and the identifiers that calendars know entries by."""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import blake2b

UID_DOMAIN = "fleet.invalid"
"""A name that RFC 2606 keeps out of use: it can belong to nobody else."""


def file_names(prefix: str, codes: Iterable[str], suffix: str) -> dict[str, str]:
    """A file name for each code, `prefix-code.suffix`. Codes that differ only in the case of their letters get a
    number, as some file systems hold such names for the same."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for code in sorted(set(codes)):
        safe = "".join(letter if letter.isalnum() or letter in "-_." else "_" for letter in code)
        name, number = f"{prefix}-{safe}.{suffix}", 2
        while name.casefold() in taken:
            name, number = f"{prefix}-{safe}~{number}.{suffix}", number + 1
        taken.add(name.casefold())
        names[code] = name
    return names


def uid(kind: str, key: str) -> str:
    """The identifier of a task or visit, the same in every feed and for ever."""
    return f"{key}.{kind}@{UID_DOMAIN}"


def digest(*parts: str) -> str:
    """Sixteen hexadecimal digits that stand for the parts, whatever characters they hold."""
    return blake2b("\0".join(parts).encode(), digest_size=8).hexdigest()
