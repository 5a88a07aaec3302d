"""The plan of documents that only forbid more than those of a proven plan: the same plan, where it still holds.

Why this is proven without a search: a change that takes ways of serving links away, or makes dearer what the plan does not
use, lets no plan be better than before. If the plan at hand still keeps every rule and has the same value on every
objective, it is still best. What a change does to lengths and losses can also allow more (a longer run needs no attenuator),
so there the ways of the links concerned are listed before and after, and none may have come. A link that states no rate
keeps the one it is planned at, since that is still possible and nothing higher has become so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from math import inf

import numpy as np

from optiselect.errors import PlanCheckError
from optiselect.model.catalog import Catalog
from optiselect.model.document import Figures
from optiselect.model.fingerprint import hashes_of, texts_of
from optiselect.model.network import Link, Network, Run
from optiselect.model.plan import Plan, Refusal
from optiselect.model.policy import Policy
from optiselect.model.terms import Rate
from optiselect.rules.fitted import Path
from optiselect.solver.checked import CheckedLink, check_links, check_plan
from optiselect.solver.distances import NOT_SERVED
from optiselect.solver.fittings import figures_key
from optiselect.solver.named import fitted_units
from optiselect.solver.paths import Paths
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch

_MAY_GROW = ("design_margin_db", "repair_allowance_db", "connection_loss_db", "splice_loss_db", "reserve_strands")
_MAY_BE_FORBIDDEN = ("allow_attenuators", "allow_hybrid_cords", "allow_converters", "copper_between_buildings")
_MAY_SHRINK = ("lifecycles", "laser_classes")
_MAY_BE_LONGER = ("exclude_parts",)
_SAYS_NOTHING = ("time_limit_s", "effort")
Ways = tuple[Rate, frozenset[Hashable]]


Worked = tuple[Mapping[str, tuple[Path, ...]], Mapping[str, CheckedLink]]
"""By link, its paths and, where it is served, the row of a plan as it was checked."""


def worked_out(network: Network, catalog: Catalog, policy: Policy, plan: Plan) -> Worked:
    """The paths of all links, and the links of a plan, checked."""
    paths = Paths(network)
    paths_of = {link.id: paths.of(link) for link in network.wanted}
    return paths_of, check_links(plan.links, network, catalog, policy, paths_of)


class Proven:
    """A proven plan with its documents, from which the plans of tighter documents follow.

    Args:
        plan: of these documents, without reasons for what it does not serve (`solve_bare`).
        known: the paths of all links and the links of the plan as they were checked, where that is at hand.
    """

    def __init__(self, network: Network, catalog: Catalog, policy: Policy, plan: Plan, known: Worked | None = None) -> None:
        self.network, self.catalog, self.policy, self.plan = network, catalog, policy, plan
        self._links = {link.id: link for link in network.wanted}
        self._paths_of, self._checked = known or worked_out(network, catalog, policy, plan)
        self._over: dict[str, set[str]] = defaultdict(set)
        for link_id, several in self._paths_of.items():
            for path in several:
                for run_id in path.run_ids:
                    self._over[run_id].add(link_id)
        self._texts = texts_of(network) | texts_of(catalog) | texts_of(policy)
        self._ways: dict[frozenset[str], dict[str, Ways]] = {}
        self._parts = {line.part for line in plan.parts}
        self._used = fitted_units(plan.links)
        self._is_usable = plan.status == "optimal" and not policy.rules and not any(value.name == "unknowns" and value.value for value in plan.objective)
        self._is_usable &= not any(link.rate is None for link in network.wanted if link.id not in self._checked)

    def tightened(self, network: Network, catalog: Catalog, policy: Policy) -> Plan | None:
        """The plan of these documents, without reasons; None where the change may allow more, or the plan no longer holds."""
        if not (self._is_usable and self._policy_is_tighter(policy) and self._catalog_is_tighter(catalog)):
            return None
        touched = self._touched(network)
        if touched is None or any(run_id not in network.run_by_id for link in self.plan.links for run_id in link.over):
            return None
        if not self._ways_are_fewer(touched, network):
            return None
        again = touched if policy == self.policy else frozenset(self._checked)  # no rule of a single link looks at prices or stock
        paths_of = self._paths_of if network is self.network else None
        renewed = check_links([link for link in self.plan.links if link.id in again], network, catalog, policy, paths_of)
        checked = [renewed.get(link.id) or self._checked[link.id] for link in self.plan.links]
        plan = self.plan.model_copy(
            update={
                "network": network.name,
                "catalog": catalog.name,
                "links": tuple(link.told for link in checked),
                "unserved": self._unserved(network, catalog, policy),
                "hashes": hashes_of((network, catalog, policy), self._texts),
            }
        )
        try:
            check_plan(plan, checked, network, catalog, policy, self._used)  # the same parts at the same ends
        except PlanCheckError:  # it does not hold any more, or not at the same values
            return None
        return plan

    # -- what is tighter ----------------------------------------------------------------------------------------

    def _policy_is_tighter(self, policy: Policy) -> bool:
        before = self.policy
        if policy is before:
            return True
        judged = (*_MAY_GROW, *_MAY_BE_FORBIDDEN, *_MAY_SHRINK, *_MAY_BE_LONGER, *_SAYS_NOTHING)
        return (
            all(getattr(policy, name) == getattr(before, name) for name in Policy.model_fields if name not in judged)
            and all(getattr(policy, name) >= getattr(before, name) for name in _MAY_GROW)
            and all(getattr(policy, name) <= getattr(before, name) for name in _MAY_BE_FORBIDDEN)
            and all(set(getattr(policy, name)) <= set(getattr(before, name)) for name in _MAY_SHRINK)
            and all(set(getattr(policy, name)) >= set(getattr(before, name)) for name in _MAY_BE_LONGER)
        )

    def _catalog_is_tighter(self, catalog: Catalog) -> bool:
        """Modules and converters may be dearer where the plan has none of them, and fewer may be in stock; nothing else may differ."""
        before = self.catalog
        if catalog is before:
            return True
        if (catalog.currency, catalog.cords, catalog.attenuators) != (before.currency, before.cords, before.attenuators):
            return False
        for now, was in ((catalog.module_by_part, before.module_by_part), (catalog.converter_by_part, before.converter_by_part)):
            if now.keys() != was.keys():
                return False
            for part, item in now.items():
                old = was[part]
                if item is old:
                    continue
                if item.model_copy(update={"price": old.price, "stock": old.stock}) != old:
                    return False
                if (item.price or 0) < (old.price or 0) or (part in self._parts and item.price != old.price):
                    return False
                if (inf if item.stock is None else item.stock) > (inf if old.stock is None else old.stock):
                    return False
        return True

    def _touched(self, network: Network) -> frozenset[str] | None:
        """The links that may go over a run that differs; None where anything else differs, or a run offers more."""
        before = self.network
        same = ("sites", "devices", "panels", "links", "installed")
        if any(getattr(network, name) != getattr(before, name) for name in same):
            return None
        runs = network.run_by_id
        if (network.links is None and runs.keys() != before.run_by_id.keys()) or not runs.keys() <= before.run_by_id.keys():
            return None
        differ = [run.id for run in before.runs if runs.get(run.id) is not run and runs.get(run.id) != run]
        if any(run_id in runs and not _offers_no_more(runs[run_id], before.run_by_id[run_id]) for run_id in differ):
            return None
        return frozenset(link_id for run_id in differ for link_id in self._over[run_id])

    def _ways_are_fewer(self, touched: frozenset[str], network: Network) -> bool:
        if not touched:
            return True
        if touched not in self._ways:
            self._ways[touched] = self._ways_of(touched, self.network)
        was, now = self._ways[touched], self._ways_of(touched, network)
        return all(now[link_id][1] <= was[link_id][1] for link_id in touched) and all(
            now[link_id][0] == was[link_id][0] for link_id in touched if link_id in self._checked
        )

    def _ways_of(self, link_ids: Iterable[str], network: Network) -> dict[str, Ways]:
        """For each of these links its rate alone and every way to serve it there: runs, lights, cords, attenuators."""
        preparation = _prepared([self._links[link_id] for link_id in sorted(link_ids)], network, self.catalog, self.policy)
        lights = [figures_key(light) for light in preparation.fittings.lights]
        ways: dict[str, Ways] = {link_id: (rate, frozenset()) for link_id, rate in preparation.impossible.items()}
        for link_id, row in preparation.rows.items():
            found: set[Hashable] = set()
            for sheet_index, index in row.places:
                sheet = preparation.sheets[sheet_index]
                over = tuple(run.id for run in sheet.paths[index].runs)
                column = sheet.codes[:, index]
                for number in np.flatnonzero(column != NOT_SERVED).tolist():
                    pair = sheet.pairs[number]
                    ends = tuple(lights[light] if light >= 0 else None for light in (pair.a, pair.b))
                    found.add((over, ends, tuple(cord and cord.part for cord in pair.cords), int(column[number])))
            ways[link_id] = (row.rate, frozenset(found))
        return ways

    def _unserved(self, network: Network, catalog: Catalog, policy: Policy) -> tuple[Refusal, ...]:
        """What was impossible is so still; what was crowded out may have become impossible."""
        crowded = [self._links[entry.id] for entry in self.plan.unserved if entry.kind == "crowded-out"]
        if not crowded or (catalog is self.catalog and policy is self.policy and network is self.network):
            return self.plan.unserved
        impossible = _prepared(crowded, network, catalog, policy).impossible
        return tuple(entry.model_copy(update={"kind": "impossible"}) if entry.id in impossible else entry for entry in self.plan.unserved)


def _offers_no_more(now: Run, was: Run) -> bool:
    """Whether a run joins the same places with no more strands; lengths and losses are judged by the ways of its links."""
    if (now.ends, now.routes, now.fiber is None) != (was.ends, was.routes, was.fiber is None):
        return False
    if now.fiber is None or was.fiber is None:
        return True
    return now.fiber.strands - now.fiber.strands_in_use <= was.fiber.strands - was.fiber.strands_in_use


def _prepared(links: list[Link], network: Network, catalog: Catalog, policy: Policy) -> Preparation:
    """Some links of a network by themselves, with every run that they could go over."""
    paths = Paths(network)
    runs = {run.id: run for link in links for path in paths.of(link) for run in path.runs}
    places = {place for link in links for place in link.devices} | {place for run in runs.values() for place in run.ends}
    alone = Network(
        sites=network.sites,
        devices=tuple(device for device in network.devices if device.id in places),
        panels=network.panels,
        runs=tuple(runs.values()),
        links=tuple(link.model_copy(update={"diverse_from": ()}) for link in links),
        installed=Figures({port: part for port, part in network.installed.items() if port.split("/")[0] in places}),
    )
    preparation = Preparation(alone, catalog, policy, Watch(None, None, policy.time_limit_s, policy.effort))
    preparation.run()
    return preparation
