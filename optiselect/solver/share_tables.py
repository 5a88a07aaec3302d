"""Shares as tables of figures: what a part list is worth, all clusters at once with numpy, and which clusters have nothing in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.dominance import BITS

NOTHING = 1 << 57
"""The value of a share that a part list does not allow; greater than any sum of values."""
Mask = NDArray[np.int64]
"""A set of part numbers as bits, `BITS` to a word."""
_CELLS = 500_000
"""Places of joint shares that are added up at once."""


class Offers(NamedTuple):
    """Options reduced to what a comparison of part lists sees, in the order of their shares.

    Attributes:
        masks: part numbers. values: weighted sum of the objectives. shares: of each, its share.
    """

    masks: Mask
    values: NDArray[np.int64]
    shares: NDArray[np.int64]

    def only(self, kept: NDArray[np.bool_]) -> Offers:
        """Some of them."""
        return Offers(self.masks[kept], self.values[kept], self.shares[kept])

    def within(self, mask: Mask) -> NDArray[np.bool_]:
        """Which of them have none but these part numbers."""
        inside: NDArray[np.bool_] = ((self.masks & ~mask) == 0).all(axis=1)
        return inside

    def without(self, parts: Sequence[int]) -> NDArray[np.bool_]:
        """For each of these part numbers, by their places, which of the offers do not have it."""
        words, bits = np.divmod(np.array(parts, dtype=np.int64), BITS)
        without: NDArray[np.bool_] = (self.masks[:, words] >> bits).T & 1 == 0
        return without


@dataclass(frozen=True)
class ShareTables:
    """The offers of some clusters, and what their links can take together.

    Attributes:
        size: how many shares there are, whether or not they are of these clusters.
        joint: by row a joint share, padded with `size`, a share that is worth nothing. starts: the first row of each kind of cluster.
        counts: how many clusters are of each kind.
        needed: kinds of links that are served in every joint share: the shares of each, one after another, and where each kind begins.
    """

    offers: Offers
    size: int
    joint: NDArray[np.int64]
    starts: NDArray[np.int64]
    counts: NDArray[np.int64]
    needed: tuple[NDArray[np.int64], NDArray[np.int64]]

    def worth(self, offers: Offers) -> NDArray[np.int64]:
        """The value of each share with these offers only, `NOTHING` where none is left; one place more for no share at all."""
        worth = np.full(self.size + 1, NOTHING, dtype=np.int64)
        worth[-1] = 0
        if len(offers.shares):
            first = first_of(offers.shares)
            worth[offers.shares[first]] = np.minimum.reduceat(offers.values, first)
        return worth

    def total(self, worth: NDArray[np.int64]) -> int | None:
        """The value of all clusters where the shares are worth this; None where one of them cannot be served as it should."""
        kinds = np.minimum.reduceat(self.sums(worth), self.starts)
        return None if (kinds >= NOTHING).any() else int((kinds * self.counts).sum())

    def totals(self, offers: Offers, allowed: NDArray[np.bool_]) -> list[int | None]:
        """For each line the value of all clusters with the offers that it allows, as `total`; all lines at once."""
        first = first_of(offers.shares)
        totals: list[int | None] = []
        at_once = max(1, _CELLS // max(1, self.joint.size))
        for start in range(0, len(allowed) if len(first) else 0, at_once):
            some = allowed[start : start + at_once]
            worth = np.full((len(some), self.size + 1), NOTHING, dtype=np.int64)
            worth[:, -1] = 0
            worth[:, offers.shares[first]] = np.minimum.reduceat(np.where(some, offers.values, NOTHING), first, axis=1)
            kinds = np.minimum.reduceat(np.minimum(worth[:, self.joint].sum(axis=2), NOTHING), self.starts, axis=1)
            served: NDArray[np.bool_] = np.all(kinds < NOTHING, axis=1)
            values = (np.where(served[:, None], kinds, 0) * self.counts).sum(axis=1)
            totals += [value if is_served else None for value, is_served in zip(values.tolist(), served.tolist(), strict=True)]
        return totals if len(first) else [self.total(self.worth(offers))] * len(allowed)

    def sums(self, worth: NDArray[np.int64]) -> NDArray[np.int64]:
        """The value of each joint share."""
        sums: NDArray[np.int64] = np.minimum(worth[self.joint].sum(axis=1), NOTHING)
        return sums

    def any_of(self, masks: Mask, shares: NDArray[np.int64]) -> Mask:
        """By share the part numbers of its offers together; one place more, without any, for no share at all."""
        together = np.zeros((self.size + 1, masks.shape[1]), dtype=np.int64)
        if len(shares):
            first = first_of(shares)
            together[shares[first]] = np.bitwise_or.reduceat(masks, first, axis=0)
        return together

    def apart(self, on: Mask, offers: Offers) -> Iterator[tuple[ShareTables, Mask]]:
        """Split the clusters into those that have part numbers in common beside the ones on a list, each part with these part numbers.

        Clusters that need nothing beside the list are left out.
        """
        together = self.any_of(offers.masks & ~on, offers.shares)
        kinds = np.bitwise_or.reduceat(np.bitwise_or.reduce(together[self.joint], axis=1), self.starts, axis=0)
        groups: list[tuple[int, list[int]]] = []
        for kind, mask in enumerate(as_one(kinds)):
            if mask:
                joined = [group for group in groups if group[0] & mask]
                groups = [group for group in groups if not group[0] & mask]
                whole = mask
                members = [kind]
                for other, theirs in joined:
                    whole |= other
                    members += theirs
                groups.append((whole, members))
        for _, members in sorted(groups):
            chosen = np.zeros(len(self.starts), dtype=bool)
            chosen[members] = True
            yield self._of(chosen, offers), np.bitwise_or.reduce(kinds[chosen], axis=0)

    def _of(self, kinds: NDArray[np.bool_], offers: Offers) -> ShareTables:
        """The tables of some kinds of clusters."""
        sizes = np.diff(np.append(self.starts, len(self.joint)))
        joint = self.joint[np.repeat(kinds, sizes)]
        own = np.zeros(self.size + 1, dtype=bool)
        own[joint.ravel()] = True
        shares, starts = self.needed
        lengths = np.diff(np.append(starts, len(shares)))
        kept = own[shares[starts]] if len(starts) else np.zeros(0, dtype=bool)
        needed = shares[np.repeat(kept, lengths)], _begins(lengths[kept])
        return ShareTables(offers.only(own[offers.shares]), self.size, joint, _begins(sizes[kinds]), self.counts[kinds], needed)


def first_of(shares: NDArray[np.int64]) -> NDArray[np.intp]:
    """Where each stretch of equal numbers begins."""
    begins = np.ones(len(shares), dtype=bool)
    np.not_equal(shares[1:], shares[:-1], out=begins[1:])
    return np.flatnonzero(begins)


def _begins(lengths: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where each of several stretches begins that follow one another."""
    return np.cumsum(lengths, dtype=np.int64) - lengths


def as_one(masks: Mask) -> list[int]:
    """Masks as whole numbers of any length."""
    return [sum(word << (BITS * place) for place, word in enumerate(words)) for words in masks.tolist()]
