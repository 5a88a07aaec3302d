"""The plans of variants of one base, each by the shortest way: as it follows from the plan of the base, from its tables, or by a solve."""

from __future__ import annotations

import threading

from optiselect.model.plan import Plan
from optiselect.solver.known import Known
from optiselect.solver.solve import solve_bare
from optiselect.solver.standing import standing
from optiselect.solver.tightened import Proven
from optiselect.study.case import Case

_SOLVED_FIRST = 2
"""Variants that are solved by themselves before it pays to solve the base for its tables."""


class Follower:
    """Solves variants of a base, without reasons (`explain` gives them). All ways give the same plan; the plan of the base stands where no
    better is found.

    Args:
        plan: of the base; without one every variant is solved by itself.
    """

    def __init__(self, case: Case, plan: Plan | None) -> None:
        self._case, self._plan = case, plan
        self._proven = Proven(case.network, case.catalog, case.policy, plan) if plan is not None else None
        self._lends = plan is not None and plan.status == "optimal" and not case.policy.rules
        self._known: Known | None = None
        self._solved = 0
        self._lock = threading.Lock()

    def plan_of(self, case: Case) -> Plan:
        """The plan of a variant.

        Raises:
            PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
        """
        documents = case.network, case.catalog, case.policy
        plan = self._proven.tightened(*documents) if self._proven is not None else None
        if plan is not None:
            return plan
        found = (self._from_tables(case) if self._lends else None) or solve_bare(*documents)
        return found if self._plan is None else standing(self._plan, found, *documents)

    def _from_tables(self, case: Case) -> Plan | None:
        with self._lock:
            self._solved += 1
            if self._known is None and self._solved > _SOLVED_FIRST:
                self._known = Known(self._case.network, self._case.catalog, self._case.policy)
        return self._known.solved(case.network, case.catalog, case.policy) if self._known is not None else None
