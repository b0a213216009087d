"""The pages of a plan: index, service sheets, tank cards, checklists. Each is one file that needs nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from fleet import resources
from fleet.outputs.checklist_view import checklist, tasks_by_site
from fleet.outputs.further_pages import further_names, further_pages
from fleet.outputs.index_view import Pages, index
from fleet.outputs.lookup import Lookup
from fleet.outputs.names import file_names
from fleet.outputs.outage_page import outage_page
from fleet.outputs.page_facts import PageFacts
from fleet.outputs.printing import css_string
from fleet.outputs.returns import return_names
from fleet.outputs.tank_view import CardMaker
from fleet.outputs.today_view import Sheets
from fleet.outputs.visit_view import SheetMaker
from fleet.outputs.words import DEFERENCE, capital, long_day
from fleet.values.assessment import Assessment
from fleet.values.catalogue import Catalogue
from fleet.values.fleet import Fleet
from fleet.values.outage import Outage
from fleet.values.plan import Plan, Visit


def environment() -> Environment:
    """The template environment: every value is escaped, an unknown name is an error."""
    made = Environment(
        loader=FileSystemLoader(resources.templates(), encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["css_string"] = css_string
    made.filters["capital"] = capital
    return made


def all_sheets(
    plan: Plan,
    fleet: Fleet,
    catalogue: Catalogue,
    assessments: Sequence[Assessment],
    *,
    today: date,
    days: int = 28,
    outages: Mapping[str, Sequence[Outage]] | None = None,
    facts: PageFacts | None = None,
    first: date | None = None,
    only_site: str | None = None,
    base_url: str | None = None,
) -> dict[str, str]:
    """Every page by file name: index.html, visit-KEY.html for the visits from today to `days` on, tank-CODE.html,
    checklist-SITE.html for the sites whose people have something to do, outage-SITE.html for those with `outages`. With
    `facts` also today.html, report-site-CODE.html, report-client-CODE.html, device-CODE.html and, for each closure to
    come, handover-SITE-DAY.html. The same input gives the same text."""
    lookup = Lookup(fleet, catalogue)
    closing = catalogue.hazard_closing or DEFERENCE
    last = today + timedelta(days=days)
    visits = sheet_visits(plan, first or today, last, only_site)
    own_work = tasks_by_site(plan, last)
    pages = Pages(
        visits=file_names("visit", (visit.key for visit in visits), "html"),
        tanks=file_names("tank", fleet.tank_by_code, "html"),
        checklists=file_names("checklist", own_work, "html"),
        outages=file_names("outage", outages or (), "html"),
        further=further_names(plan, lookup) if facts is not None else None,
    )
    templates = environment()
    frame = {"written": long_day(today)}
    sheets = SheetMaker(
        plan,
        lookup,
        pages.tanks,
        closing,
        assessments=assessments,
        returns=return_names(visits),
        addresses=_addresses(pages.visits, base_url),
    )
    cards = CardMaker(plan, lookup, assessments, outages or {}, _addresses(pages.tanks, base_url))
    made = {
        "index.html": templates.get_template("index.html").render(
            page=index(plan, lookup, assessments, pages, today=today, days=days), **frame
        )
    }
    page = templates.get_template("visit.html")
    for visit in visits:
        made[pages.visits[visit.key]] = page.render(sheet=sheets.sheet(visit), **frame)
    page = templates.get_template("tank.html")
    for tank in fleet.tanks:
        made[pages.tanks[tank.code]] = page.render(card=cards.card(tank), **frame)
    page = templates.get_template("checklist.html")
    for site, tasks in sorted(own_work.items()):
        made[pages.checklists[site]] = page.render(page=checklist(site, tasks, lookup, today, days, closing), **frame)
    page = templates.get_template("outage.html")
    for site, failures in sorted((outages or {}).items()):
        made[pages.outages[site]] = page.render(page=outage_page(site, failures, lookup, pages.tanks), **frame)
    if facts is not None and pages.further is not None:
        sheets_of = Sheets(pages.visits, pages.tanks)
        made |= further_pages(templates, plan, lookup, assessments, facts, pages.further, sheets_of)
    return made


def sheet_visits(plan: Plan, first: date, last: date, site: str | None = None) -> list[Visit]:
    """The visits that get a service sheet: from `first` to `last`, both inside, at `site` where one is named."""
    return [visit for visit in plan.visits if first <= visit.day <= last and site in (None, visit.site)]


def _addresses(names: Mapping[str, str], base_url: str | None) -> dict[str, str]:
    if not base_url:
        return {}
    return {code: f"{base_url.rstrip('/')}/{quote(name)}" for code, name in names.items()}
