"""Keeps the addresses at which feeds and sheets are served, and tells when what they show may have changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, func, insert, select, update

from fleet.db.plan_store import IN_FORCE, PUBLISHED, read_saved_at
from fleet.db.rows_in import Signature
from fleet.db.tables import METADATA
from fleet.db.trail import entry_dict, write_log
from fleet.errors import BadInput, NotFound
from fleet.values.addresses import FeedAddress, Offer

_ADDRESS = METADATA.tables["feed_address"]
_LOG = METADATA.tables["change_log"]
_FIELDS = ("number", "offer", "code", "subscriber", "token_hash", "made_at", "revoked_at")

Version = tuple[int, datetime | None, datetime | None]
"""The last entry of the change log that is not about addresses; when the plan was saved and when it was published."""


def read_version(connection: Connection) -> Version:
    """Stands for the state of register, plan and edition: while it is the same, so is everything made from them."""
    last = connection.execute(select(func.max(_LOG.c.id)).where(_LOG.c.file != _ADDRESS.name)).scalar()
    return last or 0, read_saved_at(connection, IN_FORCE), read_saved_at(connection, PUBLISHED)


def read_addresses(connection: Connection) -> tuple[FeedAddress, ...]:
    """Every address ever given out, by number."""
    query = select(*(_ADDRESS.c[name] for name in _FIELDS)).order_by(_ADDRESS.c.number)
    return tuple(FeedAddress(*row) for row in connection.execute(query))


def add_address(
    connection: Connection, offer: Offer, code: str | None, subscriber: str, token_hash: str, signed: Signature
) -> FeedAddress:
    """Keeps a new address. Raises BadInput where the subscriber has one of that feed already."""
    address = FeedAddress(0, offer, code, subscriber, token_hash, signed.at)
    for known in read_addresses(connection):
        if known.revoked_at is None and (known.feed, known.subscriber) == (address.feed, subscriber):
            raise BadInput(
                f"{subscriber} has an address of this already, number {known.number}; for a new one revoke it first "
                "or name another subscriber with --for"
            )
    cells = {name: getattr(address, name) for name in _FIELDS if name != "number"}
    number = connection.execute(insert(_ADDRESS).returning(_ADDRESS.c.number), cells).scalar_one()
    made = replace(address, number=number)
    _log(connection, made, signed, None, {"feed": made.feed, "subscriber": subscriber})
    return made


def revoke_address(connection: Connection, number: int, signed: Signature) -> FeedAddress:
    """Ends an address for ever; returns it as it then is. Raises NotFound, or BadInput where it has ended already."""
    found = next((address for address in read_addresses(connection) if address.number == number), None)
    if found is None:
        raise NotFound(f"no address has number {number}; `fleet share --list` lists them")
    if found.revoked_at is not None:
        raise BadInput(f"address {number} was revoked already, on {found.revoked_at.date().isoformat()}")
    connection.execute(update(_ADDRESS).where(_ADDRESS.c.number == number).values(revoked_at=signed.at))
    _log(connection, found, signed, {"revoked_at": None}, {"revoked_at": signed.at.isoformat()})
    return replace(found, revoked_at=signed.at)


def _log(
    connection: Connection,
    address: FeedAddress,
    signed: Signature,
    before: dict[str, None] | None,
    after: dict[str, str],
) -> None:
    """On the trail stands the number alone: neither the secret nor its digest."""
    entry = entry_dict(
        at=signed.at, who=signed.who, reason=signed.reason, file=_ADDRESS.name, key=(f"address {address.number}",),
        before=before, after=after,
    )  # fmt: skip
    write_log(connection, [entry])
