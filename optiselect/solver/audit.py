"""The independent check: every rule again, on a finished plan or on what is plugged in, from the documents alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any

from optiselect.model.catalog import Catalog, Converter, Module
from optiselect.model.network import FixedOptic, Link, Network, Port
from optiselect.model.plan import Finding, Plan, PlannedEnd, PlannedLink
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Rate
from optiselect.rules import END_RULES, NETWORK_RULES, PAIR_RULES, PATH_RULES, RULE_BY_ID
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.rule import Breach
from optiselect.rules.served import Served, Taken, kept_ports, taken_by, units_of
from optiselect.solver.alike import breaches_of_links
from optiselect.solver.fittings import named_part
from optiselect.solver.named import bill_is_of_the_links, fitted_units, names_of_inventory_exist, names_of_plan_exist
from optiselect.solver.paths import Paths, path_over
from optiselect.solver.plugged import Plugged, PluggedIn
from optiselect.standards.transceiver import Transceiver, transceiver

if TYPE_CHECKING:
    import networkx


def findings_of_link(link: FittedLink) -> Iterator[Finding]:
    """Every rule of an end, a pair or a path that does not hold, or cannot be checked, on one fitted link."""
    waived = link.asked.waived
    for rule in END_RULES:
        for end in link.ends:
            for breach in rule.check(end, link.asked):
                yield finding_of(breach, link.asked.link.id, waived)
    for rule in (*PAIR_RULES, *PATH_RULES):
        for breach in rule.check(link):
            yield finding_of(breach, link.asked.link.id, waived)


def finding_of(breach: Breach, link_id: str | None, waived: frozenset[str] = frozenset()) -> Finding:
    """A breach with its sentence."""
    return Finding(
        rule=breach.rule,
        link=link_id,
        path=breach.path,
        required=breach.required,
        available=breach.available,
        unit=breach.unit,
        unknown=breach.unknown,
        waived=breach.rule in waived,
        text=RULE_BY_ID[breach.rule].sentence(breach),
    )


class Refitter:
    """Builds fitted links from part numbers alone, as a plan or an inventory names them.

    Args:
        paths_of: by link id, paths over the runs of this network that were put together before; others are put together here.
    """

    def __init__(self, network: Network, catalog: Catalog, policy: Policy, paths_of: Mapping[str, tuple[Path, ...]] | None = None) -> None:
        self._network, self._catalog, self._policy = network, catalog, policy
        self._paths_of = paths_of or {}
        self._links = {link.id: link for link in network.wanted}
        self._lights: dict[tuple[int, Rate], Transceiver] = {}
        self._installed: Mapping[str, str] = network.installed if policy.keep_installed != "no" else {}

    def link(self, planned: PlannedLink) -> FittedLink:
        """A planned link with everything that the plan names."""
        link = self._links[planned.id]
        asked = Asked(link, planned.rate, self._path(link, planned.over), self._policy, self._policy.waived_on(link.id))
        return FittedLink(asked, *(self.end(end, planned.rate) for end in planned.ends))

    def _path(self, link: Link, over: tuple[str, ...]) -> Path:
        for path in self._paths_of.get(link.id, ()):
            if path.run_ids == over:
                return path
        return path_over(self._network, [self._network.run_by_id[run_id] for run_id in over], link.devices[0])

    def end(self, planned: PlannedEnd, rate: Rate) -> FittedEnd:
        """One end with the parts that are named."""
        device = self._network.device_by_id[planned.device]
        port = device.port(planned.port)
        module = self._catalog.module_by_part[planned.module] if planned.module else None
        converter = self._catalog.converter_by_part[planned.converter] if planned.converter else None
        return FittedEnd(
            device,
            self._network.site_by_id.get(device.site) if device.site else None,
            planned.port,
            port,
            planned.fitting,
            self._light(module, converter, port, rate),
            module,
            converter,
            self._catalog.cord_by_part[planned.cord] if planned.cord else None,
            self._catalog.attenuator_by_part[planned.attenuator] if planned.attenuator else None,
            self._installed.get(f"{planned.device}/{planned.port}") if self._installed else None,
        )

    def _light(self, module: Module | None, converter: Converter | None, port: Port, rate: Rate) -> Transceiver | None:
        optic = module or (converter.optic if converter else port.optic if isinstance(port, FixedOptic) else None)
        if optic is None:
            return None
        key = (id(optic), rate)  # the documents outlive this object, and an id is quick to look up
        if key not in self._lights:
            self._lights[key] = transceiver(module or named_part(optic, self._catalog), rate)
        return self._lights[key]

    @cached_property
    def _paths(self) -> Paths:
        return Paths(self._network)

    def paths_of(self, link: Link) -> tuple[Path, ...]:
        """The paths that a link may be on: the stated one, or all, shortest first."""
        return self._paths.of(link)


def findings_of_plan(plan: Plan, network: Network, catalog: Catalog, policy: Policy) -> list[Finding]:
    """Check a finished plan against every rule, from the documents alone."""
    return findings_of_fitted(plan, fitted_links(plan, network, catalog, policy), network, catalog, policy)


def findings_of_fitted(plan: Plan, links: tuple[FittedLink, ...], network: Network, catalog: Catalog, policy: Policy) -> list[Finding]:
    """The same, where the links of the plan are fitted already."""
    findings = [finding_of(breach, link.asked.link.id, link.asked.waived) for link, breach in breaches_of_links(links)]
    return findings + findings_together(plan, tuple(map(taken_by, links)), network, catalog, policy, fitted_units(plan.links))


def fitted_links(plan: Plan, network: Network, catalog: Catalog, policy: Policy) -> tuple[FittedLink, ...]:
    """The links of a plan with everything that it names, from the documents alone."""
    refitter = Refitter(network, catalog, policy)
    return tuple(refitter.link(planned) for planned in plan.links)


def findings_together(plan: Plan, links: tuple[Taken, ...], network: Network, catalog: Catalog, policy: Policy, used: Mapping[str, int]) -> list[Finding]:
    """The rules of the whole network on the links of a plan; `used`: its `fitted_units`."""
    spares = {line.part: line.spares for line in plan.parts}
    served = Served(network, catalog, policy, links, used, spares, kept_ports(links))
    return [finding_of(breach, None) for rule in NETWORK_RULES for breach in rule.check(served)]


def check(
    network: Network | networkx.Graph[Any], catalog: Catalog, fitted: Plan | Mapping[str, str] | None = None, policy: Policy | None = None
) -> list[Finding]:
    """Audit what is plugged in, with the same rules as the solver.

    Args:
        network: a Network, or a networkx graph.
        catalog: where the part numbers are.
        fitted: a Plan, or {device/port: part number}; omitted = the network's `installed`.
        policy: omitted = all defaults.

    Returns:
        One finding for each rule that does not hold (`unknown`: that cannot be checked).

        Of what is plugged in only the modules are known: a missing cord is no finding, a mode-conditioning cord that is due
        is `unknown`, an overload names the attenuator that it takes. A link that pins no port is looked for in the ports
        whose module it could be; where several differ, or an end has none, that is an `unknown` finding and the other end is
        checked by itself. A rate that is not stated is the highest that both ends run; a path that is not stated is the one
        on which the least is wrong. Links that no module touches are left out, unless both ends are sockets or fixed optics.

    Raises:
        UnknownNameError: with every link, run, port and part that is named and not there, a port that is no cage included; of a
            plan also with every link of the network that is neither served nor in `unserved`, or both, and every part of which the
            bill has another number than the links use: a plan that was cut or edited does not pass for a checked one.
    """
    network = network if isinstance(network, Network) else Network.from_graph(network)
    policy = policy or Policy()
    if isinstance(fitted, Plan):
        names_of_plan_exist(fitted, network, catalog)
        bill_is_of_the_links(fitted)
        return findings_of_plan(fitted, network, catalog, policy)
    inventory = dict(network.installed if fitted is None else fitted)
    names_of_inventory_exist(inventory, network, catalog)
    return InventoryAudit(network, catalog, policy, inventory).findings()


class InventoryAudit:
    """Every rule on what is plugged in. An inventory tells modules only: which cords and attenuators are there stays open."""

    def __init__(self, network: Network, catalog: Catalog, policy: Policy, inventory: Mapping[str, str]) -> None:
        self._network, self._catalog, self._policy = network, catalog, policy
        self._refitter = Refitter(network, catalog, policy)
        self._paths = {link.id: self._refitter.paths_of(link) for link in network.wanted}
        self._plugged = PluggedIn(network, catalog, inventory, self._paths)
        self._complete: list[FittedLink] = []
        self._some_way: set[str] = set()
        """Ids of links that may as well go over one path as over another."""

    def findings(self) -> list[Finding]:
        """Link by link, then of the whole; what a plan would still have to buy is not asked."""
        found = [finding for link in sorted(self._network.wanted, key=lambda link: link.id) for finding in self._of_link(link)]
        return [*found, *self._of_the_whole()]

    def _of_the_whole(self) -> Iterator[Finding]:
        """The rules of what links share; runs and routes only of links that can but be on one path."""
        everywhere = tuple(self._complete)
        placed = tuple(link for link in everywhere if link.asked.link.id not in self._some_way)
        for rule in NETWORK_RULES:
            if rule.id == "stock":
                continue  # nothing is bought here
            links = placed if rule.id in ("strands-free", "diversity") else everywhere
            for breach in rule.check(Served(self._network, self._catalog, self._policy, tuple(map(taken_by, links)), units_of(links))):
                yield finding_of(breach, None)
        for link in self._network.wanted:
            for link_id in sorted({link.id, *link.diverse_from} & self._some_way) if link.diverse_from else ():
                yield finding_of(Breach("diversity", link.id, "nothing in common", f"over which runs {link_id} goes", unknown=True), link.id)

    def _of_link(self, link: Link) -> list[Finding]:
        a, b = self._plugged.at(link)
        paths = self._paths[link.id]
        if not paths:
            touched = any(plugged.end is not None and plugged.end.module for plugged in (a, b))
            gap = Breach("medium", link.id, None, f"a run that joins {link.devices[0]} and {link.devices[1]}", unknown=True)
            return [finding_of(gap, link.id)] if touched else []
        if a.end is None or b.end is None:
            return self._as_far_as_known(link, (a, b))
        rate = link.rate or self._highest_rate(a.end, b.end)
        choices = []
        for path in paths:
            asked = Asked(link, rate, path, self._policy, self._policy.waived_on(link.id))
            fitted = FittedLink(asked, self._refitter.end(a.end, rate), self._refitter.end(b.end, rate), cords_stated=False)
            found = list(findings_of_link(fitted))
            choices.append((fitted, found))
            if sum(all(finding.unknown for finding in its) for _, its in choices) > 1:
                self._some_way.add(link.id)
                break
        fitted, found = min(choices, key=lambda choice: sum(not finding.unknown for finding in choice[1]))
        self._complete.append(fitted)
        return found

    def _as_far_as_known(self, link: Link, both: tuple[Plugged, Plugged]) -> list[Finding]:
        """The rules of an end where that is all that is known, and what is not known of the other."""
        held = [plugged.end for plugged in both if plugged.end is not None]
        in_question = any(plugged.end is None and link.pinned[side] is None and plugged.ports for side, plugged in enumerate(both))
        if not held and not in_question:
            return []
        rate = link.rate or (self._highest_rate(*held) if held else "1G")
        paths = self._paths[link.id]
        path = next((path for path in paths for end in held if self._plugged.medium(end) in (path.medium, None)), paths[0])
        asked = Asked(link, rate, path, self._policy, self._policy.waived_on(link.id))
        fitted = [self._refitter.end(end, rate) for end in held]
        found = [finding_of(breach, link.id, asked.waived) for rule in END_RULES for end in fitted for breach in rule.check(end, asked)]
        if in_question or any(end.module for end in held):
            found += [finding_of(_open(link, side, plugged, path, self._network), link.id) for side, plugged in enumerate(both) if plugged.end is None]
        return found

    def _highest_rate(self, *ends: PlannedEnd) -> Rate:
        """The highest rate that all run; where there is none, the highest that most of them run, which its rule then refuses."""
        runs = [self._plugged.rates(end) for end in ends]
        return max(RATES, key=lambda rate: (sum(rate in each for each in runs), RATES.index(rate)))


def _open(link: Link, side: int, plugged: Plugged, path: Path, network: Network) -> Breach:
    """What is not known of an end: which port it is in, or what is plugged in there."""
    device = network.device_by_id[link.devices[side]]
    pinned = link.pinned[side]
    names = tuple(f"{device.id}/{port}" for port in plugged.ports)
    runs = ", ".join(run.id for run in path.runs)
    if pinned is None and plugged.ports:
        return Breach("port-once", link.id, 1, f"which of {', '.join(names)} it is in" if len(names) > 1 else f"whether it is in {names[0]}", unknown=True)
    place = link.ends[side]
    if pinned is not None and device.port(pinned).kind == "copper":
        return Breach("medium", place, path.medium, f"the media converter between its copper socket and {runs}", unknown=True)
    return Breach("form", place, None, f"what is plugged in there for {link.id}", unknown=True)
