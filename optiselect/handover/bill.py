"""Bill of materials: what is used, spared and to be ordered, at which price, and which links each part number serves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optiselect.handover.tables import aligned_text
from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.plan import PartLine, Plan, PlannedEnd

_KINDS = ("module", "converter", "cord", "attenuator")


@dataclass(frozen=True)
class BillLine:
    """One line of the bill.

    Attributes:
        used: units in the plan, those already in place included.
        spares: units for the shelf.
        order: units to buy.
        unit_price: in the plan's currency; None when the catalog states no price.
        total: `order` times `unit_price`; a missing price counts as 0.
        lead_time_days: None when not stated.
        links: ids of the links that use the part, in the order of the plan.
    """

    part: str
    kind: Literal["module", "converter", "cord", "attenuator"]
    description: str
    supplier: str
    lead_time_days: int | None
    used: int
    spares: int
    order: int
    unit_price: float | None
    total: float
    links: tuple[str, ...]


@dataclass(frozen=True)
class Bill:
    """The bill of a plan, modules first, then converters, cords and attenuators, each by part number."""

    lines: tuple[BillLine, ...]
    currency: str

    @property
    def total(self) -> float:
        """The cost of the order in `currency`, to the cent; lines without a price count as 0."""
        return round(sum(line.total for line in self.lines), 2)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Part numbers that are to be ordered and have no price."""
        return tuple(line.part for line in self.lines if line.order and line.unit_price is None)

    @property
    def longest_lead_time_days(self) -> int | None:
        """The lead time of the slowest part to be ordered; None when none is stated."""
        return max((line.lead_time_days for line in self.lines if line.order and line.lead_time_days is not None), default=None)

    def text(self) -> str:
        """Return the bill as aligned text with its total, and what the total leaves out."""
        if not self.lines:
            return "Nothing to order."
        columns = ("part", "description", "supplier", "used", "spares", "order", "unit price", "total", "lead time, days")
        rows = [
            (line.part, line.description, line.supplier, line.used, line.spares, line.order, line.unit_price, line.total, line.lead_time_days)
            for line in self.lines
        ]
        parts = [aligned_text(columns, rows), "", f"Total {self.total:,.2f} {self.currency}".rstrip()]
        if self.unpriced:
            parts.append(f"Not in the total, because the catalog states no price: {', '.join(self.unpriced)}")
        return "\n".join(parts)


def bill(plan: Plan, catalog: Catalog | None = None) -> Bill:
    """Draw up the bill of a plan.

    Args:
        plan: the plan.
        catalog: where the descriptions, suppliers and lead times come from; without it those columns are empty.
    """
    items = _items(catalog)
    links = _links_by_part(plan)
    ordered = sorted(plan.parts, key=lambda line: (_KINDS.index(line.kind), line.part))
    return Bill(tuple(_line(line, items.get(line.part), links.get(line.part, ())) for line in ordered), plan.currency)


def _items(catalog: Catalog | None) -> dict[str, Module | Converter | Cord | Attenuator]:
    if catalog is None:
        return {}
    return {**catalog.module_by_part, **catalog.converter_by_part, **catalog.cord_by_part, **catalog.attenuator_by_part}


def _line(line: PartLine, item: Module | Converter | Cord | Attenuator | None, links: tuple[str, ...]) -> BillLine:
    return BillLine(
        part=line.part,
        kind=line.kind,
        description=describe(item) if item else "",
        supplier=(item.supplier or "") if item else "",
        lead_time_days=item.lead_time_days if item else None,
        used=line.used,
        spares=line.spares,
        order=line.order,
        unit_price=line.unit_price,
        total=line.total,
        links=links,
    )


def describe(item: Module | Converter | Cord | Attenuator) -> str:
    """Say in a few words what a part is: its own description, else its figures."""
    if item.description:
        return item.description
    if isinstance(item, Module):
        strands = _strands(item.strands) if item.strands else None
        words = [item.form, item.standard or "/".join(item.rates or ()), item.mode, strands, item.connector]
    elif isinstance(item, Converter):
        side = item.form if item.form else item.optic.standard if item.optic else None
        words = ["media converter", "/".join(item.copper_rates), "to", side or "its own optic"]
    elif isinstance(item, Cord):
        ends = "-".join(f"{connector} {polish}" for connector, polish in zip(item.connectors, item.polish or ("", ""), strict=True))
        words = ["mode-conditioning cord" if item.conditioning else "cord", item.grade, ends.replace(" -", "-").strip(), _strands(item.strands)]
    else:
        words = ["attenuator", f"{item.loss_db:g} dB", item.mode, item.connector]
    return " ".join(word for word in words if word)


def _strands(count: int) -> str:
    return f"{count} strand{'' if count == 1 else 's'}"


def _links_by_part(plan: Plan) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for link in plan.links:
        for end in link.ends:
            for part in parts_of(end):
                found.setdefault(part, {})[link.id] = None
    return {part: tuple(ids) for part, ids in found.items()}


def parts_of(end: PlannedEnd) -> tuple[str, ...]:
    """The part numbers at one end, from the device to the cable."""
    return tuple(part for part in (end.converter, end.module, end.attenuator, end.cord) if part is not None)
