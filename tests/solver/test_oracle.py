"""The solver against plain enumeration, on 2,000 small random networks."""

from collections.abc import Iterator

import pytest

from optiselect.model.plan import Plan
from optiselect.solver.solve import solve_bare as solve
from tests.solver.enumeration import Enumeration
from tests.solver.families import FAMILIES, case

CASES, SEEDS_A_CASE = 40, 50


def answer(seed: int) -> dict[str, object]:
    """What the solver finds: every objective, the rate of each served link, and the links that it calls impossible."""
    network, catalog, policy = case(seed)
    plan = solve(network, catalog, policy)
    parts = [part for link in plan.links for end in link.ends for part in (end.module, end.converter, end.attenuator) if part]
    values = [(row.name, round(row.value, 4)) for row in plan.objective]
    disliked = [("disliked", sum(part not in policy.prefer_parts for part in parts))] * bool(policy.prefer_parts)
    impossible = sorted(refusal.id for refusal in plan.unserved if refusal.kind == "impossible")
    return {"status": plan.status, "values": values + disliked, "impossible": impossible}


def truth(seed: int) -> dict[str, object]:
    """What there is to find."""
    every = Enumeration(*case(seed))
    impossible = sorted(link for link, ways in every.ways.items() if not ways)
    return {"status": "optimal", "values": every.best(), "impossible": impossible}


@pytest.mark.parametrize("number", range(CASES))
def test_no_combination_beats_the_plan(number):
    seeds = range(number * SEEDS_A_CASE, (number + 1) * SEEDS_A_CASE)
    assert {seed: answer(seed) for seed in seeds} == {seed: truth(seed) for seed in seeds}


ENDS = {
    "cords": lambda end: end.cord is not None,
    "conditioning": lambda end: end.cord in ("C1", "C2"),
    "attenuators": lambda end: end.attenuator is not None,
    "converters": lambda end: end.converter == "V0",
    "copper": lambda end: end.fitting == "copper" and end.converter is None,
}
PLANS = {
    "scarce": lambda plan: bool(plan.links) and any(refusal.kind == "crowded-out" for refusal in plan.unserved),
    "spares": lambda plan: any(line.spares > 1 for line in plan.parts),
    "installed": lambda plan: any(line.order < line.used for line in plan.parts),
    "open rates": lambda plan: {link.rate for link in plan.links} >= {"1G", "10G"},
    "panels": lambda plan: any(len(link.over) > 1 for link in plan.links),
    "unstated": lambda plan: any(row.name == "unknowns" and row.value for row in plan.objective),
    "orders": lambda plan: [row.name for row in plan.objective][2:4] == ["cost", "part_numbers"] and len(plan.links) > 1,
}


def plans_of(family: str) -> Iterator[Plan]:
    return (solve(*case(seed)) for seed in range(list(FAMILIES).index(family), CASES * SEEDS_A_CASE, len(FAMILIES)))


@pytest.mark.parametrize("family", ENDS)
def test_what_a_family_is_about_is_fitted_in_some_plan(family):
    assert any(ENDS[family](end) for plan in plans_of(family) for link in plan.links for end in link.ends)


@pytest.mark.parametrize("family", PLANS)
def test_what_a_family_is_about_decides_some_plan(family):
    assert any(PLANS[family](plan) for plan in plans_of(family))
