"""A small invented network that uses every key of a network, and a catalog that uses every key of a part."""

from __future__ import annotations

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network

OPTIC = {
    "standard": "1000BASE-BX10-D",
    "form": "SFP",
    "rates": ["100M", "1G"],
    "medium": "fiber",
    "mode": "single-mode",
    "strands": 1,
    "connector": "LC",
    "tx_nm": [1480, 1500],
    "rx_nm": [1260, 1360],
    "tx_dbm": [-9.0, -3.0],
    "rx_dbm": [-19.5, -3.0],
    "penalty_db": {"single-mode": 3.3, "OM2": 4.5},
    "reach_m": {"single-mode": 10_000, "OM1": 550},
    "channel_loss_db": {"single-mode": 6.0},
    "conditioning": ["OM1", "OM2"],
    "dispersion_ps_nm": 180.5,
    "at_rate": {"100M": {"tx_dbm": [-15, -8], "rx_dbm": [-25, -8], "reach_m": {"OS2": 2000}}},
    "temperature_c": [-40, 85],
    "power_w": 0.001,
    "coding": ["open", "quay;side"],
    "laser_class": "1",
    "role": "D",
    "pairs_with": "U",
    "throughput_mbit_s": {"500": 60, "1500": 15.5},
    "rx_damage_dbm": 3,
}
BOUGHT = {"price": 31.5, "supplier": "=Quay & Sons", "description": "", "lead_time_days": 14, "lifecycle": "last-order", "stock": 0}

QUAY = Network.model_validate(
    {
        "name": "- quay",
        "sites": [
            {"id": "1e3", "name": "'hut", "ambient_c": [-25, 50.5], "building": "no", "outdoor": True},
            {"id": "hall", "ambient_c": [15, 30], "outdoor": False},
        ],
        "devices": [
            {
                "id": "010",
                "name": "[core]",
                "site": "hall",
                "accepts": ["open", "12:30"],
                "module_power_w": 12,
                "ports": [
                    {"ids": "1-4", "kind": "cage", "form": "SFP", "rates": ["100M", "1G"], "module_power_w": 1.5, "media": ["fiber"]},
                    {"id": "up", "kind": "fixed", "optic": OPTIC},
                    {"id": "s", "kind": "shared", "form": "SFP+", "rates": ["10G"], "copper_rates": ["1G"]},
                    {"id": "c", "kind": "copper", "rates": ["10M"]},
                    {"id": "plain", "kind": "fixed", "optic": {}},
                ],
            },
            {"id": "cam\r\n2", "site": "1e3", "accepts": [], "ports": [{"id": "x", "kind": "copper", "rates": ["1G"]}]},
        ],
        "panels": [{"id": "p;1", "name": "{", "site": "hall"}],
        "runs": [
            {
                "id": "F1",
                "name": "@duct",
                "ends": ["010", "p;1"],
                "routes": ["d;7", "[8]", " d9"],
                "fiber": {
                    "grade": "62.5/160/500",
                    "length_m": 1850.25,
                    "strands": 12,
                    "strands_in_use": 4,
                    "connectors": ["LC", "SC"],
                    "polish": "UPC",
                    "connections": 2,
                    "splices": 2,
                    "measured_loss_db": {"1310": 1.9, "1550.5": 1.2},
                    "modal_bandwidth_mhz_km": {"850": 220},
                    "attenuation_db_km": {"1310": 0.36},
                },
            },
            {"id": "F2", "ends": ["p;1", "cam\r\n2"], "fiber": {"grade": "OM1", "length_m": 0, "strands": 2}},
            {"id": "C1", "ends": ["cam\r\n2", "010"], "copper": {"category": "Cat6", "length_m": 60}},
        ],
        "links": [
            {"id": "L1", "name": "+1", "ends": ["010/2", "cam\r\n2"], "rate": "1G", "over": ["F1", "F2"], "critical": True, "weight": 5},
            {"id": "L2", "ends": ["010", "cam\r\n2"], "diverse_from": ["L1"], "throughput_mbit_s": 20},
        ],
        "installed": {"010/1": "=PART;1"},
    }
)

SHELF = Catalog.model_validate(
    {
        "name": "Quay shelf",
        "currency": "EUR",
        "modules": [
            {"part": "M-1", **OPTIC, **BOUGHT, "fit": 300},
            {"part": "M-2", "tx_dbm": {"62.5": [-20, -14], "50": [-23.5, -14]}, "penalty_db": 2, "reach_m": {}},
        ],
        "converters": [
            {"part": "K-1", "copper_rates": ["100M", "1G"], "form": "SFP", "rates": ["1G"], "module_power_w": 1},
            {"part": "K-3", "copper_rates": ["1G"], "form": "SFP+", "rates": ["10G"], "temperature_c": [-40, 75], "accepts": ["open"]},
            {"part": "K-2", "copper_rates": ["1G"], "optic": OPTIC, "fit": 5, **BOUGHT},
        ],
        "cords": [
            {"part": "=C-1", "grade": "OM1", "connectors": ["LC", "SC"], "polish": ["UPC", "APC"], "strands": 2, "conditioning": True, "length_m": 3, **BOUGHT}
        ],
        "attenuators": [{"part": "A-1", "mode": "single-mode", "connector": "LC", "loss_db": 5, **BOUGHT}],
    }
)
