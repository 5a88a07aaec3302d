"""Which part numbers are in any plan of the fewest part numbers: all others need not be looked at again.

A walk over part lists that serve (`part_list_walk`), depth first, which turns back where it could meet no part number that it
has not met already.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optiselect.solver.part_list_walk import Field, PartListWalk, Step, bit_of, count, places
from optiselect.solver.progress import Watch
from optiselect.solver.share_tables import Mask, Offers


class PossibleParts(PartListWalk):
    """Meets every part number that is in some list of a field, beside those of its first list."""

    def __init__(self, field: Field, watch: Watch, most_effort: float) -> None:
        super().__init__(field, watch, most_effort)
        self._met = field.first

    def run(self) -> Mask | None:
        """The part numbers; None when the effort or the time did not suffice."""
        while self.goes_on:
            self.steps += self._below(self.steps.pop())
        self.end()
        return None if self.steps else self._met

    def _below(self, step: Step) -> Iterator[Step]:
        """What is left to look at below one step, the last of it first."""
        while True:
            offers = self.worth_a_look(step)
            within_reach = step.on | np.bitwise_or.reduce(offers.masks, axis=0)
            left = self.field.most - count(step.on)
            if not (within_reach & ~self._met).any() or self.total(offers) is None:
                return
            needed, one_of = self.more_needed(offers, step.on)
            if left < needed:
                return
            too_many = [part for part in places(within_reach & ~self._met & ~step.on) if self._is_one_too_many(step, offers, part)]
            if too_many:
                step = replace(step, not_off=step.not_off & ~self._with(np.zeros_like(step.on), too_many), offers=offers)
                continue
            if left == 0:
                if self.total(offers.only(offers.within(step.on))) is not None:
                    self._met = self._met | step.on
                return
            asked = one_of if one_of.any() else within_reach & ~step.on
            musts = [part for part, value in self.totals_without(offers, places(asked)).items() if value is None]
            if not musts:
                break
            if len(musts) > left:
                return
            step = replace(step, on=self._with(step.on, musts), offers=offers)
        new = asked & ~self._met
        part = places(new if new.any() else asked)[0]
        yield replace(step, not_off=step.not_off & ~bit_of(part, len(step.on)), offers=offers)
        yield replace(step, on=self._with(step.on, [part]), offers=offers)

    def _is_one_too_many(self, step: Step, offers: Offers, part: int) -> bool:
        """Whether more part numbers are needed beside this one than there is room for."""
        on = self._with(step.on, [part])
        return self.field.most - count(on) < self.more_needed(offers, on)[0]

    def _with(self, on: Mask, parts: list[int]) -> Mask:
        for part in parts:
            on = on | bit_of(part, len(on))
        return on
