"""Addresses of feeds: kept as digests, one for each subscriber and feed, ended for ever, no secret on the trail."""

from __future__ import annotations

import hashlib
from datetime import date

import pytest

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.values.addresses import FeedAddress, Offer

HASHES = [hashlib.sha256(bytes([number])).hexdigest() for number in range(4)]


def give_out(register, now, code, subscriber, digest) -> FeedAddress:
    return register.add_address(Offer.SITE, code, subscriber, digest, who="ada", now=now, reason="asked for")


def test_an_address_keeps_its_number_and_its_end(database, now):
    with Register.open(database) as register:
        first = give_out(register, now, "LAG-1", "Night desk", HASHES[0])
        second = register.add_address(Offer.FLEET, None, "office", HASHES[1], who="ada", now=now, reason="asked for")
        ended = register.revoke_address(first.number, who="ada", now=now, reason="phone lost")
    with Register.open(database, read_only=True) as register:
        assert register.addresses() == (ended, second)
    assert (first.number, second.number) == (1, 2)
    assert ended.revoked_at == now
    assert ended.feed == "site LAG-1"


def test_a_subscriber_has_one_address_of_a_feed_at_a_time(database, now):
    with Register.open(database) as register:
        give_out(register, now, "LAG-1", "Night desk", HASHES[0])
    with pytest.raises(BadInput, match="number 1"), Register.open(database) as register:
        give_out(register, now, "LAG-1", "Night desk", HASHES[1])
    with Register.open(database) as register:
        give_out(register, now, "LAG-1", "Day desk", HASHES[2])
        register.revoke_address(1, who="ada", now=now, reason="phone lost")
        assert give_out(register, now, "LAG-1", "Night desk", HASHES[3]).number == 3


def test_what_was_never_given_out_or_has_ended_cannot_be_ended(database, now):
    with Register.open(database) as register:
        give_out(register, now, "LAG-1", "Night desk", HASHES[0])
        register.revoke_address(1, who="ada", now=now, reason="phone lost")
        with pytest.raises(BadInput, match="revoked already, on 2026-05-04"):
            register.revoke_address(1, who="ada", now=now, reason="again")
        with pytest.raises(NotFound, match="number 2"):
            register.revoke_address(2, who="ada", now=now, reason="again")


def test_the_trail_tells_who_gave_it_to_whom_and_holds_neither_secret_nor_digest(database, now):
    with Register.open(database) as register:
        give_out(register, now, "LAG-1", "Night desk", HASHES[0])
        register.revoke_address(1, who="ben", now=now, reason="phone lost")
        last, first = register.change_log(subject="address 1")
    assert (first.who, first.after) == ("ada", {"feed": "site LAG-1", "subscriber": "Night desk"})
    assert (last.who, last.reason) == ("ben", "phone lost")
    assert HASHES[0] not in repr((first, last))


def test_the_version_moves_with_the_register_and_not_with_addresses(database, now):
    with Register.open(database) as register:
        before = register.version()
        give_out(register, now, "LAG-1", "Night desk", HASHES[0])
        assert register.version() == before
        register.withdraw("closures", ("LAG-1", date(2026, 12, 24)), who="ada", now=now, reason="open after all")
        assert register.version() != before
