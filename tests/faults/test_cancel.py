"""A cancel at any moment: back in time, with a plan that passes the check and is never called better than it is."""

from __future__ import annotations

import time
from functools import cache
from random import Random

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.audit import findings_of_plan
from optiselect.solver.solve import solve, solve_bare
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

BACK_WITHIN_S = 2.0
CANCELS, A_TEST = 17, 6
"""Of each site; 54 in all."""
SITES = {
    "roomy": (Network(**site_network(60)), Catalog(**site_catalog(120)), Policy()),
    "ring": (Network(**site_network(48, profile="ring")), Catalog(**site_catalog(60, profile="ring")), Policy(spares={})),
    "short of strands": (Network(**site_network(60)), Catalog(**site_catalog(40)), Policy(reserve_strands=4)),
}


class Cancel:
    """A signal that is set when the processor has worked so long, and knows how long it has been set."""

    def __init__(self, after_s: float) -> None:
        self._due_s = time.process_time() + after_s

    def is_set(self) -> bool:
        return time.process_time() >= self._due_s

    @property
    def set_for_s(self) -> float:
        return time.process_time() - self._due_s


@cache
def best(site: str) -> tuple[list[tuple[str, float]], float]:
    """The values of the plan that nobody cancels, and the seconds of the processor that its choice takes."""
    began = time.process_time()
    plan = solve_bare(*SITES[site])
    return values(plan), time.process_time() - began


def values(plan: Plan) -> list[tuple[str, float]]:
    return [(row.name, row.value) for row in plan.objective]


@pytest.mark.parametrize("number", range(0, CANCELS, A_TEST))
@pytest.mark.parametrize("site", SITES)
def test_cancel_at_a_random_moment(site: str, number: int) -> None:
    whole, takes_s = best(site)
    for cancel in [Cancel(Random(f"{site} {seed}").uniform(0, 1.1 * takes_s)) for seed in range(number, number + A_TEST)]:
        plan = solve(*SITES[site], cancel=cancel)
        assert cancel.set_for_s < BACK_WITHIN_S
        assert [finding for finding in findings_of_plan(plan, *SITES[site]) if not finding.unknown] == []
        assert plan.status == "feasible" or values(plan) == whole
        assert not (cancel.is_set() and plan.reproducible and plan.status == "feasible")


def test_cancel_while_reasons_are_looked_for_leaves_the_proven_plan() -> None:
    whole, takes_s = best("short of strands")
    plan = solve(*SITES["short of strands"], cancel=Cancel(2 * takes_s))
    assert (plan.status, plan.reproducible, values(plan)) == ("optimal", False, whole)
    assert "stopped before its reasons were looked for" in plan.unserved[-1].text
