"""All papers as one page that works without a network."""

from __future__ import annotations

from collections.abc import Mapping

from optiselect.handover.bill import bill
from optiselect.handover.cautions import SHORT, all_cautions
from optiselect.handover.dossier import Dossier
from optiselect.handover.margins import margins_pages
from optiselect.handover.page_tables import page_table
from optiselect.handover.sheet import Sheet
from optiselect.handover.templates import security, static, template
from optiselect.handover.wording import objective_line, status_line, tally_text


def report_page(of: Dossier, sheets: Mapping[str, Sheet], site_map: str) -> str:
    """Every paper on one page of HTML that asks for nothing beside itself.

    Args:
        of: the plan and its documents.
        sheets: the papers, by name.
        site_map: the map, as `site_map_svg` draws it.

    Raises:
        MissingExtraError: when Jinja2 is not installed.
    """
    page = template("report.html.j2")
    from markupsafe import Markup

    script, style = static("page.js"), static("page.css")
    plan = of.plan
    refusals = [(entry.id, entry.kind, entry.text or tally_text(entry)) for entry in plan.unserved]
    return page.render(
        title=of.title,
        status=status_line(plan),
        security=security(script),
        style=Markup(style),  # ours, without data
        script=Markup(script),  # likewise
        map=Markup(site_map),  # drawn by this library, every text escaped there
        margins=[Markup(picture) for picture in margins_pages(plan, of.network, of.catalog, of.bars)],  # likewise
        cautions=all_cautions(of),
        facts=_facts(of, sheets),
        refusals=refusals,
        papers=[page_table(sheet) for sheet in sheets.values()],
        short=SHORT,
        hashes={name: value[:12] for name, value in plan.hashes.items()},
    )


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
