"""Say of one link what it gets, or why it gets nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiselect.errors import UnknownNameError
from optiselect.explain.served import Explanation, explanation_of
from optiselect.model.network import Network
from optiselect.model.plan import Refusal
from optiselect.solver.solve import solve

if TYPE_CHECKING:
    import networkx

    from optiselect.model.catalog import Catalog
    from optiselect.model.policy import Policy


def explain(network: Network | networkx.Graph[Any], catalog: Catalog, link: str, policy: Policy | None = None) -> Explanation | Refusal:
    """Say of one link what it gets and with which margins, or why it gets nothing.

    Args:
        network: a Network, or a networkx graph.
        catalog: what may be chosen.
        link: the link's id.
        policy: omitted = all defaults.

    Returns:
        An `Explanation` of a link that is served, else the plan's `Refusal`; both have a `text`.

    Raises:
        UnknownNameError: when the network has no such link.
    """
    network = network if isinstance(network, Network) else Network.from_graph(network)
    if link not in {wanted.id for wanted in network.wanted}:
        raise UnknownNameError(f"there is no link {link!r}")
    plan = solve(network, catalog, policy)
    refused = next((entry for entry in plan.unserved if entry.id == link), None)
    if refused is not None:
        return refused
    return explanation_of(next(entry for entry in plan.links if entry.id == link))


__all__ = ["Explanation", "explain"]
