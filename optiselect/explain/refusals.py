"""The refusals of a plan, filled: why each link is not served, and for the first few what would help.

All bounds are counts, so the same input gives the same words. The plan itself does not depend on any of this.
"""

from __future__ import annotations

from optiselect.explain.ground import Ground
from optiselect.explain.reasons import reasoned
from optiselect.explain.wording import refusal_text
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan, Refusal
from optiselect.model.policy import Policy


def explained(plan: Plan, network: Network, catalog: Catalog, policy: Policy) -> Plan:
    """The same plan with the reasons of every link that it does not serve."""
    if not plan.unserved or not plan.objective:  # without objectives nothing was looked at
        return plan
    ground = Ground(network, catalog, policy)
    return plan.model_copy(update={"unserved": tuple(_filled(ground, plan, refusal) for refusal in plan.unserved)})


def _filled(ground: Ground, plan: Plan, refusal: Refusal) -> Refusal:
    found, _ = reasoned(ground, plan, refusal)
    return found.model_copy(update={"text": refusal_text(found)})
