"""Generated catalogs, so that growth can be measured; deterministic by seed.

Suppliers offer the same classes of module with other prices, temperature ranges, powers and sensitivities. The classes are
taken in turn until there are `parts` modules, so that 40 modules hold each class in two grades (0 to 70 C and -40 to 85 C);
cords and attenuators come besides and are the same for every size.

The ``hard`` catalog: each module is coded for some hosts only, and prices do not follow quality, so that few parts replace
one another and the smallest set of part numbers is a real covering problem.
"""

from __future__ import annotations

from itertools import combinations_with_replacement
from random import Random
from typing import Any

from tests.benchmarks.sites import CODINGS, Document

_SMF = {"medium": "fiber", "mode": "single-mode", "laser_class": "1"}
_MMF = {"medium": "fiber", "mode": "multimode", "laser_class": "1"}
_TWO = {"strands": 2, "connector": "LC"}
_ONE = {"strands": 1, "connector": "LC"}


def _class(name: str, form: str, rates: list[str], price: float, power_w: float, **figures: Any) -> tuple[str, Document]:
    return name, {"form": form, "rates": rates, "price": price, "power_w": power_w} | figures


_CLASSES: tuple[tuple[str, Document], ...] = (
    _class("LX10", "SFP", ["1G"], 30, 0.9, standard="1000BASE-LX10", tx_dbm=[-9.0, -3.0], rx_dbm=[-20.0, -3.0], penalty_db=4.0, **_TWO),
    _class("SX", "SFP", ["1G"], 18, 0.8, standard="1000BASE-SX", **_TWO),
    _class("BXD", "SFP", ["1G"], 45, 0.9, standard="1000BASE-BX10-D", **_ONE),
    _class("BXU", "SFP", ["1G"], 45, 0.9, standard="1000BASE-BX10-U", **_ONE),
    _class("LR", "SFP+", ["10G"], 90, 1.2, standard="10GBASE-LR", **_TWO),
    _class("SR", "SFP+", ["10G"], 55, 1.0, standard="10GBASE-SR", **_TWO),
    _class("FX", "SFP", ["100M"], 28, 0.9, standard="100BASE-FX", **_TWO),
    _class("100LX", "SFP", ["100M"], 34, 0.9, standard="100BASE-LX10", **_TWO),
    _class(
        "LX40",
        "SFP",
        ["1G"],
        110,
        1.2,
        tx_nm=[1290, 1330],
        rx_nm=[1260, 1360],
        tx_dbm=[-3.0, 1.0],
        rx_dbm=[-25.0, -3.0],
        penalty_db=2.0,
        reach_m={"single-mode": 45_000},
        dispersion_ps_nm=400,
        **_SMF,
        **_TWO,
    ),
    _class(
        "ZX80",
        "SFP",
        ["1G"],
        180,
        1.3,
        tx_nm=[1540, 1565],
        rx_nm=[1260, 1600],
        tx_dbm=[0.0, 5.0],
        rx_dbm=[-24.0, -3.0],
        penalty_db=2.0,
        reach_m={"single-mode": 80_000},
        dispersion_ps_nm=1800,
        **_SMF,
        **_TWO,
    ),
    _class(
        "BX40D",
        "SFP",
        ["1G"],
        130,
        1.2,
        tx_nm=[1540, 1560],
        rx_nm=[1260, 1360],
        tx_dbm=[-2.0, 2.0],
        rx_dbm=[-25.0, -3.0],
        penalty_db=2.0,
        reach_m={"single-mode": 45_000},
        dispersion_ps_nm=1000,
        role="D40",
        pairs_with="U40",
        **_SMF,
        **_ONE,
    ),
    _class(
        "BX40U",
        "SFP",
        ["1G"],
        130,
        1.2,
        tx_nm=[1290, 1330],
        rx_nm=[1480, 1580],
        tx_dbm=[-2.0, 2.0],
        rx_dbm=[-25.0, -3.0],
        penalty_db=2.0,
        reach_m={"single-mode": 45_000},
        dispersion_ps_nm=400,
        role="U40",
        pairs_with="D40",
        **_SMF,
        **_ONE,
    ),
    _class("T", "SFP", ["1G"], 25, 1.0, standard="1000BASE-T", connector="RJ45"),
    _class("DUAL", "SFP", ["100M", "1G"], 52, 1.0, standard="1000BASE-LX10", at_rate={"100M": {"standard": "100BASE-LX10"}}, **_TWO),
    _class("LX", "SFP", ["1G"], 24, 0.8, standard="1000BASE-LX", **_TWO),
    _class(
        "LX20",
        "SFP",
        ["1G"],
        60,
        1.0,
        tx_nm=[1270, 1355],
        rx_nm=[1260, 1360],
        tx_dbm=[-7.0, -3.0],
        rx_dbm=[-23.0, -3.0],
        penalty_db=3.0,
        reach_m={"single-mode": 20_000},
        dispersion_ps_nm=250,
        **_SMF,
        **_TWO,
    ),
    _class("BR10D", "SFP+", ["10G"], 140, 1.3, standard="10GBASE-BR10-D", tx_dbm=[-5.0, 0.0], rx_dbm=[-14.0, 0.5], penalty_db=2.0, dispersion_ps_nm=70, **_ONE),
    _class("BR10U", "SFP+", ["10G"], 140, 1.3, standard="10GBASE-BR10-U", tx_dbm=[-5.0, 0.0], rx_dbm=[-14.0, 0.5], penalty_db=2.0, dispersion_ps_nm=70, **_ONE),
    _class("ER", "SFP+", ["10G"], 380, 1.5, standard="10GBASE-ER", **_TWO),
    _class(
        "MM2K",
        "SFP",
        ["1G"],
        64,
        1.0,
        tx_nm=[1270, 1355],
        rx_nm=[1260, 1360],
        tx_dbm=[-9.0, -3.0],
        rx_dbm=[-19.0, -3.0],
        penalty_db=4.0,
        reach_m={"OM1": 1000, "OM2": 2000},
        **_MMF,
        **_TWO,
    ),
)
_GRADES_C = ([-40, 85], [0, 70], [-5, 85], [-20, 85])
CLASS_COUNT = len(_CLASSES)


def site_catalog(parts: int, *, profile: str = "usual", seed: int = 1) -> Document:
    """A catalog document of exactly so many modules, with cords and attenuators besides.

    Args:
        parts: at least `CLASS_COUNT`, so that each class is there.
        profile: ``hard`` for parts that hardly replace one another, any other for ordinary suppliers.
        seed: the same seed gives the same document.
    """
    random = Random(f"{profile == 'hard'} {parts} {seed}")
    return {
        "format": "optiselect-catalog/1",
        "name": f"Generated catalog of {parts} modules",
        "currency": "EUR",
        "modules": [_module(index, profile == "hard", random) for index in range(parts)],
        "cords": list(_cords()),
        "attenuators": [
            {"part": f"ATT-{loss}", "mode": "single-mode", "connector": "LC", "loss_db": loss, "price": 9.0 + loss / 5} for loss in (3, 5, 7, 10, 15)
        ],
    }


def _module(index: int, hard: bool, random: Random) -> Document:
    """The next class in turn, by the next supplier: the first two rounds are the rugged and the office grade, then any."""
    name, figures = _CLASSES[index % CLASS_COUNT]
    supplier = index // CLASS_COUNT
    temperature = _GRADES_C[supplier] if supplier < 2 else random.choice(_GRADES_C)
    dearer = {-40: 1.6, -20: 1.3, -5: 1.15, 0: 1.0}[temperature[0]]
    price = figures["price"] * (random.uniform(0.6, 2.0) if hard else dearer * random.uniform(0.85, 1.25))
    module = figures | {
        "part": f"S{supplier:02d}-{name}",
        "supplier": f"Supplier {supplier:02d}",
        "temperature_c": temperature,
        "price": round(price, 2),
        "power_w": round(min(1.5, figures["power_w"] * random.uniform(0.85, 1.15)), 2),
        "fit": random.randint(150, 500),
    }
    if "tx_dbm" in figures and supplier:
        worse = round(random.uniform(-0.5, 0.8), 1)
        module["tx_dbm"] = [round(figures["tx_dbm"][0] + worse / 2, 1), figures["tx_dbm"][1]]
        module["rx_dbm"] = [round(figures["rx_dbm"][0] - worse, 1), figures["rx_dbm"][1]]
    if hard:
        module["coding"] = sorted(random.sample(CODINGS, random.choice([1, 2, 2, 3]) if supplier > 1 else len(CODINGS)))
    return module


def _cords() -> list[Document]:
    cords = []
    for grade in ("OS2", "OM1", "OM2", "OM4"):
        for near, far in combinations_with_replacement(("LC", "SC"), 2):
            for strands in (1, 2):
                cords.append(
                    {"part": f"CORD-{grade}-{near}-{far}-{strands}", "grade": grade, "connectors": [near, far], "strands": strands, "price": 3.0 + strands}
                )
    for grade in ("OM1", "OM2"):
        for far in ("LC", "SC"):
            cords.append({"part": f"MCP-{grade}-LC-{far}", "grade": grade, "connectors": ["LC", far], "strands": 2, "conditioning": True, "price": 38.0})
    return cords
