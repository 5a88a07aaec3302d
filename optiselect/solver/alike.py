"""Every rule on many links, each asked of links that are alike once.

A rule of an end or of a pair looks at no length and no loss, and names are only repeated in what it says. So a link on which
such rules find nothing speaks for every link that equals it in all else that the documents state. Where they find something,
each link is asked by itself. `audit.findings_of_link` asks every link; `tests/solver/test_alike.py` holds both to one answer.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from operator import attrgetter

from optiselect.model.document import Noun
from optiselect.model.network import Cage, Copper, CopperPort, Device, Fiber, FixedOptic, SharedPort, Site
from optiselect.rules import END_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import FittedEnd, FittedLink, Path
from optiselect.rules.rule import Breach


def _all_but(noun: type[Noun], *left_out: str) -> attrgetter[tuple[object, ...]]:
    """Reads every field of a noun except these."""
    return attrgetter(*(name for name in noun.model_fields if name not in left_out))


_DEVICE = _all_but(Device, "id", "name", "site", "ports")
_SITE = _all_but(Site, "id", "name", "building")
_PORT = {kind: _all_but(kind, "id", "ids") for kind in (Cage, FixedOptic, SharedPort, CopperPort)}
_FIBER = _all_but(Fiber, "length_m", "strands", "strands_in_use", "connections", "splices", "measured_loss_db", "attenuation_db_km")
_COPPER = _all_but(Copper, "length_m")


def breaches_of_links(links: Iterable[FittedLink]) -> Iterator[tuple[FittedLink, Breach]]:
    """Every breach of a rule of an end, a pair or a path, with its link, link by link.

    The documents that the links are of must be kept until this ends.
    """
    kinds = _Kinds()
    sound: set[Hashable] = set()
    for link in links:
        kind = kinds.of_link(link)
        if kind not in sound:
            found = list(_breaches_whatever_the_length(link))
            if not found:
                sound.add(kind)
            yield from ((link, breach) for breach in found)
        for rule in PATH_RULES:
            for breach in rule.check(link):
                yield link, breach


def _breaches_whatever_the_length(link: FittedLink) -> Iterator[Breach]:
    for rule in END_RULES:
        for end in link.ends:
            yield from rule.check(end, link.asked)
    for rule in PAIR_RULES:
        yield from rule.check(link)


class _Kinds:
    """Tells which links are alike."""

    def __init__(self) -> None:
        self._numbers: dict[Hashable, int] = {}
        self._sockets: dict[tuple[int, int, int], int] = {}

    def of_link(self, link: FittedLink) -> tuple[Hashable, ...]:
        """All that the rules of an end or of a pair may look at; equal ones are told apart by names, lengths and losses only."""
        return self._end(link.a), self._end(link.b), self._path(link.path), link.rate, id(link.policy), link.cords_stated

    def _number(self, stated: Hashable) -> int:
        return self._numbers.setdefault(stated, len(self._numbers))

    def _end(self, end: FittedEnd) -> int:
        parts = (id(end.module), id(end.converter), id(end.cord), id(end.attenuator))  # of the catalog, which outlives this
        return self._number((self._socket(end), end.fitting, end.light, parts, end.installed))

    def _socket(self, end: FittedEnd) -> int:
        key = id(end.device), id(end.site), id(end.port)  # of the network, likewise
        if key not in self._sockets:
            site = end.site and _SITE(end.site)
            self._sockets[key] = self._number((_DEVICE(end.device), site, _PORT[type(end.port)](end.port)))
        return self._sockets[key]

    def _path(self, path: Path) -> int:
        cables = tuple(_FIBER(run.fiber) if run.fiber is not None else run.copper and _COPPER(run.copper) for run in path.runs)
        zones = [site and site.zone for site in path.sites]
        return self._number((cables, path.flipped, tuple(zone and zones.index(zone) for zone in zones)))
