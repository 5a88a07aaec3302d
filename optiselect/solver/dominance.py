"""Options, and joint ways of links, that another one makes pointless.

Each is a line of figures in which less is better (links served, negative; what the objectives count; what it takes of each
scarce resource; units of each part where they matter by themselves: spares are a step function of them), and a set of part
numbers as bits. A line is pointless when another is nowhere greater and has none but its part numbers: put the other in its
place in any plan, and no objective gets worse, no resource runs short.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SUMS = 8
"""Figures that every line begins with: critical links and weight served, both negative, then `Option.measures`."""
BITS = 62
"""Part numbers to a word of the masks."""
_COST = 3
_BLOCK = 512
FEW = 100
"""So many lines are compared with one another in whole tables; of more, those that differ in cost only are put together first."""


def undominated_rows(vectors: NDArray[np.int64], masks: NDArray[np.int64], taken: NDArray[np.int32]) -> NDArray[np.intp]:
    """The lines that no other makes pointless, in a fixed order; of equal ones the first.

    A line is pointless when another is nowhere greater and has none but its part numbers. Whatever is pointless beside a
    pointless line is pointless beside what makes that one so: so each line need only be compared with those before it.
    """
    if len(vectors) == 1:
        return np.zeros(1, dtype=np.intp)
    told = (vectors != vectors[0]).any(axis=0)  # columns in which all lines agree decide nothing
    vectors = vectors[:, told]
    cheapest: NDArray[np.intp] | None = None
    if len(vectors) > FEW and told[_COST]:
        cheapest = _cheapest_of_equals(vectors, int(np.count_nonzero(told[:_COST])), masks, taken)
        vectors, masks, taken = vectors[cheapest], masks[cheapest], taken[cheapest]
    many = np.bitwise_count(masks).sum(axis=1)
    order = np.lexsort((*taken.T[::-1], *vectors.T[::-1], many))
    vectors, masks = vectors[order], masks[order]
    if len(order) <= FEW:
        kept = np.flatnonzero(~_beaten_of_few(vectors, masks))
    else:
        kept = np.empty(0, dtype=np.intp)
        for start in range(0, len(order), _BLOCK):
            block = np.arange(start, min(start + _BLOCK, len(order)))
            if len(kept):
                block = block[~_beaten(vectors, masks, kept, block)]
            block = block[~_beaten(vectors, masks, block, block)]
            kept = np.concatenate([kept, block]) if len(kept) else block
    return order[kept] if cheapest is None else cheapest[order[kept]]


def _cheapest_of_equals(vectors: NDArray[np.int64], cost: int, masks: NDArray[np.int64], taken: NDArray[np.int32]) -> NDArray[np.intp]:
    """Of the lines that differ in cost only (the column of that number), the cheapest; of those the first."""
    rest = np.hstack([vectors[:, :cost], vectors[:, cost + 1 :], masks])
    order = np.lexsort((*taken.T[::-1], vectors[:, cost], *rest.T[::-1]))
    first = np.ones(len(order), dtype=bool)
    first[1:] = (rest[order[1:]] != rest[order[:-1]]).any(axis=1)
    return order[first]


def _beaten_of_few(vectors: NDArray[np.int64], masks: NDArray[np.int64]) -> NDArray[np.bool_]:
    """The same as `_beaten` of each by each, all at once."""
    within = np.tri(len(vectors), k=-1, dtype=bool)
    for word in masks.T:
        within &= (word[None, :] & ~word[:, None]) == 0
    for column in vectors.T:
        within &= column[None, :] <= column[:, None]
    return np.asarray(within.any(axis=1))


def _beaten(vectors: NDArray[np.int64], masks: NDArray[np.int64], by: NDArray[np.intp], lines: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which of the lines an earlier one of `by` makes pointless: first by part numbers, which few share, then by figures."""
    within = by[None, :] < lines[:, None]
    for word in range(masks.shape[1]):
        within &= (masks[by, word][None, :] & ~masks[lines, word][:, None]) == 0
    line, other = np.nonzero(within)
    for column in range(vectors.shape[1]):
        less = vectors[by[other], column] <= vectors[lines[line], column]
        line, other = line[less], other[less]
    beaten = np.zeros(len(lines), dtype=bool)
    beaten[line] = True
    return beaten


def beaten_within(vectors: NDArray[np.int64], masks: NDArray[np.int64], sizes: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Of lists of lines, one after another, each in the order of `undominated_rows`: which lines an earlier one of their list makes pointless.

    It holds two numbers for each pair of lines of a list at once.
    """
    begins = np.repeat(np.cumsum(sizes) - sizes, sizes)
    earlier = np.arange(len(vectors)) - begins
    line = np.repeat(np.arange(len(vectors)), earlier)
    other = np.arange(len(line)) - np.repeat(np.cumsum(earlier) - earlier - begins, earlier)
    for word in masks.T:
        within = (word[other] & ~word[line]) == 0
        line, other = line[within], other[within]
    for column in vectors.T:
        less = column[other] <= column[line]
        line, other = line[less], other[less]
    beaten = np.zeros(len(vectors), dtype=bool)
    beaten[line] = True
    return beaten
