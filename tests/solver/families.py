"""Small random networks: in each family something else decides, and now and then something of another family as well."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy

KITS = (
    ("1000BASE-LX10", "1000BASE-SX"),
    ("1000BASE-LX10", "1000BASE-BX10-D", "1000BASE-BX10-U"),
    ("1000BASE-BX10-D", "1000BASE-BX10-U"),
    ("1000BASE-SX", "1000BASE-LX"),
)
GRADES = {"1000BASE-SX": ("OM3", "OM2")}
ALSO = 0.12
"""How often a case has something of another family as well."""


@dataclass
class Draft:
    """The three documents of a case, to be written on."""

    draw: Random
    kit: tuple[str, ...]
    devices: list[dict[str, Any]] = field(default_factory=list)
    panels: list[str] = field(default_factory=lambda: ["p"])
    runs: list[dict[str, Any]] = field(default_factory=list)
    links: list[dict[str, Any]] = field(default_factory=list)
    installed: dict[str, str] = field(default_factory=dict)
    catalog: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    policy: dict[str, Any] = field(default_factory=dict)

    @property
    def modules(self) -> list[dict[str, Any]]:
        return self.catalog["modules"]

    @property
    def fibers(self) -> list[dict[str, Any]]:
        return [run["fiber"] for run in self.runs if "fiber" in run]

    @property
    def cages(self) -> list[dict[str, Any]]:
        return [port for device in self.devices for port in device["ports"] if port["kind"] == "cage"]

    def some(self, rows: list[Any], chance: float = 0.5) -> list[Any]:
        return [row for row in rows if self.draw.random() < chance]

    def fiber(self) -> dict[str, Any]:
        """Fiber that some module of the catalog is for."""
        grades = GRADES.get(self.draw.choice(self.modules)["standard"], ("OS2",))
        return {"grade": self.draw.choice(grades), "length_m": self.draw.randint(20, 400), "strands": self.draw.choice([2, 4, 4, 6])}

    def documents(self) -> tuple[Network, Catalog, Policy]:
        sites = [{"id": "hall", "ambient_c": [10, 30], "building": "main"}, {"id": "yard", "ambient_c": [-20, 45], "building": "main"}]
        panels = [{"id": panel, "site": "hall"} for panel in self.panels]
        links = self.links[: 2 if len(self.modules) + len(self.catalog.get("converters", [])) > 3 else 3]
        for link in links:
            link["diverse_from"] = [name for name in link.get("diverse_from", []) if name in [other["id"] for other in links]]
        caged = {f"{device['id']}/1" for device in self.devices if device["ports"][0]["kind"] in ("cage", "shared")}
        installed = {port: part for port, part in self.installed.items() if port in caged}
        network = Network(sites=sites, devices=self.devices, panels=panels, runs=self.runs, links=links, installed=installed)
        return network, Catalog(**self.catalog), Policy(**self.policy)


def case(seed: int) -> tuple[Network, Catalog, Policy]:
    """Network, catalog and policy of a case; the families take turns."""
    names = list(FAMILIES)
    own = names[seed % len(names)]
    draft = plain(Random(seed))
    for name in [own, *draft.some([name for name in names if name != own], ALSO)]:
        FAMILIES[name](draft)
    return draft.documents()


def plain(draw: Random) -> Draft:
    """Two or three links between three devices, over three runs of fiber."""
    draft = Draft(draw, draw.choice(KITS))
    draft.catalog = {"modules": [_module(draw, index, draft.kit[index % len(draft.kit)]) for index in range(draw.randint(len(draft.kit), 4))]}
    for name in "abc":
        cages = {"ids": f"1-{draw.choice([1, 2, 2])}", "kind": "cage", "form": "SFP", "rates": ["1G"]}
        draft.devices.append({"id": name, "site": draw.choice(["hall", "hall", "yard"]), "ports": [cages]})
    places = [("a", "b"), draw.choice([("b", "c"), ("c", "a")]), draw.choice([("a", "b"), ("a", "c"), ("b", "a")])]
    draft.runs = [{"id": f"R{index}", "ends": ends, "fiber": draft.fiber()} for index, ends in enumerate(places)]
    draft.links = [{"id": f"L{index}", "ends": _either_way(draw, draw.choice(places)), "rate": "1G"} for index in range(draw.choice([2, 2, 3]))]
    return draft


def _either_way(draw: Random, ends: tuple[str, str]) -> tuple[str, str]:
    return draw.choice([ends, ends[::-1]])


def _module(draw: Random, index: int, standard: str) -> dict[str, Any]:
    figures = {"form": "SFP", "connector": "LC", "temperature_c": draw.choice([[-40, 85], [-40, 85], [-40, 85], [0, 70]]), "power_w": 0.7, "laser_class": "1"}
    return {"part": f"M{index}", "standard": standard, "price": draw.randint(10, 60)} | figures


def scarce(draft: Draft) -> None:
    """Few strands, few ports, little stock."""
    for fiber in draft.fibers:
        fiber["strands"] = draft.draw.randint(1, 4)
    for module in draft.modules:
        module["stock"] = draft.draw.choice([None, 1, 2, 3])
    draft.policy["reserve_strands"] = draft.draw.choice([0, 0, 1])


def cords(draft: Draft) -> None:
    """Runs that show connectors and a polish, so that cords are needed, some of them hybrid."""
    draw = draft.draw
    for fiber in draft.some(draft.fibers, 0.8):
        fiber["connectors"] = [draw.choice(["LC", "SC"]), draw.choice(["LC", "SC"])]
        fiber["polish"] = draw.choice(["UPC", "UPC", "APC"])
    for module in draft.some(draft.modules, 0.3):
        module["connector"] = "SC"
    draft.catalog["cords"] = [
        {
            "part": f"C{index}",
            "grade": draw.choice(["OS2", draw.choice(draft.fibers)["grade"]]),
            "connectors": draw.choice([["LC", "SC"], ["LC", "LC"], ["SC", "SC"], ["SC", "LC"]]),
            "polish": draw.choice([None, ["UPC", "UPC"], ["UPC", "APC"], ["APC", "UPC"]]),
            "strands": draw.choice([1, 2, 2]),
            "price": draw.randint(1, 9),
        }
        for index in range(4)
    ]
    draft.policy["allow_hybrid_cords"] = draw.random() < 0.8


def conditioning(draft: Draft) -> None:
    """Light for single-mode fiber on old multimode, which wants mode-conditioning cords at both ends."""
    draw = draft.draw
    grade = draw.choice(["OM1", "OM2"])
    for fiber in draft.some(draft.fibers, 0.8):
        fiber |= {"grade": grade, "connectors": ["LC", draw.choice(["LC", "SC"])]}
    for module in draft.some(draft.modules, 0.8):
        module["standard"] = draw.choice(["1000BASE-LX", "1000BASE-LX10"])
    ends = [["LC", "LC"], ["LC", "SC"], ["LC", "SC"]]
    kinds = [(index, both, index != 0) for index, both in enumerate(ends)] + [(3, draw.choice(ends), False)]
    draft.catalog["cords"] = [
        {"part": f"C{index}", "grade": grade, "connectors": both, "conditioning": matched or draw.random() < 0.5, "price": draw.randint(1, 9)}
        for index, both, matched in kinds
    ]


def attenuators(draft: Draft) -> None:
    """Strong senders on short runs, on two strands and on one."""
    draw = draft.draw
    for module in draft.some(draft.modules, 0.8):
        strong = draw.choice([-2, 0, 2, 5])
        module |= {"tx_dbm": [strong - 3, strong], "rx_dbm": [-24 + draw.randint(0, 4), draw.choice([-3, -5, -8])]}
    mode = {"OS2": "single-mode"}
    draft.catalog["attenuators"] = [
        {
            "part": f"A{index}",
            "mode": mode.get(draw.choice(draft.fibers)["grade"], "multimode"),
            "connector": "LC",
            "loss_db": draw.choice([3, 5, 5, 8, 12]),
            "price": draw.randint(1, 20),
        }
        for index in range(3)
    ]
    draft.policy["allow_attenuators"] = draw.random() < 0.85


def converters(draft: Draft) -> None:
    """Devices with copper ports only, or with shared ports, at the ends of fiber."""
    draw = draft.draw
    for device in draft.some(draft.devices, 0.6):
        names, copper_rates = device["ports"][0]["ids"], draw.choice([["1G"], ["100M", "1G"]])
        copper = {"ids": names, "kind": "copper", "rates": copper_rates}
        shared = {"ids": names, "kind": "shared", "form": "SFP", "rates": ["1G"], "copper_rates": copper_rates}
        device["ports"] = [draw.choice([copper, copper, shared])]
    caged = {"part": "V0", "form": "SFP", "rates": ["1G"], "temperature_c": [-40, 85]}
    soldered = {"part": "V1", "optic": {"standard": draw.choice(draft.kit), "connector": "LC"}, "temperature_c": [0, 70]}
    either = [draw.choice([caged, soldered])]
    draft.catalog["converters"] = [
        row | {"copper_rates": ["100M", "1G"], "price": draw.randint(20, 90), "stock": draw.choice([None, None, 1])}
        for row in draw.choice([[caged, soldered], either])
    ]
    draft.policy["allow_converters"] = draw.random() < 0.9


def copper(draft: Draft) -> None:
    """Runs of copper, one link each, between copper ports, shared ports and cages with copper modules."""
    draw = draft.draw
    for run in draft.some(draft.runs, 0.7):
        run.pop("fiber", None)
        run["copper"] = {"category": draw.choice(["Cat5e", "Cat6"]), "length_m": draw.randint(30, 110)}
    draft.runs = draft.runs[:-1] or draft.runs
    draft.runs.append({"id": "R9", "ends": ("a", "b"), "fiber": draft.fiber()})
    for device in draft.some(draft.devices, 0.7):
        names = device["ports"][0]["ids"]
        sockets = {"ids": names, "kind": "copper", "rates": ["1G"]}
        shared = {"ids": names, "kind": "shared", "form": "SFP", "rates": ["1G"], "copper_rates": ["100M", "1G"]}
        device["ports"] = [draw.choice([sockets, shared])]
    module = {"part": "T0", "standard": "1000BASE-T", "form": "SFP", "temperature_c": [-40, 85], "power_w": 1.0, "price": draw.randint(10, 60)}
    draft.modules.append(module)


def spares(draft: Draft) -> None:
    """Parts that fail often enough for the number of units to decide how many lie on the shelf."""
    draw = draft.draw
    for row in [*draft.modules, *draft.catalog.get("converters", [])]:
        row["fit"] = draw.choice([None, 300, 40_000, 120_000, 300_000])
    for module in draft.some(draft.modules, 0.3):
        module["stock"] = draw.choice([2, 3, 4, 5])
    draft.policy["spares"] = {"service_level": draw.choice([0.9, 0.95, 0.99]), "restock_days": draw.choice([30, 90])}


def installed(draft: Draft) -> None:
    """Modules that are in place: to be forgotten, kept where that costs nothing else, or kept."""
    draw = draft.draw
    for device in draft.some([device for device in draft.devices if device["ports"][0]["kind"] != "copper"], 0.7):
        draft.installed[f"{device['id']}/1"] = draw.choice(draft.modules)["part"]
    for module in draft.some(draft.modules, 0.2):
        module["lifecycle"] = "discontinued"
    draft.policy["keep_installed"] = draw.choice(["no", "prefer", "prefer", "must"])
    draft.policy["objective"] = draw.choice([["links", "part_numbers", "cost", "strands"], ["links", "cost", "changes"], ["links", "changes", "part_numbers"]])


def diverse(draft: Draft) -> None:
    """Links that must not share a run or a route."""
    draw = draft.draw
    for run in draft.some(draft.runs):
        run["routes"] = draw.choice([["duct-1"], ["duct-2"], ["duct-1", "duct-2"]])
    draft.runs.append({"id": "R8", "ends": ("b", "a"), "routes": draw.choice([[], ["duct-1"]]), "fiber": draft.fiber()})
    names = [link["id"] for link in draft.links]
    for link in draft.some(draft.links, 0.7):
        link["diverse_from"] = draw.sample([name for name in names if name != link["id"]], 1)
    for device in draft.devices:
        device["ports"][0]["ids"] = "1-2"


def pinned(draft: Draft) -> None:
    """Links that name their port."""
    for link in draft.links:
        link["ends"] = tuple(draft.draw.choice([end, f"{end}/1"]) for end in link["ends"])


def critical(draft: Draft) -> None:
    """Links that matter more than others, with room for a few."""
    for link in draft.links:
        link |= {"critical": draft.draw.random() < 0.4, "weight": draft.draw.choice([1, 2, 3, 5])}
    for fiber in draft.fibers:
        fiber["strands"] = draft.draw.randint(1, 3)
    for device in draft.some(draft.devices):
        device["ports"][0]["ids"] = "1-1"


def open_rates(draft: Draft) -> None:
    """Links that state no rate, between ports that run several."""
    draw = draft.draw
    for link in draft.some(draft.links, 0.8):
        link.pop("rate", None)
    for cage in draft.some(draft.cages, 0.8):
        cage |= {"form": "SFP+", "rates": draw.choice([["1G", "10G"], ["100M", "1G", "10G"], ["1G"]])}
    for index, module in enumerate(draft.some(draft.modules, 0.5)):
        standard = draw.choice(["10GBASE-LR", "10GBASE-LR", "10GBASE-SR", "100BASE-LX10"])
        module |= {"standard": standard, "form": {"100BASE-LX10": "SFP"}.get(standard, "SFP+"), "stock": draw.choice([None, 1, 2, index + 1])}


def panels(draft: Draft) -> None:
    """Ways through one panel or two beside the direct ones."""
    draw = draft.draw
    draft.panels = ["p", "q"]
    pieces = [("a", "p"), ("p", "b"), ("p", "q"), ("q", "c"), ("b", "q")]
    draft.runs = [draft.runs[0], *({"id": f"P{index}", "ends": ends, "fiber": draft.fiber()} for index, ends in enumerate(pieces))]
    draft.links = draft.links[:2]
    for link in draft.links:
        link.pop("diverse_from", None)
        link["ends"] = draw.choice([("a", "b"), ("b", "a"), ("a", "c")])
    for fiber in draft.fibers:
        fiber["strands"] = draw.randint(1, 4)


def power(draft: Draft) -> None:
    """Devices that feed few modules; some modules do not say what they draw."""
    draw = draft.draw
    for module in draft.modules:
        module["power_w"] = draw.choice([0.5, 0.7, 0.7, 1.0, None])
    for device in draft.some(draft.devices, 0.8):
        device["module_power_w"] = draw.choice([0.6, 1.2, 1.4, 1.7, 2.0])
        device["ports"][0]["ids"] = "1-2"


def wishes(draft: Draft) -> None:
    """Parts that are preferred, excluded, or on their way out."""
    draw = draft.draw
    parts = [row["part"] for rows in draft.catalog.values() for row in rows]
    draft.policy["prefer_parts"] = draft.some(parts, 0.4)
    draft.policy["exclude_parts"] = draft.some(parts, 0.15)
    for module in draft.modules:
        module |= {"price": draw.choice([20, 20, 30]), "lifecycle": draw.choice(["active", "active", "active", "last-order"])}
    draft.policy["lifecycles"] = draw.choice([["active"], ["active", "last-order"]])


def orders(draft: Draft) -> None:
    """The objectives in another order."""
    rest = draft.draw.sample(["part_numbers", "cost", "strands", "modules", "changes"], draft.draw.randint(1, 5))
    draft.policy["objective"] = ["links", *rest]


def unstated(draft: Draft) -> None:
    """Modules of which a figure is missing."""
    draw = draft.draw
    for module in draft.some(draft.modules, 0.6):
        module[draw.choice(["temperature_c", "power_w", "laser_class", "connector"])] = None
    for module in draft.some(draft.modules, 0.3):
        module |= {"standard": None, "rates": ["1G"], "mode": "single-mode", "strands": 2, "tx_nm": [1260, 1360], "rx_nm": [1260, 1360]}
        module |= draw.choice([{"tx_dbm": [-9, -3]}, {"rx_dbm": [-19, -3]}, {"reach_m": {"single-mode": 5000}}, {"rx_dbm": [-20, -8]}])
    for device in draft.some(draft.devices, 0.2):
        device["site"] = None


FAMILIES: dict[str, Callable[[Draft], None]] = {
    made.__name__.replace("_", " "): made
    for made in (
        scarce,
        cords,
        conditioning,
        attenuators,
        converters,
        copper,
        spares,
        installed,
        diverse,
        pinned,
        critical,
        open_rates,
        panels,
        power,
        wishes,
        orders,
        unstated,
    )
}
