"""The search for parts in short stock against plain enumeration: on small made-up sites of which every plan is written down.

Instead of the search over part lists, the cheapest of those plans is looked up. What the search tells as proven must be best of all
plans that keep to the stock, and what it tells as a bound no such plan may beat, wherever it is cut short.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.errors import Cancelled
from optiselect.solver import short_stock
from optiselect.solver.by_part_lists import CutShort
from optiselect.solver.choice import Stage
from optiselect.solver.chosen import Chosen
from optiselect.solver.option import Wanted
from optiselect.solver.scarce import Scarce

PARTS = "ABCDE"
SITES = 150
OBJECTIVES = ("links", "part_numbers", "cost", "strands")
TASKS: Any = SimpleNamespace(objectives=OBJECTIVES, plans_spares=False)


@dataclass(frozen=True, eq=False)
class Whole:
    """A plan of the whole site; the search takes it for the option of its only link."""

    names: frozenset[str]
    links: int
    cost: int
    strands: int
    units: tuple[tuple[str, int], ...]
    pick: None = None

    def takes(self, part: str) -> int:
        return dict(self.units).get(part, 0)


@dataclass
class Site:
    """All plans of the fewest part numbers, what is in stock, and how often what is asked is cut short.

    Attributes:
        cut: the chance that a search of lists ends without an answer. loose: that it leaves a gap. busy: that a plan is not made in time.
        over: after so many searches time is over.
    """

    draw: Random
    plans: list[Whole]
    stock: dict[str, int]
    cut: float = 0.0
    loose: float = 0.0
    busy: float = 0.0
    over: int = 10**6
    asked: list[dict[Any, int]] = field(default_factory=list)

    @property
    def cheapest(self) -> Whole:
        """Whatever is in stock."""
        return min(self.plans, key=lambda plan: (-plan.links, plan.cost, plan.strands))

    @property
    def within_stock(self) -> list[Whole]:
        most = self.cheapest.links
        return [plan for plan in self.plans if plan.links == most and self.keeps(plan)]

    def keeps(self, plan: Whole) -> bool:
        return all(plan.takes(part) <= amount for part, amount in self.stock.items())

    @property
    def best(self) -> tuple[int, int] | None:
        """Cost and strands of the best plan that keeps to the stock and serves as many links as without it."""
        return min([(plan.cost, plan.strands) for plan in self.within_stock], default=None)

    # -- what the search asks -------------------------------------------------------------------------------------

    def counting(self, *_: Any, **named: Any) -> Any:
        assert named == {"may_stop": True, "has_plan": True, "wanted": Wanted(only=frozenset(PARTS))}  # a caller who stops is heard at once
        capacity = {("stock", part): amount for part, amount in self.stock.items()} | {("strands", "R"): 2}
        return SimpleNamespace(capacity=capacity)

    replaced_at_any_price: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_over(self) -> bool:
        return len(self.asked) >= self.over

    def charged(self, _: Any, charges: Mapping[Any, int]) -> Any:
        self.asked.append(dict(charges))
        return SimpleNamespace(prepared=charges, originals={}, used=lambda options: self.used(*options))

    def used(self, plan: Whole) -> Counter[Any]:
        return Counter({("stock", part): plan.takes(part) for part in self.stock})

    def by_part_lists(self, charges: Mapping[Any, int], settled: Any, after: Any, *_: Any, **named: Any) -> Any:
        assert (settled, after) == (("links",), ("cost", "strands"))
        if self.draw.random() < self.cut:
            raise CutShort
        serving = [plan for plan in self.plans if named["on"] <= plan.names and not named["off"] & plan.names]
        if not serving:
            return None
        cost = {plan: plan.cost + sum(charge * plan.takes(part) for (_, part), charge in charges.items()) for plan in serving}
        found = min(serving, key=lambda plan: (-plan.links, cost[plan], plan.strands))
        if self.draw.random() < self.loose:
            bound = cost[found] - self.draw.choice((0, 1, 20_000))
            found = self.draw.choice([plan for plan in serving if plan.links == found.links])
            return [Stage("cost", cost[found], bound), Stage("strands", found.strands, 0)], {"L": found}
        return [Stage("cost", cost[found], cost[found]), Stage("strands", found.strands, found.strands)], {"L": found}

    def planned_within(self, names: frozenset[str], *_: Any) -> Chosen:
        if self.draw.random() < self.busy:
            raise Cancelled
        plans = [plan for plan in self.plans if plan.names <= names and self.keeps(plan)]
        if not plans:
            return chosen_of([Stage("links", 0, 0), Stage("part_numbers", 0, 0), Stage("cost", 0, 0), Stage("strands", 0, 0)], {})
        return chosen_of(stages_of(min(plans, key=lambda plan: (-plan.links, plan.cost, plan.strands))), {})


def stages_of(plan: Whole) -> list[Stage]:
    values = {"links": plan.links, "part_numbers": len(plan.names), "cost": plan.cost, "strands": plan.strands}
    return [Stage(name, value, value) for name, value in values.items()]  # type: ignore[arg-type]


def chosen_of(stages: list[Stage], options: Mapping[str, Any]) -> Chosen:
    return Chosen(None, Scarce(), stages, {}, options)  # type: ignore[arg-type]


def before(site: Site) -> Chosen:
    """The answer where stock was not counted."""
    first = chosen_of(stages_of(site.cheapest), {"L": site.cheapest})
    first.possible, first.fewest_confirmed = frozenset(PARTS), True
    return first


def made_up(seed: int, **cut: Any) -> Site:
    """Plans of two or three part numbers, some of them cheap and in short stock."""
    draw = Random(seed)
    fewest = draw.choice((2, 3))
    stock = {part: draw.randint(0, 3) for part in draw.sample(PARTS, draw.choice((1, 2, 2, 3)))}
    plans = list(_plans(draw, fewest, stock))
    return Site(draw, plans, stock, **cut)


def _plans(draw: Random, fewest: int, stock: Mapping[str, int]) -> Iterator[Whole]:
    savings, step, steps = draw.choice((((3_000, 9_000, 20_000), 5_000, (60, 90)), ((0, 10_000, 20_000), 10_000, (30, 36))))  # the latter often cost the same
    for names in combinations(PARTS, fewest):
        for _ in range(draw.randint(1, 4)):
            units = tuple((part, draw.randint(1, 5)) for part in names)
            saved = sum(count * draw.choice(savings) for part, count in units if part in stock)
            cost = step * draw.randint(*steps) - saved
            yield Whole(frozenset(names), 5 - (draw.random() < 0.15), cost, draw.randint(0, 3), units)


def searched(site: Site, patch: pytest.MonkeyPatch) -> Chosen | None:
    patch.setattr(short_stock, "Charged", site.charged)
    patch.setattr(short_stock, "by_part_lists", site.by_part_lists)
    patch.setattr(short_stock, "planned_within", site.planned_within)
    patch.setattr(short_stock, "values_of", lambda _, options, __: {stage.name: stage.value for stage in stages_of(options["L"])})
    given: Any = (site, before(site), Scarce(stock=frozenset(site.stock)), TASKS, site)
    return short_stock.with_short_stock(*given)


CUTS: dict[str, dict[str, Any]] = {
    "not cut": {},
    "searches that leave a gap": {"loose": 0.5},
    "searches without an answer": {"cut": 0.3},
    "plans that are not made": {"busy": 0.5},
    "time that is over": {"over": 4},
    "all of it": {"cut": 0.1, "loose": 0.3, "busy": 0.3, "over": 8},
}


@pytest.mark.parametrize("looks", [1, 3, 10])
@pytest.mark.parametrize("branches", [1, 2, 24])
@pytest.mark.parametrize("cut", CUTS.values(), ids=CUTS)
def test_no_plan_that_keeps_to_the_stock_beats_what_is_told(cut: dict[str, Any], branches: int, looks: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(short_stock, "_MOST_BRANCHES", branches)
    monkeypatch.setattr(short_stock, "_MOST_LOOKS", looks)
    told = told_of(monkeypatch, **cut)
    assert told.keys() <= {"nothing", "best", "bound"}
    assert told["best"]


def test_most_are_proven_or_bounded_where_nothing_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    told = told_of(monkeypatch)
    assert told["best"] >= 70
    assert told["nothing"] <= 2


def told_of(patch: pytest.MonkeyPatch, **cut: Any) -> Counter[str]:
    """What is told of how many sites."""
    sites = [made_up(seed, **cut) for seed in range(SITES)]
    return Counter(what_is_told(searched(site, patch), site) for site in sites)


def what_is_told(found: Chosen | None, site: Site) -> str:
    """In a word, as far as it is true."""
    if found is None:
        return "nothing"
    links, numbers, cost, strands = found.stages
    if site.best is None or site.best > (cost.value, strands.value):
        return "better than any plan"
    if [links, numbers] != before(site).stages[:2] or (found.possible, found.fewest_confirmed) != (frozenset(PARTS), True):
        return "something else than was known before"
    if cost.bound > site.best[0] or (cost.value == site.best[0] and strands.bound > site.best[1]):
        return "a bound that a plan beats"
    return "best" if cost.proven and strands.proven else "bound"
