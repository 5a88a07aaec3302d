"""The bill of materials as a paper: what to order, for which links, and what else would do."""

from __future__ import annotations

from optiselect.handover.alternatives import Item, alternatives
from optiselect.handover.bill import bill
from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet, listed

_ABOUT = (
    "Used: units in the plan, those in place included. Order: used and spared, less what is in place and stays.",
    "Alternatives pass every rule wherever the part is fitted, as one for all of them; the price is theirs for one unit.",
)


def bill_sheet(dossier: Dossier) -> Sheet:
    """Every line of the order with the links that use it, and parts of equal fit."""
    order = bill(dossier.plan, dossier.catalog)
    lines = {line.part: line for line in dossier.plan.parts}
    money = f", {order.currency}" if order.currency else ""
    columns = (
        Column("part", "part"),
        Column("kind", "kind"),
        Column("description", "description"),
        Column("used", "used", "count"),
        Column("spares", "spares", "count"),
        Column("order", "order", "count"),
        Column("unit_price", f"unit price{money}", "figure"),
        Column("total", f"total{money}", "figure"),
        Column("supplier", "supplier"),
        Column("lead_time_days", "lead time, days", "count"),
        Column("links", "links that use it"),
        Column("alternatives", "alternatives of equal fit"),
    )
    rows = tuple(
        (
            *(line.part, line.kind, line.description, line.used, line.spares, line.order, line.unit_price, line.total),
            *(line.supplier or None, line.lead_time_days, listed(line.links) or None),
            listed([_priced(item) for item in alternatives(dossier, lines[line.part])]) or None,
        )
        for line in order.lines
    )
    about = list(_ABOUT)
    if order.unpriced:
        about.append(f"Not in the total, because the catalog states no price: {listed(order.unpriced)}.")
    if order.longest_lead_time_days is not None:
        about.append(f"The slowest part to be ordered takes {order.longest_lead_time_days} days.")
    totals: dict[str, float] = {name: sum(getattr(line, name) for line in order.lines) for name in ("used", "spares", "order")}
    totals["total"] = order.total
    return Sheet("bill", "Bill of materials", tuple(about), columns, rows, totals)


def _priced(item: Item) -> str:
    return item.part if item.price is None else f"{item.part} ({item.price:,.2f})"
