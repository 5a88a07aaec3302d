"""A network as a networkx graph and back: a node a device or panel, an edge a run, nothing lost.

Node attributes: `device` or `panel`, and `site`; edge attribute: `run`; `graph.graph`: name, sites, links, installed.
Values are models, plain dicts of the same keys, or JSON text of those (`flat`, for GraphML and node-link files).
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from optiselect.errors import DocumentError, Fault
from optiselect.formats.limits import Refused
from optiselect.formats.strict_json import read_json
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

    A node key may be anything; its text is the id. A run that gives no id takes its edge's key where that is text, else one made of its
    ends. `site` of a node may be a site's id or the site itself. Other attributes are the caller's own and are left alone.

    Raises:
        DocumentError: with every fault, at the node or edge that it is at.
    """
    import networkx

    if not isinstance(graph, networkx.Graph):
        raise DocumentError([Fault("", f"a networkx graph is due here, not {type(graph).__name__}")], cls.what)
    read = _Read(graph)
    try:
        network = cls(**read.data)
    except DocumentError as error:
        faults = [Fault(fault.path, fault.message, fault.place or read.place(fault.path)) for fault in error.faults]
        raise type(error)([*read.faults, *faults], cls.what) from None
    if read.faults:
        raise DocumentError(read.faults, cls.what)
    return network


class _Read:
    """The raw data of a network as a graph holds it, and which node or edge each item came from."""

    def __init__(self, graph: networkx.Graph[Any]) -> None:
        self.faults: list[Fault] = []
        self.data: dict[str, Any] = {}
        self._items: dict[str, list[tuple[dict[str, Any], str]]] = {"devices": [], "panels": [], "runs": []}
        self._sites: dict[str, Any] = {}
        for key in ("name", "sites", "links", "installed"):
            if key in graph.graph:
                value = graph.graph[key]
                self.data[key] = value if key == "name" else self._opened(value, f"graph attribute {key!r}")
        for node, attributes in graph.nodes(data=True):
            self._node(node, attributes)
        view: Any = graph.edges
        for edge in view(keys=True, data=True) if graph.is_multigraph() else view(data=True):
            self._edge(edge[0], edge[1], edge[2] if len(edge) == 4 else None, edge[-1])
        if self._sites:
            self.data["sites"] = [*(self.data.get("sites") or ()), *self._sites.values()]
        self._in_order(self._opened(graph.graph.get("order", {}), "graph attribute 'order'"))
        for key, items in self._items.items():
            self.data[key] = [item for item, _ in items]

    def place(self, path: str) -> str:
        """The node or edge of a path of the document; "" when it is in neither."""
        found = re.match(r"(devices|panels|runs)\[([0-9]+)\]", path)
        return self._items[found[1]][int(found[2])][1] if found else ""

    def _node(self, node: Any, attributes: Mapping[str, Any]) -> None:
        where = f"node {str(node)!r}"
        if "device" in attributes and "panel" in attributes:
            self.faults.append(Fault("", "a node is a device or a panel, not both", where))
        kind = "panel" if "panel" in attributes else "device"
        item = {"id": str(node), **self._keys(attributes.get(kind, {}), where)}
        if item["id"] != str(node):
            self.faults.append(Fault(f"{kind}.id", f"{item['id']!r} is not the id of its node", where))
        if "site" in attributes:
            site = self._site(attributes["site"], where)
            if item.setdefault("site", site) != site:
                self.faults.append(Fault(f"{kind}.site", f"{item['site']!r} here and {site!r} at the node", where))
        self._items[f"{kind}s"].append((item, where))

    def _site(self, site: Any, where: str) -> Any:
        if not isinstance(site, Noun | Mapping):
            return str(site)
        keys = self._keys(site, where)
        name = str(keys.get("id", ""))
        if self._sites.setdefault(name, keys) != keys:
            self.faults.append(Fault("site", f"site {name!r} is given differently at another node", where))
        return name

    def _edge(self, first: Any, second: Any, key: Any, attributes: Mapping[str, Any]) -> None:
        ends = (str(first), str(second))
        where = f"edge {ends[0]!r} - {ends[1]!r}" + ("" if key is None else f" ({key})")
        made = key if isinstance(key, str) and key else " - ".join(ends) + (f" #{key}" if key else "")
        item = {"id": made, "ends": ends, **self._keys(attributes.get("run", {}), where)}
        given = item["ends"]
        if isinstance(given, list | tuple) and sorted(map(str, given)) != sorted(ends):
            self.faults.append(Fault("run.ends", f"{' and '.join(map(str, given))} are not the ends of its edge", where))
        self._items["runs"].append((item, where))

    def _in_order(self, order: Any) -> None:
        """Restore the order that `graph_of_network` notes; what it does not name comes last."""
        for key, names in (("devices", "nodes"), ("panels", "nodes"), ("runs", "runs")):
            listed = order.get(names) if isinstance(order, Mapping) else None
            rank = {str(name): index for index, name in enumerate(listed if isinstance(listed, list | tuple) else ())}
            self._items[key].sort(key=lambda entry, rank=rank: rank.get(str(entry[0].get("id")), len(rank)))  # type: ignore[misc]

    def _keys(self, value: Any, where: str) -> dict[str, Any]:
        value = self._opened(value, where)
        if isinstance(value, Noun):
            return value.stated()
        if isinstance(value, Mapping):
            return dict(value)
        self.faults.append(Fault("", "this attribute is a model, a mapping of its keys, or JSON text of that", where))
        return {}

    def _opened(self, value: Any, where: str) -> Any:
        if not isinstance(value, str):
            return value
        try:
            data, faults = read_json(value)
        except Refused as refusal:
            self.faults.append(Fault("", f"this attribute is not JSON text: {refusal.message}", where))
            return {}
        self.faults += [Fault(fault.path, fault.message, where) for fault, _ in faults]
        return data
