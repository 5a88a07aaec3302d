"""The preparation of a network that differs little from one that was prepared: only links that the change touches are looked at anew.

Why this changes nothing: the same documents are asked the same questions. What an end is accepted with depends on catalog, policy, its
device and its site, which are the same but for prices, at which no rule looks; the row of a link on itself and on the runs of its paths. A
device that is new or gone has links that are new or gone; a run that is new is one more path of the links between its two devices. Where
other parts may be left out at these prices, every link is looked at anew, over the paths that are known. Where more than that differs,
or other questions are asked of the ends, there is no short way. Which order decides between equals is the same too: lights are numbered
whoever asks, lists of options are in an order of their own (`tests/solver/test_known.py` holds whole plans equal).
"""

from __future__ import annotations

from collections.abc import Sequence

from optiselect.model.catalog import Catalog
from optiselect.model.network import Device, Network, Site
from optiselect.model.policy import Policy
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch


def revised(before: Preparation, network: Network, catalog: Catalog, policy: Policy, watch: Watch) -> tuple[Preparation, frozenset[str]] | None:
    """The preparation of these documents, with the ids of the links that are the same as before; None where too much differs."""
    was = before.network
    repriced = _repriced(before.catalog, catalog)
    if repriced is None or policy != before.policy:
        return None
    if network.panels != was.panels or network.installed != was.installed or not (_agree(network.sites, was.sites) and _agree(network.devices, was.devices)):
        return None
    fittings = before.fittings.of(network)
    if fittings is None:
        return None
    if len(network.wanted) != len(was.wanted) and any(item.stock is not None for item in (*catalog.cords, *catalog.attenuators)):
        return None
    runs, runs_before = network.run_by_id, was.run_by_id
    others = [run for run in network.runs if runs_before.get(run.id) is not run]
    more = [run for run in others if run.id not in runs_before]
    if any(place in network.panel_by_id for run in more for place in run.ends):
        return None  # links anywhere may have more paths
    if any(run.id in runs_before and run.ends != runs_before[run.id].ends for run in others):
        return None
    differ = {run.id for run in others if run != runs_before.get(run.id)} | (runs_before.keys() - runs.keys())
    touched = before.paths.cut.union(*(before.links_over.get(run_id, ()) for run_id in differ))
    places = {frozenset(run.ends) for run in more}
    touched |= {link.id for link in network.wanted if frozenset(link.devices) in places} if places else frozenset()
    as_before = network.wanted
    if as_before != was.wanted:
        if _named(network) != _named(was):
            return None
        links = {link.id: link for link in was.wanted}
        as_before = tuple([link for link in as_before if link is links.get(link.id) or link == links.get(link.id)])
    same = frozenset([link.id for link in as_before]) - touched
    preparation = Preparation(network, catalog, policy, watch, before, fittings, repriced)
    return (preparation, same) if preparation.run_again(before, same, frozenset(differ)) else None


def _agree(some: Sequence[Site] | Sequence[Device], others: Sequence[Site] | Sequence[Device]) -> bool:
    """Whether what is in both is the same."""
    if some is others or some == others:
        return True
    known = {item.id: item for item in others}
    return all(known[item.id] == item for item in some if item.id in known)


def _repriced(before: Catalog, catalog: Catalog) -> frozenset[str] | None:
    """The modules and converters that have another price; None where anything else of the catalogs differs.

    Cords and attenuators are found by price before the choice, so theirs must be the same.
    """
    if catalog is before:
        return frozenset()
    if (catalog.name, catalog.currency, catalog.cords, catalog.attenuators) != (before.name, before.currency, before.cords, before.attenuators):
        return None
    changed: set[str] = set()
    for now, was in ((catalog.module_by_part, before.module_by_part), (catalog.converter_by_part, before.converter_by_part)):
        if now.keys() != was.keys():
            return None
        for part, item in now.items():
            old = was[part]
            if item is old or item == old:
                continue
            if item.price is None or old.price is None or item.model_copy(update={"price": old.price}) != old:
                return None
            changed.add(part)
    return frozenset(changed)


def _named(network: Network) -> set[str]:
    """The ports that links name: each is a group of its own."""
    return {end for link in network.wanted for end in link.ends if "/" in end}
