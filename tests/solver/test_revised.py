"""The tables of documents that differ little from a prepared case, against those that are prepared by themselves."""

from random import Random

import pytest

from optiselect.solver.known import Known
from optiselect.solver.option import Wanted
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.revised import revised
from optiselect.solver.scarce import Scarce
from optiselect.solver.solve import solve_bare
from tests.solver.families import FAMILIES, case
from tests.solver.test_known import CHANGES, site

SEEDS = range(3 * len(FAMILIES))
WITHOUT_COST = Wanted(counted=frozenset())


def prepared(network, catalog, policy):
    preparation = Preparation(network, catalog, policy, Watch(None, None, policy.time_limit_s, policy.effort))
    preparation.lends = True
    preparation.run()
    return preparation


def followed(before, network, catalog, policy):
    """The preparation that follows, None where too much differs."""
    found = revised(before, network, catalog, policy, before.watch)
    return found and found[0]


def at(price, part, catalog):
    """The catalog where a module has that price."""
    modules = [module.model_copy(update={"price": price}) if module.part == part else module for module in catalog.modules]
    return catalog.model_copy(update={"modules": tuple(modules)})


def in_place_or_one(network, catalog, draw):
    """The parts that have a price and are in place; where none is, any one that has a price."""
    priced = [module.part for module in catalog.modules if module.price is not None]
    return [part for part in priced if part in network.installed.values()] or [draw.choice(priced)]


def told(option):
    """An option with its fittings by what they are, at their prices."""
    fits = [(fit.key, fit.price, fit.module) for fit in (option.pick.fit_a, option.pick.fit_b)]
    return option.parts, option.measures(), option.uses, option.pick.pair, option.pick.code, fits


@pytest.mark.parametrize("wanted", [WITHOUT_COST, Wanted()], ids=["cost does not count", "all counts"])
@pytest.mark.parametrize("price", [1.0, 700.0])
def test_every_option_costs_what_it_costs_at_the_new_price(wanted, price):
    compared = 0
    for seed in range(5 * len(FAMILIES)):
        network, catalog, policy = case(seed)
        before = prepared(network, catalog, policy)
        scarce = Scarce(strands=before.may_run_short.strands)
        before.counting(scarce, may_stop=False, wanted=wanted)
        for part in in_place_or_one(network, catalog, Random(seed)):
            after = at(price, part, catalog)
            following = followed(before, network, after, policy)
            if following is None:
                continue
            its = following.counting(scarce, may_stop=False, wanted=wanted)
            alone = prepared(network, after, policy).counting(scarce, may_stop=False, wanted=wanted)
            for link_id, row in its.rows.items():
                at_new_price = [told(its.builder.at_this_price(option, row)) for option in its.options[link_id].options]
                assert (seed, part, at_new_price) == (seed, part, [told(option) for option in alone.options[link_id].options])
                compared += len(at_new_price)
    assert compared > 150


@pytest.mark.parametrize("profile", ["usual", "tight", "hard"])
def test_what_follows_where_other_parts_are_left_out_is_what_a_solve_gives(profile):
    network, catalog, policy = site(profile)
    before, known = prepared(network, catalog, policy), Known(network, catalog, policy)
    catalogs = [at(round(module.price * 0.5, 2), module.part, catalog) for module in catalog.modules[1::2]]
    others = [after for after in catalogs if followed(before, network, after, policy).left_out != before.left_out]
    assert len(others) >= 4
    for after in others[:: len(others) // 4]:
        assert known.solved(network, after, policy) == solve_bare(network, after, policy)


def test_lists_in_which_nothing_of_another_price_was_looked_at_are_the_very_same():
    network, catalog, policy = case(0)
    before = prepared(network, catalog, policy)
    parts = {module.part for module in catalog.modules}
    for part in sorted(parts):
        without = Wanted(without=frozenset({part}))
        lists = before.counting(Scarce(), may_stop=False, wanted=without).options
        following = followed(before, network, at(7.0, part, catalog), policy)
        if following is not None:
            assert all(found is lists[link_id] for link_id, found in following.counting(Scarce(), may_stop=False, wanted=without).options.items())


@pytest.mark.parametrize("name", ["a link less", "a run less", "longer", "nothing"])
def test_what_follows_asks_of_the_ends_what_would_be_asked_without(name):
    outcomes = set()
    for seed in SEEDS:
        network, catalog, policy = case(seed)
        before = prepared(network, catalog, policy)
        after = CHANGES[name](network, Random(seed))
        following = followed(before, after, catalog, policy)
        if following is not None:
            assert (seed, following.asked.keys()) == (seed, prepared(after, catalog, policy).asked.keys())
        outcomes.add(following is None)
    assert False in outcomes
