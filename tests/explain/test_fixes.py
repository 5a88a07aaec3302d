"""What would help: every fix, applied and solved again, does what it says; a tally sums; bounds are kept; the plan does not depend on it."""

from __future__ import annotations

import os

import pytest

from optiselect import Plan, explain, solve
from optiselect.explain.again import effect_of, solved_again
from optiselect.explain.refusals import IN_A_PLAN, explained
from optiselect.model.refusal import Fix, Refusal
from optiselect.solver.solve import solve_bare
from tests.explain.scenes import LX, SCENES, Documents, fiber, site
from tests.solver.families import case

CASES = int(os.environ.get("OPTISELECT_CASES", "2000"))
"""How many of the 2,000 small networks are looked at."""
SHARDS = 48
BARE = {"unserved"}


def _parts_added(fix: Fix) -> frozenset[str]:
    return frozenset(edit.value["part"] for edit in fix.edits if fix.document == "catalog" and edit.do == "add")


def _as_said(documents: Documents, before: Plan, refusal: Refusal, fix: Fix) -> bool:
    after = solved_again(*fix.apply(*documents))
    return refusal.id in {link.id for link in after.links} and fix.effect == effect_of(before, after, refusal.id, _parts_added(fix))


def _wrong(documents: Documents) -> list[tuple[str, str]]:
    before = solve_bare(*documents)
    plan = explained(before, *documents)
    wrong = [(refusal.id, fix.words) for refusal in plan.unserved for fix in refusal.fixes if not _as_said(documents, before, refusal, fix)]
    wrong += [(refusal.id, "tally") for refusal in plan.unserved if sum(entry.count for entry in refusal.tally) != refusal.candidates]
    wrong += [(refusal.id, "no fact") for refusal in plan.unserved if not refusal.conflict]
    return wrong + [(refusal.id, "size") for refusal in plan.unserved if len(refusal.text.splitlines()) > 12 or max(map(len, refusal.text.splitlines())) > 100]


@pytest.mark.parametrize("shard", range(SHARDS))
def test_fixes_of_small_networks_do_what_they_say(shard: int) -> None:
    assert {seed: _wrong(case(seed)) for seed in range(shard, CASES, SHARDS)} == {seed: [] for seed in range(shard, CASES, SHARDS)}


@pytest.mark.parametrize("name", SCENES)
def test_fixes_of_a_scene_do_what_they_say(name: str) -> None:
    assert _wrong(SCENES[name]()) == []


def _all_fixes() -> list[Fix]:
    return [fix for scene in SCENES.values() for refusal in solve(*scene()).unserved for fix in refusal.fixes]


def test_every_kind_of_fix_is_found_somewhere() -> None:
    kinds = {fix.kind for fix in _all_fixes()}
    assert kinds >= {"rate", "strands", "policy", "cord", "attenuator", "module", "single-strand", "converter", "device", "port"}
    assert kinds >= {"enclosure", "cable", "measure", "weight", "waiver", "path"}


def test_what_a_person_answers_for_comes_last() -> None:
    for scene in SCENES.values():
        for refusal in solve(*scene()).unserved:
            risks = [fix.own_risk for fix in refusal.fixes]
            assert risks == sorted(risks)
            assert all(fix.own_risk for fix in refusal.fixes if fix.kind == "waiver")


def test_a_fix_travels_in_the_plan_and_can_be_applied_from_there() -> None:
    documents = SCENES["a hot kiosk"]()
    plan = solve(*documents)
    again = Plan(**plan.model_dump(mode="json", by_alias=True))
    assert again == plan
    network, _, _ = again.unserved[0].fixes[0].apply(*documents)
    assert network.site_by_id["cabinet"].ambient_c == (0.0, 55.0)


def test_a_plan_is_the_same_with_and_without_its_reasons() -> None:
    documents = SCENES["three links and strands for two"]()
    assert solve(*documents).model_dump(exclude=BARE) == solve_bare(*documents).model_dump(exclude=BARE)


def test_only_the_first_links_of_a_plan_are_searched_and_the_others_say_so() -> None:
    links = [{"id": f"L{index}", "ends": ["core", "gate"], "rate": "10G"} for index in range(5)]
    documents = site(fiber("OS2", 800, 12), [LX], links=links)
    plan = solve(*documents)
    assert [refusal.fixes_searched for refusal in plan.unserved] == [True] * IN_A_PLAN + [False] * (5 - IN_A_PLAN)
    assert "ask explain for L4" in plan.unserved[4].text
    answer = explain(*documents[:2], "L4", documents[2])
    assert isinstance(answer, Refusal) and answer.fixes_searched


def test_missing_part_meets_what_the_rules_ask_and_no_more() -> None:
    """900 m of OS2 at 0.4 dB/km and two connections of 0.75 dB lose 1.86 dB; with the design margin of 3 dB: 4.86 dB."""
    part = solve(*SCENES["too strong, and no attenuators"]()).unserved[0].missing_part
    assert part is not None
    assert (part.form, part.rate, part.strands, part.budget_db, part.reach_m, part.temperature_c) == ("SFP", "1G", 2, 4.86, 900.0, (-20.0, 65.0))


def test_sources_of_the_rules_are_given_with_their_place() -> None:
    refusal = solve(*SCENES["too far for old multimode"]()).unserved[0]
    assert any(source.startswith("reach: IEEE 802.3 Clause 38") for source in refusal.sources)


def test_a_link_that_is_crowded_out_names_its_price() -> None:
    refusal = solve(*SCENES["three links and strands for two"]()).unserved[0]
    assert (refusal.kind, refusal.serving.loses if refusal.serving else ()) == ("crowded-out", ("L3",))
