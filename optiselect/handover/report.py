"""All papers as a page that works without a network; those of a large estate as a first page, and pages by place beside it.

A browser takes a minute and a half to lay out the port schedules, strand sheets and labels of 5,000 links on one page (measured). So the
first page of a large estate holds what is about all of it, and which page each place and each link stands on; `place_page` is the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optiselect.handover.bill import bill
from optiselect.handover.cautions import SHORT, all_cautions
from optiselect.handover.dossier import Dossier
from optiselect.handover.margins import margins_pages
from optiselect.handover.page_tables import page_table
from optiselect.handover.places import FOLDER, PlacePage, links_sheet, long_papers, pages_sheet
from optiselect.handover.sheet import Sheet, listed
from optiselect.handover.templates import security, static, template
from optiselect.handover.wording import objective_line, status_line, tally_text

_MOST_NAMED = 16
"""How many places the head of a page names; the first page lists all of them."""


def report_page(of: Dossier, sheets: Mapping[str, Sheet], site_map: str, pages: Sequence[PlacePage] = ()) -> str:
    """Every paper on one page of HTML that asks for nothing beside itself; or the first page of a large estate.

    Args:
        of: the plan and its documents.
        sheets: the papers, by name.
        site_map: the map, as `site_map_svg` draws it.
        pages: those by place that stand beside this one; then long papers, the map and most of the light are left to them and to files.

    Raises:
        MissingExtraError: when Jinja2 is not installed.
    """
    page = template("report.html.j2")
    from markupsafe import Markup

    hrefs = {str(place.number): f"{FOLDER}/{place.file}" for place in pages}
    papers = [sheet for name, sheet in sheets.items() if not pages or name not in long_papers()]
    if pages:
        papers = [pages_sheet(pages), links_sheet(of, pages), *papers]
    pictures = margins_pages(of.plan, of.network, of.catalog, of.bars, most=1 if pages else None)
    return page.render(
        **_of_every_page(of),
        map="" if pages else Markup(site_map),  # drawn by this library, every text escaped there
        margins=[Markup(picture) for picture in pictures],  # likewise
        cautions=all_cautions(of),
        facts=_facts(of, sheets),
        refusals=_refusals(of),
        papers=[page_table(sheet, hrefs) for sheet in papers],
    )


def place_page(of: Dossier, pages: Sequence[PlacePage], number: int) -> str:
    """One page of a large estate: what is to be done at some places, with all that can hurt there.

    Args:
        of: the plan and its documents.
        pages: all of them. number: of this one, from 1.

    Raises:
        MissingExtraError: when Jinja2 is not installed.
    """
    page = template("place.html.j2")
    from markupsafe import Markup

    place = pages[number - 1]
    pictures = margins_pages(of.plan, of.network, of.catalog, place.bars, dark=0) if place.bars else ()
    return page.render(
        **_of_every_page(of),
        heading=f"Page {number} of {len(pages)}",
        places=listed(place.zones) if len(place.zones) <= _MOST_NAMED else f"{place.zones[0]} to {place.zones[-1]}: {len(place.zones)} places",
        before=pages[number - 2].file if number > 1 else "",
        after=pages[number].file if number < len(pages) else "",
        margins=[Markup(picture) for picture in pictures],  # drawn by this library, every text escaped there
        cautions=all_cautions(of, place.links),
        refusals=_refusals(of, place.nodes),
        papers=[page_table(sheet) for sheet in place.sheets],
    )


def _of_every_page(of: Dossier) -> dict[str, Any]:
    from markupsafe import Markup

    script, style = static("page.js"), static("page.css")
    return {
        "title": of.title,
        "status": status_line(of.plan),
        "security": security(script),
        "style": Markup(style),  # ours, without data
        "script": Markup(script),  # likewise
        "short": SHORT,
        "hashes": {name: value[:12] for name, value in of.plan.hashes.items()},
    }


def _refusals(of: Dossier, nodes: Sequence[str] | None = None) -> list[tuple[str, str, str]]:
    """Links that are not served, with their reasons. `nodes`: only links that are to end at one of these devices."""
    told = {entry.id: (entry.id, entry.kind, entry.text or tally_text(entry)) for entry in of.plan.unserved}
    if nodes is None or not told:
        return list(told.values())
    here = frozenset(nodes)
    concerned = {link.id for link in of.network.wanted if link.id in told and not here.isdisjoint(link.devices)}
    return [refusal for link, refusal in told.items() if link in concerned]


def _facts(of: Dossier, sheets: Mapping[str, Sheet]) -> list[tuple[str, str]]:
    plan = of.plan
    order = bill(plan, of.catalog)
    known = [(way.margin_db, link.id) for link in plan.links for way in link.directions if way.margin_db is not None]
    facts = [("Links", f"{len(plan.links)} served, {len(plan.unserved)} not served")]
    facts.append(("In order of weight", "; ".join(objective_line(value, plan.currency) for value in plan.objective)))
    facts.append(("To order", f"{sum(line.order for line in order.lines)} units, {order.total:,.2f} {plan.currency}".rstrip()))
    if order.longest_lead_time_days is not None:
        facts.append(("Slowest part", f"{order.longest_lead_time_days} days"))
    if known:
        least, link = min(known)
        facts.append(("Least margin", f"{least:.2f} dB, {link}"))
    facts.append(("Open questions", f"{len(sheets['questions'].rows)}, of which {sheets['questions'].column('kind').count('unknown')} unknown figures"))
    return facts
