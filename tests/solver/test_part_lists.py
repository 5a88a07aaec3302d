"""The search over part lists, against every part list there is and against a model of ways."""

from itertools import combinations

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import rounds, share_tables
from optiselect.solver.part_list_walk import fields_of
from optiselect.solver.part_lists import PartListSearch, weights_of, without_relatives
from optiselect.solver.possible_parts import PossibleParts
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Scarce
from optiselect.solver.shares import Shares
from optiselect.solver.solve import solve_bare
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
from tests.solver.families import case

SITES = [(profile, seed) for profile in ("usual", "tight", "ring", "single-strand") for seed in (3, 4, 5)]


def shares_of(network: Network, catalog: Catalog, policy: Policy) -> Shares:
    """The shares of a network, its runs counted, cost before strands."""
    preparation = Preparation(network, catalog, policy, Watch(None, None, 60, 60))
    preparation.run()
    prepared = preparation.counting(Scarce(strands=preparation.may_run_short.strands), may_stop=False)
    lists = [found.options for found in prepared.options.values()]
    weights = weights_of({id(options): (options, len(lists)) for options in lists}, ("cost", "strands"))
    assert weights is not None
    return Shares(prepared.joined, prepared.capacity, prepared.apart, ("links", "unknowns"), weights)


def with_parts(shares: Shares, parts: tuple[str, ...]) -> int | None:
    """What a part list is worth, asked by itself."""
    tables = shares.tables
    return tables.total(tables.worth(tables.offers.only(tables.offers.within(shares.mask_of(parts)))))


def every_list(shares: Shares, most: int) -> dict[tuple[str, ...], int]:
    """All part lists of so many part numbers that serve, with what they are worth."""
    worth = {parts: with_parts(shares, parts) for parts in combinations(shares.parts, min(most, len(shares.parts)))}
    return {parts: value for parts, value in worth.items() if value is not None}


def small_site(profile: str, seed: int) -> tuple[Shares, int, dict[tuple[str, ...], int]]:
    """A site of ten links, the fewest part numbers that it needs, and every list of one part number more."""
    shares = shares_of(Network(**site_network(10, profile=profile, seed=seed)), Catalog(**site_catalog(16, profile=profile, seed=seed)), Policy())
    fewest = next(most for most in range(len(shares.parts) + 1) if every_list(shares, most))
    return shares, fewest + 1, every_list(shares, fewest + 1)


def best_of(shares: Shares, first: tuple[str, ...], most: int | None) -> frozenset[str]:
    """The part numbers that the search takes, field after field."""
    taken = shares.mask_of(first)
    for field in fields_of(shares, frozenset(first), most):
        found = PartListSearch(field, Watch(None, None, 60, 60), without_relatives(shares, {})).run()
        assert found.value == found.bound
        taken = (taken & ~field.open) | found.mask
    return frozenset(part for option in shares.options_with(taken).values() for part in option.names)


@pytest.mark.parametrize(("profile", "seed"), SITES)
def test_no_list_of_more_part_numbers_is_better_than_the_one_found(profile: str, seed: int) -> None:
    shares, most, lists = small_site(profile, seed)
    found = best_of(shares, max(lists, key=lambda parts: lists[parts]), most)
    assert len(found) <= most
    assert with_parts(shares, tuple(found)) == min(lists.values())


@pytest.mark.parametrize("cells", [1, 10_000, 500_000])
@pytest.mark.parametrize(("profile", "seed"), SITES)
def test_lists_that_leave_one_part_number_out_are_summed_together_as_each_by_itself(profile: str, seed: int, cells: int, monkeypatch) -> None:
    monkeypatch.setattr(share_tables, "_CELLS", cells)
    shares = shares_of(Network(**site_network(20, profile=profile, seed=seed)), Catalog(**site_catalog(30, profile=profile, seed=seed)), Policy())
    tables, parts = shares.tables, range(len(shares.parts))
    for kept in (shares.parts, shares.parts[::2], ()):
        offers = tables.offers.only(tables.offers.within(shares.mask_of(kept)))
        by_itself = [with_parts(shares, tuple(part for place, part in enumerate(shares.parts) if part in kept and place != left_out)) for left_out in parts]
        assert tables.totals(offers, offers.without(parts)) == by_itself
    assert any(value is not None for value in tables.totals(tables.offers, tables.offers.without(parts)))


@pytest.mark.parametrize(("profile", "seed"), SITES)
def test_no_list_of_the_fewest_is_better_than_the_one_found_field_by_field(profile: str, seed: int) -> None:
    shares, more, _ = small_site(profile, seed)
    lists = every_list(shares, more - 1)
    found = best_of(shares, max(lists, key=lambda parts: lists[parts]), None)
    assert len(found) == more - 1
    assert with_parts(shares, tuple(found)) == min(lists.values())


@pytest.mark.parametrize(("profile", "seed"), SITES)
def test_every_part_number_of_some_list_of_the_fewest_is_met(profile: str, seed: int) -> None:
    shares, more, _ = small_site(profile, seed)
    lists = list(every_list(shares, more - 1))
    met = shares.mask_of(lists[0])
    for field in fields_of(shares, frozenset(lists[0]), None):
        possible = PossibleParts(field, Watch(None, None, 60, 60), 60).run()
        assert possible is not None
        met |= possible
    assert (met == shares.mask_of({part for parts in lists for part in parts})).all()


@pytest.mark.parametrize("effort", [1e-9, 2e-3, 2e-2])
def test_a_search_that_is_cut_short_tells_a_bound_that_holds(effort: float) -> None:
    shares, most, lists = small_site("usual", 3)
    worst = max(lists, key=lambda parts: lists[parts])
    (field,) = fields_of(shares, frozenset(worst), most)
    found = PartListSearch(field, Watch(None, None, 60, effort), without_relatives(shares, {})).run()
    assert found.bound <= min(lists.values()) <= found.value <= lists[worst]


@pytest.mark.parametrize("seed", range(0, 200, 5))
def test_a_model_of_ways_has_the_same_values(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    documents = case(seed)
    found = solve_bare(*documents)
    monkeypatch.setattr(rounds, "by_part_lists", lambda *_, **__: None)
    assert found.objective == solve_bare(*documents).objective


def test_an_earlier_objective_is_never_traded_for_later_ones() -> None:
    shares = shares_of(Network(**site_network(10, seed=1)), Catalog(**site_catalog(16, seed=1)), Policy())
    lists = {id(shares): (tuple(shares.options_with(shares.mask_of(frozenset(shares.parts))).values()), 10)}
    weights = weights_of(lists, ("cost", "strands"))
    assert weights is not None
    (_, cost), (step, strands) = weights["cost"], weights["strands"]
    assert cost > strands * 10 * max(option.strands for options, _ in lists.values() for option in options) // step
