"""What must not stand on a client's copy: other clients, ways in, numbers and licences of the people who work there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from fleet.outputs.cleaning import one_line
from fleet.outputs.lookup import Lookup

LEAST_LETTERS = 4
"""Names shorter than this are too common a word to be looked for."""
LEAST_DIGITS = 3
LEAST_OF_A_NUMBER = 6
KEPT_BACK = "(note kept by the service)"
LONGEST_NOTE = 400


@dataclass(frozen=True)
class DiscreetLookup(Lookup):
    """A lookup whose answers may be read by one client: what is not theirs to know is not in its names.

    The words that it keeps back are looked for in everything that somebody typed: names and addresses of other clients
    and their sites, telephone numbers and mail addresses of contacts and staff, licences, and in the access notes of
    any site the notes themselves and each word with three digits or more.
    """

    client: str = ""

    def name(self, code: str) -> str:
        """The name, or the code alone where the name tells too much."""
        name = super().name(code)
        return code if self.tells_too_much(name) else name

    def note(self, text: str | None) -> str:
        """A note of the staff as the client may read it."""
        words = one_line(text or "", LONGEST_NOTE)
        return KEPT_BACK if self.tells_too_much(words) else words

    def tells_too_much(self, text: str) -> bool:
        """Whether the text holds anything that is kept back from this client."""
        tidy = _tidy(text)
        if self._words is not None and self._words.search(tidy):
            return True
        digits = re.sub(r"\D", "", text)
        return any(number in digits for number in self._numbers)

    @cached_property
    def _own_sites(self) -> frozenset[str]:
        return frozenset(site.code for site in self.fleet.sites if site.client == self.client)

    @cached_property
    def _words(self) -> re.Pattern[str] | None:
        known = _tidy(" / ".join(self._own_names()))
        secret = {word for word in map(_tidy, self._secret_texts()) if len(word) >= LEAST_LETTERS and word not in known}
        for site in self.fleet.sites:
            notes = _tidy(site.access_notes or "")
            secret.update(
                word for word in re.findall(r"[\w#*-]+", notes) if sum(map(str.isdigit, word)) >= LEAST_DIGITS
            )
        if not secret:
            return None
        return re.compile(r"(?<!\w)(?:" + "|".join(sorted(map(re.escape, secret))) + r")(?!\w)")

    def _own_names(self) -> Iterator[str]:
        fleet = self.fleet
        yield from (row.name for row in fleet.clients if row.code == self.client)
        yield from (row.name for row in fleet.sites if row.code in self._own_sites)
        yield from (row.name for row in fleet.rooms if row.site in self._own_sites)
        yield from (row.name for row in fleet.tanks if fleet.site_of(row.code) in self._own_sites)

    def _secret_texts(self) -> Iterable[str]:
        fleet = self.fleet
        for client in fleet.clients:
            if client.code != self.client:
                yield from (text for text in (client.name, client.contact, client.email) if text)
        for site in fleet.sites:
            if site.access_notes:
                yield site.access_notes
            if site.code not in self._own_sites:
                yield from (text for text in (site.name, site.address) if text)
        for person in fleet.technicians:
            yield from (text for text in (person.email, person.licence) if text)

    @cached_property
    def _numbers(self) -> frozenset[str]:
        fleet = self.fleet
        phones = [*(row.phone for row in fleet.clients), *(row.phone for row in fleet.contacts)]
        digits = (re.sub(r"\D", "", phone or "") for phone in phones)
        return frozenset(number for number in digits if len(number) >= LEAST_OF_A_NUMBER)


def _tidy(text: str) -> str:
    return " ".join(text.casefold().split())
