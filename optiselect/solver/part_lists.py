"""The best part list of at most so many part numbers: an exact search over part lists, where none of its members is given more than once.

Depth first. At each step some part numbers are on the list, some are off it, the rest is open. What everything that is not off
would take at best (`shares`) bounds whatever this step can lead to. A part without which that bound is no better than the best
list so far, or nothing serves, must be on the list. Links that need part numbers which are not on it, and have none of them in
common, each need one more: where that is too many, the step leads nowhere. Else the part that would be missed most is put on the
list first, then off it.

Nothing is left out but what these bounds exclude, so what is found is best; the work is counted, not timed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import gcd

import numpy as np

from optiselect.solver.choice import SUM_OF, Name
from optiselect.solver.option import Option
from optiselect.solver.part_list_walk import Field, PartListWalk, Step, bit_of, count, places
from optiselect.solver.progress import Watch
from optiselect.solver.share_tables import NOTHING, Mask
from optiselect.solver.shares import MOST_VALUE, Shares

_MOST_EFFORT = 3.0


@dataclass
class Found:
    """The best part list, with its value and the best that is still possible."""

    mask: Mask
    value: int
    bound: int


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


def without_relatives(shares: Shares, families: Mapping[str, str]) -> list[Mask]:
    """For each part number all that may be on a list with it.

    Args:
        families: for each part number what it stands for, where no list may hold two that stand for the same; others stand for themselves.
    """
    members: dict[str, set[str]] = defaultdict(set)
    for part in shares.parts:
        members[families.get(part, part)].add(part)
    everything = shares.mask_of(shares.parts)
    return [everything & ~shares.mask_of(members[families.get(part, part)] - {part}) for part in shares.parts]


class PartListSearch(PartListWalk):
    """Searches the best list of a field.

    Args:
        allows: for each part number all that may be on a list with it.
    """

    def __init__(self, field: Field, watch: Watch, allows: Sequence[Mask]) -> None:
        super().__init__(field, watch, _MOST_EFFORT)
        self._allows = allows

    def run(self) -> Found:
        """The best list; its bound is below its value when the effort or the time did not suffice.

        The search does not look at the first list, so that what it finds does not depend on it; only where it is cut short, and has found
        nothing better, the first list stands.
        """
        best = Found(self.field.first, NOTHING, 0)
        while self.goes_on:
            self.steps += self._below(self.steps.pop(), best)
        if self.steps:
            first = self.total(self.tables.offers.only(self.tables.offers.within(self.field.first)))
            if first is not None and first < best.value:
                best = Found(self.field.first, first, 0)
        best.bound = min([best.value, *(step.bound for step in self.steps)])
        self.end()
        return best

    def _below(self, step: Step, best: Found) -> Iterator[Step]:
        """What is left to look at below one step, the last of it first; the best list moves on."""
        while True:
            offers = self.worth_a_look(step)
            worth = self.tables.worth(offers)
            bound = self.tables.total(worth)
            left = self.field.most - count(step.on)
            if bound is None or bound >= best.value:
                return
            needed, one_of = self.more_needed(offers, step.on)
            if left < needed:
                return
            if left == 0:
                value = self.total(offers.only(offers.within(step.on)))
                if value is not None and value < best.value:
                    best.mask, best.value = step.on, value
                return
            wanted = np.bitwise_or.reduce(offers.masks[offers.values == worth[offers.shares]] & ~step.on, axis=0)
            if count(wanted) <= left and self._may_hold(wanted):
                best.mask, best.value = step.on | wanted, bound
                return
            without = self.totals_without(offers, places(wanted))
            musts = [part for part, value in without.items() if value is None or value >= best.value]
            if not musts:
                break
            step = self._with(replace(step, offers=offers), musts)
            if len(musts) > left or (step.on & ~step.not_off).any():
                return
        tight = set(places(wanted & one_of)) or without.keys()
        bound_without, missed = max((without[part] or 0, -part) for part in tight)
        yield replace(step, bound=bound_without, not_off=step.not_off & ~bit_of(-missed, len(step.on)), offers=offers)
        yield self._with(replace(step, bound=bound, offers=offers), [-missed])

    def _with(self, step: Step, parts: Sequence[int]) -> Step:
        """A step with more part numbers on the list, and their relatives off it."""
        on, not_off = step.on, step.not_off
        for part in parts:
            on, not_off = on | bit_of(part, len(on)), not_off & self._allows[part]
        return replace(step, on=on, not_off=not_off)

    def _may_hold(self, parts: Mask) -> bool:
        """Whether a list may hold all of these part numbers."""
        return not any((parts & ~self._allows[part]).any() for part in places(parts))
