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
        objectives: with the strands at the end or without.
        cut: the chance that a search of lists ends without an answer. loose: that it leaves a gap. busy: that a plan is not made in time.
        gone: that there is no list at charges. over: after so many searches time is over.
    """

    draw: Random
    plans: list[Whole]
    stock: dict[str, int]
    objectives: tuple[str, ...] = OBJECTIVES
    cut: float = 0.0
    loose: float = 0.0
    busy: float = 0.0
    gone: float = 0.0
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
    def best(self) -> tuple[int, ...] | None:
        """Cost and strands of the best plan that keeps to the stock and serves as many links as without it."""
        return min([(plan.cost, plan.strands)[: len(self.objectives) - 2] for plan in self.within_stock], default=None)

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
        assert charges.keys() == {("stock", part) for part in self.stock}
        self.asked.append(dict(charges))
        return SimpleNamespace(prepared=charges, originals={}, used=lambda options: self.used(*options))

    def used(self, plan: Whole) -> Counter[Any]:
        return Counter({("stock", part): plan.takes(part) for part in self.stock})

    def by_part_lists(self, charges: Mapping[Any, int], settled: Any, after: Any, *_: Any, **named: Any) -> Any:
        assert (settled, after) == (("links",), self.objectives[2:])
        if self.draw.random() < self.cut:
            raise CutShort
        serving = [plan for plan in self.plans if named["on"] <= plan.names and not named["off"] & plan.names]
        if not serving or (any(charges.values()) and self.draw.random() < self.gone):
            return None
        cost = {plan: plan.cost + sum(charge * plan.takes(part) for (_, part), charge in charges.items()) for plan in serving}
        found = min(serving, key=lambda plan: (-plan.links, cost[plan], plan.strands))
        if self.draw.random() < self.loose:
            bound = cost[found] - self.draw.choice((0, 1, 20_000))
            found = self.draw.choice([plan for plan in serving if plan.links == found.links])
            return [Stage("cost", cost[found], bound), Stage("strands", found.strands, 0)][: len(after)], {"L": found}
        return [Stage("cost", cost[found], cost[found]), Stage("strands", found.strands, found.strands)][: len(after)], {"L": found}

    def planned_within(self, names: frozenset[str], *_: Any) -> Chosen:
        if self.draw.random() < self.busy:
            raise Cancelled
        plans = [plan for plan in self.plans if plan.names <= names and self.keeps(plan)]
        if not plans:
            return chosen_of([Stage(name, 0, 0) for name in self.objectives], {})  # type: ignore[arg-type]
        return chosen_of(self.stages_of(min(plans, key=lambda plan: (-plan.links, plan.cost, plan.strands))), {})

    def stages_of(self, plan: Whole) -> list[Stage]:
        values = (plan.links, len(plan.names), plan.cost, plan.strands)
        return [Stage(name, value, value) for name, value in zip(self.objectives, values, strict=False)]  # type: ignore[arg-type]


def chosen_of(stages: list[Stage], options: Mapping[str, Any]) -> Chosen:
    return Chosen(None, Scarce(), stages, {}, options)  # type: ignore[arg-type]


def before(site: Site) -> Chosen:
    """The answer where stock was not counted."""
    first = chosen_of(site.stages_of(site.cheapest), {"L": site.cheapest})
    first.possible, first.fewest_confirmed = frozenset(PARTS), True
    return first


def made_up(seed: int, **cut: Any) -> Site:
    """Plans of two or three part numbers, some of them cheap and in short stock."""
    draw = Random(seed)
    fewest = draw.choice((2, 3))
    stock = {part: draw.randint(0, 3) for part in draw.sample(PARTS, draw.choice((1, 2, 2, 3)))}
    plans = list(_plans(draw, fewest, stock))
    return Site(draw, plans, stock, OBJECTIVES[: draw.choice((3, 4, 4))], **cut)


def _plans(draw: Random, fewest: int, stock: Mapping[str, int]) -> Iterator[Whole]:
    savings, step, steps = draw.choice((((3_000, 9_000, 20_000), 5_000, (60, 90)), ((0, 10_000, 20_000), 10_000, (30, 36))))  # the latter often cost the same
    worse = draw.choice((0.15, 0.15, 0.7))
    for names in combinations(PARTS, fewest):
        for _ in range(draw.randint(1, 4)):
            units = tuple((part, draw.randint(1, 5)) for part in names)
            saved = sum(count * draw.choice(savings) for part, count in units if part in stock)
            cost = step * draw.randint(*steps) - saved
            yield Whole(frozenset(names), 5 - (draw.random() < worse), cost, draw.randint(0, 3), units)


def searched(site: Site, patch: pytest.MonkeyPatch) -> Chosen | None:
    patch.setattr(short_stock, "Charged", site.charged)
    patch.setattr(short_stock, "by_part_lists", site.by_part_lists)
    patch.setattr(short_stock, "planned_within", site.planned_within)
    patch.setattr(short_stock, "values_of", lambda _, options, __: {stage.name: stage.value for stage in site.stages_of(options["L"])})
    tasks = SimpleNamespace(objectives=site.objectives, plans_spares=False)
    given: Any = (site, before(site), Scarce(stock=frozenset(site.stock)), tasks, site)
    return short_stock.with_short_stock(*given)


CUTS: dict[str, dict[str, Any]] = {
    "not cut": {},
    "searches that leave a gap": {"loose": 0.5},
    "searches without an answer": {"cut": 0.3},
    "plans that are not made": {"busy": 0.5},
    "no lists at charges": {"gone": 0.4},
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


@pytest.mark.parametrize(("looks", "proven"), [(1, 8), (3, 25), (10, 60)])
def test_most_are_proven_or_bounded_where_nothing_is_cut(looks: int, proven: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(short_stock, "_MOST_LOOKS", looks)
    told = told_of(monkeypatch)
    assert told["best"] >= proven
    assert told["nothing"] <= 15


def told_of(patch: pytest.MonkeyPatch, **cut: Any) -> Counter[str]:
    """What is told of how many sites."""
    sites = [made_up(seed, **cut) for seed in range(SITES)]
    return Counter(what_is_told(searched(site, patch), site) for site in sites)


def what_is_told(found: Chosen | None, site: Site) -> str:
    """In a word, as far as it is true."""
    if found is None:
        return "nothing"
    links, numbers, *rest = found.stages
    values, bounds = tuple(stage.value for stage in rest), tuple(stage.bound for stage in rest)
    if site.best is None or site.best > values:
        return "better than any plan"
    if [links, numbers] != before(site).stages[:2] or (found.possible, found.fewest_confirmed) != (frozenset(PARTS), True):
        return "something else than was known before"
    if bounds[0] > site.best[0] or (values[0] == site.best[0] and bounds > site.best):
        return "a bound that a plan beats"
    if tuple(stage.name for stage in found.stages) != site.objectives:
        return "other objectives"
    return "best" if values == bounds else "bound"


# -- sites of a few plans -----------------------------------------------------------------------------------------


def plan(names: str, cost: int, strands: int = 0, links: int = 5, **units: int) -> Whole:
    return Whole(frozenset(names), links, cost, strands, tuple(units.items()))


SHORT_OF_A = [plan("AC", 100_000, 1, A=2), plan("BC", 190_000, 3)]
"""The cheapest plan takes two units of A, of which there is one."""
FEW: dict[str, tuple[list[Whole], list[tuple[int, int]] | None]] = {
    "the cheapest of the rest": (SHORT_OF_A, [(190_000, 190_000), (3, 3)]),
    "another that costs the same, with fewer strands": (
        [plan("AC", 190_000, 1, A=2), plan("AC", 190_000, 2, A=1), plan("BC", 190_000, 3)],
        [(190_000, 190_000), (2, 0)],
    ),
    "one that takes as much as there is": ([*SHORT_OF_A, plan("AC", 150_000, 2, A=1)], [(150_000, 150_000), (2, 0)]),
    "another list of which there is enough, looked at before one of which there is not": (
        [plan("AC", 100_000, 1, A=3), plan("AD", 150_000, 2, A=1), plan("BC", 190_000, 3)],
        [(150_000, 150_000), (2, 0)],
    ),
    "a list that is looked at only where it takes too much": (
        [plan("AC", 100_000, 1, A=2), plan("AC", 115_000, 2, A=1), plan("AD", 120_000, 3), plan("BC", 190_000, 3)],
        [(115_000, 110_000), (2, 0)],
    ),
    "a gap, as small as a charge makes it": (
        [plan("AC", 100_000, 1, A=3), plan("AD", 150_000, 2), plan("BC", 190_000, 3)],
        [(150_000, 133_332), (2, 0)],  # at 1.6666 a unit: 100,000 and 2 units beyond the stock, or 150,000 and one unit given back
    ),
    "nothing as good": ([SHORT_OF_A[0], plan("BC", 90_000, links=4)], None),
}


@pytest.mark.parametrize(("plans", "told"), FEW.values(), ids=FEW)
def test_what_is_told_of_a_site_with_a_few_plans(plans: list[Whole], told: list[tuple[int, int]] | None, monkeypatch: pytest.MonkeyPatch) -> None:
    found = searched(Site(Random(0), plans, {"A": 1}), monkeypatch)
    assert (found and [(stage.value, stage.bound) for stage in found.stages[2:]]) == told


def test_answer_of_the_search_over_lists_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    found = searched(Site(Random(0), SHORT_OF_A, {"A": 1}), monkeypatch)
    assert found is not None
    assert (found.by_lists, found.options) == (True, {"L": SHORT_OF_A[1]})


@pytest.mark.parametrize(
    ("looks", "now", "moves"),
    [
        ([(0, 4)], 10_000, True),
        ([(0, 4), (40_000, 4)], 20_000, True),
        ([(0, 4), (40_000, 4), (30_001, -3)], 12_857, True),  # 40,000 and 4 a unit from 10,000; 30,001 and 3 a unit back from 20,000
        ([(0, 4), (30_000, 0)], 7_500, True),  # as many as there are is enough
        ([(0, 4), (40_000, -2)], 10_000, False),  # highest where it was looked at last
        ([(40_000, 4), (20_000, -2)], 0, False),  # highest where it was looked at first
        ([(0, -3)], 0, False),
    ],
)
def test_charge_moves_to_where_two_slopes_meet(looks: list[tuple[int, int]], now: int, moves: bool) -> None:
    charge = short_stock._Charge()
    assert [charge.moves(*look) for look in looks][-1] is moves
    assert (charge.now, type(charge.now)) == (now, int)


def test_charge_that_was_too_high_from_the_start_is_halved_in_whole_units() -> None:
    charge = short_stock._Charge(now=8_001)
    assert charge.moves(5, -1)
    assert (charge.now, type(charge.now)) == (4_000, int)
