"""A small invented harbor that is solved in a moment: two ducts to the quay, a mast behind a panel, a light far out."""

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.study.case import Case

_CAGES = [{"ids": "1-6", "kind": "cage", "form": "SFP", "rates": ["1G"]}]
_OS2 = {"grade": "OS2", "strands": 4, "connectors": ["LC", "LC"], "polish": "UPC"}


def _module(part, standard, price, supplier, **more):
    figures = {"form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0, "laser_class": "1"}
    return {"part": part, "price": price, "supplier": supplier, **({"standard": standard} if standard else {}), **figures, **more}


_FAR = {"medium": "fiber", "mode": "single-mode", "strands": 2, "tx_nm": [1540, 1570], "rx_nm": [1260, 1600], "penalty_db": 2, "dispersion_ps_nm": 1800}

NETWORK = {
    "name": "Marl Point harbor",
    "sites": [{"id": "hall", "ambient_c": [10, 35], "building": "hall"}, {"id": "outside", "ambient_c": [-20, 50], "building": "outside"}],
    "devices": [
        {"id": name, "site": site, "ports": _CAGES} for name, site in [("core", "hall"), ("quay", "outside"), ("mast", "outside"), ("light", "outside")]
    ],
    "panels": [{"id": "frame", "site": "hall"}],
    "runs": [
        {"id": "F1", "ends": ["core", "quay"], "routes": ["duct-1"], "fiber": {**_OS2, "length_m": 900}},
        {"id": "F2", "ends": ["core", "quay"], "routes": ["duct-2"], "fiber": {**_OS2, "length_m": 1400}},
        {"id": "F3", "ends": ["core", "frame"], "fiber": {**_OS2, "length_m": 20}},
        {"id": "F4", "ends": ["frame", "mast"], "routes": ["duct-2"], "fiber": {**_OS2, "length_m": 700}},
        {"id": "F5", "ends": ["quay", "mast"], "fiber": {"grade": "OM3", "length_m": 220, "strands": 4, "connectors": ["LC", "LC"], "polish": "UPC"}},
        {"id": "F7", "ends": ["core", "light"], "routes": ["duct-2"], "fiber": {**_OS2, "length_m": 38000}},
    ],
    "links": [
        {"id": "quay-1", "ends": ["core", "quay"], "rate": "1G", "critical": True},
        {"id": "quay-2", "ends": ["core", "quay"], "rate": "1G", "diverse_from": ["quay-1"]},
        {"id": "mast", "ends": ["core", "mast"], "rate": "1G"},
        {"id": "camera", "ends": ["quay", "mast"], "rate": "1G", "over": ["F5"]},
        {"id": "light", "ends": ["core", "light"], "rate": "1G", "weight": 3},
    ],
}
CATALOG = {
    "currency": "EUR",
    "modules": [
        _module("NO-LX", "1000BASE-LX10", 40, "North"),
        _module("NO-SX", "1000BASE-SX", 15, "North"),
        _module("NO-FAR", None, 190, "North", **_FAR, tx_dbm=[0, 5], rx_dbm=[-24, -3], reach_m={"single-mode": 80000}),
        _module("SO-LX", "1000BASE-LX10", 34, "South"),
        _module("SO-LONG", None, 120, "South", **_FAR, tx_dbm=[-4, 0], rx_dbm=[-24, -3], reach_m={"single-mode": 60000}),
    ],
    "cords": [
        {"part": f"CORD-{grade}", "grade": grade, "connectors": ["LC", "LC"], "polish": ["UPC", "UPC"], "strands": 2, "price": 6} for grade in ("OS2", "OM3")
    ],
}


def harbor(**policy):
    """The harbor with its catalog, and a policy of these values."""
    return Case(Network(**NETWORK), Catalog(**CATALOG), Policy(**policy))
