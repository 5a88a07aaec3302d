"""The ferry terminal of the demo, solved whole."""

import pytest

from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.model.plan import Plan
from optiselect.solver.audit import check
from optiselect.solver.solve import solve


@pytest.fixture(scope="module")
def plan() -> Plan:
    return solve(demo_network(), demo_catalog(), demo_policy())


def test_the_plan_is_proven_best(plan):
    assert plan.status == "optimal"
    assert all(row.proven for row in plan.objective)


def test_three_links_are_not_served_each_for_its_own_reason(plan):
    kinds = {refusal.id: refusal.kind for refusal in plan.unserved}
    crowded = [link for link, kind in kinds.items() if kind == "crowded-out"]
    assert len(kinds) == 3
    assert kinds["freight"] == kinds["outer-light"] == "impossible"
    assert len(crowded) == 1 and crowded[0].startswith("light-uplink-")


def test_the_audit_finds_nothing_that_nobody_answers_for(plan):
    findings = check(demo_network(), demo_catalog(), plan, demo_policy())
    assert [str(finding) for finding in findings if not finding.waived] == []
