"""Addresses under which feeds and sheets are served: who has which."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Offer(StrEnum):
    """What an address opens."""

    FLEET = "fleet"
    SITE = "site"
    CLIENT = "client"
    TECHNICIAN = "technician"
    SHEETS = "sheets"


OF_A_CODE = (Offer.SITE, Offer.CLIENT, Offer.TECHNICIAN)
"""Offers that are about one site, client or technician."""


@dataclass(frozen=True, slots=True)
class FeedAddress:
    """One subscriber's address of one feed, or of the sheets.

    `token_hash` is the SHA-256 of the secret part, as 64 hexadecimal digits; the secret itself is kept nowhere. `code`
    is None for what is not about one site, client or technician.
    """

    number: int
    offer: Offer
    code: str | None
    subscriber: str
    token_hash: str
    made_at: datetime
    revoked_at: datetime | None = None

    @property
    def feed(self) -> str:
        """What it opens, as it is typed: `fleet`, `site QUIL`."""
        return f"{self.offer} {self.code}" if self.code is not None else str(self.offer)
