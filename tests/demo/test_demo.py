"""The demo site: read strictly, served as far as it can be, and each thing that it is meant to show is really in its plan."""

from __future__ import annotations

from collections import Counter

import pytest

from optiselect import Catalog, Network, Plan, Policy, check, solve
from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.model.plan import PlannedLink


@pytest.fixture(scope="module")
def network() -> Network:
    return demo_network()


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return demo_catalog()


@pytest.fixture(scope="module")
def policy() -> Policy:
    return demo_policy()


@pytest.fixture(scope="module")
def plan(network: Network, catalog: Catalog, policy: Policy) -> Plan:
    return solve(network, catalog, policy)


@pytest.fixture(scope="module")
def link(plan: Plan) -> dict[str, PlannedLink]:
    return {link.id: link for link in plan.links}


def test_it_is_of_the_size_that_it_says(network: Network, catalog: Catalog) -> None:
    assert len(network.wanted) == 57
    assert len(catalog.modules + catalog.converters + catalog.cords + catalog.attenuators) == 128


def test_parts_are_of_the_three_invented_suppliers(catalog: Catalog) -> None:
    items = [*catalog.modules, *catalog.converters, *catalog.cords, *catalog.attenuators]
    assert {(item.part[:3], item.supplier) for item in items} == {
        ("BW-", "Brackwater Optical"),
        ("EL-", "Ellisande Components"),
        ("TF-", "Tinefield Supply"),
    }


def test_plan_is_proven_and_passes_its_check(network: Network, catalog: Catalog, policy: Policy, plan: Plan) -> None:
    assert plan.status == "optimal"
    assert [finding for finding in check(network, catalog, plan, policy) if not finding.waived] == []


def test_three_links_are_not_served_each_for_its_own_reason(plan: Plan) -> None:
    assert {refusal.id: refusal.kind for refusal in plan.unserved} == {
        "freight": "impossible",
        "light-uplink-3": "crowded-out",
        "outer-light": "impossible",
    }


def test_copper_between_two_buildings_is_what_stops_the_freight_booth(plan: Plan) -> None:
    freight = next(refusal for refusal in plan.unserved if refusal.id == "freight")
    assert "earthing" in {tally.rule for tally in freight.tally}


def test_light_is_what_the_outer_light_lacks(plan: Plan) -> None:
    outer = next(refusal for refusal in plan.unserved if refusal.id == "outer-light")
    assert "light-budget" in {tally.rule for tally in outer.tally}


def test_last_cable_carries_two_links_on_one_strand_each(link: dict[str, PlannedLink]) -> None:
    assert link["light-uplink-1"].strands["T5"] + link["light-uplink-2"].strands["T5"] == 2


def test_ring_comes_in_over_one_duct_and_leaves_over_the_other(network: Network, link: dict[str, PlannedLink]) -> None:
    routes = [{route for run in link[name].over for route in network.run_by_id[run].routes} for name in ("ring-1", "ring-4")]
    assert routes == [{"duct-north"}, {"duct-south"}]


def test_old_multimode_gets_a_mode_conditioning_cord_at_both_ends(catalog: Catalog, link: dict[str, PlannedLink]) -> None:
    cords = [end.cord or "" for end in link["gate-1"].ends]
    assert [catalog.cord_by_part[cord].conditioning for cord in cords] == [True, True]


def test_long_distance_optic_on_a_short_run_gets_an_attenuator_each_way(link: dict[str, PlannedLink]) -> None:
    assert all(end.attenuator for end in link["harbor-office"].ends)


def test_copper_only_controllers_get_a_converter(link: dict[str, PlannedLink]) -> None:
    assert [link[name].ends[1].converter for name in ("pump", "drain")] == ["BW-MC-1G-I", "BW-MC-1G-I"]


def test_cold_and_hot_sites_get_parts_that_bear_them(catalog: Catalog, link: dict[str, PlannedLink]) -> None:
    """Berths down to -25 C; kiosks up to 60 C and 15 C more at the case."""
    cold = [catalog.module_by_part[end.module or ""].temperature_c for end in link["ring-2"].ends]
    hot = catalog.module_by_part[link["kiosk-north"].ends[1].module or ""].temperature_c
    assert all(span is not None and span[0] <= -25 for span in cold)
    assert hot is not None and hot[1] >= 75


def test_customs_gets_modules_of_its_coding(catalog: Catalog, link: dict[str, PlannedLink]) -> None:
    assert all("marram" in catalog.module_by_part[link[name].ends[1].module or ""].coding for name in ("customs-1", "customs-2"))


def test_panel_with_angled_plugs_gets_hybrid_cords(catalog: Catalog, link: dict[str, PlannedLink]) -> None:
    cord = catalog.cord_by_part[link["kiosk-south"].ends[1].cord or ""]
    assert (cord.connectors, cord.polish) == (("LC", "SC"), ("UPC", "APC"))


def test_single_strand_takes_two_parts_of_opposite_wavelengths(catalog: Catalog, link: dict[str, PlannedLink]) -> None:
    near, far = (catalog.module_by_part[end.module or ""] for end in link["booth-1"].ends)
    assert (near.strands, far.strands, near.tx_nm) == (1, 1, far.rx_nm)


def test_supply_of_berth_2_bears_its_modules(network: Network, catalog: Catalog, plan: Plan) -> None:
    drawn_w = sum(
        catalog.module_by_part[end.module].power_w or 0
        for link in plan.links
        for end in link.ends
        if end.device == "berth-2-sw" and end.module and not end.converter
    )
    assert drawn_w <= (network.device_by_id["berth-2-sw"].module_power_w or 0)


def test_long_pair_is_served_by_waiver_and_said_so(network: Network, catalog: Catalog, policy: Policy, plan: Plan) -> None:
    waived = [finding for finding in check(network, catalog, plan, policy) if finding.waived]
    assert Counter((finding.rule, finding.link) for finding in waived) == {("earthing", "tide"): 1}
