"""A case that is solved, and the plans of others that differ in few runs, links, devices or prices: what is the same is not worked out again.

Where only prices differ, and only of parts that another replaces at these prices too, or that no plan of so few part numbers has, nothing
that the choice looks at is different: the plan stands.
"""

from __future__ import annotations

from optiselect.errors import Cancelled
from optiselect.model.catalog import Catalog
from optiselect.model.fingerprint import hashes_of, texts_of
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.checked import check_plan
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.revised import revised
from optiselect.solver.solve import solved_from
from optiselect.solver.task import Learnt, TaskMaker
from optiselect.solver.tightened import Worked


class Known:
    """A solved case.

    What it lends to other solves does not change with them: a plan that follows from it is the one that a solve by itself gives.

    Raises:
        Cancelled: when the limits of the policy leave no plan to start from.
        PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
    """

    def __init__(self, network: Network, catalog: Catalog, policy: Policy) -> None:
        watch = Watch(None, None, policy.time_limit_s, policy.effort)
        self._preparation = Preparation(network, catalog, policy, watch)
        self._preparation.lends = True
        self._preparation.run()
        self._learnt = Learnt()
        self._solved = solved_from(self._preparation, TaskMaker(network, catalog, policy, self._learnt), watch)
        self._texts = texts_of(network) | texts_of(catalog) | texts_of(policy)

    @property
    def plan(self) -> Plan:
        """The plan of the case, as of `solve_bare`."""
        return self._solved.plan

    @property
    def worked(self) -> Worked:
        """The paths of all links, and the links of the plan as they were checked."""
        return self._preparation.paths_of, self._solved.links

    def solved(self, network: Network, catalog: Catalog, policy: Policy) -> Plan | None:
        """The plan of these documents, as of `solve_bare`; None where too much differs.

        Raises:
            PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
        """
        watch = Watch(None, None, policy.time_limit_s, policy.effort)
        try:
            following = revised(self._preparation, network, catalog, policy, watch)
            if following is None:
                return None
            preparation, same = following
            if self._is_the_same_at_these_prices(preparation):
                plan = self.plan.model_copy(update={"hashes": hashes_of((network, catalog, policy), self._texts)})
                check_plan(plan, self._solved.links.values(), network, catalog, policy, self._solved.used)
                return plan
            return solved_from(preparation, TaskMaker(network, catalog, policy, self._learnt.lent()), watch, self._solved, same, self._texts).plan
        except Cancelled:
            return None

    def _is_the_same_at_these_prices(self, following: Preparation) -> bool:
        """Whether only prices differ, at which the choice did not look and would not now."""
        was, priced = self._preparation, self._solved.priced
        return (
            following.network is was.network
            and self.plan.status == "optimal"
            and was.policy.confirm == "none"
            and (following.left_out, following.replaced_at_any_price) == (was.left_out, was.replaced_at_any_price)
            and priced is not None
            and priced.isdisjoint(following.repriced - was.left_out)
        )
