"""Gives out and takes back the addresses at which feeds and sheets are served."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import urlsplit

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.values.addresses import OF_A_CODE, FeedAddress, Offer
from fleet.values.fleet import Fleet
from fleet.values.register import Client, Site, Technician

TOKEN_OCTETS = 16
"""128 bits of chance, as the guidance on unguessable addresses asks (W3C TAG, Good Practices for Capability URLs)."""

TOKEN = re.compile(r"(?<![0-9a-f])[0-9a-f]{32}(?![0-9a-f])")
LONGEST_ADDRESS = 115
"""One widespread calendar cuts addresses at 116 characters."""

LONGEST_SUBSCRIBER = 80
OFFICE = "office"
TITLES = {Offer.FLEET: "every visit and task", Offer.SHEETS: "every sheet; they say how to get in, so for staff only"}


@dataclass(frozen=True, slots=True)
class Shared:
    """A new address; `url` holds its secret and is to be shown once."""

    address: FeedAddress
    title: str
    url: str


def share(
    url: str, words: Sequence[str], *, subscriber: str | None, base_url: str, who: str, today: date, now: datetime
) -> Shared:
    """Makes an address for what `words` name: `fleet`, `sheets`, or `site`, `client` or `technician` with a code.

    Without `subscriber` it is for the site, client or technician itself, else for the office. Raises BadInput for words
    or a base that cannot be taken, NotFound for a code that is not on record.
    """
    offer, code = _offer(words)
    base = base_of(base_url)
    token = secrets.token_hex(TOKEN_OCTETS)
    address = f"{base}{path_of(offer, token)}"
    if len(address) > LONGEST_ADDRESS:
        raise BadInput(
            f"--base-url {base_url!r}: the address would have {len(address)} characters: expected {LONGEST_ADDRESS} "
            "at most, as some calendars cut longer ones"
        )
    with Register.open(url) as register:
        name = _name(register.snapshot(today), offer, code)
        reader = _reader(subscriber, name)
        made = register.add_address(
            offer, code, reader, hash_of(token), who=who, now=now, reason="address of a feed given out"
        )
    return Shared(made, name or TITLES[offer], address)


def revoke(url: str, typed: str, *, who: str, now: datetime) -> FeedAddress:
    """Ends the address with this number, or the one given in full. Raises NotFound, BadInput."""
    with Register.open(url) as register:
        number = _number(typed, register.addresses())
        return register.revoke_address(number, who=who, now=now, reason="address of a feed revoked")


def shared(url: str) -> tuple[FeedAddress, ...]:
    """Every address ever given out, by number."""
    with Register.open(url, read_only=True) as register:
        return register.addresses()


def hash_of(token: str) -> str:
    """The SHA-256 of a token, as it is stored.

    A slow hash with salt protects words that people choose; 128 bits of chance cannot be tried out however quick the
    hash is, and every request pays for it.
    """
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def path_of(offer: Offer, token: str) -> str:
    """The path of an address below its base: calendars end in .ics, sheets are a folder."""
    return f"/s/{token}/" if offer is Offer.SHEETS else f"/c/{token}.ics"


def base_of(text: str) -> str:
    """The address of a server without a stroke at its end. Raises BadInput for what is no http address."""
    try:
        parts = urlsplit(text)
        port_fits = parts.port is None or parts.port > 0
    except ValueError:
        parts, port_fits = urlsplit(""), False
    plain = text.isascii() and text.isprintable() and not any(letter in text for letter in ' ?#@\\"<>')
    if not (plain and port_fits and parts.scheme in ("http", "https") and parts.hostname):
        raise BadInput(f"--base-url {text!r}: expected an address such as https://tanks.example.org")
    return text.rstrip("/")


def _offer(words: Sequence[str]) -> tuple[Offer, str | None]:
    first = words[0] if words else ""
    if first not in list(Offer):
        raise BadInput(f"FEED {' '.join(words)!r}: expected fleet, sheets, site CODE, client CODE or technician CODE")
    offer = Offer(first)
    wanted = 2 if offer in OF_A_CODE else 1
    if len(words) != wanted:
        raise BadInput(f"FEED {' '.join(words)!r}: expected {first}{' and one code' if wanted == 2 else ' alone'}")
    return offer, words[1] if wanted == 2 else None


def _name(fleet: Fleet, offer: Offer, code: str | None) -> str | None:
    """What the site, client or technician is called; None where there is no code."""
    if code is None:
        return None
    people_and_places: Mapping[Offer, Mapping[str, Site | Client | Technician]] = {
        Offer.SITE: fleet.site_by_code,
        Offer.CLIENT: fleet.client_by_code,
        Offer.TECHNICIAN: fleet.technician_by_code,
    }
    on_record = people_and_places[offer]
    if code not in on_record:
        raise NotFound(f"no {offer} {code!r} on record; `fleet show {offer}s` lists them")
    return on_record[code].name


def _reader(subscriber: str | None, name: str | None) -> str:
    reader = " ".join((subscriber if subscriber is not None else name or OFFICE).split())
    if not reader or len(reader) > LONGEST_SUBSCRIBER or not reader.isprintable():
        raise BadInput(f"--for {subscriber!r}: expected a name of 1 to {LONGEST_SUBSCRIBER} characters")
    return reader


def _number(typed: str, addresses: Sequence[FeedAddress]) -> int:
    if typed.isascii() and typed.isdigit() and len(typed) < 10:
        return int(typed)
    token = TOKEN.search(typed.lower())
    if token is None:
        raise BadInput("--revoke: expected the number of an address or the address itself")
    digest = hash_of(token.group())
    for address in addresses:
        if address.token_hash == digest:
            return address.number
    raise NotFound("that address was never given out, or its last characters are missing")
