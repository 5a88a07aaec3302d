"""What is left of a solve that is cut short: by the caller of a child, by the clock between plans, by a list that would be too long."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest

from optiselect import Catalog, Network, Policy
from optiselect.solver import clusters, isolated
from optiselect.solver.solve import solve_bare, solve_within
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
from tests.study.harbor import harbor

CASE = harbor()
STATED = [document.stated() for document in (CASE.network, CASE.catalog, CASE.policy)]


def said_by_a_child(*lines: Any) -> list[dict[str, Any]]:
    out = io.StringIO()
    isolated._child(iter([json.dumps(line) + "\n" for line in lines]), out)
    return [json.loads(line) for line in out.getvalue().splitlines()]


def test_line_after_the_documents_stops_a_child(monkeypatch: pytest.MonkeyPatch) -> None:
    stopped: list[bool] = []
    monkeypatch.setattr(isolated, "_solve", lambda *given, bare: stopped.append(given[3].wait(10)))
    said_by_a_child([*STATED, True, None], "cancel")
    assert stopped == [True]


def test_child_hands_its_plan_over_before_it_looks_for_reasons() -> None:
    network, catalog, policy = STATED
    few = catalog | {"modules": [module for module in catalog["modules"] if module["part"] == "NO-SX"]}
    *_, proven, told = (said["plan"] for said in said_by_a_child([network, few, policy, False, None]) if "plan" in said)
    assert [[link["id"] for link in plan["links"]] for plan in (proven, told)] == [["camera"]] * 2
    assert [{bool(refusal["conflict"]) for refusal in plan["unserved"]} for plan in (proven, told)] == [{False}, {True}]


def test_plan_of_a_cap_for_which_there_is_no_time_serves_nothing_and_proves_nothing() -> None:
    plans = list(solve_within(CASE.network, CASE.catalog, Policy(time_limit_s=1e-6), [None, 3]))
    assert [(plan.status, len(plan.links), {refusal.kind for refusal in plan.unserved}) for plan in plans] == [("feasible", 0, {"not-proven"})] * 2


@pytest.mark.parametrize("profile", ["ring", "tight"])
def test_cluster_whose_ways_are_too_many_to_put_together_costs_no_value(profile: str, monkeypatch: pytest.MonkeyPatch) -> None:
    network, catalog = Network(**site_network(14, profile=profile)), Catalog(**site_catalog(24, profile=profile))
    expected = solve_bare(network, catalog, Policy())
    monkeypatch.setattr(clusters, "_MOST_STEPS", 1)
    assert solve_bare(network, catalog, Policy()).objective == expected.objective
