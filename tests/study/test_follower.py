"""A case that is followed: the same plans as by solving, whatever was asked before."""

import pytest

from optiselect.model.policy import Policy
from optiselect.solver.solve import solve_bare
from optiselect.study import Case, Follower, Variant
from tests.study.harbor import harbor

CASE = harbor()
CHANGES = {
    "nothing": {},
    "longer": {"runs.F1.fiber.length_m": 9_000},
    "too long": {"runs.F1.fiber.length_m": 90_000},
    "measured": {"runs.F1.fiber.measured_loss_db": {1310: 1.5, 1550: 1.0}},
    "dearer": {f"parts.{CASE.catalog.modules[0].part}.price": 900},
    "another margin": {"policy.design_margin_db": 1},
}


def values(plan):
    return plan.status, [(value.name, value.value, value.bound) for value in plan.objective], [(refusal.id, refusal.kind) for refusal in plan.unserved]


@pytest.mark.parametrize("policy", [CASE.policy, Policy(rules=(lambda link: True,)), Policy(spares={})], ids=["plain", "own rule", "spares"])
def test_plans_are_worth_what_a_solve_gives(policy):
    case = Case(CASE.network, CASE.catalog, policy)
    follower = Follower.of(case)
    assert follower.plan == solve_bare(case.network, case.catalog, case.policy)
    for name, edits in CHANGES.items():
        changed = Variant.named(name, edits).applied_to(case)
        found = follower.plan_of(changed)
        assert (name, values(found)) == (name, values(solve_bare(changed.network, changed.catalog, changed.policy)))
        assert found.hashes == solve_bare(changed.network, changed.catalog, changed.policy).hashes


def test_a_case_without_time_is_followed_all_the_same():
    case = Case(CASE.network, CASE.catalog, Policy(time_limit_s=0.000001))
    follower = Follower.of(case)
    assert follower.plan.status == "feasible"
    changed = Variant.named("longer", CHANGES["longer"]).applied_to(Case(CASE.network, CASE.catalog, CASE.policy))
    assert follower.plan_of(changed).status == "optimal"
