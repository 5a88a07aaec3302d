"""A network with some of its links served: what the rules of the whole look at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink


@dataclass(frozen=True)
class Served:
    """All served links together, with the parts that they use.

    Attributes:
        links: the served links, fitted.
        units: part number to units used, those included that are already in place and stay.
        spares: part number to spares on the shelf.
        kept: ports (``device/port``) whose installed module stays, so that it is not bought.
    """

    network: Network
    catalog: Catalog
    policy: Policy
    links: tuple[FittedLink, ...]
    units: Mapping[str, int]
    spares: Mapping[str, int] = field(default_factory=dict)
    kept: frozenset[str] = frozenset()


def units_of(links: tuple[FittedLink, ...]) -> dict[str, int]:
    """Part number to units fitted at the ends of these links, sorted."""
    fitted = (item for link in links for end in link.ends for item in (end.module, end.converter, end.cord, end.attenuator))
    return dict(sorted(Counter(item.part for item in fitted if item is not None).items()))
