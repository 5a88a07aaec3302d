"""What a network takes at best with one part list, so that part lists can be compared by the thousand.

Once it is fixed which part numbers may be ordered, only scarce resources join the links, a few at a time (`clusters`): the
best that a part list allows is a sum over clusters. Of a link only its *shares* matter: options that take the same of every
scarce resource and count the same for the objectives before the part numbers. Which shares the links of a cluster can take
together does not depend on the part list, so these joint shares are listed once; a share is worth its best option whose
part numbers are all on the list.

Why this loses no optimum: a plan with these part numbers takes in each cluster one joint share, and of each share an option
on the list; each cluster is best by itself, and so is each share. Joint shares that are not best in the objectives before
the part numbers are left out, as in `clusters`: those are sums, and settled within each cluster.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.choice import SUM_OF, Name
from optiselect.solver.dominance import BITS
from optiselect.solver.joined import Apart, Cluster, Joined, Member, partners
from optiselect.solver.option import Option
from optiselect.solver.scarce import Resource
from optiselect.solver.share_tables import NOTHING, Mask, Offers, ShareTables

MOST_VALUE = 1 << 55
_MOST_JOINT = 4_000
_MOST_MEMBERS = 16
Sums = tuple[int, ...]


@dataclass(frozen=True)
class _Share:
    """A share of a list of options: what it takes (by the order of the list's resources) and counts, and its options."""

    uses: tuple[tuple[int, int], ...]
    sums: Sums
    options: tuple[Option, ...]


class TooLarge(Exception):
    """A cluster has too many joint shares to list them."""


class Shares:
    """The shares of every link, and the joint shares of every cluster.

    Args:
        joined: the links with their options, as scarce resources join them. apart: pairs of resources of which only one may be used.
        settled: the objectives before the part numbers. aimed: those after them, in order, each with what its figures are multiples
            of and with the weight of such a step.

    Attributes:
        parts: part numbers that some option uses, sorted; they are the bits of the masks.
        tables: of all options.

    Raises:
        TooLarge: when a cluster has more joint shares than are listed.
    """

    def __init__(
        self,
        joined: Joined,
        capacity: Mapping[Resource, int],
        apart: Apart,
        settled: Sequence[Name],
        aimed: Mapping[Name, tuple[int, int]],
    ) -> None:
        self._capacity = capacity
        self._places = tuple(SUM_OF[name] for name in settled)
        self._aimed = [(SUM_OF[name] - 2, step, weight) for name, (step, weight) in aimed.items()]
        self._apart = partners(apart)
        self._listed = joined.listed
        lists = {id(member.found.options): member.found.options for cluster in joined.clusters for member in cluster.members}
        self.parts = tuple(sorted({part for options in lists.values() for option in options for part in option.names}))
        self._bit = {part: divmod(place, BITS) for place, part in enumerate(self.parts)}
        self._first_share: dict[int, int] = {}
        self._options: list[Option] = []
        self._offers: list[tuple[int, int, tuple[int, ...]]] = []
        self.size = 0
        self._clusters = joined.clusters
        self._kind_of: list[int] = []
        self._joint: list[NDArray[np.int64]] = []
        self._list_clusters(joined.clusters)
        counts = np.zeros(len(self._joint), dtype=np.int64)
        for kind, cluster in zip(self._kind_of, self._clusters, strict=True):
            counts[kind] += len(cluster.units)
        joint = np.full((sum(map(len, self._joint)), max((rows.shape[1] for rows in self._joint), default=0)), self.size, dtype=np.int64)
        start = 0
        for rows in self._joint:
            joint[start : start + len(rows), : rows.shape[1]] = np.where(rows >= 0, rows, self.size)
            start += len(rows)
        starts = np.cumsum([0, *(len(rows) for rows in self._joint[:-1])], dtype=np.int64)
        self.tables = ShareTables(self._offered(), self.size, joint, starts, counts, self._needed())

    # -- listing ------------------------------------------------------------------------------------------------

    def _list_clusters(self, clusters: Sequence[Cluster]) -> None:
        """Number each cluster by its kind, and list the joint shares of each kind."""
        kinds: dict[Hashable, int] = {}
        for cluster in clusters:
            limits = tuple([self._capacity.get(resource, NOTHING) for resource in cluster.numbers]) if cluster.numbers else ()
            apart = cluster.apart(self._apart) if limits else ()
            kind = (cluster.rows, limits, apart) if limits else cluster.rows
            if kind not in kinds:
                kinds[kind] = len(kinds)
                if ("joint", kind, self._places) not in self._listed:
                    self._listed["joint", kind, self._places] = self._joint_shares(cluster, limits, apart)
                rows: NDArray[np.int64] = self._listed["joint", kind, self._places]
                self._joint.append(np.where(rows >= 0, rows + [self._entered(member) for member in cluster.members], -1))
            self._kind_of.append(kinds[kind])

    def _joint_shares(self, cluster: Cluster, limits: tuple[int, ...], apart: tuple[tuple[int, int], ...]) -> NDArray[np.int64]:
        """What the members can take together, best in the objectives before the part numbers: of each the place of its share, -1 for none.

        Raises:
            TooLarge: when that is too much to list.
        """
        if len(cluster.members) > _MOST_MEMBERS:
            raise TooLarge
        if len(cluster.members) == 1 and not limits:  # most links of most networks
            ((member,), (mine,)) = cluster.members, cluster.own
            alone = self._ways(member, mine, True) or self._ways(member, mine, False)
            least = min(counts for _, _, counts in alone)
            return np.array([[place] for place, _, counts in alone if counts == least], dtype=np.int64)
        for all_served in (True, False):  # pragma: no branch - to serve none is possible; where all can be served, no plan that leaves one out is best
            found: list[tuple[tuple[int, ...], list[int], Sums]] = [((), [0] * len(limits), (0,) * len(self._places))]
            for member, mine in zip(cluster.members, cluster.own, strict=True):
                ways = self._ways(member, mine, all_served)
                taken = []
                for row, used, sums in found:
                    for place, uses, counts in ways:
                        left = used.copy()
                        for resource, amount in uses:
                            left[resource] += amount
                        if all(amount <= limit for amount, limit in zip(left, limits, strict=True)) and not any(left[a] and left[b] for a, b in apart):
                            taken.append(((*row, place), left, tuple(a + b for a, b in zip(sums, counts, strict=True))))
                found = taken
                if len(found) > _MOST_JOINT:
                    raise TooLarge
            if found:
                break
        best = min(sums for _, _, sums in found)  # to serve none of them is always possible
        return np.array([row for row, _, sums in found if sums == best], dtype=np.int64).reshape(-1, len(cluster.members))

    def _ways(self, member: Member, mine: tuple[int, ...], all_served: bool) -> list[tuple[int, list[tuple[int, int]], Sums]]:
        own = (-int(member.critical), -member.weight)
        ways = [
            (place, [(mine[resource], amount) for resource, amount in share.uses], tuple((*own, *share.sums)[place] for place in self._places))
            for place, share in enumerate(self._shares(member.options))
        ]
        return ways if all_served else [*ways, (-1, [], (0,) * len(self._places))]

    def _shares(self, options: Sequence[Option]) -> list[_Share]:
        """The shares of a list of options, in a fixed order."""
        if ("shares", id(options), self._places) not in self._listed:
            places = [place - 2 for place in self._places if place >= 2]
            order: dict[Resource, int] = {}
            gathered: dict[tuple[tuple[tuple[int, int], ...], Sums], list[Option]] = defaultdict(list)
            for option in options:
                uses = tuple(sorted((order.setdefault(resource, len(order)), amount) for resource, amount in option.uses))
                measures = option.measures()
                gathered[uses, tuple(measure if place in places else 0 for place, measure in enumerate(measures))].append(option)
            ordered = sorted(gathered.items(), key=lambda item: item[0])
            self._listed["shares", id(options), self._places] = [_Share(uses, sums, tuple(its)) for (uses, sums), its in ordered]
        shares: list[_Share] = self._listed["shares", id(options), self._places]
        return shares

    def _entered(self, member: Member) -> int:
        """The number of the first share of a link's options; the options are entered as offers."""
        if id(member.options) not in self._first_share:
            self._first_share[id(member.options)] = self.size
            for share in self._shares(member.options):
                self._enter(share.options)
                self.size += 1
        return self._first_share[id(member.options)]

    def _enter(self, options: Sequence[Option]) -> None:
        """Enter the options of the next share: of those with the same part numbers the best, and of equal ones the first."""
        best: dict[tuple[int, ...], tuple[int, Option]] = {}
        for option in options:
            mask = [0] * (len(self.parts) // BITS + 1)
            for part in option.names:
                word, bit = self._bit[part]
                mask[word] |= 1 << bit
            measures = option.measures()
            value = sum(measures[place] // step * weight for place, step, weight in self._aimed)
            if tuple(mask) not in best or best[tuple(mask)][0] > value:
                best[tuple(mask)] = value, option
        for mask_, (value, option) in best.items():
            self._offers.append((self.size, value, mask_))
            self._options.append(option)

    def _offered(self) -> Offers:
        masks = np.array([mask for _, _, mask in self._offers], dtype=np.int64).reshape(-1, len(self.parts) // BITS + 1)
        values = np.array([value for _, value, _ in self._offers], dtype=np.int64)
        return Offers(masks, values, np.array([share for share, _, _ in self._offers], dtype=np.int64))

    def _needed(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        kinds: set[tuple[int, ...]] = set()
        for rows in self._joint:
            for column in rows.T:
                shares = sorted(set(column.tolist()))
                if shares[0] >= 0:
                    kinds.add(tuple(shares))
        ordered = sorted(kinds)
        return (
            np.array([share for kind in ordered for share in kind], dtype=np.int64),
            np.cumsum([0, *(len(kind) for kind in ordered[:-1])], dtype=np.int64)[: len(ordered)],
        )

    # -- reading ------------------------------------------------------------------------------------------------

    def mask_of(self, parts: Iterable[str]) -> Mask:
        """Part numbers as bits; those that no option uses are left out."""
        mask = np.zeros(len(self.parts) // BITS + 1, dtype=np.int64)
        for part in parts:
            if part in self._bit:
                word, bit = self._bit[part]
                mask[word] |= 1 << bit
        return mask

    def options_with(self, mask: Mask) -> dict[str, Option]:
        """By link the option that it takes at best with these part numbers; links that are not served are left out."""
        tables = self.tables
        allowed = tables.offers.within(mask)
        best: dict[int, int] = {}
        for place in np.flatnonzero(allowed).tolist():
            share = int(tables.offers.shares[place])
            if share not in best or tables.offers.values[place] < tables.offers.values[best[share]]:
                best[share] = place
        sums = tables.sums(tables.worth(tables.offers.only(allowed)))
        taken = [int(start + np.argmin(sums[start:end])) for start, end in zip(tables.starts, [*tables.starts[1:], len(sums)], strict=True)]
        options: dict[str, Option] = {}
        for kind, cluster in zip(self._kind_of, self._clusters, strict=True):
            shares = tables.joint[taken[kind]].tolist()[: len(cluster.members)]
            its = [(place, self._options[best[share]]) for place, share in enumerate(shares) if share < self.size]
            for unit in cluster.units if its else ():
                for place, option in its:
                    options[unit[place]] = option
        return options
