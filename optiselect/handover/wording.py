"""A plan in plain text: what is proven, what each objective came to, what to order, what is not served and why."""

from __future__ import annotations

from optiselect.handover.bill import bill
from optiselect.handover.tables import aligned_text
from optiselect.model.catalog import Catalog
from optiselect.model.plan import ObjectiveValue, Plan, PlannedEnd, Refusal
from optiselect.model.terms import OBJECTIVE_IN_WORDS


def status_line(plan: Plan) -> str:
    """One sentence: how many links are served, and what is proven about it."""
    served, wanted = len(plan.links), len(plan.links) + len(plan.unserved)
    proven = "proven best on every objective" if plan.status == "optimal" else "good, but not proven best on every objective"
    by = f" by {', '.join(plan.proof.by)}" if plan.status == "optimal" and plan.proof.by else ""
    confirmed = f", confirmed by {', '.join(plan.proof.confirmed_by)}" if plan.proof.confirmed else ""
    cut = "" if plan.reproducible else "; cut short by the clock or by hand, so a second run may give another plan"
    return f"{served} of {wanted} links served; {proven}{by}{confirmed}{cut}."


def objective_line(objective: ObjectiveValue, currency: str = "") -> str:
    """One objective with its value, and the best that is still possible where that is not proven."""
    unit = f" {currency}" if objective.name == "cost" and currency else ""
    decimals = 2 if objective.name == "cost" else 0
    gap = "" if objective.proven else f" (best still possible: {objective.bound:,.{decimals}f}{unit})"
    return f"{OBJECTIVE_IN_WORDS[objective.name]}: {objective.value:,.{decimals}f}{unit}{gap}"


def fitted_text(end: PlannedEnd) -> str:
    """What is fitted at one end, in the order in which it is plugged."""
    parts = [part for part in (end.converter, end.module, end.attenuator, end.cord) if part is not None]
    own = {"fixed": "fixed optic", "copper": "copper socket", "module": ""}[end.fitting]
    return " + ".join([*([own] if own and end.converter is None else []), *parts])


def links_text(plan: Plan) -> str:
    """Every served link with what is fitted at its two ends, as aligned text."""
    rows = []
    for link in plan.links:
        margins = [way.margin_db for way in link.directions]
        least = min((margin for margin in margins if margin is not None), default=None) if None not in margins else None
        a, b = link.ends
        rows.append((link.id, link.rate, f"{a.device}/{a.port}", fitted_text(a), f"{b.device}/{b.port}", fitted_text(b), least))
    return aligned_text(("link", "rate", "end", "fitted", "end", "fitted", "margin, dB"), rows)


def unserved_text(plan: Plan) -> str:
    """Every link that is not served, with its reasons; a line that says so when there is none."""
    if not plan.unserved:
        return "Every link is served."
    return "\n\n".join(f"{refusal.id} ({refusal.kind})\n{refusal.text or tally_text(refusal)}" for refusal in plan.unserved)


def tally_text(refusal: Refusal) -> str:
    """How many candidates each rule stops, in one line."""
    return f"{refusal.candidates:,} candidates; stopped by " + ", ".join(f"{entry.rule} {entry.count:,}" for entry in refusal.tally)


def plan_text(plan: Plan, catalog: Catalog | None = None) -> str:
    """The whole plan as plain text, for a terminal or a mail."""
    title = f"Plan of {plan.network}" if plan.network else "Plan"
    sections = [
        title,
        status_line(plan),
        "\n".join(f"  {objective_line(value, plan.currency)}" for value in plan.objective),
        links_text(plan) if plan.links else "",
        "To order\n" + bill(plan, catalog).text(),
        ("Not served\n" + unserved_text(plan)) if plan.unserved else "",
        ("Notes\n" + "\n".join(f"  {note}" for note in plan.notes)) if plan.notes else "",
    ]
    return "\n\n".join(section for section in sections if section)
