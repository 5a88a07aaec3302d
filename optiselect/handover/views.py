"""How a network, a catalog, a plan, a finding, a refusal and an explanation show themselves in a notebook: small HTML tables, every text escaped.

No script, no style sheet, no link: what a document says is shown, never run.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from optiselect.explain.wording import effect_text, gap, pair_text
from optiselect.handover.bill import bill
from optiselect.handover.wording import objective_line, status_line
from optiselect.model.catalog import Catalog, Module
from optiselect.model.explanation import Explanation
from optiselect.model.network import Link, Network, Run
from optiselect.model.plan import Fact, Finding, Plan, PlannedLink, Refusal

_ROWS = 25
"""Rows shown of one table; a line below it says how many more there are."""

Cell = str | int | float | None


def network_html(network: Network) -> str:
    """A network as HTML: what it holds, and the links that are wanted."""
    ports = sum(len(port.names) for device in network.devices for port in device.ports)
    held = [
        _count(len(network.sites), "site"),
        _count(len(network.devices), "device"),
        _count(ports, "port"),
        _count(len(network.panels), "panel"),
        _count(len(network.runs), "run"),
        _count(len(network.wanted), "link"),
    ]
    rows = [_wanted_row(link, network) for link in network.wanted]
    columns = ("link", "from", "to", "rate", "over", "length, m", "fiber or copper", "critical")
    return _section(network.name or "Network", [_paragraph(", ".join(held))], _table(columns, rows))


def catalog_html(catalog: Catalog) -> str:
    """A catalog as HTML: how many parts of each kind, and its modules by class."""
    held = [
        _count(len(catalog.modules), "module"),
        _count(len(catalog.converters), "converter"),
        _count(len(catalog.cords), "cord"),
        _count(len(catalog.attenuators), "attenuator"),
    ]
    classes: dict[tuple[str, ...], list[Module]] = {}
    for module in catalog.modules:
        key = (module.form or "", module.standard or "/".join(module.rates or ()), module.medium or "", str(module.strands or ""), module.connector or "")
        classes.setdefault(key, []).append(module)
    rows: list[Sequence[Cell]] = [(*key, len(classes[key]), _prices(classes[key])) for key in sorted(classes)]
    money = f"price, {catalog.currency}" if catalog.currency else "price"
    columns = ("form", "standard or rates", "medium", "strands", "connector", "parts", money)
    return _section(catalog.name or "Catalog", [_paragraph(", ".join(held))], _table(columns, rows))


def plan_html(plan: Plan) -> str:
    """A plan as HTML: what is proven, what to order, what each link gets, and what could not be served and why."""
    head = [_paragraph(status_line(plan)), _paragraph("; ".join(objective_line(value, plan.currency) for value in plan.objective))]
    order = bill(plan)
    money = f" {plan.currency}" if plan.currency else ""
    parts = _table(
        ("part", "kind", "used", "spares", "order", f"unit price{money}", f"total{money}"),
        [(line.part, line.kind, line.used, line.spares, line.order, line.unit_price, line.total) for line in order.lines],
    )
    links = _table(
        ("link", "rate", "end", "fitted", "end", "fitted", "over", "least margin, dB"),
        [_planned_row(link) for link in plan.links],
    )
    unserved = [f"<p><b>{escape(refusal.id)}</b> ({escape(refusal.kind)})</p><pre>{escape(refusal.text)}</pre>" for refusal in plan.unserved]
    return _section(
        f"Plan of {plan.network}" if plan.network else "Plan",
        head,
        _heading("Order"),
        parts,
        _heading("Links"),
        links,
        *([_heading("Not served"), *unserved] if unserved else []),
    )


def finding_html(finding: Finding) -> str:
    """A finding as HTML: the rule, the place, required and available side by side, and the sentence."""
    kind = "cannot be checked" if finding.unknown else "waived" if finding.waived else "does not hold"
    unit = f" {finding.unit}" if finding.unit else ""
    rows: list[Sequence[Cell]] = [(finding.link, finding.path, _value(finding.required, unit), _value(finding.available, unit))]
    return _section(f"{finding.rule}: {kind}", [_paragraph(finding.text)], _table(("link", "at", "required", "available"), rows))


def refusal_html(refusal: Refusal) -> str:
    """A link that is not served as HTML: why, the facts against it with required and available side by side, what comes close,
    what would help, and the tally.
    """
    facts = [_fact_row(fact) for fact in refusal.conflict]
    near: list[Sequence[Cell]] = [(pair_text(miss.ends), ", ".join(miss.over), *_fact_row(fact)) for miss in refusal.nearest_misses for fact in miss.breaches]
    fixes: list[Sequence[Cell]] = [
        (fix.words, effect_text(fix.effect), f"yours: {fix.caution}".removesuffix(": ") if fix.own_risk else "") for fix in refusal.fixes
    ]
    tally: list[Sequence[Cell]] = [(entry.rule, entry.count) for entry in refusal.tally]
    return _section(
        f"{refusal.id}: {refusal.kind}",
        [f"<pre>{escape(refusal.text)}</pre>"] if refusal.text else [],
        *([_heading("What stands against it"), _table(("rule", "at", "required", "available"), facts)] if facts else []),
        *([_heading("What comes close"), _table(("fitted", "over", "rule", "at", "required", "available"), near)] if near else []),
        *([_heading("What would help"), _table(("change", "what else changes", "risk"), fixes)] if fixes else []),
        *([_heading(f"{_count(refusal.candidates, 'candidate')}, by the rule that stops them"), _table(("rule", "count"), tally)] if tally else []),
    )


def explanation_html(found: Explanation) -> str:
    """A served link as HTML: what it has, and what every other choice would break or change."""
    rows: list[Sequence[Cell]] = []
    for other in found.alternatives:
        breaks = "; ".join(gap(fact) for fact in other.breaches)
        rows.append((other.why, pair_text(other.ends), ", ".join(other.over), breaks, "" if breaks else effect_text(other.effect)))
    return _section(
        f"{found.id}: served",
        [f"<pre>{escape(found.text)}</pre>"],
        *([_heading("Why nothing else"), _table(("choice", "fitted", "over", "it breaks", "it changes"), rows)] if rows else []),
    )


def _fact_row(fact: Fact) -> Sequence[Cell]:
    unit = f" {fact.unit}" if fact.unit else ""
    return fact.rule, fact.path, _value(fact.required, unit), _value(fact.available, unit)


def _value(value: float | str | None, unit: str) -> str | None:
    if value is None:
        return None
    return f"{value:g}{unit}" if isinstance(value, int | float) else f"{value}{unit}"


def _wanted_row(link: Link, network: Network) -> Sequence[Cell]:
    runs = [network.run_by_id[run_id] for run_id in link.over or ()]
    length = sum(run.length_m for run in runs) if runs else None
    kinds = ", ".join(sorted({_cable(run) for run in runs}))
    return link.id, link.ends[0], link.ends[1], link.rate or "highest", ", ".join(link.over or ()) or "any", length, kinds, "yes" if link.critical else ""


def _cable(run: Run) -> str:
    if run.fiber is not None:
        return run.fiber.grade
    return run.copper.category if run.copper else ""


def _planned_row(link: PlannedLink) -> Sequence[Cell]:
    cells: list[Cell] = [link.id, link.rate]
    for end in link.ends:
        fitted = " + ".join(part for part in (end.converter, end.module, end.attenuator) if part) or f"{end.fitting} port"
        cells += [f"{end.device}/{end.port}", fitted]
    margins = [way.margin_db for way in link.directions if way.margin_db is not None]
    return [*cells, ", ".join(link.over), min(margins) if len(margins) == len(link.directions) and margins else None]


def _prices(modules: Iterable[Module]) -> str:
    prices = sorted({module.price for module in modules if module.price is not None})
    if not prices:
        return "not stated"
    return f"{prices[0]:,.2f}" if len(prices) == 1 else f"{prices[0]:,.2f} to {prices[-1]:,.2f}"


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    head = "".join(f"<th>{escape(column)}</th>" for column in columns)
    body = "".join(f"<tr>{''.join(map(_cell, row))}</tr>" for row in rows[:_ROWS])
    more = _paragraph(f"and {len(rows) - _ROWS:,} more") if len(rows) > _ROWS else ""
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{more}"


def _cell(value: Cell) -> str:
    if value is None:
        return "<td></td>"
    if isinstance(value, float):
        return f'<td style="text-align:right">{value:,.2f}</td>'
    if isinstance(value, int):
        return f'<td style="text-align:right">{value:,}</td>'
    return f'<td style="text-align:left">{escape(value)}</td>'


def _heading(text: str) -> str:
    return f"<h5>{escape(text)}</h5>"


def _paragraph(text: str) -> str:
    return f"<p>{escape(text)}</p>"


def _section(title: str, head: Iterable[str], *parts: str) -> str:
    return f"<div><h4>{escape(title)}</h4>{''.join(head)}{''.join(parts)}</div>"
