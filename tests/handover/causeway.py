"""A small invented causeway, planned with generic parts: a pair and a single strand through a panel, parallel optics, a copper link."""

from __future__ import annotations

from functools import cache
from typing import Any

from optiselect import Catalog, Network, Policy, solve
from optiselect.handover.dossier import Dossier, dossier

SITES = [{"id": "toll", "building": "toll", "ambient_c": [10, 30]}, {"id": "mole", "building": "mole"}]
DEVICES: list[dict[str, Any]] = [
    {
        "id": "core",
        "site": "toll",
        "ports": [
            {"ids": "1-6", "kind": "cage", "form": "SFP", "rates": ["1G"]},
            {"id": "q1", "kind": "cage", "form": "QSFP+", "rates": ["40G"]},
            {"ids": "t1-t2", "kind": "copper", "rates": ["1G"]},
        ],
    },
    {"id": "beacon", "site": "mole", "ports": [{"ids": "1-4", "kind": "cage", "form": "SFP", "rates": ["1G"]}]},
    {
        "id": "store",
        "site": "toll",
        "ports": [{"id": "q1", "kind": "cage", "form": "QSFP+", "rates": ["40G"]}, {"id": "t1", "kind": "copper", "rates": ["1G"]}],
    },
]
RUNS: list[dict[str, Any]] = [
    {
        "id": "A",
        "ends": ["core", "frame"],
        "fiber": {"grade": "OS2", "length_m": 300, "strands": 24, "strands_in_use": 11, "connectors": ["LC", "LC"], "polish": "UPC"},
    },
    {
        "id": "B",
        "ends": ["beacon", "frame"],
        "fiber": {"grade": "OS2", "length_m": 4200, "strands": 8, "strands_in_use": 1, "connectors": ["SC", "LC"], "splices": 3},
    },
    {"id": "M", "ends": ["store", "core"], "fiber": {"grade": "OM4", "length_m": 40, "strands": 12, "connectors": ["MPO", "MPO"], "connections": 1}},
    {"id": "K", "ends": ["core", "store"], "copper": {"category": "Cat6", "length_m": 30}},
]
LINKS: list[dict[str, Any]] = [
    {"id": "pair", "ends": ["core/1", "beacon/1"], "over": ["A", "B"], "rate": "1G"},
    {"id": "single", "ends": ["beacon/2", "core/2"], "over": ["B", "A"], "rate": "1G"},
    {"id": "trunk", "ends": ["core", "store"], "over": ["M"]},
    {"id": "wire", "ends": ["core", "store"], "over": ["K"]},
]
NETWORK = Network(name="Causeway", sites=SITES, devices=DEVICES, panels=[{"id": "frame", "site": "mole"}], runs=RUNS, links=LINKS)
POLICY = Policy(reserve_strands=1)


def _one_strand_is_one(link: Any) -> bool:
    """What the site knows of itself: `single` is on one strand, `pair` on two."""
    wanted = {"single": 1, "pair": 2}.get(link.asked.link.id)
    return wanted is None or link.a.light.strands == wanted


PLANNED_WITH = POLICY.model_copy(update={"rules": (_one_strand_is_one,)})


@cache
def causeway() -> Dossier:
    """The causeway with its plan."""
    catalog = Catalog.open_standard()
    return dossier(solve(NETWORK, catalog, PLANNED_WITH), NETWORK, catalog, PLANNED_WITH)
