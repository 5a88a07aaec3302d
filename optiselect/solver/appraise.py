"""The objectives of a finished plan, recomputed from the documents alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from itertools import chain

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.network import Network
from optiselect.model.plan import Finding, Plan, PlannedEnd
from optiselect.model.policy import Policy
from optiselect.optics.spares import spares_needed


def values_of(plan: Plan, network: Network, catalog: Catalog, policy: Policy, findings: Iterable[Finding], used: Mapping[str, int]) -> dict[str, Decimal]:
    """Every objective of a plan, by name, from what it fits and what the documents say of it; cost in the currency.

    `findings`: what `audit.findings_of_plan` says of the plan. `used`: its `fitted_units`.
    """
    wanted = {link.id: link for link in network.wanted}
    links = [wanted[link.id] for link in plan.links]
    counted = used.keys() - catalog.cord_by_part.keys()
    installed = dict(network.installed) if policy.keep_installed != "no" else {}
    ends = [end for link in plan.links for end in link.ends] if installed else []
    kept = [end.module for end in ends if end.module is not None and _stays(end, installed)]
    resting = len({finding.link for finding in findings if finding.link is not None and finding.unknown and not finding.waived})
    return {
        "critical_links": Decimal(sum([link.critical for link in links])),
        "links": Decimal(sum([link.weight for link in links])),
        "unknowns": Decimal(resting),
        "part_numbers": Decimal(len(counted)),
        "cost": _cost(used, Counter(kept), catalog, policy),
        "strands": Decimal(sum(chain.from_iterable([link.strands.values() for link in plan.links]))),
        "modules": Decimal(sum(count for part, count in used.items() if part in catalog.module_by_part)),
        "changes": Decimal(sum(f"{end.device}/{end.port}" in installed and not _stays(end, installed) for end in ends)),
    }


def _stays(end: PlannedEnd, installed: Mapping[str, str]) -> bool:
    return end.module is not None and end.converter is None and installed.get(f"{end.device}/{end.port}") == end.module


def _cost(used: Mapping[str, int], kept: Counter[str], catalog: Catalog, policy: Policy) -> Decimal:
    total = Decimal(0)
    bought: tuple[Module | Converter | Cord | Attenuator, ...] = (*catalog.modules, *catalog.converters, *catalog.cords, *catalog.attenuators)
    items = {item.part: item for item in bought}
    for part, count in used.items():
        item = items[part]
        fit = getattr(item, "fit", None)
        spares = 0
        if policy.spares is not None and fit is not None:
            spares = spares_needed(count, fit, policy.spares.restock_days * 24, policy.spares.service_level)
        total += (count - kept[part] + spares) * round(Decimal(str(item.price or 0)), 4)
    return total


def values_that_differ(plan: Plan, network: Network, catalog: Catalog, policy: Policy, findings: Iterable[Finding], used: Mapping[str, int]) -> Iterator[str]:
    """A sentence for each objective whose value in the plan is not what the documents give; `findings` and `used`: as of `values_of`."""
    values = values_of(plan, network, catalog, policy, findings, used)
    for objective in plan.objective:
        if abs(values[objective.name] - Decimal(str(objective.value))) >= Decimal("0.0001"):
            yield f"{objective.name}: the plan says {objective.value:g}, the documents give {values[objective.name]}"
    billed = sum((Decimal(str(line.total)) for line in plan.parts), Decimal(0))
    if abs(billed - values["cost"]) >= Decimal("0.001"):
        yield f"the bill adds up to {billed}, the documents give {values['cost']}"
