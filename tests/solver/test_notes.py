"""What a person is told beside a plan: what was assumed, what is not known, and what can do harm; each where it is so and nowhere else."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve_bare
from tests.study import harbor

SPARES = {"service_level": 0.95, "restock_days": 30}
SURGE = "Copper between two buildings: surge protection at both ends; lightning and earthing: the local code and licensed practice decide."


def planned(changes: dict[str, dict[str, Any]], **policy: Any) -> Plan:
    """The plan of the harbor where items, by id or part number, say something else (None: nothing)."""
    network, catalog = deepcopy(harbor.NETWORK), deepcopy(harbor.CATALOG)
    for items in (*network.values(), *catalog.values()):
        for item in items if isinstance(items, list) else ():
            changed = changes.get(item.get("id") or item["part"], {})
            (item["fiber"] if "fiber" in item and changed else item).update(changed)
    plan = solve_bare(Network(**network), Catalog(**catalog), Policy(**policy))
    assert plan.status == "optimal"
    assert not plan.unserved
    return plan


def notes_of(plan: Plan, link: str) -> tuple[str, ...]:
    return next(row for row in plan.links if row.id == link).notes


def test_nothing_is_noted_of_what_is_stated_in_full() -> None:
    stated = {f"F{number}": {"connections": 2} for number in range(1, 8)}
    plan = planned(stated)
    assert plan.notes == ()
    assert {note for row in plan.links for note in row.notes} == set()
    assert SURGE not in plan.cautions


@pytest.mark.parametrize(
    ("run", "stated", "notes"),
    [
        ("F5", {}, {"assumed: F5 has 2 connections"}),
        ("F5", {"connections": 2}, set()),
        ("F5", {"measured_loss_db": {"850": 1.0}}, set()),
        ("F5", {"connections": 2, "polish": None}, {"assumed: F5 presents flat polish"}),
        (
            "F5",
            {"connections": 2, "polish": None, "connectors": None},
            {"assumed: F5 states no connectors, so no cords are planned and the connector is not checked"},
        ),
    ],
)
def test_what_a_run_does_not_state_is_assumed_and_told(run: str, stated: dict[str, Any], notes: set[str]) -> None:
    assert set(notes_of(planned({run: stated}), "camera")) == notes


def test_device_without_a_site_is_told_at_each_of_its_links_once() -> None:
    plan = planned({"quay": {"site": None}})
    told = {row.id: [note for note in row.notes if note.startswith("assumed") and "site" in note] for row in plan.links}
    assert told == {row.id: ["assumed: quay states no site"] if row.id in ("camera", "quay-1", "quay-2") else [] for row in plan.links}


def test_part_without_a_price_counts_as_nothing_and_is_told() -> None:
    plan = planned({"SO-LX": {"price": None}})
    assert plan.notes == ("no price is stated for SO-LX; counted as 0",)
    assert {line.total for line in plan.parts if line.part == "SO-LX"} == {0}


@pytest.mark.parametrize(
    ("fit", "policy", "notes"),
    [
        ({}, {}, ()),
        ({}, {"spares": SPARES}, ("no failure rate is stated for SO-LONG, SO-LX; no spares are planned for them",)),
        ({"SO-LX": {"fit": 400}}, {"spares": SPARES}, ("no failure rate is stated for SO-LONG; no spares are planned for them",)),
        ({"SO-LX": {"fit": 400}, "SO-LONG": {"fit": 400}}, {"spares": SPARES}, ()),
    ],
)
def test_parts_without_a_failure_rate_are_told_where_spares_are_planned(fit: dict[str, Any], policy: dict[str, Any], notes: tuple[str, ...]) -> None:
    assert planned(fit, **policy).notes == notes


COPPER = {"ids": "7-8", "kind": "copper", "rates": ["1G"]}


def with_copper(**policy: Any) -> Plan:
    """A link of copper between the hall and the mast, which are two buildings."""
    network = deepcopy(harbor.NETWORK)
    for device in network["devices"]:
        device["ports"] = [*device["ports"], COPPER]
    network["runs"].append({"id": "C1", "ends": ["core", "mast"], "copper": {"category": "Cat6", "length_m": 60}})
    network["links"].append({"id": "phone", "ends": ["core/7", "mast/7"], "rate": "1G", "over": ["C1"]})
    return solve_bare(Network(**network), Catalog(**harbor.CATALOG), Policy(**policy))


@pytest.mark.parametrize(
    ("policy", "is_served", "is_told"),
    [
        ({}, False, False),
        ({"waivers": [{"rule": "earthing", "link": "phone", "reason": "bonded"}]}, True, True),
        ({"waivers": [{"rule": "earthing", "link": "light"}]}, False, False),
        ({"copper_between_buildings": True}, True, True),
    ],
)
def test_copper_between_buildings_is_planned_with_its_caution_only_where_a_person_answers(policy: dict[str, Any], is_served: bool, is_told: bool) -> None:
    plan = with_copper(**policy)
    assert ("phone" in {row.id for row in plan.links}, SURGE in plan.cautions) == (is_served, is_told)
    told = [note for row in plan.links for note in row.notes if note.startswith("waived, at the user's own risk: ")]
    assert bool(told) == ("waivers" in policy and is_served)


def test_laser_glass_height_and_earth_are_told_with_every_plan() -> None:
    words = ("Invisible laser light", "Glass shards", "Work at height", "Lightning and earthing", "from memory or common practice")
    for plan in (planned({}), with_copper()):
        assert all(any(word in caution for caution in plan.cautions) for word in words)
