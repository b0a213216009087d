"""The page that hangs by the telephone of a site: what each tank does without power or air conditioning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.outputs.lookup import Lookup
from fleet.outputs.outage_view import OutageList, outage_list
from fleet.outputs.people import ContactRow, StopRow, contact_rows
from fleet.outputs.words import NOT_A_CERTIFICATE
from fleet.values.outage import Outage
from fleet.values.vocabulary import ContactRole


@dataclass(frozen=True, slots=True)
class OutagePage:
    """`cards` holds the file name of each tank's card by its code."""

    site: str
    lists: tuple[OutageList, ...]
    contacts: tuple[ContactRow, ...]
    stops: tuple[StopRow, ...]
    cards: Mapping[str, str]
    closing: str


def outage_page(site: str, outages: Sequence[Outage], lookup: Lookup, cards: Mapping[str, str]) -> OutagePage:
    """The page of a site from its failures, in the order given."""
    lists = tuple(outage_list(outage, lookup) for outage in outages)
    stops = {stop.number: stop for listed in lists for stop in listed.stops}
    return OutagePage(
        site=lookup.name(site),
        lists=lists,
        contacts=contact_rows(site, lookup, first=(ContactRole.ON_CALL,)),
        stops=tuple(stops[number] for number in sorted(stops)),
        cards=cards,
        closing=NOT_A_CERTIFICATE,
    )
