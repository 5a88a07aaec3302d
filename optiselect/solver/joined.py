"""Which links the scarce resources join: clusters, and those of a network that differs little from one whose clusters are known."""

from __future__ import annotations

from collections import ChainMap, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from optiselect.solver.option import Option, OptionList
from optiselect.solver.scarce import Resource

Apart = tuple[tuple[Resource, Resource], ...]
"""Pairs of resources of which only one may be used."""


class Member(NamedTuple):
    """A link of a cluster with its options."""

    link: str
    found: OptionList
    critical: bool
    weight: int

    @property
    def options(self) -> tuple[Option, ...]:
        """The options, which speak of resources by names that links may share."""
        return self.found.options

    @property
    def resources(self) -> tuple[Resource, ...]:
        """The resources that some option takes, by this link's names, in the order of the options."""
        found = self.found
        return tuple(found.names.get(resource) or resource for resource in found.taken) if found.taken else ()


Unit = tuple[str, ...]
"""The ids of links that resources join; of one that takes nothing scarce, its own."""


class Cluster:
    """Links that are joined by resources, in the order of their ids; of links that take nothing scarce, all that are alike.

    Attributes:
        members: its links with their options; of links that are alike, one that stands for them all.
        units: the links that it joins; of links that are alike, each by itself, in order.
        numbers: its resources, numbered as its links name them first.
        own: for each member the numbers of the resources that some option of it takes, in the order of the options.
        rows: what its links are, without names: equal where the same lists of options are joined in the same way.
    """

    __slots__ = ("members", "numbers", "own", "rows", "units")

    def __init__(self, members: Sequence[Member], units: Sequence[Unit]) -> None:
        self.members = tuple(members)
        self.units = units
        numbers: dict[Resource, int] = {}
        self.numbers: Mapping[Resource, int] = numbers
        self.own = tuple([tuple([numbers.setdefault(resource, len(numbers)) for resource in member.resources]) for member in members])
        self.rows: Hashable = tuple([(*_likeness(member), own) for member, own in zip(members, self.own, strict=True)])

    @property
    def first(self) -> str:
        """The id of the first of its links."""
        return self.units[0][0]

    def apart(self, others: Mapping[Resource, Iterable[Resource]]) -> tuple[tuple[int, int], ...]:
        """The pairs of its resources of which only one may be used, as numbers."""
        numbers = self.numbers
        if not others or not numbers:
            return ()
        pairs = ((numbers[first], numbers[second]) for first in numbers for second in others.get(first, ()) if second in numbers)
        return tuple(sorted((first, second) for first, second in pairs if first < second))


def _likeness(member: Member) -> tuple[int, bool, int]:
    """What a link that takes nothing scarce is, without its name."""
    return id(member.found.options), member.critical, member.weight


@dataclass(frozen=True)
class Joined:
    """All links that have options, in clusters, in the order of the first link of each.

    Attributes:
        listed: what was listed of clusters and of lists of options, by what they are (see `shares`); good for as long as these are kept.
    """

    clusters: tuple[Cluster, ...]
    listed: MutableMapping[Hashable, Any] = field(default_factory=dict)

    @cached_property
    def _place_of(self) -> Mapping[str, int]:
        return {link: place for place, cluster in enumerate(self.clusters) for unit in cluster.units for link in unit}

    @cached_property
    def _place_at(self) -> Mapping[Resource, int]:
        return {resource: place for place, cluster in enumerate(self.clusters) for resource in cluster.numbers}

    @cached_property
    def _place_alike(self) -> Mapping[tuple[int, bool, int], int]:
        return {_likeness(cluster.members[0]): place for place, cluster in enumerate(self.clusters) if not cluster.numbers}

    def where(self, changed: Mapping[str, Member], gone: Iterable[str]) -> Joined:
        """The same where some links are others, or are not there; not for resources that must stay apart.

        Only clusters of these links, and those of what these links may take now or are like now, can become others.
        """
        left_out = {*changed, *gone}
        touched = {self._place_of[link] for link in left_out if link in self._place_of}
        together: list[Member] = []
        alike: dict[tuple[int, bool, int], tuple[Member, list[Unit]]] = {}
        for member in changed.values():
            if member.found.taken:
                touched |= {self._place_at[resource] for resource in member.resources if resource in self._place_at}
            elif _likeness(member) in self._place_alike:
                touched.add(self._place_alike[_likeness(member)])
        for place in touched:
            cluster = self.clusters[place]
            if cluster.numbers:
                together += [member for member in cluster.members if member.link not in left_out]
            else:
                member = cluster.members[0]
                alike[_likeness(member)] = member, [unit for unit in cluster.units if unit[0] not in left_out]
        clusters = [cluster for place, cluster in enumerate(self.clusters) if place not in touched]
        clusters += _clusters(changed.values(), (), together, alike)
        return Joined(tuple(sorted(clusters, key=_FIRST)), ChainMap({}, self.listed))


_FIRST: attrgetter[str] = attrgetter("first")


def partners(apart: Apart) -> Mapping[Resource, list[Resource]]:
    """For each resource those that must stay apart from it."""
    of: dict[Resource, list[Resource]] = {}
    for first, second in apart:
        of.setdefault(first, []).append(second)
        of.setdefault(second, []).append(first)
    return of


def joined(members: Iterable[Member], apart: Apart) -> Joined:
    """Put links together that resources join; resources that must stay apart join them too."""
    return Joined(tuple(sorted(_clusters(members, apart, [], {}), key=_FIRST)))


def _clusters(
    members: Iterable[Member], apart: Apart, together: list[Member], alike: dict[tuple[int, bool, int], tuple[Member, list[Unit]]]
) -> Iterator[Cluster]:
    """The clusters of links, and of others that are sorted already: those that take something scarce, and those that are alike."""
    for member in members:
        if member.found.taken:
            together.append(member)
            continue
        key = _likeness(member)
        if key not in alike:
            alike[key] = member, []
        alike[key][1].append((member.link,))
    yield from (Cluster((member,), sorted(units)) for member, units in alike.values() if units)
    together.sort(key=_LINK)
    leader: dict[Hashable, Hashable] = {}

    def find(item: Hashable) -> Hashable:
        leader.setdefault(item, item)
        while leader[item] != item:
            leader[item] = leader[leader[item]]
            item = leader[item]
        return item

    for member in together:
        for resource in member.resources:
            leader[find(resource)] = find(("link", member.link))
    for first, second in apart:
        leader[find(first)] = find(second)
    by_leader: dict[Hashable, list[Member]] = defaultdict(list)
    for member in together:
        by_leader[find(("link", member.link))].append(member)
    for its in by_leader.values():
        yield Cluster(its, [tuple([member.link for member in its])])


_LINK: attrgetter[str] = attrgetter("link")
