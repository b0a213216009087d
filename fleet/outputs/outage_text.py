"""What a terminal shows of an outage: a table that can be worked down from its first line, and whom to call."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from fleet.outputs.columns import BOLD, FAINT, RED, YELLOW, Cell, Row, in_columns, painted, typed
from fleet.outputs.lookup import Lookup
from fleet.outputs.outage_view import OutageLine, failure_line, outage_list
from fleet.outputs.text import LINE_WIDTH
from fleet.outputs.words import NOT_A_CERTIFICATE
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.outage import Outage, RankedFailure

STYLES = (RED, YELLOW, "", FAINT)
"""By urgency."""


def outage_text(outage: Outage, fleet: Fleet, catalogue: Catalogue, *, colour: bool = False) -> str:
    """The tanks in order of urgency, what to do first for each, then whom to call and what the figures leave out."""
    listed = outage_list(outage, Lookup(fleet, catalogue))
    lines = [painted(typed(listed.title, LINE_WIDTH), BOLD if colour else ""), listed.begins, listed.tally]
    for warning in listed.at_once:
        lines += ["", painted(fill(warning, LINE_WIDTH), BOLD if colour else "")]
    if listed.lines:
        heading: Row = [
            Cell(text, FAINT)
            for text in ("within", "tank", "room", "limit passed", "limit", "goes to", "one more lost", "do first")
        ]
        lines += ["", *in_columns([heading, *(_row(line) for line in listed.lines)], indent=2, colour=colour)]
    for site, contacts in listed.calls:
        lines += ["", f"Call, {typed(site)}:" if contacts else f"No contact is on record for {typed(site)}."]
        lines += in_columns([[row.role, row.name, row.phone, row.tested] for row in contacts], indent=2, colour=colour)
    for stop in listed.stops:
        told = f"{stop.sign}: {stop.action} Call {stop.call[:1].lower()}{stop.call[1:]}."
        lines += ["", fill(typed(told, 400), LINE_WIDTH)]
    lines.append("")
    lines += [fill(typed(said, 600), LINE_WIDTH) for said in listed.said]
    lines.append("Hours are on the safe side: the most heat, the least cooling, the least water.")
    lines.append(fill(NOT_A_CERTIFICATE, LINE_WIDTH))
    return "\n".join(lines).replace("\N{MINUS SIGN}", "-")


def _row(line: OutageLine) -> Row:
    return [
        Cell(line.hours, STYLES[line.urgency], right=True),
        line.tank,
        line.room,
        line.when,
        line.limit,
        Cell(line.farthest, right=True),
        Cell(line.one_more, right=True),
        line.first,
    ]


def ranking_text(
    ranked: Sequence[RankedFailure], site: str, fleet: Fleet, catalogue: Catalogue, *, colour: bool = False
) -> str:
    """The single failures of a site, the worst first, with the tank that each hits first."""
    lookup = Lookup(fleet, catalogue)
    lines = [painted(f"What can fail at {typed(lookup.label(site))}, the worst first", BOLD if colour else "")]
    if not ranked:
        return "\n".join([*lines, "Nothing on record there cools a tank or its room."])
    rows: list[Row] = [
        [Cell(text, FAINT) for text in ("within", "what fails", "first tank", "limit", "within 24 h", "one more lost")]
    ]
    for failure in ranked:
        line = failure_line(failure, lookup)
        rows.append(
            [
                Cell(line.hours, STYLES[line.urgency], right=True),
                line.what,
                line.tank,
                line.limit,
                Cell(line.within_a_day, right=True),
                Cell(line.one_more, right=True),
            ]
        )
    lines += ["", *in_columns(rows, indent=2, colour=colour, longest=72), ""]
    lines.append(fill("Begun at the worst hour of a design hot day, tested standbys counted, spares not.", LINE_WIDTH))
    lines.append(fill(NOT_A_CERTIFICATE, LINE_WIDTH))
    return "\n".join(lines).replace("\N{MINUS SIGN}", "-")
