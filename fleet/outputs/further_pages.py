"""The pages beside sheets and cards: the fleet today, reports, device cards, hand-over sheets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from jinja2 import Environment

from fleet.outputs.device_view import DeviceCards
from fleet.outputs.discretion import DiscreetLookup
from fleet.outputs.handover_view import HandOvers, coming_closures
from fleet.outputs.lookup import Lookup
from fleet.outputs.names import file_names
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.report_view import ReportMaker
from fleet.outputs.today_view import Sheets, today_page
from fleet.outputs.words import long_day
from fleet.values.assessment import Assessment
from fleet.values.plan import Plan
from fleet.values.register import Closure

TODAY = "today.html"


@dataclass(frozen=True)
class FurtherNames:
    """File names by device, site and client code, and of each hand-over sheet by its closure."""

    devices: Mapping[str, str]
    site_reports: Mapping[str, str]
    client_reports: Mapping[str, str]
    hand_overs: Mapping[Closure, str]


def further_names(plan: Plan, lookup: Lookup) -> FurtherNames:
    """What the pages of this plan and fleet are called."""
    closures = {f"{row.site}-{row.since.isoformat()}": row for row in coming_closures(lookup, plan)}
    hand_overs = file_names("handover", closures, "html")
    return FurtherNames(
        devices=file_names("device", lookup.fleet.device_by_code, "html"),
        site_reports=file_names("report-site", lookup.fleet.site_by_code, "html"),
        client_reports=file_names("report-client", lookup.fleet.client_by_code, "html"),
        hand_overs={row: hand_overs[name] for name, row in closures.items()},
    )


def further_pages(
    templates: Environment,
    plan: Plan,
    lookup: Lookup,
    assessments: Sequence[Assessment],
    facts: PageFacts,
    names: FurtherNames,
    sheets: Sheets,
) -> dict[str, str]:
    """The pages by file name. Clients' reports name no file of the service and keep back what is not theirs."""
    frame = {"written": long_day(plan.today)}
    tanks = dict(sheets.tanks)
    page = today_page(plan, lookup, assessments, facts.backlog, sheets, plan.today)
    made = {TODAY: templates.get_template("today.html").render(page=page, **frame)}
    template = templates.get_template("report.html")
    reports = ReportMaker(plan, lookup, assessments, facts, tanks)
    for site, name in names.site_reports.items():
        made[name] = template.render(page=reports.of_site(site), **frame)
    for client, name in names.client_reports.items():
        discreet = DiscreetLookup(lookup.fleet, lookup.catalogue, client)
        own = ReportMaker(plan, discreet, assessments, facts, {})
        made[name] = template.render(page=own.of_client(client), **frame)
    template = templates.get_template("device.html")
    cards = DeviceCards(plan, lookup, assessments, facts, tanks)
    for device, name in names.devices.items():
        made[name] = template.render(card=cards.card(lookup.fleet.device_by_code[device]), **frame)
    template = templates.get_template("handover.html")
    hand_overs = HandOvers(plan, lookup, assessments, tanks)
    for closure, name in names.hand_overs.items():
        made[name] = template.render(page=hand_overs.sheet(closure), **frame)
    return made
