"""A network with some of its links served: what the rules of the whole look at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import chain
from operator import attrgetter

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
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
    fitted = [item for item in chain.from_iterable(map(_FITTED, chain.from_iterable([link.ends for link in links]))) if item is not None]
    items = dict(zip(map(id, fitted), fitted, strict=True))
    units: Counter[str] = Counter()
    for which, count in Counter(map(id, fitted)).items():  # an id is counted faster than a text is read
        units[items[which].part] += count
    return dict(sorted(units.items()))


_FITTED: attrgetter[tuple[Module | Converter | Cord | Attenuator | None, ...]] = attrgetter("module", "converter", "cord", "attenuator")
