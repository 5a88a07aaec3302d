"""Say of one link what it gets, or why it gets nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiselect.errors import UnknownNameError
from optiselect.explain.ground import Ground
from optiselect.explain.refusals import effort_for_one, refused
from optiselect.explain.served import explanation_of
from optiselect.model.explanation import Explanation
from optiselect.model.network import Network
from optiselect.model.plan import Refusal
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve_bare

if TYPE_CHECKING:
    import networkx

    from optiselect.model.catalog import Catalog


def explain(network: Network | networkx.Graph[Any], catalog: Catalog, link: str, policy: Policy | None = None) -> Explanation | Refusal:
    """Say of one link what it gets and why not the cheaper or the obvious, or why it gets nothing and what would help.

    Args:
        network: a Network, or a networkx graph.
        catalog: what may be chosen.
        link: the link's id.
        policy: omitted = all defaults.

    Returns:
        An `Explanation` of a link that is served, with other choices and what they would break or change; else a `Refusal`
        with the fixes that were found, each solved again. Both have a `text`.

    Raises:
        UnknownNameError: when the network has no such link.
    """
    network = network if isinstance(network, Network) else Network.from_graph(network)
    policy = policy or Policy()
    if link not in {wanted.id for wanted in network.wanted}:
        raise UnknownNameError(f"there is no link {link!r}")
    plan = solve_bare(network, catalog, policy)
    ground = Ground(network, catalog, policy)
    entry = next((entry for entry in plan.unserved if entry.id == link), None)
    if entry is not None:
        return refused(ground, plan, entry, effort_for_one(network))
    return explanation_of(ground, plan, next(entry for entry in plan.links if entry.id == link))


__all__ = ["Explanation", "explain"]
