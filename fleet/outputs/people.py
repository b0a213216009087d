"""Whom to call, and the rules that say when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleet.outputs.lookup import Lookup
from fleet.outputs.words import capital, plain, short_day
from fleet.values.catalogue import Hazard, StopRule, TaskRule
from fleet.values.register import Contact
from fleet.values.vocabulary import ContactRole


@dataclass(frozen=True, slots=True)
class ContactRow:
    role: str
    name: str
    phone: str
    tested: str


@dataclass(frozen=True, slots=True)
class StopRow:
    """A sign, what to do at once, and whom to call with their numbers where they are on record."""

    number: int
    sign: str
    action: str
    call: str
    numbers: tuple[str, ...]


def role_words(role: ContactRole) -> str:
    """on call, room A/C, key holder."""
    return "room A/C" if role is ContactRole.ROOM_AC else plain(role)


def contact_rows(site: str | None, lookup: Lookup, first: Sequence[ContactRole] = ()) -> tuple[ContactRow, ...]:
    """The people to call at a site, in their order; those of the roles in `first` before the others."""
    contacts = lookup.contacts_by_site.get(site or "", ())
    ranks = {role: place for place, role in enumerate(first)}
    return tuple(
        ContactRow(
            capital(role_words(contact.role)),
            contact.name,
            contact.phone or "no number on record",
            f"tested {short_day(contact.tested_on)}" if contact.tested_on else "number not tested",
        )
        for contact in sorted(contacts, key=lambda contact: ranks.get(contact.role, len(ranks)))
    )


def stop_rows(
    rules: Iterable[TaskRule], hazards: Iterable[Hazard], site: str | None, lookup: Lookup
) -> tuple[StopRow, ...]:
    """The stop rules that go with the work, with the numbers of the site for each."""
    chosen = lookup.catalogue.stop_rules_for(rules, [hazard.code for hazard in hazards])
    return rows_of_stop_rules(chosen, site, lookup)


def rows_of_stop_rules(chosen: Iterable[StopRule], site: str | None, lookup: Lookup) -> tuple[StopRow, ...]:
    """These stop rules in the order of their numbers, with the telephone numbers of the site for each."""
    contacts = lookup.contacts_by_site.get(site or "", ())
    return tuple(
        StopRow(row.number, capital(row.sign), capital(row.action), capital(row.call), _numbers(row, contacts))
        for row in sorted(chosen, key=lambda row: row.number)
    )


def _numbers(row: StopRule, contacts: Iterable[Contact]) -> tuple[str, ...]:
    rows = tuple(contacts)
    found = [f"{contact.name}, {contact.phone}" for contact in rows if contact.role in row.roles and contact.phone]
    known = {contact.role for contact in rows if contact.phone}
    missing = [ContactRole(role) for role in row.roles if role not in known]
    return (*found, *(f"no {role_words(role)} number on record" for role in missing))
