"""Small sites in which one thing each stands in the way, told as an integrator would meet them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy

Documents = tuple[Network, Catalog, Policy]
_FIGURES = {"form": "SFP", "rates": ["1G"], "connector": "LC", "power_w": 0.9, "laser_class": "1"}


def module(part: str, standard: str | None, price: float, **figures: Any) -> dict[str, Any]:
    """A module of the stores."""
    return {"part": part, "price": price, "temperature_c": [-40, 85], **_FIGURES} | ({"standard": standard} if standard else {}) | figures


SX, LX = module("SX-I", "1000BASE-SX", 34.0), module("LX-I", "1000BASE-LX10", 44.0)
LX_C = module("LX-C", "1000BASE-LX10", 27.0, temperature_c=[0, 70])
BXD, BXU = module("BXD-I", "1000BASE-BX10-D", 57.0), module("BXU-I", "1000BASE-BX10-U", 57.0)
FX = module("FX-I", "100BASE-FX", 41.0, rates=["100M"])
T = module("T-I", "1000BASE-T", 43.0, medium="copper", connector="RJ45", reach_m={"Cat5e": 100, "Cat6": 100})
ZX = module(
    "ZX-I",
    None,
    260.0,
    **{"medium": "fiber", "mode": "single-mode", "strands": 2, "tx_nm": [1540, 1570], "rx_nm": [1260, 1600], "tx_dbm": [0, 5], "rx_dbm": [-24, -3]},
    **{"penalty_db": 2, "reach_m": {"single-mode": 80000}, "dispersion_ps_nm": 1600},
)
LR = module("LR-I", "10GBASE-LR", 120.0, form="SFP+", rates=["10G"], power_w=1.4)
SR = module("SR-I", "10GBASE-SR", 80.0, form="SFP+", rates=["10G"], power_w=1.2)
CONVERTER = {"part": "MC-1G", "copper_rates": ["100M", "1G"], "form": "SFP", "rates": ["1G"], "temperature_c": [-40, 75], "price": 88.0}
PAD = {"part": "PAD-5", "mode": "single-mode", "connector": "LC", "loss_db": 5, "price": 12.0}


def cage(form: str = "SFP", rates: tuple[str, ...] = ("1G",), ids: str = "1-4", **more: Any) -> dict[str, Any]:
    """Cages of a device."""
    return {"ids": ids, "kind": "cage", "form": form, "rates": list(rates)} | more


def site(
    run: dict[str, Any],
    modules: list[dict[str, Any]],
    *,
    core: dict[str, Any] | None = None,
    gate: dict[str, Any] | None = None,
    links: list[dict[str, Any]] | None = None,
    runs: list[dict[str, Any]] | None = None,
    panels: list[dict[str, Any]] | None = None,
    installed: dict[str, str] | None = None,
    policy: dict[str, Any] | None = None,
    gate_site: dict[str, Any] | None = None,
    **catalog: Any,
) -> Documents:
    """A control room and a gate with one run between them, unless more is said."""
    stated = {
        "name": "Lantern quay",
        "sites": [
            {"id": "control", "ambient_c": [15, 30], "building": "main"},
            {"id": "cabinet", "ambient_c": [-20, 50], "building": "main"} | (gate_site or {}),
        ],
        "devices": [
            {"id": "core", "site": "control", "ports": [cage()]} | (core or {}),
            {"id": "gate", "site": "cabinet", "ports": [cage()]} | (gate or {}),
        ],
        "panels": panels or [],
        "runs": [{"id": "F1", "ends": ["core", "gate"]} | run, *(runs or [])],
        "links": links or [{"id": "L1", "ends": ["core", "gate"], "rate": "1G"}],
        "installed": installed or {},
    }
    stores = {"name": "Stores", "currency": "EUR", "modules": modules} | catalog
    return Network(**stated), Catalog(**stores), Policy(**(policy or {}))


def fiber(grade: str, length_m: float, strands: int = 4, **more: Any) -> dict[str, Any]:
    """A run of fiber."""
    return {"fiber": {"grade": grade, "length_m": length_m, "strands": strands} | more}


def copper(length_m: float, category: str = "Cat6", **more: Any) -> dict[str, Any]:
    """A run of copper."""
    return {"copper": {"category": category, "length_m": length_m}} | more


def _link(name: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "ends": ["core", "gate"], "rate": "1G"} | more


COPPER_PORTS = {"ports": [{"ids": "1-2", "kind": "copper", "rates": ["100M", "1G"]}]}
FIXED_FX = {"ports": [{"id": "up", "kind": "fixed", "optic": {"standard": "100BASE-FX", "connector": "SC"}}]}

SCENES: dict[str, Callable[[], Documents]] = {
    "multimode parts only, and the fiber is single-mode": lambda: site(fiber("OS2", 800), [SX]),
    "the catalog runs 1G only, and 10G is wanted": lambda: site(
        fiber("OS2", 800), [LX], core={"ports": [cage("SFP+", ("1G", "10G"))]}, gate={"ports": [cage("SFP+", ("1G", "10G"))]}, links=[_link("L1", rate="10G")]
    ),
    "the cages are of a form that no part has": lambda: site(
        fiber("OS2", 800), [LX], core={"ports": [cage("QSFP+", ("40G",))]}, gate={"ports": [cage("QSFP+", ("40G",))]}, links=[_link("L1", rate="40G")]
    ),
    "a cage takes fiber only, and the run is copper": lambda: site(copper(40), [LX, T], gate={"ports": [cage(media=["fiber"])]}),
    "a device takes one coding only": lambda: site(fiber("OS2", 800), [LX], core={"accepts": ["marram"]}),
    "a hot kiosk": lambda: site(fiber("OS2", 800), [LX_C], gate_site={"ambient_c": [-5, 60]}),
    "a cold cabinet": lambda: site(fiber("OS2", 800), [LX_C], gate_site={"ambient_c": [-20, 40]}),
    "a cage that gives little power": lambda: site(fiber("OS2", 800), [LX], gate={"ports": [cage(module_power_w=0.5)]}),
    "a laser class that is not allowed": lambda: site(fiber("OS2", 800), [LX | {"laser_class": "1M"}]),
    "a part on its way out": lambda: site(fiber("OS2", 800), [LX | {"lifecycle": "last-order"}]),
    "a part that is excluded": lambda: site(fiber("OS2", 800), [LX], policy={"exclude_parts": ["LX-I"]}),
    "what is in place must stay, and does not fit the far end": lambda: site(
        fiber("OS2", 800),
        [LX, SX],
        installed={"core/1": "SX-I"},
        links=[{"id": "L1", "ends": ["core/1", "gate"], "rate": "1G"}],
        policy={"keep_installed": "must"},
    ),
    "two core diameters on one way": lambda: site(
        fiber("OM1", 100) | {"ends": ["core", "frame"]},
        [SX],
        panels=[{"id": "frame", "site": "control"}],
        runs=[{"id": "F2", "ends": ["frame", "gate"]} | fiber("OM3", 100)],
    ),
    "a soldered two-strand optic and one strand": lambda: site(
        fiber("OS2", 800, 1),
        [module("LX100-I", "100BASE-LX10", 40.0, rates=["100M"])],
        core={"ports": [cage("SFP", ("100M",))]},
        gate={"ports": [{"id": "up", "kind": "fixed", "optic": {"standard": "100BASE-LX10", "connector": "SC"}}]},
        links=[_link("L1", rate="100M")],
    ),
    "only one of the two kinds for a single strand": lambda: site(fiber("OS2", 800, 1), [BXD]),
    "wavelengths that do not meet": lambda: site(
        fiber("OS2", 800),
        [LX],
        gate={
            "ports": [
                {
                    "id": "up",
                    "kind": "fixed",
                    "optic": {key: ZX[key] for key in ("rates", "medium", "mode", "strands", "tx_nm", "tx_dbm", "rx_dbm", "reach_m", "connector")}
                    | {"rx_nm": [1530, 1580]},
                }
            ]
        },
    ),
    "no cord for the panel": lambda: site(
        fiber("OS2", 800, connectors=["LC", "SC"], polish="UPC"), [LX], cords=[{"part": "J-LC-LC", "grade": "OS2", "connectors": ["LC", "LC"], "price": 8.0}]
    ),
    "hybrid cords are not allowed": lambda: site(
        fiber("OS2", 800, connectors=["SC", "SC"], polish="UPC"),
        [LX],
        cords=[{"part": "J-LC-SC", "grade": "OS2", "connectors": ["LC", "SC"], "price": 8.0}],
        policy={"allow_hybrid_cords": False},
    ),
    "an angled panel and flat cords": lambda: site(
        fiber("OS2", 800, connectors=["SC", "SC"], polish="APC"), [LX], cords=[{"part": "J-LC-SC", "grade": "OS2", "connectors": ["LC", "SC"], "price": 8.0}]
    ),
    "flat meets angled inside a panel": lambda: site(
        fiber("OS2", 300, connectors=["LC", "SC"], polish=["UPC", "UPC"]) | {"ends": ["core", "frame"]},
        [LX],
        panels=[{"id": "frame", "site": "control"}],
        runs=[{"id": "F2", "ends": ["frame", "gate"]} | fiber("OS2", 300, connectors=["SC", "LC"], polish=["APC", "UPC"])],
        cords=[{"part": "J-LC-LC", "grade": "OS2", "connectors": ["LC", "LC"], "price": 8.0}],
    ),
    "old multimode without mode-conditioning cords": lambda: site(
        fiber("OM1", 400, connectors=["SC", "SC"], polish="PC"), [LX], cords=[{"part": "J-LC-SC-OM1", "grade": "OM1", "connectors": ["LC", "SC"], "price": 8.0}]
    ),
    "too far for old multimode": lambda: site(fiber("OM1", 420), [SX]),
    "too far by dispersion": lambda: site(fiber("OS2", 60000, splices=2, attenuation_db_km={"1550": 0.2}), [ZX | {"dispersion_ps_nm": 800}]),
    "too little light": lambda: site(fiber("OS2", 70000, splices=20), [ZX]),
    "too little light over a soldered optic": lambda: site(
        fiber("OM1", 1900, splices=25), [FX], core={"ports": [cage("SFP", ("100M",))]}, gate=FIXED_FX, links=[_link("L1", rate="100M")]
    ),
    "too strong, and no attenuators": lambda: site(fiber("OS2", 900), [ZX]),
    "too strong, and attenuators are not allowed": lambda: site(
        fiber("OS2", 900), [ZX], attenuators=[PAD, PAD | {"part": "PAD-10", "loss_db": 10}], policy={"allow_attenuators": False}
    ),
    "too strong at the least loss, too weak at the most": lambda: site(fiber("OS2", 42000), [ZX | {"rx_dbm": [-13.5, -8]}], attenuators=[PAD]),
    "copper too long": lambda: site(copper(130), [], core=COPPER_PORTS, gate=COPPER_PORTS),
    "copper that slows with distance": lambda: site(
        copper(900, "single-pair"),
        [
            module(
                f"PAIR-{role}",
                None,
                90.0,
                medium="single-pair",
                connector="terminal",
                role=role,
                pairs_with=other,
                reach_m={"single-pair": 3000},
                throughput_mbit_s={"500": 60, "1500": 15, "3000": 4},
            )
            for role, other in (("head", "tail"), ("tail", "head"))
        ],
        links=[_link("L1", throughput_mbit_s=40)],
    ),
    "copper between two buildings": lambda: site(copper(60), [], core=COPPER_PORTS, gate=COPPER_PORTS, gate_site={"building": "gatehouse"}),
    "fiber to a copper port": lambda: site(fiber("OS2", 800), [LX], gate=COPPER_PORTS),
    "converters are not allowed": lambda: site(fiber("OS2", 800), [LX], gate=COPPER_PORTS, converters=[CONVERTER], policy={"allow_converters": False}),
    "a rule of the house": lambda: site(fiber("OS2", 800), [LX], policy={"rules": (short_runs_only,)}),
    "no run at all": lambda: site(fiber("OS2", 800) | {"ends": ["core", "frame"]}, [LX], panels=[{"id": "frame"}]),
    "all strands in use": lambda: site(fiber("OS2", 800, 4, strands_in_use=4), [LX]),
    "strands held in reserve": lambda: site(fiber("OS2", 800, 4, strands_in_use=2), [LX], policy={"reserve_strands": 2}),
    "not enough in stock even alone": lambda: site(fiber("OS2", 800), [LX | {"stock": 1}]),
    "a device that feeds too little for one module": lambda: site(fiber("OS2", 800), [LX], gate={"module_power_w": 0.5}),
    "three links and strands for two": lambda: site(
        fiber("OS2", 800, 4), [LX], links=[_link(name, weight=weight) for name, weight in (("L1", 1), ("L2", 3), ("L3", 2))]
    ),
    "two links and one port": lambda: site(fiber("OS2", 800, 8), [LX], gate={"ports": [cage(ids="1-1")]}, links=[_link("L1"), _link("L2", weight=2)]),
    "two links and stock for one": lambda: site(fiber("OS2", 800, 8), [LX | {"stock": 3}], links=[_link("L1"), _link("L2", critical=True)]),
    "two links and power for one": lambda: site(fiber("OS2", 800, 8), [LX], gate={"module_power_w": 1.2}, links=[_link("L1", weight=5), _link("L2")]),
    "two links that must be diverse in one duct": lambda: site(
        fiber("OS2", 800, 8) | {"routes": ["duct-7"]},
        [LX],
        runs=[{"id": "F2", "ends": ["core", "gate"], "routes": ["duct-7"]} | fiber("OS2", 900, 8)],
        links=[_link("L1", weight=2), _link("L2", diverse_from=["L1"])],
    ),
    "one copper run and two links": lambda: site(copper(40), [], core=COPPER_PORTS, gate=COPPER_PORTS, links=[_link("L1", weight=2), _link("L2")]),
    "a rate that is left open, and nothing fits": lambda: site(
        fiber("OS2", 800),
        [SX, SR],
        core={"ports": [cage("SFP+", ("1G", "10G"))]},
        gate={"ports": [cage("SFP+", ("1G", "10G"))]},
        links=[{"id": "L1", "ends": ["core", "gate"]}],
    ),
    "several at once: hot, coded and far": lambda: site(fiber("OS2", 14000), [LX, LX_C], core={"accepts": ["marram"]}, gate_site={"ambient_c": [-20, 75]}),
}


def short_runs_only(link: Any) -> bool:
    """The house wants no run of more than 500 m."""
    return bool(link.path.length_m <= 500)
