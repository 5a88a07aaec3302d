"""Small random networks in which ports, strands and stock run short."""

import random

from optiselect.model.catalog import Catalog, Module
from optiselect.model.network import Network
from optiselect.model.policy import Policy

STANDARDS = ("1000BASE-SX", "1000BASE-LX10", "1000BASE-BX10-D", "1000BASE-BX10-U")


def catalog(seed: int) -> Catalog:
    """Three to six modules with every figure that a rule asks for."""
    draw = random.Random(seed)
    return Catalog(modules=[_module(draw, index) for index in range(draw.randint(3, 6))])


def _module(draw: random.Random, index: int) -> Module:
    figures = {"form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": draw.choice([0.7, 1.0]), "laser_class": "1"}
    return Module(part=f"M{index}", standard=draw.choice(STANDARDS), price=draw.randint(10, 60), stock=draw.choice([None, 1, 2, 3]), **figures)


def network(seed: int) -> Network:
    """Two or three links between three devices, over runs of few strands, directly or through a panel."""
    draw = random.Random(seed)
    devices = [
        {
            "id": name,
            "site": "hall",
            "module_power_w": draw.choice([None, 1.8, 3.0]),
            "ports": [{"ids": f"1-{draw.randint(1, 2)}", "kind": "cage", "form": "SFP", "rates": ["1G"]}],
        }
        for name in "abc"
    ]
    places = [("a", "b"), ("a", "b"), ("a", "c"), ("b", "c"), ("a", "p"), ("p", "b")]
    runs = [{"id": f"R{index}", "ends": ends, "fiber": _fiber(draw)} for index, ends in enumerate(places)]
    links = [
        {"id": f"L{index}", "ends": draw.choice(["ab", "ba", "ac", "bc"]), "rate": "1G", "weight": draw.choice([1, 1, 2, 3])}
        for index in range(draw.randint(2, 3))
    ]
    ambient = {"id": "hall", "ambient_c": [10, 30], "building": "hall"}
    wanted = [link | {"ends": tuple(link["ends"])} for link in links]
    return Network(sites=[ambient], devices=devices, panels=[{"id": "p", "site": "hall"}], runs=runs, links=wanted)


def _fiber(draw: random.Random) -> dict[str, object]:
    return {"grade": draw.choice(["OM3", "OS2", "OS2"]), "length_m": draw.randint(20, 400), "strands": draw.randint(1, 4)}


def policy() -> Policy:
    """The default objectives."""
    return Policy()
