"""Options compared as lines of figures: the same remain as when each is compared with each."""

import numpy as np
import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import lines, options
from optiselect.solver.dominance import beaten_within
from optiselect.solver.lines import Lines, Piece
from optiselect.solver.option import Wanted
from optiselect.solver.options import ALL, _option, _places
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Scarce
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network


def figures(option):
    return option.parts, option.measures(), option.uses


def pointless_beside(option, other, count_units):
    """Whether putting `other` in the place of `option` makes no objective worse and takes no more of anything."""
    uses, units = dict(option.uses), dict(option.parts)
    return (
        other.names <= option.names
        and all(mine <= theirs for mine, theirs in zip(other.measures(), option.measures(), strict=True))
        and all(amount <= uses.get(resource, 0) for resource, amount in other.uses)
        and (not count_units or all(count <= units.get(part, 0) for part, count in other.parts))
    )


def left_of(options, count_units):
    """The figures of the options that no other makes pointless, each compared with each."""
    different = {figures(option): option for option in options}.values()
    return {figures(option) for option in different if not any(other is not option and pointless_beside(option, other, count_units) for other in different)}


@pytest.mark.parametrize("policy", [Policy(), Policy(spares={}, prefer_parts=("A-0001",)), Policy(rules=(lambda link: link.a.name < "m",))])
@pytest.mark.parametrize("profile", ["usual", "tight", "ring"])
def test_the_same_options_remain_as_when_each_is_compared_with_each(profile, policy):
    network = Network(**site_network(16, profile=profile, seed=3))
    catalog = Catalog(**site_catalog(30, profile=profile, seed=3))
    preparation = Preparation(network, catalog, policy, Watch(None, None, 60, None))
    preparation.run()
    builder = preparation.counting(preparation.may_run_short, may_stop=False).builder
    for row in preparation.rows.values():
        own = builder._takes.of(row)
        its = builder._lines(row)
        found = [_option([its.pieces[piece] for piece in triple], measures, _places(own)) for triple, measures in zip(*its.undominated(), strict=True)]
        assert {figures(option) for option in found} == left_of(list(builder._each(row, _places(own))), policy.spares is not None)


@pytest.mark.parametrize("policy", [Policy(), Policy(spares={}), Policy(objective=("links", "modules", "cost"))])
@pytest.mark.parametrize("profile", ["usual", "tight", "ring", "hard"])
def test_options_of_many_links_are_compared_together_as_of_each_by_itself(profile, policy):
    network = Network(**site_network(30, profile=profile, seed=2))
    catalog = Catalog(**site_catalog(60, profile=profile, seed=2))
    preparation = Preparation(network, catalog, policy, Watch(None, None, 60, None))
    preparation.run()
    for scarce in (preparation.may_run_short, Scarce()):
        for wanted in (ALL, Wanted(counted=frozenset({0}))):
            builder = preparation.counting(scarce, may_stop=False, wanted=wanted).builder
            several = [builder._lines(row) for row in preparation.rows.values()]
            assert lines.undominated_of([*several, Lines(count_units=policy.spares is not None, counted=wanted.counted)]) == [
                *(each.undominated() for each in several),
                ([], []),
            ]
            assert any(len(each.triples) > lines.FEW for each in several) or profile != "hard"


def test_lines_are_pointless_beside_earlier_ones_of_their_own_list_only():
    vectors = np.array([[1, 2], [1, 2], [2, 2], [1, 2], [0, 3]])
    masks = np.array([[0b01], [0b11], [0b01], [0b01], [0b01]])
    assert beaten_within(vectors, masks, np.array([3, 2])).tolist() == [False, True, True, False, False]
    assert beaten_within(vectors, masks, np.array([1, 1, 0, 3])).tolist() == [False, False, False, False, False]


def test_lists_are_the_same_however_many_are_made_together(monkeypatch):
    network, catalog = Network(**site_network(30, profile="tight", seed=2)), Catalog(**site_catalog(60, profile="tight", seed=2))
    preparation = Preparation(network, catalog, Policy(), Watch(None, None, 60, None))
    preparation.run()
    found = []
    for most_pairs in (0, 3_000, 300_000):
        monkeypatch.setattr(options, "MOST_PAIRS", most_pairs)
        preparation._lists.clear()
        found.append(preparation.counting(preparation.may_run_short, may_stop=False).options)
    assert found[0].keys() == found[1].keys() == found[2].keys()
    for link_id, its in found[0].items():
        assert [figures(option) for option in its.options] == [figures(option) for option in found[1][link_id].options]
        assert [figures(option) for option in its.options] == [figures(option) for option in found[2][link_id].options]


@pytest.mark.parametrize("together", [False, True])
def test_an_option_rests_on_an_unknown_figure_once_however_many_are_missing(together):
    its = Lines(count_units=False, counted=None)
    (way,) = its.enter([Piece((0, 0, 2, 0, 0, 0), (), (), None)])
    dear, cheap, far = its.enter([Piece((unknown, price, 0, 1, 0, 0), ("M1",), (), None) for unknown, price in ((0, 20), (1, 10), (1, 5))])
    its.add([way], [dear, cheap], [far])
    (found,) = lines.undominated_of([its]) if together else (its.undominated(),)
    assert found == ([(way, cheap, far)], [[1, 15, 2, 2, 0, 0]])
