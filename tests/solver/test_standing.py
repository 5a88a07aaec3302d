"""A plan at hand stands where it is as good as the one found, and only there."""

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver.audit import check
from optiselect.solver.solve import solve_bare
from optiselect.solver.standing import standing

CATALOG = Catalog.open_standard()
PRICED = Catalog(modules=[module.model_copy(update={"price": 20.0 if module.part == "STD-1000BASE-LX" else 60.0}) for module in CATALOG.modules])


def hall(length_m: float, links: int = 1) -> Network:
    """Two switches and so many links of two strands between them."""
    port = {"ids": "1-4", "kind": "cage", "form": "SFP", "rates": ["1G"]}
    runs = [{"id": f"F{number}", "ends": ["core", "gate"], "fiber": {"grade": "OS2", "length_m": length_m, "strands": 2}} for number in range(links)]
    return Network(devices=[{"id": "core", "ports": [port]}, {"id": "gate", "ports": [port]}], runs=runs)


def modules(plan) -> set[str]:
    return {end.module for link in plan.links for end in link.ends}


LONG = solve_bare(hall(8_000), CATALOG, Policy())
"""Only the ten-kilometer part serves; on a short run the five-kilometer one would do as well."""


def test_the_plans_differ_by_themselves():
    assert modules(LONG) == {"STD-1000BASE-LX10"}
    assert modules(solve_bare(hall(900), CATALOG, Policy())) == {"STD-1000BASE-LX"}


def test_between_plans_of_equal_value_the_one_at_hand_stands_with_the_new_figures():
    network = hall(900)
    plan = standing(LONG, solve_bare(network, CATALOG, Policy()), network, CATALOG, Policy())
    assert modules(plan) == {"STD-1000BASE-LX10"} == {line.part for line in plan.parts}
    assert plan.links[0].directions[0].loss_max_db < LONG.links[0].directions[0].loss_max_db
    assert {finding.rule for finding in check(network, CATALOG, plan) if not finding.unknown} == set()
    assert plan.hashes == solve_bare(network, CATALOG, Policy()).hashes


SHORT = solve_bare(hall(900), CATALOG, Policy())
DIFFERENT = {
    "it breaks a rule": (SHORT, hall(8_000), CATALOG),
    "another is cheaper": (LONG, hall(900), PRICED),
    "another link is wanted": (LONG, hall(900, links=2), CATALOG),
    "its part is not sold any more": (LONG, hall(900), Catalog(modules=[module for module in CATALOG.modules if module.part != "STD-1000BASE-LX10"])),
}


@pytest.mark.parametrize("name", DIFFERENT)
def test_elsewhere_the_plan_that_was_found_is_taken(name):
    before, network, catalog = DIFFERENT[name]
    found = solve_bare(network, catalog, Policy())
    assert standing(before, found, network, catalog, Policy()) is found
