"""Plain enumeration of why a link is refused: every port, every fitting, every attenuator, every subset of facts.

Nothing is gathered, nothing left out, nothing remembered: the rules are asked of each fitted link anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

from optiselect.explain.ends import Reason
from optiselect.explain.places import place_at_end, place_of_pair
from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.model.plan import PlannedEnd
from optiselect.model.policy import Policy
from optiselect.model.terms import FORM_TAKES, RATES, RULE_IDS
from optiselect.rules import END_RULES, NETWORK_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.rules.served import Served, kept_ports, taken_by, units_of
from optiselect.solver.audit import Refitter
from optiselect.solver.pairs import Accessories
from tests.solver.enumeration import spares_of


@dataclass(frozen=True)
class Fall:
    """A fitted link and everything that stands against it; `fitting`: what it is, whatever port it is in."""

    link: FittedLink
    reasons: frozenset[Reason]
    fitting: tuple[object, ...]


def ends_of(asked: Asked, side: int, catalog: Catalog, refitter: Refitter, network: Network) -> list[tuple[FittedEnd, frozenset[Reason]]]:
    """Everything that could be in every port of an end; what is of another form or medium only where there is nothing else."""
    device = network.device_by_id[asked.link.devices[side]]
    pinned = asked.link.pinned[side]
    found = []
    for name in [pinned] if pinned else device.port_by_id:
        for fitting in fittings_of(device.port(name), asked, catalog):
            end = refitter.end(PlannedEnd(device=device.id, port=name, **fitting), asked.rate)
            broken = [breach for rule in END_RULES if rule.id not in asked.waived for breach in rule.check(end, asked) if not breach.unknown]
            found.append(
                (end, frozenset((breach.rule, _at_first_port(place_at_end(breach, end, asked.link.id), end, network, asked, side)) for breach in broken))
            )
    fit = [item for item in found if not {"form", "medium"} & {rule for rule, _ in item[1]}]
    return fit or [item for item in found if "form" not in {rule for rule, _ in item[1]}] or found


def _at_first_port(place: str, end: FittedEnd, network: Network, asked: Asked, side: int) -> str:
    """Ports that are alike are spoken of by their first."""
    named = {ref for link in network.wanted for ref in link.ends if "/" in ref} | set(network.installed)
    alike = [name for name in end.device.port_by_id if end.device.port(name) == end.port and f"{end.device.id}/{name}" not in named]
    if f"{end.device.id}/{end.port_id}" in named or not alike:
        alike = [end.port_id]
    return place.replace(f".ports.{end.port_id}", f".ports.{alike[0]}")


def fittings_of(port: object, asked: Asked, catalog: Catalog) -> Iterator[dict[str, str]]:
    """What a port could be tried with."""
    kind = port.kind  # type: ignore[attr-defined]
    if kind == "fixed":
        yield {"fitting": "fixed"}
    if kind in ("copper", "shared"):
        yield {"fitting": "copper"}
    if kind in ("cage", "shared"):
        yield from ({"fitting": "module", "module": module.part} for module in catalog.modules)
    if kind in ("copper", "shared") and asked.path.medium == "fiber":
        for converter in catalog.converters:
            if converter.optic is not None:
                yield {"fitting": "fixed", "converter": converter.part}
            else:
                takes = (*FORM_TAKES[converter.form], None)  # type: ignore[index]
                yield from ({"fitting": "module", "module": module.part, "converter": converter.part} for module in catalog.modules if module.form in takes)


def falls(network: Network, catalog: Catalog, policy: Policy, link: Link) -> list[Fall]:
    """Every candidate over every path and rate, with every choice of attenuators, and what stands against it."""
    refitter = Refitter(network, catalog, policy)
    accessories = Accessories(catalog, policy, 2 * len(network.wanted))
    found = []
    runs = [{rate for port in network.device_by_id[device].ports for rate in _rates(port)} for device in link.devices]
    rates = [link.rate] if link.rate else [rate for rate in RATES if rate in runs[0] & runs[1]]
    for rate, path in product(rates, refitter.paths_of(link)):
        asked = Asked(link, rate, path, policy)
        at_a, at_b = (ends_of(asked, side, catalog, refitter, network) for side in (0, 1))
        for (a, why_a), (b, why_b) in product(at_a, at_b):
            corded = accessories.with_cords(FittedLink(asked, a, b))
            pads = [[None, *(item for item in catalog.attenuators if item.part not in policy.exclude_parts and policy.allow_attenuators)] for _ in (0, 1)]
            if not catalog.attenuators or path.medium != "fiber":
                pads = [[None], [None]]
            strands = [end.light.strands if end.light is not None else None for end in corded.ends]
            if strands[0] != strands[1]:
                pads = [[None], [None]]  # two ends of different strands meet nowhere
            elif strands[0] == 1:
                pads[1] = [None]  # on one strand a single one serves both directions, at the first end
            for pad_a, pad_b in product(*pads):
                whole = FittedLink(asked, corded.a._replace(attenuator=pad_a), corded.b._replace(attenuator=pad_b))
                reasons = why_a | why_b | _of_both(whole) | _of_the_whole(whole, network, catalog, policy)
                fitting = (rate, tuple(run.id for run in path.runs), *(_fitting(end) for end in (a, b)))
                found.append(Fall(whole, reasons, fitting))
    return found


def _rates(port: object) -> list[str]:
    return [*getattr(port, "rates", []), *getattr(port, "copper_rates", [])]


def _fitting(end: FittedEnd) -> tuple[object, ...]:
    return end.fitting, end.module and end.module.part, end.converter and end.converter.part


def _of_both(link: FittedLink) -> frozenset[Reason]:
    rules = (*PAIR_RULES, *PATH_RULES)
    return frozenset((breach.rule, place_of_pair(breach, link.asked.link.id, link.path)) for rule in rules for breach in rule.check(link) if not breach.unknown)


def _of_the_whole(link: FittedLink, network: Network, catalog: Catalog, policy: Policy) -> frozenset[Reason]:
    units = units_of((link,))
    items = {item.part: item for items in (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators) for item in items}
    spares = {part: spares_of(count, getattr(items[part], "fit", None), policy) for part, count in units.items()}
    taken = (taken_by(link),)
    served = Served(network, catalog, policy, taken, units, spares, kept_ports(taken))
    broken = (breach for rule in NETWORK_RULES for breach in rule.check(served) if not breach.unknown)
    return frozenset((breach.rule, place_of_pair(breach, link.asked.link.id, link.path)) for breach in broken)


def smallest(sets: list[frozenset[Reason]]) -> list[Reason]:
    """The first smallest subset of all reasons that meets every set, by trying all subsets in order."""
    reasons = sorted({reason for its in sets for reason in its}, key=lambda reason: (RULE_IDS.index(reason[0]), reason[1]))
    for size in range(1, len(reasons) + 1):
        for subset in combinations(reasons, size):
            if all(its & set(subset) for its in sets):
                return list(subset)
    return []
