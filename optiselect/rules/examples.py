"""The example that every rule is shown on: a small invented network, and named changes to it.

A change names a place of the documents and what stands there instead: ``runs.F1.fiber.length_m: 9000``. Members of lists go
by their id, part number or place; a new one is added; None takes a key away. `example` applies the changes of a rule's `holds` or `breaks`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from optiselect.model.catalog import Catalog, Optics
from optiselect.model.network import Cage, FixedOptic, Link, Network, SharedPort
from optiselect.model.policy import Policy
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.served import Served, taken_by, units_of
from optiselect.standards.transceiver import transceiver

DOCUMENTS: dict[str, Any] = {
    "sites": [
        {"id": "control", "ambient_c": [15, 30], "building": "main"},
        {"id": "office", "ambient_c": [15, 30], "building": "main"},
        {"id": "berth", "ambient_c": [-25, 50], "building": "berth", "outdoor": True},
    ],
    "devices": [
        {
            "id": "core",
            "site": "control",
            "ports": [
                {"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "2", "kind": "copper", "rates": ["100M", "1G"]},
                {"id": "3", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "4", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "5", "kind": "cage", "form": "SFP", "rates": ["100M"]},
                {"id": "6", "kind": "copper", "rates": ["100M"]},
            ],
        },
        {
            "id": "gate",
            "site": "berth",
            "ports": [
                {"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "3", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "6", "kind": "fixed", "optic": {"standard": "100BASE-LX10", "connector": "SC"}},
            ],
        },
        {
            "id": "desk",
            "site": "office",
            "ports": [
                {"id": "2", "kind": "copper", "rates": ["1G"]},
                {"id": "4", "kind": "cage", "form": "SFP", "rates": ["1G"]},
                {"id": "5", "kind": "cage", "form": "SFP", "rates": ["100M"]},
            ],
        },
    ],
    "runs": [
        {
            "id": "F1",
            "ends": ["core", "gate"],
            "routes": ["duct-7"],
            "fiber": {"grade": "OS2", "length_m": 1850, "strands": 12, "connectors": ["SC", "LC"], "polish": "UPC"},
        },
        {"id": "C2", "ends": ["core", "desk"], "copper": {"category": "Cat6", "length_m": 60}},
        {"id": "F3", "ends": ["core", "gate"], "routes": ["duct-8"], "fiber": {"grade": "OS2", "length_m": 2100, "strands": 12}},
        {"id": "F4", "ends": ["core", "desk"], "fiber": {"grade": "OM2", "length_m": 180, "strands": 4, "connectors": ["SC", "SC"]}},
        {"id": "S5", "ends": ["core", "desk"], "copper": {"category": "single-pair", "length_m": 1200}},
        {"id": "F6", "ends": ["gate", "core"], "fiber": {"grade": "OS2", "length_m": 1900, "strands": 2}},
    ],
    "links": [
        {"id": "L1", "ends": ["core", "gate"], "rate": "1G", "over": ["F1"]},
        {"id": "L2", "ends": ["core", "desk"], "rate": "1G", "over": ["C2"]},
        {"id": "L3", "ends": ["core", "gate"], "rate": "1G", "over": ["F3"]},
        {"id": "L4", "ends": ["core", "desk"], "rate": "1G", "over": ["F4"]},
        {"id": "L5", "ends": ["core", "desk"], "rate": "100M", "over": ["S5"]},
        {"id": "L6", "ends": ["core", "gate"], "rate": "100M", "over": ["F6"]},
    ],
    "installed": {},
    "modules": [
        {"part": "DEMO-LX10", "standard": "1000BASE-LX10", "form": "SFP", "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
        {"part": "DEMO-BX-D", "standard": "1000BASE-BX10-D", "form": "SFP", "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
        {"part": "DEMO-BX-U", "standard": "1000BASE-BX10-U", "form": "SFP", "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
        {"part": "DEMO-SX", "standard": "1000BASE-SX", "form": "SFP", "connector": "LC", "temperature_c": [0, 70], "power_w": 0.8},
        {"part": "DEMO-LX", "standard": "1000BASE-LX", "form": "SFP", "connector": "LC", "temperature_c": [0, 70], "power_w": 0.8},
        {
            "part": "DEMO-PAIR-NEAR",
            "form": "SFP",
            "rates": ["100M"],
            "medium": "single-pair",
            "connector": "terminal",
            "reach_m": {"single-pair": 3000},
            "throughput_mbit_s": {500: 60, 1500: 15, 3000: 4},
            "role": "near",
            "pairs_with": "far",
            "temperature_c": [-40, 85],
            "power_w": 1.0,
        },
        {
            "part": "DEMO-PAIR-FAR",
            "form": "SFP",
            "rates": ["100M"],
            "medium": "single-pair",
            "connector": "terminal",
            "reach_m": {"single-pair": 3000},
            "throughput_mbit_s": {500: 60, 1500: 15, 3000: 4},
            "role": "far",
            "pairs_with": "near",
            "temperature_c": [-40, 85],
            "power_w": 1.0,
        },
        {"part": "DEMO-100-LX10", "standard": "100BASE-LX10", "form": "SFP", "connector": "LC", "temperature_c": [-40, 85], "power_w": 0.8},
    ],
    "converters": [{"part": "DEMO-MC", "copper_rates": ["100M"], "form": "SFP", "rates": ["100M"], "temperature_c": [-40, 75]}],
    "cords": [
        {"part": "DEMO-CORD-LC-SC", "grade": "OS2", "connectors": ["LC", "SC"], "polish": ["UPC", "UPC"]},
        {"part": "DEMO-CORD-LC-LC", "grade": "OS2", "connectors": ["LC", "LC"]},
        {"part": "DEMO-CORD-OM2", "grade": "OM2", "connectors": ["LC", "SC"]},
        {"part": "DEMO-CORD-MC", "grade": "OM2", "connectors": ["LC", "SC"], "conditioning": True},
    ],
    "attenuators": [{"part": "DEMO-ATT-5", "mode": "single-mode", "connector": "LC", "loss_db": 5}],
    "policy": {},
    "spares": {},
    "fitted": {
        "L1": [
            {"port": "1", "module": "DEMO-LX10", "cord": "DEMO-CORD-LC-SC"},
            {"port": "1", "module": "DEMO-LX10", "cord": "DEMO-CORD-LC-LC"},
        ],
        "L2": [{"port": "2"}, {"port": "2"}],
        "L3": [{"port": "3", "module": "DEMO-BX-D"}, {"port": "3", "module": "DEMO-BX-U"}],
        "L4": [
            {"port": "4", "module": "DEMO-SX", "cord": "DEMO-CORD-OM2"},
            {"port": "4", "module": "DEMO-SX", "cord": "DEMO-CORD-OM2"},
        ],
        "L5": [{"port": "5", "module": "DEMO-PAIR-NEAR"}, {"port": "5", "module": "DEMO-PAIR-FAR"}],
        "L6": [{"port": "6", "converter": "DEMO-MC", "module": "DEMO-100-LX10"}, {"port": "6"}],
    },
}
"""Six links: two strands, copper, one strand, old multimode, a single pair, and a converter before a fixed optic."""


class Example(NamedTuple):
    """The example network with all links served: the links, fitted, and what the rules of the whole look at."""

    links: tuple[FittedLink, ...]
    served: Served


def example(changes: Mapping[str, Any] | None = None) -> Example:
    """The example network, all links served, with changes.

    Raises:
        KeyError: when a change names a place that is not there.
        DocumentError: when the changed documents are not valid.
    """
    documents = json.loads(json.dumps(DOCUMENTS))
    for place, value in (changes or {}).items():
        _put(documents, place.split("."), value)
    network = Network(**{key: documents[key] for key in ("sites", "devices", "runs", "links", "installed")}, name="Example pier")
    catalog = Catalog(**{key: documents[key] for key in ("modules", "converters", "cords", "attenuators")}, name="Example catalog")
    policy = Policy(**documents["policy"])
    links = tuple(_fitted(link, documents["fitted"][link.id], network, catalog, policy) for link in network.wanted)
    kept = frozenset(end.name for link in links for end in link.ends if end.module is not None and end.installed == end.module.part)
    return Example(links, Served(network, catalog, policy, tuple(map(taken_by, links)), units_of(links), documents["spares"], kept))


def _put(node: Any, steps: list[str], value: Any) -> None:
    for step in steps[:-1]:
        node = _member(node, step)
    if isinstance(node, list):
        node.append({("part" if "part" in node[0] else "id"): steps[-1], **value})
    elif value is None:
        node.pop(steps[-1], None)
    else:
        node[steps[-1]] = value


def _member(node: Any, step: str) -> Any:
    if isinstance(node, dict):
        return node[step]
    for place, member in enumerate(node):
        if step in (member.get("id"), member.get("part")) or (step == str(place) and "port" in member):
            return member
    raise KeyError(step)


def _fitted(link: Link, ends: list[dict[str, str]], network: Network, catalog: Catalog, policy: Policy) -> FittedLink:
    asked = Asked(link, link.rate or "1G", _path(link, network), policy)
    first, second = (_end(device, stated, asked, network, catalog) for device, stated in zip(link.devices, ends, strict=True))
    return FittedLink(asked, first, second)


def _path(link: Link, network: Network) -> Path:
    here = link.devices[0]
    runs, flipped, places = [], [], [here]
    for run_id in link.over or ():
        run = network.run_by_id[run_id]
        runs.append(run)
        flipped.append(run.ends[0] != here)
        here = run.ends[0] if flipped[-1] else run.ends[1]
        places.append(here)
    panels = tuple(network.panel_by_id[place] for place in places[1:-1])
    owners = [network.device_by_id.get(place) or network.panel_by_id[place] for place in places]
    sites = tuple(network.site_by_id[owner.site] if owner.site is not None else None for owner in owners)
    return Path(tuple(runs), tuple(flipped), panels, sites)


def _end(device_id: str, stated: Mapping[str, str], asked: Asked, network: Network, catalog: Catalog) -> FittedEnd:
    device = network.device_by_id[device_id]
    port = device.port(stated["port"])
    module = catalog.module_by_part[stated["module"]] if "module" in stated else None
    converter = catalog.converter_by_part[stated["converter"]] if "converter" in stated else None
    soldered = converter.optic if converter is not None else port.optic if isinstance(port, FixedOptic) else None
    optic: Optics | None = module if module is not None else soldered
    installed = network.installed.get(f"{device_id}/{stated['port']}") if isinstance(port, Cage | SharedPort) else None
    return FittedEnd(
        device=device,
        site=network.site_by_id[device.site] if device.site is not None else None,
        port_id=stated["port"],
        port=port,
        fitting="module" if module is not None else "fixed" if optic is not None else "copper",
        light=transceiver(optic, asked.rate) if optic is not None else None,
        module=module,
        converter=converter,
        cord=catalog.cord_by_part[stated["cord"]] if "cord" in stated else None,
        attenuator=catalog.attenuator_by_part[stated["attenuator"]] if "attenuator" in stated else None,
        installed=installed,
    )
