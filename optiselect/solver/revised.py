"""The preparation of a network that differs little from one that was prepared: only links that the change touches are looked at anew.

Why this changes nothing: the same documents are asked the same questions. What an end is accepted with depends on catalog, policy,
devices and sites, which are the same; the row of a link on itself and on the runs of its paths. Where more than that differs, or where
other questions are asked of the ends, there is no short way. Which order decides between equals is the same too: lights are numbered
whoever asks, lists of options are in an order of their own (`tests/solver/test_revised.py` holds whole plans equal).
"""

from __future__ import annotations

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch


def revised(before: Preparation, network: Network, catalog: Catalog, policy: Policy, watch: Watch) -> tuple[Preparation, frozenset[str]] | None:
    """The preparation of these documents, with the ids of the links that are the same as before; None where too much differs."""
    was = before.network
    if catalog is not before.catalog or policy != before.policy:
        return None
    if any(getattr(network, name) != getattr(was, name) for name in ("sites", "devices", "panels", "installed")):
        return None
    links = {link.id: link for link in was.wanted}
    if _named(network) != _named(was) or (len(network.wanted) != len(links) and any(item.stock is not None for item in (*catalog.cords, *catalog.attenuators))):
        return None
    if any(run.id not in was.run_by_id or run.ends != was.run_by_id[run.id].ends for run in network.runs):
        return None
    differ = {run_id for run_id, run in was.run_by_id.items() if network.run_by_id.get(run_id) is not run and network.run_by_id.get(run_id) != run}
    same = frozenset(
        link.id
        for link in network.wanted
        if link == links.get(link.id)
        and link.id not in before.paths.cut
        and differ.isdisjoint(run.id for path in before.paths_of[link.id] for run in path.runs)
    )
    preparation = Preparation(network, catalog, policy, watch, before)
    return (preparation, same) if preparation.run_again(before, same, frozenset(differ)) else None


def _named(network: Network) -> set[str]:
    """The ports that links name: each is a group of its own."""
    return {end for link in network.wanted for end in link.ends if "/" in end}
