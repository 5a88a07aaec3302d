"""A small invented pier with a finished plan, so that its papers can be compared word for word."""

from __future__ import annotations

from typing import Any

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.fingerprint import hash_of
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy

NETWORK = Network(
    name="Lantern pier",
    sites=[{"id": "office"}, {"id": "head"}],
    devices=[
        {"id": "core", "site": "office", "ports": [{"ids": "1-4", "kind": "cage", "form": "SFP", "rates": ["1G"]}]},
        {"id": "cam", "site": "head", "ports": [{"id": "up", "kind": "cage", "form": "SFP", "rates": ["1G"]}]},
        {"id": "gate", "site": "head", "ports": [{"id": "eth", "kind": "copper", "rates": ["100M"]}]},
    ],
    runs=[
        {"id": "F1", "ends": ["core", "cam"], "fiber": {"grade": "OS2", "length_m": 400, "strands": 4}},
        {"id": "F2", "ends": ["core", "gate"], "fiber": {"grade": "OM2", "length_m": 90, "strands": 2}},
    ],
    links=[
        {"id": "L1", "ends": ["core/1", "cam"], "rate": "1G", "over": ["F1"], "critical": True},
        {"id": "L2", "ends": ["core", "gate"], "over": ["F2"]},
    ],
)
CATALOG = Catalog(
    name="Lantern parts",
    currency="EUR",
    modules=[
        Module(part="LAN-LX", standard="1000BASE-LX10", form="SFP", strands=2, connector="LC", price=31.0, supplier="Gull & Sons", lead_time_days=30),
        Module(part="LAN-SX", standard="1000BASE-SX", form="SFP", strands=2, connector="LC", price=20.0, lead_time_days=5),
    ],
    converters=[Converter(part="LAN-MC", copper_rates=["100M"], form="SFP", rates=["100M"], supplier="Gull & Sons")],
    cords=[Cord(part="LAN-CORD", grade="OS2", connectors=["LC", "SC"], polish=["UPC", "APC"], strands=2, price=9.5)],
    attenuators=[Attenuator(part="LAN-ATT", mode="single-mode", connector="LC", loss_db=5, price=12.0)],
)


HASHES = {"network": hash_of(NETWORK), "catalog": hash_of(CATALOG), "policy": hash_of(Policy())}


def end(device: str, port: str, module: str | None = "LAN-LX", **more: Any) -> dict[str, Any]:
    return {"device": device, "port": port, "fitting": "module", "module": module, **more}


def direction(start: str, stop: str, margin_db: float | None) -> dict[str, Any]:
    return {
        "from": start,
        "to": stop,
        "wavelength_nm": (1260.0, 1360.0),
        "loss_min_db": 0.112,
        "loss_max_db": 1.66,
        "available_db": 6.0,
        "margin_db": margin_db,
        "rx_dbm": (-10.66, -3.112),
        "limited_by": "light-budget",
    }


def plan(**changes: Any) -> Plan:
    """The plan: L1 is served, L2 is not."""
    stated: dict[str, Any] = {
        "network": "Lantern pier",
        "catalog": "Lantern parts",
        "currency": "EUR",
        "status": "optimal",
        "proof": {"by": ("CP-SAT",)},
        "objective": (
            {"name": "links", "value": 1.0, "bound": 1.0},
            {"name": "cost", "value": 71.5, "bound": 71.5},
        ),
        "links": (
            {
                "id": "L1",
                "rate": "1G",
                "over": ("F1",),
                "strands": {"F1": 2},
                "ends": (end("core", "1"), end("cam", "up", cord="LAN-CORD")),
                "directions": (direction("core/1", "cam/up", 4.34), direction("cam/up", "core/1", 4.2)),
                "notes": ("F1: 2 connections assumed",),
            },
        ),
        "unserved": (
            {
                "id": "L2",
                "kind": "impossible",
                "request": {"ends": ["core", "gate"], "rate": None},
                "candidates": 7,
                "tally": ({"rule": "rate", "count": 5}, {"rule": "core", "count": 2}),
                "text": "L2 cannot be served: no module runs 100M in a cage that runs 1G only.",
            },
        ),
        "parts": (
            {"part": "LAN-MC", "kind": "converter", "used": 0, "spares": 1, "order": 1, "unit_price": None, "total": 0.0},
            {"part": "LAN-LX", "kind": "module", "used": 2, "spares": 0, "order": 2, "unit_price": 31.0, "total": 62.0},
            {"part": "LAN-CORD", "kind": "cord", "used": 1, "spares": 0, "order": 1, "unit_price": 9.5, "total": 9.5},
        ),
        "hashes": HASHES,
        "cautions": ("L1: 5 dB above the damage level without its attenuator.",),
    }
    return Plan(**{**stated, **changes})
