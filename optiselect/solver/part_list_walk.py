"""What the searches over part lists share: fields that can be searched by themselves, how a step looks, what it still needs, and how
the work is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optiselect.solver.dominance import BITS
from optiselect.solver.progress import Watch
from optiselect.solver.share_tables import Mask, Offers, ShareTables, as_one, first_of
from optiselect.solver.shares import Shares

_EFFORT, _EFFORT_A_LOOK = 2e-8, 1e-4
"""What looking at one offer, and looking at all, counts as effort."""


@dataclass(frozen=True)
class Field:
    """Clusters for which part numbers are to be chosen.

    Attributes:
        on: part numbers that are on the list already. open: those that may be put on it.
        most: how many there may be in all. first: a list that is known to serve.
    """

    tables: ShareTables
    on: Mask
    open: Mask
    most: int
    first: Mask


@dataclass(frozen=True)
class Step:
    """Part lists that hold the part numbers `on` and none but those of `not_off`; none of them is better than the bound."""

    bound: int
    on: Mask
    not_off: Mask
    offers: Offers


class PartListWalk:
    """Walks the part lists of a field, within an effort."""

    def __init__(self, field: Field, watch: Watch, most_effort: float) -> None:
        self.field, self.tables, self._watch = field, field.tables, watch
        self._effort = self._given = min(most_effort, watch.effort_left)
        self.steps = [Step(0, field.on, field.on | field.open, field.tables.offers)]

    @property
    def goes_on(self) -> bool:
        """Whether there is a step to look at, with effort and time for it."""
        return bool(self.steps) and self._effort > 0 and not self._watch.is_over

    def end(self) -> None:
        """Book the effort that was spent."""
        self._watch.effort_left -= self._given - self._effort

    def total(self, offers: Offers) -> int | None:
        """What the clusters take with these offers only; None where they do not serve them."""
        self._effort -= _EFFORT_A_LOOK + _EFFORT * (len(offers.values) + len(self.tables.joint))
        return self.tables.total(self.tables.worth(offers))

    def totals_without(self, offers: Offers, parts: Sequence[int]) -> dict[int, int | None]:
        """The same without each of these part numbers."""
        allowed = offers.without(parts)
        self._effort -= len(parts) * (_EFFORT_A_LOOK + _EFFORT * len(self.tables.joint)) + _EFFORT * int(np.count_nonzero(allowed))
        return dict(zip(parts, self.tables.totals(offers, allowed), strict=True))

    def worth_a_look(self, step: Step) -> Offers:
        """The offers that a step leaves open, without those that are no better than what is on its list serves already."""
        self._effort -= _EFFORT_A_LOOK + _EFFORT * len(step.offers.values)
        return worth_a_look(self.tables, step.offers.only(step.offers.within(step.not_off)), step.on)

    def more_needed(self, offers: Offers, on: Mask) -> tuple[int, Mask]:
        """Part numbers that kinds of links need beside those on the list, and that no two of these kinds have in common; at least one of
        those that are returned with it is among them (of none where all that are known to be needed are on the list).
        """
        self._effort -= _EFFORT_A_LOOK + _EFFORT * len(offers.values)
        shares, starts = self.tables.needed
        if not len(starts):
            return 0, np.zeros_like(on)
        outside = offers.masks & ~on
        fewest = np.full(self.tables.size + 1, BITS, dtype=np.int64)
        if len(offers.shares):
            first = first_of(offers.shares)
            fewest[offers.shares[first]] = np.minimum.reduceat(np.bitwise_count(outside).sum(axis=1), first)
        any_of = np.bitwise_or.reduceat(self.tables.any_of(outside, offers.shares)[shares], starts, axis=0)
        need = np.minimum.reduceat(fewest[shares], starts)
        waiting = np.flatnonzero(need > 0)
        order = waiting[np.argsort(np.bitwise_count(any_of[waiting]).sum(axis=1), kind="stable")]
        met = needed = 0
        for kind, more in zip(as_one(any_of[order]), need[order].tolist(), strict=True):
            if not kind & met:
                met |= kind
                needed += more
        return needed, any_of[order[0]] if len(order) else np.zeros_like(on)


def fields_of(shares: Shares, first: frozenset[str], most: int | None) -> list[Field]:
    """The whole as fields whose part numbers can be chosen one field after another.

    With `most` (more part numbers will do than the fewest) everything is one field. Where as few are asked for as can be, and `first`
    has no more: the part numbers without which nothing serves are on every list, and clusters that have no other in common are fields
    of their own. Each field needs at least as many as `first` has there, or `first` would not have the fewest; so no list of the fewest
    has more of any field.
    """
    tables, nothing = shares.tables, shares.mask_of(())
    mask, everything = shares.mask_of(first), shares.mask_of(shares.parts)
    if most is not None:
        return [Field(tables, nothing, everything, most, mask)]
    on = nothing
    listed = places(mask)
    for part, value in zip(listed, tables.totals(tables.offers, tables.offers.without(listed)), strict=True):
        if value is None:
            on = on | bit_of(part, len(on))
    parted = tables.apart(on, worth_a_look(tables, tables.offers, on))
    return [Field(some, on, open_, count(on | (mask & open_)), on | (mask & open_)) for some, open_ in parted]


def worth_a_look(tables: ShareTables, offers: Offers, on: Mask) -> Offers:
    """Offers without those that are no better than what a list serves already."""
    served = offers.within(on)
    worth = tables.worth(offers.only(served))[offers.shares]
    return offers.only((offers.values < worth) | (served & (offers.values == worth)))


def bit_of(part: int, words: int) -> Mask:
    """One part number by its place."""
    mask = np.zeros(words, dtype=np.int64)
    mask[part // BITS] = 1 << (part % BITS)
    return mask


def count(mask: Mask) -> int:
    """How many part numbers there are."""
    return int(np.bitwise_count(mask).sum())


def places(mask: Mask) -> list[int]:
    """The places of the part numbers."""
    return [word * BITS + bit for word, bits in enumerate(mask.tolist()) for bit in range(BITS) if bits >> bit & 1]
