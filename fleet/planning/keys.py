"""Short keys that can be printed, read aloud and typed, and that stay the same from plan to plan."""

from __future__ import annotations

from collections.abc import Container, Iterable
from hashlib import blake2b

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32: no I, L, O or U, which are taken for 1, 1, 0 and V."""

KEY_LENGTH = 7
HEAD = 3
LONGEST = 24


def stable_number(text: str) -> int:
    """A number in [0, 2^120) made from the text alone: the same on every machine and in every run."""
    return int.from_bytes(blake2b(text.encode(), digest_size=15).digest(), "big")


def short_key(text: str, length: int = KEY_LENGTH) -> str:
    """The first `length` base-32 digits of the text's digest, written like 7K3-Q9MD. `length` 4 to 24."""
    number = stable_number(text)
    digits = "".join(ALPHABET[number >> (5 * place) & 31] for place in range(LONGEST - 1, LONGEST - 1 - length, -1))
    return f"{digits[:HEAD]}-{digits[HEAD:]}"


class KeyBook:
    """Hands out keys, no two alike. A text that had a key before gets it again.

    A text whose short key is taken gets one digit more, and so on; ask in sorted order, so that the same texts
    always come out with the same keys. `taken` and `besides` are keys that stand for something else; `besides` is only
    asked, never copied, and may be large.
    """

    def __init__(
        self, kept: dict[str, str] | None = None, taken: Iterable[str] = (), besides: Container[str] = frozenset()
    ) -> None:
        self._kept = dict(kept or {})
        self._taken = {*self._kept.values(), *taken}
        self._besides = besides

    def key_for(self, text: str) -> str:
        if text in self._kept:
            return self._kept[text]
        for length in range(KEY_LENGTH, LONGEST + 1):
            key = short_key(text, length)
            if key not in self._taken and key not in self._besides:
                self._kept[text] = key
                self._taken.add(key)
                return key
        raise RuntimeError(f"no free key for {text!r}")


def normal_key(typed: str) -> str:
    """A key as it is printed, from a key as it was typed: any case, dashes or spaces anywhere, I and L for 1, O for 0
    and U for V. What is no key at all comes back in the same form and is found nowhere."""
    digits = "".join(sign for sign in typed.upper() if sign.isalnum()).translate(str.maketrans("ILOU", "110V"))
    return f"{digits[:HEAD]}-{digits[HEAD:]}"
