"""Generated site networks, so that growth can be measured; deterministic by seed.

The shape: a core switch, aggregation switches around it (one for about 40 links), edge devices around each of them. An edge
device has one uplink, a fifth of them two. What a link is made of is drawn for each link:

- length: log-uniform from 20 m to 40 km; aggregation to core at most 8 km;
- grade: copper only to 90 m inside a building, old and new multimode (OM1 to OM4) only to their reach, else OS2;
- rate: 10G from aggregation to core, 1G at the edge, 100M where the optic is fixed to it, 5 % leave the rate open;
- 15 % of the edge devices have a fixed optic; some runs have a single strand; some links pass a panel;
- climate of the edge site: office, plant, cabinet (-20 to 50 C), hot kiosk (to 60 C);
- tight ducts: groups of two to four edge devices behind one trunk whose strands are fewer than two for each link;
- tight ports: aggregation switches whose cages are exactly as many as their links, partly of a form that only 10G needs.

`Shape` holds a parameter for each. Profiles: ``usual``; ``single-strand`` (most fiber runs have one strand); ``tight`` (every
fiber edge link is behind a scarce trunk); ``hard`` (devices that each take a few codings only, to be used with the hard
catalog of `parts`); ``ring`` (switches of 10G rings that enter over one duct and must leave over another).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random
from typing import Any

Document = dict[str, Any]

CODINGS = ("open", "aster", "birch", "cedar", "dune", "elder")
CLIMATES = {"office": [15, 30], "plant": [5, 45], "cabinet": [-20, 50], "kiosk": [-5, 60]}
MULTIMODE_REACH_M = {"OM1": 260, "OM2": 500, "OM3": 500, "OM4": 500}
FX_REACH_M = 1900


@dataclass(frozen=True)
class Shape:
    """The parameters of a network; shares are of the edge links.

    Attributes:
        copper, multimode: chance of that medium where the length allows it.
        fixed: share of fixed optics. single_strand: share of runs with one strand. paneled: share that pass one panel.
        tight_strands, tight_ports: share of links that are in a group with scarce strands, scarce ports.
        climates: weights of office, plant, cabinet, kiosk.
        coded: whether devices take a few codings only. ring: switches a ring, 0 for none.
    """

    copper: float = 0.5
    multimode: float = 0.5
    fixed: float = 0.15
    single_strand: float = 0.08
    paneled: float = 0.10
    tight_strands: float = 0.10
    tight_ports: float = 0.10
    open_rate: float = 0.05
    climates: tuple[float, float, float, float] = (0.3, 0.3, 0.3, 0.1)
    coded: bool = False
    ring: int = 0
    links_an_aggregation: int = 40
    longest_m: float = 40_000.0


USUAL = Shape()
PROFILES: dict[str, Shape] = {
    "usual": USUAL,
    "single-strand": replace(USUAL, single_strand=0.7),
    "tight": replace(USUAL, tight_strands=1.0, tight_ports=0.5),
    "hard": replace(USUAL, coded=True),
    "ring": replace(USUAL, ring=8),
}


def site_network(links: int, *, profile: str = "usual", seed: int = 1) -> Document:
    """A network document of exactly so many links.

    Args:
        links: at least 2.
        profile: one of `PROFILES`.
        seed: the same seed gives the same document.
    """
    return _Builder(links, PROFILES[profile], Random(f"{profile} {links} {seed}")).document()


class _Builder:
    def __init__(self, links: int, shape: Shape, random: Random) -> None:
        self.left = links
        self.shape = shape
        self.random = random
        self.sites: dict[str, Document] = {"core": {"id": "core", "ambient_c": CLIMATES["office"], "building": "core"}}
        self.devices: dict[str, Document] = {}
        self.panels: list[Document] = []
        self.runs: list[Document] = []
        self.links: list[Document] = []
        self.core_ports = 0

    def document(self) -> Document:
        total = self.left
        self.device("core", "core", [])
        self.device("core-b", "core", [])
        for index in range(max(1, round(total / self.shape.links_an_aggregation))):
            if self.left > 1:
                self.aggregation(f"agg-{index:04d}", min(self.left, self.shape.links_an_aggregation))
        while self.left:
            self.aggregation(f"agg-x{self.left:04d}", self.left)
        for name in ("core", "core-b"):
            self.devices[name]["ports"].append(
                {"ids": f"1-{max(1, self.core_ports)}", "kind": "cage", "form": "SFP+", "rates": ["1G", "10G"], "module_power_w": 1.5}
            )
        return {
            "format": "optiselect-network/1",
            "name": f"Generated site of {total} links",
            "sites": list(self.sites.values()),
            "devices": list(self.devices.values()),
            "panels": self.panels,
            "runs": self.runs,
            "links": self.links,
        }

    def aggregation(self, name: str, links: int) -> None:
        """An aggregation switch (or a ring of switches), its uplinks, and edge devices until `links` are used up."""
        self.sites[name] = {"id": name, "ambient_c": CLIMATES["plant"], "building": name}
        uplinks = self.ring(name) if self.shape.ring > 0 and self.shape.ring + 1 < links else self.uplink(name)
        edge, per_member = links - uplinks, len(self.members)
        for position, member in enumerate(self.members):
            share = edge // per_member + (position < edge % per_member)
            self.edge_devices(member, share, tight=self.random.random() < self.shape.tight_ports)

    def uplink(self, name: str) -> int:
        self.device(name, name, [])
        self.members = [name]
        self.core_ports += 1
        length = self.length(8_000)
        grade = self.random.choice(["OM3", "OM4"]) if length <= 250 else "OS2"
        self.fiber(f"up-{name}", ["core", name], grade, length, strands=12, plug="LC")
        self.link(f"up-{name}", ["core", name], rate="10G", weight=5)
        return 1

    def ring(self, name: str) -> int:
        """A ring of switches between the two cores: in over the north or the south duct, out over the south one."""
        self.members = [f"{name}-r{index}" for index in range(self.shape.ring)]
        for member in self.members:
            self.device(member, name, [])
        self.core_ports += 1
        stations = ["core", *self.members, "core-b"]
        last = len(stations) - 2
        for index, (near, far) in enumerate(pairwise(stations)):
            ends, routes = [near, far], [f"{name}-{index}"]
            if index == 0:
                self.fiber(f"{name}-north", ends, "OS2", self.length(8_000), strands=6, plug="LC", routes=[f"{name}-north"])
                routes = [f"{name}-south"]
            elif index == last:
                routes = [f"{name}-south"]
            self.fiber(f"{name}-{index}", ends, "OS2", self.length(8_000), strands=6, plug="LC", routes=routes)
            diverse = {"diverse_from": [f"ring-{name}-{last}"]} if index == 0 else {}
            self.link(f"ring-{name}-{index}", ends, rate="10G", weight=5, **diverse)
        return len(stations) - 1

    def edge_devices(self, member: str, links: int, tight: bool) -> None:
        before = len(self.links)
        sockets = 0
        while links:
            if self.random.random() < self.shape.tight_strands and links > 1:
                count = min(links, self.random.randint(2, 4))
                self.group_behind_a_trunk(member, count)
            else:
                count = 1 if links < 2 or self.random.random() < 0.8 else 2
                sockets += self.edge(member, count)
            links -= count
        self.give_ports(member, len(self.links) - before - sockets, sockets, tight)

    def give_ports(self, member: str, cages: int, sockets: int, tight: bool) -> None:
        """Cages with some to spare, or exactly as many as there are links (two of a form that the 10G uplinks need)."""
        ports = self.devices[member]["ports"]
        bigger = {"ids": "u1-u4", "kind": "cage", "form": "SFP+", "rates": ["1G", "10G"], "module_power_w": 1.5}
        smaller = {"kind": "cage", "form": "SFP", "rates": ["100M", "1G"], "module_power_w": 1.5}
        ports.append(bigger)
        needed = max(1, cages - 2) if tight else cages + 4
        ports.append({"ids": f"1-{needed}"} | smaller)
        if sockets:
            ports.append({"ids": f"t1-t{sockets}", "kind": "copper", "rates": ["10M", "100M", "1G"]})

    def edge(self, member: str, count: int) -> int:
        """An edge device with its own runs; returns how many copper sockets it takes at the aggregation switch."""
        name = f"edge-{len(self.devices):05d}"
        building, length = self.devices[member]["site"], self.length(self.shape.longest_m)
        if length <= 90 and self.random.random() < self.shape.copper:
            self.device(name, building, [{"ids": f"1-{count}", "kind": "copper", "rates": ["100M", "1G"]}])
            for index in range(count):
                run = self.next_run()
                self.runs.append({"id": run, "ends": [member, name], "copper": {"category": self.random.choice(["Cat5e", "Cat6"]), "length_m": length}})
                self.link(f"{name}-{index}", [member, name], rate="1G")
            return count
        optic, grade, length, rate = self.optic_and_grade(length)
        single = optic is None and grade == "OS2" and self.random.random() < self.shape.single_strand
        plug = self.random.choice(["LC", "SC"])
        self.device(name, self.climate(building), [self.edge_port(optic, count)])
        for index in range(count):
            self.paths(member, name, grade, length, 1 if single else 2 * self.random.randint(1, 6), plug)
            self.link(f"{name}-{index}", [member, name], **self.rate(rate))
        return 0

    def group_behind_a_trunk(self, member: str, count: int) -> None:
        """Edge devices behind one trunk between two panels; its strands are fewer than two for each."""
        near, far = f"panel-{len(self.panels):05d}", f"panel-{len(self.panels) + 1:05d}"
        building = self.devices[member]["site"]
        self.panels += [{"id": near, "site": building}, {"id": far, "site": building}]
        self.fiber(self.next_run(), [member, near], "OS2", 10, strands=48, plug="LC", far_plug="LC")
        self.fiber(self.next_run(), [near, far], "OS2", self.length(6_000), strands=self.random.randint(count, 2 * count - 1), plug="LC", far_plug="LC")
        for _ in range(count):
            name = f"edge-{len(self.devices):05d}"
            self.device(name, self.climate(building), [self.edge_port(None, 1)])
            self.fiber(self.next_run(), [far, name], "OS2", round(self.random.uniform(20, 400)), strands=2, plug="LC")
            self.link(f"{name}-0", [member, name], rate="1G", weight=self.random.choice([1, 1, 1, 2, 3]))

    def paths(self, member: str, name: str, grade: str, length: float, strands: int, plug: str) -> None:
        """One run between two devices, or two through a panel of their own."""
        if self.random.random() >= self.shape.paneled or length < 40:
            self.fiber(self.next_run(), [member, name], grade, length, strands=strands, plug=plug)
            return
        panel = f"panel-{len(self.panels):05d}"
        self.panels.append({"id": panel, "site": self.devices[member]["site"]})
        self.fiber(self.next_run(), [member, panel], grade, 20, strands=strands, plug="LC", far_plug=plug)
        self.fiber(self.next_run(), [panel, name], grade, round(length - 20, 1), strands=strands, plug=plug, far_plug=plug)

    def optic_and_grade(self, length: float) -> tuple[Document | None, str, float, str]:
        """A fixed optic or None, the grade, the length (kept within what a fixed optic can do) and the rate."""
        multimode = self.random.random() < self.shape.multimode
        grade = self.random.choice(["OM1", "OM1", "OM2", "OM2", "OM3", "OM4"]) if multimode else "OS2"
        fixed = self.random.random() < self.shape.fixed
        if fixed and multimode and length <= FX_REACH_M:
            return {"standard": "100BASE-FX", "connector": "SC"}, self.random.choice(["OM1", "OM2"]), length, "100M"
        if fixed:
            standard = self.random.choice(["100BASE-LX10", "1000BASE-LX10"])
            return (
                {"standard": standard, "connector": "SC"},
                "OS2",
                min(length, round(7_000 + length / 100, 1)),
                "100M" if standard.startswith("100B") else "1G",
            )
        if multimode and length <= MULTIMODE_REACH_M[grade]:
            return None, grade, length, "1G"
        return None, "OS2", length, "1G"

    def edge_port(self, optic: Document | None, count: int) -> Document:
        if optic is not None:
            return {"ids": f"1-{count}", "kind": "fixed", "optic": optic}
        return {"ids": f"1-{count}", "kind": "cage", "form": "SFP", "rates": ["1G"], "module_power_w": 1.5}

    def rate(self, rate: str) -> Document:
        return {} if self.random.random() < self.shape.open_rate else {"rate": rate}

    def climate(self, building: str) -> str:
        kind = self.random.choices(list(CLIMATES), self.shape.climates)[0]
        site = f"{building}-{kind}"
        inside = {"building": building} if kind in ("office", "plant") else {"outdoor": True}
        self.sites.setdefault(site, {"id": site, "ambient_c": CLIMATES[kind]} | inside)
        return site

    def device(self, name: str, site: str, ports: list[Document]) -> None:
        coded = {"accepts": sorted(self.random.sample(CODINGS, 2))} if self.shape.coded else {}
        self.devices[name] = {"id": name, "site": site} | coded | {"ports": ports}

    def fiber(
        self, run: str, ends: list[str], grade: str, length: float, *, strands: int, plug: str, far_plug: str | None = None, routes: list[str] | None = None
    ) -> None:
        fiber = {
            "grade": grade,
            "length_m": length,
            "strands": strands,
            "connectors": [plug, far_plug or plug],
            "polish": "UPC",
            "splices": int(length // 4_000),
        }
        self.runs.append({"id": run, "ends": ends} | ({"routes": routes} if routes else {}) | {"fiber": fiber})

    def link(self, link: str, ends: list[str], **asked: Any) -> None:
        self.links.append({"id": link, "ends": ends} | asked)
        self.left -= 1

    def next_run(self) -> str:
        return f"run-{len(self.runs):06d}"

    def length(self, longest: float) -> float:
        return round(math.exp(self.random.uniform(math.log(20), math.log(longest))), 1)
