"""Links that share a scarce resource, taken together: their joint options, so that the choice need not count the resource.

A cluster is a set of links joined by scarce resources (and by what must stay apart). Whatever the rest of the network does,
a cluster's links use up only its own resources; so it can be replaced by the list of everything that its links can do
*together*, each such way with the sum of what its members cost. Clusters of equal shape have equal lists.

Two arguments why this loses no optimum. First, partial ways are pruned exactly as options are (`dominance.undominated_rows`):
a way is dropped only beside another that serves no less, measures no worse, uses no other part numbers and takes no more
of any resource. Second, objectives that are plain sums and come before the first that is not (part numbers; cost with
spares) are settled within each cluster: the sum over clusters is best exactly when each is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from optiselect.solver.dominance import BITS, SUMS, undominated_rows
from optiselect.solver.joined import Apart, Cluster, Member, partners
from optiselect.solver.option import Option
from optiselect.solver.scarce import Resource

MOST_WAYS = 600
_MOST_STEPS = 30_000


@dataclass(frozen=True, slots=True)
class Way:
    """What the members of a cluster do together.

    Attributes:
        taken: for each member the position of its option; -1: not served.
        sums: critical links served and weight served, both negative, so that less is better; then `Option.measures`.
    """

    taken: tuple[int, ...]
    sums: tuple[int, ...]
    parts: tuple[tuple[str, int], ...]
    names: frozenset[str]
    uses: tuple[tuple[Resource, int], ...]


@dataclass(frozen=True)
class Shapes:
    """What is known of clusters by their shape; good for any network under one policy.

    Attributes:
        contents: a number for each different list of options. lists: by identity the lists that were looked at, and their numbers.
        ways: by shape, which is made of these numbers.
    """

    contents: MutableMapping[Hashable, int] = field(default_factory=dict)
    lists: MutableMapping[int, tuple[Sequence[Option], int]] = field(default_factory=dict)
    ways: MutableMapping[Hashable, list[Way] | None] = field(default_factory=dict)


class Clusters:
    """Joint ways of clusters, each shape once; the shapes that are known may be shared with later rounds."""

    def __init__(
        self,
        capacity: Mapping[Resource, int],
        apart: Apart,
        settled: Sequence[int],
        counted: tuple[int, ...],
        *,
        count_units: bool,
        shapes: Shapes,
    ) -> None:
        self._capacity = capacity
        self._apart = partners(apart)
        self._settled = settled
        self._counted = counted
        self._count_units = count_units
        self._known = shapes.ways
        self._numbers = shapes.contents
        self._lists = shapes.lists

    def ways(self, cluster: Cluster) -> list[Way] | None:
        """Everything that the members can do together that is not pointless; None when that is too much to list.

        A single link that takes nothing scarce is always listed.
        """
        shape = self._shape(cluster)
        if shape not in self._known:
            self._known[shape] = self._list(cluster)
        return self._known[shape]

    def _shape(self, cluster: Cluster) -> Hashable:
        """The cluster without the names of its resources."""
        rows = tuple((self._content(member.options), own, member.critical, member.weight) for member, own in zip(cluster.members, cluster.own, strict=True))
        limits = tuple(self._capacity.get(resource) for resource in cluster.numbers)
        return rows, limits, cluster.apart(self._apart), self._counted, self._count_units

    def _content(self, options: Sequence[Option]) -> int:
        """A number for what a list of options says, resources by their order: equal lists have one number."""
        if id(options) not in self._lists:
            order: dict[Resource, int] = {}
            content = tuple(
                (option.parts, option.measures(), tuple((order.setdefault(resource, len(order)), amount) for resource, amount in option.uses))
                for option in options
            )
            self._lists[id(options)] = options, self._numbers.setdefault(content, len(self._numbers))
        return self._lists[id(options)][1]

    def _list(self, cluster: Cluster) -> list[Way] | None:
        members, numbers = cluster.members, cluster.numbers
        parts = sorted({part for member in members for option in member.options for part in option.names})
        tables = [_Table(member, numbers, parts, self._counted, count_units=self._count_units) for member in members]
        limits = np.array([self._capacity.get(resource, np.iinfo(np.int64).max // 4) for resource in numbers], dtype=np.int64)
        apart = cluster.apart(self._apart)
        taken = np.zeros((1, 0), dtype=np.int32)
        vectors = np.zeros((1, tables[0].vectors.shape[1]), dtype=np.int64)
        masks = np.zeros((1, tables[0].masks.shape[1]), dtype=np.int64)
        for step, table in enumerate(tables):
            if len(members) > 1 and len(vectors) * len(table.vectors) > _MOST_STEPS:
                return None
            uses = slice(SUMS, SUMS + len(numbers))
            taken = np.hstack([np.repeat(taken, len(table.taken), axis=0), np.tile(table.taken, (len(taken), 1))])
            vectors = (vectors[:, None, :] + table.vectors[None, :, :]).reshape(-1, vectors.shape[1])
            masks = (masks[:, None, :] | table.masks[None, :, :]).reshape(-1, masks.shape[1])
            room = (vectors[:, uses] <= limits).all(axis=1)
            for first, second in apart:
                room &= (vectors[:, SUMS + first] == 0) | (vectors[:, SUMS + second] == 0)
            taken, vectors, masks = taken[room], vectors[room], masks[room]
            later = {number for rest in tables[step + 1 :] for number in rest.touches}
            waiting = later | {number for pair in apart for number in pair if later.intersection(pair)}
            settled = [SUMS + number for number in range(len(numbers)) if number not in waiting]
            is_settled = bool(vectors[:, settled].any())
            vectors[:, settled] = 0
            if step == len(tables) - 1:
                for place in self._settled:
                    best = vectors[:, place] == vectors[:, place].min()
                    taken, vectors, masks = taken[best], vectors[best], masks[best]
            if step or is_settled:  # until then the table of the first link is free of pointless lines
                front = undominated_rows(vectors, masks, taken)
                if len(front) > MOST_WAYS:
                    return None
                taken, vectors, masks = taken[front], vectors[front], masks[front]
        return [self._way(members, positions, sums) for positions, sums in zip(taken.tolist(), vectors[:, :SUMS].tolist(), strict=True)]

    def _way(self, members: Sequence[Member], positions: list[int], sums: list[int]) -> Way:
        units: dict[str, int] = defaultdict(int)
        for member, position in zip(members, positions, strict=True):
            if position >= 0:
                for part, count in member.options[position].parts:
                    units[part] += count
        return Way(tuple(positions), tuple(sums), tuple(sorted(units.items())), frozenset(units), ())


class _Table:
    """The options of a member as arrays; the last line is "not served".

    vectors: sums (those that are counted, the others 0), then use of each resource, then (where units count) units of each part: in all of it less is better.
    masks: the part numbers as bits (none where units count: the units say it).
    """

    def __init__(self, member: Member, numbers: Mapping[Resource, int], parts: Sequence[str], counted: tuple[int, ...], *, count_units: bool) -> None:
        size = len(member.options) + 1
        place = {part: index for index, part in enumerate(parts)}
        width = SUMS + len(numbers) + (len(parts) if count_units else 0)
        self.vectors = np.zeros((size, width), dtype=np.int64)
        self.masks = np.zeros((size, 1 if count_units else len(parts) // BITS + 1), dtype=np.int64)
        self.taken = np.array([[*range(size - 1), -1]], dtype=np.int32).T
        self.touches = {numbers[resource] for resource in member.resources}
        for row, option in enumerate(member.options):
            sums = (-int(member.critical), -member.weight, *option.measures())
            for column in counted:
                self.vectors[row, column] = sums[column]
            for resource, amount in member.found.uses(option):
                self.vectors[row, SUMS + numbers[resource]] = amount
            for part, count in option.parts:
                if count_units:
                    self.vectors[row, SUMS + len(numbers) + place[part]] = count
                else:
                    self.masks[row, place[part] // BITS] |= 1 << (place[part] % BITS)
        sums_told, units_told = member.found.compared
        if units_told == count_units and sums_told is not None and {place + 2 for place in sums_told} == {place for place in counted if place >= 2}:
            return  # the list has been looked through in this way
        front = undominated_rows(self.vectors, self.masks, self.taken)
        self.vectors, self.masks, self.taken = self.vectors[front], self.masks[front], self.taken[front]


def with_names_in(names: frozenset[str], by_names: Mapping[frozenset[str], list[Way]]) -> Iterable[Way]:
    """The ways whose part numbers are all among these."""
    if 2 ** len(names) < len(by_names):
        ordered = sorted(names)
        for size in range(len(ordered) + 1):
            for some in combinations(ordered, size):
                yield from by_names.get(frozenset(some), ())
    else:
        for other, ways in by_names.items():
            if other <= names:
                yield from ways
