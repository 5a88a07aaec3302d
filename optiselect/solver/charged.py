"""Options that cost more for what they take of stock, and take nothing of it: no link is joined to another by stock any more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from optiselect.solver.option import Option, OptionList
from optiselect.solver.prepare import Prepared
from optiselect.solver.scarce import Resource


class Charged:
    """The options of all links at charges.

    Args:
        charges: by stock, what is charged for a unit, in ten-thousandths of the currency.

    Attributes:
        prepared: with these options. originals: by identity of each, the option as it was.
    """

    def __init__(self, prepared: Prepared, charges: Mapping[Resource, int]) -> None:
        self._charges = charges
        self.originals: dict[int, Option] = {}
        self._taken: dict[int, tuple[tuple[Resource, int], ...]] = {}
        lists: dict[int, tuple[Option, ...]] = {}
        options: dict[str, OptionList] = {}
        for link_id, found in prepared.options.items():
            if id(found.options) not in lists:
                lists[id(found.options)] = tuple([self._option(option) for option in found.options])
            rest = tuple([resource for resource in found.taken if resource not in charges])
            options[link_id] = replace(found, options=lists[id(found.options)], taken=rest)
        capacity = {resource: amount for resource, amount in prepared.capacity.items() if resource not in charges}
        self.prepared = replace(prepared, options=options, capacity=capacity, before=None)

    def _option(self, option: Option) -> Option:
        taken = tuple([use for use in option.uses if use[0] in self._charges])
        if not taken:
            return option
        rest = tuple([use for use in option.uses if use[0] not in self._charges])
        charged = replace(option, cost=option.cost + sum(self._charges[resource] * amount for resource, amount in taken), uses=rest)
        self._taken[id(charged)], self.originals[id(charged)] = taken, option  # its list holds it
        return charged

    def used(self, options: Iterable[Option]) -> Counter[Resource]:
        """What these options take of stock."""
        used: Counter[Resource] = Counter()
        for option in options:
            used.update(dict(self._taken.get(id(option), ())))
        return used
