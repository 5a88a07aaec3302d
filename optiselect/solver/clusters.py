"""Links that share a scarce resource, taken together: their joint options, so that the choice need not count the resource.

A cluster is a set of links joined by scarce resources (and by what must stay apart). Whatever the rest of the network does,
a cluster's links use up only its own resources; so it can be replaced by the list of everything that its links can do
*together*, each such way with the sum of what its members cost. Clusters of equal shape have equal lists.

Clusters that begin with the same links go on from what these can do together, which is listed once.

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
from typing import NamedTuple

import numpy as np

from optiselect.solver.dominance import SUMS
from optiselect.solver.joined import Apart, Cluster, Member, partners
from optiselect.solver.joint import NO_LIMIT, NOBODY, Joint, Table, joined_by, table_of
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


class _Shape(NamedTuple):
    """A cluster without names.

    Attributes:
        rows: of each link a number for its list of options, the numbers of its resources, whether it is critical, its weight.
        limits: of each resource, None for none. apart: pairs of resources of which only one may be used.
        counted, count_units: what matters.
    """

    rows: tuple[tuple[int, tuple[int, ...], bool, int], ...]
    limits: tuple[int | None, ...]
    apart: tuple[tuple[int, int], ...]
    counted: tuple[int, ...]
    count_units: bool

    def beginning(self, links: int, all_served: bool) -> _Beginning:
        """Its first links."""
        rows = self.rows[:links]
        named = max((number + 1 for _, own, *_ in rows for number in own), default=0)
        later = {number for _, own, *_ in self.rows[links:] for number in own}
        waiting = later.union(*(pair for pair in self.apart if later.intersection(pair)))
        apart = tuple([pair for pair in self.apart if max(pair) < named])
        return _Beginning(rows, self.limits[:named], apart, frozenset([number for number in waiting if number < named]), all_served)


class _Beginning(NamedTuple):
    """The first links of a cluster, with all that decides what they can do together.

    Attributes:
        waiting: resources that later links, too, may take, or that must stay apart from such a one.
        all_served: whether none is left out.
    """

    rows: tuple[tuple[int, tuple[int, ...], bool, int], ...]
    limits: tuple[int | None, ...]
    apart: tuple[tuple[int, int], ...]
    waiting: frozenset[int]
    all_served: bool


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
        self._tables: dict[tuple[int, bool, int, bool], Table] = {}
        self._begun: dict[_Beginning, Joint | None] = {}

    def ways(self, cluster: Cluster) -> list[Way] | None:
        """Everything that the members can do together that is not pointless; None when that is too much to list.

        A single link that takes nothing scarce is always listed.
        """
        shape = self._shape(cluster)
        if shape not in self._known:
            self._known[shape] = self._list(cluster, shape)
        return self._known[shape]

    def _shape(self, cluster: Cluster) -> _Shape:
        """The cluster without the names of its resources."""
        rows = tuple([(self._content(member.options), own, member.critical, member.weight) for member, own in zip(cluster.members, cluster.own, strict=True)])
        limits = tuple([self._capacity.get(resource) for resource in cluster.numbers])
        return _Shape(rows, limits, cluster.apart(self._apart), self._counted, self._count_units)

    def _content(self, options: Sequence[Option]) -> int:
        """A number for what a list of options says, resources by their order: equal lists have one number."""
        if id(options) not in self._lists:
            order: dict[Resource, int] = {}
            content = tuple(
                [
                    (option.parts, option.measures(), tuple([(order.setdefault(resource, len(order)), amount) for resource, amount in option.uses]))
                    for option in options
                ]
            )
            self._lists[id(options)] = options, self._numbers.setdefault(content, len(self._numbers))
        return self._lists[id(options)][1]

    def _list(self, cluster: Cluster, shape: _Shape) -> list[Way] | None:
        """The ways of a cluster: where all can be served, none that leaves one out is best; else with those that do."""
        joint = self._joint(cluster, shape, True)
        if joint is not None and not len(joint.taken):
            joint = self._joint(cluster, shape, False)
        if joint is None:
            return None
        return [self._way(cluster.members, taken, sums) for taken, sums in zip(joint.taken.tolist(), joint.vectors[:, :SUMS].tolist(), strict=True)]

    def _joint(self, cluster: Cluster, shape: _Shape, all_served: bool) -> Joint | None:
        """What all links of a cluster can do together at best; None when that is too much to list."""
        joint = NOBODY
        for step, member in enumerate(cluster.members):
            begun = shape.beginning(step + 1, all_served)
            is_last = step + 1 == len(cluster.members)
            if is_last or begun not in self._begun:
                found = self._with_link(joint, member, begun, self._settled if is_last else ())
                if not is_last:
                    self._begun[begun] = found
            else:
                found = self._begun[begun]
            if found is None or not len(found.taken):
                return found
            joint = found
        return joint

    def _with_link(self, joint: Joint, member: Member, begun: _Beginning, settled: Sequence[int]) -> Joint | None:
        """What links can do together with one more, the last of a beginning; None when that is too much to list."""
        content, own, *_ = begun.rows[-1]
        table = self._table(content, member, begun.all_served)
        if joint is not NOBODY and len(joint.taken) * len(table.taken) > _MOST_STEPS:
            return None
        limits = np.array([NO_LIMIT if limit is None else limit for limit in begun.limits], dtype=np.int64)
        found = joined_by(joint, table, own, limits, begun.apart, begun.waiting, settled, count_units=self._count_units)
        return found if not begun.limits or len(found.taken) <= MOST_WAYS else None

    def _table(self, content: int, member: Member, is_served: bool) -> Table:
        key = content, member.critical, member.weight, is_served
        if key not in self._tables:
            self._tables[key] = table_of(member, self._counted, count_units=self._count_units, is_served=is_served)
        return self._tables[key]

    def _way(self, members: Sequence[Member], positions: list[int], sums: list[int]) -> Way:
        units: dict[str, int] = defaultdict(int)
        for member, position in zip(members, positions, strict=True):
            if position >= 0:
                for part, count in member.options[position].parts:
                    units[part] += count
        return Way(tuple(positions), tuple(sums), tuple(sorted(units.items())), frozenset(units), ())


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
