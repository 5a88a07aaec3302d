"""The independent check: every rule again, on a finished plan or on what is plugged in, from the documents alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Literal

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import FixedOptic, Link, Network
from optiselect.model.plan import Finding, Plan, PlannedEnd, PlannedLink
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Rate
from optiselect.rules import END_RULES, NETWORK_RULES, PAIR_RULES, PATH_RULES, RULE_BY_ID
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.rule import Breach
from optiselect.rules.served import Served, units_of
from optiselect.solver.fittings import named_part
from optiselect.solver.paths import Paths
from optiselect.standards.transceiver import transceiver

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


def waivers_of(policy: Policy, link_id: str) -> frozenset[str]:
    """The rules that the policy waives on a link."""
    return frozenset(waiver.rule for waiver in policy.waivers if waiver.link == link_id)


class Refitter:
    """Builds fitted links from part numbers alone, as a plan or an inventory names them."""

    def __init__(self, network: Network, catalog: Catalog, policy: Policy) -> None:
        self._network, self._catalog, self._policy = network, catalog, policy
        self._paths = Paths(network)
        self._links = {link.id: link for link in network.wanted}

    def link(self, planned: PlannedLink) -> FittedLink:
        """A planned link with everything that the plan names."""
        link = self._links[planned.id]
        over = link if link.over == planned.over else link.model_copy(update={"over": planned.over})
        (path,) = self._paths.of(over)
        asked = Asked(link, planned.rate, path, self._policy, waivers_of(self._policy, link.id))
        return FittedLink(asked, *(self.end(end, planned.rate) for end in planned.ends))

    def end(self, planned: PlannedEnd, rate: Rate) -> FittedEnd:
        """One end with the parts that are named."""
        device = self._network.device_by_id[planned.device]
        port = device.port(planned.port)
        module = self._catalog.module_by_part[planned.module] if planned.module else None
        converter = self._catalog.converter_by_part[planned.converter] if planned.converter else None
        optic = module or (converter.optic if converter else port.optic if isinstance(port, FixedOptic) else None)
        light = transceiver(optic if module else named_part(optic, self._catalog), rate) if optic is not None else None
        name = f"{planned.device}/{planned.port}"
        return FittedEnd(
            device,
            self._network.site_by_id.get(device.site) if device.site else None,
            planned.port,
            port,
            planned.fitting,
            light,
            module,
            converter,
            self._catalog.cord_by_part[planned.cord] if planned.cord else None,
            self._catalog.attenuator_by_part[planned.attenuator] if planned.attenuator else None,
            self._network.installed.get(name) if self._policy.keep_installed != "no" else None,
        )

    def path_of(self, link: Link) -> Path | None:
        """The path of a link whose plan is not known: the stated one, or the shortest."""
        paths = self._paths.of(link)
        return paths[0] if paths else None


def kept_ports(links: tuple[FittedLink, ...]) -> frozenset[str]:
    """The ports whose installed module stays."""
    return frozenset(end.name for link in links for end in link.ends if end.installed and end.module and end.installed == end.module.part and not end.converter)


def findings_of_plan(plan: Plan, network: Network, catalog: Catalog, policy: Policy) -> list[Finding]:
    """Check a finished plan against every rule, from the documents alone."""
    refitter = Refitter(network, catalog, policy)
    links = tuple(refitter.link(planned) for planned in plan.links)
    findings = [finding for link in links for finding in findings_of_link(link)]
    spares = {line.part: line.spares for line in plan.parts}
    served = Served(network, catalog, policy, links, units_of(links), spares, kept_ports(links))
    for rule in NETWORK_RULES:
        findings += [finding_of(breach, None) for breach in rule.check(served)]
    return findings


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
        One finding for each rule that does not hold (`unknown`: that cannot be checked). Links of which an end has no
        module are checked as far as their ends go; links that no module touches are left out.

    Raises:
        UnknownNameError: when a part number or port that is named does not exist.
    """
    network = network if isinstance(network, Network) else Network.from_graph(network)
    policy = policy or Policy()
    if isinstance(fitted, Plan):
        return findings_of_plan(fitted, network, catalog, policy)
    inventory = dict(network.installed if fitted is None else fitted)
    _names_exist(inventory, network, catalog)
    refitter = Refitter(network, catalog, policy)
    findings: list[Finding] = []
    complete: list[FittedLink] = []
    for link in sorted(network.wanted, key=lambda link: link.id):
        path = refitter.path_of(link)
        ends = [_plugged(link, side, inventory, network) for side in (0, 1)]
        if path is None or all(end is None for end in ends):
            continue
        rate = link.rate or _common_rate(ends, catalog, network)
        asked = Asked(link, rate, path, policy, waivers_of(policy, link.id))
        fitted_ends = [refitter.end(end, rate) if end else None for end in ends]
        if fitted_ends[0] is not None and fitted_ends[1] is not None:
            whole = FittedLink(asked, fitted_ends[0], fitted_ends[1])
            complete.append(whole)
            findings += findings_of_link(whole)
        else:
            for end in fitted_ends:
                if end is not None:
                    findings += [finding_of(breach, link.id, asked.waived) for rule in END_RULES for breach in rule.check(end, asked)]
    served = Served(network, catalog, policy, tuple(complete), units_of(tuple(complete)))
    for rule in NETWORK_RULES:
        if rule.id != "stock":
            findings += [finding_of(breach, None) for breach in rule.check(served)]
    return findings


def _names_exist(inventory: Mapping[str, str], network: Network, catalog: Catalog) -> None:
    missing = []
    for name, part in sorted(inventory.items()):
        device_id, _, port_id = name.partition("/")
        device = network.device_by_id.get(device_id)
        if device is None or port_id not in {port for entry in device.ports for port in entry.names}:
            missing.append(f"there is no port {name!r}")
        if part not in catalog.module_by_part:
            missing.append(f"{name}: the catalog has no module {part!r}")
    if missing:
        raise UnknownNameError("; ".join(missing))


def _plugged(link: Link, side: int, inventory: Mapping[str, str], network: Network) -> PlannedEnd | None:
    """What is at an end: the pinned port's module, fixed optic or socket; of an unpinned end the device's only possible port."""
    device = network.device_by_id[link.devices[side]]
    port_id = link.pinned[side]
    if port_id is None:
        names = [name for port in device.ports for name in port.names]
        if len(names) != 1:
            return None
        port_id = names[0]
    part = inventory.get(f"{device.id}/{port_id}")
    kind = device.port(port_id).kind
    fitting: Literal["module", "fixed", "copper"] | None = (
        "module" if part else "fixed" if kind == "fixed" else "copper" if kind in ("copper", "shared") else None
    )
    return PlannedEnd(device=device.id, port=port_id, fitting=fitting, module=part) if fitting else None


def _common_rate(ends: list[PlannedEnd | None], catalog: Catalog, network: Network) -> Rate:
    """The highest rate that everything plugged in says it runs."""
    common = set(RATES)
    for end in ends:
        if end is None:
            continue
        port = network.device_by_id[end.device].port(end.port)
        if end.module:
            common &= set(catalog.module_by_part[end.module].rates or RATES)
        rates = getattr(port, "rates", None)
        common &= set(rates) if rates else common
    return max(common or {"1G"}, key=RATES.index)
