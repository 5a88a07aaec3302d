"""Which links survive the loss of a run or a route: against connectivity in networkx."""

from random import Random

import networkx
import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.study import Case, Study, Variant

MODULE = {"form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1, "laser_class": "1", "price": 30}
CATALOG = Catalog(modules=[{"part": "LX", "standard": "1000BASE-LX10", **MODULE}])


def island(seed):
    """Devices and panels joined at random in a few routes, everything within reach and plenty of strands."""
    draw = Random(seed)
    devices, panels = [f"d{number}" for number in range(4)], [f"p{number}" for number in range(4)]
    ports = [{"ids": "1-24", "kind": "cage", "form": "SFP", "rates": ["1G"]}]
    places = [draw.sample([*devices, *panels], 2) for _ in range(10)]
    runs = [
        {
            "id": f"R{number}",
            "ends": ends,
            "routes": [f"duct-{draw.randint(1, 3)}"],
            "fiber": {"grade": "OS2", "length_m": draw.randint(10, 300), "strands": 96},
        }
        for number, ends in enumerate(places)
    ]
    links = [{"id": f"L{number}", "ends": draw.sample(devices, 2), "rate": "1G"} for number in range(6)]
    return Network(
        sites=[{"id": "hall", "ambient_c": [10, 30], "building": "hall"}],
        devices=[{"id": device, "site": "hall", "ports": ports} for device in devices],
        panels=[{"id": panel, "site": "hall"} for panel in panels],
        runs=runs,
        links=links,
    )


def connected(network, removed):
    """The links whose devices are still joined, directly or through panels alone."""
    kind, _, name = removed.partition(".")
    gone = {run.id for run in network.runs if name == run.id or (kind == "routes" and name in run.routes)}
    graph = networkx.MultiGraph()
    graph.add_nodes_from([*network.device_by_id, *network.panel_by_id])
    graph.add_edges_from(run.ends for run in network.runs if run.id not in gone)
    return {link.id for link in network.wanted if networkx.has_path(graph.subgraph([*network.panel_by_id, *link.devices]), *link.devices)}


@pytest.mark.parametrize("seed", range(6))
def test_a_link_survives_where_its_devices_stay_joined(seed):
    case = Case(island(seed), CATALOG)
    result = Study(case, Variant.removals(case)).run()
    survives = {outcome.variant.settings["removed"]: {link.id for link in outcome.plan.links} for outcome in result if outcome.variant.settings}

    assert survives == {removed: connected(case.network, removed) for removed in survives}
    assert len(survives) == 10 + len({route for run in case.network.runs for route in run.routes})


def test_some_removals_cut_links_off():
    case = Case(island(0), CATALOG)

    assert Study(case, Variant.removals(case)).run().frame()["links_lost"].max() > 0
