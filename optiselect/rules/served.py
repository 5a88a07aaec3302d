"""A network with some of its links served: what the rules of the whole look at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import chain
from operator import attrgetter
from typing import NamedTuple

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.network import Link, Network
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedEnd, FittedLink, Path


class Drawn(NamedTuple):
    """What a module draws from a device that limits the power of all its modules; `power_w` None: not stated."""

    device_id: str
    part: str
    power_w: float | None


class Taken(NamedTuple):
    """What a served link takes of all that links share; far less than the fitted link, of which a large network has too many to keep.

    Attributes:
        strands: of each run of the path; a copper run as a whole counts as one.
        ports: both ends (``device/port``).
        drawn: from devices that limit it. kept: those of its ports whose installed module stays, so that it is not bought.
    """

    link: Link
    path: Path
    strands: int
    ports: tuple[str, str]
    drawn: tuple[Drawn, ...]
    kept: tuple[str, ...]


def taken_by(link: FittedLink) -> Taken:
    """What a fitted link takes."""
    asked, a, b = link.asked, link.a, link.b
    drawn = (*_drawn_at(a), *_drawn_at(b))
    kept = tuple([end.name for end in (a, b) if end.stays]) if a.installed is not None or b.installed is not None else ()
    return Taken(asked.link, asked.path, strands_used(link), (a.name, b.name), drawn, kept)


def strands_used(link: FittedLink) -> int:
    """How many strands of each run a link takes; a copper run as a whole counts as one."""
    light = link.a.light
    if link.asked.path.medium != "fiber" or light is None or light.strands is None:
        return 1
    return light.strands


def _drawn_at(end: FittedEnd) -> tuple[Drawn, ...]:
    if end.device.module_power_w is None or end.module is None or end.converter is not None or end.light is None:
        return ()
    return (Drawn(end.device.id, end.module.part, end.light.power_w),)


@dataclass(frozen=True)
class Served:
    """All served links together, with the parts that they use.

    Attributes:
        links: what each served link takes.
        units: part number to units used, those included that are already in place and stay.
        spares: part number to spares on the shelf.
        kept: ports (``device/port``) whose installed module stays, so that it is not bought.
    """

    network: Network
    catalog: Catalog
    policy: Policy
    links: tuple[Taken, ...]
    units: Mapping[str, int]
    spares: Mapping[str, int] = field(default_factory=dict)
    kept: frozenset[str] = frozenset()


def kept_ports(links: Iterable[Taken]) -> frozenset[str]:
    """The ports whose installed module stays."""
    return frozenset(port for link in links for port in link.kept)


def units_of(links: Iterable[FittedLink]) -> dict[str, int]:
    """Part number to units fitted at the ends of these links, sorted."""
    fitted = [item for item in chain.from_iterable(map(_FITTED, chain.from_iterable([link.ends for link in links]))) if item is not None]
    items = dict(zip(map(id, fitted), fitted, strict=True))
    units: Counter[str] = Counter()
    for which, count in Counter(map(id, fitted)).items():  # an id is counted faster than a text is read
        units[items[which].part] += count
    return dict(sorted(units.items()))


_FITTED: attrgetter[tuple[Module | Converter | Cord | Attenuator | None, ...]] = attrgetter("module", "converter", "cord", "attenuator")
