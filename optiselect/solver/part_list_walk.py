"""What the searches over part lists share: how a step looks, what it still needs, and how the work is counted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.dominance import BITS
from optiselect.solver.progress import Watch
from optiselect.solver.shares import Offers, Shares

Mask = NDArray[np.int64]
"""A set of part numbers as bits, `BITS` to a word."""
_EFFORT = 2e-8
"""What looking at one offer counts as effort."""
_MOST_EFFORT = 3.0


@dataclass(frozen=True)
class Step:
    """Part lists that hold the part numbers `on` and none but those of `not_off`; none of them is better than the bound."""

    bound: int
    on: Mask
    not_off: Mask
    offers: Offers


class PartListWalk:
    """Walks part lists of at most `most` part numbers, within an effort."""

    def __init__(self, shares: Shares, most: int, watch: Watch) -> None:
        self.shares, self.most, self._watch = shares, most, watch
        self._effort = self._given = min(_MOST_EFFORT, watch.effort_left)
        self.all = shares.mask_of(frozenset(shares.parts))
        self.none = np.zeros_like(self.all)

    @property
    def goes_on(self) -> bool:
        """Whether there is effort and time for another step."""
        return self._effort > 0 and not self._watch.is_over

    def end(self) -> None:
        """Book the effort that was spent."""
        self._watch.effort_left -= self._given - self._effort

    def total(self, offers: Offers) -> int | None:
        """What the network takes with these offers only; None where they do not serve it."""
        self._effort -= _EFFORT * (len(offers.values) + len(self.shares.joint))
        return self.shares.total(self.shares.worth(offers))

    def worth_a_look(self, step: Step) -> Offers:
        """The offers that a step leaves open, without those that are no better than what is on its list serves already."""
        offers = step.offers.only(within(step.offers, step.not_off))
        self._effort -= _EFFORT * len(offers.values)
        served = within(offers, step.on)
        worth = self.shares.worth(offers.only(served))[offers.shares]
        return offers.only((offers.values < worth) | (served & (offers.values == worth)))

    def more_needed(self, offers: Offers, on: Mask) -> tuple[int, Mask]:
        """Part numbers that kinds of links need beside those on the list, and that no two of these kinds have in common; at least one of
        those that are returned with it is among them (of none where all that are known to be needed are on the list).
        """
        shares, starts = self.shares.needed
        if not len(starts):
            return 0, np.zeros_like(on)
        outside = offers.masks & ~on
        first = np.flatnonzero(np.diff(offers.shares, prepend=-1))
        several = np.zeros((self.shares.size, outside.shape[1]), dtype=np.int64)
        several[offers.shares[first]] = np.bitwise_or.reduceat(outside, first, axis=0)
        fewest = np.full(self.shares.size, BITS, dtype=np.int64)
        fewest[offers.shares[first]] = np.minimum.reduceat(np.bitwise_count(outside).sum(axis=1), first)
        any_of = np.bitwise_or.reduceat(several[shares], starts, axis=0)
        need = np.minimum.reduceat(fewest[shares], starts)
        waiting = np.flatnonzero(need > 0)
        order = waiting[np.argsort(np.bitwise_count(any_of[waiting]).sum(axis=1), kind="stable")]
        met = needed = 0
        for kind, more in zip(_as_one(any_of[order]), need[order].tolist(), strict=True):
            if not kind & met:
                met |= kind
                needed += more
        return needed, any_of[order[0]] if len(order) else np.zeros_like(on)


def within(offers: Offers, mask: Mask) -> NDArray[np.bool_]:
    """Which offers have none but these part numbers."""
    inside: NDArray[np.bool_] = ((offers.masks & ~mask) == 0).all(axis=1)
    return inside


def holds(offers: Offers, part: int) -> NDArray[np.bool_]:
    """Which offers have this part number."""
    word, bit = divmod(part, BITS)
    holding: NDArray[np.bool_] = (offers.masks[:, word] >> bit) & 1 == 1
    return holding


def bit_of(part: int, words: int) -> Mask:
    """One part number by its place."""
    mask = np.zeros(words, dtype=np.int64)
    mask[part // BITS] = 1 << (part % BITS)
    return mask


def count(mask: Mask) -> int:
    """How many part numbers there are."""
    return int(np.bitwise_count(mask).sum())


def _as_one(masks: Mask) -> list[int]:
    """Masks as whole numbers of any length."""
    return [sum(word << (BITS * place) for place, word in enumerate(words)) for words in masks.tolist()]


def places(mask: Mask) -> list[int]:
    """The places of the part numbers."""
    return [word * BITS + bit for word, bits in enumerate(mask.tolist()) for bit in range(BITS) if bits >> bit & 1]
