"""The order in which a document lists things decides nothing."""

import random

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.solver.solve import solve
from tests.solver import small


@pytest.mark.parametrize("seed", range(20))
def test_shuffled_lists_give_an_equal_plan(seed):
    network, catalog, policy = small.network(seed), small.catalog(seed), small.policy()
    draw = random.Random(seed)
    devices, runs, links, modules = (draw.sample(rows, len(rows)) for rows in (network.devices, network.runs, network.links, catalog.modules))
    plan = solve(network, catalog, policy)
    again = solve(Network(sites=network.sites, devices=devices, panels=network.panels, runs=runs, links=links), Catalog(modules=modules), policy)
    assert again.links == plan.links
    assert sorted(again.parts, key=lambda line: line.part) == sorted(plan.parts, key=lambda line: line.part)
    assert again.objective == plan.objective
