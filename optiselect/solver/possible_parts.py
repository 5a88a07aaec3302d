"""Which part numbers are in any plan of the fewest part numbers: all others need not be looked at again.

A walk over part lists that serve (`part_list_walk`), depth first, which turns back where it could meet no part number that it
has not met already.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optiselect.solver.part_list_walk import Mask, PartListWalk, Step, bit_of, count, holds, places, within


class PossibleParts(PartListWalk):
    """Meets every part number that is in some list of at most `most`, beside those that are known to be."""

    def run(self, known: frozenset[str]) -> frozenset[str] | None:
        """The part numbers; None when the effort or the time did not suffice."""
        self._met = self.shares.mask_of(known)
        steps = [Step(0, self.none, self.all, self.shares.offers)]
        while steps and self.goes_on:
            steps += self._below(steps.pop())
        self.end()
        return None if steps else frozenset(self.shares.parts[place] for place in places(self._met))

    def _below(self, step: Step) -> Iterator[Step]:
        """What is left to look at below one step, the last of it first."""
        while True:
            offers = self.worth_a_look(step)
            within_reach = step.on | np.bitwise_or.reduce(offers.masks, axis=0)
            left = self.most - count(step.on)
            if not (within_reach & ~self._met).any() or self.total(offers) is None:
                return
            needed, one_of = self.more_needed(offers, step.on)
            if left < needed:
                return
            if left == 0:
                if self.total(offers.only(within(offers, step.on))) is not None:
                    self._met = self._met | step.on
                return
            asked = one_of if one_of.any() else within_reach & ~step.on
            musts = [part for part in places(asked) if self.total(offers.only(~holds(offers, part))) is None]
            if not musts:
                break
            if len(musts) > left:
                return
            step = replace(step, on=self._with(step.on, musts), offers=offers)
        new = asked & ~self._met
        part = places(new if new.any() else asked)[0]
        yield replace(step, not_off=step.not_off & ~bit_of(part, len(step.on)), offers=offers)
        yield replace(step, on=self._with(step.on, [part]), offers=offers)

    def _with(self, on: Mask, parts: list[int]) -> Mask:
        for part in parts:
            on = on | bit_of(part, len(on))
        return on
