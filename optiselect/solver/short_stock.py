"""Parts in short stock: a search over part lists that first leaves such a part out, then puts it on the list.

A part of which there is not enough joins all links that could use it, so that no cluster is small any more. Two things help.

Without the part, its stock joins nothing: where what is best then keeps to the stock of all others, it is best of all plans without it.

With the part on the list, its units are charged beyond their price, and what is in stock is given back at the same rate. No plan that
keeps to the stock becomes dearer by this, for it pays for no more units than are given back. So the cheapest plan at such charges, stock
or no stock, tells what every plan with the part costs at least. The charges rise while too many are taken, and fall while there are
enough. Where that bound is above what is known, no such plan is best; else the lists that are best on either side are planned with the
stock counted, and the bound is told.

Everything that comes before the cost is as good as it was without the stock, or there is no answer here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from optiselect.errors import Cancelled
from optiselect.solver.by_part_lists import Answer, CutShort, by_part_lists
from optiselect.solver.charged import Charged
from optiselect.solver.choice import Stage, settled_first
from optiselect.solver.chosen import Chosen, values_of
from optiselect.solver.option import Wanted, parts_of
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.same_parts import planned_within
from optiselect.solver.scarce import Resource, Scarce
from optiselect.solver.task import TaskMaker

_MOST_LOOKS, _MOST_BRANCHES = 10, 24
_FIRST_CHARGE = 10_000
"""One unit of the currency."""
_NONE: frozenset[str] = frozenset()


def with_short_stock(preparation: Preparation, before: Chosen, counted: Scarce, tasks: TaskMaker, watch: Watch) -> Chosen | None:
    """The best answer that keeps to what is counted, as good as the one before in everything before the cost; None where that is not to be had.

    Args:
        before: the best answer where less was counted, which `may_follow`.
    """
    next_ = len(settled_first(tasks.objectives, tasks.plans_spares)) + 1
    if tasks.objectives[next_ : next_ + 1] != ("cost",):
        return None
    try:
        search = _Search(preparation, before, counted, tasks, watch)
    except Cancelled:
        return None
    return search.run()


class _Search:
    """Branches on whether parts in short stock are on the list."""

    def __init__(self, preparation: Preparation, before: Chosen, counted: Scarce, tasks: TaskMaker, watch: Watch) -> None:
        self._preparation, self._before, self._counted, self._tasks, self._watch = preparation, before, counted, tasks, watch
        self._prepared = preparation.counting(counted, may_stop=True, wanted=Wanted(only=before.possible), has_plan=True)
        self._stock = {resource: amount for resource, amount in self._prepared.capacity.items() if resource[0] == "stock"}
        self._settled = settled_first(tasks.objectives, tasks.plans_spares)
        self._stages = before.stages[: len(self._settled) + 1]
        self._after = tasks.objectives[len(self._stages) :]
        self._best: Chosen | None = None
        self._left: list[int] = []
        """What plans cost at least in branches that are not settled."""

    def run(self) -> Chosen | None:
        """The best answer of all branches; the cost at least of those that are not settled is its bound."""
        branches = [(_NONE, _NONE)]
        for _ in range(_MOST_BRANCHES):
            if not branches or self._watch.is_over:
                break
            branches += self._below(*branches.pop())
        best = self._best
        if best is None:
            return None
        bound = min([self._before.stages[len(self._stages)].bound] if branches else self._left, default=None)
        if bound is None or bound > best.stages[len(self._stages)].value:
            return best
        cost, *rest = best.stages[len(self._stages) :]
        return replace(best, stages=[*self._stages, Stage("cost", cost.value, bound), *(Stage(stage.name, stage.value, 0) for stage in rest)])

    def _below(self, off: frozenset[str], on: frozenset[str]) -> list[tuple[frozenset[str], frozenset[str]]]:
        """What is left to look at below a branch, the last of it first; the best answer moves on."""
        try:
            found = self._at(dict.fromkeys(self._stock, 0), off, on)
        except CutShort:
            self._left.append(self._before.stages[len(self._stages)].bound)
            return []
        if found is None:
            return []
        (stages, options), used = found
        if stages[0].bound > self._cost:
            return []
        short = sorted(resource[1] for resource, amount in self._stock.items() if used[resource] > amount)
        if not short and all(stage.proven for stage in stages):
            self._take(Chosen(self._prepared, self._counted, [*self._stages, *stages], {}, options, by_lists=True))
            return []
        open_ = [part for part in short if part not in on]
        if not open_:
            self._charge(off, on, stages[0].bound)
            return []
        return [(off, on | {open_[0]}), (off | {open_[0]}, on)]

    @property
    def _cost(self) -> float:
        return self._best.stages[len(self._stages)].value if self._best is not None else float("inf")

    def _take(self, chosen: Chosen) -> None:
        if self._best is None or [stage.value for stage in chosen.stages] < [stage.value for stage in self._best.stages]:
            self._best = replace(chosen, possible=self._before.possible, fewest_confirmed=self._before.fewest_confirmed)

    def _charge(self, off: frozenset[str], on: frozenset[str], bound: int) -> None:
        """Charge for what is short, until no plan of this branch can be better than what is known; else plan what looks best."""
        charges = {resource: _Charge() for resource in self._stock}
        lists: dict[bool, frozenset[str]] = {}
        for _ in range(_MOST_LOOKS):
            try:
                found = self._at({resource: charge.now for resource, charge in charges.items()}, off, on)
            except CutShort:
                break
            if found is None or self._watch.is_over:
                break
            (stages, options), used = found
            here = stages[0].bound - sum(charges[resource].now * amount for resource, amount in self._stock.items())
            bound = max(bound, here)
            if bound > self._cost:
                return
            short = {resource for resource, amount in self._stock.items() if used[resource] > amount}
            lists[not short] = parts_of(options.values())
            moved = [charge.moves(here, used[resource] - self._stock[resource]) for resource, charge in charges.items()]
            if not any(moved):
                break
        for names in dict.fromkeys(lists[enough] for enough in (True, False) if enough in lists):
            try:
                chosen = planned_within(names, self._preparation, self._counted, self._tasks, self._watch)
            except Cancelled:
                break
            if [stage.value for stage in chosen.stages[: len(self._stages)]] == [stage.value for stage in self._stages]:
                self._take(chosen)
        self._left.append(bound)

    def _at(self, charges: Mapping[Resource, int], off: frozenset[str], on: frozenset[str]) -> tuple[Answer, Counter[Resource]] | None:
        """What is cheapest at charges, whatever is in stock, and what it takes of that; None where no list will do."""
        charged = Charged(self._prepared, charges)
        first, families = self._before.options, self._preparation.replaced_at_any_price
        answer = by_part_lists(charged.prepared, self._settled, self._after, first, self._watch, most=None, families=families, on=on, off=off)
        if answer is None:
            return None
        stages, options = answer
        values = values_of(self._prepared, options, {})
        if any(values[stage.name] != stage.value for stage in self._stages):
            return None  # what else is counted now leaves less
        return (stages, {link_id: charged.originals.get(id(option), option) for link_id, option in options.items()}), charged.used(options.values())


@dataclass
class _Charge:
    """What is charged for a unit of a part. What plans cost at least is a concave function of it.

    Attributes:
        low, high: charges at which too many were taken, and at which there was enough; each with the bound there and how it rises with the charge.
    """

    now: int = 0
    low: tuple[int, int, int] | None = None
    high: tuple[int, int, int] | None = None

    def moves(self, bound: int, rise: int) -> bool:
        """Move to where the bound may be highest, from a bound and its rise at this charge; False where that is here."""
        was = self.now
        if rise > 0:
            self.low = was, bound, rise
        elif was:
            self.high = was, bound, rise
        if self.low is None:
            self.now = was // 2
        elif self.high is None:
            self.now = max(2 * was, _FIRST_CHARGE)
        else:
            (left, at_left, up), (right, at_right, down) = self.low, self.high
            self.now = (at_right - at_left + up * left - down * right) // (up - down)
            return left < self.now < right  # else the bound is highest where it was looked at
        return self.now != was
