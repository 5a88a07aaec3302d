"""The plans of variants of one base, each by the shortest way: as it follows from the plan of the base, from its tables, or by a solve."""

from __future__ import annotations

import threading

from optiselect.errors import Cancelled
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
        plan: of the base; without one every variant is solved by itself. known: the base as it was solved, with its tables.
    """

    def __init__(self, case: Case, plan: Plan | None, known: Known | None = None) -> None:
        self._case, self.plan = case, plan
        worked = known.worked if known is not None else None
        self._proven = Proven(case.network, case.catalog, case.policy, plan, worked) if plan is not None else None
        self._lends = plan is not None and plan.status == "optimal" and not case.policy.rules
        self._known = known
        self._solved = 0
        self._lock = threading.Lock()

    @classmethod
    def of(cls, case: Case) -> Follower:
        """Solve a case and keep its tables, for a tool that plans again after every change; its plan is at `plan`.

        What differs from the case in few runs, links, devices or prices takes a small part of a solve. Cases that share what is the same, as edits
        make them (`Variant.applied_to`), are told apart soonest. Several threads may ask at once.

        Raises:
            PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
        """
        documents = case.network, case.catalog, case.policy
        try:
            known = None if case.policy.rules else Known(*documents)
        except Cancelled:  # the limits of the policy leave nothing to start from
            known = None
        return cls(case, known.plan if known is not None else solve_bare(*documents), known)

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
        return found if self.plan is None else standing(self.plan, found, *documents)

    def _from_tables(self, case: Case) -> Plan | None:
        with self._lock:
            self._solved += 1
            if self._known is None and self._solved > _SOLVED_FIRST:
                self._known = Known(self._case.network, self._case.catalog, self._case.policy)
        return self._known.solved(case.network, case.catalog, case.policy) if self._known is not None else None
