"""Keys that people read aloud and type."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.planning.keys import ALPHABET, KeyBook, normal_key, short_key

CROCKFORD = "D. Crockford, Base 32: symbols 0-9 and A-Z without I, L, O, U; I and L read as 1, O as 0 (from memory)"


def test_the_alphabet_has_no_signs_that_are_taken_for_others() -> None:
    assert ALPHABET == "0123456789ABCDEFGHJKMNPQRSTVWXYZ", CROCKFORD


@given(st.text(max_size=60))
@settings(max_examples=100, deadline=None)
def test_every_key_is_three_and_four_unmistakable_signs(text: str) -> None:
    assert re.fullmatch(f"[{ALPHABET}]{{3}}-[{ALPHABET}]{{4}}", short_key(text))


@pytest.mark.parametrize("typed", ["1k0-v9qz", "IKO V9QZ", "lko-u9qz", " 1K0V9QZ ", "1k0v-9qz"])
def test_a_key_is_found_however_it_is_typed(typed: str) -> None:
    assert normal_key(typed) == "1K0-V9QZ", CROCKFORD


@given(st.text(max_size=30))
@settings(max_examples=60, deadline=None)
def test_a_printed_key_is_its_own_normal_form(text: str) -> None:
    assert normal_key(short_key(text)) == short_key(text)


def test_a_hundred_thousand_tasks_have_a_hundred_thousand_keys() -> None:
    book = KeyBook()
    assert len({book.key_for(f"task {number}") for number in range(100_000)}) == 100_000


def test_a_taken_key_is_made_longer_and_the_older_owner_keeps_his() -> None:
    owned = short_key("new")
    book = KeyBook({"old": owned})
    assert book.key_for("old") == owned
    assert book.key_for("new") == short_key("new", 8)
    assert book.key_for("new").startswith(owned)
