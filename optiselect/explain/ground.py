"""What a link is explained from: three documents, and the paths, port groups, cords and attenuators that follow from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Rate
from optiselect.rules.fitted import Path
from optiselect.solver.fittings import Fittings, PortGroup
from optiselect.solver.pairs import Accessories
from optiselect.solver.paths import Paths
from optiselect.solver.port_kinds import rates_of


@dataclass(frozen=True)
class Ground:
    """Three documents and what follows from them, made once for several links."""

    network: Network
    catalog: Catalog
    policy: Policy
    _paths: dict[str, tuple[Path, ...]] = field(default_factory=dict)

    @cached_property
    def fittings(self) -> Fittings:
        """Port groups and end classes."""
        return Fittings(self.network, self.catalog, self.policy)

    @cached_property
    def accessories(self) -> Accessories:
        """Cords and attenuators, as the choice takes them."""
        return Accessories(self.catalog, self.policy, 2 * len(self.network.wanted))

    @cached_property
    def links(self) -> dict[str, Link]:
        """Links by id."""
        return {link.id: link for link in self.network.wanted}

    @cached_property
    def _finder(self) -> Paths:
        return Paths(self.network)

    def paths(self, link: Link) -> tuple[Path, ...]:
        """The paths that a link may use, shortest first."""
        if link.id not in self._paths:
            self._paths[link.id] = self._finder.of(link)
        return self._paths[link.id]

    def waived(self, link: Link) -> frozenset[str]:
        """The rules that a person answers for on a link."""
        return self.policy.waived_on(link.id)

    def groups(self, link: Link, side: int) -> tuple[PortGroup, ...]:
        """The port groups that an end of a link may use."""
        groups = self.fittings.groups(link.devices[side])
        pinned = link.pinned[side]
        return groups if pinned is None else tuple(group for group in groups if pinned in group.names)

    def rates(self, link: Link) -> tuple[Rate, ...]:
        """The rates that a link may run: the one wanted; else those of both ends, the highest first; else of either."""
        if link.rate is not None:
            return (link.rate,)
        runs = [frozenset(rate for group in self.groups(link, side) for rate in rates_of(group.port)) for side in (0, 1)]
        both = tuple(rate for rate in reversed(RATES) if rate in runs[0] and rate in runs[1])
        return both or tuple(rate for rate in reversed(RATES) if rate in runs[0] | runs[1]) or ("1G",)

    @cached_property
    def stock(self) -> frozenset[str]:
        """The parts of which a stock is stated."""
        catalog = self.catalog
        kinds = (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators)
        return frozenset(item.part for items in kinds for item in items if item.stock is not None)
