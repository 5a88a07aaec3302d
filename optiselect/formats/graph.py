"""A network as a networkx graph and back: a node a device or panel, an edge a run, nothing lost.

Node attributes: `device` or `panel`, and `site`; edge attribute: `run`; `graph.graph`: name, sites, links, installed.
Values are models, plain dicts of the same keys, or JSON text of those (`flat`, for GraphML and node-link files).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from optiselect.errors import DocumentError, Fault
from optiselect.model.document import Document, Noun

if TYPE_CHECKING:
    import networkx

    from optiselect.model.network import Device, Network, Panel

D = TypeVar("D", bound=Document)


def graph_of_network(network: Network, *, flat: bool) -> networkx.MultiGraph[str]:
    """Return a MultiGraph of the network; `flat`: attributes as JSON text."""
    import networkx

    def shown(value: Any) -> Any:
        return json.dumps(value, ensure_ascii=False, sort_keys=True) if flat else value

    graph: networkx.MultiGraph[str] = networkx.MultiGraph()
    graph.graph["name"] = network.name
    graph.graph["sites"] = shown([site.stated() for site in network.sites])
    if network.links is not None:
        graph.graph["links"] = shown([link.stated() for link in network.links])
    graph.graph["installed"] = shown(dict(network.installed))
    graph.graph["order"] = shown({"nodes": [*network.device_by_id, *network.panel_by_id], "runs": [run.id for run in network.runs]})
    kinds: tuple[tuple[str, tuple[Device | Panel, ...]], ...] = (("device", network.devices), ("panel", network.panels))
    for kind, items in kinds:
        for item in items:
            site = {} if item.site is None else {"site": item.site}
            graph.add_node(item.id, **{kind: shown(item.stated())}, **site)
    for run in network.runs:
        graph.add_edge(run.ends[0], run.ends[1], key=run.id, run=shown(run.stated()))
    return graph


def network_from_graph(cls: type[D], graph: networkx.Graph[Any]) -> D:
    """Read a network from any networkx graph whose attributes are as `graph_of_network` writes them.

    Raises:
        DocumentError: with every fault, at the node or edge that it is at.
    """
    faults: list[Fault] = []
    data: dict[str, Any] = {"devices": [], "panels": [], "runs": []}
    for node, attributes in graph.nodes(data=True):
        kind = "panel" if "panel" in attributes else "device"
        item = _plain(attributes.get(kind, {}), f"node {node}", faults)
        item = {"id": str(node), **item}
        if "site" in attributes:
            item.setdefault("site", str(attributes["site"]))
        data["panels" if kind == "panel" else "devices"].append(item)
    view: Any = graph.edges
    edges = view(keys=True, data=True) if graph.is_multigraph() else ((a, b, None, attributes) for a, b, attributes in view(data=True))
    for first, second, key, attributes in edges:
        item = _plain(attributes.get("run", {}), f"edge {first} - {second}", faults)
        name = str(key) if isinstance(key, str) else f"{first} - {second}" + (f" #{key}" if key else "")
        data["runs"].append({"id": name, "ends": (str(first), str(second)), **item})
    for key in ("name", "sites", "links", "installed"):
        if key in graph.graph:
            data[key] = _text_or_value(graph.graph[key], key, faults) if key != "name" else graph.graph[key]
    order = _text_or_value(graph.graph.get("order", {}), "order", faults)
    _in_order(data, order if isinstance(order, Mapping) else {})
    if faults:
        raise DocumentError(faults, cls.what)
    return cls(**data)


def _in_order(data: dict[str, Any], order: Mapping[str, Any]) -> None:
    for key, names in (("devices", "nodes"), ("panels", "nodes"), ("runs", "runs")):
        place = {name: index for index, name in enumerate(order.get(names, ()))}
        data[key].sort(key=lambda item: place.get(item["id"], len(place)))


def _plain(value: Any, where: str, faults: list[Fault]) -> dict[str, Any]:
    value = _text_or_value(value, where, faults)
    if isinstance(value, Noun):
        return value.stated()
    if not isinstance(value, Mapping):
        faults.append(Fault(where, "this attribute is a model, a mapping of its keys, or JSON text of that"))
        return {}
    return dict(value)


def _text_or_value(value: Any, where: str, faults: list[Fault]) -> Any:
    if not isinstance(value, str):
        return value
    try:
        return json.loads(value)
    except (ValueError, RecursionError):
        faults.append(Fault(where, "this attribute is not JSON text"))
        return {}
