"""Options compared as lines of figures: the same remain as when each is compared with each."""

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver.options import _places
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
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
        found = builder._undominated(row, own, set())
        assert {figures(option) for option in found} == left_of(list(builder._each(row, _places(own))), policy.spares is not None)
