"""The generated sites are what they say: of the size asked, the same for a seed, and such that nearly every link can be served."""

from __future__ import annotations

import time

import pytest

from optiselect import Catalog, Network, Policy, solve
from tests.benchmarks import shortage
from tests.benchmarks.by_hand import MODELS, solve_in_order
from tests.benchmarks.listing import list_choices
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import PROFILES, site_network


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("links", [2, 50, 333])
def test_there_are_as_many_links_as_asked(profile: str, links: int) -> None:
    assert len(Network(**site_network(links, profile=profile)).wanted) == links


def test_a_seed_gives_one_document() -> None:
    assert site_network(60, seed=3) == site_network(60, seed=3)
    assert site_network(60, seed=3) != site_network(60, seed=4)
    assert site_catalog(60, seed=3) == site_catalog(60, seed=3)


@pytest.mark.parametrize("profile", PROFILES)
def test_nearly_every_link_has_an_option_by_itself(profile: str) -> None:
    listed = list_choices(Network(**site_network(40, profile=profile)), Catalog(**site_catalog(40, profile=profile)), Policy())
    assert sum(bool(choices) for choices in listed.values()) >= 0.95 * len(listed)


@pytest.mark.parametrize("profile", PROFILES)
def test_library_reaches_the_optimum_of_the_model_that_is_written_by_hand(profile: str) -> None:
    network, catalog = Network(**site_network(12, profile=profile, seed=2)), Catalog(**site_catalog(40, profile=profile, seed=2))
    plan = solve(network, catalog)
    reached = {value.name: value.value for value in plan.objective}
    told = solve_in_order(MODELS["HiGHS by hand"](network, list_choices(network, catalog, Policy())), deadline=time.monotonic() + 60)
    links, part_numbers, cost_cents, strands = told.values
    assert (plan.status, told.proven) == ("optimal", 4)
    assert (reached["links"], reached["part_numbers"], reached["cost"], reached["strands"]) == (-links, part_numbers, cost_cents / 100, strands)


def test_what_runs_short_is_stated_of_what_is_used_most() -> None:
    site, parts = site_network(12), site_catalog(40)
    catalog = Catalog(**parts)
    plan = solve(Network(**site), catalog)
    shortage.of_stock(parts, plan, 1, 0.5)
    shortage.of_power(site, catalog, plan, 1, 0.5)
    (short,) = [module for module in parts["modules"] if "stock" in module]
    (weak,) = [device for device in site["devices"] if "module_power_w" in device]
    used = {line.part: line.used for line in plan.parts if line.kind == "module"}
    drawn_w = sum(catalog.module_by_part[end.module].power_w or 0 for link in plan.links for end in link.ends if end.module and end.device == weak["id"])
    assert (short["stock"], max(used.values())) == (used[short["part"]] // 2, used[short["part"]])
    assert weak["module_power_w"] == pytest.approx(drawn_w / 2, abs=0.01)
