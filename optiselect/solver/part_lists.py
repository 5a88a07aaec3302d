"""The best part list of at most so many part numbers: an exact search over part lists, where none of its members is given more than once.

Depth first. At each step some part numbers are on the list, some are off it, the rest is open. What everything that is not off
would take at best (`shares`) bounds whatever this step can lead to. A part without which that bound is no better than the best
list so far, or nothing serves, must be on the list. Links that need part numbers which are not on it, and have none of them in
common, each need one more: where that is too many, the step leads nowhere. Else the part that would be missed most is put on the
list first, then off it.

Nothing is left out but what these bounds exclude, so what is found is best; the work is counted, not timed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.choice import SUM_OF, Name
from optiselect.solver.dominance import BITS
from optiselect.solver.option import Option
from optiselect.solver.progress import Watch
from optiselect.solver.shares import MOST_VALUE, Offers, Shares

Mask = NDArray[np.int64]
_EFFORT = 2e-8
"""What looking at one offer counts as effort."""
_MOST_EFFORT = 3.0


@dataclass
class Found:
    """The best part list, with its value and the best that is still possible."""

    mask: Mask
    value: int
    bound: int


@dataclass(frozen=True)
class _Step:
    """Part lists that hold the part numbers `on` and none but those of `not_off`; none of them is better than the bound."""

    bound: int
    on: Mask
    not_off: Mask
    offers: Offers


def weights_of(lists: Mapping[int, tuple[Sequence[Option], int]], names: Sequence[Name]) -> dict[Name, tuple[int, int]] | None:
    """For each sum its step and the weight of a step, so that an earlier sum is never traded for a later one; None when too large.

    Args:
        lists: lists of options, each with the number of links that have it.
    """
    weights: dict[Name, tuple[int, int]] = {}
    after = 1
    for name in reversed(names):
        figures = [([option.measures()[SUM_OF[name] - 2] for option in options], links) for options, links in lists.values()]
        step = max(gcd(*(figure for several, _ in figures for figure in several)), 1)
        weights[name] = step, after
        after *= sum(max(several, default=0) * links for several, links in figures) // step + 1
    return {name: weights[name] for name in names} if after < MOST_VALUE else None


class PartListSearch:
    """Searches the part lists of at most `most` part numbers, from one that is known to serve."""

    def __init__(self, shares: Shares, most: int, first: frozenset[str], watch: Watch) -> None:
        self._shares, self._most, self._watch = shares, most, watch
        self._effort = min(_MOST_EFFORT, watch.effort_left)
        mask = shares.mask_of(first)
        value = self._total(shares.offers.only(_within(shares.offers, mask)))
        self._best = Found(mask, value, value) if value is not None else None

    def run(self) -> Found | None:
        """The best list; with a bound below its value when the effort or the time did not suffice, None when the first list does not serve."""
        best = self._best
        if best is None:
            return None
        shares, began = self._shares, self._effort
        steps = [_Step(0, shares.mask_of(frozenset()), shares.mask_of(frozenset(shares.parts)), shares.offers)]
        while steps and self._effort > 0 and not self._watch.is_over:
            steps += self._below(steps.pop())
        best.bound = min([best.value, *(step.bound for step in steps)])
        self._watch.effort_left -= began - self._effort
        return best

    def _below(self, step: _Step) -> Iterator[_Step]:
        """What is left to look at below one step; the last comes first."""
        on, offers = step.on, step.offers.only(_within(step.offers, step.not_off))
        while True:
            offers = self._worth_a_look(offers, on)
            worth = self._shares.worth(offers)
            bound = self._shares.total(worth)
            self._effort -= _EFFORT * len(offers.values)
            left = self._most - _count(on)
            if bound is None or bound >= self._value or left < self._more_needed(offers, on):
                return
            if left == 0:
                self._offer(self._total(offers.only(_within(offers, on))), on)
                return
            best = offers.values == worth[offers.shares]
            wanted = np.bitwise_or.reduce(offers.masks[best] & ~on, axis=0)
            if _count(wanted) <= left:
                self._offer(bound, on | wanted)
                return
            without = {part: self._total(offers.only(~_holds(offers, part))) for part in _parts(wanted)}
            musts = [part for part, value in without.items() if value is None or value >= self._value]
            if not musts:
                break
            if len(musts) > left:
                return
            for part in musts:
                on = on | _bit(part, len(on))
        bound_without, missed = max((value or 0, -part) for part, value in without.items())
        bit = _bit(-missed, len(on))
        yield _Step(bound_without, on, step.not_off & ~bit, offers)
        yield _Step(bound, on | bit, step.not_off, offers)

    @property
    def _value(self) -> int:
        assert self._best is not None  # there is no search without a first list
        return self._best.value

    def _offer(self, value: int | None, mask: Mask) -> None:
        if value is not None and value < self._value:
            self._best.mask, self._best.value = mask, value  # type: ignore[union-attr]  # there is no search without a first list

    def _total(self, offers: Offers) -> int | None:
        self._effort -= _EFFORT * (len(offers.values) + len(self._shares.joint))
        return self._shares.total(self._shares.worth(offers))

    def _worth_a_look(self, offers: Offers, on: Mask) -> Offers:
        """Without those that are no better than what the list serves already."""
        served = _within(offers, on)
        worth = self._shares.worth(offers.only(served))[offers.shares]
        return offers.only((offers.values < worth) | (served & (offers.values == worth)))

    def _more_needed(self, offers: Offers, on: Mask) -> int:
        """Part numbers that kinds of links need beside those on the list, and that no two of these kinds have in common."""
        shares, starts = self._shares.needed
        if not len(starts):
            return 0
        outside = offers.masks & ~on
        first = np.flatnonzero(np.diff(offers.shares, prepend=-1))
        several = np.zeros((self._shares.size, outside.shape[1]), dtype=np.int64)
        several[offers.shares[first]] = np.bitwise_or.reduceat(outside, first, axis=0)
        fewest = np.full(self._shares.size, BITS, dtype=np.int64)
        fewest[offers.shares[first]] = np.minimum.reduceat(np.bitwise_count(outside).sum(axis=1), first)
        any_of = np.bitwise_or.reduceat(several[shares], starts, axis=0)
        need = np.minimum.reduceat(fewest[shares], starts)
        order = np.argsort(np.bitwise_count(any_of).sum(axis=1), kind="stable")
        met = needed = 0
        for kind, more in zip(_as_one(any_of[order]), need[order].tolist(), strict=True):
            if not kind & met:
                met |= kind
                needed += more
        return needed


def _within(offers: Offers, mask: Mask) -> NDArray[np.bool_]:
    within: NDArray[np.bool_] = ((offers.masks & ~mask) == 0).all(axis=1)
    return within


def _holds(offers: Offers, part: int) -> NDArray[np.bool_]:
    word, bit = divmod(part, BITS)
    holds: NDArray[np.bool_] = (offers.masks[:, word] >> bit) & 1 == 1
    return holds


def _bit(part: int, words: int) -> Mask:
    mask = np.zeros(words, dtype=np.int64)
    mask[part // BITS] = 1 << (part % BITS)
    return mask


def _count(mask: Mask) -> int:
    return int(np.bitwise_count(mask).sum())


def _as_one(masks: Mask) -> list[int]:
    """Masks as whole numbers of any length."""
    return [sum(word << (BITS * place) for place, word in enumerate(words)) for words in masks.tolist()]


def _parts(mask: Mask) -> list[int]:
    return [word * BITS + bit for word, bits in enumerate(mask.tolist()) for bit in range(BITS) if bits >> bit & 1]
