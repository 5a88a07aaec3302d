"""The smallest set of facts that refuses everything: each candidate breaks at least one of them.

A set of facts refuses a link when every candidate is stopped by one of them at least; it is minimal when without any one of
them some candidate would stand. Facts are bits in their fixed order (rule, then place), so ties fall to the first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

MOST_STEPS = 20_000
"""Steps of the search before the set that was found by then is taken; it is minimal, and may not be the smallest."""


@dataclass(frozen=True)
class Conflict:
    """Bits of the facts, in order; `is_smallest`: proven."""

    bits: tuple[int, ...]
    is_smallest: bool


def minimal_sets(masks: Iterable[int]) -> list[int]:
    """The masks of which no other is a part, the smallest first: what is not among these decides nothing."""
    kept: list[int] = []
    for mask in sorted(set(masks), key=lambda mask: (mask.bit_count(), mask)):
        if not any(small & mask == small for small in kept):
            kept.append(mask)
    return kept


def bits_of(mask: int) -> list[int]:
    """The positions of the bits that are set, lowest first."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def smallest_conflict(masks: Iterable[int]) -> Conflict:
    """The smallest set of bits that meets every mask; no mask is empty."""
    search = _Search()
    found = search.of(minimal_sets(masks))
    return Conflict(tuple(sorted(found)), search.is_smallest)


def disjoint_conflicts(masks: Iterable[int], first: Iterable[int]) -> int:
    """How many further sets meet every mask, each disjoint from those before it and from the first."""
    count, taken = 0, sum(1 << bit for bit in first)
    left = [mask & ~taken for mask in masks]
    while left and all(left):
        count += 1
        taken = sum(1 << bit for bit in smallest_conflict(left).bits)
        left = [mask & ~taken for mask in left]
    return count


class _Search:
    """Sets of facts that have none in common are searched each by itself."""

    def __init__(self) -> None:
        self.is_smallest = True
        self._steps = 0

    def of(self, family: list[int]) -> list[int]:
        found: list[int] = []
        for part in _components(family):
            found += self._smallest(part)
        return found

    def _smallest(self, family: list[int]) -> list[int]:
        for size in range(_at_least(family), len(family) + 1):  # pragma: no branch - a set of that size is found, or the work is cut
            found = self._of_size(family, size, -1)
            if found is not None:
                return found
            if self._steps > MOST_STEPS:
                break
        self.is_smallest = False
        return _without_spare(family, _greedy(family))

    def _of_size(self, family: list[int], size: int, after: int) -> list[int] | None:
        """The first set of this size in the order of the facts, of facts after the one given."""
        self._steps += 1
        if not family:
            return []
        if size < _at_least(family) or self._steps > MOST_STEPS:
            return None
        usable = ~((1 << (after + 1)) - 1)
        if not all(mask & usable for mask in family):
            return None
        tightest = min(family, key=lambda mask: (mask & usable).bit_count())
        last = bits_of(tightest & usable)[-1]  # the first fact of the set comes no later than the last that meets this mask
        union = 0
        for mask in family:
            union |= mask
        for bit in bits_of(union & usable):
            if bit > last:
                break
            rest = self._of_size([mask for mask in family if not mask >> bit & 1], size - 1, bit)
            if rest is not None:
                return [bit, *rest]
        return None


def _components(family: list[int]) -> list[list[int]]:
    parts: list[tuple[int, list[int]]] = []
    for mask in family:
        joined, members = mask, [mask]
        apart = []
        for union, its in parts:
            if union & mask:
                joined |= union
                members = its + members
            else:
                apart.append((union, its))
        parts = [*apart, (joined, members)]
    return [members for _, members in parts]


def _at_least(family: list[int]) -> int:
    """A lower bound: masks that have nothing in common need a fact each."""
    taken, count = 0, 0
    for mask in family:
        if not taken & mask:
            taken |= mask
            count += 1
    return count


def _greedy(family: list[int]) -> list[int]:
    found: list[int] = []
    left = family
    while left:
        counts: dict[int, int] = {}
        for mask in left:
            for bit in bits_of(mask):
                counts[bit] = counts.get(bit, 0) + 1
        best = min(counts, key=lambda bit: (-counts[bit], bit))
        found.append(best)
        left = [mask for mask in left if not mask >> best & 1]
    return sorted(found)


def _without_spare(family: list[int], found: list[int]) -> list[int]:
    """The same without whatever it can do without, last facts first."""
    for bit in sorted(found, reverse=True):
        fewer = [other for other in found if other != bit]
        if all(any(mask >> other & 1 for other in fewer) for mask in family):
            found = fewer
    return found
