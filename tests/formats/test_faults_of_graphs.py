"""What is wrong in a graph is told at the node or edge that it is at."""

from __future__ import annotations

from typing import Any

import networkx
import pytest

from optiselect.errors import DocumentError
from optiselect.model.network import Network, Site

PORTS = {"ports": [{"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]}]}
FIBER = {"fiber": {"grade": "OS2", "length_m": 100, "strands": 2}}


def graph(a: dict[str, Any], run: dict[str, Any] | str, b: dict[str, Any] | None = None, **whole: Any) -> networkx.MultiGraph[str]:
    """Two nodes and the edge between them."""
    made: networkx.MultiGraph[str] = networkx.MultiGraph(**whole)
    made.add_node("a", **a)
    made.add_node("b", **(b or {"device": PORTS}))
    made.add_edge("a", "b", key="F1", run=run)
    return made


DEVICE = {"device": PORTS}
HALL, YARD = {"id": "hall", "ambient_c": [5, 30]}, {"id": "hall", "ambient_c": [-20, 30]}
CASES: dict[str, tuple[networkx.MultiGraph[str], list[str]]] = {
    "device and panel": (graph({"device": PORTS, "panel": {}}, FIBER), ["node 'a': a node is a device or a panel, not both"]),
    "another id than the node's": (graph({"device": {"id": "c", **PORTS}}, FIBER), ["node 'a' device.id: 'c' is not the id of its node"]),
    "two sites of one device": (
        graph({"device": {"site": "hall", **PORTS}, "site": "yard"}, FIBER, sites=[HALL, {"id": "yard"}]),
        ["node 'a' device.site: 'hall' here and 'yard' at the node"],
    ),
    "one site told in two ways": (
        graph({**DEVICE, "site": HALL}, FIBER, {**DEVICE, "site": YARD}),
        ["node 'b' site: site 'hall' is given differently at another node"],
    ),
    "ends that are not the edge's": (graph(DEVICE, {**FIBER, "ends": ["a", "c"]}), ["edge 'a' - 'b' (F1) run.ends: a and c are not the ends of its edge"]),
    "an attribute that is a number": (graph({"device": 7}, FIBER), ["node 'a': this attribute is a model, a mapping of its keys, or JSON text of that"]),
    "text that is not JSON": (graph({"device": "{"}, FIBER), ["node 'a': this attribute is not JSON text: "]),
    "a key twice in JSON": (graph(DEVICE, '{"fiber": null, "fiber": null}'), ["edge 'a' - 'b' (F1) fiber: this key is given twice"]),
    "a fault of the run itself": (graph(DEVICE, {"fiber": {**FIBER["fiber"], "grade": "OS9"}}), ["edge 'a' - 'b' (F1) runs[0].fiber.grade: "]),
    "a fault of the whole": (graph(DEVICE, FIBER, links=[{"id": "L1", "ends": ["a", "c"]}]), ["links[0].ends[1]: 'c' is not a device of this network"]),
}


@pytest.mark.parametrize(("made", "told"), CASES.values(), ids=CASES)
def test_fault_is_told_where_it_is(made: networkx.MultiGraph[str], told: list[str]) -> None:
    with pytest.raises(DocumentError) as refused:
        Network.from_graph(made)
    lines = [str(fault) for fault in refused.value.faults]
    assert [line for words in told for line in lines if words in line]
    assert lines[0].startswith(told[0])


def test_what_is_no_graph_is_refused() -> None:
    with pytest.raises(DocumentError, match="a networkx graph is due here, not list"):
        Network.from_graph([])  # type: ignore[arg-type]


def test_site_itself_may_stand_at_its_nodes() -> None:
    made = graph({**DEVICE, "site": HALL}, FIBER, {**DEVICE, "site": Site(**HALL)})
    network = Network.from_graph(made)
    assert [site.id for site in network.sites] == ["hall"]
    assert [device.site for device in network.devices] == ["hall", "hall"]
