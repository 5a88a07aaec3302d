"""Clusters and demands of a network that differs little from a known one, against those worked out from nothing."""

from random import Random

import pytest

from optiselect.model.policy import Policy
from optiselect.solver.joined import Member, joined, partners
from optiselect.solver.option import OptionList
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.revised import revised
from tests.solver.families import case
from tests.solver.test_known import CHANGES, site


def member(link, *resources):
    return Member(link, OptionList((), resources, (None, False), {}), False, 1)


def links_of(clusters):
    return [links for cluster in clusters.clusters for links in cluster.units]


A, B, C = ("strands", "A"), ("strands", "B"), ("strands", "C")


@pytest.mark.parametrize(
    ("members", "apart", "clusters"),
    [
        ([member("2"), member("1")], (), [("1",), ("2",)]),
        ([member("2", A), member("1", A)], (), [("1", "2")]),
        ([member("1", A), member("2", B), member("3", A, B)], (), [("1", "2", "3")]),
        ([member("1", A), member("2"), member("3", A)], (), [("1", "3"), ("2",)]),
        ([member("1", A), member("2", B)], ((A, B),), [("1", "2")]),
        ([member("1", A), member("2", B)], ((A, C),), [("1",), ("2",)]),
    ],
)
def test_links_are_joined_by_what_they_share(members, apart, clusters):
    assert links_of(joined(members, apart)) == clusters


def test_resources_are_numbered_as_links_name_them_first():
    (cluster,) = joined([member("2", B, C), member("1", A, B)], ((C, A),)).clusters
    assert cluster.own == ((0, 1), (1, 2))
    assert cluster.apart(partners(((C, A),))) == ((0, 2),)


@pytest.mark.parametrize("seed", range(60))
def test_what_changes_is_joined_as_if_everything_were(seed):
    draw = Random(seed)
    resources = [("strands", str(number)) for number in range(8)]

    def random_member(link):
        return member(link, *draw.sample(resources, draw.choice([0, 0, 1, 1, 2])))

    before = {str(number): random_member(str(number)) for number in range(12)}
    after = {link: its for link, its in before.items() if draw.random() < 0.9}
    changed = {str(number): random_member(str(number)) for number in range(14) if draw.random() < 0.2}
    after |= changed
    found = joined(before.values(), ()).where(changed, before.keys() - after.keys())
    assert links_of(found) == links_of(joined(after.values(), ()))
    assert [cluster.own for cluster in found.clusters] == [cluster.own for cluster in joined(after.values(), ()).clusters]


def prepared(network, catalog, policy):
    preparation = Preparation(network, catalog, policy, Watch(None, None, 60, 60))
    preparation.run()
    return preparation


@pytest.mark.parametrize("name", CHANGES)
def test_what_may_run_short_follows_from_what_changes(name):
    followed = 0
    for seed in range(40):
        network, catalog, policy = case(seed)
        after = CHANGES[name](network, Random(seed))
        following = revised(prepared(network, catalog, policy), after, catalog, policy, Watch(None, None, 60, 60))
        if following is not None:
            fresh = prepared(after, catalog, policy)
            assert (seed, following[0].may_run_short, following[0].capacity) == (seed, fresh.may_run_short, fresh.capacity)
            followed += 1
    assert followed


@pytest.mark.parametrize("profile", ["usual", "tight", "ring"])
def test_a_generated_site_is_joined_again_as_it_is_joined(profile):
    network, catalog, _ = site(profile)
    before = prepared(network, catalog, Policy())
    before.lends = True
    before.counting(before.may_run_short, may_stop=False)
    after = CHANGES["longer"](network, Random(1))
    following, _ = revised(before, after, catalog, Policy(), Watch(None, None, 60, 60))
    fresh = prepared(after, catalog, Policy())
    assert following.may_run_short == fresh.may_run_short
    again = following.counting(following.may_run_short, may_stop=False)
    assert again.before is not None
    assert links_of(again.joined) == links_of(fresh.counting(fresh.may_run_short, may_stop=False).joined)
