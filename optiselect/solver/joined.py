"""Which links the scarce resources join: clusters, and those of a network that differs little from one whose clusters are known."""

from __future__ import annotations

from collections import ChainMap, defaultdict
from collections.abc import Hashable, Iterable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from optiselect.solver.option import Option, OptionList
from optiselect.solver.scarce import Resource

Apart = tuple[tuple[Resource, Resource], ...]
"""Pairs of resources of which only one may be used."""
_NO_RESOURCES: Mapping[Resource, int] = {}
_TAKES_NOTHING: tuple[tuple[int, ...], ...] = ((),)


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


class Cluster:
    """Links that are joined by resources, in the order of their ids; a link that takes nothing scarce is alone.

    Attributes:
        numbers: its resources, numbered as its links name them first.
        own: for each link the numbers of the resources that some option of it takes, in the order of the options.
    """

    __slots__ = ("_alone", "_members", "_rows", "numbers", "own")

    def __init__(self, members: Sequence[Member]) -> None:
        self._alone = members[0] if len(members) == 1 else None
        self._members: tuple[Member, ...] = ()
        self.numbers: Mapping[Resource, int] = _NO_RESOURCES
        self.own: tuple[tuple[int, ...], ...] = _TAKES_NOTHING
        self._rows: Hashable = None
        if self._alone is not None and not self._alone.found.taken:  # most links of most networks
            return
        self._members = tuple(members)
        numbers: dict[Resource, int] = {}
        self.numbers = numbers
        self.own = tuple([tuple([numbers.setdefault(resource, len(numbers)) for resource in member.resources]) for member in members])
        self._rows = tuple([(id(member.found.options), own, member.critical, member.weight) for member, own in zip(members, self.own, strict=True)])

    @property
    def members(self) -> tuple[Member, ...]:
        """Its links with their options."""
        return (self._alone,) if self._alone is not None else self._members

    @property
    def rows(self) -> Hashable:
        """What its links are, without names: equal where the same lists of options are joined in the same way."""
        member = self._alone
        if self._rows is None and member is not None:
            return id(member.found.options), member.critical, member.weight
        return self._rows

    @property
    def first(self) -> str:
        """The id of the first of its links."""
        return (self._alone or self._members[0]).link

    @property
    def links(self) -> tuple[str, ...]:
        """The ids of its links."""
        return tuple([member.link for member in self.members])

    def apart(self, others: Mapping[Resource, Iterable[Resource]]) -> tuple[tuple[int, int], ...]:
        """The pairs of its resources of which only one may be used, as numbers."""
        numbers = self.numbers
        if not others or not numbers:
            return ()
        pairs = ((numbers[first], numbers[second]) for first in numbers for second in others.get(first, ()) if second in numbers)
        return tuple(sorted((first, second) for first, second in pairs if first < second))


@dataclass(frozen=True)
class Joined:
    """All links that have options, in clusters, in the order of the first link of each.

    Attributes:
        listed: what was listed of clusters and of lists of options, by what they are (see `shares`); good for as long as these are kept.
    """

    clusters: tuple[Cluster, ...]
    listed: MutableMapping[Hashable, Any] = field(default_factory=dict)

    @cached_property
    def _cluster_of(self) -> Mapping[str, int]:
        return {link: place for place, cluster in enumerate(self.clusters) for link in cluster.links}

    @cached_property
    def _cluster_at(self) -> Mapping[Resource, int]:
        return {resource: place for place, cluster in enumerate(self.clusters) for resource in cluster.numbers}

    def where(self, changed: Mapping[str, Member], gone: Iterable[str]) -> Joined:
        """The same where some links are others, or are not there; not for resources that must stay apart.

        Only clusters of these links, and of what these links may take now, can become others.
        """
        touched = {self._cluster_of[link] for link in (*changed, *gone) if link in self._cluster_of}
        touched |= {self._cluster_at[resource] for member in changed.values() for resource in member.resources if resource in self._cluster_at}
        left_out = {*changed, *gone}
        stay = [member for place in touched for member in self.clusters[place].members if member.link not in left_out]
        kept = [cluster for place, cluster in enumerate(self.clusters) if place not in touched]
        clusters = sorted((*kept, *joined([*stay, *changed.values()], ()).clusters), key=_FIRST)
        return Joined(tuple(clusters), ChainMap({}, self.listed))


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
    ordered = sorted(members, key=lambda member: member.link)
    leader: dict[Hashable, Hashable] = {}

    def find(item: Hashable) -> Hashable:
        leader.setdefault(item, item)
        while leader[item] != item:
            leader[item] = leader[leader[item]]
            item = leader[item]
        return item

    for member in ordered:
        if member.found.taken:
            for resource in member.resources:
                leader[find(resource)] = find(("link", member.link))
    for first, second in apart:
        leader[find(first)] = find(second)
    together: dict[Hashable, list[Member]] = defaultdict(list)
    for member in ordered:
        if member.found.taken:
            together[find(("link", member.link))].append(member)
    clusters = []
    for member in ordered:
        its = together[find(("link", member.link))] if member.found.taken else (member,)
        if its[0] is member:
            clusters.append(Cluster(its))
    return Joined(tuple(clusters))
