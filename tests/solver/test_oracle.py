"""The solver against plain enumeration: every way to fit a small network, judged by the rules themselves."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import PlannedEnd, PlannedLink
from optiselect.model.policy import Policy
from optiselect.rules import NETWORK_RULES
from optiselect.rules.fitted import FittedLink
from optiselect.rules.served import Served, units_of
from optiselect.rules.whole import strands_used
from optiselect.solver.audit import Refitter, findings_of_link
from optiselect.solver.paths import Paths
from optiselect.solver.solve import solve
from tests.solver import small


def ways(network: Network, catalog: Catalog, policy: Policy) -> Iterator[list[FittedLink | None]]:
    """For each link: not served, or any path, modules and ports that no rule of an end, a pair or a path stops (all ports of a device are alike)."""
    refitter = Refitter(network, catalog, policy)
    for link in network.wanted:
        firsts = [[PlannedEnd(device=device, port="1", fitting="module", module=part) for part in catalog.module_by_part] for device in link.devices]
        chains = [tuple(run.id for run in path.runs) for path in Paths(network).of(link)]
        fitted = [refitter.link(PlannedLink(id=link.id, rate=link.rate, over=over, ends=pair)) for over in chains for pair in product(*firsts)]
        passing = [way for way in fitted if all(finding.unknown for finding in findings_of_link(way))]
        ports = list(product(*(network.device_by_id[device].port_by_id for device in link.devices)))
        yield [None, *(replace(way, a=replace(way.a, port_id=at_a), b=replace(way.b, port_id=at_b)) for way in passing for at_a, at_b in ports)]


def score(links: tuple[FittedLink, ...], catalog: Catalog) -> tuple[float, ...]:
    """Weight served (negative: more is better), links that rest on an unknown figure, part numbers, cost, strands."""
    parts = [end.module.part for link in links for end in link.ends]
    weight = sum(link.asked.link.weight for link in links)
    unknowns = sum(any(True for _ in findings_of_link(link)) for link in links)
    strands = sum(strands_used(link) * len(link.path.runs) for link in links)
    return -weight, unknowns, len(set(parts)), sum(catalog.module_by_part[part].price for part in parts), strands


def fits(links: tuple[FittedLink, ...], network: Network, catalog: Catalog, policy: Policy) -> bool:
    """Whether the links share ports, strands, power and stock as the rules of the whole want it."""
    served = Served(network, catalog, policy, links, units_of(links), {}, frozenset())
    return not any(True for rule in NETWORK_RULES for _ in rule.check(served))


def best(network: Network, catalog: Catalog, policy: Policy) -> tuple[float, ...]:
    """The best score of all combinations that fit, found by going through all; what does not fit fits no better with one more link."""
    combinations = [()]
    for options in ways(network, catalog, policy):
        grown = [(*before, way) if way else before for before in combinations for way in options]
        combinations = [links for links in grown if fits(links, network, catalog, policy)]
    return min(score(links, catalog) for links in combinations)


@pytest.mark.parametrize("seed", range(120))
def test_no_combination_beats_the_plan(seed):
    network, catalog, policy = small.network(seed), small.catalog(seed), small.policy()
    plan = solve(network, catalog, policy)
    values = {row.name: row.value for row in plan.objective}
    found = (-values["links"], values["unknowns"], values["part_numbers"], values["cost"], values["strands"])
    assert plan.status == "optimal"
    assert found == pytest.approx(best(network, catalog, policy))
