"""Real and random open topologies, planned with nothing but the open standards.

Topologies: the `topohub` package (MIT), which carries graphs of the Internet Topology Zoo (topozoo) and random Gabriel graphs;
its edges give distances in km, for wide-area networks. Lengths here are scaled to access distances by one rule: the longest
edge becomes 9 km, the others keep their ratio to it, and none is shorter than 20 m (places at one position share a building).
Grade, strands, plugs and ports are not in the topologies and are set here.
"""

from __future__ import annotations

import json
from importlib.resources import files

import networkx
import pytest

from optiselect import Catalog, Network, Plan, check, solve

NAMES = ("topozoo/Restena", "topozoo/KentmanFeb2008", "gabriel/25/0")
LONGEST_M = 9_000.0
SHORTEST_M = 20.0


def site_graph(name: str) -> networkx.MultiGraph[str]:
    """A topology as a graph of devices and OS2 runs, attributes as plain dicts."""
    topology = json.loads(files("topohub").joinpath("data", f"{name}.json").read_text())  # topohub.get leaves the file open
    longest_km = max(edge["dist"] for edge in topology["edges"])
    graph: networkx.MultiGraph[str] = networkx.MultiGraph()
    graph.graph["name"] = name
    graph.graph["sites"] = [{"id": f"site-{node['id']}", "name": node["name"], "ambient_c": [10, 35]} for node in topology["nodes"]]
    for node in topology["nodes"]:
        degree = sum(node["id"] in (edge["source"], edge["target"]) for edge in topology["edges"])
        ports = [{"ids": f"1-{degree}", "kind": "cage", "form": "SFP+", "rates": ["1G", "10G"]}]
        graph.add_node(str(node["id"]), device={"name": node["name"], "ports": ports}, site=f"site-{node['id']}")
    for index, edge in enumerate(topology["edges"]):
        length_m = max(SHORTEST_M, round(edge["dist"] / longest_km * LONGEST_M, 1))
        fiber = {"grade": "OS2", "length_m": length_m, "strands": 4, "connectors": ["LC", "LC"], "polish": "UPC"}
        graph.add_edge(str(edge["source"]), str(edge["target"]), key=f"run-{index:02d}", run={"fiber": fiber})
    return graph


@pytest.fixture(scope="module", params=NAMES)
def network(request: pytest.FixtureRequest) -> Network:
    return Network.from_graph(site_graph(request.param))


@pytest.fixture(scope="module")
def plan(network: Network) -> Plan:
    return solve(network, Catalog.open_standard())


def test_a_graph_becomes_a_network_and_back(network: Network) -> None:
    assert Network.from_graph(network.to_graph()) == network


def test_a_flat_graph_passes_through_graphml(network: Network) -> None:
    text = "\n".join(networkx.generate_graphml(network.to_graph(flat=True)))
    assert Network.from_graph(networkx.parse_graphml(text, force_multigraph=True)) == network


def test_a_flat_graph_passes_through_node_link_json(network: Network) -> None:
    data = json.loads(json.dumps(networkx.node_link_data(network.to_graph(flat=True), edges="edges")))
    assert Network.from_graph(networkx.node_link_graph(data, edges="edges")) == network


def test_a_graph_is_planned_as_its_network_is(network: Network, plan: Plan) -> None:
    assert solve(network.to_graph(), Catalog.open_standard()) == plan


def test_every_edge_is_served_at_10g(network: Network, plan: Plan) -> None:
    assert plan.status == "optimal"
    assert not plan.unserved
    assert [(link.id, link.rate) for link in plan.links] == [(run.id, "10G") for run in network.runs]


def test_one_part_number_serves_them_all(plan: Plan) -> None:
    """10GBASE-LR reaches 10 km over two strands, the same part at both ends (IEEE 802.3 Clause 52)."""
    assert {end.module for link in plan.links for end in link.ends} == {"STD-10GBASE-LR"}


def test_longest_edge_has_the_margin_of_the_standard(network: Network, plan: Plan) -> None:
    """10GBASE-LR may lose 6.2 dB in the channel (IEEE 802.3 Clause 52); 9 km of OS2 at 0.4 dB/km and two connections of 0.75 dB take 5.1."""
    longest = max(network.runs, key=lambda run: run.length_m)
    link = next(link for link in plan.links if link.over == (longest.id,))
    assert [(way.loss_max_db, way.available_db, way.margin_db) for way in link.directions] == [(5.1, 6.2, 1.1)] * 2


def test_check_finds_only_what_no_standard_fixes(network: Network, plan: Plan) -> None:
    """A generic module has no temperature range and no power of its own: these are told as unknown, nothing is broken."""
    findings = check(network, Catalog.open_standard(), plan)
    assert {(finding.rule, finding.unknown) for finding in findings} == {("temperature", True), ("cage-power", True)}
