"""The smallest conflict: against all subsets in order, against removal of each member, and against two strangers."""

from __future__ import annotations

import os
import random

import cpmpy
import pytest
from cpmpy.tools.explain import optimal_mus

from optiselect.explain.candidates import Candidates
from optiselect.explain.conflicts import disjoint_conflicts, minimal_sets, smallest_conflict
from optiselect.explain.crowded import crowding
from optiselect.explain.ground import Ground
from optiselect.model.plan import Plan, Refusal
from optiselect.solver.solve import solve_bare
from tests.explain.brute import Fall, falls, smallest
from tests.explain.scenes import SCENES, Documents
from tests.solver.families import case

CASES = int(os.environ.get("OPTISELECT_CASES", "2000"))
"""How many of the 2,000 small networks are looked at."""
SHARDS = 48


def _refused(documents: Documents) -> list[tuple[Plan, Refusal]]:
    plan = solve_bare(*documents)
    return [(plan, refusal) for refusal in plan.unserved]


def _answer(documents: Documents, plan: Plan, refusal: Refusal) -> dict[str, object]:
    """What the library finds of one link."""
    ground = Ground(*documents)
    found = Candidates(ground, ground.links[refusal.id])
    facts, _ = found.conflict()
    counted = sum(entry.count for entry in found.tally()) + found.passed
    return {"passes": bool(found.passing), "conflict": [(fact.rule, fact.path) for fact in facts], "total": found.total, "sums": counted == found.total}


def _truth(documents: Documents, refusal: Refusal) -> dict[str, object]:
    """What there is to find."""
    network = documents[0]
    link = next(link for link in network.wanted if link.id == refusal.id)
    every: list[Fall] = falls(*documents, link)
    passes = any(not fall.reasons for fall in every)
    conflict = [] if passes else smallest([fall.reasons for fall in every])
    return {"passes": passes, "conflict": conflict, "total": len({fall.fitting for fall in every}), "sums": True}


@pytest.mark.parametrize("shard", range(SHARDS))
def test_conflict_of_a_small_network_is_the_first_smallest_of_all(shard: int) -> None:
    seeds = range(shard, CASES, SHARDS)
    asked = [(seed, *pair) for seed in seeds for pair in _refused(case(seed))]
    assert {(seed, refusal.id): _answer(case(seed), plan, refusal) for seed, plan, refusal in asked} == {
        (seed, refusal.id): _truth(case(seed), refusal) for seed, plan, refusal in asked
    }


@pytest.mark.parametrize("name", SCENES)
def test_conflict_of_a_scene_is_the_first_smallest_of_all(name: str) -> None:
    documents = SCENES[name]()
    refused = _refused(documents)
    assert refused
    assert [_answer(documents, *pair) for pair in refused] == [_truth(documents, refusal) for _, refusal in refused]


@pytest.mark.parametrize("name", SCENES)
def test_without_any_one_of_its_facts_a_scene_has_a_candidate_that_stands(name: str) -> None:
    documents = SCENES[name]()
    for _, refusal in _refused(documents):
        ground = Ground(*documents)
        found = Candidates(ground, ground.links[refusal.id])
        facts = {(fact.rule, fact.path) for fact in found.conflict()[0]}
        sets = [fall.reasons for fall in falls(*documents, ground.links[refusal.id])]
        assert all(any(not reasons & (facts - {fact}) for reasons in sets) for fact in facts)


CROWDED = [name for name, scene in SCENES.items() if any(refusal.kind == "crowded-out" for refusal in solve_bare(*scene()).unserved)]


@pytest.mark.parametrize("name", CROWDED)
def test_what_crowds_a_link_out_is_missing_for_every_way_and_no_less_would_do(name: str) -> None:
    documents = SCENES[name]()
    for plan, refusal in _refused(documents):
        ground = Ground(*documents)
        found = Candidates(ground, ground.links[refusal.id])
        beside = crowding(found, plan)
        assert len(beside.conflict) == 1
        assert all(fact.links for fact in beside.conflict)
        assert sum(entry.count for entry in beside.tally) == found.passed


def _random_masks(seed: int) -> list[int]:
    draw = random.Random(seed)
    bits = draw.randint(2, 9)
    return [draw.randint(1, 2**bits - 1) for _ in range(draw.randint(1, 12))]


@pytest.mark.parametrize("seed", range(40))
def test_smallest_conflict_is_as_small_as_a_minimal_core_of_a_stranger(seed: int) -> None:
    """A set of facts refuses everything exactly when "each of these holds" contradicts "some candidate stands": a minimal core."""
    masks = _random_masks(seed)
    facts = cpmpy.boolvar(shape=max(mask.bit_length() for mask in masks) + 1)
    stands = cpmpy.any([cpmpy.all([~facts[bit] for bit in range(mask.bit_length()) if mask >> bit & 1]) for mask in masks])
    core = optimal_mus(soft=[facts[bit] for bit in range(len(facts))], hard=[stands])
    assert len(smallest_conflict(masks).bits) == len(core)


@pytest.mark.parametrize("seed", range(200))
def test_smallest_conflict_is_the_first_of_its_size(seed: int) -> None:
    sets = [frozenset(("form", f"{bit:02d}") for bit in range(mask.bit_length()) if mask >> bit & 1) for mask in _random_masks(seed)]
    assert [("form", f"{bit:02d}") for bit in smallest_conflict(_random_masks(seed)).bits] == smallest(sets)


def test_sets_that_hold_another_decide_nothing() -> None:
    assert minimal_sets([0b111, 0b001, 0b110, 0b011]) == [0b001, 0b110]


def test_disjoint_conflicts_are_counted() -> None:
    assert disjoint_conflicts([0b011, 0b111], smallest_conflict([0b011, 0b111]).bits) == 1
