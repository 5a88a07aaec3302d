"""Parts in short stock: the search that leaves them out or charges for them gives what a plan with the stock counted gives."""

from __future__ import annotations

from collections import Counter
from contextlib import nullcontext
from random import Random
from typing import Any

import pytest

from optiselect.errors import Cancelled
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver import part_lists, rounds, same_parts, short_stock
from optiselect.solver.by_part_lists import CutShort
from optiselect.solver.charged import Charged
from optiselect.solver.choice import Name, Stage
from optiselect.solver.chosen import Chosen, better_of
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Scarce
from optiselect.solver.short_stock import _Charge
from optiselect.solver.solve import solve_bare, solve_within
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

PROFILES = ("usual", "tight", "ring", "single-strand")


def site(seed: int) -> tuple[Network, Catalog]:
    """A site with too few of one, two or three parts that its plan would use."""
    draw = Random(seed)
    profile, parts = draw.choice(PROFILES), site_catalog(40, profile="usual", seed=seed)
    network = Network(**site_network(draw.choice((12, 20)), profile=profile, seed=seed))
    used = {line.part: line.used for line in solve_bare(network, Catalog(**parts), Policy()).parts if line.kind == "module"}
    for part in draw.sample(sorted(used), min(draw.choice((1, 1, 2, 3)), len(used))):
        for module in parts["modules"]:
            if module["part"] == part:
                module["stock"] = int(used[part] * draw.choice((0, 0.3, 0.6, 0.9)))
    return network, Catalog(**parts)


def values(plan: Plan) -> tuple[str, list[tuple[str, float, float]]]:
    return plan.status, [(value.name, value.value, value.bound) for value in plan.objective]


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the search for parts in short stock came to, whenever it was asked."""
    told: list[str] = []
    search = rounds.with_short_stock

    def ask(*given: Any) -> Chosen | None:
        found = search(*given)
        told.append("no answer" if found is None else "best" if all(stage.proven for stage in found.stages) else "bound")
        return found

    monkeypatch.setattr(rounds, "with_short_stock", ask)
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    return told


@pytest.mark.parametrize("block", range(5))
def test_plan_is_as_good_as_with_the_stock_counted_from_the_start(block: int, said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    sites = [site(seed) for seed in range(10 + block * 5, 15 + block * 5)]
    found = [values(solve_bare(*documents, Policy())) for documents in sites]
    assert said
    monkeypatch.setattr(rounds, "with_short_stock", lambda *_: None)
    assert found == [values(solve_bare(*documents, Policy())) for documents in sites]


@pytest.mark.parametrize(("seed", "end"), [(15, "best"), (16, "no answer"), (23, "bound")])
def test_it_comes_to_every_end(seed: int, end: str, said: list[str]) -> None:
    assert (solve_bare(*site(seed), Policy()).status, said) == ("optimal", [end])


BOUNDED = site(23)
"""A site where the search leaves a gap."""


def test_bound_without_a_proof_is_no_better_than_the_best_plan_and_the_plan_is_no_better_either(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    best = {value.name: value.value for value in solve_bare(*BOUNDED, Policy()).objective}
    monkeypatch.setattr(rounds, "better_of", lambda one, _: one)
    found = {value.name: value for value in solve_bare(*BOUNDED, Policy()).objective}
    assert found["cost"].bound <= best["cost"] <= found["cost"].value
    assert found["cost"].bound > 0
    assert all(found[name].value == best[name] for name in ("links", "unknowns", "part_numbers"))


def test_answer_stands_where_time_is_over_after_it(said: list[str]) -> None:
    plan = solve_bare(*BOUNDED, Policy(), cancel=lambda: "bound" in said)
    assert (plan.status, plan.unserved) == ("feasible", ())


def test_caller_who_stops_while_it_lists_is_heard(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def cancelled(*_: Any) -> None:
        raise Cancelled

    monkeypatch.setattr(short_stock._Search, "__init__", cancelled)
    solve_bare(*BOUNDED, Policy())
    assert said == ["no answer"]


@pytest.mark.parametrize("effort", [0.0, 2e-4, 5e-4, 1e-3, 3e-3])
@pytest.mark.parametrize("seed", [15, 18])
def test_search_of_lists_that_is_cut_short_settles_no_branch(seed: int, effort: float, said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    documents = *site(seed), Policy()
    best = values(solve_bare(*documents))
    by_part_lists = short_stock.by_part_lists

    def briefly(*given: Any, **named: Any) -> Any:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(part_lists, "_MOST_EFFORT", effort)
            return by_part_lists(*given, **named)

    monkeypatch.setattr(short_stock, "by_part_lists", briefly)
    assert values(solve_bare(*documents)) == best
    if not effort:
        assert said[-1] != "best"


@pytest.mark.parametrize("after", [1, 2, 3, 4])
def test_charges_that_are_cut_short_leave_the_bound_that_they_had(after: int, said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*BOUNDED, Policy()))
    by_part_lists, asked = short_stock.by_part_lists, []

    def cut(*given: Any, **named: Any) -> Any:
        asked.append(given)
        if len(asked) > after:
            raise CutShort
        return by_part_lists(*given, **named)

    monkeypatch.setattr(short_stock, "by_part_lists", cut)
    assert values(solve_bare(*BOUNDED, Policy())) == best
    assert said[-1] != "best"


def test_lists_that_cannot_be_planned_any_more_leave_what_is_known(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*BOUNDED, Policy()))

    def cancelled(*_: Any) -> None:
        raise Cancelled

    monkeypatch.setattr(short_stock, "planned_within", cancelled)
    assert values(solve_bare(*BOUNDED, Policy())) == best


def test_more_part_numbers_than_the_fewest_prove_nothing_of_fewer(said: list[str]) -> None:
    """Under a cap a round may tell more part numbers than the next one takes."""
    assert all(values(plan)[0] == "optimal" for seed in (15, 18, 23) for plan in solve_within(*site(seed), Policy(), [None, 8, 10, 12]))


@pytest.mark.parametrize("branches", [0, 1])
def test_branches_that_are_not_looked_at_leave_the_bound_from_before(branches: int, said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*BOUNDED, Policy()))
    monkeypatch.setattr(short_stock, "_MOST_BRANCHES", branches)
    assert values(solve_bare(*BOUNDED, Policy())) == best


@pytest.mark.parametrize("policy", [Policy(objective=("links", "part_numbers", "strands", "cost")), Policy(objective=("links", "cost", "part_numbers"))])
def test_other_orders_of_objectives_go_the_plain_way(policy: Policy, said: list[str]) -> None:
    assert solve_bare(*BOUNDED, policy).status == "optimal"
    assert set(said) <= {"no answer"}


def test_cap_on_part_numbers_goes_the_plain_way(said: list[str]) -> None:
    fewest, more = solve_within(*BOUNDED, Policy(), [None, 12])
    assert (fewest.status, more.status, set(said)) == ("optimal", "optimal", {"bound"})


def test_time_that_is_over_while_it_charges_leaves_a_sound_plan(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[object] = []

    def look(*given: Any) -> Charged:
        looks.append(given)
        return Charged(*given)

    monkeypatch.setattr(short_stock, "Charged", look)
    solve_bare(*BOUNDED, Policy())
    last = len(looks)
    looks.clear()
    plan = solve_bare(*BOUNDED, Policy(), cancel=lambda: len(looks) >= last - 1)
    assert (plan.status, plan.reproducible) == ("feasible", False)


@pytest.mark.parametrize(("effort", "told"), [(3.0, "answer"), (0.0, "cut short")])
def test_list_that_is_not_found_in_time_is_not_told_to_be_none(effort: float, told: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the part that is short, the plan that is known does not serve."""
    asked: list[tuple[Any, Any]] = []
    by_part_lists = short_stock.by_part_lists

    def listen(*given: Any, **named: Any) -> Any:
        if named["off"]:
            asked.append((given, named))
        return by_part_lists(*given, **named)

    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    monkeypatch.setattr(short_stock, "by_part_lists", listen)
    solve_bare(*site(15), Policy())
    ((given, named), *_) = asked
    monkeypatch.setattr(part_lists, "_MOST_EFFORT", effort)
    with pytest.raises(CutShort) if told == "cut short" else nullcontext():
        assert by_part_lists(*given, **named) is not None
    everything = {**named, "off": frozenset(part for option in given[3].values() for part in option.names)}
    with pytest.raises(CutShort) if told == "cut short" else nullcontext():
        assert by_part_lists(*given, **everything) is None


# -- charges ------------------------------------------------------------------------------------------------------


def test_charged_options_cost_more_and_take_nothing_of_stock() -> None:
    network, catalog = site(1)
    preparation = Preparation(network, catalog, Policy(), Watch(None, None, 60.0, 60.0))
    preparation.run()
    stock = frozenset(module.part for module in catalog.modules if module.stock is not None)
    prepared = preparation.counting(Scarce(stock=stock), may_stop=False)
    charges = {("stock", part): 700 for part in stock}
    charged = Charged(prepared, charges)
    pairs = [
        (was, now) for link_id, found in prepared.options.items() for was, now in zip(found.options, charged.prepared.options[link_id].options, strict=True)
    ]
    assert any(was.uses for was, _ in pairs)
    for was, now in pairs:
        assert now.cost - was.cost == 700 * sum(amount for _, amount in was.uses)
        assert (now.names, now.uses, charged.used([now])) == (was.names, (), Counter(dict(was.uses)))


def test_charge_ends_where_the_bound_is_highest() -> None:
    """A bound that rises by 5 up to a charge of 33,000, and falls by 2 from there."""
    charge, looked = _Charge(), []
    while True:
        looked.append(charge.now)
        rises = charge.now < 33_000
        if not charge.moves(5 * charge.now if rises else 165_000 - 2 * (charge.now - 33_000), 5 if rises else -2):
            break
    assert looked[-1] == 33_000
    assert len(looked) < 8


@pytest.mark.parametrize(
    ("looks", "now", "moves"),
    [
        ([(0, -3)], 0, False),  # there is enough from the start
        ([(0, 4)], 10_000, True),
        ([(0, 4), (40_000, 4)], 20_000, True),
    ],
)
def test_charge_moves_where_the_bound_rises(looks: list[tuple[int, int]], now: int, moves: bool) -> None:
    charge = _Charge()
    assert [charge.moves(*look) for look in looks][-1] is moves
    assert charge.now == now


def test_charge_that_was_too_high_from_the_start_is_halved() -> None:
    charge = _Charge(now=8_000)
    assert (charge.moves(5, -1), charge.now) == (True, 4_000)


# -- the better of two answers ------------------------------------------------------------------------------------


def answer(*stages: tuple[Name, int, int]) -> Chosen:
    return Chosen(None, Scarce(), [Stage(*stage) for stage in stages], {}, {})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "other", "better"),
    [
        ([("links", 5, 5), ("cost", 9, 3)], [("links", 5, 7), ("cost", 8, 2)], [("links", 5, 5), ("cost", 8, 3)]),
        ([("links", 5, 5), ("cost", 9, 3)], [("links", 4, 5), ("cost", 7, 7)], [("links", 5, 5), ("cost", 9, 3)]),
        ([("links", 5, 5), ("cost", 9, 3)], [("links", 5, 5), ("cost", 9, 9)], [("links", 5, 5), ("cost", 9, 9)]),
        ([("links", 6, 7), ("cost", 9, 3)], [("links", 5, 6), ("cost", 1, 1)], [("links", 6, 6), ("cost", 9, 3)]),
    ],
)
def test_better_answer_with_what_either_proves(one: Any, other: Any, better: Any) -> None:
    assert better_of(answer(*one), answer(*other)).stages == [Stage(*stage) for stage in better]
    assert better_of(answer(*other), answer(*one)).stages == [Stage(*stage) for stage in better]
