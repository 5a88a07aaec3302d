"""Every rule on many links, each asked of links that are alike once.

A rule of an end or of a pair looks at no length and no loss, and names are only repeated in what it says. So a link on which
such rules find nothing speaks for every link that equals it in all else that the documents state.

A rule of a path compares lengths and losses with limits, and looks at no socket. Of links that equal one another in what is fitted
and in all else that is stated of the path, each of its figures holds from a least value to a greatest, whatever the others are. So
where such rules find nothing on the links with the least and the greatest of each figure, there is nothing on those between them. One
attenuator for the light of both directions is needed where either loss is small: that is so only of links whose losses rise together.

Where something is found, each link is asked by itself. `audit.findings_of_link` asks every link; `tests/solver/test_alike.py` holds
both to one answer.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from operator import attrgetter

from optiselect.model.document import Noun
from optiselect.model.network import Cage, Copper, CopperPort, Device, Fiber, FixedOptic, SharedPort, Site
from optiselect.rules import END_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import FittedEnd, FittedLink, Path
from optiselect.rules.light import LinkLight, directions_of
from optiselect.rules.rule import Breach

Lights = tuple[LinkLight, ...]


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
    several = tuple(links)
    return ((several[place], breach) for place, breach in breaches_in_light(((link, directions_of(link)) for link in several), several.__getitem__))


def breaches_in_light(lit: Iterable[tuple[FittedLink, Lights]], link_at: Callable[[int], FittedLink]) -> Iterator[tuple[int, Breach]]:
    """The same by the place of the link, of links with their light as of `directions_of`; each is looked at as it comes and is not kept.

    `link_at`: fits the link at a place once more; few are asked for.
    """
    found: dict[int, list[Breach]] = defaultdict(list)
    kinds, along = _Kinds(), _Along()
    sound: set[Hashable] = set()
    for place, (link, lights) in enumerate(lit):
        along.add(place, link, lights, kinds)
        kind = kinds.of_link(link)
        if kind not in sound:
            breaches = list(_breaches_whatever_the_length(link))
            if not breaches:
                sound.add(kind)
            else:
                found[place] += breaches
    for place in along.still_open(link_at):
        found[place] += _breaches_of_path(link_at(place))
    for place in sorted(found):
        yield from ((place, breach) for breach in found[place])


def _breaches_whatever_the_length(link: FittedLink) -> Iterator[Breach]:
    for rule in END_RULES:
        for end in link.ends:
            yield from rule.check(end, link.asked)
    for rule in PAIR_RULES:
        yield from rule.check(link)


def _breaches_of_path(link: FittedLink) -> Iterator[Breach]:
    for rule in PATH_RULES:
        yield from rule.check(link)


class _Along:
    """Links gathered by all that the rules of a path may look at, with the figures in which they differ."""

    def __init__(self) -> None:
        self._open: set[int] = set()
        self._alike: dict[Hashable, tuple[list[int], list[tuple[float, ...]]]] = {}

    def add(self, place: int, link: FittedLink, lights: Lights, kinds: _Kinds) -> None:
        """Add a link, by its place among all."""
        figures = _compared(link, lights)
        if figures is None:
            self._open.add(place)
            return
        places, compared = self._alike.setdefault(kinds.along(link), ([], []))
        places.append(place)
        compared.append(figures)

    def still_open(self, link_at: Callable[[int], FittedLink]) -> set[int]:
        """The places of the links on which the rules of a path may find something."""
        still_open = self._open.copy()
        for places, compared in self._alike.values():
            columns = [*zip(*compared, strict=True)]
            if len(columns) > 1 and _shares_an_attenuator(link_at(places[0])) and not _rise_together(columns[_LEAST[0]], columns[_LEAST[1]]):
                still_open.update(places)
                continue
            outermost = {column.index(most) for column in columns for most in (min(column), max(column))}
            if any(True for index in outermost for _ in _breaches_of_path(link_at(places[index]))):
                still_open.update(places)
        return still_open


def _compared(link: FittedLink, lights: Lights) -> tuple[float, ...] | None:
    """The figures that the rules of a path compare with limits: the length, and the losses of either direction.

    None where a link speaks for itself only: a loss is not known, what passes need not fall with the length, or the user's own rules are asked.
    """
    asked, a, b = link.asked, link.a.light, link.b.light
    if asked.policy.rules or (a is not None and a.throughput_mbit_s is not None) or (b is not None and b.throughput_mbit_s is not None):
        return None
    figures: tuple[float, ...] = (asked.path.length_m,)
    for light in lights:
        if light.loss_min_db is None or light.loss_max_db is None:
            return None
        figures = *figures, light.loss_min_db, light.loss_max_db
    return figures


_LEAST = 1, 3
"""Where the least losses of the two directions are in `_compared`."""


def _shares_an_attenuator(link: FittedLink) -> bool:
    """Whether an attenuator may be for the light of both directions."""
    return any(end.attenuator is not None for end in link.ends) and any(end.light is not None and end.light.strands == 1 for end in link.ends)


def _rise_together(one: Sequence[float], other: Sequence[float]) -> bool:
    ordered = [figure for _, figure in sorted(zip(one, other, strict=True))]
    return ordered == sorted(ordered)


class _Kinds:
    """Tells which links are alike."""

    def __init__(self) -> None:
        self._numbers: dict[Hashable, int] = {}
        self._sockets: dict[tuple[int, int, int], int] = {}
        self._paths: dict[int, int] = {}
        self._held: list[Path] = []
        """Every path that was met, so that none has the identity of an earlier one."""

    def of_link(self, link: FittedLink) -> tuple[Hashable, ...]:
        """All that the rules of an end or of a pair may look at; equal ones are told apart by names, lengths and losses only."""
        asked = link.asked
        return self._end(link.a), self._end(link.b), self._path(asked.path), asked.rate, id(asked.policy), link.cords_stated

    def along(self, link: FittedLink) -> tuple[Hashable, ...]:
        """All that the rules of a path may look at beside `_compared`."""
        a, b = link.ends
        asked = link.asked
        fitted = a.light, b.light, id(a.attenuator), id(b.attenuator), link.cords_stated
        return *fitted, self._path(asked.path), asked.rate, asked.link.throughput_mbit_s, id(asked.policy)

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
        if id(path) not in self._paths:
            self._held.append(path)
            cables = tuple([_FIBER(run.fiber) if run.fiber is not None else run.copper and _COPPER(run.copper) for run in path.runs])
            zones = [site and site.zone for site in path.sites]
            self._paths[id(path)] = self._number((cables, path.flipped, tuple([zone and zones.index(zone) for zone in zones])))
        return self._paths[id(path)]
