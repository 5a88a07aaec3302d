"""Every option of every link by plain nested loops over the rules: no signatures, no thresholds, nothing dropped.

What a careful user would write first. Simplified, and said so: no converters (generated copper sockets are for copper runs), at
most one attenuator an end (the least that serves), the cheapest cord that serves, no device power, no stock. Ends that are
alike in every figure are tried once.
"""

from __future__ import annotations

import time
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass
from itertools import product

from optiselect.model.catalog import Catalog
from optiselect.model.network import Cage, CopperPort, Device, FixedOptic, Link, Network, SharedPort
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Rate
from optiselect.rules import END_RULES, PAIR_RULES, PATH_RULES, RULE_BY_ID
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.rules.panel import conditioning_needed, cord_needed, cord_serves
from optiselect.rules.rule import Rule
from optiselect.solver.paths import Paths
from optiselect.standards.transceiver import transceiver

PortEntry = tuple[str, int]
"""A device and the position of a port entry in it: ports of one entry are alike."""


@dataclass(frozen=True)
class Choice:
    """One way to serve a link: what a hand-written model needs to know of it.

    Attributes:
        ends: for each end the port entry and the module part (None: a fixed optic or a copper socket).
        parts: the part numbers that count. cost: in cents, cords and attenuators included.
        strands: by run. runs: run ids (copper runs carry one link). routes: routes of those runs.
    """

    rate: Rate
    ends: tuple[tuple[PortEntry, str | None], tuple[PortEntry, str | None]]
    parts: frozenset[str]
    cost: int
    strands: tuple[tuple[str, int], ...]
    runs: tuple[str, ...]
    routes: frozenset[str]


class OutOfTime(Exception):
    """The listing did not end in the time that it was given."""


def list_choices(network: Network, catalog: Catalog, policy: Policy, limit_s: float = float("inf")) -> dict[str, list[Choice]]:
    """Choices by link id, of the highest rate that has any where the link leaves it open.

    Raises:
        OutOfTime: when the limit is reached.
    """
    deadline = time.monotonic() + limit_s
    loops = _Loops(network, catalog, policy)
    listed: dict[str, list[Choice]] = {}
    for link in network.wanted:
        if time.monotonic() > deadline:
            raise OutOfTime(f"{len(listed)} of {len(network.wanted)} links listed")
        rates = (link.rate,) if link.rate else tuple(reversed(RATES))
        listed[link.id] = next((found for rate in rates if (found := list(loops.choices(link, rate)))), [])
    return listed


def holds(rules: Iterable[Rule], waived: frozenset[str], *facts: object) -> bool:
    """Whether every rule holds, or lacks a figure to be checked by."""
    return all(breach.unknown for rule in rules if rule.id not in waived for breach in rule.check(*facts))


_BEFORE_CORDS = tuple(RULE_BY_ID[rule] for rule in ("fiber-mode", "core", "strands", "wavelength", "role", "reach", "copper-reach"))
"""Rules that no cord can mend: to ask them first saves most of the work."""


class _Loops:
    def __init__(self, network: Network, catalog: Catalog, policy: Policy) -> None:
        self.network = network
        self.catalog = catalog
        self.policy = policy
        self.paths = Paths(network)
        self.cords = sorted(catalog.cords, key=lambda cord: (cord.price or 0, cord.part))
        self.passing: dict[Hashable, list[FittedEnd]] = {}

    def choices(self, link: Link, rate: Rate) -> Iterator[Choice]:
        waived = frozenset(waiver.rule for waiver in self.policy.waivers if waiver.link == link.id)
        for path in self.paths.of(link):
            asked = Asked(link, rate, path, self.policy, waived)
            near, far = (list(self.ends(asked, side)) for side in (0, 1))
            tried: dict[Hashable, FittedLink | None] = {}
            for (entry_a, a), (entry_b, b) in product(near, far):
                key = (a.light, a.module and a.module.part, b.light, b.module and b.module.part)
                if key not in tried:
                    tried[key] = self.served(FittedLink(asked, a, b))
                if (fitted := tried[key]) is not None:
                    yield self.choice(fitted, (entry_a, entry_b))

    def ends(self, asked: Asked, side: int) -> Iterator[tuple[PortEntry, FittedEnd]]:
        device = self.network.device_by_id[asked.link.devices[side]]
        pinned = asked.link.pinned[side]
        for index, port in enumerate(device.ports):
            if pinned is not None and pinned not in port.names:
                continue
            site = self.network.site_by_id[device.site] if device.site else None
            alike = (device.accepts, site, port, asked.rate, asked.path.medium, asked.waived)
            if alike not in self.passing:
                self.passing[alike] = [end for end in self.fits(device, port, port.names[0], asked.rate) if holds(END_RULES, asked.waived, end, asked)]
            for end in self.passing[alike]:
                yield (device.id, index), end._replace(device=device)

    def fits(self, device: Device, port: Cage | FixedOptic | SharedPort | CopperPort, name: str, rate: Rate) -> Iterator[FittedEnd]:
        site = self.network.site_by_id[device.site] if device.site else None
        bare = FittedEnd(device, site, name, port, "copper")
        if isinstance(port, CopperPort | SharedPort):
            yield bare
        if isinstance(port, FixedOptic):
            yield bare._replace(fitting="fixed", light=transceiver(port.optic, rate))
        if isinstance(port, Cage | SharedPort):
            for module in self.catalog.modules:
                yield bare._replace(fitting="module", light=transceiver(module, rate), module=module)

    def with_cords(self, link: FittedLink) -> FittedLink:
        conditioning = conditioning_needed(link.a.light, link.b.light, link.path)
        ends = []
        for side, end in enumerate(link.ends):
            need = cord_needed(end.light, link.path, side, conditioning)
            cord = next((cord for cord in self.cords if cord_serves(cord, need, self.policy)), None) if need is not None else None
            ends.append(end._replace(cord=cord))
        return FittedLink(link.asked, *ends)

    def served(self, link: FittedLink) -> FittedLink | None:
        """The link with the least attenuators with which every rule holds; None where there are none."""
        overload = RULE_BY_ID["overload"]
        lasting = [rule for rule in (*PAIR_RULES, *PATH_RULES) if rule is not overload]
        waived = link.asked.waived
        if not holds(_BEFORE_CORDS, waived, link) or not self.has_strands(link):
            return None
        link = self.with_cords(link)
        if not holds(lasting, waived, link):
            return None
        if holds([overload], waived, link):
            return link
        for loss_a, loss_b in sorted(product((None, *self.catalog.attenuators), repeat=2), key=lambda pair: sum(item.loss_db for item in pair if item)):
            tried = FittedLink(link.asked, link.a._replace(attenuator=loss_a), link.b._replace(attenuator=loss_b))
            if holds([*lasting, overload], waived, tried):
                return tried
        return None

    def has_strands(self, link: FittedLink) -> bool:
        used = (link.a.light.strands or 0) if link.a.light else 0
        return all(run.fiber is None or used <= run.fiber.strands - run.fiber.strands_in_use - self.policy.reserve_strands for run in link.path.runs)

    def choice(self, link: FittedLink, entries: tuple[PortEntry, PortEntry]) -> Choice:
        bought = [item for end in link.ends for item in (end.module, end.cord, end.attenuator) if item is not None]
        counted = [item.part for end in link.ends for item in (end.module, end.attenuator) if item is not None]
        used = (link.a.light.strands or 0) if link.a.light and link.path.medium == "fiber" else 0
        return Choice(
            rate=link.rate,
            ends=tuple((entry, end.module.part if end.module else None) for entry, end in zip(entries, link.ends, strict=True)),  # type: ignore[arg-type]
            parts=frozenset(counted),
            cost=round(100 * sum(item.price or 0 for item in bought)),
            strands=tuple((run.id, used) for run in link.path.runs) if used else (),
            runs=tuple(run.id for run in link.path.runs),
            routes=frozenset(route for run in link.path.runs for route in run.routes),
        )
